"""What floats, what sinks, and how fast what is stirred in settles."""

from __future__ import annotations

import numpy as np

from builder.physics.heat import Array, Numbers

GRAVITY_M_S2 = 9.80665
"""Standard gravity (CGPM 1901)."""


def lift_g(volume_ml: Numbers, mass_g: Numbers, water_g_ml: Numbers) -> Array:
    """Grams that a body carries in water before it sinks; below 0 it sinks by itself. Archimedes.

    >>> float(lift_g(10.0, 10.2, 1.025).round(3)), float(lift_g(10.0, 10.2, 1.0).round(3))
    (0.05, -0.2)
    """
    return np.asarray(water_g_ml * np.asarray(volume_ml) - mass_g)


def carries_g(lift: Numbers, metal_g_ml: Numbers, water_g_ml: Numbers) -> Array:
    """Weight in air of a hook or a jig head that just floats with it: the metal is lifted itself a little.

    >>> float(carries_g(1.0, 7.85, 1.0).round(3)), float(carries_g(-1.0, 7.85, 1.0))
    (1.146, 0.0)
    """
    return np.asarray(np.maximum(lift, 0.0) / (1 - np.asarray(water_g_ml) / metal_g_ml))


def settling_mm_s(grain_mm: Numbers, grain_g_ml: Numbers, liquid_g_ml: Numbers, viscosity: Numbers) -> Array:
    """Speed at which a round grain sinks in a thick liquid: Δρ g d²/(18 η), Stokes 1851.

    For Reynolds numbers below 1 (Bird, Stewart, Lightfoot, 2nd ed., §2.6); in hot plastisol it is 1e-6.

    >>> float(settling_mm_s(0.3, 2.165, 0.95, 4.0).round(4))
    0.0149
    """
    weight = _weight_n_m3(grain_g_ml, liquid_g_ml)
    return np.asarray(1e3 * weight * np.square(np.asarray(grain_mm) * 1e-3) / (18 * viscosity))


def disc_settling_mm_s(
    across_mm: Numbers, thick_mm: Numbers, flake_g_ml: Numbers, liquid_g_ml: Numbers, viscosity: Numbers
) -> Array:
    """Speed at which a thin disc sinks, turned any way on the mean: π Δρ g a t/(12 η), a half its width.

    A disc of no thickness meets 16 η a U flat on and 32/3 η a U edge on; the mean over all ways to lie is
    12 η a U (Lamb, Hydrodynamics, 6th ed., §339; Happel & Brenner 1983, ch. 5).

    >>> float(disc_settling_mm_s(0.4, 0.05, 1.4, 0.95, 4.0).round(5))
    0.00289
    """
    weight = _weight_n_m3(flake_g_ml, liquid_g_ml)
    half_m, thick_m = np.asarray(across_mm) * 0.5e-3, np.asarray(thick_mm) * 1e-3
    return np.asarray(1e3 * np.pi * weight * half_m * thick_m / (12 * np.asarray(viscosity)))


def _weight_n_m3(solid_g_ml: Numbers, liquid_g_ml: Numbers) -> Array:
    """Weight of a volume of solid in a liquid."""
    return np.asarray((np.asarray(solid_g_ml) - liquid_g_ml) * 1e3 * GRAVITY_M_S2)
