"""A vent followed from its mouth to the bait, behind wells and pins that it passes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from builder import mesh
from builder.measure.cavity.void import Mouth, Piece
from builder.mesh import cuts
from builder.mesh.cuts import Cut
from builder.model import Solid

Array = NDArray[np.float64]

VENT_STEP_MM = 0.5
VENT_LONGEST_STEP_MM, LEAST_SHARE = 1.5, 0.3
"""A step is shorter than a bait's wall is thick, and no section is so much smaller than the one before."""
VENT_LONGEST_MM = 300.0
BULGE_STEPS, EVEN_SHARE, WHOLE_SHARE = 4, 1.03, 1.1
"""At its end a vent is looked at in such parts of its thickness, until it is as even as a little before."""
STEP_SHARE = 1.3
"""A vent ends where its section grows by this in area or in thickness: a wide crack that meets a bait at
one place first gains little area there."""
WELL_MM = 25.0
"""A vent that goes on behind a wider place no longer than this has a well there: a ball, an overflow."""
LAND_SHARE = 1.5
"""The land behind a well is as thin and narrow as the vent before it, within this share."""
WELLS = 3
"""A vent is followed behind so many of them."""
WELL_SHARE = 0.8
"""A well is smaller than this share of the plastic that it hangs on: else it is a bait behind a film gate."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Vent:
    """A mouth's vent, where it first widens and where it ends at the bait, both normals outwards."""

    mouth: Mouth
    first: Cut
    last: Cut

    @property
    def well(self) -> Array | None:
        """Where the vent widens on its way; None where it does not."""
        return None if self.first is self.last else (self.first.at + self.last.at) / 2


def vents(piece: Piece, sprue: Mouth) -> Iterator[Vent]:
    """The vents behind all mouths but the sprue's."""
    solid = mesh.solid(piece.body, "plastic")
    for mouth in piece.mouths:
        if mouth is not sprue and (first := first_end(solid, mouth)) is not None:
            yield Vent(mouth=mouth, first=first, last=past_wells(piece.body, solid, mouth, first))


def first_end(solid: Solid, mouth: Mouth) -> Cut | None:
    """Where the channel behind a mouth opens into something wider, looking inward; None if it never does."""
    start = 1e-3 if mouth.ends == "outside" else VENT_STEP_MM  # a bolt hole's wall is round
    last = cuts.across(solid, mouth.at - (start + mouth.deep_mm) * mouth.normal, mouth.normal)
    return None if last is None else end_of_land(solid, last, mouth.normal)


def past_wells(body: mesh.Body, solid: Solid, mouth: Mouth, first: Cut) -> Cut:
    """The vent's end at the bait: behind the wells, where the vent goes on behind a wider place.

    An overflow well, a cold slug, a ball for the air or a pin's hole hangs on a land like the vent's own.
    """
    last = first
    for _ in range(WELLS):
        beyond = _past_well(body, solid, mouth, last)
        if beyond is None:
            break
        last = beyond
    return last


def _past_well(body: mesh.Body, solid: Solid, mouth: Mouth, first: Cut) -> Cut | None:
    """The end of the land behind the next wider place; None where the vent does not go on."""
    thin, narrow = mesh.inscribed(first.polygon)[0], max(first.polygon.area, mouth.area_mm2)
    passed_mm = 0.0
    for depth in np.arange(3 * VENT_STEP_MM, WELL_MM, VENT_STEP_MM):
        if depth < passed_mm:
            continue  # within a land that parts no well
        land = cuts.across(solid, first.at - depth * mouth.normal, mouth.normal)
        if land is None or land.polygon.area > LAND_SHARE * narrow:
            continue  # a pin may stand in the way, whose sleeve the vent passes
        if mesh.inscribed(land.polygon)[0] < LAND_SHARE * thin:
            last = end_of_land(solid, land, mouth.normal)
            if last is None:
                return None
            if _parts_a_well(body, first, last):
                return last
            passed_mm = float((first.at - last.at) @ mouth.normal)
    return None


def _parts_a_well(body: mesh.Body, first: Cut, last: Cut) -> bool:
    """True if the last cut takes off clearly less than it leaves, and the first cut ends in that."""
    alone = cuts.apart(body, [last])
    off = sum(part.body.volume() for part in alone if part.after)
    left = sum(part.body.volume() for part in alone if part.before)
    if len(alone) < 2 or off >= WELL_SHARE * left:
        return False
    return any(0 in part.before and 1 in part.after for part in cuts.apart(body, [first, last]))


def end_of_land(solid: Solid, last: Cut, normal: Array) -> Cut | None:
    """The last section before a channel opens, looking inward against the normal; None if it never does."""
    narrow, step, depth = last, VENT_STEP_MM, 0.0
    while depth < VENT_LONGEST_MM:
        cut = cuts.across(solid, last.at - step * normal, normal)
        alike = cut is not None and cut.polygon.area > LEAST_SHARE * last.polygon.area
        if cut is not None and alike and _as_narrow(cut, narrow, STEP_SHARE):
            narrow = min(narrow, cut, key=lambda one: one.polygon.area)
            last, depth, step = cut, depth + step, min(1.5 * step, VENT_LONGEST_STEP_MM)
        elif step > VENT_STEP_MM / 30:
            step /= 4
        else:
            return _before_a_bulge(solid, last, normal, depth)
    return None


def _as_narrow(cut: Cut, other: Cut, share: float) -> bool:
    """True if a section is no larger and no thicker than another, but for a share."""
    if cut.polygon.area > share * other.polygon.area:
        return False
    return bool(mesh.inscribed(cut.polygon)[0] <= share * mesh.inscribed(other.polygon)[0])


def _before_a_bulge(solid: Solid, last: Cut, normal: Array, depth: float) -> Cut:
    """The section just before what already belongs to the bait within the last one, as a crack meets it."""
    step = mesh.inscribed(last.polygon)[0] / BULGE_STEPS
    before = min(2.0 * BULGE_STEPS * step, depth)
    even = cuts.across(solid, last.at + before * normal, normal)
    for back in np.arange(0.0, before, step) if even is not None else ():
        cut = cuts.across(solid, last.at + back * normal, normal)
        if cut is None or even is None or even.polygon.area > WHOLE_SHARE * cut.polygon.area:
            continue  # the bait comes in on one side: the rest of the vent alone would leave it open
        if _as_narrow(cut, even, EVEN_SHARE):
            return cut
    return last
