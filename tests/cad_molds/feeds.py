"""Ways in: sprues, runners, gates, cold wells; and ways out: vents, with balls or overflow wells.

Everything is drawn toward baits whose noses look to -x. The sprue's mouth lies on the block's skin.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from manifold3d import Manifold

from tests.cad_molds.primitives import Point, ball, box, lathe, limb, ribbon, turned, union

Vector = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class GateSpot:
    """Where a feed narrows into a bait: the axis, and the span along it where the narrowest lies."""

    bait: int
    at: Point
    normal: Vector
    span: tuple[float, float]
    """Along the normal from `at`."""
    radius: float
    """Beyond the widest of the feed near the gate."""
    slack_ml: float = 0.0
    """Plastic of a land of equal width, which may be counted on either side."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnFeed:
    """The solid before the gates (it reaches into the baits and out of the block) and where it leads."""

    body: Manifold
    gates: tuple[GateSpot, ...]
    mouth: Point
    direction: Vector
    seat: Manifold = field(default_factory=Manifold)
    """What the nozzle may fill."""


def inline(kind: str, nose: tuple[float, float, float], start: float, gate: float, chord: float) -> DrawnFeed:
    """A straight way in along +x, from the block's skin at x = `start` to a nose; `gate` is its diameter."""
    x, g, reach = nose[0], gate / 2.0, min(3.0, 0.8 * gate)
    land = 0.0
    ends = {
        "cone": [(start - 5, 6.0 + 5 * 0.12), (x - 4.0, 3.4), (x - 3.0, g + 0.35), (x + reach, g)],
        "drilled": [
            (start - 5, 4.0),
            (x - 5.5, 4.0),
            (x - 5.5 + (4.0 - g - 0.3) * 0.6, g + 0.3),
            (x + reach, g),
        ],
        "stepped": [(start - 5, 5.0), (x - 5.0, 5.0), (x - 5.0, g + 0.25), (x + reach, g)],
        "stepped land": [(start - 5, 5.0), (x - 2.0, 5.0), (x - 2.0, g), (x + reach, g)],
        "twice stepped": [
            (start - 5, 6.0),
            (x - 12.0, 6.0),
            (x - 12.0, 3.5),
            (x - 5.0, 3.5),
            (x - 5.0, g + 0.2),
            (x + reach, g),
        ],
        "funnel": [
            (start - 2, 12.0),
            (start, 12.0),
            (start + 9.0, 4.0),
            (x - 6.0, 4.0),
            (x - 3.5, g + 0.3),
            (x + reach, g),
        ],
        "nozzle seat": [
            (start - 3, 8.0),
            (start, 8.0),
            (start + 1.5, 7.2),
            (start + 3.0, 6.0),
            (start + 4.0, 4.2),
            (start + 4.0, 3.0),
            (x - 6.0, 3.3),
            (x - 3.0, g + 0.3),
            (x + reach, g),
        ],
        "cylinder": [(start - 5, g + 0.4), (x - 2.0, g + 0.4), (x + reach, g)],
        "waist": [(start - 5, g + 2.5), (x - 5.0, g + 1.0), (x, g), (x + reach, g + 0.6)],
    }
    before = 2.4
    if kind == "stepped land":
        before, land = 1.0, 2.2 * 3.1416 * g * g / 1000.0
    body = lathe(ends[kind], chord, (0.0, nose[1], nose[2]))
    spot = GateSpot(
        bait=0,
        at=(x, nose[1], nose[2]),
        normal=(1.0, 0.0, 0.0),
        span=(-before, reach),
        radius=g + 1.2,
        slack_ml=land,
    )
    seat = (
        body ^ box((start, -20.0, -20.0), (start + 4.0, 20.0, 20.0)) if kind == "nozzle seat" else Manifold()
    )
    mouth = (start, nose[1], nose[2])
    return DrawnFeed(body=body, gates=(spot,), mouth=mouth, direction=(1.0, 0.0, 0.0), seat=seat)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """A runner along y and the sprue that feeds it; lengths in mm."""

    x: float
    start: float
    """Where the sprue's mouth lies: x of the skin for an end, y for a side."""
    gate: float
    chord: float
    entry: str = "end"
    """From the end (-x), the side (-y) or the top (+z)."""
    well: float = 0.0
    """Length of a cold well beyond the last nose."""
    top: float = 0.0
    """The block's upper skin."""


def runner_gate(bait: int, nose: tuple[float, float, float], bar: Bar) -> tuple[Manifold, GateSpot]:
    """A tapered gate from the runner's axis to a nose (x, y, turn), along +x (turn 1) or -x (turn -1)."""
    x, y, turn = nose
    g, reach = bar.gate / 2.0, min(3.0, 0.8 * bar.gate)
    far = abs(x - bar.x)
    body = lathe([(0.0, g + 0.6), (far - 2.0, g + 0.45), (far + reach, g)], bar.chord)
    body = turned(body, "+x" if turn > 0 else "-x").translate((bar.x, y, 0.0))
    spot = GateSpot(bait=bait, at=(x, y, 0.0), normal=(turn, 0.0, 0.0), span=(-1.8, reach), radius=g + 1.0)
    return body, spot


def tree(noses: list[tuple[float, float, float]], bar: Bar) -> DrawnFeed:
    """A bar that feeds noses (x, y, turn) on one or both sides."""
    low, high = min(y for _, y, _ in noses), max(y for _, y, _ in noses)
    far = high + 2.0 + bar.well
    parts = [limb([(bar.x, low - 2.0, 3.0), (bar.x, far, 3.0)], 1.0, bar.chord)]
    if bar.well:
        parts.append(ball((bar.x, far, 0.0), 4.5, bar.chord))
    gates = [runner_gate(number, nose, bar) for number, nose in enumerate(noses)]
    mouth, direction, sprue = _entry(bar, low)
    body = union([*parts, *(gated for gated, _ in gates), sprue])
    return DrawnFeed(body=body, gates=tuple(spot for _, spot in gates), mouth=mouth, direction=direction)


def _entry(bar: Bar, low: float) -> tuple[Point, Vector, Manifold]:
    """The sprue from the mouth to the bar: along +x at y = 0, along +y, or down from the top."""
    start, chord = bar.start, bar.chord
    if bar.entry == "end":
        made = lathe([(start - 5, 5.6), (start, 5.0), (bar.x, 3.2)], chord)
        return (start, 0.0, 0.0), (1.0, 0.0, 0.0), made
    if bar.entry == "side":
        made = lathe([(start - 5, 5.6), (start, 5.0), (low - 2.0, 3.0)], chord)
        return (bar.x, start, 0.0), (0.0, 1.0, 0.0), turned(made, "+y").translate((bar.x, 0.0, 0.0))
    made = lathe([(0.0, 3.2), (bar.top, 5.0), (bar.top + 5, 5.6)], chord)
    return (bar.x, 0.0, bar.top), (0.0, 0.0, -1.0), turned(made, "+z").translate((bar.x, 0.0, 0.0))


def belly(spots: tuple[float, float], start: float, gate: float, chord: float, bait: int = 0) -> DrawnFeed:
    """A sprue along +y from the block's side into the belly at (x, y)."""
    g, reach, far = gate / 2.0, min(3.0, 0.8 * gate), spots[1] - start
    profile = [(-5.0, 5.0), (far - 4.0, 4.0), (far - 2.5, g + 0.35), (far + reach, g)]
    body = turned(lathe(profile, chord), "+y").translate((spots[0], start, 0.0))
    spot = GateSpot(
        bait=bait, at=(spots[0], spots[1], 0.0), normal=(0.0, 1.0, 0.0), span=(-1.8, reach), radius=g + 1.0
    )
    return DrawnFeed(body=body, gates=(spot,), mouth=(spots[0], start, 0.0), direction=(0.0, 1.0, 0.0))


def side_elbow(nose: float, start: float, gate: float, chord: float) -> DrawnFeed:
    """A sprue from the -y side that turns round a ball into a gate along +x."""
    bar = nose - 10.0
    bore = turned(lathe([(start - 5, 5.4), (start, 5.0), (0.0, 3.4)], chord), "+y").translate((bar, 0.0, 0.0))
    gated, spot = runner_gate(0, (nose, 0.0, 1.0), Bar(x=bar, start=0.0, gate=gate, chord=chord))
    body = union([bore, ball((bar, 0.0, 0.0), 3.6, chord), gated])
    return DrawnFeed(body=body, gates=(spot,), mouth=(bar, start, 0.0), direction=(0.0, 1.0, 0.0))


def top_down(nose: float, top: float, gate: float, chord: float) -> DrawnFeed:
    """A vertical sprue through the upper half, with a cold slug under it, and a gate along +x."""
    bar = nose - 8.0
    bore = turned(lathe([(-3.0, 2.4), (0.0, 3.0), (top, 5.0), (top + 5, 5.6)], chord), "+z").translate(
        (bar, 0.0, 0.0)
    )
    gated, spot = runner_gate(0, (nose, 0.0, 1.0), Bar(x=bar, start=0.0, gate=gate, chord=chord))
    return DrawnFeed(body=bore + gated, gates=(spot,), mouth=(bar, 0.0, top), direction=(0.0, 0.0, -1.0))


def ring(noses: list[tuple[float, float, float]], bar: Bar) -> DrawnFeed:
    """A runner that goes round an island on its way to the bar: a loop."""
    fed, near, back = tree(noses, bar), bar.x, bar.x - 12.0
    loop = limb([(near, -7.0, 2.4), (back, -7.0, 2.4), (back, 7.0, 2.4), (near, 7.0, 2.4)], 1.0, bar.chord)
    island = ribbon([(near - 6.5, 0.0, 3.9), (near - 5.5, 0.0, 3.9)], 20.0, bar.chord)
    return replace(fed, body=(fed.body - island) + loop)


def vent(tip: tuple[float, float, str], reach: float, wide: float) -> Manifold:
    """A tall slot from a tip to the block's skin, at most `reach` mm away, to be cut down to a thin one."""
    x, y, direction = tip
    sign, half, tall = (1.0 if direction[0] == "+" else -1.0), wide / 2.0, 50.0
    ends = sorted((-2.5 * sign, sign * reach))
    if direction[1] == "x":
        return box((x + ends[0], y - half, -tall), (x + ends[1], y + half, tall))
    return box((x - half, y + ends[0], -tall), (x + half, y + ends[1], tall))


def well_beyond(tip: tuple[float, float, str], gap: float, radius: float, chord: float) -> Manifold:
    """A ball on a tip's vent, `gap` mm from the tip to the ball's skin."""
    x, y, direction = tip
    sign = 1.0 if direction[0] == "+" else -1.0
    away = sign * (gap + radius)
    return ball((x + away, y, 0.0) if direction[1] == "x" else (x, y + away, 0.0), radius, chord)
