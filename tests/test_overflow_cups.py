"""A cup behind a narrow channel with a vent of its own: an overflow or a part of the bait is asked."""

from __future__ import annotations

import pytest
import yaml
from manifold3d import Manifold

from builder.base.problems import Faults
from builder.model import Hints, Measurement
from tests.shapes import ball, box, loft, rod
from tests.test_strangers import halves, measured, nothing, volumes

BLOCK = box((-62.0, -24.0, -14.0), (62.0, 24.0, 14.0))
BAIT = loft([(-40.0, 1.6, 1.6, 0.0), (-20.0, 7.5, 6.5, 0.0), (38.0, 2.6, 2.6, 0.0)])
CHANNEL = rod((36.0, 0.0, 0.0), (44.0, 0.0, 0.0), 0.8)
FEED = rod((-63.0, 0.0, 0.0), (-52.0, 0.0, 0.0), 5.0, 2.2) + rod((-53.0, 0.0, 0.0), (-39.0, 0.0, 0.0), 1.7)
VENT = box((47.0, -1.5, 0.0), (63.0, 1.5, 0.1))


def read(cup: Manifold, hints: Hints | None = None, channel: Manifold = CHANNEL) -> Measurement:
    """The bait with a sprue at its nose, and at its tail a channel of 1.6 mm to a cup with a vent."""
    plastic = BAIT + FEED + channel + cup + VENT
    return measured(halves(BLOCK, plastic, upper=nothing(), lower=nothing()), hints)


def held_by_each_line(asked: Faults, cup: Manifold, channel: Manifold = CHANNEL) -> list[float]:
    """What the bait holds, ml, when each of the offered lines is pasted."""
    held = []
    for line in (line for line in str(asked).split("\n") if line.startswith("hints:")):
        gates = yaml.safe_load(line.split("  #")[0])["hints"]["gates"]
        told = tuple((tuple(gate["at_mm"]), tuple(gate["normal"])) for gate in gates)
        held += volumes(read(cup, Hints(gates_at_mm=told), channel))
    return held


@pytest.mark.slow
def test_a_cup_in_one_half_is_asked_about_and_both_lines_are_right() -> None:
    cup = rod((46.0, 0.0, -5.0), (46.0, 0.0, 0.0), 3.0, 3.5)
    with pytest.raises(Faults, match=r"hints\.gates: a narrow channel at \[3\d\.\d\d, .* overflow") as asked:
        read(cup)
    bait_mm3 = BAIT.volume()
    assert held_by_each_line(asked.value, cup) == pytest.approx(
        [bait_mm3 / 1000, (BAIT + CHANNEL + cup).volume() / 1000], rel=3e-3
    )


def limb(kind: str) -> Manifold:
    """A part of the bait behind a narrow neck."""
    if kind == "club":
        return rod((43.5, 0.0, 0.0), (49.0, 0.0, 0.0), 3.0, 2.0)
    if kind == "paddle":
        return rod((43.5, 0.0, 0.0), (47.5, 0.0, 0.0), 4.0, 3.5)
    return ball((0.0, 0.0, 0.0), 1.0).scale((4.5, 2.2, 3.0)).translate((46.0, 0.0, 0.0))


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["club", "paddle", "claw"])
def test_a_limb_in_both_halves_behind_a_round_neck_is_of_the_bait_and_nothing_is_asked(kind: str) -> None:
    drawn = limb(kind)
    assert volumes(read(drawn)) == pytest.approx([(BAIT + CHANNEL + drawn).volume() / 1000], rel=3e-3)


def well(kind: str) -> Manifold:
    """A hollow in both halves behind the narrow neck."""
    if kind == "upright":
        return rod((46.0, 0.0, -2.5), (46.0, 0.0, 2.5), 3.25)
    return ball((46.0, 0.0, 0.0), 3.0)


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["upright", "ball"])
def test_a_well_in_both_halves_behind_a_round_neck_with_a_vent_is_asked_about(kind: str) -> None:
    """The neck is 1.6 mm wide all along; both lines are right."""
    drawn = well(kind)
    with pytest.raises(Faults, match=r"hints\.gates: a narrow, straight channel at .* overflow") as asked:
        read(drawn)
    assert held_by_each_line(asked.value, drawn) == pytest.approx(
        [BAIT.volume() / 1000, (BAIT + CHANNEL + drawn).volume() / 1000], rel=3e-3
    )


@pytest.mark.slow
def test_an_upright_well_without_a_vent_is_asked_about_and_a_ball_is_a_limb() -> None:
    both = halves(BLOCK, BAIT + FEED + CHANNEL + well("upright"), upper=nothing(), lower=nothing())
    with pytest.raises(Faults, match="leads from the bait into a round hollow that is upright") as asked:
        measured(both)
    gates = yaml.safe_load(str(asked.value).split("hints: ")[1].split("  #")[0])["gates"]
    told = Hints(gates_at_mm=tuple((tuple(gate["at_mm"]), tuple(gate["normal"])) for gate in gates))
    assert volumes(measured(both, told)) == pytest.approx([BAIT.volume() / 1000], rel=3e-3)
    bait = BAIT + CHANNEL + well("ball")
    found = measured(halves(BLOCK, bait + FEED, upper=nothing(), lower=nothing()))
    assert volumes(found) == pytest.approx([bait.volume() / 1000], rel=3e-3)


@pytest.mark.slow
def test_legs_that_end_in_balls_with_vents_are_limbs_and_nothing_is_asked() -> None:
    legs = [rod((30.0, y / 8, 0.0), (41.0, y, 0.0), 0.9) for y in (-9.0, 9.0)]
    feet = [ball((43.0, y, 0.0), 2.5) for y in (-9.0, 9.0)]
    vents = [box((44.0, y - 1.0, 0.0), (63.0, y + 1.0, 0.1)) for y in (-9.0, 9.0)]
    bait, vented = BAIT, FEED
    for leg, foot, vent in zip(legs, feet, vents, strict=True):
        bait, vented = bait + leg + foot, vented + vent
    found = measured(halves(BLOCK, bait + vented, upper=nothing(), lower=nothing()))
    assert volumes(found) == pytest.approx([bait.volume() / 1000], rel=3e-3)


@pytest.mark.slow
def test_a_ball_in_both_halves_behind_a_straight_slit_is_asked_about_and_both_lines_are_right() -> None:
    """The slit is 2 mm wide and 0.8 deep; no limb has such corners."""
    well, slit = ball((46.0, 0.0, 0.0), 3.0), box((36.0, -1.0, -0.4), (44.0, 1.0, 0.4))
    with pytest.raises(Faults, match=r"hints\.gates: a narrow, straight channel .* overflow") as asked:
        read(well, channel=slit)
    drawn = [BAIT.volume() / 1000, (BAIT + slit + well).volume() / 1000]
    assert held_by_each_line(asked.value, well, slit) == pytest.approx(drawn, rel=3e-3)


@pytest.mark.slow
def test_an_overflow_beside_a_bait_is_no_end_of_it_and_no_runner_that_sets_too_early() -> None:
    """The channel leaves the belly; a level of the flow's way reaches over it to the bait's middle."""
    channel = rod((0.0, -4.0, 0.0), (0.0, -14.0, 0.0), 0.8)
    cup, vent = (
        rod((0.0, -16.0, -5.0), (0.0, -16.0, 0.0), 3.0, 3.5),
        box((-1.5, -25.0, 0.0), (1.5, -18.0, 0.1)),
    )
    parts = halves(BLOCK, BAIT + FEED + channel + cup + vent, upper=nothing(), lower=nothing())
    with pytest.raises(Faults, match="it may be an overflow") as asked:
        measured(parts)
    gates = yaml.safe_load(str(asked.value).split("hints: ")[1].split("  #")[0])["gates"]
    found = measured(
        parts, Hints(gates_at_mm=tuple((tuple(gate["at_mm"]), tuple(gate["normal"])) for gate in gates))
    )
    assert volumes(found) == pytest.approx([BAIT.volume() / 1000], rel=3e-3)
    ends = [path.stations[-1].at_mm[1] for path in found.baits[0].paths]
    assert min(ends) > -8.0
    assert found.sprue
    assert found.runner
    assert found.runner.modulus_mm >= found.sprue.modulus_mm
    assert "reading.riser" in [finding.code for finding in found.findings]
