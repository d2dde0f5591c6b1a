"""Heat conduction between plastisol and mold: one function for each published formula, in SI units."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import erf, erfc, j0, j1

Array = NDArray[np.float64]
Numbers = float | Array
Shape = Literal["plane", "round"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Medium:
    """Thermal properties of a material: numbers, or arrays of equal shape for many cases at once."""

    conductivity_w_mk: Numbers
    density_kg_m3: Numbers
    heat_capacity_j_kgk: Numbers

    @property
    def volumetric(self) -> Array:
        """Heat capacity of a volume, J/m³·K."""
        return np.asarray(self.density_kg_m3 * self.heat_capacity_j_kgk)

    @property
    def diffusivity(self) -> Array:
        """k/(ρc), m²/s."""
        return np.asarray(self.conductivity_w_mk / self.volumetric)

    @property
    def effusivity(self) -> Array:
        """√(kρc), W·s½/m²·K."""
        return np.asarray(np.sqrt(self.conductivity_w_mk * self.volumetric))


def contact_c(first_c: Numbers, first: Medium, second_c: Numbers, second: Medium) -> Array:
    """Temperature at the face where two thick bodies touch: (e₁T₁ + e₂T₂)/(e₁ + e₂).

    It holds until the heat has crossed the thinner body. Source: Carslaw & Jaeger, Conduction of Heat in
    Solids, 2nd ed., §2.16; Incropera, Fundamentals of Heat and Mass Transfer, 6th ed., eq. 5.63.

    >>> same = Medium(conductivity_w_mk=0.15, density_kg_m3=1000.0, heat_capacity_j_kgk=1900.0)
    >>> float(contact_c(165.0, same, 25.0, same).round(9))
    95.0
    """
    one, two = first.effusivity, second.effusivity
    return np.asarray((one * first_c + two * second_c) / (one + two))


def first_root(shape: Shape | Literal["ball"], biot: float) -> float:
    """First root ζ₁ of the cooling of a body in a film: ζ tan ζ = Bi, ζ J₁/J₀ = Bi, 1 − ζ cot ζ = Bi.

    Source: Incropera, 6th ed., eqs 5.39c, 5.47c, 5.48c, table 5.1. Bi > 0 on half thickness or radius.

    >>> round(first_root("plane", 1.0), 4), round(first_root("round", 1.0), 4)
    (0.8603, 1.2558)
    """
    edge = {"plane": np.pi / 2, "round": 2.404825557695773, "ball": np.pi}[shape]
    equation = {
        "plane": lambda z: z * np.sin(z) - biot * np.cos(z),
        "round": lambda z: z * j1(z) - biot * j0(z),
        "ball": lambda z: np.sin(z) - z * np.cos(z) - biot * np.sin(z),
    }[shape]
    return float(brentq(equation, 1e-9, edge - 1e-12, xtol=1e-14))


def first_coefficient(shape: Shape | Literal["ball"], biot: float) -> float:
    """Coefficient C₁ of the first term of the series, for the centre temperature. Source: as `first_root`.

    >>> round(first_coefficient("plane", 1.0), 4), round(first_coefficient("ball", 10.0), 4)
    (1.1191, 1.9249)
    """
    z = first_root(shape, biot)
    if shape == "plane":
        return float(4 * np.sin(z) / (2 * z + np.sin(2 * z)))
    if shape == "round":
        return float(2 / z * j1(z) / (j0(z) ** 2 + j1(z) ** 2))
    return float(4 * (np.sin(z) - z * np.cos(z)) / (2 * z - np.sin(2 * z)))


def one_term_centre(shape: Shape | Literal["ball"], biot: float, fourier: float) -> float:
    """Centre temperature C₁ exp(−ζ₁² Fo) as a share of the first difference; good for Fo > 0.2.

    Source: Incropera, 6th ed., eqs 5.41, 5.49, 5.50.

    >>> round(one_term_centre("plane", 1.0, 1.0), 3)
    0.534
    """
    return first_coefficient(shape, biot) * float(np.exp(-(first_root(shape, biot) ** 2) * fourier))


def cooling_time_plate_s(
    thickness_mm: float, diffusivity: float, melt_c: float, wall_c: float, end_c: float
) -> float:
    """Seconds until the middle of a plate between walls held at `wall_c` is at `end_c`.

    t = s²/(π²α) · ln[(4/π)(T_m − T_w)/(T_e − T_w)]. Source: Ballman & Shusman 1959; Menges, How to Make
    Injection Molds, 3rd ed., §8.2: the first term of the series, so for Fo > 0.2 only.

    >>> round(cooling_time_plate_s(2.0, 8.7e-8, 230.0, 50.0, 90.0), 2)
    8.13
    """
    ratio = 4 / np.pi * (melt_c - wall_c) / (end_c - wall_c)
    return float((thickness_mm * 1e-3) ** 2 / (np.pi**2 * diffusivity) * np.log(ratio))


def cooling_time_rod_s(
    diameter_mm: float, diffusivity: float, melt_c: float, wall_c: float, end_c: float
) -> float:
    """Seconds until the axis of a rod in a wall held at `wall_c` is at `end_c`.

    t = D²/(23.14 α) · ln[1.602 (T_m − T_w)/(T_e − T_w)]. Source: as `cooling_time_plate_s`.

    >>> round(cooling_time_rod_s(4.0, 8.7e-8, 230.0, 50.0, 90.0), 2)
    15.7
    """
    ratio = 1.602 * (melt_c - wall_c) / (end_c - wall_c)
    return float((diameter_mm * 1e-3) ** 2 / (23.14 * diffusivity) * np.log(ratio))


def stefan_root(stefan: float) -> float:
    """λ of a freezing front s = 2λ√(αt) in a liquid at its freezing point: √π λ exp(λ²) erf λ = Ste.

    Source: Carslaw & Jaeger §11.2; Alexiades & Solomon, Mathematical Modeling of Melting and Freezing
    Processes, §2.1.

    >>> round(stefan_root(1.0), 4)
    0.6201
    """

    def excess(z: float) -> float:
        return float(np.sqrt(np.pi) * z * np.exp(z * z) * erf(z)) - stefan

    return float(brentq(excess, 1e-12, 5.0, xtol=1e-14))


def neumann_root(solid: Medium, liquid: Medium, latent_j_kg: float, wall_k: float, above_k: float) -> float:
    """λ of a freezing front s = 2λ√(α_s t) into a liquid `above_k` over its freezing point.

    The wall is held `wall_k` below it. Source: Carslaw & Jaeger §11.2 (X) eq. 9.

    >>> ice = Medium(conductivity_w_mk=2.22, density_kg_m3=1000.0, heat_capacity_j_kgk=2100.0)
    >>> water = Medium(conductivity_w_mk=0.556, density_kg_m3=1000.0, heat_capacity_j_kgk=4200.0)
    >>> 0 < neumann_root(ice, water, 334e3, 20.0, 10.0) < stefan_root(2100.0 * 20 / 334e3)
    True
    """
    stefan = float(np.asarray(solid.heat_capacity_j_kgk)) * wall_k / latent_j_kg
    across = float(np.sqrt(solid.diffusivity / liquid.diffusivity))
    weight = float(liquid.effusivity / solid.effusivity) * above_k / wall_k

    def excess(z: float) -> float:
        gain = np.exp(-z * z) / erf(z)
        loss = weight * np.exp(-((across * z) ** 2)) / erfc(across * z)
        return float(gain - loss - z * np.sqrt(np.pi) / stefan)

    return float(brentq(excess, 1e-9, 5.0, xtol=1e-14))


def slab_centre(fourier: Numbers, ratio: float, terms: int = 400) -> Array:
    """Middle of a slab between two thick walls, as a share of the first difference of temperature.

    Fo = αt/a² on half the thickness, `ratio` = effusivity of slab over wall: with ρ = (1 − ratio)/(1 +
    ratio), θ = 1 − 2/(1 + ratio) Σ (−ρ)ⁿ erfc((2n+1)/(2√Fo)). From the Laplace transform of the
    two-material problem by Carslaw & Jaeger §12.8's method of images; the outside check of `layers`.

    >>> round(float(slab_centre(0.5, 1.0)), 6)  # equal media: erf(1/(2√Fo))
    0.682689
    """
    n = np.arange(terms)
    reflect = (1 - ratio) / (1 + ratio)
    images = erfc((2 * n + 1) / (2 * np.sqrt(np.asarray(fourier, dtype=np.float64)[..., None])))
    return np.asarray(1 - 2 / (1 + ratio) * np.sum((-reflect) ** n * images, axis=-1))
