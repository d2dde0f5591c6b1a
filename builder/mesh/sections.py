"""Plane sections of solids as shapely polygons, exact to the mesh."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from builder.mesh.rotations import frame
from builder.model import Solid, Vec3

Mend = Callable[[shapely.Geometry], shapely.Geometry]

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
    back = (side.sum(axis=1) != 1)[drawn]
    flat[back] = flat[back, ::-1]
    parts = [part for part in shapely.get_parts(_area(flat)) if part.geom_type == "Polygon"]
    return shapely.MultiPolygon([part for part in parts if part.area > 0])


def _area(segments: NDArray[np.float64]) -> shapely.Geometry:
    """The area round which directed segments (n, 2, 2) run.

    Where segments cross or miss each other by rounding they are cut at all crossings, then rounded too.
    What is left of outlines that a box cut open is none. Where a mesh folds over itself its outline runs
    round some spots twice: they count once, and no spot of the fold makes the rest vanish.
    """
    made = _built(segments, _MENDS[0])
    if made is not None:
        return made
    closed = _closed(segments)
    if not len(closed):
        return shapely.MultiPolygon()
    tried = (*(partial(_built, closed, mend) for mend in _MENDS), partial(_wound, closed))
    found = (made for attempt in tried if (made := attempt()) is not None)
    if (made := next(found, None)) is not None:
        return made
    try:
        made = shapely.build_area(shapely.set_precision(_lines(segments), grid_size=SNAP_MM))
    except shapely.GEOSException:
        return shapely.MultiPolygon()
    return shapely.union_all(shapely.get_parts(shapely.make_valid(made)))


def _lines(segments: NDArray[np.float64]) -> shapely.Geometry:
    return shapely.multilinestrings(shapely.linestrings(segments))


_MENDS: tuple[Mend, ...] = (
    lambda drawn: drawn,
    shapely.node,
    partial(shapely.set_precision, grid_size=SNAP_MM),
)


def _enclosed(segments: NDArray[np.float64]) -> float:
    """The area that the segments run round, with its sign; what they run round twice counts twice."""
    one, two = segments[:, 0], segments[:, 1]
    return float((one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]).sum() / 2)


def _agrees(area: float, enclosed: float) -> bool:
    return abs(area - abs(enclosed)) < 1e-6 * abs(enclosed) + 1e-3


def _built(segments: NDArray[np.float64], mend: Mend) -> shapely.Geometry | None:
    """The area between the mended segments, if it is as large as what they enclose."""
    try:
        made = shapely.build_area(mend(_lines(segments)))
    except shapely.GEOSException:
        return None
    return made if _agrees(made.area, _enclosed(segments)) and shapely.is_valid(made) else None


def _closed(segments: NDArray[np.float64]) -> NDArray[np.float64]:
    """The segments of outlines that close."""
    ends = np.unique(np.rint(segments.reshape(-1, 2) / SNAP_MM), axis=0, return_inverse=True)[1]
    one, two = ends.reshape(-1, 2).T
    links = coo_matrix((np.ones(len(one)), (one, two)), shape=(ends.max() + 1,) * 2)
    outline = connected_components(links, directed=False)[1]
    loose = np.bincount(one, minlength=len(outline)) != np.bincount(two, minlength=len(outline))
    return segments[~np.isin(outline[one], outline[loose])]


def _wound(segments: NDArray[np.float64]) -> shapely.Geometry | None:
    """The spots that the segments run round in their own sense, if all spots add up to what they enclose."""
    enclosed = _enclosed(segments)
    try:
        spots = shapely.get_parts(shapely.polygonize([shapely.node(_lines(segments))]))
    except shapely.GEOSException:  # crossings that no rounding parts
        return None
    times = np.sign(enclosed) * np.array(
        [_times_round(segments, spot.representative_point()) for spot in spots]
    )
    if not _agrees(float(times @ shapely.area(spots)), enclosed):
        return None
    return shapely.union_all(spots[times > 0])


def _times_round(segments: NDArray[np.float64], point: shapely.Point) -> int:
    """How often directed segments run round a point, counter-clockwise (its winding number)."""
    (x1, y1), (x2, y2) = segments[:, 0].T - [[point.x], [point.y]], segments[:, 1].T - [[point.x], [point.y]]
    left = x1 * y2 - x2 * y1
    return int(((y1 <= 0) & (y2 > 0) & (left > 0)).sum() - ((y1 > 0) & (y2 <= 0) & (left < 0)).sum())


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
