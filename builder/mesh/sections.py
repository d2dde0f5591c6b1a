"""Plane sections of solids as shapely polygons, exact to the mesh."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from builder.mesh import outlines
from builder.mesh.clusters import clustered
from builder.mesh.outlines import Polygons
from builder.mesh.rotations import frame
from builder.model import Solid, Vec3

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Section:
    """A solid cut by the plane through `origin`: its areas; rows of `turn` are its axes and its normal."""

    parts: Polygons
    turn: Array
    origin: Array

    @property
    def polygons(self) -> shapely.MultiPolygon:
        """Its areas as one geometry."""
        return shapely.multipolygons(self.parts) if len(self.parts) else shapely.MultiPolygon()

    def lift(self, point: Array) -> Array:
        """A point (2,) or (n, 2) of the plane, in space."""
        return np.asarray(self.origin + np.atleast_2d(point) @ self.turn[:2]).reshape(
            *np.shape(point)[:-1], 3
        )

    def lower(self, point: Array) -> Array:
        """A point in space, in the plane's axes (2,)."""
        return np.asarray((np.asarray(point, float) - self.origin) @ self.turn[:2].T)

    def at(self, point: Vec3 | Array) -> shapely.Polygon | None:
        """The area that contains the point, or the nearest one; None for an empty section."""
        if not len(self.parts):
            return None
        away = shapely.distance(self.parts, shapely.Point(self.lower(np.asarray(point, float))))
        found: shapely.Polygon = self.parts[np.lexsort((-shapely.area(self.parts), away))[0]]
        return found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Crossed:
    """Facets that a plane crosses, by corner (3, n): vertices, their places (3 axes), heights above it."""

    names: NDArray[np.int64]
    corners: Array
    heights: Array


def section(solid: Solid, point: Vec3 | Array, normal: Vec3 | Array, *, often: bool = False) -> Section:
    """Cross-section of the solid in the plane through `point` (mm). Facets in the plane count as above it.

    `often` for a solid that many planes cut: its facets near a plane are found quickly, once it is prepared.
    """
    turn, origin = frame(normal), np.asarray(point, float)
    crossed = (_near if often else _crossed)(solid, origin, turn[2])
    return Section(parts=_parts(crossed, origin, turn), turn=turn, origin=origin)


def _crossed(solid: Solid, origin: Array, normal: Array) -> _Crossed:
    """The facets that a plane crosses."""
    height = (solid.vertices - origin) @ normal
    up = height >= 0
    a, b, c = (up[solid.faces[:, k]] for k in range(3))
    names = solid.faces[(a != b) | (b != c)].T.astype(np.int64)
    return _Crossed(names=names, corners=solid.vertices.T[:, names], heights=height[names])


def _near(solid: Solid, origin: Array, normal: Array) -> _Crossed:
    """The facets that a plane crosses, found among those near it."""
    facets, corners = clustered(solid).near_plane(origin, normal)
    x, y, z = (part - place for part, place in zip(corners, origin, strict=True))
    heights = x * normal[0] + y * normal[1] + z * normal[2]  # term by term: the same for equal corners
    a, b, c = heights >= 0
    cut = np.flatnonzero((a != b) | (b != c))
    names = solid.faces.take(facets.take(cut), axis=0).T.astype(np.int64)
    return _Crossed(names=names, corners=corners.take(cut, axis=2), heights=heights.take(cut, axis=1))


def _parts(crossed: _Crossed, origin: Array, turn: Array) -> Polygons:
    """The areas that crossed facets run round (even-odd)."""
    if not crossed.names.size:
        return np.zeros(0, dtype=object)
    a, b, c = up = crossed.heights >= 0
    lone = np.where(b == c, 0, np.where(a == c, 1, 2))
    onward = np.where(up[lone, np.arange(lone.size)], 1, 2)
    start, end = (_Edges.of(crossed, lone, (lone + step) % 3) for step in (onward, 3 - onward))
    points = start.crossings(origin, turn)
    loops = outlines.chained(start.number, end.number)
    if loops is not None and (made := outlines.within([points[loop] for loop in loops])) is not None:
        return made
    segments = np.stack([points, end.crossings(origin, turn)], axis=1)
    return outlines.around(segments[(segments[:, 0] != segments[:, 1]).any(axis=1)])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Edges:
    """Edges that a plane crosses: a number for each, and its ends (3, n), the lower vertex number first."""

    number: NDArray[np.int64]
    low: Array
    high: Array
    low_height: Array
    high_height: Array

    @classmethod
    def of(cls, crossed: _Crossed, one: NDArray[np.int64], two: NDArray[np.int64]) -> _Edges:
        """The edges between two corners (n,) of each facet."""
        at = np.arange(one.size)
        one, two = one * one.size + at, two * two.size + at  # places in (3, n), row by row
        swap = crossed.names.take(one) > crossed.names.take(two)
        low, high = np.where(swap, two, one), np.where(swap, one, two)
        corners = crossed.corners.reshape(3, -1)
        return cls(
            number=(crossed.names.take(low) << 32) | crossed.names.take(high),
            low=corners.take(low, axis=1),
            high=corners.take(high, axis=1),
            low_height=crossed.heights.take(low),
            high_height=crossed.heights.take(high),
        )

    def crossings(self, origin: Array, turn: Array) -> Array:
        """Where the plane crosses them, by its axes (n, 2); the same number from either facet of an edge."""
        share = self.low_height / (self.low_height - self.high_height)
        places = self.low + share * (self.high - self.low)
        return np.asarray((places.T - origin) @ turn[:2].T)


def rings(polygon: shapely.Polygon) -> list[NDArray[np.float64]]:
    """Outer and inner rings (n, 2) without the closing point."""
    return [np.array(ring.coords)[:-1, :2] for ring in (polygon.exterior, *polygon.interiors)]
