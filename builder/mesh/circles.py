"""The largest circle inside a polygon."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import Delaunay, QhullError

Array = NDArray[np.float64]

TOLERANCE_MM = 1e-3
TOLERANCE_SHARE = 5e-4
KEPT = 512
"""So many inscribed circles are kept: that of a section is asked for more than once."""
LONG = 60.0
"""A polygon with more of its rim squared than this times its area is long for its width, or a ring: as many
places in it are as wide, the search by ever smaller squares looks at all of them."""
MOST_POINTS = 4000
STARTS, CLIMBED, WAYS = 200, 3, 24
"""So many of the widest places are measured; so many ways are tried from so many of the best."""
GAIN_SHARE = 1e-3
"""A step gains such a share of the tolerance: slits that rounding tapers are not followed to the end."""
SPIN = 2 * np.pi * np.arange(WAYS) / WAYS
AROUND = np.column_stack([np.cos(SPIN), np.sin(SPIN)])


@lru_cache(maxsize=KEPT)
def inscribed(polygon: shapely.Polygon, finest_mm: float | None = None) -> tuple[float, Array]:
    """Diameter (mm) and centre (2,) of the largest circle inside the polygon, to 0.002 mm or 0.2 %.

    With `finest_mm` its radius is known to about that; in long shapes and rings to twice that.

    >>> round(inscribed(shapely.box(0, 0, 10, 4))[0], 3)
    4.0
    >>> round(inscribed(shapely.box(0, 0, 40, 40).difference(shapely.box(1, 1, 39, 39)))[0], 2)
    1.17
    """
    fine = finest_mm or max(TOLERANCE_MM, TOLERANCE_SHARE * float(np.sqrt(polygon.area)))
    found = _between_sides(polygon, fine) if polygon.length**2 > LONG * polygon.area else None
    if found is not None:
        return found
    radius = shapely.maximum_inscribed_circle(polygon, tolerance=fine)
    return 2 * float(radius.length), np.array(radius.coords[0])


def _between_sides(polygon: shapely.Polygon, fine_mm: float) -> tuple[float, Array] | None:
    """The circle, found among those through three points of the rim with none within; None for no such one.

    The centres of those circles lie along the middle line of the polygon (Delaunay 1934).
    """
    step = max(polygon.area / polygon.length, polygon.length / MOST_POINTS)
    points = np.unique(shapely.get_coordinates(shapely.segmentize(polygon, step)), axis=0)
    try:
        corners = points[Delaunay(points).simplices]
    except QhullError:
        return None
    centres, radii = _around(corners)
    within = shapely.contains_xy(polygon, centres)
    if not within.any():
        return None
    widest = np.argsort(-radii[within], kind="stable")[:STARTS]
    starts = centres[within][widest]
    found = shapely.distance(polygon.boundary, shapely.points(starts))
    step = max(float(radii[within].max() - found.max()), 4 * fine_mm)
    best = np.argsort(-found, kind="stable")[:CLIMBED]
    climbed = [_climbed(polygon, starts[k], step, fine_mm) for k in best]
    return max(climbed, key=lambda circle: circle[0])


def holds(polygon: shapely.Polygon, at: Array, diameter_mm: float, fine_mm: float) -> bool:
    """True if a circle so wide is found in the polygon near a place, by no more than `fine_mm` less.

    Much sooner told than how wide the widest one is, where the place is nearly its centre.
    """
    step = TOLERANCE_SHARE * float(np.sqrt(polygon.area)) + 4 * fine_mm
    return _climbed(polygon, at, step, fine_mm)[0] > diameter_mm - fine_mm


def _around(corners: Array) -> tuple[Array, Array]:
    """Centres (m, 2) and radii (m,) of the circles round triangles (n, 3, 2), without flat ones."""
    sides = corners[:, 1:] - corners[:, :1]
    double = 2 * (sides[:, 0, 0] * sides[:, 1, 1] - sides[:, 0, 1] * sides[:, 1, 0])
    good = np.abs(double) > 1e-12
    (bx, by), (cx, cy) = sides[good, 0].T, sides[good, 1].T
    b, c = bx**2 + by**2, cx**2 + cy**2
    away = np.column_stack([cy * b - by * c, bx * c - cx * b]) / double[good, None]
    return corners[good, 0] + away, np.linalg.norm(away, axis=1)


def _climbed(polygon: shapely.Polygon, at: Array, step: float, fine_mm: float) -> tuple[float, Array]:
    """The diameter and centre of the widest circle, from a place within on, in steps that shrink."""
    rim, radius_mm = polygon.boundary, 0.0
    while step > fine_mm / 4:
        there = np.vstack([at, at + step * AROUND])
        away = shapely.distance(rim, shapely.points(there))
        away[~shapely.contains_xy(polygon, there)] = 0.0
        best = int(np.argmax(away))
        if away[best] > radius_mm + GAIN_SHARE * fine_mm:
            at, radius_mm = there[best], float(away[best])
        else:
            step /= 2
    return 2 * radius_mm, at
