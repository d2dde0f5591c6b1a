"""The only place where a number becomes text, metric and US together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

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
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A figure as text in one system of units: value with unit, and its range with unit ('' if none)."""

    value: str
    range: str


def us(value: float, unit: Unit) -> float:
    """The value in its US unit.

    >>> us(100.0, "c"), round(us(29.5735295625, "ml"), 9)
    (212.0, 1.0)
    """
    factor, offset, _ = _US.get(unit, (1.0, 0.0, ""))
    return value * factor + offset
