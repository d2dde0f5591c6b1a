"""The block round the plastic: partings, bolts, slots, pins, dowels, magnets, hollows, text, segments."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from manifold3d import Manifold

from tests.cad_molds import partings
from tests.cad_molds.primitives import Point, ball, box, hexagon, rod, under, union, words
from tests.cad_molds.records import Recipe

BOLT_MM, SLOT_MM, PIN_MM, CLEARANCE_MM, WALL_MM = 5.4, 5.6, 6.0, 0.2, 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Skin:
    """Lowest and highest corner of the closed block, ears and text not counted, and of the baits in it."""

    low: Point
    high: Point
    bait_low: Point
    bait_high: Point


@dataclass(slots=True, kw_only=True)
class Block:
    """The block while it is drawn. `below` is what lies under the parting."""

    outer_a: Manifold
    outer_b: Manifold
    cuts: list[Manifold] = field(default_factory=list)
    cuts_a: list[Manifold] = field(default_factory=list)
    cuts_b: list[Manifold] = field(default_factory=list)
    adds_a: list[Manifold] = field(default_factory=list)
    bolts_mm: tuple[float, ...] = ()
    """Width of each bolt's hole or slot."""
    pins: int = 0
    ignore_at: tuple[Point, ...] = ()

    @property
    def whole(self) -> Manifold:
        """Both halves without any hollow."""
        return self.outer_a + self.outer_b

    @property
    def other(self) -> Manifold:
        """All hollows without plastic, when closed."""
        cut = union(
            [
                union(self.cuts) ^ self.whole,
                union(self.cuts_a) ^ self.outer_a,
                union(self.cuts_b) ^ self.outer_b,
            ]
        )
        return cut - union(self.adds_a)


def skin(recipe: Recipe, low: Sequence[float], high: Sequence[float]) -> Skin:
    """The block's size round the baits: room for the way in, bolts, wells and inner hollows."""
    extras = recipe.extras
    front = (
        34.0
        if recipe.feed in ("funnel", "nozzle seat", "twice stepped", "elbow", "two gates")
        or ":" in recipe.feed
        else 26.0
    )
    front = 42.0 if recipe.feed == "loop" else front
    front = 20.0 if recipe.feed in ("top", "belly", "none") else front
    front = 12.0 if recipe.feed.startswith("both") else front
    back = 26.0 if "big overflow" in extras else 20.0 if "overflow" in extras else 12.0
    side, thick = (24.0 if "wide sides" in extras else 18.0), (26.0 if "hollow" in extras else 9.0)
    if recipe.parting in ("stepped", "slant"):
        thick += 6.0
    if "thin" in extras:
        side, thick, front, back = 12.0, 5.0, (30.0 if ":" in recipe.feed else 18.0), 8.0
    return Skin(
        low=(float(low[0]) - front, float(low[1]) - side, float(low[2]) - thick),
        high=(
            float(high[0]) + back,
            float(high[1]) + side,
            float(high[2]) + thick if recipe.parting != "open" else 0.0,
        ),
        bait_low=(float(low[0]), float(low[1]), float(low[2])),
        bait_high=(float(high[0]), float(high[1]), float(high[2])),
    )


def below(recipe: Recipe, s: Skin, upper: bool = False) -> Manifold:
    """Everything under the parting surface, the lower half's or the upper one's."""
    if recipe.parting in partings.KINDS:
        heights = partings.heights(recipe.parting, recipe.wave_mm, s.high[0] - s.low[0], upper)
        return partings.below(heights, s.low, s.high)
    return under(*_surface(recipe.parting, s))


def _surface(parting: str, s: Skin) -> tuple[list[tuple[float, float]], Point, str]:
    """Heights of the parting (place, z), how far it reaches, and the axis along which it changes."""
    first, last, far = s.bait_low[0], s.bait_high[0], 300.0
    edge, span = s.bait_high[1] + 4.0, s.bait_high[0] - s.bait_low[0]
    start = s.low[0] - 20.0
    swell = [(first + span * k / 60, 0.7 * (1 - math.cos(2 * math.pi * k / 60))) for k in range(61)]
    along_y = {
        "stepped": [(-far, 0.0), (edge, 0.0), (edge + 2.0, 4.0), (far, 4.0)],
        "square step": [(-far, 0.0), (edge, 0.0), (edge, 3.0), (far, 3.0)],
    }
    along_x = {
        "flat": [(-far, 0.0), (far, 0.0)],
        "open": [(-far, 100.0), (far, 100.0)],
        "off middle": [(-far, 0.6), (far, 0.6)],
        "slant": [(-far, 0.0), ((first + last) / 2.0, 0.0), (last, 1.2), (last + far, 1.2)],
        "curved": [(-far, 0.0), *swell, (far, 0.0)],
        "all curved": [(start + k, 1.2 * math.sin((start + k) / 24.0)) for k in range(int(span) + 100)],
    }
    reach = (400.0, 400.0, 400.0)
    return (along_y[parting], reach, "y") if parting in along_y else (along_x[parting], reach, "x")


def _corners(s: Skin, inset: float) -> list[tuple[float, float]]:
    return [
        (x, y) for x in (s.low[0] + inset, s.high[0] - inset) for y in (s.low[1] + inset, s.high[1] - inset)
    ]


def block(recipe: Recipe, s: Skin) -> Block:
    """The block with everything that the recipe's extras ask for; the plastic is not cut yet."""
    whole = box(s.low, s.high)
    if "round corners" in recipe.extras:
        whole = Manifold.batch_hull(
            [
                rod((x, y, s.low[2]), "+z", s.high[2] - s.low[2], 5.0, recipe.chord)
                for x, y in _corners(s, 5.0)
            ]
        )
    if "chamfers" in recipe.extras:
        flat = box((s.low[0] + 2, s.low[1] + 2, s.low[2]), (s.high[0] - 2, s.high[1] - 2, s.high[2]))
        whole = Manifold.batch_hull(
            [flat, box((s.low[0], s.low[1], s.low[2] + 2), (s.high[0], s.high[1], s.high[2] - 2))]
        )
    if "ears" in recipe.extras:
        middle = (s.low[0] + s.high[0]) / 2
        whole = whole + box((middle - 9, s.low[1] - 12, -7.0), (middle + 9, s.high[1] + 12, 7.0))
    made = Block(outer_a=whole ^ below(recipe, s), outer_b=whole - below(recipe, s, upper=True))
    if "base" in recipe.extras:
        foot = box((s.low[0] - 4, s.low[1] - 4, s.low[2]), (s.high[0] + 4, s.high[1] + 4, s.low[2] + 4.0))
        made.outer_a = made.outer_a + foot
    for extra in recipe.extras:
        drawer = EXTRAS.get(extra)
        if drawer is not None:
            drawer(made, s, recipe)
    return made


def _bolts(made: Block, s: Skin, recipe: Recipe) -> None:
    places = _corners(s, 6.5)
    if "six" in recipe.extras:
        x = s.low[0] + 0.32 * (s.high[0] - s.low[0])  # no pin stands there
        places += [(x, y) for y in (s.low[1] + 6.5, s.high[1] - 6.5)]
    made.cuts += [
        rod((x, y, s.low[2] - 1), "+z", s.high[2] - s.low[2] + 2, BOLT_MM / 2, recipe.chord)
        for x, y in places
    ]
    made.bolts_mm += (BOLT_MM,) * len(places)
    if "nut traps" in recipe.extras:
        made.cuts_a += [hexagon((x, y, s.low[2] - 1), 8.2, 5.5) for x, y in places]
    if "counterbores" in recipe.extras:
        made.cuts_b += [rod((x, y, s.high[2] - 4), "+z", 6.0, 4.8, recipe.chord) for x, y in places]


def _slots(made: Block, s: Skin, recipe: Recipe) -> None:
    """Open U-slots at the long edges, for bolts that swing in."""
    span = s.high[0] - s.low[0]
    for x in (s.low[0] + 0.22 * span, s.low[0] + 0.78 * span):
        for y, out in ((s.low[1] + 6.0, s.low[1] - 1), (s.high[1] - 6.0, s.high[1] + 1)):
            hole = rod((x, y, s.low[2] - 1), "+z", s.high[2] - s.low[2] + 2, SLOT_MM / 2, recipe.chord)
            half = SLOT_MM / 2
            gap = box((x - half, min(y, out), s.low[2] - 1), (x + half, max(y, out), s.high[2] + 1))
            made.cuts.append(hole + gap)
    made.bolts_mm += (SLOT_MM,) * 4


def _pin_places(s: Skin) -> list[tuple[float, float]]:
    """Away from the middle of the low side, where a belly is fed."""
    span = s.high[0] - s.low[0]
    return [(s.low[0] + 0.68 * span, s.low[1] + 6.5), (s.low[0] + 0.5 * span, s.high[1] - 6.5)]


def _pins(made: Block, s: Skin, recipe: Recipe) -> None:
    """Pins on the lower half, sockets with clearance in the upper one."""
    tall = min(6.0, s.high[2] - 3.5) if recipe.parting == "flat" else 8.0
    for x, y in _pin_places(s):
        pin = rod((x, y, -2.0), "+z", 2.0 + tall, PIN_MM / 2, recipe.chord)
        socket = rod((x, y, -2.0), "+z", 2.5 + tall, PIN_MM / 2 + CLEARANCE_MM, recipe.chord)
        made.cuts_b.append(socket)
        made.adds_a.append(pin)
    made.pins = 2
    made.ignore_at += tuple((x, y, tall + 0.25) for x, y in _pin_places(s))


def _ball_pins(made: Block, s: Skin, recipe: Recipe) -> None:
    """Balls that sit in balls: half spheres of 4 mm radius."""
    for x, y in _pin_places(s):
        made.adds_a.append(ball((x, y, 0.0), 4.0, recipe.chord))
        made.cuts_b.append(ball((x, y, 0.0), 4.15, recipe.chord))
    made.pins = 2


def _dowels(made: Block, s: Skin, recipe: Recipe) -> None:
    """Blind holes of 5 mm in both halves for loose dowels."""
    deep = min(7.0, s.high[2] - 3.0, -s.low[2] - 3.0)
    places = _pin_places(s)
    made.cuts += [rod((x, y, -deep), "+z", 2 * deep, 2.55, recipe.chord) for x, y in places]
    made.pins = 2
    made.ignore_at += tuple((x, y, 0.0) for x, y in places)


def _magnets(made: Block, s: Skin, recipe: Recipe) -> None:
    """Pockets of 8 x 3 mm for magnets, one against the other, at the parting."""
    span = s.high[0] - s.low[0]
    places = [
        (s.low[0] + share * span, y) for share in (0.25, 0.75) for y in (s.low[1] + 6.0, s.high[1] - 6.0)
    ]
    made.cuts += [rod((x, y, -3.1), "+z", 6.2, 4.1, recipe.chord) for x, y in places]
    made.ignore_at += tuple((x, y, 0.0) for x, y in places)


def _hollow(made: Block, s: Skin, recipe: Recipe) -> None:
    """An inner hollow in each half between its back and the cavity, with posts round bolts and two drains."""
    top = s.bait_high[2] + WALL_MM
    posts = union(
        rod((x, y, -300.0), "+z", 600.0, BOLT_MM / 2 + WALL_MM, recipe.chord) for x, y in _corners(s, 6.5)
    )
    inner = (s.low[0] + WALL_MM, s.low[1] + WALL_MM), (s.high[0] - WALL_MM, s.high[1] - WALL_MM)
    wide = 2.0 if "small drains" in recipe.extras else 4.0
    for side, cuts in ((-1, made.cuts_a), (1, made.cuts_b)):
        deep = (-s.low[2] if side < 0 else s.high[2]) - WALL_MM
        z = sorted((side * max(top, 9.5), side * deep))
        room = box((*inner[0], z[0]), (*inner[1], z[1])) - posts
        height = (z[0] + z[1]) / 2
        drains = [
            rod(
                (s.low[0] + share * (s.high[0] - s.low[0]), s.low[1] - 1, height),
                "+y",
                WALL_MM + 2,
                wide / 2,
                recipe.chord,
            )
            for share in (0.3, 0.7)
        ]
        cuts += [room, *drains]
        made.ignore_at += (((s.low[0] + s.high[0]) / 2, (s.low[1] + s.high[1]) / 2, height),)


def _tongue(made: Block, s: Skin, recipe: Recipe) -> None:  # noqa: ARG001
    """A rib on the lower half along both long sides, in a groove 0.15 mm wider."""
    for y in (s.low[1] + 13.0, s.high[1] - 13.0):
        made.adds_a.append(box((s.low[0] + 14, y - 1.0, -1.0), (s.high[0] - 14, y + 1.0, 2.0)))
        made.cuts_b.append(box((s.low[0] + 13.85, y - 1.15, -1.0), (s.high[0] - 13.85, y + 1.15, 2.3)))


def _raised(made: Block, s: Skin, recipe: Recipe) -> None:  # noqa: ARG001
    """Letters standing 0.8 mm proud on the upper half's back."""
    made.outer_b = made.outer_b + words("AMBLA2", 1.4, 1.8).translate((0.0, -4.0, s.high[2] - 1.0))


def _engraved(made: Block, s: Skin, recipe: Recipe) -> None:  # noqa: ARG001
    """Letters cut 0.6 mm into the lower half's back and into the upper one's."""
    made.cuts_a.append(words("HALMA", 1.4, 1.6).translate((0.0, -4.0, s.low[2] - 1.0)))
    made.cuts_b.append(words("HALMB", 1.4, 1.6).translate((0.0, -4.0, s.high[2] - 0.6)))


def _pry(made: Block, s: Skin, recipe: Recipe) -> None:  # noqa: ARG001
    """Slots at the parting where a blade opens the mold."""
    x = (s.low[0] + s.high[0]) / 2 + 12
    made.cuts += [
        box((x - 6, s.low[1] - 1, -0.8), (x + 6, s.low[1] + 4, 0.8)),
        box((x - 6, s.high[1] - 4, -0.8), (x + 6, s.high[1] + 1, 0.8)),
    ]


EXTRAS = {
    "bolts": _bolts,
    "u slots": _slots,
    "pins": _pins,
    "ball pins": _ball_pins,
    "dowels": _dowels,
    "magnets": _magnets,
    "hollow": _hollow,
    "tongue": _tongue,
    "raised text": _raised,
    "engraved text": _engraved,
    "pry slots": _pry,
}  # fmt: skip


def halves(made: Block, plastic: Manifold) -> tuple[Manifold, Manifold]:
    """Lower and upper half (empty in an open pour), as closed."""
    hollow = plastic + union(made.cuts)
    lower = (made.outer_a - hollow - union(made.cuts_a)) + union(made.adds_a)
    return lower, made.outer_b - hollow - union(made.cuts_b)


def segments(recipe: Recipe, s: Skin, lower: Manifold, upper: Manifold) -> list[Manifold]:
    """The parts as printed: two halves, one block, or halves cut across their length into segments."""
    if recipe.parting == "open":
        return [lower]
    if "segments" not in recipe.extras:
        return [lower, upper]
    middle = (s.bait_low[0] + s.bait_high[0]) / 2.0
    made = []
    for half in (lower, upper):
        front, rear = half.split_by_plane((-1.0, 0.0, 0.0), -middle)
        made += [front, rear]
    return made
