"""Where hollows open through faces of the mold that its hull does not reach: ledges, ears, counterbores."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from builder import mesh
from builder.measure.closing.planes import Plane, planes
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
RIM_LEVEL_MM = 3e-3
INSET_MM = 0.3
RIM_INSET_MM = 0.05
DEEP_MM = 0.05
"""What lies round a face is looked at so far before it."""
CRACK_MM = 0.5
"""Cracks of this width, such as vents, open no pocket at its side."""
WIDEST_POCKET_MM = 25.0
"""A pocket that is wider is the mold's outside: no sprue is so wide."""
DRAWN_IN_MM = 0.6
DRAWN_IN_SHARE = 0.8
"""A parting line of which such a share lies so far within the hull, on both halves, needs lids of its own."""

SLIT_MM, SLIT_SHARE = 3.0, 0.5
"""Halves that stand no farther apart along such a share of their outline meet on a lip within it."""
SLIT_RADIUS_MM, SLIT_SEEN_MM = 2.5, 1.0
"""Grooves no wider than twice the first run from the slit into the lip; they are looked for so far in."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lid:
    """A thin slab over a mouth, and the mouth's middle.

    `deep` where the mouth lies at the bottom of a pocket: a bolt's counterbore, or a shoulder in a sprue.
    """

    body: mesh.Body
    at: Array
    deep: bool


def lids(solid: Solid, body: mesh.Body) -> list[Lid]:
    """Thin slabs over all mouths in faces within the hull that see the open; the rest lies in the solid."""
    found: list[Lid] = []
    for plane in planes(solid, FLATS):
        if plane.area_mm2 < SMALLEST_FACE_MM2 or _on_hull(solid, plane) or not _seen(solid, body, plane):
            continue
        turn = mesh.frame(plane.normal)
        move = -turn @ plane.point
        before = mesh.above(mesh.placed(body, turn, move), BEFORE_MM)
        hidden, laid = mesh.shadow(before), mesh.placed(body, turn, move)
        seen = _large(shapely.difference(plane.polygon(solid, turn, move), hidden))
        near, far = (_level(laid, height) for height in (DEEP_MM, CRACK_MM))
        pockets, gaps = _pockets(near), _gaps(_mouths(seen, near, _beyond(far, near)))
        for gap in (part for whole in gaps for part in _uncovered(whole, hidden, laid)):
            slab = mesh.prism(mesh.rings(gap), -2 * LID_MM, -LID_MM)
            if slab.volume() > 0:
                middle = np.array([*gap.centroid.coords[0], 0.0])
                found.append(
                    Lid(
                        body=mesh.placed(slab, turn.T, plane.point),
                        at=turn.T @ middle + plane.point,
                        deep=bool(pockets.contains(gap.representative_point())),
                    )
                )
    return found


def _uncovered(gap: shapely.Polygon, hidden: shapely.Geometry, body: mesh.Body) -> Iterator[shapely.Polygon]:
    """The gap without hollows that go on under material, as a sprue's within a neck that stands on the face.

    `hidden` is the shadow of all that stands before the face.
    """
    if not gap.intersects(hidden):
        yield gap
        return
    solid = mesh.solid(body, "mold")
    levels = [mesh.section(solid, (0.0, 0.0, z), (0.0, 0.0, 1.0)).polygons for z in (-LID_MM, LID_MM)]
    hollows = shapely.get_parts(gap.difference(shapely.union_all(levels)))
    wide = [one for one in hollows if not one.buffer(-CRACK_MM / 2).is_empty]
    covered = [one for one in wide if one.difference(hidden.buffer(OVERLAP_MM)).area < SMALLEST_MM2]
    left = gap.difference(shapely.union_all(covered).buffer(2 * OVERLAP_MM)) if covered else gap
    yield from (part for part in shapely.get_parts(left) if part.geom_type == "Polygon")


def _level(body: mesh.Body, height_mm: float) -> shapely.Geometry:
    """What stands so far before the plane z = 0."""
    return mesh.section(mesh.solid(body, "mold"), (0.0, 0.0, height_mm), (0.0, 0.0, 1.0)).polygons


def _pockets(level: shapely.Geometry) -> shapely.Geometry:
    """Where material stands all round, no wider than a sprue's mouth; `level` is what stands there."""
    closed = level.buffer(CRACK_MM / 2)
    rings = [ring for part in shapely.get_parts(closed) for ring in part.interiors]
    holes = [shapely.Polygon(ring) for ring in rings]
    return shapely.union_all([hole for hole in holes if mesh.inscribed(hole)[0] < WIDEST_POCKET_MM])


def rim_lids(lower: Solid, upper: Solid, outer: mesh.Body, *, all_round: bool = True) -> list[mesh.Body]:
    """Thin upright slabs over mouths in a parting line that lies within the hull.

    `all_round` where rounded or chamfered edges draw it in; else where one half is smaller here and there.
    """
    one, two = (
        mesh.section(half, (0.0, 0.0, z), (0.0, 0.0, 1.0)).polygons
        for half, z in ((lower, -RIM_LEVEL_MM), (upper, RIM_LEVEL_MM))
    )
    hull = mesh.section(mesh.solid(outer, "hull"), (0.0, 0.0, 0.0), (0.0, 0.0, 1.0)).polygons
    inset, drawn_in = (INSET_MM, DRAWN_IN_MM) if all_round else (RIM_INSET_MM, RIM_INSET_MM + ON_HULL_MM)
    contact, within = shapely.union_all(_areas(shapely.intersection(one, two))), hull.buffer(-drawn_in)
    either = _outlined(shapely.union(one, two))
    whole = _outlined(contact) if all_round else _shadowed(lower, upper)
    if whole.is_empty:
        return []  # the halves do not lie on each other
    band = whole.buffer(-inset).difference(whole.buffer(-inset - LID_MM))
    gaps = whole.difference(contact).buffer(-OVERLAP_MM).buffer(2 * OVERLAP_MM)
    alone = band.intersection(gaps)
    if all_round:
        if either.boundary.intersection(within).length < DRAWN_IN_SHARE * either.boundary.length:
            return []
        alone = alone.difference(either.buffer(-DRAWN_IN_MM)).intersection(within)
    strips = [strip for strip in shapely.get_parts(alone) if strip.intersection(within).area > 0]
    return [mesh.prism(mesh.rings(strip), -MOUTH_MM, MOUTH_MM) for strip in strips]


def slit_lids(lower: Solid, upper: Solid, outer: mesh.Body) -> list[mesh.Body]:
    """Thin upright slabs over mouths in the rim of a lip, where the halves stand apart all round it."""
    (one, two), (low, high) = (
        [
            mesh.section(half, (0.0, 0.0, up * z), (0.0, 0.0, 1.0)).polygons
            for half, up in ((lower, -1.0), (upper, 1.0))
        ]
        for z in (RIM_LEVEL_MM, SLIT_MM)
    )
    hull = mesh.section(mesh.solid(outer, "hull"), (0.0, 0.0, 0.0), (0.0, 0.0, 1.0)).polygons
    contact = shapely.union_all(_areas(shapely.intersection(one, two)))
    slit = _slit(shapely.intersection(low, high).difference(contact), contact, hull)
    if slit.is_empty:
        return []
    rim = _mitred(slit, RIM_INSET_MM + LID_MM).difference(_mitred(slit, RIM_INSET_MM))
    beside = slit.buffer(SLIT_SEEN_MM).difference(slit).difference(contact)
    gaps = beside.buffer(-OVERLAP_MM).buffer(2 * OVERLAP_MM)
    strips = shapely.get_parts(rim & gaps & hull.buffer(-RIM_INSET_MM - ON_HULL_MM))
    return [mesh.prism(mesh.rings(strip), -MOUTH_MM, MOUTH_MM) for strip in _areas(shapely.union_all(strips))]


def _slit(apart: shapely.Geometry, contact: shapely.Geometry, hull: shapely.Geometry) -> shapely.Geometry:
    """Where halves stand apart from the outside up to a lip, bolt holes there filled; empty without a lip.

    Grooves that run into the lip are no part of it.
    """
    holes = [shapely.Polygon(ring) for part in _areas(apart) for ring in part.interiors]
    whole = shapely.union_all([apart, *(hole for hole in holes if not hole.intersects(contact))])
    wide = _mitred(_mitred(whole, -SLIT_RADIUS_MM), SLIT_RADIUS_MM)
    slit = shapely.union_all([part for part in _areas(wide) if part.intersects(hull.boundary)])
    along = slit.intersection(hull.boundary).length
    return slit if along > SLIT_SHARE * hull.boundary.length else shapely.Polygon()


def _shadowed(lower: Solid, upper: Solid) -> shapely.Geometry:
    """Where both halves stand over each other: a groove or a sprue in the parting is covered by its half."""
    one, two = (mesh.shadow(mesh.body(half)) for half in (lower, upper))
    return _without_holes(one & two)


def _outlined(region: shapely.Geometry) -> shapely.Geometry:
    """All that lies within a region's outline, its notches filled."""
    return _without_holes(_filled(region))


def _without_holes(region: shapely.Geometry) -> shapely.Geometry:
    """A region's areas with their openings filled."""
    return shapely.union_all([shapely.Polygon(part.exterior) for part in _areas(region)])


def _areas(region: shapely.Geometry) -> list[shapely.Polygon]:
    """The areas of a region, without the lines and points in which areas only touch."""
    return [part for part in shapely.get_parts(region) if part.geom_type == "Polygon"]


def _filled(region: shapely.Geometry) -> shapely.Geometry:
    """A region without notches and holes as wide as a mouth.

    A hair at a corner, as meshes leave it, grows into a spike: it is taken off where anything grows beyond
    the region's hull.
    """
    filled = _closed_up(region)
    if filled.difference(region.convex_hull).area < SMALLEST_MM2:
        return filled
    return _closed_up(region.buffer(-SEAM_MM).buffer(SEAM_MM)) & region.convex_hull


def _closed_up(region: shapely.Geometry) -> shapely.Geometry:
    """A region grown by a mouth's width and shrunk again."""
    return _mitred(_mitred(region, MOUTH_MM), -MOUTH_MM)


def _mitred(region: shapely.Geometry, by_mm: float) -> shapely.Geometry:
    """A region grown by so much, its corners kept."""
    with np.errstate(divide="ignore", invalid="ignore"):  # edges of no length, which GEOS copes with
        return region.buffer(by_mm, join_style="mitre")


def _on_hull(solid: Solid, plane: Plane) -> bool:
    """True if nothing of the solid lies before the plane."""
    return bool(((solid.vertices - plane.point) @ plane.normal).max() < ON_HULL_MM)


def _seen(solid: Solid, body: mesh.Body, plane: Plane) -> bool:
    """True if any of the face's larger facets sees the open along its normal."""
    corners = solid.vertices[solid.faces[plane.facets]]
    size = mesh.areas(corners)
    reach = 2 * float(np.ptp(solid.vertices, axis=0).max()) * plane.normal
    starts = corners[np.argsort(-size, kind="stable")[:LOOKS]].mean(axis=1) + BEFORE_MM * plane.normal
    return any(not body.ray_cast(tuple(start), tuple(start + reach)) for start in starts)


def _beyond(region: shapely.Geometry, other: shapely.Geometry) -> shapely.Geometry:
    """What one region has more than another, a little wider, without the slivers of rounding."""
    return region.difference(other).buffer(-OVERLAP_MM).buffer(3 * OVERLAP_MM)


def _large(region: shapely.Geometry) -> shapely.Geometry:
    """A region's parts that are large enough for a face."""
    return shapely.union_all([part for part in shapely.get_parts(region) if part.area > SMALLEST_FACE_MM2])


def _mouths(seen: shapely.Geometry, near: shapely.Geometry, behind: shapely.Geometry) -> shapely.Geometry:
    """Holes and notches of a face, as wide as a mouth at most, and the cracks beside what stands in it.

    `near` is what stands just before the face; `behind` lies under what stands a crack's width before it.
    """
    cracks = _filled(seen.union(near)).difference(_filled(near)).difference(behind)
    return _filled(seen).union(cracks).difference(seen)


def _gaps(mouths: shapely.Geometry) -> Iterator[shapely.Polygon]:
    """The parts of some mouths, a little larger than they are."""
    for gap in shapely.get_parts(mouths):
        if gap.geom_type == "Polygon" and gap.area > SMALLEST_MM2:
            yield from shapely.get_parts(
                gap.buffer(-SEAM_MM).buffer(SEAM_MM + OVERLAP_MM, join_style="mitre")
            )
