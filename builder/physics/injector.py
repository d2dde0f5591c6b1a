"""The hand and its injector: pressure from a push, and what plastic loses in a cold bore and in the cup."""

from __future__ import annotations

import numpy as np

from builder.physics.heat import Array, Medium, Numbers

GRAVITY_M_S2 = 9.80665
"""Standard gravity (CGPM 1901)."""


def plunger_mpa(push_kg: Numbers, bore_mm: Numbers) -> Array:
    """Pressure under a plunger: force over area. Friction of the plunger is left out.

    >>> plunger_mpa(np.array([10.2, 30.6]), np.array([50.0, 25.0])).round(2).tolist()
    [0.05, 0.61]
    """
    return np.asarray(np.asarray(push_kg) * GRAVITY_M_S2 / (np.pi / 4 * np.square(bore_mm)))


def lost_in_bore_k(
    seconds: Numbers, bore_mm: Numbers, inside: Medium, wall: Medium, hotter_k: Numbers
) -> Array:
    """Kelvin that the plastic in an injector loses on average in a short time: (4/D) 2 ΔT b √(α t/π).

    b = e_wall/(e_wall + e_plastic) is the share of the difference that the plastic's face falls by. Flow of
    heat between two thick bodies, Carslaw & Jaeger §2.16; good while √(α t) is small beside the bore.

    >>> vinyl = Medium(conductivity_w_mk=0.14, density_kg_m3=1000.0, heat_capacity_j_kgk=2050.0)
    >>> metal = Medium(conductivity_w_mk=167.0, density_kg_m3=2700.0, heat_capacity_j_kgk=896.0)
    >>> [round(float(lost_in_bore_k(t, 32.0, vinyl, metal, 143.0)), 1) for t in (5.0, 10.0)]
    [11.5, 16.2]
    """
    falls = wall.effusivity / (wall.effusivity + inside.effusivity) * hotter_k
    depth_mm = 1e3 * np.sqrt(inside.diffusivity * seconds / np.pi)
    return np.asarray(8 * falls * depth_mm / bore_mm)


def cup_time_s(heat_j_k: Numbers, loses_w_k: Numbers, from_k: Numbers, to_k: Numbers) -> Array:
    """Seconds in which a stirred cup falls from one difference to the room to another: (C/hA) ln(from/to).

    The lumped method, Incropera, 6th ed., eq. 5.5.

    >>> float(cup_time_s(300.0, 0.25, 143.0, 133.0).round())
    87.0
    """
    return np.asarray(heat_j_k / loses_w_k * np.log(np.asarray(from_k) / to_k))
