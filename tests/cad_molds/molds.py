"""Draws a recipe: baits laid out, fed and vented; a block round them, parted, drilled and filed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from manifold3d import Manifold

from tests.cad_molds import blocks, feeds, poses
from tests.cad_molds.baits import BAITS, DrawnBait
from tests.cad_molds.primitives import Point, box, clear_mm, reach_mm, spans_mm, turned, union, whole_only
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
    return replace(
        bait, body=body, tips=tips, core=None if bait.core is None else bait.core.translate((x, y, 0.0))
    )


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


def _fed(
    recipe: Recipe, baits: tuple[DrawnBait, ...], noses: list[tuple[float, float, float]], skin: blocks.Skin
) -> feeds.DrawnFeed:
    """The way in that the recipe names."""
    kind, _, entry = recipe.feed.partition(":")
    gate, chord, first = recipe.gate_mm or baits[0].gate_mm, recipe.chord, baits[0]
    well = 9.0 if "cold well" in recipe.extras else 0.0
    if kind in ("tree", "both"):
        start = {"end": skin.low[0], "side": skin.low[1], "top": 0.0}[entry]
        bar = feeds.Bar(
            x=-13.0, start=start, gate=gate, chord=chord, entry=entry, well=well, top=skin.high[2]
        )
        return feeds.tree(noses, bar)
    if kind == "loop":
        return feeds.ring(noses, feeds.Bar(x=-13.0, start=skin.low[0], gate=gate, chord=chord))
    if kind in ("belly", "two gates") and first.belly is not None:
        fed = feeds.belly(first.belly, skin.low[1], gate, chord)
        return fed if kind == "belly" else _second_gate(fed, first.belly, skin, gate, chord)
    if kind == "elbow":
        return feeds.side_elbow(0.0, skin.low[1], gate, chord)
    if kind == "top":
        return feeds.top_down(0.0, skin.high[2], gate, chord)
    return feeds.inline(kind, (0.0, 0.0, 0.0), skin.low[0], gate, chord)


def _second_gate(
    fed: feeds.DrawnFeed, belly: tuple[float, float], skin: blocks.Skin, gate: float, chord: float
) -> feeds.DrawnFeed:
    """A belly's feed with a branch that leads round to the nose."""
    round_to = feeds.side_elbow(0.0, skin.low[1], gate, chord)
    x, y = belly[0], (skin.low[1] + belly[1]) / 2.0 - 1.0
    link = box((-10.0, y - 1.8, -1.8), (x, y + 1.8, 1.8))
    bore = round_to.body - box((-40.0, skin.low[1] - 9.0, -9.0), (-4.0, y - 1.8, 9.0))
    return replace(fed, body=union([fed.body, bore, link]), gates=(*fed.gates, *round_to.gates))


def _plastic(recipe: Recipe) -> tuple[Plastic, blocks.Skin]:
    """Baits, feed, vents and wells, and the block's skin."""
    baits, noses = _laid(recipe)
    tips = () if "no vents" in recipe.extras else tuple(tip for bait in baits for tip in bait.tips)
    bare = Plastic(baits=baits, feed=None, vents=(), wells=(), tips=tips)
    skin = blocks.skin(recipe, *bare.low_high())
    feed = None if recipe.feed == "none" else _fed(recipe, baits, noses, skin)
    depth = _vent_mm(recipe)
    under = blocks.below(recipe, skin)
    film = under.translate((0.0, 0.0, depth)) - under
    vents = () if recipe.parting == "open" else tuple(feeds.vent(tip, 300.0, 2.0) ^ film for tip in tips)
    sizes = {"overflow": (2.0, 4.0), "big overflow": (2.0, 6.5), "vent balls": (1.5, 1.5)}
    wells = tuple(
        feeds.well_beyond(t, *sizes[e], recipe.chord) for e in recipe.extras if e in sizes for t in tips
    )
    return replace(bare, feed=feed, vents=vents, wells=wells), skin


def _vent_mm(recipe: Recipe) -> float:
    """How deep the vents are."""
    return 0.5 if "deep vents" in recipe.extras else 0.25


def _axis_z(normal: Point) -> str:
    """The turn (see `primitives.turned`) that lays +x along the normal."""
    axis = int(np.argmax(np.abs(normal)))
    return ("+" if normal[axis] > 0 else "-") + "xyz"[axis]


def _narrowest(spot: feeds.GateSpot, plastic: Manifold) -> float:
    """Where along the gate's axis the plastic's section is least, looked for in ever finer steps."""
    back = {"+x": "+x", "-x": "-x", "+y": "-y", "-y": "+y", "+z": "-z", "-z": "+z"}[_axis_z(spot.normal)]
    tube = turned(
        box((spot.span[0] - 1, -spot.radius, -spot.radius), (spot.span[1] + 1, spot.radius, spot.radius)),
        "+x",
    )
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
    made, gates = [bait.body for bait in plastic.baits], list[GateTruth]()
    if plastic.feed is None:
        return [body ^ whole for body in made], Manifold(), gates
    for spot in plastic.feed.gates:
        place = _narrowest(spot, plastic.feed.body + plastic.baits[spot.bait].body)
        beyond = turned(
            box((place, -spot.radius, -spot.radius), (place + 8.0, spot.radius, spot.radius)),
            _axis_z(spot.normal),
        )
        made[spot.bait] = (made[spot.bait] - _before(spot, place)) + (
            plastic.feed.body ^ beyond.translate(spot.at)
        )
        at = tuple(a + place * n for a, n in zip(spot.at, spot.normal, strict=True))
        gates.append(GateTruth(at_mm=(at[0], at[1], at[2]), normal=spot.normal, bait=spot.bait))
    feed = (union([*(b.body for b in plastic.baits), plastic.feed.body]) ^ whole) - union(made)
    return made, feed, gates


def draw(recipe: Recipe) -> Case:
    """The recipe drawn, with its truths."""
    plastic, skin = _plastic(recipe)
    cores = [b.core for b in plastic.baits if b.core is not None]
    block = blocks.block(recipe, skin)
    baits, feed, gates = _parted(plastic, block.whole)
    filled = union([*baits, feed])
    wells = (union(plastic.wells) ^ block.whole) - filled
    vents = (union(plastic.vents) ^ block.whole) - filled - wells - union(cores)
    lower, upper = blocks.halves(block, union([_hollow(plastic), *cores]))
    pieces = Pieces(baits=tuple(baits), feed=feed, gates=tuple(gates), wells=wells, vents=vents)
    truths = _truths(recipe, plastic, block, pieces)
    parts = [whole_only(part) for part in blocks.segments(recipe, skin, lower, upper)]
    positives = [b.body for b in plastic.baits[:1]] if "positive" in recipe.extras else []
    files = poses.filed(recipe, skin, parts, cores, positives)
    return Case(
        name=recipe.name,
        files=tuple(replace(f, corners=f.corners / MM[recipe.unit]) for f in files),
        kind="open pour" if recipe.parting == "open" else "injection",
        cavities=recipe.count,
        unit=recipe.unit if recipe.tell_unit and recipe.unit != "mm" else None,
        true_unit=recipe.unit,
        truths=truths,
        halves=(*parts, *cores),
    )


def _hollow(plastic: Plastic) -> Manifold:
    """All plastic as it is drawn, in one: not put together from the parted pieces, whose faces touch."""
    feed = [] if plastic.feed is None else [plastic.feed.body]
    return union([*(bait.body for bait in plastic.baits), *feed, *plastic.wells, *plastic.vents])


@dataclass(frozen=True, slots=True, kw_only=True)
class Pieces:
    """The plastic in the block, parted; each touches the next without overlap."""

    baits: tuple[Manifold, ...]
    feed: Manifold
    gates: tuple[GateTruth, ...]
    wells: Manifold
    vents: Manifold


def _truths(recipe: Recipe, plastic: Plastic, block: blocks.Block, pieces: Pieces) -> Truths:
    """Volumes of the drawn solids and what was counted while drawing."""
    lead = BAITS[recipe.bait.split(" + ")[0]](recipe.chord)
    ways = len(plastic.tips) if plastic.vents else 0
    fed = plastic.feed
    return Truths(
        baits_ml=tuple(body.volume() / 1000.0 for body in pieces.baits),
        lengths_mm=tuple(reach_mm(body) for body in pieces.baits),
        feed_ml=pieces.feed.volume() / 1000.0,
        overflow_ml=pieces.wells.volume() / 1000.0,
        seat_ml=(fed.seat ^ block.whole).volume() / 1000.0 if fed else 0.0,
        slack_ml=sum(g.slack_ml for g in fed.gates) if fed else 0.0,
        vents_ml=pieces.vents.volume() / 1000.0,
        other_ml=block.other.volume() / 1000.0,
        block_ml=block.whole.volume() / 1000.0,
        trunk_mm=_trunk(lead),
        eye_mm=lead.eye_mm,
        bolts_mm=block.bolts_mm,
        pins=block.pins,
        vents=(ways,) if not plastic.wells else (ways, 2 * ways),
        gates=pieces.gates,
        mouth_mm=fed.mouth if fed else None,
        direction=fed.direction if fed else None,
        vents_at_mm=tuple(_mouth(tip, block) for tip in plastic.tips) if ways else (),
        ignore_at_mm=block.ignore_at,
        spans_mm=tuple(spans_mm(body) for body in pieces.baits),
        vent_mm=_vent_mm(recipe) if ways and recipe.parting == "flat" else None,
    )


def _trunk(bait: DrawnBait) -> tuple[float, float] | None:
    """The narrowest trunk between its flats and as drawn."""
    if bait.trunk_mm is None:
        return None
    x, y, degrees = bait.trunk_at
    return clear_mm(bait.body, (x, y), degrees), bait.trunk_mm


def _mouth(tip: tuple[float, float, str], block: blocks.Block) -> Point:
    """Where a tip's vent leaves the block."""
    bounds = block.whole.bounding_box()
    if tip[2][1] == "x":
        return (bounds[3] if tip[2][0] == "+" else bounds[0], tip[1], 0.1)
    return (tip[0], bounds[4] if tip[2][0] == "+" else bounds[1], 0.1)
