"""What the closed mold encloses: the void, its pieces, and the mouths by which they open to the outside."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from builder import mesh
from builder.measure.facets import outline

Array = NDArray[np.float64]

TRIM_MM = 1e-3
"""The envelope is this much smaller than the hull, so that films on its faces do not join the holes."""
SLIVER_MM3 = 0.02


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mouth:
    """A flat opening of a piece to the outside; `normal` points out of the mold."""

    at: Array
    normal: Array
    polygon: shapely.Geometry
    turn: Array
    area_mm2: float
    diameter_mm: float
    """Largest inscribed circle."""

    @property
    def roundness(self) -> float:
        """4 pi area / perimeter squared: 1 for a circle, 0.91 for a hexagon, 0.79 for a square."""
        return float(4 * np.pi * self.polygon.area / self.polygon.length**2)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Piece:
    """One connected part of the void, with its mouths, the largest first."""

    body: mesh.Body
    mouths: tuple[Mouth, ...]
    volume_mm3: float
    area_mm2: float
    low: Array = field(default_factory=lambda: np.zeros(3))
    high: Array = field(default_factory=lambda: np.zeros(3))


def envelope(parts: Sequence[mesh.Body]) -> mesh.Body:
    """The hull of the closed mold, a thousandth of a millimetre smaller on each side."""
    hull = mesh.hull(parts)
    low, high = mesh.box(hull)
    middle, size = (low + high) / 2, high - low
    scale = np.diag(1 - 2 * TRIM_MM / size)
    return mesh.placed(hull, scale, middle - scale @ middle)


def pieces(outer: mesh.Body, parts: Sequence[mesh.Body]) -> list[Piece]:
    """The void's pieces, the largest first."""
    marked = outer.as_original()
    void = marked - mesh.union(parts)
    return [piece(part, marked.original_id()) for part in mesh.pieces(void, SLIVER_MM3)]


def piece(body: mesh.Body, outside: int) -> Piece:
    """A body with its mouths: the facets that stem from the envelope, whose mark is `outside`."""
    low, high = mesh.box(body)
    return Piece(
        body=body,
        mouths=tuple(sorted(_mouths(body, outside), key=lambda mouth: -mouth.area_mm2)),
        volume_mm3=body.volume(),
        area_mm2=body.surface_area(),
        low=low,
        high=high,
    )


def _mouths(body: mesh.Body, outside: int) -> list[Mouth]:
    """Connected flat groups of the facets that lie on the envelope."""
    solid, origin = mesh.with_origin(body, "void")
    faces = solid.faces[origin == outside]
    if not len(faces):
        return []
    a, b, c = (solid.vertices[faces[:, k]] for k in range(3))
    cross = np.cross(b - a, c - a)
    size = np.linalg.norm(cross, axis=1)
    good = size > 1e-9
    faces, normals, size = faces[good], cross[good] / size[good, None], size[good]
    mouths = []
    for group in _flat_groups(faces, normals):
        normal = (size[group] @ normals[group]) / size[group].sum()
        mouths += _mouth(solid.vertices, faces[group], normal / np.linalg.norm(normal))
    return mouths


def _flat_groups(faces: NDArray[np.int32], normals: Array) -> list[NDArray[np.intp]]:
    """Indices of facets that hang together by edges and face the same way."""
    ends = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]).astype(np.int64)
    key = ends.min(axis=1) * (int(faces.max()) + 1) + ends.max(axis=1)
    owner = np.tile(np.arange(len(faces)), 3)
    order = np.argsort(key, kind="stable")
    same = np.flatnonzero(key[order][1:] == key[order][:-1])
    one, two = owner[order[same]], owner[order[same + 1]]
    flat = np.einsum("ij,ij->i", normals[one], normals[two]) > 0.999
    graph = coo_array((np.ones(flat.sum(), np.int8), (one[flat], two[flat])), shape=(len(faces), len(faces)))
    count, label = connected_components(graph, directed=False)
    return [np.flatnonzero(label == k) for k in range(count)]


def _mouth(vertices: Array, faces: NDArray[np.int32], normal: Array) -> list[Mouth]:
    """The group as a Mouth; nothing where it is a sliver."""
    turn = mesh.frame(normal)
    used, index = np.unique(faces, return_inverse=True)
    points = vertices[used] @ turn.T
    polygon = outline(points[:, :2], index.reshape(-1, 3).astype(np.int32))
    parts = [part for part in shapely.get_parts(polygon) if part.area > 1e-3]
    if not parts:
        return []
    largest = max(parts, key=lambda part: part.area)
    centre = np.array([largest.centroid.x, largest.centroid.y, points[:, 2].mean()])
    return [
        Mouth(
            at=centre @ turn,
            normal=normal,
            polygon=largest,
            turn=turn,
            area_mm2=float(polygon.area),
            diameter_mm=mesh.inscribed(largest)[0],
        )
    ]


def holds(piece: Piece, point: Array) -> bool:
    """True if the point is inside the piece."""
    probe = mesh.placed(mesh.ball(0.05), np.eye(3), point)
    return bool((piece.body ^ probe).volume() > 0)
