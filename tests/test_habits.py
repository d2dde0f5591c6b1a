"""Habits of makers that the reading had not met: domed backs, pockets, letters, blind vents, slivers."""

from __future__ import annotations

import numpy as np
import pytest
from manifold3d import Manifold

from builder import mesh
from builder.mesh import cuts
from tests.shapes import ball, box, rod, union
from tests.test_strangers import block, egg, halves, measured, nothing, sprue, volumes

BOLTS = ((-35.0, 20.0), (35.0, 20.0), (-35.0, -20.0), (35.0, -20.0))


def _through(radius: float) -> Manifold:
    return union(rod((x, y, -30.0), (x, y, 30.0), radius) for x, y in BOLTS)


@pytest.mark.parametrize("back_mm", [75.0, 120.0])
def test_bolt_holes_through_domed_backs_are_read(back_mm: float) -> None:
    over, under = (ball((0.0, 0.0, z), back_mm) for z in (16.0 - back_mm, back_mm - 16.0))
    domed = block() ^ over ^ under
    found = measured(halves(domed, egg() + sprue() + _through(2.2), upper=nothing(), lower=nothing()))
    assert [bolt.diameter_mm for bolt in found.bolts] == pytest.approx([4.4] * 4, rel=0.01)
    places = sorted(tuple(round(at, 3) for at in bolt.at_mm[:2]) for bolt in found.bolts)
    assert places == [pytest.approx(at, abs=0.02) for at in sorted(BOLTS)]
    assert volumes(found) == pytest.approx([egg().volume() / 1000], rel=5e-3)


def test_pockets_in_the_back_of_one_half_are_no_bolts() -> None:
    pockets = union(
        Manifold.cylinder(6.0, 3.0, 3.0, sides).translate((x, y, -16.0))
        for x, y, sides in ((-30.0, 0.0, 6), (30.0, 0.0, 64), (-20.0, 20.0, 6), (20.0, -20.0, 64))
    )
    parts = halves(block(), egg() + sprue() + _through(2.2), upper=nothing(), lower=pockets)
    assert len(measured(parts).bolts) == 4


def test_a_letter_with_an_island_is_no_pin_and_a_pin_is_one() -> None:
    around, island = rod((-30.0, 18.0, 0.5), (-30.0, 18.0, 0.0), 2.5), ball((-30.0, 18.0, 0.0), 1.4)
    letter = around - island
    socket, pin = (rod((30.0, 18.0, -0.01), (30.0, 18.0, z), r) for z, r in ((4.3, 2.7), (4.0, 2.5)))
    lower, upper = halves(block(), egg() + sprue(), upper=letter + socket, lower=nothing())
    found = measured([(*lower[:2], lower[2] + pin), upper])
    assert [(abs(pin.at_mm[0]), abs(pin.at_mm[1])) for pin in found.pins] == [pytest.approx((30.0, 18.0))]
    assert found.pins[0].diameter_mm == pytest.approx(5.0, rel=0.01)


@pytest.mark.parametrize("end_mm", [38.8, 41.0])
def test_a_vent_that_ends_before_the_outside_is_no_length_of_the_bait(end_mm: float) -> None:
    groove = box((27.0, -1.2, 0.0), (end_mm, 1.2, 0.2))
    found = measured(halves(block(), egg() + sprue(), upper=groove, lower=nothing()))
    assert found.baits[0].length_mm == pytest.approx(60.0, rel=0.01)
    told = [(one.level, one.values["bait"]) for one in found.findings if one.code == "reading.blind_groove"]
    assert told == ([("note", "1")] if end_mm < 40.0 else [])


def test_a_sliver_beside_a_limb_is_not_taken_for_its_section() -> None:
    limb = rod((-10.0, 0.0, 0.0), (10.0, 0.0, 0.0), 0.6)
    sliver = box((-10.0, -0.07, 0.65), (10.0, 0.07, 0.657))
    solid = mesh.solid(Manifold.compose([limb, sliver]), "leg")
    cut = cuts.across(solid, np.array([0.0, 0.0, 0.65]), np.array([1.0, 0.0, 0.0]))
    assert cut is not None
    assert mesh.inscribed(cut.polygon)[0] == pytest.approx(1.2, rel=0.01)


def test_a_section_that_is_but_slivers_is_none() -> None:
    sliver = mesh.solid(box((-10.0, -0.3, 0.0), (10.0, 0.3, 0.007)), "sliver")
    vent = mesh.solid(box((-10.0, -0.3, 0.0), (10.0, 0.3, 0.05)), "vent")
    at, along = np.array([0.0, 0.0, 0.003]), np.array([1.0, 0.0, 0.0])
    assert cuts.across(sliver, at, along) is None
    assert cuts.across(vent, at, along) is not None


@pytest.mark.slow
def test_gates_that_end_level_with_the_facets_of_tiny_baits_are_found() -> None:
    def larva(x: float, side: float) -> Manifold:
        ends = [(8.0, 1.5), (14.0, 2.0), (24.0, 0.8)]
        balls = [Manifold.sphere(r, 32).translate((x, side * y, 0.0)) for y, r in ends]
        return Manifold.batch_hull(balls[:2]) + Manifold.batch_hull(balls[1:])

    baits = [larva(x, side) for x in (-24.0, -8.0, 8.0, 24.0) for side in (1.0, -1.0)]
    gates = union(rod((x, -8.0, 0.0), (x, 8.0, 0.0), 0.9) for x in (-24.0, -8.0, 8.0, 24.0))
    feed = rod((-40.0, 0.0, 0.0), (26.0, 0.0, 0.0), 2.2) + rod((-50.01, 0, 0), (-40.0, 0.0, 0.0), 4.5, 2.4)
    parts = halves(
        box((-50.0, -38.0, -10.0), (40.0, 38.0, 10.0)),
        union([*baits, gates, feed]),
        upper=nothing(),
        lower=nothing(),
    )
    found = measured(parts, cavities=8)
    assert volumes(found) == pytest.approx([baits[0].volume() / 1000] * 8, rel=6e-3)


@pytest.mark.parametrize("cavities", [1, 2])
def test_pockets_in_the_underside_of_an_open_mold_are_not_poured(cavities: int) -> None:
    bars = [box((-30.0, y - 5.0, -6.0), (30.0, y + 5.0, 1.0)) for y in (-12.0, 12.0)[:cavities]]
    pockets = union(
        box((x, y, -20.0), (x + 18.0, y + 18.0, -9.0)) for x in (-38.0, -9.0, 20.0) for y in (-23.0, 5.0)
    )
    tray = box((-40.0, -25.0, -14.0), (40.0, 25.0, 0.0)) - union(bars) - pockets
    found = measured([("tray", "open", tray)], kind="open pour", cavities=cavities)
    assert volumes(found) == pytest.approx([3.6] * cavities, rel=5e-3)
