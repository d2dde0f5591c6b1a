"""Partings that wave all over: everything under a surface of heights over x and y."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
from manifold3d import Manifold, Mesh64
from numpy.typing import NDArray

Array = NDArray[np.float64]
Heights = Callable[[Array, Array], Array]

DEEP, WAVE_LONG_MM, MARGIN_MM, STEP_MM = -300.0, 60.0, 30.0, 5.0
KINDS = ("bowed", "waves", "own waves", "one waved half", "rough")


def heights(kind: str, high: float, long: float, upper: bool) -> Heights:
    """Heights of one half's face; halves with waves of their own differ, and so do rough ones."""
    k, own = 2.0 * math.pi / WAVE_LONG_MM, 1.7 if upper and kind == "own waves" else 0.0
    if kind == "bowed":
        return lambda x, y: high * (2.0 * x / long) ** 2 + 0.0 * y
    if kind == "rough":
        rng = np.random.default_rng(int(upper))
        return lambda x, y: rng.normal(0.0, high, (x + y).shape)
    if kind == "one waved half" and upper:
        return lambda x, y: 0.0 * (x + y)
    return lambda x, y: high / 2.0 * (np.sin(k * x + 0.5 + own) + np.sin(0.8 * k * y + 1.0 + 2.0 * own))


def below(found: Heights, low: Sequence[float], high: Sequence[float]) -> Manifold:
    """Everything under the surface, a little farther all round than the block from `low` to `high`."""
    xs, ys = (
        np.linspace(a - MARGIN_MM, b + MARGIN_MM, math.ceil((b - a + 2.0 * MARGIN_MM) / STEP_MM) + 1)
        for a, b in zip(low[:2], high[:2], strict=True)
    )
    x, y = (grid.ravel() for grid in np.meshgrid(xs, ys, indexing="ij"))
    top = np.column_stack([x, y, found(x, y)])
    number = np.arange(len(x)).reshape(len(xs), len(ys))
    a, b, c, d = (
        part.ravel() for part in (number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:])
    )
    face = np.concatenate([np.column_stack([a, b, c]), np.column_stack([a, c, d])])
    sides = [face, face[:, ::-1] + len(x)]
    for rim in (number[:, 0], number[-1, :], number[::-1, -1], number[0, ::-1]):
        p, q = rim[:-1], rim[1:]
        under = len(x)
        sides += [np.column_stack([p + under, q + under, q]), np.column_stack([p + under, q, p])]
    points = np.concatenate([top, np.column_stack([x, y, np.full(len(x), DEEP)])])
    return Manifold(Mesh64(points, np.concatenate(sides).astype(np.uint64)))
