"""Effects of working by hand: heat lost in the injector, cooling of the cup, grains that sink in it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from builder.advice import samples
from builder.model import Colour, Figure, Grain, Plastisol, Sourced
from builder.physics import buoyancy, flow, injector
from builder.physics.heat import Array, Medium

METAL = Medium(conductivity_w_mk=167.0, density_kg_m3=2700.0, heat_capacity_j_kgk=896.0)
"""Aluminium 6061-T6; against plastic, any metal takes the heat as fast."""
CUP_ML, FALLS_K = 200.0, 5.0
"""The cup that is told of: so much plastic in it, and how far it falls."""
COLD_C = 20.0
"""Temperature at which densities are given."""
SALTED_FROM_G_ML = 1.1
"""A plastisol of such a density has salt in it: without, the hardest has 1.07 g/mL."""
_SAMPLES = 499
"""These figures are cheap, and their constants many."""
_PRACTICE = (
    *("room", "bore", "bore_wall", "in_bore", "warm_injector", "cup_heat", "cup_area", "cup_film"),
    *("salt_grain", "salt", "flake_across", "flake_thick", "flake"),
)
_PLASTISOL = (
    *("conductivity", "heat_capacity", "density", "expansion"),
    *("shoot", "set", "viscosity", "exponent"),
)


def hand_figures(
    plastisol: Plastisol, practice: Mapping[str, Sourced], *, injector_too: bool = True
) -> dict[str, Figure]:
    """How long the cup stays within FALLS_K, what sinks in it by then; kelvin lost in a metal injector.

    All for a plastisol at the temperatures that it is usually shot at.
    """
    known = {name: practice[name] for name in _PRACTICE} | {
        name: plastisol.values[name] for name in _PLASTISOL
    }
    at = samples.quantiles([*known], _SAMPLES)
    drawn = {name: samples.spread(one, at[name], name == "viscosity") for name, one in known.items()}
    hot = flow.hot_density(drawn["density"], drawn["expansion"], drawn["shoot"] - COLD_C)
    cup_s = _cup_s(drawn, hot)
    sinks = _sinks_mm_s(drawn, hot)
    return {
        "cup": samples.figure(cup_s, "s", "advice.because.cup"),
        **{
            f"{grain}_sinks": samples.figure(speed * cup_s, "mm", f"advice.because.{grain}_sinks")
            for grain, speed in sinks.items()
        },
        **(_lost_in_bore(drawn) if injector_too else {}),
    }


def _cup_s(drawn: Mapping[str, Array], hot: Array) -> Array:
    """Seconds in which the cup falls by FALLS_K."""
    weight_kg = CUP_ML * 1e-3 * hot
    heat = weight_kg * drawn["heat_capacity"] + drawn["cup_heat"]
    loses = drawn["cup_film"] * drawn["cup_area"] * 1e-6
    above = drawn["shoot"] - drawn["room"]
    return injector.cup_time_s(heat, loses, above, above - FALLS_K)


def _sinks_mm_s(drawn: Mapping[str, Array], hot: Array) -> dict[Grain, Array]:
    """Speed at which a single grain sinks; in a crowd all sink slower."""
    thick = flow.viscosity_pa_s(drawn["shoot"], drawn["viscosity"], drawn["set"], drawn["exponent"])
    return {
        "salt": buoyancy.settling_mm_s(drawn["salt_grain"], drawn["salt"], hot, thick),
        "flake": buoyancy.disc_settling_mm_s(
            drawn["flake_across"], drawn["flake_thick"], drawn["flake"], hot, thick
        ),
    }


def _lost_in_bore(drawn: Mapping[str, Array]) -> dict[str, Figure]:
    """Kelvin lost in a cold and in a warmed metal injector."""
    inside = samples.inside(drawn)
    lost = {
        name: injector.lost_in_bore_k(
            drawn["in_bore"],
            drawn["shoot"] - metal_c,
            bore_mm=drawn["bore"],
            wall_mm=drawn["bore_wall"],
            inside=inside,
            metal=METAL,
        )
        for name, metal_c in (("injector_cold", drawn["room"]), ("injector_warm", drawn["warm_injector"]))
    }
    return {name: samples.figure(kelvin, "k", f"advice.because.{name}") for name, kelvin in lost.items()}


def salted(plastisol: Plastisol) -> bool:
    """Whether a plastisol has salt in it, by its density."""
    return plastisol.values["density"].value >= SALTED_FROM_G_ML


def grains(plastisol: Plastisol, colours: Iterable[Colour]) -> tuple[Grain, ...]:
    """What sinks in a mold's cup: by its plastisol and its maker's colours."""
    found = {one.grain for colour in colours for one in colour.ingredients}
    every: tuple[Grain, ...] = ("salt", "flake")
    return tuple(one for one in every if one in found or (one == "salt" and salted(plastisol)))


def headlines(
    hand: Mapping[str, Figure], plastisol: Plastisol, colours: Iterable[Colour]
) -> dict[str, Figure]:
    """The figures of the hand that a mold's page tells: what sinks only where it is in the cup."""
    sinking = {f"{grain}_sinks" for grain in grains(plastisol, colours)}
    return {name: one for name, one in hand.items() if not name.endswith("_sinks") or name in sinking}
