"""What touches the plastic from outside: a bolt hole in the bait, a nozzle's seat at the sprue."""

from __future__ import annotations

import math

import pytest

from builder.base.problems import Faults
from builder.model import Figure
from tests.shapes import box, rod
from tests.test_strangers import block, egg, halves, measured, nothing, sprue, volumes


def test_a_bolt_hole_that_cuts_into_the_bait_is_refused() -> None:
    """The egg's flank lies at y = 14 in the middle; the hole, 5 mm wide, reaches from y = 12.5 to 17.5."""
    bolts = rod((0.0, 15.0, -16.0), (0.0, 15.0, 16.0), 2.5) + rod(
        (0.0, -20.0, -16.0), (0.0, -20.0, 16.0), 2.5
    )
    with pytest.raises(
        Faults, match=r"a bolt hole cuts into the cavity at \[-?0\.\d+, 1[23]\.\d+, .*move the bolt hole"
    ):
        measured(halves(block(), egg() + sprue(), upper=bolts, lower=bolts))


def test_a_vent_into_a_bolt_hole_is_none_that_cuts_into_the_bait() -> None:
    bolts = rod((0.0, 19.0, -16.0), (0.0, 19.0, 16.0), 2.5) + rod(
        (0.0, -20.0, -16.0), (0.0, -20.0, 16.0), 2.5
    )
    vent = box((-1.5, 13.0, 0.0), (1.5, 18.0, 0.2))
    found = measured(halves(block(), egg() + sprue(), upper=bolts + vent, lower=bolts))
    assert [str(vent.ends) for vent in found.vents] == ["bolt"]
    assert volumes(found) == pytest.approx([egg().volume() / 1000], rel=2e-3)


@pytest.mark.parametrize(("deep", "told"), [(4.0, 1), (0.0, 0)])
def test_a_seat_for_a_nozzle_is_told_with_what_it_holds(deep: float, told: int) -> None:
    """The seat, 16 mm wide, in the top at z = 15, over the sprue of 7.4 mm."""
    seat = rod((0.0, 0.0, 15.0 - deep), (0.0, 0.0, 16.0), 8.0) if deep else nothing()
    found = measured(halves(block(), egg() + sprue(), upper=seat, lower=nothing()))
    said = [finding for finding in found.findings if finding.code == "reading.seat"]
    assert len(said) == told
    for one in said:
        held = one.values["volume"]
        assert isinstance(held, Figure)
        assert held.value == pytest.approx(math.pi * 8.0**2 * deep / 1000, rel=0.01)
