"""The size of a bait in the parting plane: its length along the bait, and its height square to that."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from manifold3d import CrossSection, Manifold

from builder import mesh
from builder.model import Vec3
from tests.shapes import ball, box, union
from tests.test_strangers import halves, measured


def sizes(bait: Manifold, turn_deg: float = 0.0, gates: tuple[Vec3, ...] = ()) -> tuple[float, float]:
    """Length and height of the bait, laid into the mold at an angle."""
    solid = mesh.solid(bait.rotate((0.0, 0.0, turn_deg)), "bait")
    found = mesh.plan_box(solid, solid.vertices, gates)
    return found.length_mm, found.height_mm


def plate(points: list[tuple[float, float]]) -> Manifold:
    """A bait of one thickness with this outline."""
    return Manifold.extrude(CrossSection([np.array(points)]), 6.0)


def worm(radius_mm: float, long_mm: float) -> Manifold:
    """A round worm along x round the origin."""
    ball = Manifold.sphere(radius_mm, 48)
    far = long_mm / 2 - radius_mm
    return Manifold.batch_hull([ball.translate((x, 0.0, 0.0)) for x in (-far, far)])


@given(turn_deg=st.floats(0.0, 180.0), long=st.floats(40.0, 150.0), high=st.floats(8.0, 30.0))
def test_a_block_is_as_long_and_high_as_its_sides_however_it_lies(
    turn_deg: float, long: float, high: float
) -> None:
    block = plate([(0.0, 0.0), (long, 0.0), (long, high), (0.0, high)])
    assert sizes(block, turn_deg) == pytest.approx((long, high), rel=2e-3)


@given(turn_deg=st.floats(0.0, 180.0), long=st.floats(40.0, 150.0), high=st.floats(8.0, 30.0))
def test_a_round_bait_is_as_long_and_high_as_its_axes_however_it_lies(
    turn_deg: float, long: float, high: float
) -> None:
    angles = np.linspace(0.0, 2 * np.pi, 361)[:-1]
    rim = [(float(long / 2 * np.cos(a)), float(high / 2 * np.sin(a))) for a in angles]
    assert sizes(plate(rim), turn_deg) == pytest.approx((long, high), rel=2e-3)


def test_a_minnow_whose_tail_droops_is_no_higher_than_its_body() -> None:
    """A body 22 mm high and a tail whose corner lies below it: across the diagonal it would be 24.6 mm."""
    body = [(0.0, 0.0), (20.0, -11.0), (80.0, -11.0), (127.0, -9.0), (80.0, 11.0), (20.0, 11.0)]
    assert sizes(plate(body)) == pytest.approx((127.0, 22.0))


def test_fins_that_are_set_off_against_each_other_do_not_lean_the_height() -> None:
    """Fins from 11 mm to -10 mm: the smallest box round it is turned, and 20.6 mm high."""
    fins = box((0.0, 0.0, -0.8), (6.0, 11.0, 0.8)) + box((-6.0, -10.0, -0.7), (-1.0, 0.0, 0.7))
    assert sizes(worm(6.0, 80.0) + fins) == pytest.approx((80.0, 21.0))


def test_one_fin_does_not_lean_the_height() -> None:
    """A worm of 12 mm with a fin's tip 10 mm above its middle: the smallest box is 14.9 mm high."""
    tip = plate([(0.0, 0.0), (14.0, 0.0), (10.0, 10.0)]).translate((0.0, 0.0, -1.0))
    assert sizes(worm(6.0, 70.0) + tip) == pytest.approx((70.0, 16.0))


def test_a_craw_is_as_long_as_from_nose_to_claws_and_not_across_them() -> None:
    """Its claws spread to 33 mm: from a corner of the tail to the far claw it would be 72.7 mm."""
    half = [(-32.0, 5.0), (0.0, 8.0), (30.0, 16.5), (38.77, 11.0)]
    rim = [*((x, -y) for x, y in half), *half[::-1]]
    assert sizes(plate(rim)) == pytest.approx((70.77, 33.0))


def test_a_tail_that_curls_to_one_side_does_not_turn_a_bait_that_is_fed_straight() -> None:
    """Along its own mass the bait would be less than 30 mm high."""
    arc = [(40.0 + 20.0 * np.sin(k / 2), 14.0 * (1.0 - np.cos(k / 2))) for k in range(6)]
    tail = [worm(2.4, 5.0).translate((x, y, 0.0)) for x, y in arc]
    bait = union([worm(6.0, 84.0), *(Manifold.batch_hull(tail[k : k + 2]) for k in range(5))])
    low, high = np.array(bait.bounding_box()).reshape(2, 3)
    straight = sizes(bait, gates=((1.0, 0.0, 0.0),))
    assert straight == pytest.approx((high - low)[:2])


def test_a_craw_that_is_fed_aslant_lies_aslant() -> None:
    half = [(-32.0, 5.0), (0.0, 8.0), (30.0, 16.5), (38.77, 11.0)]
    craw = plate([*((x, -y) for x, y in half), *half[::-1]])
    gate = (float(np.cos(np.radians(15.0))), float(np.sin(np.radians(15.0))), 0.0)
    assert sizes(craw, 15.0, (gate,)) == pytest.approx((70.77, 33.0), rel=1e-3)


def turned(start: Vec3, end: Vec3, radius: float, end_radius: float, sides: int) -> Manifold:
    """A rod or a cone in the plane of the parting, of so many sides."""
    way = np.array(end) - np.array(start)
    made = Manifold.cylinder(float(np.linalg.norm(way)), radius, end_radius, sides).rotate((0.0, 90.0, 0.0))
    return made.rotate((0.0, 0.0, float(np.degrees(np.arctan2(way[1], way[0]))))).translate(start)


@pytest.mark.slow
@pytest.mark.parametrize("sides", [48, 64, 72])
def test_a_tube_is_as_long_as_drawn_though_a_film_lies_round_its_core_s_seat(sides: int) -> None:
    """Skirts of 55 mm on a comb of two pins: what rounding leaves round a pin made them 0.9 mm longer."""
    rings = [(-30.0, 1.5), (-29.5, 3.0), (-26.0, 5.0), (-18.0, 6.5), (25.0, 6.5)]
    feed, pins = [turned((-51.0, 0.0, 0.0), (-41.0, 0.0, 0.0), 4.0, 2.0, sides)], []
    for y in (-13.0, 13.0):
        feed += [turned((a, y, 0.0), (b, y, 0.0), one, two, 72) for (a, one), (b, two) in pairwise(rings)]
        feed.append(turned((-42.0, 0.0, 0.0), (-29.6, y, 0.0), 1.5, 1.1, 32))
        pins += [turned((-18.0, y, 0.0), (42.0, y, 0.0), 4.2, 4.2, sides), ball((-18.0, y, 0.0), 4.2)]
    comb = union([*pins, box((35.0, -22.0, -8.0), (50.0, 22.0, 8.0))])
    block = box((-50.0, -30.0, -14.0), (50.0, 30.0, 14.0))
    parts = halves(block, union(feed) - comb, upper=comb, lower=comb)
    found = measured([*parts, ("comb", "core", comb)], cavities=2)
    assert [bait.length_mm for bait in found.baits] == pytest.approx([55.0, 55.0], abs=0.03)
