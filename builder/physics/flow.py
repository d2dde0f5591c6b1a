"""Laminar flow of hot plastisol in a cooling channel: viscosity, pressure loss, filling, shrinkage, venting.

Filling against setting is asked section by section: how much can pass before this section sets, and how
much must pass to fill what lies beyond? That ratio is the fill margin. A march of the front that freezes
every section by its own clock gives the same critical thickness within 3 % (the tests hold such a march
as the judge) and costs a hundred times as much, so the ratio is what we use.

The heat lost on the way is left out: in a 12 mm trunk at 5 mL/s the mean temperature falls by about 1 K
(its Graetz number is in the thousands), far less than what the set temperature is uncertain by.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from builder.physics import creep, fronts
from builder.physics.conduction import open_share, set_fourier, skin_rate
from builder.physics.heat import Array, Medium, Numbers
from builder.physics.sections import SIMILAR, Sections

REFERENCE_C = 160.0
"""Temperature at which the tables give the viscosity of hot plastisol."""

_POINTS, _WEIGHTS = np.polynomial.legendre.leggauss(7)
_ELAPSED, _PORTION = (_POINTS + 1) / 2, _WEIGHTS / 2
_FEW, _FEW_WEIGHTS = np.polynomial.legendre.leggauss(3)
_SEEN, _PART = (_FEW + 1) / 2, _FEW_WEIGHTS / 2
"""While the front stands the skin is thin, and fewer moments do."""


def viscosity_pa_s(shot_c: Numbers, reference_pa_s: Numbers, set_c: Numbers, exponent: Numbers) -> Array:
    """Viscosity of hot plastisol: η₁₆₀ ((160 − T_set)/(T − T_set))ⁿ, infinite at and below T_set.

    Near its gel point the viscosity of PVC in plasticizer diverges with the power 1.5 ± 0.1 of the distance
    to it. Source: Rheological Images of Poly(vinyl chloride) Gels. 2, Macromolecules 30 (1997), there with
    the distance in concentration; no measured curve of bait plastisol was found.

    >>> viscosity_pa_s(np.array([160.0, 133.5, 100.0]), 2.0, 107.0, 1.5).round(2).tolist()
    [2.0, 5.66, inf]
    """
    above = np.maximum(np.asarray(shot_c) - set_c, 0.0)
    with np.errstate(divide="ignore"):
        return np.asarray(reference_pa_s * ((REFERENCE_C - set_c) / above) ** exponent)


def pressure_gradient_pa_m(
    flow_m3_s: Numbers, viscosity: Numbers, area_m2: Numbers, hydraulic_m: Numbers, constant: Numbers = 64.0
) -> Array:
    """Pressure lost in a metre of duct in laminar flow: (f·Re) η Q / (2 A D_h²), D_h = 4 area/perimeter.

    Round: f·Re = 64, Hagen–Poiseuille 128 η Q/(π D⁴); wide slit: 96, 12 η Q/(w h³). Source: Bird, Stewart,
    Lightfoot, Transport Phenomena, 2nd ed., §2.3; Shah & London 1978.

    >>> float(pressure_gradient_pa_m(1e-6, 1.0, np.pi * 0.002**2 / 4, 0.002).round())  # 128 η Q/(π D⁴)
    2546479.0
    """
    return np.asarray(constant * viscosity * flow_m3_s / (2 * area_m2 * np.square(hydraulic_m)))


def stream_film_w_m2k(flow_m3_s: Numbers, inside: Medium, bore_mm: Numbers, length_mm: Numbers) -> Array:
    """Heat from a laminar stream to the wall of a short duct, for each kelvin: Nu k/D, Nu = 1.62 Gz^⅓.

    The mean over the length while the thermal layer grows. Source: Sieder & Tate, as Incropera, 6th ed., eq.
    8.57, without its viscosity ratio; Gz = (D/L) Re Pr = 4 Q/(π α L).

    >>> vinyl = Medium(conductivity_w_mk=0.155, density_kg_m3=1000.0, heat_capacity_j_kgk=1900.0)
    >>> float(stream_film_w_m2k(5e-6, vinyl, 5.0, 6.0).round(-1))
    1180.0
    """
    number = 4 * np.asarray(flow_m3_s) / (np.pi * inside.diffusivity * np.asarray(length_mm) * 1e-3)
    return np.asarray(1.62 * np.cbrt(number) * inside.conductivity_w_mk / (np.asarray(bore_mm) * 1e-3))


def shrink_share(expansion_per_k: Numbers, warmer_k: Numbers) -> Array:
    """Share of its volume that plastisol loses on cooling by `warmer_k`: three times the linear expansion.

    >>> round(float(shrink_share(2.0e-4, 143.0)), 4)
    0.0858
    """
    return np.asarray(3 * np.asarray(expansion_per_k) * warmer_k)


def hot_density(density: Numbers, expansion_per_k: Numbers, warmer_k: Numbers) -> Array:
    """Density after warming by `warmer_k`, in the unit of `density`: ρ/(1 + 3 α ΔT)."""
    return np.asarray(density / (1 + shrink_share(expansion_per_k, warmer_k)))


def vent_pressure_pa(flow_m3_s: Numbers, depth_mm: Numbers, width_mm: Numbers, length_mm: Numbers) -> Array:
    """Pressure that drives air at `flow_m3_s` through a vent, a wide slit: 12 η Q L/(w d³).

    Viscosity of air 1.85e-5 Pa·s at 300 K (Incropera, table A.4).

    >>> round(float(vent_pressure_pa(10e-6, 0.3, 3.0, 15.0)))
    411
    """
    depth, width, length = (np.asarray(x) * 1e-3 for x in (depth_mm, width_mm, length_mm))
    return np.asarray(12 * 1.85e-5 * flow_m3_s * length / (width * depth**3))


def vent_reach_mm(
    depth_mm: Numbers,
    *,
    pressure_mpa: Numbers,
    viscosity: Numbers,
    inside: Medium,
    wall: Medium,
    share: Numbers,
) -> Array:
    """How far plastisol creeps into a vent before it sets there: a cold slit, as `creep.reach_mm` has it.

    The skin that grows in it and the cooling core are in that; the viscosity rises with the power 1.5.

    >>> v = Medium(conductivity_w_mk=0.155, density_kg_m3=1000.0, heat_capacity_j_kgk=1900.0)
    >>> known = dict(pressure_mpa=0.2, viscosity=4.0, inside=v, wall=v, share=0.6)
    >>> [round(float(vent_reach_mm(depth, **known)), 1) for depth in (0.2, 0.4)]
    [1.7, 7.0]
    """
    return creep.reach_mm(
        depth_mm,
        pressure_pa=np.asarray(pressure_mpa) * 1e6,
        viscosity=viscosity,
        inside=inside,
        wall=wall,
        share=share,
        exponent=1.5,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """One shot, or many at once: every field a number or an array of the same shape."""

    inside: Medium
    wall: Medium
    shot_c: Numbers
    mold_c: Numbers
    set_c: Numbers
    viscosity_pa_s: Numbers
    injection_ml_s: Numbers
    pressure_mpa: Numbers
    later: Numbers = 1.0
    """How much later than the plane and round solutions a real section sets."""
    cling: Numbers = 0.0
    """How much of a falling stream runs down the wall; 0 falls free (`fronts`)."""

    @property
    def share(self) -> Array:
        """Dimensionless set temperature (T_set − T_mold)/(T_shot − T_mold); at 1 it is set already."""
        above = np.maximum(np.asarray(self.shot_c) - self.mold_c, 1e-9)
        return np.asarray((self.set_c - np.asarray(self.mold_c)) / above)

    @property
    def push(self) -> Array:
        """Pressure over viscosity, 1/s: the flow through a drag of 1/m³, in m³/s."""
        return np.asarray(np.asarray(self.pressure_mpa) * 1e6 / self.viscosity_pa_s)

    @property
    def weight_pa_m(self) -> Array:
        """ρ g, the pressure under a metre of plastisol."""
        return np.asarray(np.asarray(self.inside.density_kg_m3) * fronts.GRAVITY_M_S2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rows:
    """Cross-sections of one or several flow paths, prepared for `fill_margins`; arrays of shape (rows,)."""

    thickness_mm: Array
    flatness: Array
    needs_ml: Array
    share: Array
    stays: Array
    """Drag of those parts of the path that stay open while this section sets, 1/m³."""
    skins: Array
    """Drag of those that grow a skin with it."""
    waiting: fronts.Waiting

    def pick(self, which: Array | NDArray[np.intp] | NDArray[np.bool_]) -> Rows:
        """Only the rows `which`."""
        return _each(lambda part: part[which], self)


def joined(parts: Sequence[Rows]) -> Rows:
    """Rows of several paths in one."""
    return _each(lambda *some: np.concatenate(some), *parts)


def _each(work: Callable[..., Array], *parts: Rows) -> Rows:
    """Rows whose every array is made from those of the parts."""
    own = [name for name in Rows.__slots__ if name != "waiting"]
    waits = {
        name: work(*(getattr(part.waiting, name) for part in parts)) for name in fronts.Waiting.__slots__
    }
    return Rows(
        **{name: work(*(getattr(part, name) for part in parts)) for name in own},
        waiting=fronts.Waiting(**waits),
    )


def rows(sec: Sections) -> Rows:
    """The sections with the drag of the path as each of them feels it, and what each waits for.

    Upstream sections count whole, those downstream by the share of what lies beyond that passes them.
    """
    slow = sec.thickness_mm * (1 + 0.6 * sec.flatness)
    order = np.arange(len(slow))
    downstream = order[None, :] > order[:, None]
    counts = np.where(downstream, sec.needs_ml[None, :] / sec.needs_ml[:, None], 1.0)
    felt = sec.drag_m3[None, :] * sec.share[None, :] / sec.share[:, None] * np.minimum(counts, 1.0)
    similar = slow[None, :] <= SIMILAR * slow[:, None]
    return Rows(
        thickness_mm=sec.thickness_mm,
        flatness=sec.flatness,
        needs_ml=sec.needs_ml,
        share=sec.share,
        stays=np.where(similar, 0.0, felt).sum(axis=1),
        skins=np.where(similar, felt, 0.0).sum(axis=1),
        waiting=fronts.waiting(sec),
    )


def set_and_skin(asked: Rows, shot: Shot) -> tuple[Array, Array]:
    """Seconds until each section sets after the front passed it, and its early skin c = 2λ√Fo.

    Shapes (..., rows).
    """
    fourier = _set_fourier(asked.flatness, shot)
    skin = 2 * skin_rate(shot.inside, shot.wall, shot.share)[..., None] * np.sqrt(fourier)
    return _set_s(fourier, asked.thickness_mm, shot), skin


def set_times_s(thickness_mm: Array, flat: Array, shot: Shot) -> Array:
    """Seconds until the middle of each section sets after the front passed it, (..., sections)."""
    return _set_s(_set_fourier(flat, shot), thickness_mm, shot)


def _set_fourier(flatness: Array, shot: Shot) -> Array:
    """Fourier number on half the thickness at which each section sets: between plane and round."""
    share = shot.share
    flat = np.log(set_fourier("plane", shot.inside, shot.wall, share))[..., None]
    slim = np.log(set_fourier("round", shot.inside, shot.wall, share))[..., None]
    return np.asarray(np.exp(flatness * flat + (1 - flatness) * slim))


def _set_s(fourier: Array, thickness_mm: Array, shot: Shot) -> Array:
    speed = np.asarray(shot.later / shot.inside.diffusivity)[..., None]
    seconds = fourier * speed * (thickness_mm * 0.5e-3) ** 2
    return np.where((shot.share < 1)[..., None], seconds, 0.0)


def waits_s(asked: Rows, shot: Shot) -> Array:
    """Seconds that the front stands in each section before the full pressure comes on, (..., rows)."""
    return fronts.waits_s(
        asked.waiting,
        injection_ml_s=shot.injection_ml_s,
        push_m3_s=shot.push,
        viscous_m4=shot.viscosity_pa_s / shot.weight_pa_m,
        cling=shot.cling,
    )


def fill_margins(asked: Rows, shot: Shot) -> Array:
    """Fill margin of each section, shape (..., rows): volume that can pass before it sets over volume needed.

    At constant flow and without a wait this is (time until the section sets)/(time to fill what lies
    beyond it). The flow is the injection rate's share, or what the pressure drives through the path up to
    the middle of what lies beyond, with the skin grown so far; whichever is less. While the front stands,
    only the weight of the plastic drives it. Below 1 the path comes short.
    """
    seconds, early = set_and_skin(asked, shot)
    waited = np.minimum(waits_s(asked, shot) / np.maximum(seconds, 1e-12), 1.0)
    seeped = np.zeros_like(seconds)
    wet = np.ones_like(seconds)
    if waited.any():
        ran, wet = _ran_in_ml(asked, shot, seconds, early, waited)
        waited = waited * (1 - np.minimum(asked.waiting.inward_ml / np.maximum(ran, 1e-12), 1.0) ** 2)
        seeped = np.maximum(ran - asked.waiting.inward_ml, 0.0)
    left = (1 - waited)[..., None]
    rate = (np.asarray(shot.injection_ml_s) * 1e-6)[..., None, None] * asked.share[:, None]
    later = _resistance(waited[..., None] + left * _ELAPSED, early, asked.flatness)
    dry = np.nonzero(wet < 1)
    if len(dry[0]):
        fresh = _resistance(left[dry] * _ELAPSED, early[dry], asked.flatness[dry[-1]])
        later[dry] = wet[dry][:, None] * later[dry] + (1 - wet[dry])[:, None] * fresh
    drag = asked.stays[:, None] + asked.skins[:, None] * later
    flow = np.einsum("...p,p->...", np.minimum(rate, shot.push[..., None, None] / drag), _PORTION)
    return np.asarray((seconds * (1 - waited) * flow + seeped * 1e-6) / (asked.needs_ml * 1e-6))


def _resistance(elapsed: Array, early: Array, flat: Array) -> Array:
    """How many times harder a section is to pass with the skin grown so far, (..., rows, moments)."""
    gap = np.maximum(open_share(elapsed, early[..., None], flat[:, None]), 1e-6)
    return np.asarray(np.exp((flat[:, None] - 4) * np.log(gap)))


def _ran_in_ml(asked: Rows, shot: Shot, seconds: Array, early: Array, waited: Array) -> tuple[Array, Array]:
    """What runs into the thin place under the weight alone, and the share of it that is wet by then.

    While the place is filling, its drag grows with the wet part: V²/2 = V_run K, where K is what would have
    passed through the whole of it. So the front gets to a part of it after the square of that part's time.
    """
    eased, stood = np.ones_like(waited), np.nonzero(waited > 0)
    skins = _resistance(waited[stood][:, None] * _SEEN, early[stood], asked.flatness[stood[-1]])
    eased[stood] = np.einsum("...p,p->...", 1 / skins, _PART)
    weight = asked.waiting.head_m * (shot.weight_pa_m / shot.viscosity_pa_s)[..., None]
    whole = seconds * waited * eased * weight / asked.skins * 1e6
    run = asked.waiting.run_ml
    ran = np.where(2 * whole < run, np.sqrt(2 * whole * run), whole + run / 2)
    ran = np.maximum(np.minimum(ran, asked.needs_ml), asked.waiting.mouth * run)
    return ran, np.where(waited > 0, np.minimum(ran / run, 1.0), 1.0)
