"""Lids that part nothing: steps on the way into a cavity, and floors that a bolt hole goes through."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from builder.measure.cavity import classify
from builder.measure.cavity.void import Mouth, Piece

Array = NDArray[np.float64]


def shoulders(pieces: Sequence[Piece], places: Sequence[Array]) -> list[Array]:
    """Which mouths at the bottom of a pocket are steps on the way into a cavity, not heads of bolt holes.

    A sprue's piece before the step, or between two, looks like a blind hole or a bolt hole by itself: what
    hangs together over the steps counts, and a cavity among it.
    """
    whole = [part for piece in pieces for part in classify.drilled_out(piece)]
    ends = [
        {
            k
            for k, piece in enumerate(whole)
            for mouth in piece.mouths
            if np.linalg.norm(mouth.at - at) < classify.MEET_MM
        }
        for at in places
    ]
    fed = {
        k for k, piece in enumerate(whole) if classify.bolt_of(piece) is None and classify.is_cavity(piece)
    }
    found: list[Array] = []
    while grown := [
        k for k, at in enumerate(places) if ends[k] & fed and not any(at is one for one in found)
    ]:
        found += [places[k] for k in grown]
        fed = fed.union(*(ends[k] for k in grown))
    return found


def within_bores(pieces: Sequence[Piece], places: Sequence[Array]) -> list[Array]:
    """Which lids part a bolt hole that is as wide behind them: its boss stands on a tray's floor."""
    drilled = [(piece, bolt) for piece in pieces if (bolt := classify.bolt_of(piece)) is not None]
    found = [
        mouth
        for (one, bolt), (two, other) in combinations(drilled, 2)
        if 1 / classify.LIKE < bolt.diameter_mm / other.diameter_mm < classify.LIKE
        for mouth in one.mouths
        if any(classify.faces(mouth, across) for across in two.mouths)
    ]
    return [at for at in places if any(_beside(at, mouth, mouth.diameter_mm) for mouth in found)]


def _beside(at: Array, mouth: Mouth, reach_mm: float) -> bool:
    """True for a place in a mouth's plane, no farther away."""
    aside = at - mouth.at
    return bool(abs(aside @ mouth.normal) < classify.MEET_MM and np.linalg.norm(aside) < reach_mm)
