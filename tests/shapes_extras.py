"""What stands round the cavities of a random mold: block, vents, bolts, cores, and what makers add."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence

import numpy as np
from manifold3d import Manifold

from tests.shapes import PAST, Hole, Opening, Peg, ball, box, rod
from tests.shapes_baits import placed
from tests.shapes_draft import Draft, narrow_side

MARGIN = 13.0
"""Width (mm) of the border round the cavities: bolts and pins stand in it."""


def block(draft: Draft) -> None:
    """Two blocks round everything; the sprue's own face stays where the sprue begins."""
    bounds = np.array([solid.bounding_box() for solid in (*draft.baits, *draft.feed)])
    low, high = bounds[:, :3].min(axis=0), bounds[:, 3:].max(axis=0)
    assert draft.sprue is not None
    half = max(-low[2], high[2]) + draft.between(5, 10)
    near = low[0] + PAST if draft.sprue.normal[0] else low[0] - MARGIN
    draft.low = (float(near), float(low[1] - MARGIN), float(-half))
    draft.high = (float(high[0] + MARGIN), float(high[1] + MARGIN), float(half))
    draft.lower = box(draft.low, (draft.high[0], draft.high[1], 0.0))
    draft.upper = box((draft.low[0], draft.low[1], 0.0), draft.high)
    if draft.sprue.normal[2]:
        x, y, _ = draft.sprue.at
        draft.sprue = Opening(at=(x, y, float(half)), normal=(0.0, 0.0, -1.0))
        draft.feed += [
            rod((x, y, half + PAST), (x, y, 0.0), draft.between(4, 6), 2.6),
            ball((x, y, 0.0), 2.7),
        ]


def vents(draft: Draft) -> None:
    """A shallow channel from each tail: to the outside, to a bolt, or blind, then a part of the bait."""
    if not draft.chance("vents", 0.75):
        return
    ends = str(draft.rng.choice(["outside", "bolt", "blind"], p=[0.8, 0.1, 0.1]))
    if ends != "outside":
        draft.features.append(f"vent to {ends}")
    wide, deep = draft.between(2, 4), draft.between(0.15, 0.4)
    for k, (bait, (at, turn, _)) in enumerate(zip(draft.baits, draft.laid, strict=True)):
        tip = placed(bait.translate((-at[0], -at[1], 0.0)), (0.0, 0.0), -turn).bounding_box()[3]
        length = {"outside": 200.0, "bolt": 6.0, "blind": 5.0}[ends]
        if ends == "blind":
            draft.baits[k] += placed(
                box((tip - 1.0, -wide / 2, 0.0), (tip + length, wide / 2, deep)), at, turn
            )
            continue
        vent = box((tip - 1.0, -wide / 2, -PAST), (tip + length, wide / 2, deep))
        draft.vents.append(placed(vent, at, turn))
        if ends == "bolt":
            c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
            spot = (at[0] + c * (tip + 7.0), at[1] + s * (tip + 7.0))
            draft.holes.append(_hole(draft, spot, 5.0))


def _hole(draft: Draft, at: tuple[float, float], diameter: float) -> Hole:
    return Hole(at=at, diameter=diameter, bottom=draft.low[2] - PAST, top=draft.high[2] + PAST)


def bolts_and_pins(draft: Draft) -> None:
    """Bolts and pins in the border, clear of plastic and of each other; blind, with nut traps, sunk."""
    diameter = float(draft.rng.choice([3.4, 4.5, 5.5, 6.6]))
    busy = [*draft.baits, *draft.feed, *draft.vents, *(hole.solid() for hole in draft.holes)]
    free = [at for at in _border(draft) if _clear(draft, at, diameter / 2 + 2.5, busy)]
    draft.rng.shuffle(free)
    count = min(len(free), int(draft.rng.integers(2, 9)))
    bolts, pins = free[:count], free[count : count + int(draft.rng.integers(0, 4))]
    holes = [_hole(draft, at, diameter) for at in bolts]
    if draft.chance("blind bolts", 0.15):
        holes = [dataclasses.replace(hole, bottom=draft.low[2] + 5.0) for hole in holes]
    elif draft.chance("nut traps", 0.2):
        draft.cuts += [
            Manifold.cylinder(4.0, 1.0 * diameter, 1.0 * diameter, 6).translate((*at, draft.low[2]))
            for at in bolts
        ]
    if draft.chance("counterbores", 0.15):
        top = draft.high[2]
        draft.cuts += [rod((*at, top - 3.0), (*at, top + PAST), 0.95 * diameter) for at in bolts]
    draft.holes += holes
    width, gap = draft.between(4, 6.5), draft.between(0.15, 0.5)
    draft.pegs += [Peg(at=at, diameter=width, length=draft.between(3, 5), clearance=gap) for at in pins]


def _border(draft: Draft) -> list[tuple[float, float]]:
    """Places in the middle of the border, about 15 mm apart."""
    (x0, y0, _), (x1, y1, _) = draft.low, draft.high
    inset = MARGIN / 2 + 0.5
    xs = np.linspace(x0 + inset, x1 - inset, max(2, int((x1 - x0) / 15)))
    ys = np.linspace(y0 + inset, y1 - inset, max(2, int((y1 - y0) / 15)))[1:-1]
    rows = [(float(x), y) for x in xs for y in (y0 + inset, y1 - inset)]
    return rows + [(x, float(y)) for y in ys for x in (x0 + inset, x1 - inset)]


def _clear(draft: Draft, at: tuple[float, float], radius: float, busy: Sequence[Manifold]) -> bool:
    """True if a column there touches nothing."""
    column = rod((*at, draft.low[2]), (*at, draft.high[2]), radius)
    return all((column ^ other).is_empty() for other in busy)


# -- what makers add -------------------------------------------------------------------------------


def core(draft: Draft) -> None:
    """A round core from the far face into the tail of a lone stick: a third part."""
    if len(draft.baits) != 1 or draft.vents or not draft.chance("core", 0.95):
        return
    x1 = draft.baits[0].bounding_box()[3]
    radius = 0.45 * narrow_side(draft.baits[0], 0.8 * x1)
    if radius < 0.8:
        draft.features.remove("core")
        return
    pin = rod((0.55 * x1, 0.0, 0.0), (draft.high[0], 0.0, 0.0), radius)
    head = rod((draft.high[0], 0.0, 0.0), (draft.high[0] + 5.0, 0.0, 0.0), radius + 4.0)
    draft.baits[0] -= pin
    draft.cuts.append(pin)
    draft.extras.append(("core", "core", pin + head))


def blade(draft: Draft) -> None:
    """A plate through the side wall into the belly of the last bait of a comb: it leaves a hook slot."""
    if draft.features[0] != "comb" or "two gates" in draft.features or not draft.chance("blade", 0.3):
        return
    (_, y), _, half = draft.laid[-1]
    length = draft.baits[-1].bounding_box()[3]
    plate = box((0.3 * length, y + 0.2 * half, -0.8), (0.45 * length, draft.high[1] + 6.0, 0.8))
    spots = [*(hole.at for hole in draft.holes), *(peg.at for peg in draft.pegs)]
    if any(not (plate ^ _column(draft, at)).is_empty() for at in spots):
        draft.features.remove("blade")
        return
    draft.baits[-1] -= plate
    draft.cuts.append(plate)
    draft.extras.append(("blade", "blade", plate))


def _column(draft: Draft, at: tuple[float, float]) -> Manifold:
    return rod((*at, draft.low[2]), (*at, draft.high[2]), 5.0)


def outline(draft: Draft) -> None:
    """Base plate, ears, chamfers, handle or collar: outlines that are not two equal boxes."""
    (x0, y0, z0), (x1, y1, z1) = draft.low, draft.high
    if draft.chance("base plate", 0.12):
        draft.lower += box((x0, y0 - 9.0, z0), (x1 + 9.0, y1 + 9.0, z0 + 4.0))
    if draft.chance("ears", 0.12):
        middle = (x0 + x1) / 2
        draft.lower += box((middle - 8, y0 - 12.0, z0), (middle + 8, y1 + 12.0, 0.0))
    if draft.chance("smaller upper half", 0.12):
        draft.upper ^= box((x0 - 1, y0 + 2.5, 0.0), (x1 - 2.5, y1 - 2.5, z1))
    if draft.chance("chamfers", 0.2):
        c = draft.between(1.5, 4.0)
        top = [box((x0, y0, 0.0), (x1, y1, z1 - c)), box((x0 + c, y0 + c, 0.0), (x1 - c, y1 - c, z1))]
        draft.upper ^= Manifold.batch_hull(top)
    if draft.chance("handle", 0.08):
        draft.upper += box(
            ((x0 + x1) / 2 - 15, (y0 + y1) / 2 - 4, z1 - 1), ((x0 + x1) / 2 + 15, (y0 + y1) / 2 + 4, z1 + 9)
        )
    assert draft.sprue is not None
    if draft.sprue.normal[0] and draft.features[0] != "apart" and draft.chance("sprue collar", 0.15):
        _collar(draft, draft.sprue)


def _collar(draft: Draft, sprue: Opening) -> None:
    """A round neck before the sprue's mouth, half of it on each half."""
    x, y, _ = sprue.at
    neck = rod((x - 6.0, y, 0.0), (x + 1.0, y, 0.0), 9.0)
    draft.lower += neck.trim_by_plane((0.0, 0.0, -1.0), 0.0)
    draft.upper += neck.trim_by_plane((0.0, 0.0, 1.0), 0.0)
    draft.feed.append(rod((x - 6.0 - PAST, y, 0.0), (x + 0.5, y, 0.0), 5.5, 4.0))
    draft.sprue = Opening(at=(x - 6.0, y, 0.0), normal=sprue.normal)


def step(draft: Draft) -> None:
    """A stepped parting face: along one long side the lower half stands higher."""
    if not draft.chance("step", 0.07):
        return
    (x0, _, _), (x1, y1, _) = draft.low, draft.high
    rail = box((x0, y1 - 3.0, 0.0), (x1, y1, draft.between(1.0, 3.0)))
    if any(not (rail ^ solid).is_empty() for solid in (*draft.vents, *draft.feed, *draft.baits)):
        draft.features.remove("step")
        return
    draft.lower += rail
    draft.upper -= rail


def engraving(draft: Draft) -> None:
    """Strokes as of text, cut into the upper half's back."""
    if not draft.chance("engraving", 0.2):
        return
    (x0, y0, _), (_, _, z1) = draft.low, draft.high
    depth = draft.between(0.4, 1.0)
    for k in range(5):
        x = x0 + 24.0 + 6.0 * k
        stroke = box((x, y0 + 20.0, z1 - depth), (x + 1.2, y0 + 28.0, z1 + PAST))
        bar = box((x, y0 + 20.0 + 2.0 * (k % 4), z1 - depth), (x + 4.0, y0 + 21.2 + 2.0 * (k % 4), z1 + PAST))
        draft.cuts += [stroke, bar]
