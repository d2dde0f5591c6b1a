"""A minnow whose numbers are known, for the tests of advice: its spec, materials, context."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from builder.advice import findings, trouble, window
from builder.advice.samples import Pair
from builder.advice.window import Context
from builder.model import Advice, Declared, Figure, Finding, Hints, Measurement, MoldSpec, ShotLog, Tables
from builder.spec import material_tables

TABLES = material_tables.load()


def only(*ids: str) -> Tables:
    """The tables with these plastisols and mold materials alone: all 32 pairs take four times as long."""
    return replace(
        TABLES,
        plastisols=tuple(entry for entry in TABLES.plastisols if entry.id in ids),
        mold_materials=tuple(entry for entry in TABLES.mold_materials if entry.id in ids),
    )


OWN = only("medium", "pla")
"""The pair of `spec` alone, for what is said of no other."""
FEW = only("soft", "medium", "pla", "petg", "aluminium")
TIMES = ("fill_c", "mold_limit_c", "plastisol_limit_c", "hold_s", "cool_s", "rest_s")
SHORT_MM, FULL_MM = 0.8, 2.4
"""Trunks below and above the critical thickness at 157 °C."""


def spec(
    plastisol: str = "medium",
    mold_material: str = "pla",
    *,
    hints: Hints | None = None,
    declared: Declared | None = None,
    shots: tuple[ShotLog, ...] = (),
) -> MoldSpec:
    return MoldSpec(
        slug="minnow",
        folder=Path("molds/minnow"),
        title="Minnow",
        kind="injection",
        parts=(),
        cavities=2,
        plastisol=plastisol,
        mold_material=mold_material,
        units="mm",
        hints=hints or Hints(),
        declared=declared or Declared(),
        shots=shots,
    )


def pair(plastisol: str = "medium", mold_material: str = "pla") -> Pair:
    return Pair(
        plastisol=next(entry for entry in TABLES.plastisols if entry.id == plastisol),
        mold=next(entry for entry in TABLES.mold_materials if entry.id == mold_material),
    )


def make_context(measurement: Measurement, plastisol: str = "medium", mold_material: str = "pla") -> Context:
    return window.make_context(measurement, [pair(plastisol, mold_material)], TABLES.practice)


def figures_of(advice: Advice) -> list[tuple[str, Figure]]:
    named = ((f"{w.plastisol}/{w.mold_material} {n}", getattr(w, n)) for w in advice.windows for n in TIMES)
    return [*advice.figures.items(), *((name, figure) for name, figure in named if figure is not None)]


def row_findings(
    context: Context, shot_c: float, *, shots: int, rest_s: float, advised: Figure | None = None
) -> tuple[Finding, ...]:
    """What is found of so many shots in a row at one temperature with such a rest, of the first pair."""
    row = trouble.repeated(context, 0, shot_c, shots=shots, rest_s=rest_s)
    return findings.of_row(context, row, shot_c, shots=shots, rest_s=rest_s, advised=advised)
