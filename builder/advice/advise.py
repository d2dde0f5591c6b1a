"""All advice for one mold."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TypeVar

from builder.advice import amounts, findings, logbook, parts, samples, trouble, window
from builder.advice.samples import Pair
from builder.advice.trouble import Shooting
from builder.advice.window import Context
from builder.base.problems import Faults, Problem, Where
from builder.model import (
    Advice,
    Figure,
    Finding,
    Measurement,
    MoldMaterial,
    MoldSpec,
    Plastisol,
    Tables,
    Window,
)
from builder.physics import clamping, flow

_Entry = TypeVar("_Entry", Plastisol, MoldMaterial)


def advise(spec: MoldSpec, measurement: Measurement, tables: Tables) -> Advice:
    """Amounts for every plastisol, a window for every pair with a mold material, and what may go wrong.

    Raises Faults if the spec names a plastisol or a mold material that the tables do not have.
    """
    practice = samples.with_declared(tables.practice, spec.declared)
    pairs = _pairs(spec, tables)
    context = window.make_context(measurement, pairs, practice)
    windows = [window.window(context, index, whole=index == 0) for index in range(len(pairs))]
    windows = [_judged(context, index, w) for index, w in enumerate(windows)]
    weights = tuple(
        amounts.amounts(plastisol, measurement, practice)
        for plastisol in {pair.plastisol.id: pair.plastisol for pair in pairs}.values()
    )
    eye_mm, suggested = amounts.eye(measurement, spec.hints, tables.eyes_mm, practice)
    return Advice(
        figures=figures(context, windows[0], amounts.headlines(measurement, weights[0])),
        amounts=weights,
        windows=tuple(windows),
        findings=findings.worst_first(
            [
                *findings.of_mold(context, eye_fits=eye_mm is not None),
                *parts.of_parts(measurement, practice),
            ]
        ),
        eye_mm=eye_mm,
        eye_suggested=suggested,
        sensitivity=window.sensitivity(context),
        shots=logbook.compared(context, spec.shots),
    )


def _judged(context: Context, index: int, own: Window) -> Window:
    """The window with what is found and what may go wrong where it is best shot."""
    shot = trouble.shooting(context, index)
    return replace(
        own,
        findings=_findings(context, index, own, shot),
        troubles=trouble.troubles(context, index, own, shot),
    )


def _findings(context: Context, index: int, own: Window, shot: Shooting) -> tuple[Finding, ...]:
    trade = context.pairs[index].plastisol.values["shoot"]
    hottest = samples.exact(trade.high, "c", "advice.because.shoot")
    return findings.worst_first(
        [*findings.of_window(own, hottest, context.measurement), *findings.of_pair(context, index, own, shot)]
    )


def figures(context: Context, own: Window, measured: Mapping[str, Figure]) -> dict[str, Figure]:
    """The mold's headline figures by name: what was measured, and the window's own."""
    shot_c = context.points[0].trial_c
    constants = context.own()
    found = {
        **measured,
        "hold": own.hold_s,
        "cool": own.cool_s,
        "rest": own.rest_s,
        "shrink": samples.figure(
            flow.shrink_share(constants["expansion"][0], shot_c - constants["set"][0]),
            "share",
            "advice.because.shrink",
        ),
    }
    if own.shoot_c is not None:
        found["shoot"] = own.shoot_c
    if context.measurement.kind == "injection":
        found["fill_time"] = amounts.filling_s(context.measurement, context.practice)
        force = clamping.opening_force_n(constants["pressure"][0], context.measurement.projected_mm2)
        found["clamp_force"] = samples.figure(force, "n", "advice.because.clamp_force")
        row = trouble.repeated(context, 0, shot_c, shots=1)
        if row.gap_mm is not None:
            found["gap"] = samples.figure(row.gap_mm, "mm", "advice.because.gap")
    return found


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
