"""Bolt holes, pockets, pins and engravings: what holds the halves, and what only looks like it."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from manifold3d import Manifold

from tests.shapes import ball, box, rod, union
from tests.test_strangers import halves, measured, volumes

Point = tuple[float, float]

CORNERS: list[Point] = list(product((-30.0, 30.0), (-19.0, 19.0)))


def block() -> Manifold:
    return box((-40.0, -26.0, -20.0), (40.0, 26.0, 20.0))


def plastic() -> Manifold:
    feed = rod((-45.0, 0.0, 0.0), (-17.0, 0.0, 0.0), 2.5)
    return union([rod((-18.0, 0.0, 0.0), (18.0, 0.0, 0.0), 8.0), feed])


def upright(at: Point, low: float, high: float, radius: float, sides: int = 0) -> Manifold:
    """A hole, round or of so many sides."""
    return Manifold.cylinder(high - low, radius, radius, sides or 64).translate((*at, low))


def backs() -> dict[str, Manifold]:
    """A block whose two backs bulge as spheres, and one whose edges are rounded off."""
    bulge = ball((0.0, 0.0, -100.0), 118.0) ^ ball((0.0, 0.0, 100.0), 118.0)
    balls = [ball(at, 12.0) for at in product((-28.0, 28.0), (-14.0, 14.0), (-8.0, 8.0))]
    return {"domed": block() ^ bulge, "rounded": Manifold.batch_hull(balls)}


@pytest.mark.slow
@pytest.mark.parametrize("back", ["domed", "rounded"])
def test_bolt_holes_through_a_back_that_is_not_flat_are_found(back: str) -> None:
    holes = union(upright(at, -40.0, 40.0, 2.25) for at in CORNERS)
    found = measured(halves(backs()[back], plastic(), upper=holes, lower=holes))
    places = sorted(found.bolts, key=lambda bolt: [round(place) for place in bolt.at_mm])
    assert [bolt.at_mm[:2] for bolt in places] == [pytest.approx(at, abs=0.02) for at in CORNERS]
    assert [bolt.diameter_mm for bolt in found.bolts] == [pytest.approx(4.5, rel=0.01)] * 4
    assert all(bolt.through for bolt in found.bolts)


@pytest.mark.slow
def test_a_nut_trap_in_a_domed_back_belongs_to_its_hole() -> None:
    holes = union(upright(at, -40.0, 40.0, 2.25) for at in CORNERS)
    traps = union(upright(at, -40.0, -8.0, 4.0, sides=6) for at in CORNERS)
    found = measured(halves(backs()["domed"], plastic(), upper=holes, lower=holes + traps))
    assert [bolt.nut_trap_mm for bolt in found.bolts] == [pytest.approx(8.0 * 0.75**0.5, rel=0.01)] * 4


@pytest.mark.slow
@pytest.mark.parametrize("at_mm", [19.0, 14.0], ids=["bosses in the wall", "bosses that stand alone"])
def test_bolt_holes_in_bosses_of_a_shell_that_is_backed_with_plaster_go_right_through(at_mm: float) -> None:
    """Both backs are trays 8 mm deep with a boss round each hole, which its floor would cut in three."""
    corners = [(x, at_mm * y / 19.0) for x, y in CORNERS]
    holes = union(upright(at, -40.0, 40.0, 2.25) for at in corners)
    bosses = union(upright(at, -40.0, 40.0, 5.0) for at in corners)
    trays = [box((-36.0, -22.0, low), (36.0, 22.0, low + 8.0)) - bosses for low in (-20.0, 12.0)]
    found = measured(halves(block(), plastic(), lower=holes + trays[0], upper=holes + trays[1]))
    assert [bolt.diameter_mm for bolt in found.bolts] == [pytest.approx(4.5, rel=0.01)] * 4
    assert [bolt.length_mm for bolt in found.bolts] == [pytest.approx(40.0, abs=0.01)] * 4
    assert all(bolt.through for bolt in found.bolts)


@pytest.mark.slow
def test_deep_counterbores_on_both_sides_belong_to_the_short_hole_between_them() -> None:
    corners = CORNERS[:2]
    holes = union(upright(at, -40.0, 40.0, 2.25) for at in corners)
    above, below = (union(upright(at, *ends, 4.5) for at in corners) for ends in ((4.0, 40.0), (-40.0, -4.0)))
    found = measured(halves(block(), plastic(), lower=holes + below, upper=holes + above))
    assert [bolt.diameter_mm for bolt in found.bolts] == [pytest.approx(4.5, rel=0.01)] * 2


@pytest.mark.slow
def test_pockets_in_a_back_are_no_bolt_holes_and_a_blind_hole_into_the_other_half_is_one() -> None:
    screw = upright(CORNERS[0], -12.0, 40.0, 2.0)
    pockets = union(
        upright((x, y), 14.0, 30.0, 4.2, sides=6) for x in (-16.0, -7.0, 2.0, 11.0) for y in (-5.0, 4.0)
    )
    found = measured(halves(block(), plastic(), upper=screw + pockets, lower=screw))
    (bolt,) = found.bolts
    assert bolt.at_mm[:2] == pytest.approx(CORNERS[0], abs=0.02)
    assert not bolt.through
    back = min(wall.thickness_mm for wall in found.walls if wall.kind == "back")
    assert back == pytest.approx(14.0 - 8.0, abs=0.05)


@pytest.mark.slow
def test_a_ring_engraved_in_the_parting_face_is_no_pin() -> None:
    letter = upright(CORNERS[1], -0.6, 0.5, 4.0) - upright(CORNERS[1], -1.0, 1.0, 2.6)
    pin, socket = upright(CORNERS[2], -1.0, 5.0, 2.5), upright(CORNERS[2], -1.0, 5.3, 2.65)
    (_, _, lower), (_, _, upper) = halves(block(), plastic(), upper=socket, lower=letter)
    found = measured([("lower", "half", lower + pin), ("upper", "half", upper)])
    assert [pin.at_mm[:2] for pin in found.pins] == [pytest.approx(CORNERS[2], abs=0.02)]
    assert found.pins[0].clearance_mm == pytest.approx(0.3, abs=0.02)
    assert volumes(found)[0] == pytest.approx(plastic().volume() / 1000, rel=0.15)


@pytest.mark.slow
@pytest.mark.parametrize("floor", [4.0, 0.6, 0.0], ids="floor at {} mm".format)
def test_blind_pockets_as_wide_as_the_bolts_are_no_bolt_holes(floor: float) -> None:
    """Four holes of 4.4 mm go through both halves; two pockets as wide go down to the floor, in one half."""
    through = union(upright(at, -30.0, 30.0, 2.2) for at in CORNERS)
    pockets = union(upright((x, 20.0), floor, 30.0, 2.2) for x in (-10.0, 10.0))
    found = measured(halves(block(), plastic(), upper=through + pockets, lower=through))
    assert sorted(bolt.at_mm[:2] for bolt in found.bolts) == [pytest.approx(at, abs=0.02) for at in CORNERS]


@pytest.mark.slow
def test_bolt_holes_between_open_slots_keep_their_own_width() -> None:
    """Holes of 5.4 mm at the corners; slots of 5.6 mm from the long edges, 6 mm deep to their round end."""
    holes = [upright(at, -30.0, 30.0, 2.7) for at in CORNERS]
    slots = [
        upright((x, side * 20.0), -30.0, 30.0, 2.8)
        + box((x - 2.8, min(side * 20.0, side * 30.0), -30.0), (x + 2.8, max(side * 20.0, side * 30.0), 30.0))
        for x in (-12.0, 12.0)
        for side in (-1.0, 1.0)
    ]
    cut = union([*holes, *slots])
    found = measured(halves(block(), plastic(), upper=cut, lower=cut))
    assert sorted(bolt.diameter_mm for bolt in found.bolts) == pytest.approx([5.4] * 4 + [5.6] * 4, abs=0.01)


@pytest.mark.slow
def test_open_slots_with_a_square_end_are_of_bolts_and_wide_or_shallow_notches_are_not() -> None:
    """Holes of 5.4 mm at the corners; slots of 5.6 mm from the long edges, 9 mm deep, and two notches."""
    holes = [upright(at, -30.0, 30.0, 2.7) for at in CORNERS]
    slots = [
        box((x - 2.8, min(side * 17.0, side * 30.0), -30.0), (x + 2.8, max(side * 17.0, side * 30.0), 30.0))
        for x in (-14.0, 14.0)
        for side in (-1.0, 1.0)
    ]
    clamp = box((-7.0, 19.0, -30.0), (7.0, 30.0, 30.0))
    shallow = box((-3.0, -30.0, -30.0), (3.0, -24.0, 30.0))
    cut = union([*holes, *slots, clamp, shallow])
    found = measured(halves(block(), plastic(), upper=cut, lower=cut))
    assert sorted(bolt.diameter_mm for bolt in found.bolts) == pytest.approx([5.4] * 4 + [5.6] * 4, abs=0.01)
    middles = sorted(bolt.at_mm[:2] for bolt in found.bolts if bolt.diameter_mm > 5.5)
    assert middles == [pytest.approx(at, abs=0.02) for at in product((-14.0, 14.0), (-19.8, 19.8))]


@pytest.mark.slow
def test_a_slotted_hole_is_as_wide_as_the_bolt_that_goes_through_and_its_pins_play_is_across_it() -> None:
    """Four slots, 5.5 mm by 7 mm, through both halves; a pin of 5 mm stands in a slot of 5.4 mm by 8 mm."""

    def slot(at: Point, low: float, high: float, width: float, longer: float) -> Manifold:
        ends = [upright((at[0] + side * longer / 2, at[1]), low, high, width / 2) for side in (-1, 1)]
        return Manifold.batch_hull(ends)

    through = union(slot(at, -30.0, 30.0, 5.5, 1.5) for at in CORNERS)
    pin, socket = upright((0.0, 19.0), -1.0, 5.0, 2.5), slot((0.0, 19.0), -1.0, 5.3, 5.4, 2.6)
    (_, _, lower), (_, _, upper) = halves(block(), plastic(), upper=through + socket, lower=through)
    found = measured([("lower", "half", lower + pin), ("upper", "half", upper)])
    assert [bolt.diameter_mm for bolt in found.bolts] == [pytest.approx(5.5, abs=0.02)] * 4
    assert [pin.clearance_mm for pin in found.pins] == [pytest.approx(0.4, abs=0.02)]


@pytest.mark.slow
def test_a_pocket_that_reaches_past_the_middle_of_a_stepped_parting_in_one_half_is_no_bolt_hole() -> None:
    """The lower half stands 8 mm high at x > 22; two pockets as wide as the bolts reach up to z = 3 in it."""
    step = box((22.0, -30.0, -1.0), (50.0, 30.0, 8.0))
    through = union(upright(at, -30.0, 30.0, 2.2) for at in CORNERS)
    pockets = union(upright((31.0, y), -30.0, 3.0, 2.2) for y in (-8.0, 8.0))
    (_, _, lower), (_, _, upper) = halves(block(), plastic(), upper=through + step, lower=through + pockets)
    lower += (step ^ block()) - through - pockets
    found = measured([("lower", "half", lower), ("upper", "half", upper)])
    apart = sorted(bolt.at_mm[0] for bolt in found.bolts)
    assert np.diff(apart) == pytest.approx([0.0, 60.0, 0.0], abs=0.02)
