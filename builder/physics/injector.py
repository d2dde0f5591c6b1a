"""The hand and its injector: pressure from a push, and what plastic loses in a cold bore and in the cup."""

from __future__ import annotations

import numpy as np
from scipy.special import erfcx

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
    seconds: Numbers,
    hotter_k: Numbers,
    *,
    bore_mm: Numbers,
    wall_mm: Numbers,
    inside: Medium,
    metal: Medium,
) -> Array:
    """Kelvin that the plastic in a metal injector loses on average: (4/D)(C/ρc) ΔT (1 − w(x)).

    A thick body against a thin wall that is warm through at once and keeps the heat: C its heat capacity on
    an area, x = e √t/C with the plastic's effusivity e, w(x) = exp(x²) erfc(x) (Carslaw & Jaeger §12.4, from
    memory). Good while √(α t) is small beside the bore.

    >>> vinyl = Medium(conductivity_w_mk=0.14, density_kg_m3=1000.0, heat_capacity_j_kgk=2050.0)
    >>> metal = Medium(conductivity_w_mk=167.0, density_kg_m3=2700.0, heat_capacity_j_kgk=896.0)
    >>> known = dict(bore_mm=32.0, wall_mm=2.5, inside=vinyl, metal=metal)
    >>> [round(float(lost_in_bore_k(t, 143.0, **known)), 1) for t in (5.0, 10.0)]
    [10.0, 13.3]
    """
    holds = np.asarray(metal.density_kg_m3) * metal.heat_capacity_j_kgk * np.asarray(wall_mm) * 1e-3
    given = 1 - erfcx(inside.effusivity * np.sqrt(seconds) / holds)
    volumetric = np.asarray(inside.density_kg_m3) * inside.heat_capacity_j_kgk
    return np.asarray(4e3 / np.asarray(bore_mm) * holds / volumetric * hotter_k * given)


def cup_time_s(heat_j_k: Numbers, loses_w_k: Numbers, from_k: Numbers, to_k: Numbers) -> Array:
    """Seconds in which a stirred cup falls from one difference to the room to another: (C/hA) ln(from/to).

    The lumped method, Incropera, 6th ed., eq. 5.5.

    >>> float(cup_time_s(300.0, 0.25, 143.0, 133.0).round())
    87.0
    """
    return np.asarray(heat_j_k / loses_w_k * np.log(np.asarray(from_k) / to_k))
