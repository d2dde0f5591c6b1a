"""How far the fill limit of a mold moves with each constant."""

from __future__ import annotations

import numpy as np

from builder.advice import paths, samples
from builder.advice.window import Context, limit_c
from builder.model import Sensitivity


def _within(value: float, never_above_c: float) -> float | None:
    return float(value) if value <= never_above_c else None


def sensitivity(context: Context) -> tuple[Sensitivity, ...]:
    """How far the fill limit moves with each constant from low to high, all others at their best guess."""
    if context.rows is None:
        return ()
    pair = context.pairs[0]
    centre = samples.central([pair], context.practice)
    ranges = {name: samples.known(pair, context.practice, name) for name in centre}
    moved = {name: np.repeat(values, 2 * len(centre), axis=1) for name, values in centre.items()}
    for column, name in enumerate(centre):
        moved[name][0, 2 * column : 2 * column + 2] = ranges[name].low, ranges[name].high
    fill = paths.fill_limit_c(context.rows, moved)[0]
    found = [
        Sensitivity(
            constant=name,
            unit=ranges[name].unit,
            low=ranges[name].low,
            high=ranges[name].high,
            fill_at_low_c=_within(fill[2 * column], limit_c(pair)),
            fill_at_high_c=_within(fill[2 * column + 1], limit_c(pair)),
            swing_k=float(abs(fill[2 * column + 1] - fill[2 * column])),
        )
        for column, name in enumerate(centre)
    ]
    return tuple(sorted((s for s in found if s.swing_k > 0.05), key=lambda s: -s.swing_k))
