"""Plane sections of solids as shapely polygons, exact to the mesh."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np
import shapely
from numpy.typing import NDArray

from builder.mesh.rotations import frame
from builder.model import Solid, Vec3

INSCRIBED_TOLERANCE_MM = 1e-3
INSCRIBED_SHARE = 5e-4
SNAP_MM = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Section:
    """A solid cut by the plane through `origin`; rows of `turn` are its axes and its normal."""

    polygons: shapely.MultiPolygon
    turn: NDArray[np.float64]
    origin: NDArray[np.float64]

    def lift(self, point: NDArray[np.float64]) -> NDArray[np.float64]:
        """A point (2,) or (n, 2) of the plane, in space."""
        return np.asarray(self.origin + np.atleast_2d(point) @ self.turn[:2]).reshape(
            *np.shape(point)[:-1], 3
        )

    def lower(self, point: NDArray[np.float64]) -> NDArray[np.float64]:
        """A point in space, in the plane's axes (2,)."""
        return np.asarray((np.asarray(point, float) - self.origin) @ self.turn[:2].T)

    def at(self, point: Vec3 | NDArray[np.float64]) -> shapely.Polygon | None:
        """The polygon that contains the point, or the nearest one; None for an empty section."""
        parts = list(self.polygons.geoms)
        if not parts:
            return None
        here = shapely.Point(self.lower(np.asarray(point, float)))
        return min(parts, key=lambda part: (part.distance(here), -part.area))


def section(solid: Solid, point: Vec3 | NDArray[np.float64], normal: Vec3 | NDArray[np.float64]) -> Section:
    """Cross-section of the solid in the plane through `point` (mm). Facets in the plane count as above it."""
    turn, origin = frame(normal), np.asarray(point, float)
    height = (solid.vertices - origin) @ turn[2]
    up = height >= 0
    a, b, c = (up[solid.faces[:, k]] for k in range(3))
    cut = solid.faces[(a != b) | (b != c)]
    return Section(polygons=_polygons(solid.vertices, height, cut, origin, turn), turn=turn, origin=origin)


def _polygons(
    vertices: NDArray[np.float64],
    height: NDArray[np.float64],
    cut: NDArray[np.int32],
    origin: NDArray[np.float64],
    turn: NDArray[np.float64],
) -> shapely.MultiPolygon:
    """Areas enclosed by the cut facets' segments (even-odd)."""
    if not len(cut):
        return shapely.MultiPolygon()
    side = height[cut] >= 0
    lone = np.where(side.sum(axis=1) == 1, side.argmax(axis=1), (~side).argmax(axis=1))
    rows = np.arange(len(cut))
    apex = cut[rows, lone]
    ends = [_crossings(vertices, height, apex, cut[rows, (lone + k) % 3]) for k in (1, 2)]
    flat = np.stack([(end - origin) @ turn[:2].T for end in ends], axis=1)
    drawn = (flat[:, 0] != flat[:, 1]).any(axis=1)
    flat = flat[drawn]
    if not len(flat):
        return shapely.MultiPolygon()
    one, two = flat[:, 0], flat[:, 1]
    way = np.where(side.sum(axis=1) == 1, 0.5, -0.5)[drawn]
    enclosed = abs(float(way @ (one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0])))
    parts = [part for part in shapely.get_parts(_area(flat, enclosed)) if part.geom_type == "Polygon"]
    return shapely.MultiPolygon([part for part in parts if part.area > 0])


def _area(segments: NDArray[np.float64], enclosed_mm2: float) -> shapely.Geometry:
    """The area that segments (n, 2, 2) enclose, which must be so large.

    Where segments cross or miss each other by rounding they are cut at all crossings, then rounded too.
    """
    lines = shapely.multilinestrings(shapely.linestrings(segments))
    mends = (lambda drawn: drawn, shapely.node, partial(shapely.set_precision, grid_size=SNAP_MM))
    made = shapely.MultiPolygon()
    for mend in mends:
        try:
            made = shapely.build_area(mend(lines))
        except shapely.GEOSException:
            continue
        if abs(made.area - enclosed_mm2) < 1e-6 * enclosed_mm2 + 1e-3 and shapely.is_valid(made):
            return made
    return shapely.union_all(shapely.get_parts(shapely.make_valid(made)))


def _crossings(
    vertices: NDArray[np.float64], height: NDArray[np.float64], one: NDArray[np.int32], two: NDArray[np.int32]
) -> NDArray[np.float64]:
    """Where edges one-two cross the plane; the same number from either facet of an edge."""
    low, high = np.minimum(one, two), np.maximum(one, two)
    share = height[low] / (height[low] - height[high])
    return np.asarray(vertices[low] + share[:, None] * (vertices[high] - vertices[low]))


def inscribed(polygon: shapely.Polygon) -> tuple[float, NDArray[np.float64]]:
    """Diameter (mm) and centre (2,) of the largest circle inside the polygon, to 0.002 mm or 0.2 %.

    >>> round(inscribed(shapely.box(0, 0, 10, 4))[0], 3)
    4.0
    """
    fine = max(INSCRIBED_TOLERANCE_MM, INSCRIBED_SHARE * float(np.sqrt(polygon.area)))
    radius = shapely.maximum_inscribed_circle(polygon, tolerance=fine)
    return 2 * float(radius.length), np.array(radius.coords[0])


def rings(polygon: shapely.Polygon) -> list[NDArray[np.float64]]:
    """Outer and inner rings (n, 2) without the closing point."""
    return [np.array(ring.coords)[:-1, :2] for ring in (polygon.exterior, *polygon.interiors)]
