"""Numbers between stages: value, range, unit and origin."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

Vec3 = tuple[float, float, float]
Origin = Literal["measured", "computed", "declared", "common practice"]
Grade = Literal["standard", "handbook", "paper", "vendor", "measured", "common practice", "recalled"]
Unit = Literal[
    "ml", "g", "mm", "mm2", "c", "k", "s", "mpa", "n", "pa_s", "ml_s", "g_ml", "share", "count",
    "w_mk", "j_kgk", "j_k", "w_m2k", "per_k", "m",
]  # fmt: skip
Kind = Literal["injection", "open pour"]
Stands = Literal["sprue_up", "tail_up", "flat"]
"""How a mold stands while it is shot."""
Role = Literal["half", "core", "plug", "blade", "open", "bait"]
LengthUnit = Literal["mm", "cm", "m", "inch"]
Level = Literal["stop", "warn", "note"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sourced:
    """A table's value with its range (low <= value <= high), its unit, its source and its grade."""

    value: float
    low: float
    high: float
    unit: Unit
    source: str
    """Key of `Tables.sources`."""
    grade: Grade


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A number shown to a person; `because` is a key of the language file (texts)."""

    value: float
    low: float
    high: float
    unit: Unit
    because: str
    origin: Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """Something to know about a mold: `code` is its sentence in the language file, filled from `values`."""

    level: Level
    code: str
    values: Mapping[str, Figure | str] = field(default_factory=dict)
    at_mm: Vec3 | None = None
