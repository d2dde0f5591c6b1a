"""A mold being drawn at random: its baits, and the sprue, runners and gates that feed them."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from manifold3d import Manifold

from tests.shapes import PAST, Hole, Opening, Peg, Vec3, channel, rod
from tests.shapes_baits import grub, minnow, placed, stick, with_eyes, with_slot


@dataclass(slots=True, kw_only=True)
class Draft:
    """A mold being drawn. `laid` holds each bait's nose, its turn (degrees) and its half height."""

    rng: np.random.Generator
    features: list[str] = field(default_factory=list)
    baits: list[Manifold] = field(default_factory=list)
    laid: list[tuple[tuple[float, float], float, float]] = field(default_factory=list)
    feed: list[Manifold] = field(default_factory=list)
    gates: list[Opening] = field(default_factory=list)
    sprue: Opening | None = None
    vents: list[Manifold] = field(default_factory=list)
    holes: list[Hole] = field(default_factory=list)
    pegs: list[Peg] = field(default_factory=list)
    lower: Manifold = field(default_factory=Manifold)
    upper: Manifold = field(default_factory=Manifold)
    low: Vec3 = (0.0, 0.0, 0.0)
    high: Vec3 = (0.0, 0.0, 0.0)
    cuts: list[Manifold] = field(default_factory=list)
    extras: list[tuple[str, str, Manifold]] = field(default_factory=list)
    """Name, role and solid of cores and blades."""

    def chance(self, feature: str, share: float) -> bool:
        """Draw whether the mold has a feature, and note it."""
        has = bool(self.rng.random() < share)
        if has:
            self.features.append(feature)
        return has

    def between(self, low: float, high: float) -> float:
        """A number drawn evenly."""
        return float(self.rng.uniform(low, high))


def _bait(draft: Draft) -> Manifold:
    """One of the bait shapes at some size, with eyes or a hook slot now and then."""
    size = draft.between(0.6, 1.15)
    kind = str(draft.rng.choice(["minnow", "stick", "grub"]))
    if kind == "minnow":
        shape = minnow(
            body=92 * size,
            height=23 * size,
            width=15 * size,
            trunk=13 * size,
            trunk_height=draft.between(3.5, 6),
            trunk_width=draft.between(1.0, 3.0),
            tail_height=21 * size,
            tail_width=min(17 * size, 15.5),
            tail=6 * size,
        )
        if draft.chance("eyes", 0.5):
            shape = with_eyes(shape, (12 * size, 1.0), draft.between(3, 6) * size, draft.between(0.6, 1.2))
        if draft.chance("hook slot", 0.3):
            shape = with_slot(shape, 30 * size, 58 * size, draft.between(1.0, 4.0), draft.between(1.2, 2.0))
        return shape
    if kind == "stick":
        return stick(length=110 * size, diameter=draft.between(7, 12))
    return grub(body=26 * size, diameter=13 * size, tail=34 * size, tail_width=draft.between(1.8, 3.5))


def _shapes(draft: Draft, count: int) -> list[Manifold]:
    """As many baits, all alike or of several sizes."""
    first = _bait(draft)
    if count > 1 and draft.chance("several sizes", 0.25):
        return [first, *(_bait(draft) for _ in range(count - 1))]
    return [first] * count


def _gate(draft: Draft, shape: Manifold, from_mm: float, radius: float) -> tuple[Manifold, Opening]:
    """A gate along x into the nose at x = 0, from `from_mm` before it; as wide as the nose allows."""
    wanted = draft.between(0.5, 2.0)
    depths = [0.4 + 0.1 * k for k in range(22)]
    depth = next((d for d in depths if narrow_side(shape, d) > 1.15 * wanted), depths[-1])
    wanted = min(wanted, narrow_side(shape, depth) / 1.15)
    solid = rod((-from_mm, 0.0, 0.0), (depth, 0.0, 0.0), max(radius, wanted + 0.3), wanted)
    return solid, Opening(at=(min(0.5, depth / 2), 0.0, 0.0), normal=(1.0, 0.0, 0.0))


def narrow_side(shape: Manifold, x: float) -> float:
    """Distance of the surface from the axis at x: the lesser of along y and along z."""
    hits = [shape.ray_cast((x, 100.0, 0.0), (x, 0.0, 0.0)), shape.ray_cast((x, 0.0, 100.0), (x, 0.0, 0.0))]
    return min((100.0 - hit[0].distance * 100.0 for hit in hits if hit), default=0.0)


def _lay(
    draft: Draft, shape: Manifold, at: tuple[float, float], turn: float, gate: tuple[Manifold, Opening]
) -> None:
    """Add a bait with its gate, nose at a point, turned about z."""
    stub, mouth = gate
    draft.baits.append(placed(shape, at, turn))
    draft.laid.append((at, turn, shape.bounding_box()[4]))
    draft.feed.append(placed(stub, at, turn))
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    x = mouth.at[0]
    draft.gates.append(Opening(at=(at[0] + c * x, at[1] + s * x, 0.0), normal=(c, s, 0.0)))


def _direct(draft: Draft) -> None:
    """One bait, the sprue straight into its nose."""
    shape = _bait(draft)
    _lay(draft, shape, (0.0, 0.0), 0.0, _gate(draft, shape, 4.0, 2.6))
    _side_sprue(draft, (-20.0, 0.0), -4.0, 2.6)


def _apart(draft: Draft) -> None:
    """Two baits, each with a sprue of its own."""
    shape = _bait(draft)
    half = shape.bounding_box()[4]
    for y in (-half - 5.0, half + 5.0):
        _lay(draft, shape, (0.0, y), 0.0, _gate(draft, shape, 4.0, 2.6))
        draft.feed.append(rod((-20.0 - PAST, y, 0.0), (-4.0, y, 0.0), 4.8, 2.6))
    draft.sprue = Opening(at=(-20.0, draft.laid[0][0][1], 0.0), normal=(1.0, 0.0, 0.0))


def _comb(draft: Draft) -> None:
    """Baits side by side, their noses to one runner."""
    count = int(draft.rng.integers(1, 6))
    radius, line = draft.between(2.4, 3.2), -13.0
    heights: list[float] = []
    for shape in _shapes(draft, count):
        half = shape.bounding_box()[4]
        y = heights[-1] + half if heights else 0.0
        _lay(draft, shape, (0.0, y), 0.0, _gate(draft, shape, -line, radius))
        heights.append(y + half + draft.between(6, 10))
    ys = [at[1] for at, _, _ in draft.laid]
    first, last = ys[0], ys[-1]
    if draft.chance("cold well", 0.3):
        last += 8.0
    if last > first:
        draft.feed.append(channel([(line, first, 0.0), (line, last, 0.0)], radius))
    if count > 1 and draft.chance("runner loop", 0.15):
        draft.feed.append(
            channel(
                [(line, first, 0.0), (line - 10, first, 0.0), (line - 10, last, 0.0), (line, last, 0.0)],
                radius,
            )
        )
        line -= 10.0
    if draft.chance("two gates", 0.12):
        _second_gate(draft, (-13.0, last), radius)
    middle = draft.between(first, ys[-1]) if count > 1 else first
    if draft.chance("sprue from above", 0.35):
        draft.sprue = Opening(at=(line, middle, 99.0), normal=(0.0, 0.0, -1.0))
    else:
        _side_sprue(draft, (line - 16.0, middle), line, radius)


def _second_gate(draft: Draft, end: tuple[float, float], radius: float) -> None:
    """Another way into the last bait: along its side and into its back."""
    (_, y), _, half = draft.laid[-1]
    length = draft.baits[-1].bounding_box()[3]
    x, out = 0.18 * length, y + half + 7.0
    draft.feed.append(channel([(*end, 0.0), (end[0], out, 0.0), (x, out, 0.0)], min(radius, 2.6)))
    hits = draft.baits[-1].ray_cast((x, out, 0.0), (x, y, 0.0))
    skin = out - hits[0].distance * (out - y)
    draft.feed.append(rod((x, out, 0.0), (x, skin - 1.5, 0.0), min(radius, 2.6), draft.between(0.7, 1.5)))
    draft.gates.append(Opening(at=(x, skin + 0.05, 0.0), normal=(0.0, -1.0, 0.0)))


def _tree(draft: Draft) -> None:
    """Baits to both sides of one trunk."""
    pairs = int(draft.rng.integers(1, 5))
    radius = draft.between(2.6, 3.3)
    shapes = _shapes(draft, 2 * pairs)
    x = 0.0
    for k in range(pairs):
        both = shapes[2 * k : 2 * k + 2]
        wide = max(shape.bounding_box()[4] for shape in both)
        x += wide if k else 0.0
        for shape, side in zip(both, (-1.0, 1.0), strict=True):
            _lay(draft, shape, (x, side * 12.0), side * 90.0, _gate(draft, shape, 12.0, 0.85 * radius))
        last = x
        x += wide + draft.between(6, 9)
    end = last + (8.0 if draft.chance("cold well", 0.4) else 0.0)
    start = -max(half for _, _, half in draft.laid) - 4.0
    draft.feed.append(channel([(start, 0.0, 0.0), (end, 0.0, 0.0)], radius))
    _side_sprue(draft, (start - 14.0, 0.0), start, radius)


def _side_sprue(draft: Draft, mouth: tuple[float, float], end_x: float, radius: float) -> None:
    """A conical sprue in the parting plane, from the face at the mouth's x."""
    wide = draft.between(4.0, 6.0)
    draft.feed.append(rod((mouth[0] - PAST, mouth[1], 0.0), (end_x, mouth[1], 0.0), wide, radius))
    draft.sprue = Opening(at=(*mouth, 0.0), normal=(1.0, 0.0, 0.0))


LAYOUTS: dict[str, Callable[[Draft], None]] = {
    "direct": _direct,
    "comb": _comb,
    "tree": _tree,
    "apart": _apart,
}
