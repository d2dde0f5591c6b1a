"""Openings that go over an edge of the mold's outside are one, and those that only come near it are two."""

from __future__ import annotations

import numpy as np
import pytest
from manifold3d import CrossSection, Manifold

from builder.model import Measurement, Sprue
from tests.shapes import ball, box, rod, union
from tests.test_strangers import halves, measured, nothing, volumes

CORNER_MM = 46.0
"""The edge stands so far from the middle of the bait."""


def wedge(angle_deg: float) -> Manifold:
    """A block whose upright edge of this angle stands at x = 46, y = 0; the other end is square."""
    half = np.radians(angle_deg / 2)
    back = CORNER_MM - 26.0 / np.tan(half)
    outline = [(CORNER_MM, 0.0), (back, 26.0), (-46.0, 26.0), (-46.0, -26.0), (back, -26.0)]
    return Manifold.extrude(CrossSection([np.array(outline)]), 34.0).translate((0.0, 0.0, -17.0))


def bait() -> Manifold:
    """As long as its box, 60 mm, with blunt ends at x = -30 and x = 30."""
    return rod((-30.0, 0.0, 0.0), (30.0, 0.0, 0.0), 6.0)


def sprue_of(found: Measurement) -> Sprue:
    assert found.sprue is not None
    return found.sprue


EDGES = [(60.0, 0.0), (90.0, 1.0), (120.0, 0.0), (120.0, 1.0), (150.0, 1.0)]
"""The edge's angle in degrees, and how far beside the edge the middle of the opening lies, in mm."""


@pytest.mark.parametrize(("angle_deg", "aside_mm"), EDGES)
def test_a_vent_that_leaves_over_an_edge_is_one_vent(angle_deg: float, aside_mm: float) -> None:
    """The vent is 3 mm wide and 0.3 deep, its middle as far beside the edge as told."""
    vent = box((29.0, aside_mm - 1.5, 0.0), (47.0, aside_mm + 1.5, 0.3))
    feed = rod((-47.0, 0.0, 0.0), (-29.0, 0.0, 0.0), 4.0, 2.0)
    found = measured(halves(wedge(angle_deg), bait() + feed, upper=vent, lower=nothing()))
    assert len(found.vents) == 1
    assert found.vents[0].depth_mm == pytest.approx(0.3, abs=0.01)
    assert found.vents[0].width_mm == pytest.approx(3.0, rel=0.01)
    assert volumes(found) == pytest.approx([bait().volume() / 1000], rel=2e-3)
    assert found.baits[0].length_mm == pytest.approx(60.0, abs=0.2)


@pytest.mark.parametrize(("angle_deg", "aside_mm"), EDGES)
def test_a_sprue_that_enters_over_an_edge_is_read_without_a_question(
    angle_deg: float, aside_mm: float
) -> None:
    """The sprue narrows from 7 to 4.4 mm, its middle at the mouth as far beside the edge as told."""
    feed = rod((47.0, aside_mm, 0.0), (29.0, 0.0, 0.0), 3.5, 2.2)
    vent = box((-47.0, -1.5, 0.0), (-29.0, 1.5, 0.2))
    drawn = (feed - bait()) ^ wedge(angle_deg)
    found = measured(halves(wedge(angle_deg), bait() + feed, upper=vent, lower=nothing()))
    assert volumes(found) == pytest.approx([bait().volume() / 1000], rel=2e-3)
    assert found.baits[0].length_mm == pytest.approx(60.0, abs=0.2)
    assert sprue_of(found).volume_ml == pytest.approx(drawn.volume() / 1000, rel=0.015)
    assert sprue_of(found).mouth_diameter_mm == pytest.approx(6.7, abs=0.4)
    assert abs(sprue_of(found).direction[0]) > 0.8
    assert len(found.vents) == 1


def test_a_funnel_that_breaks_out_of_the_top_and_a_side_is_one_mouth() -> None:
    """The funnel, a ball of 9 mm, lies at the block's upper edge; the runner goes down to the bait."""
    block = box((-40.0, -20.0, -16.0), (40.0, 20.0, 16.0))
    feed = ball((-40.0, 0.0, 16.0), 9.0) + rod((-36.0, 0.0, 12.0), (-26.0, 0.0, 0.0), 2.0)
    plastic = bait().translate((2.0, 0.0, 0.0)) + feed
    found = measured(halves(block, plastic, upper=nothing(), lower=nothing()))
    assert volumes(found) == pytest.approx([bait().volume() / 1000], rel=5e-3)
    assert sprue_of(found).volume_ml == pytest.approx(((feed - bait()) ^ block).volume() / 1000, rel=0.03)
    assert not found.vents


def test_two_vents_on_either_side_of_an_edge_stay_two() -> None:
    """Each ends in its own face, 0.4 mm from the edge of 120 degrees."""
    vents = box((29.0, 0.4, 0.0), (47.0, 2.4, 0.2)) + box((29.0, -2.4, 0.0), (47.0, -0.4, 0.2))
    feed = rod((-47.0, 0.0, 0.0), (-29.0, 0.0, 0.0), 4.0, 2.0)
    found = measured(halves(wedge(120.0), bait() + feed, upper=vents, lower=nothing()))
    assert len(found.vents) == 2


def test_a_groove_across_the_mold_from_side_to_side_keeps_a_mouth_in_each() -> None:
    """The vent of 1 mm runs across behind the bait's tail, from y = -26 to y = 26."""
    vent = box((29.0, -0.5, 0.0), (34.0, 0.5, 0.3)) + box((33.0, -27.0, 0.0), (34.0, 27.0, 0.3))
    feed = rod((-47.0, 0.0, 0.0), (-29.0, 0.0, 0.0), 4.0, 2.0)
    block = box((-46.0, -26.0, -17.0), (46.0, 26.0, 17.0))
    found = measured(halves(block, bait() + feed, upper=vent, lower=nothing()))
    assert len(found.vents) == 2


def test_a_vent_over_each_edge_of_the_block_is_one_vent() -> None:
    """A square block; each of its faces has half of the mouths of two vents, which are 2 mm wide."""
    block = box((-40.0, -40.0, -14.0), (40.0, 40.0, 14.0))
    plastic = rod((0.0, 0.0, 0.0), (0.0, 0.0, 15.0), 3.0) + ball((0.0, 0.0, 0.0), 9.0)
    vents = union([box((8.0, -1.0, 0.0), (60.0, 1.0, 0.2)).rotate((0, 0, 45 + 90 * k)) for k in range(4)])
    found = measured(halves(block, plastic, upper=vents, lower=nothing()))
    assert [vent.width_mm for vent in found.vents] == pytest.approx([2.0] * 4, rel=0.01)
