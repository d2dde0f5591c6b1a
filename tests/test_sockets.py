"""Eye sockets and hook slots on baits whose recesses are known."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from manifold3d import Manifold

from builder import mesh
from builder.measure.features.sockets import eye_sockets, hook_slot
from builder.model import EyeSocket, Solid
from tests.shapes import Vec3, box, rod
from tests.shapes_baits import crawler, grub, minnow, stick, with_eyes, with_slot
from tests.shapes_files import binary_stl, triangles


def read(shape: Manifold) -> Solid:
    """As a file gives it, rounded to 32 bits."""
    return mesh.read(binary_stl(triangles(shape)), "bait.stl", "mm")[0]


def sockets(shape: Manifold) -> tuple[EyeSocket, ...]:
    return eye_sockets(read(shape))


@pytest.mark.parametrize("diameter", [3.0, 5.0, 6.0, 8.0])
def test_an_eye_on_each_side_is_found_with_its_diameter_and_place(diameter: float) -> None:
    found = sockets(with_eyes(minnow(), (14.0, 1.5), diameter, 1.5))
    assert [s.diameter_mm for s in found] == pytest.approx([diameter] * 2, abs=0.01)
    assert [s.normal[2] for s in found] == pytest.approx([-1.0, 1.0], abs=1e-6)
    assert [s.at_mm[:2] for s in found] == [pytest.approx((14.0, 1.5), abs=0.01)] * 2
    assert not any(s.breaks_out for s in found)


def test_the_depth_is_the_mean_height_of_the_wall() -> None:
    block = box((0.0, 0.0, 0.0), (30.0, 20.0, 10.0)) - rod((15.0, 10.0, 8.8), (15.0, 10.0, 12.0), 3.0)
    (found,) = sockets(block)
    assert (found.diameter_mm, found.depth_mm) == pytest.approx((6.0, 1.2), abs=0.01)
    assert found.at_mm == pytest.approx((15.0, 10.0, 8.8), abs=1e-3)


@pytest.mark.parametrize("deep_mm", [4.0, 26.0])
def test_a_hole_that_is_deeper_than_wide_is_that_of_a_pin_and_no_eye(deep_mm: float) -> None:
    """A wire of 1.6 mm that stays in the mold leaves its hole along the bait, from the nose on."""
    worm = rod((0.0, 0.0, 0.0), (60.0, 0.0, 0.0), 6.0)
    assert sockets(worm - rod((-1.0, 0.0, 0.0), (deep_mm, 0.0, 0.0), 0.8)) == ()


@pytest.mark.parametrize("past_edge", [-1.0, 0.0, 1.0])
def test_a_recess_that_breaks_out_of_the_side_is_measured_by_its_arc(past_edge: float) -> None:
    edge = box((0.0, 0.0, 0.0), (30.0, 20.0, 10.0))
    cut = rod((15.0, 20.0 + past_edge, 8.5), (15.0, 20.0 + past_edge, 12.0), 3.0)
    (found,) = sockets(edge - cut)
    assert found.breaks_out
    assert found.diameter_mm == pytest.approx(6.0, abs=0.02)
    assert found.at_mm[:2] == pytest.approx((15.0, 20.0 + past_edge), abs=0.02)


def test_an_eye_that_breaks_out_of_a_round_side_is_found_on_both_sides() -> None:
    found = sockets(with_eyes(stick(diameter=9.0), (15.0, 2.6), 4.0, 1.2))
    assert [s.diameter_mm for s in found] == pytest.approx([4.0, 4.0], abs=0.02)
    assert all(s.breaks_out for s in found)


@pytest.mark.parametrize("axis", [(1.0, 2.0, 3.0), (-2.0, 0.3, 0.1), (0.0, 0.0, -1.0)])
def test_turning_the_bait_changes_neither_diameter_nor_depth(axis: Vec3) -> None:
    bait = with_eyes(minnow(), (14.0, 1.5), 5.0, 1.0)
    straight = sockets(bait)
    turned = sockets(bait.transform(np.column_stack([mesh.frame(axis), [4.0, -7.0, 30.0]])))
    assert [s.diameter_mm for s in turned] == pytest.approx([s.diameter_mm for s in straight], abs=2e-3)
    assert sorted(s.depth_mm for s in turned) == pytest.approx(sorted(s.depth_mm for s in straight), abs=2e-3)


@pytest.mark.parametrize("sides", [12, 24, 96])
def test_a_coarsely_faceted_circle_gives_the_diameter_through_its_corners(sides: int) -> None:
    tool = Manifold.cylinder(5.0, 2.5, 2.5, sides).translate((15.0, 10.0, 9.0))
    (found,) = sockets(box((0.0, 0.0, 0.0), (30.0, 20.0, 10.0)) - tool)
    assert found.diameter_mm == pytest.approx(5.0, abs=0.01)


@pytest.mark.parametrize("drawn", [minnow, stick, grub, crawler])
def test_a_bait_without_eyes_has_none(drawn: Callable[[], Manifold]) -> None:
    assert sockets(drawn()) == ()


def test_a_square_recess_a_raised_disc_and_a_flat_end_are_no_sockets() -> None:
    block = box((0.0, 0.0, 0.0), (40.0, 20.0, 10.0))
    square = block - box((5.0, 5.0, 9.0), (11.0, 11.0, 12.0))
    raised = block + rod((20.0, 10.0, 9.0), (20.0, 10.0, 11.0), 3.0)
    end = rod((0.0, 0.0, 0.0), (40.0, 0.0, 0.0), 3.0)
    assert [sockets(shape) for shape in (square, raised, end)] == [(), (), ()]


def test_a_hook_slot_is_two_facing_walls_and_a_plain_bait_has_none() -> None:
    assert hook_slot(read(with_slot(minnow(), 30.0, 60.0, 2.0, 1.6)))
    assert not hook_slot(read(minnow()))
    assert not hook_slot(read(with_eyes(minnow(), (14.0, 1.5), 5.0, 1.0)))


def test_two_faces_of_a_thin_plate_are_no_slot() -> None:
    assert not hook_slot(read(box((0.0, 0.0, 0.0), (40.0, 20.0, 2.0))))
