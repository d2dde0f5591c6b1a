"""Where hollows open through faces of the mold that its hull does not reach: ledges, ears, counterbores."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray

from builder import mesh
from builder.measure.facets import Plane, planes
from builder.model import Solid

Array = NDArray[np.float64]

MOUTH_MM = 7.3
"""Notches and holes up to twice this width in an outer face are mouths."""
SMALLEST_MM2 = 0.05
ON_HULL_MM = 5e-3
LOOKS = 8
BEFORE_MM = 0.02
"""What stands this far before a face hides it."""
SMALLEST_FACE_MM2 = 10.0
LID_MM = 2e-5
OVERLAP_MM = 0.02
SEAM_MM = 1e-3
FLATS = 60


def lids(solid: Solid, body: mesh.Body) -> list[mesh.Body]:
    """Thin slabs over all mouths in outer faces within the hull; elsewhere they lie in the solid."""
    found = []
    for plane in planes(solid, FLATS):
        if plane.area_mm2 < SMALLEST_FACE_MM2 or _on_hull(solid, plane) or not _seen(solid, body, plane):
            continue
        turn = mesh.frame(plane.normal)
        move = -turn @ plane.point
        before = mesh.above(mesh.placed(body, turn, move), BEFORE_MM)
        seen = shapely.difference(plane.polygon(solid, turn, move), mesh.shadow(before))
        for gap in _gaps(seen):
            slab = mesh.prism(mesh.rings(gap), -2 * LID_MM, -LID_MM)
            if slab.volume() > 0:
                found.append(mesh.placed(slab, turn.T, plane.point))
    return found


def _on_hull(solid: Solid, plane: Plane) -> bool:
    """True if nothing of the solid lies before the plane."""
    return bool(((solid.vertices - plane.point) @ plane.normal).max() < ON_HULL_MM)


def _seen(solid: Solid, body: mesh.Body, plane: Plane) -> bool:
    """True if any of the face's larger facets sees the open along its normal."""
    corners = solid.vertices[solid.faces[plane.facets]]
    size = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1)
    reach = 2 * float(np.ptp(solid.vertices, axis=0).max()) * plane.normal
    starts = corners[np.argsort(-size, kind="stable")[:LOOKS]].mean(axis=1) + BEFORE_MM * plane.normal
    return any(not body.ray_cast(tuple(start), tuple(start + reach)) for start in starts)


def _gaps(region: shapely.Geometry) -> Iterator[shapely.Polygon]:
    """Holes and notches of a face, as wide as a mouth at most, a little larger than they are."""
    region = shapely.union_all([part for part in shapely.get_parts(region) if part.area > SMALLEST_FACE_MM2])
    closed = region.buffer(MOUTH_MM, join_style="mitre").buffer(-MOUTH_MM, join_style="mitre")
    for gap in shapely.get_parts(closed.difference(region)):
        if gap.geom_type == "Polygon" and gap.area > SMALLEST_MM2:
            yield from shapely.get_parts(
                gap.buffer(-SEAM_MM).buffer(SEAM_MM + OVERLAP_MM, join_style="mitre")
            )
