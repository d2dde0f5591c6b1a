"""All advice for one mold."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TypeVar

from builder.advice import (
    amounts,
    findings,
    hand,
    invariants,
    logbook,
    parts,
    samples,
    sensitivity,
    trouble,
    window,
)
from builder.advice.samples import Pair
from builder.advice.trouble import Shooting
from builder.advice.window import Context
from builder.advice.window_invariants import RuleInput
from builder.base.problems import Faults, Problem, Where
from builder.model import (
    Advice,
    Figure,
    Finding,
    Measurement,
    MoldMaterial,
    MoldSpec,
    Plastisol,
    Sourced,
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
    context = window.make_context(measurement, pairs, practice, spec.stands)
    windows = [window.window(context, index, whole=index == 0) for index in range(len(pairs))]
    windows = [_judged(context, index, w) for index, w in enumerate(windows)]
    weights = tuple(
        amounts.amounts(plastisol, measurement, practice)
        for plastisol in {pair.plastisol.id: pair.plastisol for pair in pairs}.values()
    )
    eye_mm, suggested = amounts.eye(measurement, spec.hints, tables.eyes_mm, practice)
    made = Advice(
        figures=figures(context, windows[0], amounts.headlines(measurement, weights[0]))
        | hand.headlines(weights[0].hand, pairs[0].plastisol, spec.colours),
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
        sensitivity=sensitivity.sensitivity(context),
        shots=logbook.compared(context, spec.shots),
        next_bolt_mm=context.parting.at_mm if context.parting else None,
    )
    _refuse_contradictions(made, context)
    return made


def rule_input(
    advice: Advice, measurement: Measurement, pairs: Sequence[Pair], practice: Mapping[str, Sourced]
) -> RuleInput:
    """The advice, and the numbers that the invariants compare it with."""
    values = {pair.plastisol.id: pair.plastisol.values for pair in pairs}
    return RuleInput(
        advice=advice,
        measurement=measurement,
        practice=practice,
        coldest_c={name: known["shoot"].low for name, known in values.items()},
        limit_c={name: known["limit"].low for name, known in values.items()},
    )


def _refuse_contradictions(advice: Advice, context: Context) -> None:
    """Raise Faults where two numbers contradict each other: a fault of ours, never the maker's."""
    found = invariants.broken(rule_input(advice, context.measurement, context.pairs, context.practice))
    if found:
        where = Where(file=context.measurement.slug)
        remedy = "this is a fault of Shotbook, not of your mold: please report this line"
        raise Faults(
            [
                Problem(
                    where=where, what=f"numbers contradict each other ({one.rule}): {one.what}", remedy=remedy
                )
                for one in found
            ]
        )


def _judged(context: Context, index: int, own: Window) -> Window:
    """Add findings and troubles to a window, both for its recommended temperature."""
    shot = trouble.shooting(context, index)
    return replace(
        own,
        findings=_findings(context, index, own, shot),
        troubles=trouble.troubles(context, index, own, shot),
    )


def _findings(context: Context, index: int, own: Window, shot: Shooting) -> tuple[Finding, ...]:
    trade = context.pairs[index].plastisol.values["shoot"]
    fused = samples.exact(trade.low, "c", "advice.because.fused", "common practice")
    return findings.worst_first(
        [*findings.of_window(own, fused, context.measurement), *findings.of_pair(context, index, own, shot)]
    )


def figures(context: Context, own: Window, measured: Mapping[str, Figure]) -> dict[str, Figure]:
    """The mold's headline figures by name: what was measured, and the window's own."""
    shot_c = context.points[0].trial_c
    constants = context.own()
    found = {
        **measured,
        "cool": own.cool_s,
        "cool_later": own.times[-1].open_s,
        "cold": own.cold_s,
        "shrink": samples.figure(
            flow.shrink_share(constants["expansion"][0], shot_c - constants["set"][0]),
            "share",
            "advice.because.shrink",
        ),
    }
    found |= {"rest": own.rest_s} if own.rest_s is not None else {}
    found |= {"shoot": own.shoot_c} if own.shoot_c is not None else {}
    if context.measurement.kind == "injection":
        found["hold"] = own.hold_s
        found["fill_time"] = amounts.filling_s(context.measurement, context.practice)
        force = clamping.opening_force_n(constants["pressure"][0], context.measurement.projected_mm2)
        found["clamp_force"] = samples.figure(force, "n", "advice.because.clamp_force")
        gap_mm = trouble.first_shot(context, 0).gap_mm
        if gap_mm is not None:
            found["gap"] = samples.figure(gap_mm, "mm", "advice.because.gap")
    return found


def _pairs(spec: MoldSpec, tables: Tables) -> list[Pair]:
    """Every pair, the mold's own first, the mold's own plastisol with the density that its maker declared."""
    own = _named(spec, "plastisol", spec.plastisol, tables.plastisols)
    own_mold = _named(spec, "mold_material", spec.mold_material, tables.mold_materials)
    plastisols = [own, *(p for p in tables.plastisols if p.id != own.id)]
    molds = [own_mold, *(m for m in tables.mold_materials if m.id != own_mold.id)]
    plastisols[0] = samples.with_own(own, spec.declared)
    plastisols = [samples.limited(plastisol) for plastisol in plastisols]
    return [Pair(plastisol=plastisol, mold=mold) for plastisol in plastisols for mold in molds]


def _named(spec: MoldSpec, key: str, name: str, entries: Sequence[_Entry]) -> _Entry:
    for entry in entries:
        if entry.id == name:
            return entry
    where = Where(file="mold.yaml", line=spec.line_of.get(key), key=key)
    expected = "one of " + ", ".join(entry.id for entry in entries)
    raise Faults([Problem(where=where, what=f"{key} {name} is in no table", expected=expected)])
