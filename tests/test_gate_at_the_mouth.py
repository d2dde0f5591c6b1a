"""A mouth is no gate: of a sprue that widens inwards, or that hardly narrows before the bait."""

from __future__ import annotations

import re

import pytest
import yaml

from builder.base.problems import Faults
from builder.model import Hints
from tests.shapes import ball, box, loft, rod, union
from tests.test_strangers import Parts, halves, measured, nothing, volumes


def test_a_sprue_that_widens_from_its_mouth_on_feeds_the_baits_behind_its_runner() -> None:
    """Sprue from above, 5 mm at its mouth and 8.4 at the parting, a slug under it, a runner to two gates."""
    sprue = rod((0.0, 0.0, 21.0), (0.0, 0.0, 0.0), 2.5, 4.2) + rod(
        (0.0, 0.0, 0.1), (0.0, 0.0, -8.0), 4.2, 3.6
    )
    runner = box((-3.0, -16.0, -2.5), (3.0, 16.0, 0.0))
    baits = [
        ball((0.0, 0.0, 0.0), 1.0).scale((18.0, 7.0, 6.0)).translate((24.0, y, 0.0)) for y in (-13.0, 13.0)
    ]
    gates = [box((2.0, y - 1.5, -1.4), (8.0, y + 1.5, 0.0)) for y in (-13.0, 13.0)]
    mold = box((-15.0, -28.0, -20.0), (50.0, 28.0, 20.0))
    plastic = sprue + runner + baits[0] + baits[1] + gates[0] + gates[1]
    parts = halves(mold, plastic, upper=nothing(), lower=nothing())
    found = measured(parts, cavities=2)
    assert volumes(found) == pytest.approx([bait.volume() / 1000 for bait in baits], rel=5e-3)
    with pytest.raises(Faults, match=r"hints\.gates: it is unclear where runner and bait meet, for 1 bait"):
        measured(parts)


def stick() -> tuple[Parts, float]:
    """A round stick, 10 mm wide, whose head a cone of 14 to 9.4 mm leads into; mL of the stick alone."""
    body = rod((-30.0, 0.0, 0.0), (38.0, 0.0, 0.0), 5.0, 3.0)
    cone = rod((-50.0, 0.0, 0.0), (-30.0, 0.0, 0.0), 7.0, 4.7)
    mold = box((-50.0, -20.0, -15.0), (45.0, 20.0, 15.0))
    return halves(mold, body + cone, upper=nothing(), lower=nothing()), body.volume() / 1000


def test_where_a_sprue_hardly_narrows_its_end_is_offered_with_what_the_bait_holds_then() -> None:
    parts, stick_ml = stick()
    with pytest.raises(Faults, match=r"hints\.gates: it is unclear") as caught:
        measured(parts)
    lines = [line for line in str(caught.value).split("\n") if line.startswith("hints:")]
    held = [float(volume) for line in lines for volume in re.findall(r"baits of ([\d.]+) ml, sprue", line)]
    assert held == pytest.approx([stick_ml], rel=0.02)
    (line,) = (one for one in lines if "sprue and runner" in one)
    (gate,) = yaml.safe_load(line)["hints"]["gates"]
    told = Hints(gates_at_mm=((tuple(gate["at_mm"]), tuple(gate["normal"])),))
    assert volumes(measured(parts, told)) == pytest.approx([stick_ml], rel=0.02)
    assert [line.rstrip(".").endswith("no sprue") for line in lines].count(True) == 1


def test_a_bait_with_a_like_sprue_at_either_end_is_no_bolt_hole_and_both_sprues_are_offered() -> None:
    """The whole hollow is in the mean as wide as its two mouths; no bolt would pass the gates."""
    bait = rod((-24.0, 0.0, 0.0), (0.0, 0.0, 0.0), 3.0, 9.0) + rod(
        (0.0, 0.0, 0.0), (24.0, 0.0, 0.0), 9.0, 3.0
    )
    feeds = [rod((s * 41.0, 0.0, 0.0), (s * 28.0, 0.0, 0.0), 5.3, 2.0) for s in (-1.0, 1.0)]
    feeds += [rod((s * 29.0, 0.0, 0.0), (s * 22.0, 0.0, 0.0), 1.7) for s in (-1.0, 1.0)]
    mold = box((-40.0, -25.0, -15.0), (40.0, 25.0, 15.0))
    parts = halves(mold, union([bait, *feeds]), upper=nothing(), lower=nothing())
    with pytest.raises(Faults, match=r"hints\.sprue_at_mm: .* more than one wide place") as caught:
        measured(parts)
    assert sorted(re.findall(r"sprue_at_mm: \[(-?)40\.00, ", str(caught.value))) == ["", "-"]


@pytest.mark.parametrize(("waist_mm", "place"), [(15.0, 1), (18.0, 0), (21.0, 0)])
def test_a_bait_that_is_poured_into_its_wide_open_end_is_asked_about_and_offered_whole(
    waist_mm: float, place: int
) -> None:
    """An open end of 23 mm, a waist behind it, 21.6 mm in the middle: the waist may be a gate as well."""
    sections = [(-62.0, 23.0), (-10.0, waist_mm), (20.0, 21.6), (40.0, 12.0)]
    bait = loft([(x, wide / 2, wide / 2, 0.0) for x, wide in sections])
    mold = box((-62.0, -24.0, -24.0), (62.0, 24.0, 24.0))
    parts = halves(mold, bait, upper=nothing(), lower=nothing())
    with pytest.raises(Faults, match=r"hints\.gates: it is unclear where runner and bait meet") as caught:
        measured(parts)
    lines = [line for line in str(caught.value).split("\n") if line.startswith("hints:")]
    assert [k for k, line in enumerate(lines) if line.rstrip(".").endswith("no sprue")] == [place]
    (gate,) = yaml.safe_load(lines[place])["hints"]["gates"]
    told = Hints(gates_at_mm=((tuple(gate["at_mm"]), tuple(gate["normal"])),))
    assert volumes(measured(parts, told)) == pytest.approx([bait.volume() / 1000], rel=2e-3)


def test_a_wide_end_that_widens_inwards_is_offered_before_the_places_behind_it() -> None:
    """A flat head, 16 mm wide and open, before a belly of 17.6 mm: nothing is narrower than the end."""
    bait = loft([(x, wide / 2, wide / 2, 0.0) for x, wide in ((-40.0, 16.0), (0.0, 17.6), (40.0, 5.0))])
    mold = box((-40.0, -24.0, -20.0), (50.0, 24.0, 20.0))
    with pytest.raises(Faults, match=r"hints\.gates: it is unclear where runner and bait meet") as caught:
        measured(halves(mold, bait, upper=nothing(), lower=nothing()))
    first = next(line for line in str(caught.value).split("\n") if line.startswith("hints:"))
    assert float(re.findall(r"baits of ([\d.]+) ml", first)[0]) == pytest.approx(
        bait.volume() / 1000, rel=2e-3
    )
