"""What a figure must say, and a reader of what it says: written anew, so that a slip in units.py shows.

Factors: NIST Special Publication 811 (2008), appendix B.8. 1 in = 25.4 mm, 1 oz = 28.349523125 g,
1 US fl oz = 29.5735295625 mL, 1 lbf = 4.4482216152605 N, t/°F = 1.8 t/°C + 32; all exact.
1 psi is 1 lbf on 1 in².
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace

from builder.model import Figure

LETTERS = {"measured": "ᵐ", "computed": "ᶜ", "declared": "ᵈ", "common practice": "ᵖ"}
OUNCE_G, FLUID_OUNCE_ML, INCH_MM, POUND_N = 28.349523125, 29.5735295625, 25.4, 4.4482216152605
METRIC = {
    "ml": "mL", "g": "g", "mm": "mm", "mm2": "mm²", "c": "°C", "k": "K", "mpa": "MPa", "n": "N",
    "pa_s": "Pa·s", "ml_s": "mL/s", "g_ml": "g/mL", "share": "%", "count": "", "w_mk": "W/m·K",
    "j_kgk": "J/kg·K", "j_k": "J/K", "w_m2k": "W/m²·K", "per_k": "1/K", "s": "s", "m": "m",
}  # fmt: skip
US = {
    # unit: (symbol, US units to one of ours, offset)
    "ml": ("fl oz", 1 / FLUID_OUNCE_ML, 0.0),
    "g": ("oz", 1 / OUNCE_G, 0.0),
    "mm": ("in", 1 / INCH_MM, 0.0),
    "m": ("ft", 1000 / INCH_MM / 12, 0.0),
    "mm2": ("in²", 1 / INCH_MM**2, 0.0),
    "c": ("°F", 1.8, 32.0),
    "k": ("°F", 1.8, 0.0),
    "mpa": ("psi", INCH_MM**2 / POUND_N, 0.0),
    "n": ("lbf", 1 / POUND_N, 0.0),
    "ml_s": ("fl oz/s", 1 / FLUID_OUNCE_ML, 0.0),
    "g_ml": ("oz/fl oz", FLUID_OUNCE_ML / OUNCE_G, 0.0),
}
FINEST = {"mm": 0.005, "%": 0.5, "°C": 0.5, "°F": 0.5, "K": 0.5, "1/K": 5e-7}
"""Half of the last digit that a unit is ever told with; half a thousandth for the others."""
TOLERABLE_SHARE = 0.0506
"""A number that is told with two significant digits may be off by so much of itself."""
SECONDS = {"s": 1.0, "min": 60.0, "h": 3600.0}
_NUMBER = re.compile(r"[−]?(?:\d[\d\u202f]*(?:[.,]\d+)?|∞)")
_AMOUNT = re.compile(rf"({_NUMBER.pattern})[ \u00a0]?(.*)", re.S)
_CLOCK = re.compile(rf"({_NUMBER.pattern})[ \u00a0]?(h|min|s)?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """A figure as a page must tell it."""

    value: float | None
    """None where only a range is told."""
    low: float
    high: float
    unit: str
    letter: str = ""
    """The letter of its origin, where one stands behind it."""
    key: str = ""
    """Its place in the page's data, by which scripts put another one here."""
    ranged: bool = True
    """False where the range stands elsewhere."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Near:
    """A number in one system of units, and what stands behind it."""

    value: float
    tolerance: float
    unit: str = ""
    tail: str = ""

    def faults(self, text: str) -> list[str]:
        """What is wrong with its text."""
        number, _, rest = text.partition("\u00a0" if "\u00a0" in text else " ")
        if rest != f"{self.unit} {self.tail}".strip():
            return [f"{rest!r} stands behind it instead of {self.unit!r} and {self.tail!r}"]
        return [] if abs(float(number) - self.value) <= self.tolerance else [f"not {self.value:g}"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """Words that stand where another pair has a figure."""

    text: str
    key: str


def figure(one: Figure, key: str = "") -> Quantity:
    """A figure of the record with the letter of its origin."""
    return Quantity(
        value=one.value, low=one.low, high=one.high, unit=one.unit, letter=LETTERS[one.origin], key=key
    )


def bare(one: Figure, key: str = "") -> Quantity:
    """A figure of the record without a letter."""
    return replace(figure(one, key), letter="")


def brief(one: Figure) -> Quantity:
    """A figure of the record with neither letter nor range."""
    return replace(bare(one), ranged=False)


def exact(value: float, unit: str, letter: str = "") -> Quantity:
    """A number without a range of its own."""
    return Quantity(value=value, low=value, high=value, unit=unit, letter=letter)


def between(low: float, high: float, unit: str) -> Quantity:
    """A range alone."""
    return Quantity(value=None, low=low, high=high, unit=unit)


def faults(text: str, wanted: Quantity, mark: str = ".") -> list[str]:
    """What is wrong with a figure's text, where the language writes its decimals behind `mark`."""
    letter = text[-1:] if text[-1:] in LETTERS.values() else ""
    found = [f"letter {letter!r} instead of {wanted.letter!r}"] if letter != wanted.letter else []
    told = list(_systems(text.removesuffix(letter)))
    should = list(_wanted(wanted))
    if len(told) != len(should):
        return [*found, f"{len(told)} systems of units instead of {len(should)}"]
    for (value, span), (symbol, numbers) in zip(told, should, strict=True):
        found += _wrong((value, span), symbol, numbers, mark, ranged=wanted.ranged)
    return found


def _systems(text: str) -> Iterator[tuple[str, str]]:
    """Value and range of each system, from any of the forms that pages, terminals and descriptions use."""
    if "[" in text or (" (" in text and " · " not in text and "–" not in text.partition(" (")[2]):
        metric, american = re.fullmatch(r"([^(]*?)(?: \((.*)\))?", text, re.S).groups()  # type: ignore[union-attr]
        for part in (metric, american):
            if part is not None:
                value, span = re.fullmatch(r"(.*?)(?: \[(.*)\])?", part, re.S).groups()  # type: ignore[union-attr]
                yield value, span or ""
        return
    for part in text.split(" · "):
        value, span = re.fullmatch(r"(.*?)(?: \((.*)\))?", part, re.S).groups()  # type: ignore[union-attr]
        yield value, span or ""


def _wanted(wanted: Quantity) -> Iterator[tuple[str, tuple[float | None, float, float]]]:
    """Symbol and numbers in each system."""
    numbers = (wanted.value, wanted.low, wanted.high)
    factor = 100.0 if wanted.unit == "share" else 1.0
    yield METRIC[wanted.unit], _through(numbers, factor, 0.0)
    if wanted.unit in US:
        symbol, factor, offset = US[wanted.unit]
        yield symbol, _through(numbers, factor, offset)


def _through(
    numbers: tuple[float | None, float, float], factor: float, offset: float
) -> tuple[float | None, float, float]:
    value, low, high = numbers
    return (None if value is None else value * factor + offset, low * factor + offset, high * factor + offset)


def _wrong(
    told: tuple[str, str], symbol: str, numbers: tuple[float | None, float, float], mark: str, *, ranged: bool
) -> list[str]:
    """What is wrong in one system of units."""
    value, span = told
    wanted, low, high = numbers
    if wanted is None:
        value, span = "", value
    found, half = list[str](), None
    if wanted is not None:
        found, half = _one(value, wanted, symbol, mark)
    if not span:
        alike = low == high or (half is not None and abs(high - low) <= 2 * half)
        return found if alike or not ranged else [*found, f"{value!r} tells no range {low:g} to {high:g}"]
    if not ranged:
        return [*found, f"{span!r} is a range where none belongs"]
    ends = re.split(r"\u2009?–\u2009?", span)
    if len(ends) != 2:
        return [*found, f"{span!r} is no range"]
    unit = _unit(ends[1], symbol) or _unit(value, symbol)
    for end, number in zip(ends, (low, high), strict=True):
        completed = end if _unit(end, symbol) or not unit else f"{end}\u00a0{unit}"
        found += _one(completed, number, symbol, mark, coarsest=None if wanted is None else wanted)[0]
    return found


def _unit(text: str, symbol: str) -> str:
    """The unit that stands behind a number; of a time its last one."""
    if symbol == "s":
        units = [unit for _, unit in _CLOCK.findall(text) if unit]
        return units[-1] if units else ""
    match = _AMOUNT.fullmatch(text)
    return match[2] if match else ""


def _one(
    text: str, wanted: float, symbol: str, mark: str, coarsest: float | None = None
) -> tuple[list[str], float | None]:
    """What is wrong with one number and its unit, and half of its last digit."""
    number, half = _time(text, mark) if symbol == "s" else _amount(text, symbol, mark)
    if number is None or half is None:
        return [f"{text!r} is no number of {symbol or 'things'}"], None
    if abs(number - wanted) > half * (1 + 1e-9) + 1e-9 * abs(wanted):
        return [f"{text!r} instead of {wanted:.6g} {symbol}"], half
    weight = abs(wanted if coarsest is None else coarsest)
    tolerable = _step(wanted) if symbol == "s" else max(TOLERABLE_SHARE * weight, FINEST.get(symbol, 0.0005))
    rough = half > tolerable * (1 + 1e-9) and number != wanted
    return ([f"{text!r} is too rough for {wanted:.6g} {symbol}"] if rough else []), half


def _step(seconds: float) -> float:
    """Half of the step that a time is told in: tenths, seconds, fives, minutes."""
    steps = ((9.95, 0.05), (89.5, 0.5), (597.5, 2.5))
    return next((half for below, half in steps if seconds < below), 30.0)


def _amount(text: str, symbol: str, mark: str) -> tuple[float | None, float | None]:
    match = _AMOUNT.fullmatch(text)
    if match is None or match[2] != symbol:
        return None, None
    return _read(match[1], mark)


def _read(number: str, mark: str) -> tuple[float | None, float | None]:
    """A number, and half of its last digit; nothing where it has the mark of another language."""
    plain = number.replace("\u202f", "").replace("−", "-").replace("∞", "inf")
    if {",": ".", ".": ","}[mark] in plain:
        return None, None
    whole, _, rest = plain.partition(mark)
    return float(f"{whole}.{rest or 0}" if "inf" not in whole else whole), 0.5 * 10.0 ** -len(rest)


def _time(text: str, mark: str) -> tuple[float | None, float | None]:
    """Seconds of a time as a clock tells it, and half of the step that it is told in.

    Nothing where seconds go on past 89: a clock tells minutes then.
    """
    parts = _CLOCK.findall(text)
    if not parts or any(not unit for _, unit in parts) or _CLOCK.sub("", text).strip(" \u00a0"):
        return None, None
    total, last = 0.0, 0.0
    for number, unit in parts:
        read, half = _read(number, mark)
        if read is None or half is None:
            return None, None
        total += read * SECONDS[unit]
        last = half * SECONDS[unit]
    if len(parts) == 1 and parts[0][1] == "s":
        return (total, last) if total < 90 or math.isinf(total) else (None, None)
    return total, 2.5 if total < 597.5 else 30.0


def rounded_s(seconds: float) -> int:
    """A time as its text tells it, in whole seconds: fives from 90 s, minutes from 10 min."""
    if seconds < 90:
        return math.ceil(seconds) if seconds < 10 else round(seconds)
    return 5 * round(seconds / 5) if seconds < 600 else 60 * round(seconds / 60)
