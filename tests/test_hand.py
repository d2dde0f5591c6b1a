"""The hand: pressure from a push, what an injector costs, how fast a cup cools."""

from __future__ import annotations

from pathlib import Path

import pytest

from builder.advice import samples
from builder.advice.hand import hand_figures
from builder.model import Declared
from builder.spec import material_tables, mold_file
from tests import small_mold
from tests.advised_minnow import FULL_MM, make_context
from tests.paths_for_flow import minnow_measurement

PRACTICE = material_tables.load().practice


@pytest.mark.parametrize(
    ("push_kg", "bore_mm", "low", "high"), [(10.2, 50.0, 0.04, 0.06), (30.6, 25.0, 0.5, 0.7)]
)
def test_a_push_on_a_bore_is_a_pressure(push_kg: float, bore_mm: float, low: float, high: float) -> None:
    """By hand: 100 N on 50 mm is 0.051 MPa, 300 N on 25 mm is 0.61 MPa."""
    known = samples.with_declared(PRACTICE, Declared(push_kg=push_kg, bore_mm=bore_mm))
    assert low < known["pressure"].value < high


def test_a_declared_pressure_counts_before_a_push_and_a_push_alone_says_nothing() -> None:
    both = Declared(push_kg=20.0, bore_mm=30.0, pressure_mpa=0.15)
    assert samples.with_declared(PRACTICE, both)["pressure"].value == 0.15
    assert samples.with_declared(PRACTICE, Declared(push_kg=20.0))["pressure"] == PRACTICE["pressure"]


def test_a_push_in_pounds_is_read(tmp_path: Path) -> None:
    folder = small_mold.write(tmp_path, more="declared: {push_lb: 44.1, bore_inch: 1.25}")
    declared = mold_file.load(folder).declared
    assert declared.push_kg == pytest.approx(20.0, abs=0.01)
    assert declared.bore_mm == pytest.approx(31.75)


def test_a_cold_injector_costs_more_than_a_warm_one_as_a_trial_found() -> None:
    """The trial: an aluminium bore at 22 °C costs 9–14 K in 5 s and 12–19 K in 10 s."""
    found = hand_figures(make_context(minnow_measurement(FULL_MM)))
    assert 9 < found["injector_cold"].value < 19
    assert found["injector_warm"].high < found["injector_cold"].high
    assert found["injector_warm"].value < 0.75 * found["injector_cold"].value
    assert 30 < found["cup"].low < found["cup"].value < found["cup"].high < 300
