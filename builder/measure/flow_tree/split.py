"""Parting the plastic into baits, runner with sprue, and vents."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from builder import mesh
from builder.measure.cavity.void import Mouth, Piece
from builder.measure.flow_tree import offers, pockets, rivals, seeds, voxels
from builder.measure.flow_tree.gates import (
    NO_BAIT,
    TINY_BAIT,
    Choice,
    Gating,
    choices,
    in_a_row,
    side_by_side,
)
from builder.measure.flow_tree.necks import START_RADII, Neck, Segments, segments
from builder.measure.flow_tree.tree import Tree, grow
from builder.mesh import cuts
from builder.mesh.cuts import Cut, Part
from builder.model import Solid

Array = NDArray[np.float64]

CONTRASTS = (1.36, 1.25, 1.15)
"""How much wider than its gate a bait must be, the sure value first."""
FAINT, FAINTEST = 1.12, 1.03
"""A neck of the first contrast is too faint to be taken for a gate, but not too faint to raise a doubt; one
of the second is offered where it is asked."""
RIVAL_SHARE = 1.33
"""Where gates at faint necks would leave so much more bait, the bait's own trunk may pass for its gate."""
LOOP_DOUBT = 0.25
"""Between two gates of one bait lies a branch of the runner, or a limb of the bait: both look alike."""
DOUBT = 0.12
"""A choice of gates that costs more, or is not this much cheaper than the next, is not sure."""
FINEST_MM, COARSEST_MM = 0.2, 0.6
VOXELS = 250_000
FINER_SHARES, MOST_CELLS, MOST_BAITS = (0.5, 0.85), 10_000_000, 12
"""Where nothing parts it into so few baits, a grid so much finer is tried, of at most so many cells."""
MOST_CANDIDATES = 12
MOST_OFFERED = 6
CRUMB_MM3 = 5.0
"""A way that leaves a smaller bait is not offered."""
FILM_MM = 0.01
"""What is thinner is no vent but the rounding of the mesh: a printer leaves a wider gap everywhere."""
SHALLOW_MM = 0.5
"""A feed that is less deep, all in all, is none."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Flow:
    """The plastic in one piece without its vents, and its tree; `sure` if every gate is clearly narrow."""

    plastic: Solid
    tree: Tree
    pitch_mm: float
    sure: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Parted:
    """One piece of plastic in its parts; `gates[k]` are the cuts into baits[k]."""

    baits: tuple[mesh.Body, ...]
    gates: tuple[tuple[Cut, ...], ...]
    runner: mesh.Body
    vents: tuple[tuple[mesh.Body, Cut, Mouth], ...]
    vent_of: tuple[int | None, ...]
    """Bait that each vent drains."""
    flow: Flow
    runner_gates: int
    """Gates at the runner itself, which begins at the sprue's mouth."""
    links: tuple[mesh.Body, ...] = ()
    """What leads from one bait to another, with a gate at each of its ends."""
    risers: tuple[mesh.Body, ...] = ()
    """What told gates cut off besides: risers, second sprues, overflows."""
    moved: tuple[tuple[Cut, float], ...] = ()
    """Told gates that are taken so many mm before their place: there the bait bulges into their plane."""
    wells: tuple[Array, ...] = ()
    """Where a vent widens on its way: an overflow well, a cold slug, a ball for the air."""
    has_web: bool = False
    """True where a thin web of a bait was cut out, as a vent from one bait to another would be."""

    @property
    def feed(self) -> mesh.Body:
        """Sprue, runner, links and risers."""
        return mesh.union([self.runner, *self.links, *self.risers])

    def is_fed(self, sprue: Mouth) -> bool:
        """False where a gate lies in the sprue's mouth, as that of a bait poured into its open end does."""
        return bool(self.runner.volume() > SHALLOW_MM * sprue.area_mm2)

    def vents_of(self, bait: int, only_open: bool = False) -> list[tuple[mesh.Body, Cut]]:
        """The vents that drain a bait, or only those that lead outside, each with its end there."""
        drained = zip(self.vents, self.vent_of, strict=True)
        mine = [vent for vent, of in drained if of == bait]
        return [(body, cut) for body, cut, mouth in mine if not (only_open and mouth.ends == "blind")]


class Unsure(Exception):  # noqa: N818 - a state of the reading, turned into a Problem by the caller
    """The plastic cannot be parted without a hint; carries the ways to part it that work."""

    def __init__(self, ways: Sequence[Parted] = ()) -> None:
        """Keep the ways."""
        super().__init__("gates not sure")
        self.ways = tuple(ways)


def pitch_for(volume_mm3: float, declared: float | None) -> float:
    """Voxel pitch (mm): a quarter of a million voxels, within 0.2 and 0.6 mm."""
    if declared is not None:
        return declared
    return float(np.clip((volume_mm3 / VOXELS) ** (1 / 3), FINEST_MM, COARSEST_MM))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Grown:
    """A piece of plastic with its vents and its flow tree, before any number of baits is asked for."""

    piece: Piece
    sprue: Mouth
    vents: tuple[tuple[Mouth, Cut], ...]
    lands: tuple[Cut, ...]
    bridges: tuple[tuple[int, int], ...]
    wells: tuple[Array, ...]
    plastic: Solid
    tree: Tree
    pitch_mm: float
    refined: dict[tuple[int, tuple[int, int]], Cut | None] = field(default_factory=dict)
    """The exact cuts at necks and ways through them: each number of baits asks for the same ones."""

    @property
    def mouth_mm(self) -> float:
        """Half the width of the sprue's mouth: that far its own face, which is no wall, is felt."""
        return self.sprue.diameter_mm / 2

    def refine(self, neck: Neck, forward: bool) -> Cut | None:
        """The exact cut near a neck, its normal into the bait, which the flow enters there or leaves."""
        return self._refined(neck.node, neck.way if forward else neck.way[::-1])

    def refine_at(self, node: int) -> Cut | None:
        """The exact cut near a node on the flow's way."""
        reach = max(float(self.tree.radius_mm[node]), 0.3)
        return self._refined(node, (self.tree.upstream(node, 2.5 * reach), self.tree.downstream(node, reach)))

    def _refined(self, node: int, way: tuple[int, int]) -> Cut | None:
        if (node, way) not in self.refined:
            self.refined[node, way] = _refine(self, node, way)
        return self.refined[node, way]

    def cut_at(self, gates: Sequence[Cut], sure: bool, told: bool = False) -> Parted:
        """The piece cut at gates and at its vents; raises Unsure where the gates part nothing.

        Only gates that are `told` may feed a bait through another one.
        """
        parts = cuts.apart(self.piece.body, [*gates, *(cut for _, cut in self.vents), *self.lands])
        flow = Flow(plastic=self.plastic, tree=self.tree, pitch_mm=self.pitch_mm, sure=sure)
        return replace(_sorted(parts, gates, self, flow, told), wells=self.wells)


def grown(piece: Piece, sprue: Mouth, pitch_mm: float, bridged: bool = True) -> Grown:
    """The piece's vents and flow tree; vents from one bait to another, or webs like them, if `bridged`."""
    outlets = pockets.outlets(piece, sprue, bridged)
    clean = cuts.apart(piece.body, [*(cut for _, cut in outlets.vents), *outlets.lands])
    plastic = mesh.solid(clean[0].body, "plastic")
    return Grown(
        piece=piece,
        sprue=sprue,
        vents=outlets.vents,
        lands=outlets.lands,
        bridges=outlets.bridges,
        wells=outlets.wells,
        plastic=plastic,
        tree=_tree(plastic, sprue, pitch_mm),
        pitch_mm=pitch_mm,
    )


def part(made: Grown, wanted: int, told: Sequence[tuple[Array, Array]] = (), offering: bool = True) -> Parted:
    """The plastic cut at `wanted` baits' gates and at its vents. `told` are hinted gates (point, normal).

    Raises Unsure, with the ways that work if it is `offering` them.
    """
    try:
        parted = _part(made, wanted, told, offering)
    except Unsure as unsure:
        finer = _finer(made) if offering and not told and 1 < wanted <= MOST_BAITS else None
        if finer is None:
            raise
        try:
            parted = _part(finer, wanted, told, offering=False)
        except Unsure:
            raise unsure from None  # what the coarse grid offers
    if not parted.has_web:
        return parted
    return _part(grown(made.piece, made.sprue, made.pitch_mm, bridged=False), wanted, told, offering)


@lru_cache(maxsize=1)
def _finer(made: Grown) -> Grown | None:
    """The piece on a finer grid, which shows necks in flat runners; None where that is too large."""
    finest = made.pitch_mm * (voxels.cells(made.plastic, made.pitch_mm) / MOST_CELLS) ** (1 / 3)
    pitch_mm = max(FINER_SHARES[0] * made.pitch_mm, finest)
    if pitch_mm > FINER_SHARES[1] * made.pitch_mm:
        return None
    return replace(made, tree=_tree(made.plastic, made.sprue, pitch_mm), pitch_mm=pitch_mm, refined={})


def _part(made: Grown, wanted: int, told: Sequence[tuple[Array, Array]], offering: bool) -> Parted:
    """The plastic cut, its webs among the vents."""
    if told:
        found = [cuts.before_bulge(made.plastic, at, normal) for at, normal in told]
        parted = made.cut_at([cut for cut, _ in found if cut is not None], True, told=True)
        moved = [(cut, before_mm) for cut, before_mm in found if cut is not None and before_mm]
        return replace(parted, moved=tuple(moved))
    try:
        parted = made.cut_at(*_found(made, wanted))
        doubted = any(offers.is_open_end(cut, made.sprue) for gates in parted.gates for cut in gates)
        if len(parted.baits) == wanted and parted.is_fed(made.sprue) and not doubted:
            return parted
    except Unsure:
        pass
    ways = (_tried(made.cut_at, way, wanted) for way in _ways(made, wanted)) if offering else ()
    raise Unsure(list(islice((parted for parted in ways if parted is not None), MOST_OFFERED)))


def _tried(
    cut_at: Callable[[Sequence[Cut], bool, bool], Parted], way: Sequence[Cut], wanted: int
) -> Parted | None:
    """The plastic as a way parts it, None if not into so many baits: what is offered has been tried."""
    try:
        parted = cut_at(way, True, True)
    except Unsure:
        return None
    held = [bait.volume() for bait in parted.baits]
    is_tip = sum(held) < NO_BAIT * parted.runner.volume() or min(held) < CRUMB_MM3
    several = wanted == 1 and len(parted.baits) == len(way)
    return parted if (several or len(parted.baits) == wanted) and not is_tip else None


def _ways(made: Grown, wanted: int) -> list[list[Cut]]:
    """Gates that may part the plastic: the likeliest choices, for one bait each neck, and the mouth.

    Also for one bait: all gates that lie side by side, as those of several baits do.
    """
    segs = segments(made.tree, CONTRASTS[-1], made.mouth_mm)
    likely = choices(segs, wanted) or choices(segs, wanted, TINY_BAIT) or in_a_row(segs, wanted)
    several = side_by_side(segs) if wanted == 1 else None
    found: list[list[Cut]] = []
    for choice in [*([several] if several else []), *likely][:MOST_OFFERED]:
        way = [cut for gate in choice.gates if (cut := made.refine(gate.neck, gate.forward)) is not None]
        if len(way) == len(choice.gates):
            found += map(offers.distinct, _as_narrow(made, choice.gates, way))
    if wanted == 1:
        faint = segments(made.tree, FAINTEST, made.mouth_mm)
        found += [[cut] for cut in _candidates(made, faint)]
    kept: list[list[Cut]] = []
    for way in found:
        if way and not any(offers.same_way(way, old) for old in kept):
            kept.append(way)
    return kept


def _tree(plastic: Solid, sprue: Mouth, pitch_mm: float) -> Tree:
    """The flow tree from the sprue's mouth."""
    grid = voxels.fill(plastic, pitch_mm)
    return grow(grid, seeds.at_mouth(grid, sprue))


def _found(made: Grown, wanted: int) -> tuple[list[Cut], bool]:
    """Cuts at the likeliest necks, and whether they are beyond doubt; raises Unsure with the candidates."""
    tree, mouth_mm = made.tree, made.mouth_mm
    for contrast in CONTRASTS:
        segs = segments(tree, contrast, mouth_mm)
        ways = choices(segs, wanted)
        if ways and ways[0].cost < DOUBT and _clear(ways) and not _rivalled(tree, ways[0], wanted, mouth_mm):
            found = [made.refine(gate.neck, gate.forward) for gate in ways[0].gates]
            cuts_there = [cut for cut in found if cut is not None]
            if len(cuts_there) == len(found):
                if len(_as_narrow(made, ways[0].gates, cuts_there)) > 1:
                    break
                return cuts_there, contrast == CONTRASTS[0]
    raise Unsure


def _as_narrow(made: Grown, gates: Sequence[Gating], found: Sequence[Cut]) -> list[list[Cut]]:
    """The gates, and with those in their place that rival them before or behind, the likeliest way first."""
    start_mm = START_RADII * made.mouth_mm
    before, behind, narrower = list(found), list(found), False
    for k, (gate, cut) in enumerate(zip(gates, found, strict=True)):
        if not gate.forward:
            continue
        node, area = gate.neck.node, float(cut.polygon.area)
        shared = rivals.feeding(made.tree, (one.neck.node for one in gates if one is not gate))
        earlier = rivals.before(made.tree, node, area, made.pitch_mm, start_mm, shared=shared)
        later = rivals.behind(made.tree, node, area, made.pitch_mm)
        for way, there, most in ((before, earlier, rivals.AS_NARROW), (behind, later, rivals.BEHIND)):
            rival = None if there is None else made.refine_at(there)
            if rival is None or any(np.linalg.norm(rival.at - one.at) < offers.SAME_MM for one in found):
                continue
            if rival.polygon.area < most * area:
                way[k] = rival
        fan_end = cuts.end_of_fan(made.plastic, cut)
        if fan_end is not None and np.linalg.norm(fan_end.at - cut.at) > offers.SAME_MM:
            behind[k], narrower = fan_end, True
        narrower |= behind[k].polygon.area < rivals.CLEARLY * area or (
            behind[k] is not cut and rivals.runs_long(made.tree, node, later, made.pitch_mm)
        )
    own = list(found)
    likeliest = [way for way in (before, behind if narrower else own) if not offers.same_way(way, own)]
    ways = [*likeliest, own, behind]
    return [way for k, way in enumerate(ways) if not any(offers.same_way(way, old) for old in ways[:k])]


def _clear(ways: Sequence[Choice]) -> bool:
    """True if the next best choice costs clearly more."""
    return len(ways) < 2 or ways[1].cost - ways[0].cost > (LOOP_DOUBT if ways[0].looped else DOUBT / 2)


def _rivalled(tree: Tree, chosen: Choice, wanted: int, mouth_mm: float) -> bool:
    """True if a parting at fainter necks before the chosen gates is as good and leaves much more bait."""
    rivals = choices(segments(tree, FAINT, mouth_mm), wanted)
    return any(
        rival.cost < DOUBT and rival.volume_mm3 > RIVAL_SHARE * chosen.volume_mm3 for rival in rivals[:1]
    )


def _candidates(made: Grown, segs: Segments) -> list[Cut]:
    """Cuts at all necks that something of size lies beyond, the largest first, and one at the mouth."""
    beyond = made.tree.beyond_mm3()
    necks = sorted(segs.necks, key=lambda neck: (-beyond[neck.node], neck.node))[:MOST_CANDIDATES]
    found = [made.refine(neck, True) for neck in necks]
    return [
        *(cut for cut in found if cut is not None),
        *offers.along(made.plastic, made.tree, made.sprue),
        *offers.at_mouth(made.plastic, made.sprue),
    ]


def _refine(made: Grown, node: int, way: tuple[int, int]) -> Cut | None:
    """The exact narrowest section near a node, across the way from one node to another."""
    tree, (start, end) = made.tree, way
    axis = tree.at_mm[end] - tree.at_mm[start]
    length = float(np.linalg.norm(axis))
    reach = 2 * max(float(tree.radius_mm[node]), 0.3) + 0.5
    if length == 0:
        return None
    mouth = made.sprue.at, made.sprue.normal
    return cuts.narrowest(made.plastic, tree.at_mm[node], axis / length, reach, mouth)


def _sorted(parts: Sequence[Part], gates: Sequence[Cut], made: Grown, flow: Flow, told: bool) -> Parted:
    """Each part as bait, runner or vent by the cuts it touches; links between baits are runner."""
    own = set(range(len(gates)))
    baits = sorted((p for p in parts if own & set(p.after)), key=lambda p: min(own & set(p.after)))
    fore = [p for p in parts if own & set(p.before) and p not in baits]
    leading_on = [p for p in baits if own & set(p.before)]
    if not fore or (leading_on and not told) or any(set(p.before) & set(p.after) for p in leading_on):
        raise Unsure
    runner = seeds.part_at(fore, made.sprue)
    others = [p for p in fore if p is not runner and not p.after]
    outlets, drained = [], []
    for k, (mouth, cut) in enumerate(made.vents):
        number = len(gates) + k
        body = next((p.body for p in parts if number in p.after), None)
        apart = all(body is not p.body for p in (*baits, runner))  # else it runs into a gap behind the bait
        if body is not None and apart and mouth.diameter_mm >= FILM_MM:
            outlets.append((body, cut, mouth))
            drained.append(next((i for i, p in enumerate(baits) if number in p.before), None))
    return Parted(
        baits=tuple(p.body for p in baits),
        gates=tuple(tuple(gates[k] for k in p.after if k in own) for p in baits),
        runner=runner.body,
        vents=tuple(outlets),
        vent_of=tuple(drained),
        flow=flow,
        runner_gates=len(own.intersection(runner.before)),
        links=tuple(p.body for p in others if len(own.intersection(p.before)) > 1),
        risers=tuple(p.body for p in others if len(own.intersection(p.before)) == 1),
        has_web=any(_is_web(parts, len(gates), len(made.vents), *bridge) for bridge in made.bridges),
    )


def _is_web(parts: Sequence[Part], gates: int, vents: int, vent: int, land: int) -> bool:
    """True if both ends of a vent between baits are in one part."""
    here = [part for part in parts if gates + vent in part.before]
    return any(gates + vents + land in part.after for part in here)
