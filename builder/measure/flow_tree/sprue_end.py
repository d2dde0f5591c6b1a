"""The feed parted into sprue and runner."""

from __future__ import annotations

from dataclasses import dataclass

from builder import mesh
from builder.measure.cavity.void import Mouth
from builder.measure.flow_tree.necks import START_RADII
from builder.measure.flow_tree.split import Parted
from builder.measure.flow_tree.tree import Tree
from builder.mesh import cuts
from builder.mesh.cuts import Cut
from builder.model import Solid

WIDER_THAN_MOUTH = 1.2
"""A section so much wider than the mouth runs along a runner: a sprue narrows."""
BRANCH_SHARE = 0.1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Feed:
    """A sprue and the runner behind it, and the area of each that touches no mold: mouth and cuts."""

    sprue: mesh.Body
    sprue_open_mm2: float
    runner: mesh.Body | None = None
    runner_open_mm2: float = 0.0


def sprue_and_runner(parted: Parted, mouth: Mouth) -> Feed:
    """The feed cut where the way from the mouth stops narrowing; links between baits are runner."""
    gates_mm2 = sum(float(gate.polygon.area) for gates in parted.gates for gate in gates)
    cut = parts = None
    if parted.runner_gates > 1:
        cut = _sprue_cut(mesh.solid(parted.runner, "feed"), parted.flow.tree, mouth)
        parts = cuts.apart(parted.runner, [cut]) if cut else None
    before = [part.body for part in parts or () if part.before]
    after = [part.body for part in parts or () if not part.before]
    if cut is None or not before or not after:
        links = mesh.union(parted.links) if parted.links else None
        first_mm2 = gates_mm2 if links is None else float(parted.gates[0][0].polygon.area)
        return Feed(
            sprue=parted.runner,
            sprue_open_mm2=mouth.area_mm2 + first_mm2,
            runner=links,
            runner_open_mm2=gates_mm2 - first_mm2,
        )
    between = float(cut.polygon.area)
    return Feed(
        sprue=mesh.union(before),
        sprue_open_mm2=mouth.area_mm2 + between,
        runner=mesh.union([*after, *parted.links]),
        runner_open_mm2=between + gates_mm2,
    )


def _sprue_cut(feed: Solid, tree: Tree, mouth: Mouth) -> Cut | None:
    """The cut at the sprue's end; before a runner that the sprue meets from above, not along it."""
    node = _sprue_end(tree, mouth)
    while True:
        cut = cuts.across(feed, tree.at_mm[node], -mouth.normal)
        across = cut is not None and cut.polygon.area < WIDER_THAN_MOUTH * mouth.area_mm2
        if across or node == 0:
            return cut
        node = int(tree.parent[node])


def _sprue_end(tree: Tree, mouth: Mouth) -> int:
    """The last node before the first branching at which the radius still falls."""
    below, beyond = tree.children(), tree.beyond_mm3()
    node, best = 0, 0
    start = START_RADII * mouth.diameter_mm / 2
    while len(big := [child for child in below[node] if beyond[child] > BRANCH_SHARE * beyond[node]]) == 1:
        node = big[0]
        narrower = tree.radius_mm[node] < 0.98 * tree.radius_mm[best] or tree.way_mm[best] < start
        best = node if narrower else best
    return best


def modulus_mm(body: mesh.Body, open_mm2: float) -> float:
    """Volume over the surface that touches the mold, mm; `open_mm2` of the surface touches none."""
    return float(body.volume() / max(body.surface_area() - open_mm2, 1e-9))
