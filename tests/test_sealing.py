"""A core whose rim nearly touches the mold shuts a hollow off, or asks whether plastic gets there."""

from __future__ import annotations

import re

import pytest
import yaml
from manifold3d import Manifold

from builder.base.problems import Faults
from builder.model import Hints, Measurement
from tests.test_strangers import Parts, measured

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
