"""What is asked where a bait ends in a cup behind a narrow channel, with a vent of its own: an overflow?"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import numpy as np
import shapely

from builder import mesh
from builder.measure import shot, told_gates
from builder.measure.flow_tree import offers, split
from builder.measure.flow_tree.necks import Neck, segments
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
STRAIGHT, UPRIGHT = "a narrow, straight channel", "a round hollow that is upright to the parting"
LEVELS, FLOOR_SHARE, ROUND_SHARE, BALL_SHARE = (0.75, 0.93), 0.5, 1.12, 0.25
"""A well is looked at so far towards its end: a hole with a floor keeps such a share, a ball does not."""
BESIDE_MM, ALIKE = tuple(0.25 * k for k in range(-8, 9) if k), 5
"""A slit fills such a share of the box round its section, and is the same at so many of these places."""


def refuse(spec: MoldSpec, made: Grown, parted: Parted) -> None:
    """Raise where a bait has such cups, unless mold.yaml tells the gates; both readings are offered."""
    if spec.hints.gates_at_mm:
        return
    necks = _small_necks(made, parted)
    ways = list(_ways_to_vents(made, parted))
    vented = _apart(_narrowest(made, parted, [neck for neck in necks if neck.node in way]) for way in ways)
    if vented:
        _ask(spec, made, parted, vented, vented=True)
    passed = {node for way in ways for node in way}
    blind = _apart(_narrowest(made, parted, [neck]) for neck in necks if neck.node not in passed)
    upright = [cut for cut in blind if is_even(made.plastic, cut) and _is_upright(_behind(made, cut))]
    if upright:
        _ask(spec, made, parted, upright, vented=False)


def _ask(spec: MoldSpec, made: Grown, parted: Parted, ends: Sequence[Cut], *, vented: bool) -> None:
    """Raise if what lies behind these channels may be overflows."""
    gates = told_gates.of_parted(parted)
    told = [*gates, *((cut.at, cut.normal) for cut in ends)]
    try:
        found = split.part(made, len(parted.baits), told)
    except Unsure:
        return
    kind = _kind(made, found, ends) if vented else (STRAIGHT, UPRIGHT)
    if len(found.baits) != len(parted.baits) or kind is None:
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


def _kind(made: Grown, found: Parted, ends: Sequence[Cut]) -> tuple[str, str] | None:
    """What the channels are and what they lead to, with vents behind that; None for limbs."""
    if _are_one_sided(found):
        return "a narrow channel", "a cup that lies in one half alone and has a vent of its own"
    if all(is_square(made.plastic, cut) for cut in ends):
        return "a narrow, straight channel with square corners", "a hollow with a vent of its own"
    if not all(is_even(made.plastic, cut) for cut in ends):
        return None
    wells = [_behind(made, cut) for cut in ends]
    if all(map(_is_upright, wells)):
        return STRAIGHT, f"{UPRIGHT} and has a vent of its own"
    lone = len(ends) <= len(found.baits)  # balls at the ends of legs come in pairs
    return (STRAIGHT, "a ball with a vent of its own") if lone and all(map(_is_ball, wells)) else None


def _behind(made: Grown, cut: Cut) -> mesh.Body:
    """What a channel leads to, the smaller part of the plastic."""
    return min((part.body for part in cuts.apart(made.piece.body, [cut])), key=mesh.Body.volume)


def _sections_mm2(well: mesh.Body) -> tuple[float, float, float]:
    """Areas of a well's round sections above the channel, and how far it reaches from the parting; else 0."""
    solid = mesh.solid(well, "well")
    low, high = (float(end[2]) for end in mesh.box(well))
    far = high if high > -low else low
    found = [mesh.section(solid, (0.0, 0.0, share * far), (0.0, 0.0, 1.0)).polygons for share in LEVELS]
    areas = [float(one.area) for one in found if len(one.geoms) == 1 and is_round(one.geoms[0])]
    return (areas[0], areas[1], abs(far)) if len(areas) == len(LEVELS) else (0.0, 0.0, 0.0)


def is_round(polygon: shapely.Polygon) -> bool:
    """True for a circle."""
    return bool(polygon.area < ROUND_SHARE * np.pi / 4 * mesh.inscribed(polygon)[0] ** 2)


def _is_upright(well: mesh.Body) -> bool:
    """True for a round hole that is drilled upright to the parting and has a floor, as no limb has."""
    middle, end, _ = _sections_mm2(well)
    return middle > 0.0 and end > FLOOR_SHARE * middle


def _is_ball(well: mesh.Body) -> bool:
    """True for a ball whose middle lies in the parting."""
    middle, end, far = _sections_mm2(well)
    drawn = [np.pi * far**2 * (1 - share**2) for share in LEVELS]
    like = [
        abs(area / whole - 1) < BALL_SHARE for area, whole in zip((middle, end), drawn, strict=True) if far
    ]
    return far > 0.0 and all(like)


def _small_necks(made: Grown, parted: Parted) -> list[Neck]:
    """The narrow places of the plastic behind which little lies."""
    beyond = made.tree.beyond_mm3()
    bait_mm3 = min(bait.volume() for bait in parted.baits)
    necks = segments(made.tree, CONTRASTS[0], made.mouth_mm).necks
    return [neck for neck in necks if beyond[neck.node] < WELL_SHARE * bait_mm3]


def _ways_to_vents(made: Grown, parted: Parted) -> Iterator[list[int]]:
    """The way of the flow to each vent of a bait."""
    tree = made.tree
    for (_, end, _), of in zip(parted.vents, parted.vent_of, strict=True):
        if of is not None:
            yield tree.back(int(np.argmin(np.linalg.norm(tree.at_mm - end.at, axis=1))))


def _narrowest(made: Grown, parted: Parted, necks: Iterable[Neck]) -> Cut | None:
    """The narrowest of some necks, if it is as narrow as a channel to an overflow."""
    widest_mm2 = CHANNEL_SHARE * min(float(cut.polygon.area) for gates in parted.gates for cut in gates)
    found = [cut for neck in necks if (cut := made.refine(neck, False)) is not None]
    least = min(found, key=lambda cut: float(cut.polygon.area), default=None)
    return least if least is not None and least.polygon.area <= widest_mm2 else None


def _apart(found: Iterable[Cut | None]) -> list[Cut]:
    """The cuts without those at the place of an earlier one."""
    seen: list[Cut] = []
    for cut in found:
        if cut and all(np.linalg.norm(cut.at - old.at) > offers.SAME_MM for old in seen):
            seen.append(cut)
    return seen


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
