"""The values from outside the project, computed by our formulas: for the tests and for the page on method."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from functools import cache
from typing import Literal

import numpy as np

from builder.model import Check, Checked
from builder.physics import buoyancy, conduction, creep, ducts, flow, fronts, heat, plate
from builder.physics.heat import Medium

Given = Mapping[str, float | str]
_PSI_PA = 6894.757
_FOOT_M, _INCH_M = 0.3048, 0.0254


def results(checks: Iterable[Check]) -> tuple[Checked, ...]:
    """Each published value with our computed one, in order; raises KeyError for an unknown formula."""
    found = []
    for check in checks:
        computed = _computed(check.formula, tuple(check.given.items()))
        agrees = abs(computed - check.expected) <= check.tolerance
        found.append(Checked(check=check, computed=computed, agrees=agrees))
    return tuple(found)


@cache
def _computed(formula: str, given: tuple[tuple[str, float | str], ...]) -> float:
    """What a formula gives: once in a process, for all sites and languages that it makes."""
    return float(_COMPUTE[formula](dict(given)))


def _shape(given: Given) -> heat.Shape:
    return "plane" if given["shape"] == "plane" else "round"


def _body(given: Given) -> Literal["plane", "round", "ball"]:
    return "ball" if given["shape"] == "ball" else _shape(given)


def _medium(effusivity: float) -> Medium:
    """A medium of which only the effusivity matters."""
    return Medium(conductivity_w_mk=effusivity, density_kg_m3=effusivity, heat_capacity_j_kgk=1.0)


def _contact(given: Given) -> float:
    first, second = (_medium(_n(given, f"{which}_effusivity")) for which in ("first", "second"))
    return float(heat.contact_c(_n(given, "first_c"), first, _n(given, "second_c"), second))


def _neumann(given: Given) -> float:
    """Front in mm; ice and water at 0 °C (CRC Handbook), one density as the formula has it."""
    ice = Medium(conductivity_w_mk=2.22, density_kg_m3=1000.0, heat_capacity_j_kgk=2050.0)
    water = Medium(conductivity_w_mk=0.556, density_kg_m3=1000.0, heat_capacity_j_kgk=4217.0)
    root = heat.neumann_root(ice, water, 333.6e3, _n(given, "wall_k"), _n(given, "above_k"))
    return 2e3 * root * float(np.sqrt(ice.diffusivity * _n(given, "seconds")))


def _frost(given: Given) -> float:
    """Depth in m that a share of the first difference has reached, below a face held cold."""
    soil, cold = _medium(1.0), _medium(1e9)
    rate = float(conduction.skin_rate(soil, cold, _n(given, "share")))
    return 2 * rate * float(np.sqrt(_n(given, "diffusivity") * _n(given, "seconds")))


def _layers(given: Given) -> float:
    """Middle of a body of half thickness 1 m and diffusivity 1 m²/s in a wall of given effusivity ratio."""
    inside = Medium(conductivity_w_mk=1.0, density_kg_m3=1.0, heat_capacity_j_kgk=1.0)
    ratio = _n(given, "ratio")
    wall = Medium(conductivity_w_mk=1 / ratio, density_kg_m3=1 / ratio, heat_capacity_j_kgk=1.0)
    body = conduction.layers(inside, wall, 1e3, 2e4, _shape(given), cells=(60, 80))
    return float(body.after(body.hot_inside(), np.asarray(_n(given, "fourier")))[0])


def _slab(given: Given) -> float:
    """Fourier number on half the thickness, from the cooling time of a 2 m plate."""
    return heat.cooling_time_plate_s(2e3, 1.0, 1.0, 0.0, _n(given, "share"))


def _rod(given: Given) -> float:
    """Fourier number on the radius, from the cooling time of a 2 m rod."""
    return heat.cooling_time_rod_s(2e3, 1.0, 1.0, 0.0, _n(given, "share"))


def _capillary(given: Given) -> float:
    """Pressure lost in a capillary, in psi."""
    flow_m3_s = _n(given, "flow_ft3_min") * _FOOT_M**3 / 60
    bore = _n(given, "diameter_in") * _INCH_M
    gradient = flow.pressure_gradient_pa_m(flow_m3_s, _n(given, "viscosity"), np.pi * bore**2 / 4, bore)
    return float(gradient) * _n(given, "length_ft") * _FOOT_M / _PSI_PA


def _round_constant(given: Given) -> float:
    """f·Re that our pressure gradient gives for Hagen–Poiseuille flow, 128 η Q/(π D⁴)."""
    bore = _n(given, "diameter_m")
    gradient = float(flow.pressure_gradient_pa_m(1.0, 1.0, np.pi * bore**2 / 4, bore))
    return 64 * gradient / (128 / (np.pi * bore**4))


_RIM = np.linspace(-0.5, 0.5, 13)
_EVEN = (np.arange(16) + 0.5) / 16 - 0.5


def _plate(high: float, bolts: Iterable[tuple[float, float]], poisson: float) -> float:
    """Middle of a plate 1 mm wide under an even load, w D/(q a⁴); bolts in shares of the sides."""
    load = [(x, y * high, high / len(_EVEN) ** 2) for x in _EVEN for y in _EVEN]
    held = [(x, y * high) for x, y in dict.fromkeys(bolts)]
    return float(plate.lift_mm4((1.0, high), held, load, [(0.0, 0.0)], poisson)[0])


def _rim_plate(given: Given) -> float:
    """A plate supported all round."""
    edges = [(t, s) for t in _RIM for s in (-0.5, 0.5)]
    return _plate(_n(given, "ratio"), [*edges, *((s, t) for t, s in edges)], 0.3)


def _corner_plate(given: Given) -> float:
    """A square plate on its corners."""
    corners = [(x, y) for x in (-0.5, 0.5) for y in (-0.5, 0.5)]
    return _plate(1.0, corners, _n(given, "poisson"))


def _film(given: Given) -> float:
    """Mass flow on a metre of width of a film that falls straight down, from its depth."""
    of_one = float(fronts.film_m(1.0, 1.0, 1.0))  # depth for a viscous length of 1
    viscous = (_n(given, "film_mm") * 1e-3 / of_one) ** 3
    return viscous * fronts.GRAVITY_M_S2 / _n(given, "kinematic_m2_s") * _n(given, "density")


def _n(given: Given, name: str) -> float:
    return float(given[name])


_COMPUTE: Mapping[str, Callable[[Given], float]] = {
    "heat.first_root": lambda given: heat.first_root(_body(given), _n(given, "biot")),
    "heat.first_coefficient": lambda given: heat.first_coefficient(_body(given), _n(given, "biot")),
    "heat.one_term_centre": lambda given: heat.one_term_centre(
        _body(given), _n(given, "biot"), _n(given, "fourier")
    ),
    "heat.contact_c": _contact,
    "heat.stefan_root": lambda given: heat.stefan_root(_n(given, "stefan")),
    "heat.neumann_front_mm": _neumann,
    "heat.slab_centre": lambda given: float(heat.slab_centre(_n(given, "fourier"), _n(given, "ratio"))),
    "heat.cooling_time_plate_s": _slab,
    "heat.cooling_time_rod_s": _rod,
    "conduction.skin_depth_m": _frost,
    "conduction.layers": _layers,
    "ducts.duct_constant": lambda given: float(ducts.duct_constant(_n(given, "aspect"))),
    "ducts.ellipse_constant": lambda given: float(ducts.ellipse_constant(_n(given, "aspect"))),
    "ducts.section_constant": lambda given: float(
        ducts.section_constant(_n(given, "area_mm2"), _n(given, "perimeter_mm"), _n(given, "thickness_mm"))
    ),
    "plate.rim_share": _rim_plate,
    "plate.corner_share": _corner_plate,
    "fronts.film_kg_m_s": _film,
    "flow.capillary_psi": _capillary,
    "flow.round_constant": _round_constant,
    "creep.beside_walls": lambda given: float(creep.beside_walls(_n(given, "aspect"), 1.0)),
    "buoyancy.settling_mm_s": lambda given: float(
        buoyancy.settling_mm_s(*(_n(given, name) for name in ("grain_mm", "grain", "liquid", "viscosity")))
    ),
    "buoyancy.lift_g": lambda given: float(
        buoyancy.lift_g(_n(given, "volume_ml"), _n(given, "mass_g"), _n(given, "water"))
    ),
}
