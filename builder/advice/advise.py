"""All advice for one mold."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

from builder.advice import amounts, samples, window
from builder.advice.samples import Pair
from builder.model import Advice, Measurement, MoldMaterial, MoldSpec, Plastisol, Tables
from builder.problems import Faults, Problem, Where

_Entry = TypeVar("_Entry", Plastisol, MoldMaterial)


def advise(spec: MoldSpec, measurement: Measurement, tables: Tables) -> Advice:
    """Amounts for every plastisol, a window for every pair with a mold material, and what may go wrong.

    Raises Faults if the spec names a plastisol or a mold material that the tables do not have.
    """
    practice = samples.with_declared(tables.practice, spec.declared)
    pairs = _pairs(spec, tables)
    known = window.ground(measurement, pairs, practice)
    windows = tuple(window.window(known, index, whole=index == 0) for index in range(len(pairs)))
    plastisols = list({pair.plastisol.id: pair.plastisol for pair in pairs}.values())
    weights = tuple(amounts.amounts(plastisol, measurement, practice) for plastisol in plastisols)
    eye_mm, suggested = amounts.eye(measurement, spec.hints, tables.eyes_mm, practice)
    figures = amounts.headlines(measurement, weights[0])
    return Advice(
        figures=figures,
        amounts=weights,
        windows=windows,
        findings=(),
        eye_mm=eye_mm,
        eye_suggested=suggested,
        sensitivity=window.sensitivity(known),
    )


def _pairs(spec: MoldSpec, tables: Tables) -> list[Pair]:
    """Every pair, the mold's own first, the mold's own plastisol with the density that its maker declared."""
    own = _named(spec, "plastisol", spec.plastisol, tables.plastisols)
    own_mold = _named(spec, "mold_material", spec.mold_material, tables.mold_materials)
    plastisols = [own, *(p for p in tables.plastisols if p.id != own.id)]
    molds = [own_mold, *(m for m in tables.mold_materials if m.id != own_mold.id)]
    plastisols[0] = samples.with_density(own, spec.declared)
    return [Pair(plastisol=plastisol, mold=mold) for plastisol in plastisols for mold in molds]


def _named(spec: MoldSpec, key: str, name: str, entries: Sequence[_Entry]) -> _Entry:
    for entry in entries:
        if entry.id == name:
            return entry
    where = Where(file="mold.yaml", line=spec.line_of.get(key), key=key)
    expected = "one of " + ", ".join(entry.id for entry in entries)
    raise Faults([Problem(where=where, what=f"{key} {name} is in no table", expected=expected)])
