"""Bolt holes, pockets, pins and engravings: what holds the halves, and what only looks like it."""

from __future__ import annotations

from itertools import product

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
