"""What the hand adds: what plastic loses in the injector, and how fast the cup cools."""

from __future__ import annotations

import numpy as np

from builder.advice import samples
from builder.advice.window import Context
from builder.model import Figure
from builder.physics import flow, injector
from builder.physics.heat import Medium

METAL = Medium(conductivity_w_mk=167.0, density_kg_m3=2700.0, heat_capacity_j_kgk=896.0)
"""Aluminium 6061-T6; against plastic, any metal takes the heat as fast."""
CUP_ML, FALLS_K = 200.0, 5.0
"""The cup that is told of: so much plastic in it, and how far it falls."""
_NAMES = ("bore", "in_bore", "warm_injector", "cup_heat", "cup_area", "cup_film")


def hand_figures(context: Context) -> dict[str, Figure]:
    """Kelvin lost in a cold and in a warmed metal injector, and the time in which the cup falls FALLS_K."""
    own = {name: values[0] for name, values in context.own().items()}
    at = samples.quantiles(_NAMES)
    hand = {name: samples.spread(context.practice[name], at[name]) for name in _NAMES}
    inside, shot_c = samples.inside(own), context.points[0].trial_c
    lost = {
        name: injector.lost_in_bore_k(hand["in_bore"], hand["bore"], inside, METAL, shot_c - metal_c)
        for name, metal_c in (("injector_cold", own["room"]), ("injector_warm", hand["warm_injector"]))
    }
    found = {name: samples.figure(kelvin, "k", f"advice.because.{name}") for name, kelvin in lost.items()}
    weight_kg = CUP_ML * 1e-6 * flow.hot_density(own["density"] * 1e3, own["expansion"], shot_c - 20.0)
    heat = weight_kg * own["heat_capacity"] + hand["cup_heat"]
    loses = hand["cup_film"] * hand["cup_area"] * 1e-6
    above = np.maximum(shot_c - own["room"], 2 * FALLS_K)
    time = injector.cup_time_s(heat, loses, above, above - FALLS_K)
    return {**found, "cup": samples.figure(time, "s", "advice.because.cup")}
