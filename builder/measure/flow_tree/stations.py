"""Exact sections along every way of the flow, from the sprue's mouth to each extremity of each bait."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from builder import mesh
from builder.measure.cavity import void
from builder.measure.flow_tree.tree import LEVEL_VOXELS, Tree
from builder.mesh import cuts
from builder.mesh.cuts import Cut
from builder.model import FlowPath, Solid, Station

Array = NDArray[np.float64]

TIP_RADII = 2.0
"""A branch of the flow counts from a length of so many radii of where it leaves..."""
TIP_MM = 3.0
"""...and at least this."""
FEEDS_SHARE = 0.01
"""A narrowing that feeds less than this share of the bait from its beginning on is an end."""
VENT_REACH_MM = 12.0
"""An extremity this near to the inner end of a vent lets its air out."""
SPACING_RADII = 0.33
SLIVER_SHARE = 0.2
"""A section thinner than this share of the grid's sphere beside it is not the limb's."""
NUDGES = (0.0, 0.25, -0.25, 0.5, -0.5)
"""Where a section does not fit it is cut so many voxels farther on."""
REFINED, ROUNDS, SAMPLES, LEAST_SHARE = 8, 6, 7, 0.5
"""So many of the thinnest sections are looked for exactly between their neighbours, in so many rounds of
samples; a section with less of the first one's area is of another limb."""
FINEST_MM = 1e-4
BENDS = 2.0
"""Middles of neighbouring sections of a limb are no farther apart than so many times the way between."""
WIDENS, SPREADS = 1.1, 1.5
"""A section feeds something if the bait beyond it is thicker by this, or its sections are by this larger: a
flat paddle is hardly thicker than its trunk."""


@dataclass(slots=True, eq=False)
class Sweep:
    """The plastic in one piece with its flow tree; sections are cut once for each node."""

    plastic: Solid
    tree: Tree
    pitch_mm: float
    """Of the grid that the tree was made on."""
    cut_of: dict[int, Cut | None] = field(default_factory=dict)
    children: list[list[int]] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Children once."""
        self.children = self.tree.children()

    def paths(
        self,
        name: str,
        gates: tuple[Cut, ...],
        volume_ml: float,
        vents: tuple[Array, ...],
        corners: Array | None = None,
        *,
        others: Sequence[Cut] = (),
    ) -> tuple[FlowPath, ...]:
        """One path for each extremity beyond the gates; `vents` are the vents' inner ends in this bait.

        None leads out of the box round the `corners` that count for the bait's size: cracks go on there. None
        leads through a gate of the `others` into a bait that is fed through this one. Air leaves by the gates
        of such a bait, and of a riser, too.
        """
        entries = [gate for gate in gates if not self._leads_out(gate)]
        starts = [self._node_at(gate) for gate in entries]
        shut = {self._node_at(gate) for gate in others} - set(starts)
        shut |= {self._node_at(gate, -1.0) for gate in gates if self._leads_out(gate)}
        vents = (*vents, *(gate.at for gate in gates if self._leads_out(gate)))
        beyond = self.tree.beyond_mm3()
        inside = sum(beyond[start] for start in starts) - sum(
            beyond[end] for end in self._led_to(starts, shut)
        )
        scale = volume_ml / max(mesh.volume_ml(float(inside)), 1e-9)
        made = [
            self._path(gate, start, leaf, scale)
            for gate, start in zip(entries, starts, strict=True)
            for leaf in self._within(self._extremities(start, shut), corners)
        ]
        several = sum(1 for stations, _ in made if stations) > 1
        return tuple(
            FlowPath(
                name=f"{name}{_letter(k)}" if several else f"{name}_end",
                bait=name,
                stations=stations,
                gate_index=index,
                vented=any(
                    np.linalg.norm(vent - np.array(stations[-1].at_mm)) < VENT_REACH_MM for vent in vents
                ),
            )
            for k, (stations, index) in enumerate(made)
            if stations
        )

    def _leads_out(self, gate: Cut) -> bool:
        """True for a gate by which the flow leaves its bait, on to another or into a riser.

        The way is compared a little before and behind it: right at a flat end of the bait both are alike.
        """
        step = max(mesh.inscribed(gate.polygon)[0] / 2, LEVEL_VOXELS * self.pitch_mm)
        before, behind = (self._node_at(gate, side, step) for side in (-1.0, 1.0))
        return bool(self.tree.way_mm[behind] < self.tree.way_mm[before])

    def _led_to(self, starts: list[int], shut: set[int]) -> list[int]:
        """Those of the shut nodes that the flow from some starts comes to first."""
        found = []
        for node in sorted(shut):
            up = int(self.tree.parent[node])
            while up >= 0 and up not in starts and up not in shut:
                up = int(self.tree.parent[up])
            found += [node] if up in starts else []
        return found

    def _node_at(self, gate: Cut, side: float = 1.0, far_mm: float = 0.0) -> int:
        """The first node beyond a gate, or before it with a side of -1; that nearest to a place so far on."""
        ahead = side * ((self.tree.at_mm - gate.at) @ gate.normal)
        away = np.linalg.norm(self.tree.at_mm - gate.at - side * far_mm * gate.normal, axis=1)
        score = away + np.where(ahead > 0, 0.0, 5.0)
        return int(np.argmin(score))

    def _extremities(self, start: int, shut: set[int]) -> list[int]:
        """Ends of the branches beyond a node that are more than bumps, longest first, none behind `shut`."""
        depth = np.array(self.tree.way_mm)
        tip = np.arange(len(depth))
        for node in range(len(depth) - 1, 0, -1):
            up = self.tree.parent[node]
            if up >= 0 and node not in shut and depth[node] > depth[up]:
                depth[up], tip[up] = depth[node], tip[node]
        ends = [int(tip[start])]
        waiting = [start]
        while waiting:
            node = waiting.pop()
            for child in self.children[node]:
                if child in shut:
                    continue
                waiting.append(child)
                length = depth[child] - self.tree.way_mm[node]
                if tip[child] != tip[node] and length > max(TIP_RADII * self.tree.radius_mm[node], TIP_MM):
                    ends.append(int(tip[child]))
        return sorted(set(ends), key=lambda end: (-self.tree.way_mm[end], end))

    def _within(self, leaves: list[int], corners: Array | None) -> list[int]:
        """The leaves in the box round some corners; the first one where none is."""
        if corners is None:
            return leaves
        low, high = (corners.min(axis=0) - self.pitch_mm, corners.max(axis=0) + self.pitch_mm)
        at = self.tree.at_mm[leaves]
        inside = ((at > low) & (at < high)).all(axis=1)
        return [leaf for leaf, here in zip(leaves, inside, strict=True) if here] or leaves[:1]

    def _path(self, gate: Cut, start: int, leaf: int, scale: float) -> tuple[tuple[Station, ...], int]:
        """Stations from the mouth to a leaf with the gate's own among them, and the gate's index."""
        nodes = [leaf]
        while self.tree.parent[nodes[-1]] >= 0:
            nodes.append(int(self.tree.parent[nodes[-1]]))
        nodes = self._spaced(nodes[::-1])
        zero = float(self.tree.way_mm[start])
        before = self._stations([node for node in nodes if self.tree.way_mm[node] < zero], zero, scale)
        after = self._stations([node for node in nodes if self.tree.way_mm[node] >= zero], zero, scale)
        here = station(gate, 0.0, mesh.volume_ml(float(self.tree.beyond_mm3()[start]) * scale))
        return (*before, here, *after), len(before)

    def _stations(self, nodes: list[int], zero: float, scale: float) -> list[Station]:
        """Sections at nodes of a path, `zero` the way to the gate."""
        beyond, way = self.tree.beyond_mm3(), self.tree.way_mm
        cut = [(node, cut) for node in nodes if (cut := self._cut(node)) is not None]
        return [station(c, float(way[n]) - zero, mesh.volume_ml(float(beyond[n]) * scale)) for n, c in cut]

    def _spaced(self, nodes: list[int]) -> list[int]:
        """Nodes of a path, spaced by a third of the radius or more."""
        way, radius = self.tree.way_mm, self.tree.radius_mm
        kept = nodes[:1]
        for node in nodes[1:]:
            if node == nodes[-1] or way[node] - way[kept[-1]] > SPACING_RADII * radius[node]:
                kept.append(node)
        return kept

    def _cut(self, node: int) -> Cut | None:
        """The section at a node, across the smoothed way of the flow; None where none fits the grid."""
        if node not in self.cut_of:
            at, axis = self.tree.at_mm[node], self._axis(node)
            length = float(np.linalg.norm(axis))
            found = (
                cuts.across(self.plastic, at + share * self.pitch_mm * axis / length, axis / length)
                for share in NUDGES
                if length > 0
            )
            self.cut_of[node] = next((cut for cut in found if cut and self._fits(cut, node)), None)
        return self.cut_of[node]

    def narrowest(self, here: Station, path: FlowPath, known_mm: float = np.inf) -> Station:
        """The thinnest section between the stations before and behind one of a path.

        Its thickness is exact if it is less than one that is known, else no less than that.
        """
        cut = next((one for one in self.cut_of.values() if one and mesh.vec(one.at) == here.at_mm), None)
        k = path.stations.index(here)
        if cut is None or k + 1 == len(path.stations):
            return here
        before, behind = (self._apart_mm(here, path.stations[n]) for n in (k - 1, k + 1))
        along, least = _at_narrowest(self.plastic, cut, -before, behind)
        found = station(least.cut, here.s_mm + along, here.beyond_ml)
        return replace(found, thickness_mm=least.exact_mm(known_mm))

    @staticmethod
    def _apart_mm(here: Station, there: Station) -> float:
        """How far a neighbour's middle is: no farther than along the way, as it may lie in another limb."""
        straight = float(np.linalg.norm(np.subtract(here.at_mm, there.at_mm)))
        return min(straight, BENDS * abs(there.s_mm - here.s_mm))

    def _axis(self, node: int) -> Array:
        """From a little before a node to a little beyond it."""
        up, down = node, node
        reach = max(float(self.tree.radius_mm[node]), 1.5)
        while self.tree.parent[up] >= 0 and self.tree.way_mm[node] - self.tree.way_mm[up] < reach:
            up = int(self.tree.parent[up])
        while self.children[down] and self.tree.way_mm[down] - self.tree.way_mm[node] < reach:
            down = max(self.children[down], key=lambda child: float(self.tree.volume_mm3[child]))
        return np.asarray(self.tree.at_mm[down] - self.tree.at_mm[up])

    def _fits(self, cut: Cut, node: int) -> bool:
        """True if the section is as wide as the grid's sphere beside it needs: else it is not of this limb.

        The room round a point shrinks by no more than the way to the next one, here the level's thickness.
        """
        sphere = 2 * float(self.tree.radius_mm[node])
        least = max(sphere - 2 * LEVEL_VOXELS * self.pitch_mm, SLIVER_SHARE * sphere)
        round_mm = void.even_mm(cut.polygon.area)  # no circle within it is wider
        return not self.children[node] or (round_mm > least and mesh.inscribed(cut.polygon)[0] > least)


def _at_narrowest(plastic: Solid, cut: Cut, low_mm: float, high_mm: float) -> tuple[float, _Least]:
    """The thinnest section near a cut, so far along its normal, within a reach before and behind it."""
    least, along, known = _Least.of(cut), 0.0, set[float]()
    for _ in range(ROUNDS):
        for step in np.linspace(low_mm, high_mm, SAMPLES).tolist():
            if round(step, 9) in known:  # as the ends and the middle of most rounds are
                continue
            known.add(round(step, 9))
            there = cuts.across(plastic, cut.at + step * cut.normal, cut.normal)
            if there is None or there.polygon.area <= LEAST_SHARE * cut.polygon.area or least.fits(there):
                continue
            thinner = _Least.of(there)
            least, along = (thinner, step) if thinner.thick_mm < least.thick_mm else (least, along)
        step_mm = (high_mm - low_mm) / (SAMPLES - 1)
        low_mm, high_mm = along - step_mm, along + step_mm
    return along, least


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Least:
    """A section with the widest circle in it: its diameter, and its centre in space."""

    cut: Cut
    thick_mm: float
    centre: Array

    @classmethod
    def of(cls, cut: Cut) -> _Least:
        """A section's."""
        thick_mm, (x, y) = mesh.inscribed(cut.polygon)
        return cls(cut=cut, thick_mm=thick_mm, centre=cut.at + x * cut.turn[0] + y * cut.turn[1])

    def exact_mm(self, known_mm: float) -> float:
        """The diameter exactly if it is less than a known one, else no less than that."""
        polygon, at = self.cut.polygon, self.cut.turn[:2] @ (self.centre - self.cut.at)
        if self.thick_mm > known_mm or mesh.holds(polygon, at, known_mm, FINEST_MM):
            return max(self.thick_mm, known_mm)
        return mesh.inscribed(polygon, FINEST_MM)[0]

    def fits(self, there: Cut) -> bool:
        """True if the circle fits in a section with the same normal: the section is then no thinner."""
        here = shapely.Point(there.turn[:2] @ (self.centre - there.at))
        polygon = there.polygon
        return bool(
            polygon.contains(here) and 2 * polygon.boundary.distance(here) > self.thick_mm - FINEST_MM
        )


def station(cut: Cut, s_mm: float, beyond_ml: float) -> Station:
    """A section as the model's Station."""
    return Station(
        s_mm=s_mm,
        at_mm=mesh.vec(cut.at),
        area_mm2=float(cut.polygon.area),
        thickness_mm=mesh.inscribed(cut.polygon)[0],
        perimeter_mm=float(cut.polygon.length),
        beyond_ml=beyond_ml,
    )


def thinnest(sweep: Sweep, paths: tuple[FlowPath, ...], volume_ml: float) -> tuple[Station | None, str]:
    """The thinnest section between two thicker or larger ones beyond the gate, a trunk, and what it feeds.

    The gate itself is none, however thin; a bait that only narrows from its gate or its belly on has none.
    """
    least_ml = FEEDS_SHARE * volume_ml
    waists = [
        (here, path)
        for path in paths
        for narrowing in _narrowings(path.stations[path.gate_index :])
        if not _at_gate(narrowing, path.stations[path.gate_index])
        for here in narrowing
        if here.beyond_ml
        > (min(least_ml, _ball_ml(here)) if narrowing[-1].beyond_ml > least_ml else least_ml)
    ]
    waists.sort(key=lambda waist: waist[0].thickness_mm)
    best: Station | None = None
    found, known_mm = None, np.inf
    for here, path in waists[:REFINED]:
        looked = sweep.narrowest(here, path, known_mm)
        if looked.thickness_mm < known_mm:
            best, found, known_mm = looked, here, looked.thickness_mm
    return best, ", ".join(path.name for path in paths if found in path.stations)


def _narrowings(stations: Sequence[Station]) -> Iterator[Sequence[Station]]:
    """Sections of a path with wider ones before and behind them: those in a row together, the last first.

    One that is larger than both beside it is as large as the larger of them: its plane may run along the
    limb or through several, and does so in one of two mirrored baits.
    """
    own = np.array([(here.thickness_mm, here.area_mm2) for here in stations]).reshape(-1, 2)
    size = own / (WIDENS, SPREADS)
    size[1:-1, 1] = np.minimum(size[1:-1, 1], np.maximum(size[:-2, 1], size[2:, 1]))
    before, behind = np.maximum.accumulate(size), np.maximum.accumulate(size[::-1])[::-1]
    waist = np.flatnonzero((before > own).any(axis=1) & (behind > own).any(axis=1))
    for row in np.split(waist, np.flatnonzero(np.diff(waist) > 1) + 1)[::-1]:
        if len(row):
            yield [stations[k] for k in row[::-1]]


def _at_gate(narrowing: Sequence[Station], gate: Station) -> bool:
    """True for a narrowing no farther behind a gate than the gate is thick: the gate's own mouth."""
    return min(narrowing, key=lambda here: here.thickness_mm).s_mm < gate.thickness_mm


def _ball_ml(here: Station) -> float:
    """Volume (mL) of a ball hardly wider than a section: less behind it is but its rounded end."""
    return mesh.volume_ml(float(here.area_mm2**1.5))


def _letter(k: int) -> str:
    """a, b, ..., z, aa, ab, ..."""
    return (_letter(k // 26 - 1) if k >= 26 else "") + chr(ord("a") + k % 26)
