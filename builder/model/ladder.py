"""Records of the flow ladder: its measures, what a maker read in it, and what that says of his plastisol."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from builder.model.numbers import Figure, Sourced


@dataclass(frozen=True, slots=True, kw_only=True)
class Ladder:
    """A flow ladder: channels of stepped thickness round a well whose level drives them all alike."""

    gaps_mm: tuple[float, ...]
    """Thickness of each channel, the thinnest first."""
    width_mm: float
    length_mm: float
    well_mm: float
    """Bore of the well."""
    head_mm: float
    """Height of its fill mark above the face where the halves meet."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LadderShot:
    """One filling of the ladder: readings of the thermometer, and how far each channel filled."""

    well_c: float
    mold_c: float
    reached_mm: tuple[float, ...]
    """From the mouth of each channel to the tip, the thinnest first; a full channel has its length."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LadderReadings:
    """A file of readings, checked. `id` is the name of the plastisol's file that comes of it."""

    id: str
    name: str
    like: str
    mold_material: str
    ladder: Ladder
    shots: tuple[LadderShot, ...]
    stopped_c: float | None = None
    """Where it stopped flowing in the cup, if that was watched."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LadderFit:
    """A plastisol's viscosity and set temperature from its readings."""

    viscosity: Figure
    """At 160 °C, with its 90 % range."""
    set_c: Figure
    before: Mapping[str, Figure]
    """The same of the table, with the 90 % ranges that it is drawn with."""
    narrower: Mapping[str, float]
    """How many times narrower each 90 % range became, viscosity on a scale of ratios."""
    at_shot: tuple[tuple[float, Figure], ...]
    """Temperature of each shot, and the viscosity there. One shot tells viscosity and set temperature only
    together: how far a plastic runs."""
    expected_mm: tuple[tuple[Figure, ...], ...]
    """How far each channel fills by the fitted values, by shot."""
    values: Mapping[str, Sourced]
    """For the plastisol's file; the ends of the ranges are those of a triangle with that 90 % range."""
    logged: int = 0
    """How many logged shots count along."""
