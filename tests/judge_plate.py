"""The judge of the halves' gap: a plate in finite elements, rectangles of twelve freedoms.

The element of Adini, Clough and Melosh: at each corner the deflection and its two slopes; twelve terms of a
polynomial, its energy summed by Gauss's rule. Source: Zienkiewicz, The Finite Element Method, ch. on plates.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.linalg import spsolve

Array = NDArray[np.float64]
POWERS = ((0, 0), (1, 0), (0, 1), (2, 0), (1, 1), (0, 2), (3, 0), (2, 1), (1, 2), (0, 3), (3, 1), (1, 3))


def terms(x: float, y: float, dx: int = 0, dy: int = 0) -> Array:
    """The polynomial's terms, derived so many times."""

    def one(power: int, at: float, times: int) -> float:
        factor = 1.0
        for k in range(times):
            factor *= power - k
        return factor * at ** (power - times) if power >= times else 0.0

    return np.array([one(i, x, dx) * one(j, y, dy) for i, j in POWERS])


def corner_rows(x: float, y: float) -> list[Array]:
    return [terms(x, y), terms(x, y, 1, 0), terms(x, y, 0, 1)]


def element(wide: float, high: float, poisson: float) -> tuple[Array, Array]:
    """Stiffness for a bending stiffness of 1, and the matrix from freedoms to terms."""
    corners = [(0.0, 0.0), (wide, 0.0), (wide, high), (0.0, high)]
    to_terms = np.linalg.inv(np.array([row for corner in corners for row in corner_rows(*corner)]))
    law = np.array([[1, poisson, 0], [poisson, 1, 0], [0, 0, (1 - poisson) / 2]])
    at, weight = np.polynomial.legendre.leggauss(4)
    stiff = np.zeros((12, 12))
    for (u, a), (v, b) in product(zip(at, weight, strict=True), repeat=2):
        x, y = wide * (u + 1) / 2, high * (v + 1) / 2
        bent = np.stack([terms(x, y, 2, 0), terms(x, y, 0, 2), 2 * terms(x, y, 1, 1)]) @ to_terms
        stiff += bent.T @ law @ bent * a * b * wide * high / 4
    return stiff, to_terms


def lift(
    size: tuple[float, float],
    bolts: Sequence[tuple[float, float]],
    load: Sequence[tuple[float, float, float]],
    places: Sequence[tuple[float, float]],
    *,
    poisson: float,
    cells: tuple[int, int],
    touching: bool = False,
) -> Array:
    """Deflection over pressure/stiffness at places; bolts on the nearest corners of the mesh.

    Where two halves touch, neither goes below the face: corners of the mesh that would are held, and let go
    where the face would have to pull.
    """
    nx, ny = cells
    wide, high = size[0] / nx, size[1] / ny
    stiff, to_terms = element(wide, high, poisson)
    rows, columns, values = [], [], []
    for i, j in product(range(nx), range(ny)):
        free = freedoms(i, j, ny)
        rows.append(np.repeat(free, 12))
        columns.append(np.tile(free, 12))
        values.append(stiff.ravel())
    count = 3 * (nx + 1) * (ny + 1)
    whole = coo_array(
        (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns))), shape=(count, count)
    ).tocsc()
    force = np.zeros(count)
    for x, y, area in load:
        i, j, row = within(x, y, size, cells, to_terms)
        force[freedoms(i, j, ny)] += area * row
    nearest = [(round((x / size[0] + 0.5) * nx), round((y / size[1] + 0.5) * ny)) for x, y in bolts]
    held = {3 * (i * (ny + 1) + j) for i, j in nearest}
    moved, rest = np.zeros(count), set[int]()
    for _ in range(30):
        left = np.setdiff1d(np.arange(count), sorted(held | rest))
        moved = np.zeros(count)
        moved[left] = spsolve(whole[left][:, left], force[left])
        pulled = {at for at in rest if (whole @ moved - force)[at] < 0} if touching else set[int]()
        under = moved[0::3] < -1e-6 * np.abs(moved[0::3]).max()
        below = {3 * int(at) for at in np.flatnonzero(under)} if touching else set[int]()
        if not pulled and not below - held:
            break
        rest = (rest | below) - pulled - held
    found = []
    for x, y in places:
        i, j, row = within(x, y, size, cells, to_terms)
        found.append(float(moved[freedoms(i, j, ny)] @ row))
    return np.array(found)


def freedoms(i: int, j: int, ny: int) -> NDArray[np.intp]:
    corners = [(i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)]
    return np.array([3 * (a * (ny + 1) + b) + k for a, b in corners for k in range(3)], dtype=np.intp)


def within(
    x: float, y: float, size: tuple[float, float], cells: tuple[int, int], to_terms: Array
) -> tuple[int, int, Array]:
    """The element of a place, and its deflection's row by the element's freedoms."""
    u, v = (x / size[0] + 0.5) * cells[0], (y / size[1] + 0.5) * cells[1]
    i, j = min(int(u), cells[0] - 1), min(int(v), cells[1] - 1)
    return i, j, terms((u - i) * size[0] / cells[0], (v - j) * size[1] / cells[1]) @ to_terms
