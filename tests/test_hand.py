"""The hand: pressure from a push, what an injector costs, how fast a cup cools."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from builder.advice import samples
from builder.advice.amounts import amounts
from builder.advice.hand import grains, hand_figures, headlines, salted
from builder.model import Colour, Declared, Ingredient, Plastisol
from builder.spec import material_tables, mold_file
from tests import small_mold
from tests.advised_minnow import FULL_MM
from tests.paths_for_flow import minnow_measurement

TABLES = material_tables.load()
PRACTICE = TABLES.practice


def plastisol(name: str) -> Plastisol:
    return next(one for one in TABLES.plastisols if one.id == name)


MEDIUM = plastisol("medium")


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
    found = hand_figures(MEDIUM, PRACTICE)
    assert 9 < found["injector_cold"].value < 19
    assert found["injector_warm"].high < found["injector_cold"].high
    assert found["injector_warm"].value < 0.75 * found["injector_cold"].value


def test_a_cup_of_200_ml_in_glass_falls_by_5_kelvin_in_about_a_minute() -> None:
    """By hand: 0.19 kg of 2050 J/(kg·K) and 210 J/K of glass over 16 W/(m²·K) on 0.021 m², 144 K above."""
    cup = hand_figures(MEDIUM, PRACTICE)["cup"]
    assert cup.value == pytest.approx((0.19 * 2050 + 210) * 5 / (16 * 0.021 * 141.5), rel=0.05)
    assert 40 < cup.low < cup.value < cup.high < 100


def test_salt_sinks_a_millimetre_or_so_while_the_cup_cools_and_flake_less() -> None:
    """By hand, Stokes: 0.25 mm of 2.165 g/mL in 0.95 g/mL and about 3.6 Pa·s: 0.0115 mm/s, for 62 s."""
    found = hand_figures(MEDIUM, PRACTICE)
    salt, flake = found["salt_sinks"], found["flake_sinks"]
    assert salt.value == pytest.approx(0.0115 * 62, rel=0.6)
    assert salt.high > 10 * salt.low
    assert flake.high < salt.high / 3
    soft, hard = (hand_figures(plastisol(name), PRACTICE)["salt_sinks"] for name in ("soft", "hard"))
    assert soft.value > salt.value > hard.value, "thinner plastic lets it sink farther"


def test_a_bait_of_10_ml_with_a_jig_head_and_with_salt_weighs_what_a_calculator_says() -> None:
    """By hand: 1.04/(1 + 3 × 2.3e-4 × 87) = 0.981 g/mL when the gate sets: 9.81 g, 9.43 mL cold."""
    mold = minnow_measurement(FULL_MM)
    bait = replace(mold.baits[0], volume_ml=10.0)
    one = amounts(MEDIUM, replace(mold, baits=(bait,)), PRACTICE).finished[0]
    assert one.jig_fresh_g.value == pytest.approx(7 * (1 - 0.999 / 11.2) + 9.81 - 9.43 * 0.999, abs=0.15)
    assert one.jig_sea_g.value == pytest.approx(7 * (1 - 1.025 / 11.2) + 9.81 - 9.43 * 1.025, abs=0.15)
    salted_g = 10.0 * 124.0 / (100 * 1.04 / 0.981 + 20 / 2.165)
    assert one.salt_g.value == pytest.approx(salted_g, rel=0.01)
    cold_ml = salted_g * (100 + 20 / 2.165) / 124.0
    assert one.salt_fresh_g.value == pytest.approx(cold_ml * 0.999 - salted_g, abs=0.15)
    assert one.salt_sea_g.value > one.salt_fresh_g.value


def test_what_sinks_is_told_only_where_it_is_in_the_cup() -> None:
    salt = Ingredient(what="fine salt", amount_per_100_ml=20.0, unit="g")
    flake = Ingredient(what="black flake", amount_per_100_ml=0.8, unit="g")
    drops = Ingredient(what="black colour", amount_per_100_ml=6.0, unit="drops")
    assert (salt.grain, flake.grain, drops.grain) == ("salt", "flake", None)
    assert grains(MEDIUM, [Colour(name="clear", ingredients=(drops,))]) == ()
    assert grains(MEDIUM, [Colour(name="sand", ingredients=(salt, drops))]) == ("salt",)
    assert grains(plastisol("salted"), [Colour(name="black", ingredients=(flake,))]) == ("salt", "flake")
    assert [p.id for p in TABLES.plastisols if salted(p)] == ["salted"]
    hand = hand_figures(MEDIUM, PRACTICE)
    assert "salt_sinks" not in headlines(hand, MEDIUM, [])
    assert "cup" in headlines(hand, MEDIUM, [])
