"""Gates of mold.yaml: what they cut off without a bait is feed, and a wrong one is told."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from functools import cache

import pytest
import yaml

from builder.base.problems import Faults
from builder.model import Hints, Measurement
from tests.shapes import ball, box, rod
from tests.test_strangers import Parts, halves, measured, nothing, volumes

BLOCK = box((-50.0, -24.0, -16.0), (50.0, 24.0, 16.0))
BAIT = ball((0.0, 0.0, 0.0), 1.0).scale((30.0, 8.0, 7.0)) ^ box((-26.0, -9.0, -9.0), (26.0, 9.0, 9.0))
"""Its flat ends are where the gates meet it."""
SPRUE = rod((-50.0, 0.0, 0.0), (-32.0, 0.0, 0.0), 5.0, 2.2) + rod((-32.0, 0.0, 0.0), (-26.0, 0.0, 0.0), 1.7)
RISER = rod((26.0, 0.0, 0.0), (38.0, 0.0, 0.0), 1.3) + rod((36.0, 0.0, -3.0), (36.0, 0.0, 16.0), 5.0, 6.5)
"""Larger than the sprue: a channel of 2.6 mm to a bowl that is open above."""
SPRUE_AT = Hints(sprue_at_mm=(-50.0, 0.0, 0.0))
GATE, END = ((-26.0, 0.0, 0.0), (1.0, 0.0, 0.0)), ((26.0, 0.0, 0.0), (-1.0, 0.0, 0.0))


def feed_mm3() -> tuple[float, float]:
    """Sprue and riser, mm3."""
    return SPRUE.volume(), RISER.volume()


@cache
def with_a_riser() -> Parts:
    return halves(BLOCK, BAIT + SPRUE + RISER, upper=nothing(), lower=nothing())


def codes(found: Measurement) -> list[str]:
    return [finding.code for finding in found.findings]


def first_line(asked: Faults) -> Hints:
    """The gates of the first line that a question offers."""
    line = str(asked).split("hints: ")[1].split("\n")[0].split("  #")[0]
    gates = yaml.safe_load(line)["gates"]
    return replace(SPRUE_AT, gates_at_mm=tuple((tuple(one["at_mm"]), tuple(one["normal"])) for one in gates))


@pytest.mark.slow
def test_a_riser_that_told_gates_cut_off_is_feed_and_no_vent() -> None:
    found = measured(with_a_riser(), replace(SPRUE_AT, gates_at_mm=(GATE, END)))
    assert volumes(found) == pytest.approx([BAIT.volume() / 1000], rel=3e-3)
    assert found.sprue
    assert found.runner
    held = (found.sprue.volume_ml, found.runner.volume_ml)
    assert held == pytest.approx([one / 1000 for one in feed_mm3()], rel=5e-3)
    assert found.vents == ()
    assert "reading.riser" in codes(found)
    assert not {"reading.second_mouth", "reading.large_vent"} & set(codes(found))


@pytest.mark.slow
def test_no_way_of_the_bait_leads_on_into_its_riser_and_the_air_leaves_by_it() -> None:
    found = measured(with_a_riser(), replace(SPRUE_AT, gates_at_mm=(GATE, END)))
    (bait,) = found.baits
    assert max(here.at_mm[0] for path in bait.paths for here in path.stations) < 26.5
    assert bait.thinnest is None
    assert [path.vented for path in bait.paths] == [True]


@pytest.mark.slow
def test_a_bait_that_is_left_open_as_wide_as_a_sprue_is_asked_for_with_a_line_that_is_right() -> None:
    with pytest.raises(Faults, match=r"hints\.gates: the plastic opens 13\.0 mm wide") as at_once:
        measured(with_a_riser(), SPRUE_AT)
    with pytest.raises(Faults, match=r"hints\.gates: the plastic opens 13\.0 mm wide") as with_one_gate:
        measured(with_a_riser(), replace(SPRUE_AT, gates_at_mm=(GATE,)))
    for asked in (at_once, with_one_gate):
        found = measured(with_a_riser(), first_line(asked.value))
        assert volumes(found) == pytest.approx([BAIT.volume() / 1000], rel=3e-3)
        assert found.sprue
        assert found.runner
        assert found.sprue.volume_ml + found.runner.volume_ml == pytest.approx(
            sum(feed_mm3()) / 1000, rel=0.01
        )


@pytest.mark.slow
def test_a_gate_whose_normal_points_to_the_sprue_is_told_with_a_line_that_is_right() -> None:
    backward = (GATE[0], (-1.0, 0.0, 0.0))
    with pytest.raises(Faults, match=r"hints\.gates\[0\]\.normal: .* points to the sprue") as asked:
        measured(with_a_riser(), replace(SPRUE_AT, gates_at_mm=(backward, END)))
    assert volumes(measured(with_a_riser(), first_line(asked.value))) == pytest.approx(
        [BAIT.volume() / 1000], rel=3e-3
    )


@pytest.mark.slow
def test_a_gate_in_no_plastic_is_told_and_not_passed_over() -> None:
    aside = ((-26.0, 20.0, 0.0), (1.0, 0.0, 0.0))
    told = replace(SPRUE_AT, gates_at_mm=(GATE, END, aside))
    with pytest.raises(
        Faults, match=re.escape("hints.gates[2]: there is no plastic at [-26.00, 20.00, 0.00]")
    ):
        measured(with_a_riser(), told)


def aslant(degrees: float) -> Parts:
    """A bait with a flat back at z = 7 and a bore of 4 mm that meets it at an angle to its normal."""
    bait = box((-25.0, -8.0, -7.0), (25.0, 8.0, 7.0))
    lean = (math.tan(math.radians(degrees)), 0.0, 1.0)
    bore = rod((5.0, 0.0, 5.0), (5.0 + 14.0 * lean[0], 0.0, 19.0), 2.0)
    mold = box((-40.0, -24.0, -16.0), (40.0, 24.0, 16.0))
    widened = rod((5.0 + 6.0 * lean[0], 0.0, 11.0), (5.0 + 14.0 * lean[0], 0.0, 19.0), 2.0, 4.5)
    return halves(mold, bait + bore + widened, upper=nothing(), lower=nothing())


@pytest.mark.slow
@pytest.mark.parametrize("degrees", [0.0, 30.0])
def test_a_stub_of_a_bore_that_meets_the_bait_aslant_is_no_width_of_it(degrees: float) -> None:
    (bait,) = measured(aslant(degrees)).baits
    assert (bait.length_mm, bait.height_mm) == pytest.approx((50.0, 16.0), abs=0.01)
    assert bait.width_mm == pytest.approx(14.0, abs=0.05)
