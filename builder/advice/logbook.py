"""Compares logged shots with the expected outcome, and fits the constants to them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from builder.advice import samples, trouble, window
from builder.advice.samples import Pair
from builder.advice.window import Context
from builder.model import (
    Agreement,
    Figure,
    Fitted,
    Measurement,
    MoldSpec,
    ShotCompared,
    ShotLog,
    Sourced,
    Tables,
)
from builder.physics.heat import Array

FITTED = ("viscosity", "set", "exponent", "conductivity", "pressure", "injection", "on_the_way", "later")
"""Constants that a short or a full shot says something about."""
_DRAWS = 997
_TRUST = 0.9
"""A logged outcome is taken to be right nine times in ten: thermometers, hands and words err."""
_NARROWER, _MOVED = 0.9, 0.1
"""A constant is suggested only if the log narrows its range below the first share, or moves its middle by
the second share of it."""


def compared(context: Context, shots: Sequence[ShotLog]) -> tuple[ShotCompared, ...]:
    """Each logged shot beside the expected outcome; shots of unknown materials are left out."""
    found = []
    for shot in shots:
        index = _pair_index(context, shot)
        if index is None:
            continue
        chances = outcomes(context, index, shot)
        expected = next((name for name, share in chances.items() if share >= 0.5), "full")
        happened = chances.get(shot.outcome, 0.0)
        found.append(
            ShotCompared(
                shot=shot,
                expected=expected,
                chance=Figure(
                    value=happened,
                    low=happened,
                    high=happened,
                    unit="share",
                    because="advice.because.chance",
                    origin="computed",
                ),
                agrees=expected == shot.outcome,
            )
        )
    return tuple(found)


def _pair_index(context: Context, shot: ShotLog) -> int | None:
    wanted = (shot.plastisol, shot.mold_material)
    ids = [(pair.plastisol.id, pair.mold.id) for pair in context.pairs]
    return ids.index(wanted) if wanted in ids else None


def outcomes(context: Context, index: int, shot: ShotLog) -> dict[str, float]:
    """Share of the samples with each outcome, the first that a maker would notice first.

    A short shot hides the rest; flash is judged for the shots in a row with their rest, a dent for the
    hold that was logged. Bubbles come of water and stirring, which no geometry tells.
    """
    short = context.fill_c[index] > shot.shot_c
    row = trouble.repeated(
        context, index, shot.shot_c, shots=max(1, shot.in_a_row), rest_s=shot.rest_s or 0.0
    )
    fed = trouble.feeding(context, index, shot.shot_c, shot.hold_s)
    dented = (fed.unfed_share > context.own(index)["dent"][0]) & (context.measurement.sprue is not None)
    flashed = float(np.mean(row.flashes))
    whole = 1 - float(short.mean())
    return {
        "short": float(short.mean()),
        "flashed": whole * flashed,
        "dented": whole * (1 - flashed) * float(dented.mean()),
        "full": whole * (1 - flashed) * (1 - float(dented.mean())),
        "bubbles": 0.0,
    }


def agreement(shots: Sequence[ShotCompared]) -> Agreement:
    """How often prediction and outcome agree; of shots with bubbles nothing was predicted."""
    judged = [shot for shot in shots if shot.shot.outcome != "bubbles"]
    agreed = sum(shot.agrees for shot in judged)
    by_outcome: dict[str, tuple[int, int]] = {}
    for shot in judged:
        hits, count = by_outcome.get(shot.shot.outcome, (0, 0))
        by_outcome[shot.shot.outcome] = (hits + shot.agrees, count + 1)
    share = None
    if judged:
        low, high = samples.wilson(agreed, len(judged))
        share = Figure(
            value=agreed / len(judged),
            low=low,
            high=high,
            unit="share",
            because="advice.because.agreement",
            origin="computed",
        )
    return Agreement(shots=len(judged), agreed=agreed, share=share, by_outcome=by_outcome)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Logged:
    """Shots of one mold with its paths and its pairs."""

    spec: MoldSpec
    measurement: Measurement
    pairs: tuple[Pair, ...]
    practice: Mapping[str, Sourced]


def fit(specs: Sequence[MoldSpec], measurements: Sequence[Measurement], tables: Tables) -> tuple[Fitted, ...]:
    """Constants that the logged shots of these molds suggest, each with its table value beside it.

    Every draw of the constants is weighted by how well it tells short shots from full ones; a suggestion
    is the weighted median with the range that holds 90 % of the weight. Constants that the log hardly
    narrows or moves are left out. A plastisol's constants are fitted from its own shots, the hand's from
    all.
    """
    molds = [_logged(spec, mold, tables) for spec, mold in zip(specs, measurements, strict=True)]
    weights, counts = _weights([mold for mold in molds if mold is not None])
    found = []
    for plastisol in tables.plastisols:
        logs = np.sum([w for (id_, _), w in weights.items() if id_ == plastisol.id], axis=0)
        count = counts.get(plastisol.id, 0)
        for name in FITTED if count else ():
            if name in plastisol.values:
                found += _suggest(f"{plastisol.id}.{name}", plastisol.values[name], name, logs, count)
    everything, shots = np.sum(list(weights.values()), axis=0), sum(counts.values())
    for name in FITTED if shots else ():
        if name in tables.practice:
            found += _suggest(name, tables.practice[name], name, everything, shots)
    return tuple(found)


def _logged(spec: MoldSpec, measurement: Measurement, tables: Tables) -> _Logged | None:
    """A mold whose log can be judged: its pairs in the order of its shots."""
    plastisols = {entry.id: entry for entry in tables.plastisols}
    materials = {entry.id: entry for entry in tables.mold_materials}
    wanted = {(s.plastisol, s.mold_material) for s in spec.shots if s.outcome != "bubbles"}
    pairs = tuple(
        Pair(plastisol=plastisols[p], mold=materials[m])
        for p, m in sorted(wanted)
        if p in plastisols and m in materials
    )
    if not pairs:
        return None
    practice = samples.with_declared(tables.practice, spec.declared)
    return _Logged(spec=spec, measurement=measurement, pairs=pairs, practice=practice)


def _weights(molds: Sequence[_Logged]) -> tuple[dict[tuple[str, int], Array], dict[str, int]]:
    """Log weight of each draw for each plastisol and mold, and how many shots of each plastisol."""
    weights: dict[tuple[str, int], Array] = {}
    counts: dict[str, int] = {}
    for number, mold in enumerate(molds):
        fill = window.fill_limits(mold.measurement, mold.pairs, mold.practice, _DRAWS, mold.spec.stands)
        if fill is None:
            continue
        index = {(pair.plastisol.id, pair.mold.id): row for row, pair in enumerate(mold.pairs)}
        for shot in mold.spec.shots:
            row = index.get((shot.plastisol, shot.mold_material))
            if row is None or shot.outcome == "bubbles":
                continue
            fits = (fill[row] > shot.shot_c) == (shot.outcome == "short")
            key = (shot.plastisol, number)
            weights[key] = weights.get(key, np.zeros(_DRAWS)) + log_trust(fits)
            counts[shot.plastisol] = counts.get(shot.plastisol, 0) + 1
    return weights, counts


def log_trust(fits: NDArray[np.bool_]) -> Array:
    """Log weight of each draw: high where it predicts the logged outcome."""
    return np.asarray(np.log(np.where(fits, _TRUST, 1 - _TRUST)))


def _suggest(label: str, table: Sourced, name: str, logs: Array, count: int) -> list[Fitted]:
    """The suggested value of one constant; empty if the log says little about it."""
    values = samples.drawn(name, table, _DRAWS)
    weight = np.exp(logs - logs.max())
    suggested = samples.weighted(values, weight, table.unit, "advice.because.fitted")
    before_low, before, before_high = (float(x) for x in np.percentile(values, [5, 50, 95]))
    range_before = before_high - before_low
    wide = suggested.high - suggested.low > _NARROWER * range_before
    if wide and abs(suggested.value - before) < _MOVED * range_before:
        return []
    return [Fitted(constant=label, table=table, suggested=suggested, shots=count)]
