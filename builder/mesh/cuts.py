"""Plane cuts through one limb of a body: gates and the inner ends of vents."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from builder import mesh
from builder.model import Gate, Solid

Array = NDArray[np.float64]

KERF_MM = 2e-5
"""Thickness of a cut; it takes away 1e-4 mm3 of a wide gate."""
OVERLAP_MM = 0.02
"""A cut reaches this far past the limb, so that nothing holds on."""
NEAR_MM = 1.0
"""A section farther from its point than this belongs to another limb."""
CRUMB_MM = 0.008
"""An area with less of itself for its rim is half as thick: no vent is 0.02 mm deep."""
FINEST_MM = 0.04
CLIPPED_MM = 0.01
LAST_SHARE = 1.005
"""The gate is the last section within this share of the narrowest: a land before the bait is runner."""
BUMP_SHARE = 1.15
"""As narrow sections are looked for behind one that is so much wider, as a section in a bend is."""
TILTS = (-0.4, 0.4)
BULGE_MM, BULGE_SHARE = 2.0, 2.0
"""A told gate is taken so far before its place at most, where its plane cuts so many times as much."""
FOLLOW_SHARE, FOLLOWED = 0.2, 60
"""From the gate the limb is followed in steps of such a share of its width, at most so many."""
FLAT_WIDTHS, EVEN_SHARE, THICKER = 2.5, 1.03, 1.5
"""A section so many times wider than thick is flat; a fan is as thick all along but for EVEN_SHARE, and ends
where it is so many times thicker at once."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cut:
    """A plane section of one limb, its normal pointing into the bait (or out of the mold, for a vent)."""

    at: Array
    turn: Array
    polygon: shapely.Polygon

    @property
    def normal(self) -> Array:
        """Unit normal (3,)."""
        return np.asarray(self.turn[2])

    def gate(self) -> Gate:
        """The section as the model's Gate."""
        return Gate(
            at_mm=mesh.vec(self.at),
            normal=mesh.vec(self.normal),
            area_mm2=float(self.polygon.area),
            thickness_mm=mesh.inscribed(self.polygon)[0],
            perimeter_mm=float(self.polygon.length),
        )

    def plug(self) -> mesh.Body:
        """A thin slab that closes the limb."""
        wide = self.polygon.buffer(OVERLAP_MM, join_style="mitre")
        slab = mesh.prism(mesh.rings(wide), -KERF_MM / 2, KERF_MM / 2)
        return mesh.placed(slab, self.turn.T, self.at)


def across(solid: Solid, at: Array, normal: Array) -> Cut | None:
    """The section of the limb that holds `at`; its origin moved to the section's middle."""
    section = mesh.section(solid, at, normal, often=True)
    section = replace(section, parts=_without_crumbs(section.parts))
    here = shapely.Point(section.lower(at))
    polygon = section.at(at)
    if polygon is not None and polygon.distance(here) > NEAR_MM:
        polygon = _round(section.parts, here)
    if polygon is None:
        return None
    middle = shapely.get_coordinates(shapely.centroid(polygon))[0]
    centred = shapely.transform(polygon, lambda points: points - middle)
    return Cut(at=section.lift(middle), turn=section.turn, polygon=centred)


def _without_crumbs(parts: NDArray[np.object_]) -> NDArray[np.object_]:
    """The areas without the slivers that a mesh's own seams leave, or a plane through its corners."""
    return np.asarray(parts[shapely.area(parts) > CRUMB_MM * shapely.length(parts)])


def _round(parts: NDArray[np.object_], here: shapely.Point) -> shapely.Polygon | None:
    """The smallest area that runs round a point: the middle of a ring round a core belongs to the ring."""
    rings = [one for one in parts if shapely.Polygon(one.exterior).distance(here) <= NEAR_MM]
    return min(rings, key=lambda ring: ring.area, default=None)


def narrowest(
    solid: Solid, at: Array, normal: Array, reach_mm: float, mouth: tuple[Array, Array]
) -> Cut | None:
    """The last narrowest section of the limb within `reach_mm` of a point, along a direction into the bait.

    Coarse steps first, then finer ones along the limb's own middle line. A slanting section that the
    plane of the sprue's mouth (a point and its normal) clips is smaller than the limb, and none.
    """
    step = reach_mm / 8
    found: list[Cut] = []
    for _ in range(3):
        found = [cut for cut in _along(solid, at, normal, reach_mm, step) if not _clipped(cut, *mouth)]
        if not found:
            return None
        best = _last_narrow(found)
        axis = found[best].at - found[max(0, best - 8)].at
        at, length = found[best].at, float(np.linalg.norm(axis))
        if length > 3 * step and axis @ normal > 0.8 * length:
            normal = axis / length
        reach_mm, step = max(reach_mm / 3, 12 * FINEST_MM), max(step / 4, FINEST_MM)
    return _followed(solid, found[_last_narrow(found)])


def before_bulge(solid: Solid, at: Array, normal: Array) -> tuple[Cut | None, float]:
    """The limb's section at a place, or just before the bait bulges into that plane; how far before, mm."""
    told = across(solid, at, normal)
    steps = np.arange(FINEST_MM, BULGE_MM, FINEST_MM)
    found = [] if told is None else [across(solid, at - step * normal, normal) for step in steps]
    least = min((cut.polygon.area for cut in found if cut is not None), default=np.inf)
    if told is None or told.polygon.area < BULGE_SHARE * least:
        return told, 0.0
    narrow = (
        (cut, float(step))
        for cut, step in zip(found, steps, strict=True)
        if cut is not None and cut.polygon.area <= LAST_SHARE * least
    )
    return next(narrow)


def _followed(solid: Solid, start: Cut) -> Cut:
    """The last section as narrow as `start` along the limb, round its bends, before it widens."""
    last, here, ahead = start, start, start.normal
    step = FOLLOW_SHARE * mesh.inscribed(start.polygon)[0]
    for _ in range(FOLLOWED):
        there = _squarest(solid, here, step * ahead)
        if there is None or there.polygon.area > BUMP_SHARE * start.polygon.area:
            break
        ahead = there.normal
        here = there
        last = there if there.polygon.area <= LAST_SHARE * start.polygon.area else last
    return last


def end_of_fan(solid: Solid, start: Cut) -> Cut | None:
    """The last section of a flat limb behind `start`, where it becomes thicker at once; None for another one.

    A fan gate widens towards the bait, so that its narrowest section is not where the bait begins.
    """
    thick_mm = mesh.inscribed(start.polygon)[0]
    if start.polygon.area < FLAT_WIDTHS * thick_mm**2:
        return None
    here, ahead, step = start, start.normal, FOLLOW_SHARE * thick_mm
    for steps in range(FOLLOWED):
        there = across(solid, here.at + step * ahead, ahead)
        if there is None:
            return None
        width_mm = mesh.inscribed(there.polygon)[0]
        if width_mm > THICKER * thick_mm:
            return _last_thin(solid, here, ahead, step, EVEN_SHARE * thick_mm)
        if width_mm > EVEN_SHARE * thick_mm:
            return None
        here = there
        ahead = _towards(here.at - start.at) if steps else ahead
    return None


def _last_thin(solid: Solid, here: Cut, ahead: Array, step_mm: float, thick_mm: float) -> Cut:
    """The last section ahead of `here`, within a step, that is no thicker."""
    found, low, high = here, 0.0, step_mm
    while high - low > CLIPPED_MM:
        middle = (low + high) / 2
        there = across(solid, here.at + middle * ahead, ahead)
        if there is not None and mesh.inscribed(there.polygon)[0] <= thick_mm:
            found, low = there, middle
        else:
            high = middle
    return found


def _squarest(solid: Solid, here: Cut, step: Array) -> Cut | None:
    """The smallest section a step ahead, across the step or across one turned a little: the limb may bend."""
    ahead, aside = _towards(step), np.cross(_towards(step), here.turn[0])
    axes = [np.cross(ahead, aside), aside]
    turned = [_towards(ahead + tilt * axis) for axis in axes for tilt in TILTS]
    made = (across(solid, here.at + step, way) for way in (ahead, *turned))
    return min((cut for cut in made if cut is not None), key=lambda cut: cut.polygon.area, default=None)


def _towards(way: Array) -> Array:
    """The unit vector along a way."""
    return np.asarray(way / np.linalg.norm(way))


def _clipped(cut: Cut, at: Array, normal: Array) -> bool:
    """True if a section has a corner in a plane."""
    corners = shapely.get_coordinates(cut.polygon) @ cut.turn[:2] + cut.at
    return bool(np.abs((corners - at) @ normal).min() < CLIPPED_MM)


def _along(solid: Solid, at: Array, normal: Array, reach_mm: float, step_mm: float) -> list[Cut]:
    """Sections at equal steps before and after a point."""
    steps = np.arange(-reach_mm, reach_mm + step_mm / 2, step_mm)
    cuts = (across(solid, at + step * normal, normal) for step in steps)
    return [cut for cut in cuts if cut is not None]


def _last_narrow(found: Sequence[Cut]) -> int:
    """Index of the last section that is as narrow as the narrowest, before the limb widens."""
    areas = np.array([cut.polygon.area for cut in found])
    ahead = int(np.argmin(areas))
    best = ahead
    while ahead + 1 < len(areas) and areas[ahead + 1] <= BUMP_SHARE * areas.min():
        ahead += 1
        best = ahead if areas[ahead] <= LAST_SHARE * areas.min() else best
    return best


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Part:
    """A piece between cuts: indices of the cuts in front of it and of those behind it."""

    body: mesh.Body
    before: tuple[int, ...]
    after: tuple[int, ...]


def apart(body: mesh.Body, cuts: Sequence[Cut]) -> list[Part]:
    """The body's pieces when all cuts are made, the largest first."""
    plugs = [cut.plug().as_original() for cut in cuts]
    number = {plug.original_id(): k for k, plug in enumerate(plugs)}
    parts = mesh.pieces(body - mesh.union(plugs), 0.02) if plugs else [body]
    return [_part(part, cuts, number) for part in parts]


def _part(body: mesh.Body, cuts: Sequence[Cut], number: dict[int, int]) -> Part:
    """The piece with the cuts it touches, by which side of each it lies on."""
    solid, origin = mesh.with_origin(body, "part")
    before: set[int] = set()
    after: set[int] = set()
    for mark, k in number.items():
        faces = solid.faces[origin == mark]
        if not len(faces):
            continue
        facing = float((mesh.crosses(solid.vertices[faces]) @ cuts[k].normal).sum())
        (before if facing > 0 else after).add(k)
    return Part(body=body, before=tuple(sorted(before)), after=tuple(sorted(after)))
