"""Walls between cavities, bolts and the outside, where the distances are known by construction."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import Manifold

from builder import mesh
from builder.measure.features.walls import Skin, closest, walls
from builder.model import Solid, Wall
from tests.shapes import Array, Hole, Mold, ball, box, open_mold, rod, two_halves, union
from tests.shapes_demo import quad_grub, reed_minnow


def read(shape: Manifold, name: str = "solid") -> Solid:
    return mesh.solid(shape, name)


def corners(shape: Manifold) -> Array:
    solid = read(shape)
    return np.asarray(solid.vertices[solid.faces])


def skin(shape: Manifold) -> Skin:
    return Skin.of("skin", corners(shape))


def inner_radius(shape: Manifold) -> float:
    """Distance of the nearest facet's plane from the origin."""
    a, b, c = np.moveaxis(corners(shape), 1, 0)
    normal = np.cross(b - a, c - a)
    return float((np.einsum("ij,ij->i", normal, a) / np.linalg.norm(normal, axis=1)).min())


def walls_of(mold: Mold) -> dict[str, Wall]:
    closed = union(part for _, part in mold.parts)
    hull = closed.hull()
    inside = union([*mold.baits, mold.feed, *mold.vents, *(hole.solid() for hole in mold.holes)])
    hollows = [piece for piece in (hull - closed - inside).decompose() if piece.volume() > 1.0]
    found = walls(
        [read(hull), *map(read, hollows)],
        [(f"bait {k + 1}", read(bait)) for k, bait in enumerate(mold.baits)],
        [read(hole.solid()) for hole in mold.holes],
        mold.open_pour,
    )
    return {wall.kind: wall for wall in found}


def block_with_two_rods() -> Mold:
    """Rods of 10 mm, 14 mm apart, in a block that is 7 mm wider; the bolt is 4.5 mm beside the second."""
    lower, upper = box((-10.0, -30.0, -13.0), (70.0, 26.0, 0.0)), box((-10.0, -30.0, 0.0), (70.0, 26.0, 12.0))
    baits = [rod((0.0, y, 0.0), (60.0, y, 0.0), 5.0) for y in (-18.0, 6.0)]
    feed = rod((-12.0, 6.0, 0.0), (1.0, 6.0, 0.0), 2.0)
    hole = Hole(at=(30.0, 18.0), diameter=5.0, bottom=-15.0, top=15.0)
    return two_halves("rods", lower=lower, upper=upper, baits=baits, feed=feed, holes=[hole])


def test_each_kind_of_wall_is_as_thick_as_it_was_drawn() -> None:
    found = walls_of(block_with_two_rods())
    thickness = {kind: wall.thickness_mm for kind, wall in found.items()}
    assert thickness == pytest.approx({"outside": 7.0, "cavity": 14.0, "bolt": 4.5, "back": 7.0}, abs=0.011)


def test_a_wall_names_what_it_parts_and_runs_between_them() -> None:
    found = walls_of(block_with_two_rods())
    assert found["outside"].names == ("bait 1", "outside")
    assert found["cavity"].names == ("bait 1", "bait 2")
    assert found["bolt"].names == ("bait 2", "bolt 1")
    assert found["back"].names[1] == "back"
    for wall in found.values():
        assert np.linalg.norm(np.subtract(wall.from_mm, wall.to_mm)) == pytest.approx(wall.thickness_mm)


def test_the_walls_of_an_open_mold_are_its_sides_and_its_back_not_its_pouring_face() -> None:
    bait = rod((0.0, 0.0, 0.0), (60.0, 0.0, 0.0), 5.0)
    found = walls_of(open_mold("open", block=box((-8.0, -14.0, -11.0), (69.0, 11.0, 0.0)), baits=[bait]))
    assert {kind: wall.thickness_mm for kind, wall in found.items()} == pytest.approx(
        {"outside": 6.0, "back": 6.0}, abs=0.011
    )


def test_the_minnows_walls_are_those_of_its_drawing() -> None:
    found = walls_of(reed_minnow())
    assert found["back"].thickness_mm == pytest.approx(17.0 - 8.5, abs=1e-3)
    assert found["cavity"].thickness_mm == pytest.approx(2 * (19.0 - 11.5), abs=1e-2)


@pytest.mark.slow
def test_every_cavity_of_a_tree_is_compared_with_every_other() -> None:
    assert walls_of(quad_grub())["cavity"].thickness_mm == pytest.approx(26.0 - 2 * 6.8233, abs=1e-2)


@given(
    at=st.tuples(*[st.floats(-40, 40) for _ in range(3)]).filter(lambda p: np.linalg.norm(p) > 12),
    small=st.floats(1.0, 5.0),
)
@settings(max_examples=25, deadline=None)
def test_the_distance_of_two_balls_is_that_of_their_centres_less_the_radii(
    at: tuple[float, float, float], small: float
) -> None:
    """Faceting takes from either at most what its facets lie within its sphere."""
    one, two = ball((0.0, 0.0, 0.0), 6.0), ball(at, small)
    distance, here, there = closest(skin(one), skin(two))
    exact = float(np.linalg.norm(at)) - 6.0 - small
    lost = (6.0 + small) * (1 - inner_radius(ball((0.0, 0.0, 0.0), 1.0)))
    assert exact - 1e-9 <= distance <= exact + lost
    assert np.linalg.norm(here - there) == pytest.approx(distance)


@pytest.mark.parametrize("seed", range(4))
def test_the_distance_agrees_with_the_boolean_kernels_own(seed: int) -> None:
    """manifold3d's min_gap is an independent search over all pairs of facets."""
    rng = np.random.default_rng(seed)
    one = rod((0.0, 0.0, 0.0), tuple(rng.uniform(5, 20, 3)), 3.0, 1.0)
    two = Manifold.cube((7.0, 9.0, 3.0)).rotate(tuple(rng.uniform(0, 90, 3))).translate((30.0, -12.0, 5.0))
    assert closest(skin(one), skin(two))[0] == pytest.approx(one.min_gap(two, 100.0), abs=2e-3)


def test_a_notch_in_the_outline_is_the_nearest_outside() -> None:
    mold = block_with_two_rods()
    notch = box((20.0, -40.0, -20.0), (40.0, -26.5, 20.0))
    notched = dataclasses.replace(mold, parts=tuple((name, part - notch) for name, part in mold.parts))
    outside = walls_of(notched)["outside"]
    assert outside.thickness_mm == pytest.approx(3.5, abs=0.011)
    assert 20.0 <= outside.from_mm[0] <= 40.0
