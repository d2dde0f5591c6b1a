"""Draws a recipe: baits laid out, fed and vented; a block round them, parted, drilled and filed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from manifold3d import Manifold
from tests.cad_molds import blocks, feeds, poses
from tests.cad_molds.baits import BAITS, DrawnBait
from tests.cad_molds.primitives import Point, box, turned, union
from tests.cad_molds.records import MM, Case, GateTruth, Recipe, Truths


@dataclass(frozen=True, slots=True, kw_only=True)
class Plastic:
    """What the halves are drawn round: everything in the closed frame, not yet clipped to the block."""

    baits: tuple[DrawnBait, ...]
    feed: feeds.DrawnFeed | None
    vents: tuple[Manifold, ...]
    wells: tuple[Manifold, ...]
    tips: tuple[tuple[float, float, str], ...]

    def low_high(self) -> tuple[Sequence[float], Sequence[float]]:
        """Corners of the box round all baits."""
        bounds = np.array([bait.body.bounding_box() for bait in self.baits])
        return bounds[:, :3].min(axis=0), bounds[:, 3:].max(axis=0)


def _moved(bait: DrawnBait, x: float, y: float, turn: float) -> DrawnBait:
    """The bait laid elsewhere, nose to -x (turn 1) or +x (turn -1)."""
    body = (bait.body if turn > 0 else turned(bait.body, "-x")).translate((x, y, 0.0))
    tips = tuple((x + turn * tx, y + turn * ty, ("+x" if turn > 0 else "-x")) for tx, ty, _ in bait.tips)
    return replace(bait, body=body, tips=tips, core=None if bait.core is None else bait.core.translate((x, y, 0.0)))


def _laid(recipe: Recipe) -> tuple[tuple[DrawnBait, ...], list[tuple[float, float, float]]]:
    """The baits in their places and their noses (x, y, turn); a family mold takes several kinds."""
    kinds = [BAITS[name](recipe.chord) for name in recipe.bait.split(" + ")]
    baits = [kinds[k % len(kinds)] for k in range(recipe.count)]
    widest = max(b.body.bounding_box()[4] - b.body.bounding_box()[1] for b in baits)
    pitch, noses = widest + 7.0, []
    rows = (recipe.count + 1) // 2 if recipe.feed.startswith("both") else recipe.count
    for k in range(recipe.count):
        turn = -1.0 if k >= rows else 1.0
        noses.append((-26.0 if turn < 0 else 0.0, (k % rows - (rows - 1) / 2.0) * pitch, turn))
    return tuple(_moved(b, *nose) for b, nose in zip(baits, noses, strict=True)), noses


def _fed(recipe: Recipe, baits: tuple[DrawnBait, ...], noses: list[tuple[float, float, float]], skin: blocks.Skin) -> feeds.DrawnFeed:
    """The way in that the recipe names."""
    kind, _, entry = recipe.feed.partition(":")
    gate, chord, first = recipe.gate_mm or baits[0].gate_mm, recipe.chord, baits[0]
    well = 9.0 if "cold well" in recipe.extras else 0.0
    if kind in ("tree", "both"):
        start = {"end": skin.low[0], "side": skin.low[1], "top": 0.0}[entry]
        return feeds.tree(noses, -13.0, start, gate, chord, entry, well, skin.high[2])
    if kind == "loop":
        return feeds.ring(noses, -13.0, skin.low[0], gate, chord)
    if kind == "belly" and first.belly is not None:
        return feeds.belly(first.belly, skin.low[1], gate, chord)
    if kind == "two gates" and first.belly is not None:
        one, two = feeds.belly(first.belly, skin.low[1], gate, chord), feeds.side_elbow(0.0, skin.low[1], gate, chord)
        x, y = first.belly[0], (skin.low[1] + first.belly[1]) / 2.0 - 1.0
        link = box((-10.0, y - 1.8, -1.8), (x, y + 1.8, 1.8))
        bore = two.body - box((-40.0, skin.low[1] - 9.0, -9.0), (-4.0, y - 1.8, 9.0))
        return replace(one, body=union([one.body, bore, link]), gates=(*one.gates, *two.gates))
    if kind == "elbow":
        return feeds.side_elbow(0.0, skin.low[1], gate, chord)
    if kind == "top":
        return feeds.top_down(0.0, skin.high[2], gate, chord)
    return feeds.inline(kind, (0.0, 0.0, 0.0), skin.low[0], gate, chord)


def _plastic(recipe: Recipe) -> tuple[Plastic, blocks.Skin]:
    """Baits, feed, vents and wells, and the block's skin."""
    baits, noses = _laid(recipe)
    tips = () if "no vents" in recipe.extras else tuple(tip for bait in baits for tip in bait.tips)
    bare = Plastic(baits=baits, feed=None, vents=(), wells=(), tips=tips)
    skin = blocks.skin(recipe, *bare.low_high())
    feed = None if recipe.feed == "none" else _fed(recipe, baits, noses, skin)
    depth = 0.5 if "deep vents" in recipe.extras else 0.25
    vents = tuple(feeds.vent(tip, 300.0, depth, 2.0) for tip in tips)
    sizes = {"overflow": (2.0, 4.0), "big overflow": (2.0, 6.5), "vent balls": (1.5, 1.5)}
    wells = tuple(feeds.well_beyond(t, *sizes[e], recipe.chord) for e in recipe.extras if e in sizes for t in tips)
    return replace(bare, feed=feed, vents=vents, wells=wells), skin


def _axis_z(normal: Point) -> str:
    """The turn (see `primitives.turned`) that lays +x along the normal."""
    axis = int(np.argmax(np.abs(normal)))
    return ("+" if normal[axis] > 0 else "-") + "xyz"[axis]


def _narrowest(spot: feeds.GateSpot, plastic: Manifold) -> float:
    """Where along the gate's axis the plastic's section is least, looked for in ever finer steps."""
    back = {"+x": "+x", "-x": "-x", "+y": "-y", "-y": "+y", "+z": "-z", "-z": "+z"}[_axis_z(spot.normal)]
    tube = turned(box((spot.span[0] - 1, -spot.radius, -spot.radius), (spot.span[1] + 1, spot.radius, spot.radius)), "+x")
    local = turned(plastic.translate(tuple(-v for v in spot.at)), back) ^ tube
    upright = turned(local, "+z")
    low, high = spot.span
    for _ in range(4):
        places = np.linspace(low, high, 41)
        areas = [upright.slice(float(place)).area() for place in places]
        best = int(np.argmin(np.round(areas, 9)))
        step = places[1] - places[0]
        low, high = max(spot.span[0], places[best] - step), min(spot.span[1], places[best] + step)
    return float(places[best])


def _before(spot: feeds.GateSpot, place: float) -> Manifold:
    """A block on the feed's side of the gate plane, as wide as the gate's surroundings."""
    made = box((place - 12.0, -spot.radius, -spot.radius), (place, spot.radius, spot.radius))
    return turned(made, _axis_z(spot.normal)).translate(spot.at)


def _parted(plastic: Plastic, whole: Manifold) -> tuple[list[Manifold], Manifold, list[GateTruth]]:
    """Each bait beyond its gate planes, the feed before them, the gates."""
    made, gates = [bait.body for bait in plastic.baits], []
    if plastic.feed is None:
        return [body ^ whole for body in made], Manifold(), gates
    for spot in plastic.feed.gates:
        place = _narrowest(spot, plastic.feed.body + plastic.baits[spot.bait].body)
        beyond = turned(box((place, -spot.radius, -spot.radius), (place + 8.0, spot.radius, spot.radius)), _axis_z(spot.normal))
        made[spot.bait] = (made[spot.bait] - _before(spot, place)) + (plastic.feed.body ^ beyond.translate(spot.at))
        at = tuple(a + place * n for a, n in zip(spot.at, spot.normal, strict=True))
        gates.append(GateTruth(at_mm=(at[0], at[1], at[2]), normal=spot.normal, bait=spot.bait))
    feed = (union([*(b.body for b in plastic.baits), plastic.feed.body]) ^ whole) - union(made)
    return made, feed, gates


def draw(recipe: Recipe) -> Case:
    """The recipe drawn, with its truths."""
    plastic, skin = _plastic(recipe)
    cores = [b.core for b in plastic.baits if b.core is not None]
    block = blocks.block(recipe, skin)
    made, feed, gates = _parted(plastic, block.whole)
    filled = union([*made, feed])
    wells = (union(plastic.wells) ^ block.whole) - filled
    vents = (union(plastic.vents) ^ block.whole) - filled - wells - union(cores)
    if recipe.parting == "open":
        vents = Manifold()
    hollow = union([filled, wells, vents])
    lower, upper = blocks.halves(block, hollow + union(cores))
    truths = _truths(plastic, block, made, feed, gates, wells, vents)
    parts = blocks.segments(recipe, skin, lower, upper)
    outside = [core for core in cores]
    positives = [b.body for b in plastic.baits[:1]] if "positive" in recipe.extras else []
    files = poses.filed(recipe, skin, parts, outside, positives)
    return Case(
        name=recipe.name,
        files=tuple(replace(f, corners=f.corners / MM[recipe.unit]) for f in files),
        kind="open pour" if recipe.parting == "open" else "injection",
        cavities=recipe.count,
        unit=recipe.unit if recipe.tell_unit and recipe.unit != "mm" else None,
        true_unit=recipe.unit,
        truths=truths,
        halves=(*parts, *outside),
    )


def _truths(plastic: Plastic, block: blocks.Block, made: list[Manifold], feed: Manifold, gates: list[GateTruth], wells: Manifold, vents: Manifold) -> Truths:
    """Volumes of the drawn solids and what was counted while drawing."""
    lead, count = plastic.baits[0], len(vents.decompose())
    ways = len(plastic.tips) if count else 0
    boxes = [body.bounding_box() for body in made]
    return Truths(
        baits_ml=tuple(body.volume() / 1000.0 for body in made),
        lengths_mm=tuple(max(b[3] - b[0], b[4] - b[1]) for b in boxes),
        feed_ml=feed.volume() / 1000.0,
        overflow_ml=wells.volume() / 1000.0,
        slack_ml=sum(g.slack_ml for g in plastic.feed.gates) if plastic.feed else 0.0,
        vents_ml=vents.volume() / 1000.0,
        other_ml=block.other.volume() / 1000.0,
        block_ml=block.whole.volume() / 1000.0,
        trunk_mm=_trunk(lead),
        eye_mm=lead.eye_mm,
        bolts=block.bolts,
        bolt_mm=block.bolt_mm,
        pins=block.pins,
        vents=(ways,) if not plastic.wells else (ways, 2 * ways),
        gates=tuple(gates),
        mouth_mm=plastic.feed.mouth if plastic.feed else None,
        direction=plastic.feed.direction if plastic.feed else None,
        vents_at_mm=tuple(_mouth(tip, block) for tip in plastic.tips) if count else (),
        ignore_at_mm=block.ignore_at,
    )


def _trunk(bait: DrawnBait) -> tuple[float, float] | None:
    """The narrowest trunk between its flats and as drawn."""
    if bait.trunk_mm is None:
        return None
    return bait.trunk_mm * math.cos(math.pi / bait.trunk_sides), bait.trunk_mm


def _mouth(tip: tuple[float, float, str], block: blocks.Block) -> Point:
    """Where a tip's vent leaves the block."""
    bounds = block.whole.bounding_box()
    if tip[2][1] == "x":
        return (bounds[3] if tip[2][0] == "+" else bounds[0], tip[1], 0.1)
    return (tip[0], bounds[4] if tip[2][0] == "+" else bounds[1], 0.1)
