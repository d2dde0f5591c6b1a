"""Effect of cavity pressure on the mold halves: opening force, and gap between the bolts."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from builder.model import Measurement, Vec3
from builder.physics.heat import Array, Numbers

Point = tuple[float, float]

_INTERIOR_PANEL = 0.00581
"""Middle of a square panel of a plate on point supports, w D/(q a⁴): Timoshenko & Woinowsky-Krieger, Theory
of Plates and Shells, 2nd ed., §54 (recalled)."""
_POISSON = 0.36


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
    return np.asarray(np.asarray(modulus_mpa) * np.power(thickness_mm, 3) / (12 * (1 - _POISSON**2)))


def gap_mm(
    pressure_mpa: Numbers, covered: float, reach_mm: float, modulus_mpa: Numbers, thickness_mm: Numbers
) -> Array:
    """Gap between the halves at a distance `reach_mm` from the nearest bolt, in mm.

    Each half is a plate on its bolts, loaded by the pressure on the `covered` share of its face; `reach`
    is the half diagonal of a square panel. Both halves bend: twice one plate's deflection.

    >>> float(gap_mm(0.2, 0.5, 43.0, 1300.0, 17.0).round(3))
    0.026
    """
    side = np.sqrt(2) * reach_mm
    bent = _INTERIOR_PANEL * np.asarray(pressure_mpa) * covered * side**4
    return np.asarray(2 * bent / plate_stiffness(modulus_mpa, thickness_mm))


def farthest(plastic: Sequence[Point], bolts: Sequence[Point]) -> tuple[int, float]:
    """Which point of the plastic is farthest from its nearest bolt, and how far, in mm.

    >>> farthest([(0.0, 0.0), (30.0, 0.0)], [(0.0, 10.0), (60.0, 0.0)])
    (1, 30.0)
    """
    distance = np.linalg.norm(np.asarray(plastic)[:, None, :] - np.asarray(bolts)[None, :, :], axis=-1)
    nearest = distance.min(axis=1)
    worst = int(np.argmax(nearest))
    return worst, float(nearest[worst])


def unsupported(mold: Measurement) -> tuple[Vec3, float] | None:
    """The place of the plastic farthest from its nearest bolt, and how far, in mm; None without bolts.

    There the next bolt helps most.
    """
    if not mold.bolts:
        return None
    plastic = [bait.at_mm for bait in mold.baits]
    plastic += [s.at_mm for bait in mold.baits for path in bait.paths for s in path.stations]
    bolts = [(bolt.at_mm[0], bolt.at_mm[1]) for bolt in mold.bolts]
    index, reach = farthest([(p[0], p[1]) for p in plastic], bolts)
    return plastic[index], reach
