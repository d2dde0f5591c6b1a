"""The areas round which the directed segments of a plane section run."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

Array = NDArray[np.float64]
Index = NDArray[np.int64]
Mend = Callable[[shapely.Geometry], shapely.Geometry]
Polygons = NDArray[np.object_]

SNAP_MM = 1e-6
SPECK_MM2 = 1e-4
"""An outline round less is what rounding leaves where a mesh lies double."""


def chained(start: Index, end: Index) -> list[list[int]] | None:
    """Segments (n,) in the order of each closed outline, given the edge on which each starts and ends.

    Outlines that do not close are left out; None where two segments start or end on one edge.

    >>> chained(np.array([7, 3, 5, 1]), np.array([3, 5, 7, 2]))
    [[0, 1, 2]]
    """
    order = np.argsort(start)
    ordered = start[order]
    place = np.minimum(np.searchsorted(ordered, end), len(order) - 1)
    follows = np.where(ordered[place] == end, order[place], -1)
    if (ordered[1:] == ordered[:-1]).any() or np.bincount(follows + 1)[1:].max(initial=0) > 1:
        return None
    after = follows.tolist()
    new = [True] * len(after)
    found = []
    for first in range(len(after)):
        outline, here = [], first
        while here >= 0 and new[here]:
            new[here] = False
            outline.append(here)
            here = after[here]
        if outline and here == first:
            found.append(outline)
    return found


def within(outlines: Sequence[Array]) -> Polygons | None:
    """The areas within outlines (n, 2), those that run the other way cut out; None if any cross.

    An outline that crosses itself by rounding alone is untied by itself: a core that was filed closed
    against its cavity lies double along a seam, and all outlines of a section take ten times as long.
    """
    outlines = [ring for ring in map(_without_repeats, outlines) if len(ring) > 2]
    made = _within_simple(outlines)
    if made is None and (untied := _untied(outlines)) is not None:
        made = _within_simple(untied)
    return made


def _untied(outlines: Sequence[Array]) -> list[Array] | None:
    """Simple outlines round the same areas, on a fine grid where one crosses itself; None if areas differ."""
    found: list[Array] = []
    for ring in outlines:
        size, drawn = _size(*ring.T), shapely.polygons(ring)
        if shapely.is_valid(drawn):
            found += [ring] if abs(size) > SPECK_MM2 else []
            continue
        made = shapely.set_precision(shapely.make_valid(drawn), grid_size=SNAP_MM)
        parts = [part for part in _polygons(made) if part.area > SPECK_MM2]
        if not _agrees(sum(part.area for part in parts), size):
            return None
        for part in parts:
            turned = shapely.geometry.polygon.orient(part, float(np.sign(size)))
            found += [np.array(one.coords)[:-1] for one in (turned.exterior, *turned.interiors)]
    left = sum(_size(*ring.T) for ring in found)
    return found if _agrees(abs(left), sum(_size(*ring.T) for ring in outlines)) else None


def _polygons(made: shapely.Geometry) -> list[shapely.Polygon]:
    """The polygons of a geometry, those of its collections, too."""
    parts = shapely.get_parts(shapely.get_parts(made))
    return [part for part in parts if part.geom_type == "Polygon"]


def _within_simple(outlines: Sequence[Array]) -> Polygons | None:
    """The areas within simple outlines (n, 2) without equal points in a row."""
    sizes = [_size(*ring.T) for ring in outlines]
    sign = 1.0 if sum(sizes) >= 0 else -1.0
    shells = [k for k, size in enumerate(sizes) if sign * size > 0]
    holes = [k for k, size in enumerate(sizes) if sign * size < 0]
    if not shells:
        return np.zeros(0, dtype=object)
    drawn = [shapely.linearrings(ring) for ring in outlines]
    made = shapely.polygons([drawn[k] for k in shells])
    inner: dict[int, list[shapely.LinearRing]] = {}
    for k in holes:
        around = np.flatnonzero(shapely.contains_xy(made, *outlines[k][0]))
        if not len(around):
            return None
        inner.setdefault(min(around.tolist(), key=lambda one: abs(sizes[shells[one]])), []).append(drawn[k])
    for one, rings in inner.items():
        made[one] = shapely.polygons(drawn[shells[one]], holes=rings)
    whole = made[0] if len(made) == 1 else shapely.multipolygons(made)
    return made if shapely.is_valid(whole) else None


def _without_repeats(ring: Array) -> Array:
    """The outline without points that equal the one before."""
    new = (ring[1:] != ring[:-1]).any(axis=1)
    return (
        ring
        if new.all() and (ring[0] != ring[-1]).any()
        else ring[np.append(new, (ring[0] != ring[-1]).any())]
    )


def _size(x: Array, y: Array) -> float:
    """The area that an outline runs round, with its sign."""
    return float(x[:-1] @ y[1:] - x[1:] @ y[:-1] + x[-1] * y[0] - x[0] * y[-1]) / 2


def around(segments: Array) -> Polygons:
    """The areas round which directed segments (n, 2, 2) run.

    Where segments cross or miss each other by rounding they are cut at all crossings, then rounded too.
    What is left of outlines that a box cut open is none. Where a mesh folds over itself its outline runs
    round some spots twice: they count once, and no spot of the fold makes the rest vanish.
    """
    parts = [part for part in shapely.get_parts(_area(segments)) if part.geom_type == "Polygon"]
    return np.array([part for part in parts if part.area > 0], dtype=object)


def _area(segments: Array) -> shapely.Geometry:
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


def _lines(segments: Array) -> shapely.Geometry:
    return shapely.multilinestrings(shapely.linestrings(segments))


def _noded(lines: shapely.Geometry) -> shapely.Geometry:
    """Lines cut where they cross, on a fine grid: without it, lines side by side cross without end."""
    return shapely.union_all(shapely.get_parts(lines), grid_size=SNAP_MM)


_MENDS: tuple[Mend, ...] = (
    lambda drawn: drawn,
    _noded,
    partial(shapely.set_precision, grid_size=SNAP_MM),
)


def _enclosed(segments: Array) -> float:
    """The area that the segments run round, with its sign; what they run round twice counts twice."""
    one, two = segments[:, 0], segments[:, 1]
    return float((one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]).sum() / 2)


def _agrees(area: float, enclosed: float) -> bool:
    return abs(area - abs(enclosed)) < 1e-6 * abs(enclosed) + 1e-3


def _built(segments: Array, mend: Mend) -> shapely.Geometry | None:
    """The area between the mended segments, if it is as large as what they enclose."""
    try:
        made = shapely.build_area(mend(_lines(segments)))
    except shapely.GEOSException:
        return None
    return made if _agrees(made.area, _enclosed(segments)) and shapely.is_valid(made) else None


def _closed(segments: Array) -> Array:
    """The segments of outlines that close."""
    ends = np.unique(np.rint(segments.reshape(-1, 2) / SNAP_MM), axis=0, return_inverse=True)[1]
    one, two = ends.reshape(-1, 2).T
    links = coo_matrix((np.ones(len(one)), (one, two)), shape=(ends.max() + 1,) * 2)
    outline = connected_components(links, directed=False)[1]
    loose = np.bincount(one, minlength=len(outline)) != np.bincount(two, minlength=len(outline))
    return segments[~np.isin(outline[one], outline[loose])]


def _wound(segments: Array) -> shapely.Geometry | None:
    """The spots that the segments run round in their own sense, if all spots add up to what they enclose."""
    enclosed = _enclosed(segments)
    try:
        spots = shapely.get_parts(shapely.polygonize([_noded(_lines(segments))]))
    except shapely.GEOSException:  # crossings that no rounding parts
        return None
    times = np.sign(enclosed) * np.array(
        [_times_round(segments, spot.representative_point()) for spot in spots]
    )
    if not _agrees(float(times @ shapely.area(spots)), enclosed):
        return None
    return shapely.union_all(spots[times > 0])


def _times_round(segments: Array, point: shapely.Point) -> int:
    """How often directed segments run round a point, counter-clockwise (its winding number)."""
    (x1, y1), (x2, y2) = segments[:, 0].T - [[point.x], [point.y]], segments[:, 1].T - [[point.x], [point.y]]
    left = x1 * y2 - x2 * y1
    return int(((y1 <= 0) & (y2 > 0) & (left > 0)).sum() - ((y1 > 0) & (y2 <= 0) & (left < 0)).sum())
