"""Unit conversion and number formatting: the only place where a number becomes text."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from builder.model import Figure, Unit

ML_PER_FL_OZ = 29.5735295625
G_PER_OZ = 28.349523125
MM_PER_INCH = 25.4
PSI_PER_MPA = 145.0377377
LBF_PER_N = 0.22480894

_US: dict[Unit, tuple[float, float, str]] = {
    # unit: (factor, offset, US symbol); exact where NIST SP 811 appendix B.8 marks the factor exact
    "ml": (1 / ML_PER_FL_OZ, 0.0, "fl oz"),
    "g": (1 / G_PER_OZ, 0.0, "oz"),
    "mm": (1 / MM_PER_INCH, 0.0, "in"),
    "m": (1000 / MM_PER_INCH / 12, 0.0, "ft"),
    "mm2": (1 / MM_PER_INCH**2, 0.0, "in²"),
    "c": (1.8, 32.0, "°F"),
    "k": (1.8, 0.0, "°F"),
    "mpa": (PSI_PER_MPA, 0.0, "psi"),
    "n": (LBF_PER_N, 0.0, "lbf"),
    "ml_s": (1 / ML_PER_FL_OZ, 0.0, "fl oz/s"),
    "g_ml": (ML_PER_FL_OZ / G_PER_OZ, 0.0, "oz/fl oz"),
}
_SYMBOL: dict[Unit, str] = {
    "ml": "mL",
    "g": "g",
    "mm": "mm",
    "m": "m",
    "mm2": "mm²",
    "c": "°C",
    "k": "K",
    "s": "s",
    "mpa": "MPa",
    "n": "N",
    "pa_s": "Pa·s",
    "ml_s": "mL/s",
    "g_ml": "g/mL",
    "share": "%",
    "count": "",
    "w_mk": "W/m·K",
    "j_kgk": "J/kg·K",
    "j_k": "J/K",
    "w_m2k": "W/m²·K",
    "per_k": "1/K",
}
_WHOLE: frozenset[Unit] = frozenset({"c", "k"})
_MOST_DECIMALS = {"mm": 2, "%": 2, "1/K": 6}
"""By symbol; three where none is given: nothing here is measured finer."""
_SPREAD_OF_TWO_DIGITS = 0.2
"""A figure whose range is wider than this share of it is written with two significant digits, else three."""

_DECIMAL_MARK = {"en": ".", "de": ","}
"""Decimal mark by language; a language that is not here writes a point."""
_NBSP = "\u00a0"
_THIN = "\u202f"


class Shown(NamedTuple):
    """A figure as text in one system of units: value with unit, and its range with unit ('' if none).

    `span` is the range as it is written right after the value, where the unit need not be said again.
    """

    value: str
    range: str
    span: str


class Both(NamedTuple):
    """A figure as text in metric and in US units: tuples, for a catalogue has millions of them."""

    metric: Shown
    us: Shown


def us(value: float, unit: Unit) -> float:
    """The value in its US unit.

    >>> us(100.0, "c"), round(us(29.5735295625, "ml"), 9)
    (212.0, 1.0)
    """
    factor, offset, _ = _US.get(unit, (1.0, 0.0, ""))
    return value * factor + offset


def show(figure: Figure, language: str = "en") -> Both:
    """The figure in both systems, its range beside it, with the digits that the range allows.

    >>> from builder.model import Figure
    >>> shot = Figure(value=38.449, low=37.9, high=39.2, unit="ml", because="", origin="computed")
    >>> show(shot).metric.value.replace(_NBSP, " "), show(shot).us.range.replace(_NBSP, " ")
    ('38.4 mL', '1.28–1.33 fl oz')
    """
    return _both((figure.value, figure.low, figure.high), figure.unit, language)


@lru_cache(maxsize=4096)
def _both(triple: tuple[float, float, float], unit: Unit, language: str) -> Both:
    """Value, low and high in both systems; a page tells half of its figures more than once."""
    if any(map(math.isnan, triple)):
        raise ValueError(f"a figure is not a number: {triple} {unit}")
    metric = _system(triple, unit, _SYMBOL[unit], language)
    if unit not in _US:
        return Both(metric=metric, us=metric)
    american = (us(triple[0], unit), us(triple[1], unit), us(triple[2], unit))
    return Both(metric=metric, us=_system(american, unit, _US[unit][2], language))


def plain(figure: Figure, language: str = "en") -> str:
    """The figure in one line: metric, US in brackets, the range in both.

    >>> from builder.model import Figure
    >>> wall = Figure(value=2.0, low=1.9, high=2.1, unit="mm", because="", origin="measured")
    >>> plain(wall).replace(_NBSP, " ")
    '2.00 mm [1.90–2.10 mm] (0.079 in [0.075–0.083 in])'
    """
    both = show(figure, language)
    metric, american = (f"{s.value} [{s.range}]" if s.range else s.value for s in (both.metric, both.us))
    return metric if metric == american else f"{metric} ({american})"


def line(figure: Figure, language: str = "en") -> str:
    """The figure in one line for a page: both systems apart by a dot, each with its range in round brackets.

    The page's script takes it apart again to show one system or the other.

    >>> from builder.model import Figure
    >>> wall = Figure(value=2.0, low=1.9, high=2.1, unit="mm", because="", origin="measured")
    >>> line(wall).replace(_NBSP, " ")
    '2.00 mm (1.90–2.10) · 0.079 in (0.075–0.083)'
    """
    both = show(figure, language)
    systems = dict.fromkeys((both.metric, both.us))
    return " · ".join(f"{s.value} ({s.span})" if s.span else s.value for s in systems)


def sides(lengths_mm: Sequence[float], language: str = "en") -> list[str]:
    """Lengths multiplied, metric and US, in the form of a figure's texts with empty ranges.

    >>> [text.replace(_NBSP, " ") for text in sides([150.0, 90.0])]
    ['150 × 90 mm', '', '5.91 × 3.54 in', '']
    """
    metric = " × ".join(_number(length, 0, language) for length in lengths_mm)
    american = " × ".join(_number(us(length, "mm"), 2, language) for length in lengths_mm)
    return [_with_unit(metric, _SYMBOL["mm"]), "", _with_unit(american, _US["mm"][2]), ""]


def brief(figure: Figure, language: str = "en") -> str:
    """The figure as text without its range, for picture descriptions.

    >>> from builder.model import Figure
    >>> wall = Figure(value=2, low=1.9, high=2.1, unit="mm", because="", origin="measured")
    >>> brief(wall).replace(_NBSP, " ")
    '2.00 mm (0.079 in)'
    """
    both = show(figure, language)
    return both.metric.value if both.metric == both.us else f"{both.metric.value} ({both.us.value})"


def mark(value: float, unit: Unit, *, american: bool = False, language: str = "en") -> str:
    """An axis label: a round number, already in the right unit system, without needless decimals.

    >>> mark(2.5, "mm").replace(_NBSP, " "), mark(320.0, "c", american=True).replace(_NBSP, " ")
    ('2.5 mm', '320 °F')
    """
    text = f"{value:.6g}".replace(".", _DECIMAL_MARK.get(language, "."))
    return _with_unit(text, _US[unit][2] if american else _SYMBOL[unit])


def digits(value: float, unit: str = "", language: str = "en") -> str:
    """A number with up to five significant digits, for comparing a computed value with a published one.

    >>> digits(0.311052848), digits(27.669, "mm").replace(_NBSP, " ")
    ('0.31105', '27.669 mm')
    """
    return _with_unit(f"{value:.5g}".replace(".", _DECIMAL_MARK.get(language, ".")), unit)


def money(triple: tuple[float, float, float], currency: str, language: str = "en") -> str:
    """An amount of money with its range, in a currency's own code (ISO 4217).

    >>> money((4.2, 3.1, 6.0), "EUR").replace("\u00a0", " ")
    '4.20 EUR (3.10–6.00)'
    """
    value, low, high = (_number(one, 2, language) for one in triple)
    span = "" if low == high else f" ({low}–{high})"
    return f"{_with_unit(value, currency)}{span}"


def size(size_bytes: int, language: str = "en") -> str:
    """A file's size, decimal prefixes (IEC 80000-13).

    >>> size(512).replace(_NBSP, " "), size(1_284_084).replace(_NBSP, " ")
    ('512 B', '1.28 MB')
    """
    steps = ((10**9, "GB"), (10**6, "MB"), (10**3, "kB"))
    for step, symbol in steps:
        if size_bytes >= step:
            number = size_bytes / step
            return _with_unit(_number(number, _decimals(number, 3), language), symbol)
    return _with_unit(str(size_bytes), "B")


def _system(triple: tuple[float, float, float], unit: Unit, symbol: str, language: str) -> Shown:
    """One system's text: value, and low–high unless they read the same as the value."""
    if unit == "s":
        return _time(triple, language)
    if unit == "share":
        triple = (triple[0] * 100, triple[1] * 100, triple[2] * 100)
    whole = unit in _WHOLE or (unit == "count" and all(float(number).is_integer() for number in triple))
    decimals = 0 if whole else _enough(triple[0], _figure_decimals(triple, unit), symbol)
    value = _number(triple[0], decimals, language)
    if triple[0] == triple[1] == triple[2]:
        return Shown(value=_with_unit(value, symbol), range="", span="")
    low, high = _number(triple[1], decimals, language), _number(triple[2], decimals, language)
    span = "" if low == value == high else f"{low}–{high}"
    return Shown(value=_with_unit(value, symbol), range=_with_unit(span, symbol) if span else "", span=span)


def _enough(value: float, wanted: int, symbol: str) -> int:
    """The decimals asked for, limited to the unit's finest; more only where the text would show zero.

    >>> _enough(0.0789, 4, "in"), _enough(0.0004, 6, "in"), _enough(1e-9, 11, "in")
    (3, 4, 0)
    """
    most = _MOST_DECIMALS.get(symbol, 3)
    if value == 0 or round(value, most) != 0:
        return min(most, wanted)
    return _decimals(value, 1) if round(value, most + 2) != 0 else 0


def _figure_decimals(triple: tuple[float, float, float], unit: Unit) -> int:
    """Decimals for a figure: two significant digits where the range is wide, three where it is narrow."""
    value, low, high = triple
    if value >= 1 and unit == "share":
        return 0
    wide = not math.isfinite(high - low) or abs(high - low) > _SPREAD_OF_TWO_DIGITS * abs(value)
    return _decimals(value, 2 if wide else 3)


def _decimals(value: float, digits: int) -> int:
    """Decimals that leave so many significant digits after rounding, none below zero.

    >>> _decimals(9.994, 3), _decimals(9.996, 3)
    (2, 1)
    """
    if value == 0 or not math.isfinite(value):
        return 0
    return max(0, digits - 1 - int(f"{value:.{digits - 1}e}".partition("e")[2]))


def _number(value: float, decimals: int, language: str) -> str:
    """A number with a fixed count of decimals, the language's decimal mark, thousands apart from 10 000."""
    if math.isinf(value):
        return "∞" if value > 0 else "−∞"
    if 0 <= value < 1000:  # as most are
        mark, text = _DECIMAL_MARK.get(language, "."), f"{abs(value):.{decimals}f}"
        return text if mark == "." else text.replace(".", mark)
    text = f"{abs(value):,.{decimals}f}"
    whole, _, rest = text.partition(".")
    whole = whole.replace(",", _THIN if len(whole) > 5 else "")
    sign = "−" if value < 0 and float(text.replace(",", "")) else ""
    return f"{sign}{whole}{_DECIMAL_MARK.get(language, '.') + rest if rest else ''}"


def _with_unit(number: str, symbol: str) -> str:
    """Number and unit, kept on one line."""
    return f"{number}{_NBSP}{symbol}" if symbol else number


def _time(triple: tuple[float, float, float], language: str) -> Shown:
    """Seconds as a person reads them off a clock."""
    value, low, high = [_clock(seconds, language) for seconds in triple]
    if low == value == high:
        return Shown(value=value, range="", span="")
    (low_number, _, unit), (high_number, _, high_unit) = low.rpartition(_NBSP), high.rpartition(_NBSP)
    if unit != high_unit or _NBSP in low_number + high_number:
        span = f"{low}\u2009–\u2009{high}"
        return Shown(value=value, range=span, span=span)
    span = f"{low_number}–{high_number}"
    return Shown(
        value=value, range=_with_unit(span, unit), span=span if value.endswith(unit) else f"{span} {unit}"
    )


def countdown_s(seconds: float) -> int:
    """Whole seconds for a clock beside the text of the same time: it starts with what the text tells.

    >>> [countdown_s(s) for s in (0, 4.24, 45.3, 133, 322, 1110, 9000)]
    [0, 5, 45, 135, 320, 1080, 9000]
    """
    if seconds < 0.05:
        return 0
    if seconds < 9.95:
        return math.ceil(round(seconds, 1))
    step = 1 if seconds < 89.5 else 5 if seconds < 597.5 else 60
    return round(seconds / step) * step


def _clock(seconds: float, language: str) -> str:
    """One time: tenths below 10 s, seconds below 90 s, then min and s in fives, then min, then h and min.

    >>> [_clock(s, "en").replace(_NBSP, " ") for s in (4.24, 45.3, 133, 1234, 9000)]
    ['4.2 s', '45 s', '2 min 15 s', '21 min', '2 h 30 min']
    """
    if seconds < 0.05:
        return _with_unit("0", "s")
    if seconds < 9.95:
        return _with_unit(_number(seconds, 1, language), "s")
    if seconds < 89.5 or math.isinf(seconds):
        return _with_unit(_number(seconds, 0, language), "s")
    if seconds < 597.5:
        minutes, rest = divmod(round(seconds / 5) * 5, 60)
        return f"{minutes}{_NBSP}min{_NBSP}{rest}{_NBSP}s" if rest else f"{minutes}{_NBSP}min"
    minutes = round(seconds / 60)
    hours, rest = divmod(minutes, 60)
    if minutes < 120:
        return f"{minutes}{_NBSP}min"
    return f"{hours}{_NBSP}h{_NBSP}{rest}{_NBSP}min" if rest else f"{hours}{_NBSP}h"
