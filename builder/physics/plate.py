"""A mold half as a plate held by the bolts that are there: how far it lifts under the plastic's pressure.

Ritz's method: the deflection is a sum of products of Legendre polynomials, free at every edge and held at
the bolts by multipliers. Bending energy and the tables that it is checked by: Timoshenko & Woinowsky-Krieger,
Theory of Plates and Shells, 2nd ed., §§ 25, 30, 82. That the halves touch at the rim is left out here;
the table of practice has what that leaves of the lift (`rim`).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.polynomial import legendre
from scipy.linalg import lu_factor, lu_solve

from builder.physics.heat import Array

Point = tuple[float, float]
Pressed = tuple[float, float, float]
"""A place and the area of plastic (mm²) that presses there."""
POISSON = 0.36
"""Of printed plastics; the mean of what tables give for metals and polymers (recalled)."""
_TERMS = 11
"""Polynomials each way: four more change the lift of edge-bolted plates by 1 %."""
_FLAT = 0.04
"""Bolts whose smallest spread is less than this share of their largest lie in a line and hold no plate."""


def holds(bolts: Sequence[Point]) -> bool:
    """Whether the bolts hold a plate at all: three or more, not in a line.

    >>> holds([(0.0, 0.0), (50.0, 0.0), (100.0, 1.0)]), holds([(0.0, 0.0), (50.0, 0.0), (0.0, 50.0)])
    (False, True)
    """
    if len(bolts) < 3:
        return False
    at = np.array(bolts) - np.mean(bolts, axis=0)
    wide, narrow = np.linalg.svd(at, compute_uv=False)
    return bool(narrow > _FLAT * wide)


def lift_mm4(
    size_mm: Point,
    bolts: Sequence[Point],
    load: Sequence[Pressed],
    places: Sequence[Point],
    poisson: float = POISSON,
) -> Array:
    """Deflection of a rectangular plate at some places, for each unit of pressure over stiffness, mm⁴.

    Coordinates in mm from the plate's middle; the bolts must hold it (`holds`).

    >>> corners = [(x, y) for x in (-50.0, 50.0) for y in (-50.0, 50.0)]
    >>> even = [(x, y, 400.0) for x in range(-40, 41, 20) for y in range(-40, 41, 20)]
    >>> round(float(lift_mm4((100.0, 100.0), corners, even, [(0.0, 0.0)], 0.25)[0]) / 100**4, 3)
    0.026
    """
    bending = _bending(size_mm, poisson)
    rows = _values(size_mm, bolts)
    force = _values(size_mm, [(x, y) for x, y, _ in load]).T @ np.array([area for _, _, area in load])
    return np.asarray(_values(size_mm, places) @ _least_energy(bending, rows, force))


def _least_energy(matrix: Array, rows: Array, force: Array) -> Array:
    """The coefficients of least energy with rows · coefficients = 0."""
    count, size = rows.shape
    whole = np.zeros((size + count, size + count))
    scale = np.abs(matrix).max()
    whole[:size, :size] = matrix / scale
    whole[:size, size:], whole[size:, :size] = rows.T, rows
    whole[size:, size:] = -1e-12 * np.eye(count)  # two bolts at one place hold it once
    found = lu_solve(lu_factor(whole), np.concatenate([force / scale, np.zeros(count)]))
    return np.asarray(found[:size])


def _bending(size_mm: Point, poisson: float) -> Array:
    """Second derivatives of the bending energy by the coefficients, for a stiffness of 1."""
    at, weight = legendre.leggauss(_TERMS + 1)
    each = [_derived(at, order) for order in range(3)]
    along = [[(one * weight[:, None]).T @ other for other in each] for one in each]
    x, y = 2 / size_mm[0], 2 / size_mm[1]
    mixed = np.kron(along[2][0], along[0][2])
    energy = (
        x**4 * np.kron(along[2][2], along[0][0])
        + y**4 * np.kron(along[0][0], along[2][2])
        + x**2 * y**2 * poisson * (mixed + mixed.T)
        + x**2 * y**2 * 2 * (1 - poisson) * np.kron(along[1][1], along[1][1])
    )
    return np.asarray(size_mm[0] * size_mm[1] / 4 * energy)


def _derived(at: Array, order: int) -> Array:
    """Each polynomial's derivative of an order at places, (places, polynomials)."""
    every = np.eye(_TERMS)
    return np.asarray(legendre.legval(at, legendre.legder(every, order) if order else every).T)


def _values(size_mm: Point, points: Sequence[Point]) -> Array:
    """Each product of polynomials at points, (points, products)."""
    across = np.array(points, dtype=np.float64).reshape(-1, 2) * 2 / np.array(size_mm)
    one, two = (_derived(np.clip(across[:, axis], -1, 1), 0) for axis in (0, 1))
    return np.asarray((one[:, :, None] * two[:, None, :]).reshape(len(across), -1))
