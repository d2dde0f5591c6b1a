"""The judge of the wall behind a bait: conduction in a cross-section of bait and block, in two dimensions.

A quarter of the section on square cells: the parting plane and the middle of the bait are planes of symmetry,
as is the side (the next cavity); the back gives heat to the air. Implicit steps, each solved as a whole.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csc_array, diags_array
from scipy.sparse.linalg import splu

from builder.physics.heat import Medium

Array = NDArray[np.float64]
CELL_MM = 0.5


def peak_share(
    inside: Medium,
    wall: Medium,
    *,
    half_mm: tuple[float, float],
    wall_mm: float,
    depth_mm: float,
    shape: Literal["ellipse", "rectangle"] = "ellipse",
    side_mm: float = 12.0,
    film_w_m2k: float = 10.0,
    until_s: float = 900.0,
) -> float:
    """Highest temperature at a depth behind the middle of the flat side, as a share of the shot's heat.

    `half_mm`: half the bait's thickness, towards the wall, and half its width.
    """
    bait = _bait(half_mm, wall_mm, side_mm, shape)
    heat, stiff = _section(inside, wall, bait, film_w_m2k)
    count = bait.shape
    now, best, clock, solver, taken = bait.astype(float).ravel(), 0.0, 0.0, None, 0.0
    place = (half_mm[0] + depth_mm) / CELL_MM - 0.5
    below, part = int(place), place - int(place)
    while clock < until_s:
        dt = 0.25 if clock < 10 else 1.0 if clock < 60 else 5.0
        if dt != taken:
            solver, taken = splu((diags_array(heat / dt) + stiff).tocsc()), dt
        assert solver is not None
        now = solver.solve(heat / dt * now)
        clock += dt
        column = now.reshape(count)[:, 0]
        best = max(best, float((1 - part) * column[below] + part * column[below + 1]))
    return best


def lost_share(
    inside: Medium, wall: Medium, *, half_mm: tuple[float, float], wall_mm: float, seconds: float
) -> float:
    """Share of its heat that an elliptic bait has lost after so long."""
    bait = _bait(half_mm, wall_mm, 12.0, "ellipse")
    heat, stiff = _section(inside, wall, bait, 10.0)
    own = heat * bait.ravel()
    now, steps = bait.astype(float).ravel(), 240
    ends = seconds * (np.arange(steps + 1) / steps) ** 2  # small steps first, for heat goes with the root
    for dt in np.diff(ends):
        now = splu(csc_array(diags_array(heat / dt) + stiff)).solve(heat / dt * now)
    return float(1 - (now * own).sum() / own.sum())


def _bait(half_mm: tuple[float, float], wall_mm: float, side_mm: float, shape: str) -> NDArray[np.bool_]:
    """Which cells are bait."""
    count = (round((half_mm[0] + wall_mm) / CELL_MM), round((half_mm[1] + side_mm) / CELL_MM))
    z, y = np.meshgrid(*((np.arange(n) + 0.5) * CELL_MM for n in count), indexing="ij")
    if shape == "ellipse":
        return np.asarray((z / half_mm[0]) ** 2 + (y / half_mm[1]) ** 2 < 1)
    return np.asarray((z < half_mm[0]) & (y < half_mm[1]))


def _section(
    inside: Medium, wall: Medium, bait: NDArray[np.bool_], film_w_m2k: float
) -> tuple[Array, csc_array]:
    """The heat that each cell holds for a kelvin, and what passes between them."""
    step = CELL_MM * 1e-3
    k = np.where(bait, inside.conductivity_w_mk, wall.conductivity_w_mk)
    heat = (np.where(bait, inside.volumetric, wall.volumetric) * step**2).ravel()
    leaving = np.zeros(bait.shape)
    leaving[-1] = 1 / (1 / (film_w_m2k * step) + 0.5 / k[-1])
    return heat, csc_array(_conductances(k) + diags_array(leaving.ravel()))


def _conductances(k: Array) -> csc_array:
    """Heat passed between neighbours for each kelvin, as a matrix."""
    number = np.arange(k.size).reshape(k.shape)
    rows, columns, values = [], [], []
    for one, other, a, b in (
        (number[:-1], number[1:], k[:-1], k[1:]),
        (number[:, :-1], number[:, 1:], k[:, :-1], k[:, 1:]),
    ):
        passed = (2 * a * b / (a + b)).ravel()
        i, j = one.ravel(), other.ravel()
        rows += [i, j, i, j]
        columns += [i, j, j, i]
        values += [passed, passed, -passed, -passed]
    whole = (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns)))
    return csc_array(coo_array(whole, shape=(k.size, k.size)))
