"""A caution: what to mind at a step of the work, and who says so."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from builder.model.numbers import Figure

Step = Literal["always", "print", "heat", "shoot", "open", "first_aid", "store"]
"""Where a caution is needed, in the order of the work."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """One caution; `safety.KEY` is its sentence in the language file, filled from `values`."""

    key: str
    step: Step
    body: str
    """Who says so; `common practice` where no source was found, `Shotbook` for our own computation."""
    title: str
    year: str
    """Of the edition; empty where the page bears none."""
    read: bool
    """True when the part that is meant was read, False when it is from memory or ours."""
    carried: bool = False
    """The source says it of something like it: hot oil, water, machines."""
    card: bool = False
    """It stands on the shot card too."""
    injector: bool = False
    """It is of no use where plastic is poured."""
    values: Mapping[str, Figure] = field(default_factory=dict)
