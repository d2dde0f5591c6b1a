"""Effect of cavity pressure on the mold halves: opening force, and the gap between halves on their bolts."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from builder.physics.heat import Array, Numbers
from builder.physics.plate import POISSON

Point = tuple[float, float]

_INTERIOR_PANEL = 0.00581
"""Middle of a square panel of a plate on point supports, w D/(q a⁴): Timoshenko & Woinowsky-Krieger, Theory
of Plates and Shells, 2nd ed., §54 (recalled)."""


def opening_force_n(pressure_mpa: Numbers, projected_mm2: Numbers) -> Array:
    """Force that opens the mold: pressure times the area of plastic seen along the parting face's normal.

    >>> float(opening_force_n(0.2, 5000.0))
    1000.0
    """
    return np.asarray(np.asarray(pressure_mpa) * projected_mm2)


def plate_stiffness(modulus_mpa: Numbers, thickness_mm: Numbers) -> Array:
    """Bending stiffness of a plate, E t³/(12 (1 − ν²)), N·mm. Source: Roark's Formulas, 7th ed., §11.1.

    >>> float(plate_stiffness(2600.0, 17.0).round(-3))
    1223000.0
    """
    return np.asarray(np.asarray(modulus_mpa) * np.power(thickness_mm, 3) / (12 * (1 - POISSON**2)))


def gap_mm(pressure_mpa: Numbers, lift_mm4: Numbers, modulus_mpa: Numbers, thickness_mm: Numbers) -> Array:
    """Gap between the halves in mm: both bend, so twice one plate's deflection (`plate.lift_mm4`).

    >>> float(gap_mm(0.2, 40000.0, 1300.0, 17.0).round(3))
    0.026
    """
    return np.asarray(
        2 * np.asarray(pressure_mpa) * np.asarray(lift_mm4) / plate_stiffness(modulus_mpa, thickness_mm)
    )


def panel_mm4(covered: float, reach_mm: float) -> float:
    """Lift for each unit of pressure over stiffness at a distance `reach_mm` from the nearest bolt.

    For bolts that hold no plate by themselves, being in a line: as if they were those of a large slab on a
    grid, whose square panel has the half diagonal `reach_mm` and plastic on the `covered` share of its face.
    """
    return float(_INTERIOR_PANEL * covered * (np.sqrt(2) * reach_mm) ** 4)


def farthest(plastic: Sequence[Point], bolts: Sequence[Point]) -> tuple[int, float]:
    """Which point of the plastic is farthest from its nearest bolt, and how far, in mm.

    >>> farthest([(0.0, 0.0), (30.0, 0.0)], [(0.0, 10.0), (60.0, 0.0)])
    (1, 30.0)
    """
    distance = np.linalg.norm(np.asarray(plastic)[:, None, :] - np.asarray(bolts)[None, :, :], axis=-1)
    nearest = distance.min(axis=1)
    worst = int(np.argmax(nearest))
    return worst, float(nearest[worst])
