"""The flow tree on the grid, held against the plainest way of finding the same: neighbour by neighbour."""

from __future__ import annotations

import math
from collections import Counter
from itertools import pairwise, product

import numpy as np
import pytest
import shapely
from manifold3d import Manifold, OpType
from scipy.ndimage import gaussian_filter

from builder import mesh
from builder.measure.cavity import void
from builder.measure.flow_tree import venting
from builder.measure.flow_tree.stations import Sweep, thinnest
from builder.measure.flow_tree.tree import LEVEL_VOXELS, Tree, grow
from builder.measure.flow_tree.voxels import CHAMFER, FAR, Grid, distances, fill
from builder.mesh import cuts
from builder.model import Solid
from tests.shapes import box

Cell = tuple[int, ...]
STEPS = [step for step in product((-1, 0, 1), repeat=3) if any(step)]


def sponge(seed: int) -> tuple[Grid, np.ndarray]:
    """Plastic with holes and islands, and a few voxels of it to start from."""
    rng = np.random.default_rng(seed)
    inside = np.zeros((14, 12, 16), np.bool_)
    noise = gaussian_filter(rng.normal(size=(10, 8, 12)), rng.uniform(0.5, 1.5))
    inside[2:-2, 2:-2, 2:-2] = noise > rng.uniform(-0.1, 0.05)
    seeds = rng.choice(np.flatnonzero(inside), 3, replace=False)
    return Grid(inside=inside, origin=np.array([1.0, 2.0, 3.0]), pitch_mm=0.5), seeds


def pieces(level: dict[Cell, int]) -> dict[Cell, int]:
    """For each voxel the number of its piece: what is reached from it within its level."""
    found: dict[Cell, int] = {}
    for start in level:
        waiting, number = [start], len(set(found.values()))
        while waiting:
            here = waiting.pop()
            if here not in found:
                found[here] = number
                waiting += [near for near in around(here) if level.get(near) == level[here]]
    return found


def around(cell: Cell) -> list[Cell]:
    return [tuple(a + b for a, b in zip(cell, step, strict=True)) for step in STEPS]


def links(tree: Tree) -> set[tuple[int, int]]:
    parents = {(int(parent), node) for node, parent in enumerate(tree.parent) if parent >= 0}
    return parents | {(int(one), int(two)) for one, two in tree.joins}


@pytest.mark.parametrize("seed", range(12))
def test_nodes_and_links_are_those_that_neighbours_make_one_by_one(seed: int) -> None:
    grid, seeds = sponge(seed)
    way = distances(grid, seeds).reshape(grid.inside.shape)
    wet = [tuple(int(n) for n in cell) for cell in np.argwhere(way != FAR)]
    level = {cell: int(way[cell]) // (CHAMFER * LEVEL_VOXELS) for cell in wet}
    piece = pieces(level)
    first = {number: cell for cell, number in reversed(piece.items())}
    rank = {number: n for n, number in enumerate(sorted(first, key=lambda k: (level[first[k]], first[k])))}
    touching = Counter(
        (rank[piece[cell]], rank[piece[near]])
        for cell in wet
        for near in around(cell)
        if near in level and level[near] > level[cell]
    )
    tree = grow(grid, seeds)
    sizes = Counter(rank[number] for number in piece.values())
    assert tree.volume_mm3 == pytest.approx([sizes[n] * 0.5**3 for n in range(len(sizes))])
    assert links(tree) == set(touching)
    for node, parent in enumerate(tree.parent):
        mine = {one: count for (one, two), count in touching.items() if two == node}
        assert (parent == -1) == (not mine)
        assert not mine or mine[int(parent)] == max(mine.values())


def test_a_section_far_thinner_than_the_grid_says_is_not_the_limbs() -> None:
    """A rod without its outline from x = 8 to 12, and beside it a sliver that does close there."""
    rod = mesh.placed(Manifold.cylinder(20.0, 0.6, 0.6, 24), mesh.frame((1.0, 0.0, 0.0)).T, np.zeros(3))
    sliver = Manifold.cube((6.0, 0.2, 0.02)).translate((7.0, 0.0, 0.62))
    grid = fill(mesh.solid(rod, "rod"), 0.3)
    whole = mesh.solid(rod.refine_to_length(1.0) + sliver, "rod and sliver")
    middle = whole.vertices[whole.faces].mean(axis=1)
    gone = (abs(middle[:, 0] - 10.0) < 2.0) & (middle[:, 2] < -0.3)
    torn = Solid(name="torn", vertices=whole.vertices, faces=whole.faces[~gone])
    start = np.flatnonzero(grid.inside)
    tree = grow(grid, start[grid.centres(start)[:, 0] < 0.5])
    sweep = Sweep(plastic=torn, tree=tree, pitch_mm=0.3)
    gate = cuts.across(mesh.solid(rod, "rod"), np.array([1.0, 0.0, 0.0]), np.array([1.0, 0.0, 0.0]))
    assert gate is not None
    (path,) = sweep.paths("1", (gate,), 0.02, ())
    assert min(here.thickness_mm for here in path.stations[:-1]) == pytest.approx(1.18, abs=0.02)
    assert max(here.s_mm for here in path.stations) > 15.0


def test_a_vent_ends_at_a_long_bait_that_comes_in_at_one_side_first() -> None:
    """The vent, 1.8 mm by 0.2 mm, meets the curved flank of a bait of 80 mm: at one edge 0.1 mm sooner."""
    bait = Manifold.sphere(1.0, 256).scale((40.0, 8.0, 6.0))
    vent = box((10.0, 5.0, 0.0), (11.8, 20.0, 0.2))
    piece = void.piece(bait + vent, {})
    mouth = void.Mouth(
        at=np.array([10.9, 20.0, 0.1]),
        normal=np.array([0.0, 1.0, 0.0]),
        polygon=shapely.box(-0.9, -0.1, 0.9, 0.1),
        area_mm2=0.36,
    )
    end = venting.first_end(mesh.solid(piece.body, "plastic"), mouth)
    assert end is not None
    assert end.polygon.area == pytest.approx(0.36)
    assert 7.74 < end.at[1] < 7.85  # the flank lies at y = 7.746 there
    assert len(cuts.apart(piece.body, [end])) == 2


TRUNK = box((38.0, -2.4, -1.5), (50.0, 2.4, 1.5))


def _waist_mm(tail: Manifold, trunk: Manifold = TRUNK) -> float | None:
    """The thinnest waist of a body 14 mm thick with a trunk (4.8 mm high, 3 mm thick) and a tail."""
    body = Manifold.sphere(7.0, 48).scale((3.0, 1.0, 1.0)).translate((20.0, 0.0, 0.0))
    bait = body + trunk + tail
    solid, along = mesh.solid(bait, "bait"), np.array([1.0, 0.0, 0.0])
    grid = fill(solid, 0.4)
    start = np.flatnonzero(grid.inside)
    tree = grow(grid, start[grid.centres(start)[:, 0] < 0.5])
    gate = cuts.across(solid, np.array([1.0, 0.0, 0.0]), along)
    assert gate is not None
    volume_ml = mesh.volume_ml(bait)
    sweep = Sweep(plastic=solid, tree=tree, pitch_mm=0.4)
    found, _ = thinnest(sweep, sweep.paths("1", (gate,), volume_ml, ()), volume_ml)
    return found.thickness_mm if found else None


def test_a_nose_that_is_narrower_than_its_gate_is_no_waist_of_the_bait() -> None:
    """The channel is 4 mm wide, the nose behind it 3.0, and 6 mm wide 2.5 mm farther on."""
    rings = [(-10.0, 2.0), (0.0, 2.0), (0.01, 1.5), (1.5, 1.7), (2.5, 3.0), (12.0, 6.0), (40.0, 1.0)]
    cones = [
        Manifold.cylinder(end - start, one, two, 44).rotate((0.0, 90.0, 0.0)).translate((start, 0.0, 0.0))
        for (start, one), (end, two) in pairwise(rings)
    ]
    bait = Manifold.batch_boolean(cones, OpType.Add)
    solid, along = mesh.solid(bait, "bait"), np.array([1.0, 0.0, 0.0])
    grid = fill(solid, 0.3)
    start = np.flatnonzero(grid.inside)
    tree = grow(grid, start[grid.centres(start)[:, 0] < -9.5])
    gate = cuts.across(solid, np.array([-0.3, 0.0, 0.0]), along)
    assert gate is not None
    sweep, volume_ml = Sweep(plastic=solid, tree=tree, pitch_mm=0.3), mesh.volume_ml(bait)
    assert thinnest(sweep, sweep.paths("1", (gate,), volume_ml, ()), volume_ml) == (None, "")


def test_the_waist_in_a_sharp_groove_is_that_at_its_bottom_and_not_that_of_the_nearest_section() -> None:
    """Five grooves of 1.25 mm to either side, 8 mm wide at the rim and 5 at the bottom: 44 sides, 4.987."""
    cones = [
        Manifold.cylinder(1.25, 4.0, 2.5, 44).translate((0.0, 0.0, 2.5 * k))
        + Manifold.cylinder(1.25, 2.5, 4.0, 44).translate((0.0, 0.0, 2.5 * k + 1.25))
        for k in range(5)
    ]
    rings = Manifold.batch_boolean(cones, OpType.Add).rotate((0.0, 90.0, 0.0)).translate((37.0, 0.0, 0.0))
    tail = Manifold.sphere(7.0, 48).scale((2.0, 1.0, 1.0)).translate((62.0, 0.0, 0.0))
    assert _waist_mm(tail, rings) == pytest.approx(5.0 * math.cos(math.pi / 44), abs=0.003)


def test_a_trunk_before_a_flat_paddle_is_a_waist_though_the_paddle_is_hardly_thicker() -> None:
    paddle = box((50.0, -9.0, -1.6), (56.0, 9.0, 1.6))
    assert _waist_mm(paddle) == pytest.approx(3.0, abs=0.02)


def test_a_waist_is_the_thinnest_though_less_than_a_hundredth_of_the_bait_lies_behind_it() -> None:
    """The trunk narrows to 2.4 mm and the tail behind it, 5.5 mm in all, ends flat: 0.5 % of the bait."""
    cone = Manifold.cylinder(12.0, 3.6, 1.2, 48).rotate((0.0, 90.0, 0.0)).translate((36.0, 0.0, 0.0))
    tail = Manifold.cylinder(2.5, 1.2, 2.2, 48).rotate((0.0, 90.0, 0.0)).translate((48.0, 0.0, 0.0))
    assert _waist_mm(tail + box((50.4, -2.2, -2.2), (51.0, 2.2, 2.2)), trunk=cone) == pytest.approx(
        2.4, abs=0.07
    )


def test_the_rounded_tip_of_a_bait_that_only_narrows_is_no_waist() -> None:
    cone = Manifold.cylinder(20.0, 4.0, 1.2, 48).rotate((0.0, 90.0, 0.0)).translate((36.0, 0.0, 0.0))
    assert _waist_mm(Manifold.sphere(1.25, 48).translate((56.0, 0.0, 0.0)), trunk=cone) is None


def test_a_tail_that_goes_on_as_thick_and_as_high_has_no_waist() -> None:
    assert _waist_mm(box((50.0, -2.6, -1.5), (56.0, 2.6, 1.5))) is None
