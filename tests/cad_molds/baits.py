"""Baits, nose at the origin, lying along +x, the parting through z = 0. Lengths in mm."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from manifold3d import Manifold

from tests.cad_molds.primitives import ball, box, lathe, limb, loft, ribbon, rod, union


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnBait:
    """A bait's solid and what its drawing says: narrowest trunk, eyes, tips where air collects."""

    body: Manifold
    trunk_mm: float | None = None
    """Diameter of the narrowest place that still feeds something; None where none is drawn."""
    trunk_at: tuple[float, float, float] = (0.0, 0.0, 0.0)
    """Where it is, (x, y), and the direction of its axis in the parting plane, degrees from +x."""
    eye_mm: tuple[float, ...] = ()
    tips: tuple[tuple[float, float, str], ...] = ()
    """(x, y, direction) of the ends that a vent serves."""
    belly: tuple[float, float] | None = None
    """(x, y) of a gate into the belly, from -y."""
    core: Manifold | None = None
    """A part of its own that makes the hollow."""
    gate_mm: float = 3.0
    nose: float = 0.0
    """x of the foremost point."""


def stick(chord: float, length: float = 125.0, radius: float = 5.0) -> DrawnBait:
    """A plain stick, a little thinner toward the tail, with round ends."""
    arcs = [(radius * (1 - math.cos(a)), radius * math.sin(a)) for a in _quarter()]
    end = radius * 0.7
    tail = [(length - end * (1 - math.cos(a)), end * math.sin(a)) for a in reversed(_quarter())]
    return DrawnBait(body=lathe([*arcs, *tail], chord), tips=((length, 0.0, "+x"),))


def _quarter() -> list[float]:
    return [math.pi / 2 * k / 8 for k in range(9)]


def swimbait(chord: float, scale: float = 1.0, trunk: float = 2.6, eyes: str = "") -> DrawnBait:
    """A slim swimbait: deep head, thin trunk, paddle across the tail."""
    s = scale
    keys = [
        (0.0, 2.4 * s, 2.2 * s),
        (3 * s, 4.2 * s, 3.8 * s),
        (12 * s, 7.2 * s, 5.8 * s),
        (28 * s, 8.0 * s, 6.2 * s),
        (50 * s, 5.2 * s, 4.2 * s),
        (70 * s, trunk / 2, trunk / 2),
        (74 * s, trunk / 2, trunk / 2),
        (82 * s, 6.0 * s, 5.0 * s),
        (85 * s, 6.4 * s, 5.4 * s),
        (87 * s, 5.0 * s, 4.2 * s),
        (88 * s, 1.5 * s, 1.2 * s),
    ]
    body = loft(keys, chord)
    flat = {"disc": 4.0, "big disc": 5.0, "ball": 4.0}.get(eyes, 0.0) * s
    body = body - _eyes(eyes, (13.0 * s, 1.2 * s), flat, 5.2 * s, chord) if eyes else body
    return DrawnBait(
        body=body,
        trunk_mm=trunk,
        trunk_at=(72.0 * s, 0.0, 0.0),
        eye_mm=(flat, flat) if eyes else (),
        tips=((87.9 * s, 0.0, "+x"),),
        belly=(26.0 * s, -8.0 * s),
        gate_mm=3.0 * min(s, 1.0),
    )


def _eyes(kind: str, at: tuple[float, float], across: float, floor: float, chord: float) -> Manifold:
    """What the two eyes take away: flat discs down to z = floor, or balls."""
    x, y = at
    if kind == "ball":
        return union(ball((x, y, side * (floor + 0.9)), across / 2, chord) for side in (1, -1))
    # The floor lies under the skin all round the disc.
    low = floor - 0.35 * across / 2
    return rod((x, y, low), "+z", 20.0, across / 2, chord) + rod((x, y, -low), "-z", 20.0, across / 2, chord)


def paddle(chord: float, trunk: float = 4.0) -> DrawnBait:
    """A fat paddle-tail with a boxy head and a short strong trunk."""
    keys = [
        (0.0, 2.5, 2.5),
        (2.0, 5.0, 5.0),
        (6.0, 7.5, 7.0),
        (20.0, 10.0, 8.5),
        (40.0, 8.5, 7.0),
        (58.0, trunk / 2, trunk / 2),
        (61.0, trunk / 2, trunk / 2),
        (68.0, 8.0, 6.0),
        (71.0, 8.0, 6.0),
        (73.0, 3.0, 2.0),
    ]
    tips = ((72.9, 0.0, "+x"),)
    return DrawnBait(
        body=loft(keys, chord, 2.3),
        trunk_mm=trunk,
        trunk_at=(59.5, 0.0, 0.0),
        tips=tips,
        belly=(20.0, -10.0),
        gate_mm=3.6,
    )


def creature(chord: float) -> DrawnBait:
    """A craw with six legs, two claws on thin arms and a flat tail."""
    body = loft([(0, 2.0, 2.0), (4, 5.0, 4.5), (20, 6.5, 5.5), (45, 5.0, 4.5), (60, 2.0, 2.0)], chord)
    legs = [
        limb([(x, side * 3.0, 1.6), (x + 6, side * 12.0, 1.2), (x + 12, side * 16.0, 0.9)], 0.9, chord)
        for x in (16.0, 26.0, 36.0)
        for side in (1, -1)
    ]
    arms = [
        limb(
            [
                (50, side * 2.5, 1.6),
                (58, side * 7.0, 1.1),
                (60, side * 8.0, 1.1),
                (66, side * 10.5, 3.2),
                (78, side * 12, 1.4),
            ],
            1.0,
            chord,
        )
        for side in (1, -1)
    ]
    tips = tuple((79.2, side * 12.0, "+x") for side in (1, -1))
    return DrawnBait(
        body=union([body, *legs, *arms]),
        trunk_mm=2.2,
        trunk_at=(59.0, 7.5, math.degrees(math.atan2(1.0, 2.0))),
        tips=tips,
    )


def lizard(chord: float) -> DrawnBait:
    """A lizard: four legs with feet, a long tail that bends in the parting plane."""
    body = loft(
        [
            (0, 2.2, 2.0),
            (3, 4.2, 3.6),
            (9, 5.2, 4.2),
            (14, 3.8, 3.6),
            (30, 5.2, 4.6),
            (55, 4.0, 3.8),
            (64, 2.6, 2.6),
        ],
        chord,
    )
    legs = [
        limb(
            [
                (x, side * 3.0, 1.7),
                (x + 4, side * 9.0, 1.3),
                (x + 9, side * 13.0, 1.3),
                (x + 13, side * 14.0, 2.2),
            ],
            1.0,
            chord,
        )
        for x in (20.0, 46.0)
        for side in (1, -1)
    ]
    tail = limb([(60.0 + 5 * k, 7.0 * math.sin(k * 0.35), 2.5 - 0.16 * k) for k in range(11)], 1.0, chord)
    tip = (110.5, 7.0 * math.sin(3.5), "+x")
    return DrawnBait(
        body=union([body, tail, *legs]),
        trunk_mm=2.6,
        trunk_at=(26.5, 11.0, math.degrees(math.atan2(4.0, 5.0))),
        tips=(tip,),
    )


def frog(chord: float) -> DrawnBait:
    """A frog: a broad body, two legs with paddles."""
    body = loft([(0, 3.0, 2.5), (4, 8.0, 6.0), (18, 12.0, 8.5), (36, 9.0, 7.0), (44, 3.0, 2.5)], chord, 2.2)
    legs = [
        limb(
            [
                (38, side * 5.0, 3.0),
                (50, side * 10.0, 1.5),
                (54, side * 11.5, 1.5),
                (66, side * 15.0, 4.5),
                (72, side * 16.0, 3.0),
            ],
            1.0,
            chord,
        )
        for side in (1, -1)
    ]
    tips = tuple((74.8, side * 16.0, "+x") for side in (1, -1))
    return DrawnBait(
        body=union([body, *legs]),
        trunk_mm=3.0,
        trunk_at=(52.0, 10.75, math.degrees(math.atan2(1.5, 4.0))),
        tips=tips,
        gate_mm=4.0,
    )


def ring_worm(chord: float) -> DrawnBait:
    """A ribbed worm: rings of 7 mm, grooves of 5 mm, a bulb at the end."""
    profile = [(0.0, 2.8), (1.5, 3.3), (4.0, 3.6)]
    for k in range(20):
        x = 5.0 + 4.0 * k
        profile += [(x, 3.5), (x + 0.6, 2.5), (x + 1.4, 2.5), (x + 2.0, 3.5)]
    profile += [(87.0, 3.9), (90.0, 3.4), (92.0, 1.5)]
    return DrawnBait(
        body=lathe(profile, chord),
        trunk_mm=5.0,
        trunk_at=(26.0, 0.0, 0.0),
        tips=((91.9, 0.0, "+x"),),
        gate_mm=2.6,
    )


def segmented(chord: float) -> DrawnBait:
    """A body of six beads joined by necks of 3 mm."""
    keys = [(0.0, 2.0, 2.0)]
    for k in range(6):
        x, r = 14.0 * k, 6.5 - 0.4 * k
        keys += [(x + 5.0, r, r * 0.9), (x + 9.0, r, r * 0.9)]
        keys += [(x + 12.5, 1.5, 1.5), (x + 13.5, 1.5, 1.5)] if k < 5 else [(x + 13.0, 1.4, 1.2)]
    return DrawnBait(
        body=loft(keys, chord),
        trunk_mm=3.0,
        trunk_at=(13.0, 0.0, 0.0),
        tips=((82.9, 0.0, "+x"),),
        gate_mm=2.6,
    )


def jerk_shad(chord: float) -> DrawnBait:
    """A jerk shad: a deep body with a hook slot in the belly and a fork at the tail."""
    body = loft(
        [(0, 1.8, 1.5), (5, 5.0, 4.0), (30, 8.5, 6.0), (75, 5.5, 4.2), (100, 2.4, 2.4), (104, 2.4, 2.4)],
        chord,
    )
    fork = [
        limb([(102, 0, 2.4), (112, side * 5.0, 2.0), (126, side * 9.0, 1.0)], 0.8, chord) for side in (1, -1)
    ]
    slot = box((24.0, -20.0, -0.9), (52.0, -2.5, 0.9))
    tips = tuple((126.9, side * 9.0, "+x") for side in (1, -1))
    return DrawnBait(body=union([body, *fork]) - slot, tips=tips)


def grub(chord: float) -> DrawnBait:
    """A grub with ribs and a flat curled tail 1.6 mm thick."""
    keys = [(0.0, 2.0, 2.0)]
    for k in range(5):
        keys += [(3.0 + 4.5 * k, 4.8, 4.8), (5.5 + 4.5 * k, 4.3, 4.3)]
    body = loft([*keys, (28.0, 3.0, 2.6), (31.0, 1.2, 1.0)], chord)
    curl = [(27.0 + 6.0 * k - 0.35 * k * k, 7.5 * math.sin(k * 0.55), 2.2 + 0.25 * k) for k in range(7)]
    x, y, r = curl[-1]
    return DrawnBait(body=body + ribbon(curl, 1.6, chord), tips=((x + r, y, "+x"),), gate_mm=2.8)


def tube(chord: float) -> DrawnBait:
    """A tube of 14 mm with a hollow of 9 mm, made by a core that comes in from the tail."""
    outer = lathe([(0.0, 2.5), (2.0, 5.0), (6.0, 7.0), (62.0, 7.0)], chord)
    core = lathe([(14.0, 2.5), (17.0, 4.5), (90.0, 4.5)], chord)
    return DrawnBait(body=outer - core, core=core, tips=((61.0, 5.8, "+x"),), gate_mm=3.4)


def micro(chord: float, length: float = 28.0) -> DrawnBait:
    """A tiny swimbait."""
    drawn = swimbait(chord, length / 88.0, 1.1)
    return DrawnBait(body=drawn.body, trunk_mm=1.1, trunk_at=drawn.trunk_at, tips=drawn.tips, gate_mm=0.9)


def wide_nose(chord: float) -> DrawnBait:
    """A blunt body of 10 mm whose neck of 3 mm is narrower than its gate."""
    keys = [
        (0.0, 5.0, 5.0),
        (14.0, 6.0, 6.0),
        (30.0, 5.0, 5.0),
        (42.0, 1.5, 1.5),
        (44.0, 1.5, 1.5),
        (54.0, 5.5, 5.5),
        (60.0, 2.0, 2.0),
    ]
    return DrawnBait(
        body=loft(keys, chord),
        trunk_mm=3.0,
        trunk_at=(43.0, 0.0, 0.0),
        tips=((59.9, 0.0, "+x"),),
        gate_mm=8.0,
    )


BAITS: dict[str, Callable[[float], DrawnBait]] = {
    "stick": stick,
    "swimbait": swimbait,
    "swimbait eyes": lambda chord: swimbait(chord, 1.0, 2.6, "disc"),
    "swimbait big eyes": lambda chord: swimbait(chord, 1.2, 3.0, "big disc"),
    "swimbait ball eyes": lambda chord: swimbait(chord, 1.0, 2.6, "ball"),
    "small swimbait": lambda chord: swimbait(chord, 0.6, 1.8),
    "paddle": paddle,
    "creature": creature,
    "lizard": lizard,
    "frog": frog,
    "ring worm": ring_worm,
    "segmented": segmented,
    "jerk shad": jerk_shad,
    "grub": grub,
    "tube": tube,
    "micro 28": micro,
    "micro 38": lambda chord: micro(chord, 38.0),
    "wide nose": wide_nose,
    "short stick": lambda chord: stick(chord, 60.0, 4.0),
}
