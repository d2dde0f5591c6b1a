"""Ways in: sprues, runners, gates, cold wells; and ways out: vents, with balls or overflow wells.

Everything is drawn toward baits whose noses look to -x. The sprue's mouth lies on the block's skin.
"""

from __future__ import annotations

from dataclasses import dataclass

from manifold3d import Manifold
from tests.cad_molds.primitives import Point, ball, box, lathe, limb, ribbon, turned, union

Vector = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class GateSpot:
    """Where a feed narrows into a bait: the axis, and the span along it in which to look for the narrowest."""

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


def inline(kind: str, nose: tuple[float, float, float], start: float, gate: float, chord: float) -> DrawnFeed:
    """A straight way in along +x, from the block's skin at x = `start` to a nose; `gate` is its diameter."""
    x, g, reach = nose[0], gate / 2.0, min(3.0, 0.8 * gate)
    land = 0.0
    ends = {
        "cone": [(start - 5, 6.0 + 5 * 0.12), (x - 4.0, 3.4), (x - 3.0, g + 0.35), (x + reach, g)],
        "drilled": [(start - 5, 4.0), (x - 5.5, 4.0), (x - 5.5 + (4.0 - g - 0.3) * 0.6, g + 0.3), (x + reach, g)],
        "stepped": [(start - 5, 5.0), (x - 5.0, 5.0), (x - 5.0, g + 0.25), (x + reach, g)],
        "stepped land": [(start - 5, 5.0), (x - 2.0, 5.0), (x - 2.0, g), (x + reach, g)],
        "twice stepped": [
            (start - 5, 6.0), (x - 12.0, 6.0), (x - 12.0, 3.5), (x - 5.0, 3.5), (x - 5.0, g + 0.2), (x + reach, g),
        ],
        "funnel": [
            (start - 2, 12.0), (start, 12.0), (start + 9.0, 4.0), (x - 6.0, 4.0), (x - 3.5, g + 0.3), (x + reach, g),
        ],
        "nozzle seat": [
            (start - 3, 8.0), (start, 8.0), (start + 1.5, 7.2), (start + 3.0, 6.0), (start + 4.0, 4.2), (start + 4.0, 3.0),
            (x - 6.0, 3.3), (x - 3.0, g + 0.3), (x + reach, g),
        ],
        "cylinder": [(start - 5, g + 0.4), (x - 2.0, g + 0.4), (x + reach, g)],
        "waist": [(start - 5, g + 2.5), (x - 5.0, g + 1.0), (x, g), (x + reach, g + 0.6)],
    }  # fmt: skip
    if kind == "stepped land":
        land = 2.2 * 3.1416 * g * g / 1000.0
    body = lathe(ends[kind], chord, (0.0, nose[1], nose[2]))
    spot = GateSpot(
        bait=0, at=(x, nose[1], nose[2]), normal=(1.0, 0.0, 0.0), span=(-2.4, reach), radius=g + 1.2, slack_ml=land
    )
    return DrawnFeed(body=body, gates=(spot,), mouth=(start, nose[1], nose[2]), direction=(1.0, 0.0, 0.0))


def runner_gate(bait: int, nose: tuple[float, float], bar: float, gate: float, chord: float, turn: float = 1.0) -> tuple[Manifold, GateSpot]:
    """A tapered gate from a runner's axis at x = `bar` to a nose, along +x (turn 1) or -x (turn -1)."""
    g, reach = gate / 2.0, min(3.0, 0.8 * gate)
    far = abs(nose[0] - bar)
    body = lathe([(0.0, g + 0.6), (far - 2.0, g + 0.45), (far + reach, g)], chord)
    body = turned(body, "+x" if turn > 0 else "-x").translate((bar, nose[1], 0.0))
    spot = GateSpot(bait=bait, at=(nose[0], nose[1], 0.0), normal=(turn, 0.0, 0.0), span=(-1.8, reach), radius=g + 1.0)
    return body, spot


def tree(noses: list[tuple[float, float, float]], bar: float, start: float, gate: float, chord: float, entry: str, well: float, top: float) -> DrawnFeed:
    """A bar along y at x = `bar` that feeds noses (x, y, turn); the sprue comes from -x, the side or the top.

    `well` is the length of a cold well beyond the last nose (0: none), `top` the block's upper skin.
    """
    low, high = min(y for _, y, _ in noses), max(y for _, y, _ in noses)
    r = 3.0
    far = high + 2.0
    parts = [limb([(bar, low - 2.0, r), (bar, far + well, r)], 1.0, chord)]
    if well:
        parts.append(ball((bar, far + well, 0.0), 4.5, chord))
    spots = []
    for number, (x, y, turn) in enumerate(noses):
        gated, spot = runner_gate(number, (x, y), bar, gate, chord, turn)
        parts.append(gated)
        spots.append(spot)
    mouth, direction, sprue = _entry(entry, bar, low, start, top, chord)
    return DrawnFeed(body=union([*parts, sprue]), gates=tuple(spots), mouth=mouth, direction=direction)


def _entry(entry: str, bar: float, low: float, start: float, top: float, chord: float) -> tuple[Point, Vector, Manifold]:
    """The sprue from the mouth to the bar: along +x at y = 0, along +y from `start`, or down from the top."""
    if entry == "end":
        made = lathe([(start - 5, 5.6), (start, 5.0), (bar, 3.2)], chord)
        return (start, 0.0, 0.0), (1.0, 0.0, 0.0), made
    if entry == "side":
        made = turned(lathe([(start - 5, 5.6), (start, 5.0), (low - 2.0, 3.0)], chord), "+y").translate((bar, 0.0, 0.0))
        return (bar, start, 0.0), (0.0, 1.0, 0.0), made
    if entry == "top":
        made = turned(lathe([(0.0, 3.2), (top, 5.0), (top + 5, 5.6)], chord), "+z").translate((bar, 0.0, 0.0))
        return (bar, 0.0, top), (0.0, 0.0, -1.0), made
    raise ValueError(entry)


def belly(spots: tuple[float, float], start: float, gate: float, chord: float, bait: int = 0) -> DrawnFeed:
    """A sprue along +y from the block's side into the belly at (x, y)."""
    g, reach, far = gate / 2.0, min(3.0, 0.8 * gate), spots[1] - start
    profile = [(-5.0, 5.0), (far - 4.0, 4.0), (far - 2.5, g + 0.35), (far + reach, g)]
    body = turned(lathe(profile, chord), "+y").translate((spots[0], start, 0.0))
    spot = GateSpot(bait=bait, at=(spots[0], spots[1], 0.0), normal=(0.0, 1.0, 0.0), span=(-1.8, reach), radius=g + 1.0)
    return DrawnFeed(body=body, gates=(spot,), mouth=(spots[0], start, 0.0), direction=(0.0, 1.0, 0.0))


def side_elbow(nose: float, start: float, gate: float, chord: float) -> DrawnFeed:
    """A sprue from the -y side that turns round a ball into a gate along +x."""
    bar = nose - 10.0
    bore = turned(lathe([(start - 5, 5.4), (start, 5.0), (0.0, 3.4)], chord), "+y").translate((bar, 0.0, 0.0))
    gated, spot = runner_gate(0, (nose, 0.0), bar, gate, chord)
    body = union([bore, ball((bar, 0.0, 0.0), 3.6, chord), gated])
    return DrawnFeed(body=body, gates=(spot,), mouth=(bar, start, 0.0), direction=(0.0, 1.0, 0.0))


def top_down(nose: float, top: float, gate: float, chord: float) -> DrawnFeed:
    """A vertical sprue through the upper half, with a cold slug under it, and a gate along +x."""
    bar = nose - 8.0
    bore = turned(lathe([(-3.0, 2.4), (0.0, 3.0), (top, 5.0), (top + 5, 5.6)], chord), "+z").translate((bar, 0.0, 0.0))
    gated, spot = runner_gate(0, (nose, 0.0), bar, gate, chord)
    return DrawnFeed(body=bore + gated, gates=(spot,), mouth=(bar, 0.0, top), direction=(0.0, 0.0, -1.0))


def ring(noses: list[tuple[float, float, float]], bar: float, start: float, gate: float, chord: float) -> DrawnFeed:
    """A runner that goes round an island on its way to the bar: a loop."""
    fed = tree(noses, bar, start, gate, chord, "end", 0.0, 0.0)
    back = bar - 12.0
    loop = limb([(bar, -7.0, 2.4), (back, -7.0, 2.4), (back, 7.0, 2.4), (bar, 7.0, 2.4)], 1.0, chord)
    island = ribbon([(bar - 6.5, 0.0, 3.9), (bar - 5.5, 0.0, 3.9)], 20.0, chord)
    body = (fed.body - island) + loop
    return DrawnFeed(body=body, gates=fed.gates, mouth=fed.mouth, direction=fed.direction)


def vent(tip: tuple[float, float, str], reach: float, depth: float, wide: float) -> Manifold:
    """A thin slot in the upper half from a tip to the block's skin, `reach` mm away at most."""
    x, y, direction = tip
    sign = 1.0 if direction[0] == "+" else -1.0
    back, half = 2.5 * sign, wide / 2.0
    ends = sorted((-back, sign * reach))
    if direction[1] == "x":
        return box((x + ends[0], y - half, 0.0), (x + ends[1], y + half, depth))
    return box((x - half, y + ends[0], 0.0), (x + half, y + ends[1], depth))


def well_beyond(tip: tuple[float, float, str], gap: float, radius: float, chord: float) -> Manifold:
    """A ball on a tip's vent, `gap` mm from the tip to the ball's skin."""
    x, y, direction = tip
    sign = 1.0 if direction[0] == "+" else -1.0
    away = sign * (gap + radius)
    return ball((x + away, y, 0.0) if direction[1] == "x" else (x, y + away, 0.0), radius, chord)
