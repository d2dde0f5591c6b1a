"""Pockets behind throats as thin as vents are no bait, whatever leads on from them."""

from __future__ import annotations

import pytest
from manifold3d import Manifold

from builder.base.problems import Faults
from builder.model import Hints, Measurement
from tests.shapes import ball, box, rod, union
from tests.test_rival_gates import first_offered
from tests.test_strangers import block, egg, halves, measured, nothing, sprue, volumes


def read(hollow: Manifold) -> Measurement:
    """The egg, 60 by 28 by 22 mm round the origin, with a hollow above z = 0."""
    return measured(halves(block(), egg() + sprue(), upper=hollow, lower=nothing()))


def codes(found: Measurement) -> list[str]:
    return [finding.code for finding in found.findings]


@pytest.mark.slow
def test_gutters_behind_scratches_of_a_twentieth_of_a_millimetre_are_no_bait() -> None:
    """Four scratches, 0.5 mm wide, lead into two gutters of 2 mm by 2 mm that run out at the end face."""
    gutters = union(box((-28.0, y - 1.0, 0.0), (41.0, y + 1.0, 2.0)) for y in (-18.0, 18.0))
    scratches = union(box((x - 0.25, -18.0, 0.0), (x + 0.25, 18.0, 0.05)) for x in (-10.0, 10.0))
    found = read(gutters + scratches)
    assert volumes(found) == pytest.approx([egg().volume() / 1000], rel=1e-3)
    assert [found.baits[0].length_mm, found.baits[0].height_mm] == pytest.approx([60.0, 28.0], abs=0.15)
    assert [vent.depth_mm for vent in found.vents] == pytest.approx([0.05] * 4, abs=1e-3)
    assert [vent.width_mm for vent in found.vents] == pytest.approx([0.5] * 4, abs=1e-2)
    assert {vent.ends for vent in found.vents} == {"outside"}
    behind = (gutters + scratches - egg()) ^ block()
    assert sum(vent.volume_ml for vent in found.vents) == pytest.approx(behind.volume() / 1000, rel=1e-2)
    assert codes(found).count("reading.well") == 2
    assert "reading.second_mouth" not in codes(found)


@pytest.mark.parametrize(
    ("hole", "ends", "code"), [(1.0, "outside", "reading.well"), (0.0, "blind", "reading.blind_groove")]
)
def test_a_trough_behind_a_vent_is_no_bait_with_an_air_hole_or_shut(
    hole: float, ends: str, code: str
) -> None:
    """The vent, 2 mm by 0.3 mm, leads from the tail at x = 30 into a trough of 3 by 20 by 3 mm."""
    trough, throat = box((34.0, -10.0, 0.0), (37.0, 10.0, 3.0)), box((28.0, -1.0, 0.0), (34.5, 1.0, 0.3))
    air = rod((35.5, 6.0, 2.0), (35.5, 6.0, 16.0), hole / 2) if hole else nothing()
    found = read(trough + throat + air)
    assert volumes(found) == pytest.approx([egg().volume() / 1000], rel=1e-3)
    assert [vent.depth_mm for vent in found.vents] == pytest.approx([0.3], abs=1e-3)
    assert {str(vent.ends) for vent in found.vents} == {ends}
    assert code in codes(found)
    assert ["vented" for path in found.baits[0].paths if path.vented] == (["vented"] if hole else [])


def test_a_throat_of_half_a_millimetre_is_no_vent_and_what_lies_behind_it_stays_with_the_bait() -> None:
    ball_behind, throat = ball((35.0, 0.0, 0.0), 3.0), box((28.0, -1.0, -0.25), (34.0, 1.0, 0.25))
    found = measured(
        halves(block(), egg() + sprue() + ball_behind + throat, upper=nothing(), lower=nothing())
    )
    assert found.baits[0].length_mm == pytest.approx(68.0, abs=0.3)
    assert found.vents == ()


def test_two_baits_that_a_vent_joins_are_two() -> None:
    """Two rods, 8 mm thick and 40 long, on a fork of 3 mm; a vent of 3 mm by 0.2 from flank to flank."""
    baits = [rod((-15.0, y, 0.0), (25.0, y, 0.0), 4.0) for y in (-10.0, 10.0)]
    arms = union(rod((-30.0, 0.0, 0.0), (-14.0, y, 0.0), 1.5) for y in (-10.0, 10.0))
    feed = rod((-41.0, 0.0, 0.0), (-29.0, 0.0, 0.0), 4.0, 2.0) + arms
    between = box((3.0, -9.0, 0.0), (6.0, 9.0, 0.2))
    mold = halves(block(), union(baits) + feed, upper=between, lower=nothing())
    found = measured(mold, cavities=2)
    assert volumes(found) == pytest.approx([bait.volume() / 1000 for bait in baits], rel=5e-3)
    assert [bait.height_mm for bait in found.baits] == pytest.approx([8.0, 8.0], abs=0.1)
    assert [(vent.bait, str(vent.ends)) for vent in found.vents] in ([("1", "blind")], [("2", "blind")])


def test_a_thin_web_of_a_bait_that_widens_to_its_sides_is_bait() -> None:
    """A web of 0.3 mm, hollow at both its ends, closes the gap between two limbs of 8 mm."""
    limbs = union(rod((-5.0, y, 0.0), (28.0, y, 0.0), 4.0) for y in (-9.0, 9.0))
    body = egg().scale((0.4, 1.0, 0.8)).translate((-8.0, 0.0, 0.0)) + limbs
    web = box((12.0, -9.0, -0.15), (22.0, 9.0, 0.15))
    hollow = union(rod((x, 0.0, -1.0), (x, 0.0, 1.0), 4.5) for x in (10.0, 24.0))
    feed = rod((-41.0, 0.0, 0.0), (-25.0, 0.0, 0.0), 4.0, 1.6) + rod(
        (-26.0, 0.0, 0.0), (-18.0, 0.0, 0.0), 1.6
    )
    bait = body + (web - hollow)
    found = measured(halves(block(), bait + feed, upper=nothing(), lower=nothing()))
    assert found.vents == ()
    assert volumes(found) == pytest.approx([(bait - feed).volume() / 1000], rel=2e-2)


def twins(hints: Hints | None = None, cavities: int = 2) -> Measurement:
    """Two rods, 8 mm thick and 40 long, on a fork of 3 mm; channels of 1.6 mm lead from both into a ball."""
    arms = union(rod((-30.0, 0.0, 0.0), (-14.0, y, 0.0), 1.5) for y in (-10.0, 10.0))
    feed = rod((-41.0, 0.0, 0.0), (-29.0, 0.0, 0.0), 4.0, 2.0) + arms
    channels = union(rod((20.0, y, 0.0), (34.0, 0.0, 0.0), 0.8) for y in (-10.0, 10.0))
    well = ball((34.0, 0.0, 0.0), 3.0) + channels
    return measured(
        halves(block(), union(TWINS) + feed + well, upper=nothing(), lower=nothing()),
        hints,
        cavities=cavities,
    )


TWINS = [rod((-15.0, y, 0.0), (25.0, y, 0.0), 4.0) for y in (-10.0, 10.0)]


@pytest.mark.slow
def test_two_baits_that_run_into_one_overflow_are_two_and_one_is_asked_about() -> None:
    found = twins()
    assert volumes(found) == pytest.approx([bait.volume() / 1000 for bait in TWINS], rel=1e-2)
    assert "reading.common_well" in codes(found)
    with pytest.raises(Faults, match=r"unclear where runner and bait meet, for 1 bait") as asked:
        twins(cavities=1)
    assert volumes(twins(first_offered(asked.value), 1))[0] > 2 * TWINS[0].volume() / 1000
