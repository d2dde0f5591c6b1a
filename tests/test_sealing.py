"""A core whose rim nearly touches the mold shuts a hollow off, or asks whether plastic gets there."""

from __future__ import annotations

import re

import pytest
import yaml
from manifold3d import Manifold

from builder.base.problems import Faults
from builder.model import Hints, Measurement
from tests.shapes import box, rod
from tests.test_strangers import Parts, egg, halves, measured, nothing

SIDES = 96
UNDER_MM = 4.0
"""Height of the hollow under the cup."""


def _rod(radius: float, low: float, high: float) -> Manifold:
    return Manifold.cylinder(high - low, radius, -1.0, SIDES).translate((0.0, 0.0, low))


def _tub(gap_mm: float) -> tuple[Parts, float, float]:
    """A tub with a cup set in it on four feet, so far from its wall all round; mL above and under the cup."""
    tub = _rod(30.0, 0.0, 20.0) - _rod(25.0, 4.0, 21.0)
    cup = _rod(25.0 - gap_mm, 4.0 + UNDER_MM, 17.0) - _rod(22.0, 10.0, 18.0)
    feet = Manifold.compose(
        [_rod(2.0, 4.0, 4.0 + UNDER_MM).translate((x, y, 0)) for x in (-9, 9) for y in (-9, 9)]
    )
    above = (_rod(25.0, 4.0 + UNDER_MM, 20.0) - cup).volume() / 1000.0
    under = (_rod(25.0, 4.0, 4.0 + UNDER_MM) - feet).volume() / 1000.0
    return [("tub", "open", tub), ("cup", "core", cup + feet)], above, under


def _read(parts: Parts, hints: Hints | None = None) -> Measurement:
    return measured(parts, hints, kind="open pour")


@pytest.mark.slow
def test_what_lies_under_a_cup_that_shuts_is_not_poured() -> None:
    parts, above, under = _tub(0.002)
    read = _read(parts)
    assert read.baits[0].volume_ml == pytest.approx(above, rel=2e-3)
    sealed = [finding for finding in read.findings if finding.code == "reading.sealed"]
    assert len(sealed) == 1
    assert sealed[0].values["volume"].value == pytest.approx(under, rel=0.02)  # type: ignore[union-attr]


@pytest.mark.slow
def test_a_crack_that_may_let_plastic_through_is_asked_about_and_the_offered_line_works() -> None:
    parts, above, under = _tub(0.15)
    with pytest.raises(Faults, match="only by a crack") as raised:
        _read(parts)
    problem = raised.value.problems[0]
    told = float(problem.what.split(" ml")[0])
    assert told == pytest.approx(under, rel=0.03)
    line = next(line for line in problem.remedy.split("\n") if line.startswith("hints:"))
    point = yaml.safe_load(line)["hints"]["ignore_at_mm"][0]
    read = _read(parts, Hints(ignore_at_mm=(tuple(point),)))
    assert read.baits[0].volume_ml == pytest.approx(above, rel=0.02)
    assert re.search(r"open the crack wider", problem.remedy)


def test_a_gap_as_wide_as_a_wall_is_filled() -> None:
    parts, above, under = _tub(0.8)
    assert _read(parts).baits[0].volume_ml == pytest.approx(above + under, rel=2e-3)


@pytest.mark.parametrize("play_mm", [0.05, 0.1])
def test_the_play_round_an_insert_in_its_pocket_is_no_bait(play_mm: float) -> None:
    """The end of an egg lies in an insert, which has so much play in its pocket all round."""
    low, high = (8.0, -12.0, -12.0), (38.0, 12.0, 12.0)
    pocket = box(
        tuple(v - play_mm for v in low),  # type: ignore[arg-type]
        tuple(v + play_mm for v in high),  # type: ignore[arg-type]
    )
    feed = rod((-41.0, 0.0, 0.0), (-29.0, 0.0, 0.0), 4.0, 1.8)
    vent = box((28.0, -1.5, 0.0), (41.0, 1.5, 0.2))
    mold = box((-40.0, -25.0, -20.0), (40.0, 25.0, 20.0))
    parts = halves(mold, egg() + feed + pocket + vent, upper=nothing(), lower=nothing())
    found = measured([*parts, ("insert", "core", box(low, high) - egg() - vent)])
    (plain,) = measured(halves(mold, egg() + feed + vent, upper=nothing(), lower=nothing())).baits
    assert found.baits[0].volume_ml == pytest.approx(plain.volume_ml, rel=1e-3)
    assert found.baits[0].length_mm == pytest.approx(plain.length_mm, abs=found.length_error_mm)
    assert found.length_error_mm < 0.4
    assert [round(vent.depth_mm, 1) for vent in found.vents] == [0.2]
    assert "reading.play" in [finding.code for finding in found.findings]
