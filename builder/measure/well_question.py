"""What is asked where a bait ends in a cup behind a narrow channel, with a vent of its own: an overflow?"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from builder import mesh
from builder.measure import shot, told_gates
from builder.measure.flow_tree import offers, split
from builder.measure.flow_tree.necks import segments
from builder.measure.flow_tree.split import CONTRASTS, Grown, Parted, Unsure
from builder.measure.questions import FRAME, needs_hint, offered
from builder.mesh import cuts
from builder.mesh.cuts import Cut
from builder.model import MoldSpec, Solid

CHANNEL_SHARE = 0.5
"""A channel to an overflow is no larger than this share of the gate: what fills it is not to run through."""
WELL_SHARE = 0.06
"""An overflow holds less than this share of its bait."""
ONE_SIDED, EVEN = 2.5, 1.5
"""A cup that reaches so many times farther to one side of the parting, on a bait that reaches less than the
other so, is cut into one half alone, as overflows are and limbs of a round bait are not."""
SQUARE, SAME_SHARE = 0.95, 0.02
BESIDE_MM, ALIKE = tuple(0.25 * k for k in range(-8, 9) if k), 5
"""A slit fills such a share of the box round its section, and is the same at so many of these places."""


def refuse(spec: MoldSpec, made: Grown, parted: Parted) -> None:
    """Raise where a bait has such cups, unless mold.yaml tells the gates; both readings are offered."""
    ends = [] if spec.hints.gates_at_mm else list(_channels(made, parted))
    if not ends:
        return
    gates = told_gates.of_parted(parted)
    told = [*gates, *((cut.at, cut.normal) for cut in ends)]
    try:
        found = split.part(made, len(parted.baits), told)
    except Unsure:
        return
    if len(found.baits) != len(parted.baits):
        return
    if _are_one_sided(found):
        kind = "a narrow channel", "a cup that lies in one half alone and has a vent of its own"
    elif all(is_square(made.plastic, cut) for cut in ends):
        kind = "a narrow, straight channel with square corners", "a hollow with a vent of its own"
    else:
        return
    what = (
        f"{kind[0]} at [{shot.place(ends[0].at)}] leads from the bait into {kind[1]}: it may be an overflow, "
        "or a part of the bait"
    )
    lines = offered(
        (told_gates.line_of(faces), f"{name}: baits of {told_gates.held(way)} ml")
        for faces, name, way in ((told, "an overflow", found), (gates, "part of the bait", parted))
    )
    raise needs_hint(spec, "hints.gates", what, "", f"write one of these; {FRAME}:{lines}")


def _channels(made: Grown, parted: Parted) -> Iterator[Cut]:
    """The narrow places on the ways to the baits' vents behind which little lies, the narrowest of each."""
    tree, beyond = made.tree, made.tree.beyond_mm3()
    bait_mm3 = min(bait.volume() for bait in parted.baits)
    widest_mm2 = CHANNEL_SHARE * min(float(cut.polygon.area) for gates in parted.gates for cut in gates)
    necks = segments(tree, CONTRASTS[0], made.mouth_mm).necks
    small = [neck for neck in necks if beyond[neck.node] < WELL_SHARE * bait_mm3]
    seen: list[Cut] = []
    for (_, end, _), of in zip(parted.vents, parted.vent_of, strict=True):
        way = [] if of is None else tree.back(int(np.argmin(np.linalg.norm(tree.at_mm - end.at, axis=1))))
        found = [cut for neck in small if neck.node in way and (cut := made.refine(neck, False)) is not None]
        least = min(found, key=lambda cut: float(cut.polygon.area), default=None)
        if least is None or least.polygon.area > widest_mm2:
            continue
        if all(np.linalg.norm(least.at - old.at) > offers.SAME_MM for old in seen):
            seen.append(least)
            yield least


def _lopsided(body: mesh.Body) -> float:
    """How many times farther a body reaches to one side of the parting than to the other."""
    low, high = (float(end[2]) for end in mesh.box(body))
    return max(-low, high) / max(min(-low, high), 1e-3)


def _are_one_sided(found: Parted) -> bool:
    """True for cups in one half alone, on baits in both."""
    return all(map(_in_one_half, found.risers)) and not any(_lopsided(bait) > EVEN for bait in found.baits)


def is_square(plastic: Solid, cut: Cut) -> bool:
    """True for a channel that is cut as a straight slit, as no limb is: flat sides, one section all along."""
    area = float(cut.polygon.area)
    if area < SQUARE * shapely.minimum_rotated_rectangle(cut.polygon).area:
        return False
    return is_even(plastic, cut)


def is_even(plastic: Solid, cut: Cut) -> bool:
    """True for a channel with one section all along, whatever its shape."""
    area = float(cut.polygon.area)
    beside = (cuts.across(plastic, cut.at + far * cut.normal, cut.normal) for far in BESIDE_MM)
    alike = [one is not None and abs(one.polygon.area / area - 1) < SAME_SHARE for one in beside]
    return alike.count(True) >= ALIKE


def _in_one_half(body: mesh.Body) -> bool:
    """True for a cup in one half, whatever its channel."""
    return _lopsided(body) > ONE_SIDED
