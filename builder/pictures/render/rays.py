"""Ray casting: first triangle hit by a ray, and whether a ray is blocked.

embreex does it in compiled code. Where it has no wheel (Linux on ARM) manifold3d does the same one ray at a
time, about fifty times slower, and trimesh's own intersector for open meshes; `slow_note` says so.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import Any, Protocol
from weakref import WeakValueDictionary

import numpy as np
import trimesh
from numpy.typing import NDArray

from builder.mesh.casting import SegmentCaster
from builder.mesh.normals import crosses
from builder.model import Finding

try:
    from embreex.mesh_construction import TriangleMesh
    from embreex.rtcore_scene import EmbreeScene
except ImportError:  # no wheel for this machine
    EmbreeScene = None

_trimesh: Any = trimesh  # its functions carry no annotations
F32 = NDArray[np.float32]
I32 = NDArray[np.int32]
FAR_MM = 5000.0
TOGETHER = 1000
"""Rays that trimesh's own intersector gets at once."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Hits:
    """First hit of each ray: without a hit `face` (n,) is -1 and `distance` huge.

    `u` and `v` are the weights of the triangle's second and third corner.
    """

    face: I32
    distance: F32
    u: F32
    v: F32
    normal: F32
    """Of the triangle, of any length (n, 3)."""

    def behind(self, directions: F32) -> NDArray[np.bool_]:
        """Whether each ray met the back of a triangle, hence started inside the solid (n,)."""
        normal, way = self.normal.T, directions.T
        along = normal[0] * way[0] + normal[1] * way[1] + normal[2] * way[2]
        return np.asarray((self.face >= 0) & (along > 0))


class Caster(Protocol):
    """Casts rays at one set of triangles from origins (n, 3).

    Directions are of length 1, (n, 3), or (1, 3) where all are alike.
    """

    def first(self, origins: F32, directions: F32, reach_mm: float = FAR_MM) -> Hits:
        """The first triangle that each ray meets; hits farther than the reach may be left out."""

    def blocked(self, origins: F32, directions: F32, reach_mm: float) -> NDArray[np.bool_]:
        """Whether each ray meets a triangle within the reach (n,)."""


class FastCaster:
    """Caster on embreex."""

    def __init__(self, vertices: F32, faces: I32) -> None:
        self._scene = EmbreeScene()
        self._mesh = TriangleMesh(self._scene, vertices, faces)

    def first(self, origins: F32, directions: F32, reach_mm: float = FAR_MM) -> Hits:  # noqa: ARG002 - as fast
        """The first triangle that each ray meets."""
        if not len(origins):
            return _nothing(0)
        hit = self._scene.run(origins, directions, output=1)
        return Hits(face=hit["primID"], distance=hit["tfar"], u=hit["u"], v=hit["v"], normal=hit["Ng"])

    def blocked(self, origins: F32, directions: F32, reach_mm: float) -> NDArray[np.bool_]:
        """Whether each ray meets a triangle within the reach."""
        if not len(origins):
            return np.zeros(0, dtype=bool)
        reach = np.full(len(origins), reach_mm, dtype=np.float32)
        found: NDArray[np.bool_] = self._scene.run(origins, directions, reach, query="OCCLUDED") == 0
        return found


class SlowCaster:
    """Caster for machines without embreex: manifold3d's where the mesh is closed, else trimesh's own.

    manifold3d looks at every triangle in the box round a ray, so the mesh is turned until rays run upright.
    """

    def __init__(self, vertices: F32, faces: I32) -> None:
        self._vertices, self._faces = vertices, faces
        self._corners = np.asarray(vertices, dtype=np.float64)[faces]
        self._normals = crosses(self._corners).astype(np.float32)
        self._upright: dict[bytes, SegmentCaster] = {}
        try:
            self._closed: SegmentCaster | None = SegmentCaster(vertices, faces)
        except ValueError:
            self._closed = None
            mesh = trimesh.Trimesh(vertices, faces, process=False)
            self._rays: Any = _trimesh.ray.ray_triangle.RayMeshIntersector(mesh)

    def first(self, origins: F32, directions: F32, reach_mm: float = FAR_MM) -> Hits:
        """The first triangle that each ray meets."""
        hits = _nothing(len(origins))
        if not len(origins):
            return hits
        directions = np.broadcast_to(directions, origins.shape)
        if self._closed is None:
            face, ray, distance = self._open(origins, directions)
        else:
            face, distance = self._segments(self._closed, origins, directions, reach_mm)
            ray = np.flatnonzero(face >= 0)
            face, distance = face[ray], distance[ray]
        if len(ray):
            point = origins[ray].astype(np.float64) + directions[ray] * distance[:, None]
            weights = _trimesh.triangles.points_to_barycentric(self._corners[face], point)
            hits.face[ray], hits.distance[ray], hits.normal[ray] = face, distance, self._normals[face]
            hits.u[ray], hits.v[ray] = weights[:, 1], weights[:, 2]
        return hits

    def _segments(
        self, closed: SegmentCaster, origins: F32, directions: F32, reach_mm: float
    ) -> tuple[I32, F32]:
        """First triangle of each ray (n,), -1 for none, and its distance."""
        if len(origins) > 1 and (directions == directions[0]).all():
            side, other = beside(directions[:1])
            turn = np.stack([side[0], other[0], directions[0]])
            key = directions[0].tobytes()
            if key not in self._upright:
                self._upright[key] = SegmentCaster(self._vertices @ turn.T, self._faces)
            closed, origins = self._upright[key], origins @ turn.T
            directions = np.broadcast_to(np.array([0, 0, 1], dtype=np.float32), origins.shape)
        face, share = closed.first(origins, origins + directions * np.float32(reach_mm))
        return face, share * np.float32(reach_mm)

    def _open(self, origins: F32, directions: F32) -> tuple[I32, NDArray[np.int64], F32]:
        """Triangles, rays and distances of the hits with an open mesh; few rays at once: it eats memory."""
        parts = []
        for start in range(0, len(origins), TOGETHER):
            part = slice(start, start + TOGETHER)
            found = self._rays.intersects_id(
                origins[part].astype(np.float64),
                directions[part].astype(np.float64),
                multiple_hits=False,
                return_locations=True,
            )
            parts.append((found[0], found[1] + start, found[2]))
        face, ray, point = (np.concatenate(some) for some in zip(*parts, strict=True))
        distance = np.einsum("ij,ij->i", point - origins[ray], directions[ray])
        return face.astype(np.int32), ray, distance.astype(np.float32)

    def blocked(self, origins: F32, directions: F32, reach_mm: float) -> NDArray[np.bool_]:
        """Whether each ray meets a triangle within the reach."""
        return self.first(origins, directions, reach_mm).distance <= reach_mm


_in_use: WeakValueDictionary[bytes, FastCaster | SlowCaster] = WeakValueDictionary()
"""Casters by the digest of their triangles: views that show the same build its tree once."""


def _nothing(count: int) -> Hits:
    return Hits(
        face=np.full(count, -1, dtype=np.int32),
        distance=np.full(count, 1e37, dtype=np.float32),
        u=np.zeros(count, dtype=np.float32),
        v=np.zeros(count, dtype=np.float32),
        normal=np.zeros((count, 3), dtype=np.float32),
    )


def beside(normal: F32) -> tuple[F32, F32]:
    """Two directions square to each normal and to each other (Duff et al. 2017, JCGT 6(1), listing 3)."""
    x, y, z = normal.T
    sign = np.where(z < 0, np.float32(-1), np.float32(1))
    a = -1 / (sign + z)
    b = x * y * a
    one = np.stack([1 + sign * x * x * a, sign * b, -sign * x], axis=-1)
    return one.astype(np.float32), np.stack([b, sign + y * y * a, -y], axis=-1).astype(np.float32)


def fast() -> bool:
    """Whether embreex is installed."""
    return EmbreeScene is not None


def caster(vertices: F32, faces: I32) -> Caster:
    """The best caster that this machine has for these triangles, one for all that ask while it is in use."""
    vertices = np.ascontiguousarray(vertices, dtype=np.float32)
    faces = np.ascontiguousarray(faces, dtype=np.int32)
    key = b"".join(hashlib.sha256(some.tobytes()).digest() for some in (vertices, faces))
    made = _in_use.get(key)
    if made is None:
        made = FastCaster(vertices, faces) if fast() else SlowCaster(vertices, faces)
        _in_use[key] = made
    return made


def slow_note() -> Finding | None:
    """Note that embreex is missing; None when it is installed."""
    return None if fast() else Finding(level="note", code="pictures.slow")
