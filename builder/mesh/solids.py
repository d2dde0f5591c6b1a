"""Exact operations on solids (manifold3d, 64-bit): union, difference, cuts, hulls, separate pieces."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import TypeAlias

import manifold3d
import numpy as np
import shapely
from numpy.typing import NDArray

from builder.model import Solid

Body: TypeAlias = manifold3d.Manifold
"""A solid as manifold3d holds it; `+`, `-` and `^` are union, difference and intersection."""
MM3_PER_ML = 1000.0
HOLE_MM3 = 1e-3
"""Smaller holes within a body are the mesh's own rounding."""
FULL_SHARE = 0.999


@lru_cache(maxsize=4)
def body(solid: Solid) -> Body:
    """The solid as a Body, the last few kept; its status is NoError for every vouched mesh."""
    mesh = manifold3d.Mesh64(
        vert_properties=np.ascontiguousarray(solid.vertices, np.float64),
        tri_verts=np.ascontiguousarray(solid.faces, np.uint64),
    )
    made = Body(mesh)
    if made.status() != manifold3d.Error.NoError:
        raise ValueError(f"{solid.name}: {made.status()}")
    return made


def solid(made: Body, name: str) -> Solid:
    """The Body as a Solid."""
    vertices, faces = _arrays(made)
    return Solid(name=name, vertices=vertices, faces=faces)


@lru_cache(maxsize=4)
def _arrays(made: Body) -> tuple[NDArray[np.float64], NDArray[np.int32]]:
    """Vertices and faces of the last few bodies, which are asked for more than once."""
    mesh = made.to_mesh64()
    return np.array(mesh.vert_properties[:, :3], np.float64), np.array(mesh.tri_verts, np.int32)


def with_origin(made: Body, name: str) -> tuple[Solid, NDArray[np.int64]]:
    """The Body as a Solid, and for each facet the mark (`original_id`) of the body that it stems from."""
    mesh = made.to_mesh64()
    origin = np.repeat(
        np.array(mesh.run_original_id, np.int64),
        np.array(np.diff(np.array(mesh.run_index, np.int64)) // 3, np.int64),
    )
    vertices = np.array(mesh.vert_properties[:, :3], np.float64)
    return Solid(name=name, vertices=vertices, faces=np.array(mesh.tri_verts, np.int32)), origin


def hull(bodies: Sequence[Body]) -> Body:
    """The convex hull of all bodies together."""
    return Body.batch_hull(list(bodies))


def lighter(whole: Solid, moved_mm: float) -> Solid:
    """The solid with fewer facets, no surface moved farther than `moved_mm`."""
    return solid(simplified(whole, moved_mm), whole.name)


def simplified(whole: Solid, moved_mm: float) -> Body:
    """The solid as a Body with fewer facets, no surface moved farther than `moved_mm`."""
    return body(whole).simplify(moved_mm)


def union(bodies: Iterable[Body]) -> Body:
    """All bodies as one."""
    return _union(tuple(bodies))


@lru_cache(maxsize=2)
def _union(bodies: tuple[Body, ...]) -> Body:
    """The last two unions: that of the halves is asked for more than once."""
    return Body.batch_boolean(list(bodies), manifold3d.OpType.Add)


def triangulated(outlines: Sequence[NDArray[np.float64]]) -> NDArray[np.int64]:
    """Triangles (n, 3) that fill outlines (m, 2), numbers of their points in a row; holes run clockwise."""
    return np.asarray(manifold3d.triangulate(list(outlines)), np.int64).reshape(-1, 3)


def pieces(made: Body, smallest_mm3: float = 0.0) -> list[Body]:
    """Separate pieces larger than `smallest_mm3`, the largest first; equal ones in order of place.

    A piece keeps the holes within it, whose surfaces hang together with nothing.

    >>> shell = Body.cube((4, 4, 4), True) - Body.cube((2, 2, 2), True)
    >>> [round(part.volume(), 6) for part in pieces(shell + Body.cube((1, 1, 1)).translate((5, 0, 0)))]
    [56.0, 1.0]
    """
    shells = sorted(made.decompose(), key=lambda part: part.volume())
    parts = [shell for shell in shells if shell.volume() > smallest_mm3]
    for hole in (_turned_out(shell) for shell in shells if shell.volume() < -HOLE_MM3):
        k = next((k for k, part in enumerate(parts) if _lies_in(hole, part)), None)
        if k is not None:
            parts[k] -= hole
    return sorted(parts, key=lambda part: (-round(part.volume(), 6), part.bounding_box()))


def _turned_out(shell: Body) -> Body:
    """What fills a hole: its surface the other way round."""
    vertices, faces = _arrays(shell)
    return body(Solid(name="hole", vertices=vertices, faces=faces[:, ::-1]))


def _lies_in(inner: Body, part: Body) -> bool:
    """True if one body lies all within another."""
    (low, high), (around_low, around_high) = box(inner), box(part)
    if (low < around_low).any() or (high > around_high).any():
        return False
    return bool((inner ^ part).volume() > FULL_SHARE * inner.volume())


def placed(made: Body, turn: NDArray[np.float64], move: NDArray[np.float64]) -> Body:
    """The body under x -> turn @ x + move; turn (3, 3) may mirror."""
    return made.transform(np.column_stack([turn, move]))


def below(made: Body, z_mm: float) -> Body:
    """The part of the solid below the level z."""
    return made.trim_by_plane((0.0, 0.0, -1.0), -z_mm)


def above(made: Body, z_mm: float) -> Body:
    """The part of the solid above the level z."""
    return made.trim_by_plane((0.0, 0.0, 1.0), z_mm)


def prism(rings: Sequence[NDArray[np.float64]], low: float, high: float) -> Body:
    """Rings (n, 2) of a plane polygon (even-odd) drawn up from z = low to z = high."""
    flat = manifold3d.CrossSection(list(rings), manifold3d.FillRule.EvenOdd)
    return Body.extrude(flat, high - low).translate((0.0, 0.0, low))


def projected_mm2(made: Body) -> float:
    """Area (mm2) of the shadow along z."""
    return float(made.project().area())


def shadow(made: Body) -> shapely.Geometry:
    """The shadow along z, as polygons; rings that touch themselves by rounding are cut there.

    >>> ring = Body.cylinder(1, 9) - Body.cylinder(1, 8)
    >>> round(shadow(ring + Body.cube((2, 3, 1))).area - shadow(ring).area, 6)
    6.0
    """
    return shapely.union_all([_area(part.to_polygons()) for part in made.project().decompose()])


def _area(rings: Sequence[NDArray[np.float64]]) -> shapely.Geometry:
    """The area within the outer rings but for the inner ones, which go round the other way."""
    linear = [shapely.LinearRing(ring) for ring in rings if len(ring) > 2]
    outer, holes = (
        shapely.union_all([_valid(ring) for ring in linear if ring.is_ccw == around])
        for around in (True, False)
    )
    return shapely.difference(outer, holes)


def _valid(ring: shapely.LinearRing) -> shapely.Geometry:
    """The area in a ring, also where the ring touches or crosses itself."""
    return shapely.make_valid(shapely.Polygon(ring), method="structure", keep_collapsed=False)


def ball(radius_mm: float) -> Body:
    """A small sphere round the origin, to probe with."""
    return Body.sphere(radius_mm, 8)


def volume_ml(made: Body | float) -> float:
    """Volume in mL, of a body or of so many mm3: the one place where mm3 become mL."""
    return (made if isinstance(made, float) else made.volume()) / MM3_PER_ML


def box(made: Body) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Lowest and highest corner (3,), (3,)."""
    bounds = np.array(made.bounding_box())
    return bounds[:3], bounds[3:]
