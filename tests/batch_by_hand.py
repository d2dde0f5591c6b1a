"""How much of everything goes into a batch: plastisol, remelt, colour, flake, salt.

theme/assets/bench.js works out the same in the browser; tests hold the two together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil

from builder.model import Amounts, Figure, Ingredient


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """What to have ready for so many shots; `remelt_ml` is a part of `heat_ml`."""

    shots: int
    heat_ml: Figure
    heat_g: Figure
    fresh_ml: Figure
    remelt_ml: Figure
    ingredients: tuple[float, ...]
    """Amounts in the ingredients' own units, for the fresh plastisol: remelt has its colour already."""


def batch(
    amounts: Amounts,
    cavities: int,
    baits: int,
    *,
    spare: float | None = None,
    remelt: float = 0.0,
    ingredients: Sequence[Ingredient] = (),
) -> Batch:
    """A batch for so many baits: whole shots.

    Without a spare share of its own it takes what the mold's table tells; `remelt` is the share of old
    plastic in what is heated.
    """
    shots = ceil(baits / cavities)
    one_ml, one_g = amounts.batch[0].heat_ml, amounts.batch[0].heat_g
    if spare is not None:
        one_g_spare = times(amounts.shot_g, 1 + spare)
        one_ml, one_g = times(one_g_spare, one_ml.value / one_g.value, one_ml), one_g_spare
    heat_ml = times(one_ml, shots)
    fresh = times(heat_ml, 1 - remelt)
    return Batch(
        shots=shots,
        heat_ml=heat_ml,
        heat_g=times(one_g, shots),
        fresh_ml=fresh,
        remelt_ml=times(heat_ml, remelt),
        ingredients=tuple(i.amount_per_100_ml * fresh.value / 100 for i in ingredients),
    )


def times(figure: Figure, factor: float, like: Figure | None = None) -> Figure:
    """The figure so many times over; `like` lends its unit and its reason.

    >>> one = Figure(value=2.0, low=1.0, high=3.0, unit="ml", because="", origin="computed")
    >>> times(one, 4).high
    12.0
    """
    return replace(
        like or figure, value=figure.value * factor, low=figure.low * factor, high=figure.high * factor
    )
