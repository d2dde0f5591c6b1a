"""Numbers become text with the right factor, the right digits and their range."""

from __future__ import annotations

import math

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from builder.base import units
from builder.model import Figure, Unit


def figure(value: float, low: float, high: float, unit: Unit) -> Figure:
    return Figure(value=value, low=low, high=high, unit=unit, because="", origin="computed")


def spaced(text: str) -> str:
    return text.replace("\u00a0", " ").replace("\u202f", " ").replace("\u2009", " ")


@pytest.mark.parametrize(
    ("value", "unit", "expected", "within"),
    [
        # NIST SP 811 (2008), appendix B.8: 1 fl oz (US) = 2.957353 E-05 m3, 1 oz (avdp) = 2.834952 E-02 kg,
        # 1 in = 2.54 E-02 m (exact), 1 in2 = 6.4516 E-04 m2 (exact), 1 psi = 6.894757 E+03 Pa,
        # 1 lbf = 4.448222 N, t/°F = 1.8 t/°C + 32
        (29.57353, "ml", 1.0, 1e-7),
        (28.34952, "g", 1.0, 2e-7),
        (25.4, "mm", 1.0, 1e-15),
        (645.16, "mm2", 1.0, 1e-15),
        (0.006894757, "mpa", 1.0, 1e-6),
        (4.448222, "n", 1.0, 1e-6),
        (100.0, "c", 212.0, 0.0),
        (-40.0, "c", -40.0, 0.0),
        (10.0, "k", 18.0, 0.0),
        # NIST SP 811, appendix B.8: 1 oz/gal (US) = 7.489152 kg/m3; 128 fl oz make a gallon
        (0.007489152, "g_ml", 1 / 128, 1e-8),
    ],
)
def test_the_factors_are_those_of_nist_sp_811(
    value: float, unit: Unit, expected: float, within: float
) -> None:
    assert units.us(value, unit) == pytest.approx(expected, abs=within)


@pytest.mark.parametrize(
    ("shown", "metric", "american"),
    [
        (figure(38.449, 37.9, 39.2, "ml"), "38.4 mL [37.9–39.2 mL]", "1.30 fl oz [1.28–1.33 fl oz]"),
        (figure(8.6, 7.4, 9.9, "g"), "8.6 g [7.4–9.9 g]", "0.30 oz [0.26–0.35 oz]"),
        (figure(165.2, 158.4, 171.0, "c"), "165 °C [158–171 °C]", "329 °F [317–340 °F]"),
        (figure(1.791, 1.791, 1.791, "mm"), "1.79 mm", "0.071 in"),
        (figure(0.15, 0.1, 0.3, "mpa"), "0.15 MPa [0.10–0.30 MPa]", "22 psi [15–44 psi]"),
        (
            figure(12345.0, 12300.0, 12400.0, "mm2"),
            "12 345 mm² [12 300–12 400 mm²]",
            "19.1 in² [19.1–19.2 in²]",
        ),
    ],
)
def test_a_figure_reads_in_both_systems(shown: Figure, metric: str, american: str) -> None:
    assert spaced(units.plain(shown)) == f"{metric} ({american})"


@pytest.mark.parametrize(
    ("shown", "text"),
    [
        (figure(45.0, 38.0, 57.0, "s"), "45 s [38–57 s]"),
        (figure(133.0, 95.0, 170.0, "s"), "2 min 15 s [1 min 35 s – 2 min 50 s]"),
        (figure(9000.0, 7200.0, 10800.0, "s"), "2 h 30 min [2–3 h]"),
        (figure(1500.0, 1320.0, 1740.0, "s"), "25 min [22–29 min]"),
        (figure(0.05, 0.05, 0.05, "share"), "5 %"),
        (figure(4.0, 4.0, 4.0, "count"), "4"),
        (figure(math.inf, 2.0, math.inf, "s"), "∞ s [2.0–∞ s]"),
    ],
)
def test_units_that_are_the_same_everywhere_are_written_once(shown: Figure, text: str) -> None:
    assert spaced(units.plain(shown)) == text


def test_german_writes_a_decimal_comma() -> None:
    assert spaced(units.plain(figure(38.4, 38.4, 38.4, "ml"), "de")) == "38,4 mL (1,30 fl oz)"


def test_what_is_not_a_number_is_never_shown() -> None:
    with pytest.raises(ValueError, match="not a number"):
        units.show(figure(math.nan, 0.0, 1.0, "ml"))


@given(st.floats(0.5, 5000.0), st.floats(0.0, 0.6))
def test_volumes_carry_at_most_three_significant_digits_below_a_litre(value: float, spread: float) -> None:
    text = units.show(figure(value, value * (1 - spread), value * (1 + spread), "ml")).metric.value
    number = spaced(text).removesuffix(" mL").replace(" ", "")
    if value < 999:
        assert len(number.replace(".", "").lstrip("0")) <= 3
    assert float(number) == pytest.approx(value, rel=0.06)


@given(st.floats(0.0, 40000.0))
@example(626.0)
def test_a_clock_time_is_within_half_of_its_step(seconds: float) -> None:
    """Steps of a tenth, of seconds from 10 s, of fives from 90 s, of minutes from 10 min."""
    step_s = 0.1 if seconds < 9.95 else 1.0 if seconds < 89.5 else 5.0 if seconds < 597.5 else 60.0
    parts = spaced(units.show(figure(seconds, seconds, seconds, "s")).metric.value).split(" ")
    factor = {"s": 1.0, "min": 60.0, "h": 3600.0}
    told = sum(float(n) * factor[u] for n, u in zip(parts[::2], parts[1::2], strict=True))
    assert told == pytest.approx(seconds, abs=step_s / 2 + 1e-9, rel=0.0)
