"""Laminar flow of hot plastisol in a cooling channel: viscosity, pressure loss, filling, shrinkage, venting.

Filling against setting is asked section by section: how much can pass before this section sets, and how
much must pass to fill what lies beyond? That ratio is the fill margin. A march of the front that freezes
every section by its own clock gives the same critical thickness within 3 % (the tests hold such a march
as the judge) and costs a hundred times as much, so the ratio is what we use.

The heat lost on the way is left out: in a 12 mm trunk at 5 mL/s the mean temperature falls by about 1 K
(its Graetz number is in the thousands), far less than what the set temperature is uncertain by.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from builder.model import Station
from builder.physics.conduction import flatness, open_share, set_fourier, skin_rate
from builder.physics.heat import Array, Medium, Numbers

REFERENCE_C = 160.0
"""Temperature at which the tables give the viscosity of hot plastisol."""

_SIMILAR = 1.4
"""Sections up to this much thicker grow their skin along with the thin one (twice its set time)."""
_POINTS, _WEIGHTS = np.polynomial.legendre.leggauss(7)
_ELAPSED, _PORTION = (_POINTS + 1) / 2, _WEIGHTS / 2


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


def duct_constant(aspect: Numbers) -> Array:
    """Darcy friction factor times Reynolds number of a rectangle, height over width `aspect` (0–1).

    Source: Shah & London, Laminar Flow Forced Convection in Ducts (1978), eq. 341 (there as Fanning, 24…).

    >>> duct_constant(np.array([0.0, 0.5, 1.0])).round(2).tolist()
    [96.0, 62.23, 56.92]
    """
    a = np.clip(aspect, 0.0, 1.0)
    series = 1 - 1.3553 * a + 1.9467 * a**2 - 1.7012 * a**3 + 0.9564 * a**4 - 0.2537 * a**5
    return np.asarray(96 * series)


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
    """How far plastisol creeps into a vent before it sets there: d √(p t/(6η)), t the vent's set time.

    Filling of a slit under constant pressure (Washburn 1921 without capillarity): x² = p d² t/(6η).

    >>> v = Medium(conductivity_w_mk=0.155, density_kg_m3=1000.0, heat_capacity_j_kgk=1900.0)
    >>> known = dict(pressure_mpa=0.2, viscosity=4.0, inside=v, wall=v, share=0.6)
    >>> [round(float(vent_reach_mm(depth, **known)), 1) for depth in (0.2, 0.4)]
    [5.4, 21.5]
    """
    half = np.asarray(depth_mm) * 0.5e-3
    seconds = set_fourier("plane", inside, wall, share) * half**2 / inside.diffusivity
    return np.asarray(depth_mm * np.sqrt(np.asarray(pressure_mpa) * 1e6 * seconds / (6 * viscosity)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Sections:
    """A flow path cut into sections that matter; arrays of shape (sections,)."""

    station: tuple[int, ...]
    """Index of each section's thinnest station in its path."""
    thickness_mm: Array
    width_mm: Array
    """Width of the ellipse with the same thickness and area."""
    flatness: Array
    """0 round, 1 a wide slit (`conduction.flatness`)."""
    needs_ml: Array
    """What must pass through the section."""
    share: Array
    """Its share of the injected flow while everything fills at once."""
    drag_m3: Array
    """Pressure lost in it for each unit of flow and viscosity, 1/m³."""
    past_gate: NDArray[np.bool_]


def sections(
    stations: Sequence[Station], gate_index: int, bait_ml: float, baits_ml: float, at_most: int = 24
) -> Sections:
    """The path as sections: neighbours joined, each as thin as its thinnest station.

    Before the gate the flow's share is that of what lies beyond; a bait takes `bait_ml` of `baits_ml`;
    inside it a side branch larger than half the section's own volume takes its share from there on.
    """
    at = np.array([s.s_mm for s in stations])
    length = np.maximum(np.gradient(at), 1e-6) if len(at) > 1 else np.ones(1)
    thickness = np.maximum([s.thickness_mm for s in stations], 1e-3)
    area = np.maximum([s.area_mm2 for s in stations], 1e-6)
    perimeter = np.maximum([s.perimeter_mm for s in stations], 1e-3)
    hydraulic = 4 * area / perimeter
    flat = flatness(area, perimeter, thickness)
    needs = np.array([s.beyond_ml for s in stations])
    share = _shares(needs, area * length * 1e-3, gate_index, bait_ml, baits_ml)
    drag = duct_constant(2 * thickness / hydraulic - 1) * length / (2 * area * hydraulic**2) * 1e9
    slow = thickness * (1 + 0.6 * flat)
    groups = [
        *_split(gate_index, at_most // 3),
        *(gate_index + g for g in _split(len(at) - gate_index, at_most)),
    ]
    chosen = [int(g[np.argmin(slow[g])]) for g in groups]
    return Sections(
        station=tuple(chosen),
        thickness_mm=thickness[chosen],
        width_mm=np.maximum(4 * area / (np.pi * thickness), thickness)[chosen],
        flatness=flat[chosen],
        needs_ml=np.maximum(needs[chosen], 1e-6),
        share=share[chosen],
        drag_m3=np.array([drag[g].sum() for g in groups]),
        past_gate=np.array(chosen) >= gate_index,
    )


def _split(count: int, parts: int) -> list[NDArray[np.intp]]:
    return [g for g in np.array_split(np.arange(count), max(1, min(parts, count))) if len(g)]


def _shares(needs: Array, own: Array, gate_index: int, bait_ml: float, baits_ml: float) -> Array:
    """Share of the injected flow at each station while all branches fill at once."""
    at_gate = min(1.0, bait_ml / baits_ml)
    share = np.empty_like(needs)
    share[:gate_index] = np.clip(needs[:gate_index] / max(needs[0], 1e-9), at_gate, 1.0)
    current = at_gate
    for index in range(gate_index, len(needs)):
        share[index] = current
        if index + 1 < len(needs):
            side = needs[index] - needs[index + 1] - own[index]
            if side > max(0.5 * own[index], 0.03 * bait_ml):
                current *= needs[index + 1] / (needs[index + 1] + side)
    return np.maximum(share, 1e-6)


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

    @property
    def share(self) -> Array:
        """Dimensionless set temperature (T_set − T_mold)/(T_shot − T_mold); at 1 it is set already."""
        above = np.maximum(np.asarray(self.shot_c) - self.mold_c, 1e-9)
        return np.asarray((self.set_c - np.asarray(self.mold_c)) / above)


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

    def pick(self, which: Array | NDArray[np.intp] | NDArray[np.bool_]) -> Rows:
        """Only the rows `which`."""
        return Rows(**{name: getattr(self, name)[which] for name in self.__slots__})


def rows(sec: Sections) -> Rows:
    """The sections with the drag of the path as each of them feels it.

    Upstream sections count whole, those downstream by the share of what lies beyond that passes them.
    """
    slow = sec.thickness_mm * (1 + 0.6 * sec.flatness)
    order = np.arange(len(slow))
    downstream = order[None, :] > order[:, None]
    counts = np.where(downstream, sec.needs_ml[None, :] / sec.needs_ml[:, None], 1.0)
    felt = sec.drag_m3[None, :] * sec.share[None, :] / sec.share[:, None] * np.minimum(counts, 1.0)
    similar = slow[None, :] <= _SIMILAR * slow[:, None]
    return Rows(
        thickness_mm=sec.thickness_mm,
        flatness=sec.flatness,
        needs_ml=sec.needs_ml,
        share=sec.share,
        stays=np.where(similar, 0.0, felt).sum(axis=1),
        skins=np.where(similar, felt, 0.0).sum(axis=1),
    )


def joined(parts: Sequence[Rows]) -> Rows:
    """Rows of several paths in one."""
    return Rows(**{name: np.concatenate([getattr(p, name) for p in parts]) for name in Rows.__slots__})


def set_and_skin(asked: Rows, shot: Shot) -> tuple[Array, Array]:
    """Seconds until each section sets after the front passed it, and its early skin c = 2λ√Fo.

    Shapes (..., rows).
    """
    share = shot.share
    flat = np.log(set_fourier("plane", shot.inside, shot.wall, share))[..., None]
    slim = np.log(set_fourier("round", shot.inside, shot.wall, share))[..., None]
    fourier = np.exp(asked.flatness * flat + (1 - asked.flatness) * slim)
    speed = np.asarray(shot.later / shot.inside.diffusivity)[..., None]
    seconds = fourier * speed * (asked.thickness_mm * 0.5e-3) ** 2
    skin = 2 * skin_rate(shot.inside, shot.wall, share)[..., None] * np.sqrt(fourier)
    return np.where((share < 1)[..., None], seconds, 0.0), skin


def fill_margins(asked: Rows, shot: Shot) -> Array:
    """Fill margin of each section, shape (..., rows): volume that can pass before it sets over volume needed.

    At constant flow this is (time until the section sets)/(time to fill what lies beyond it). The flow is
    the injection rate's share, or what the pressure drives through the path up to the middle of what lies
    beyond, with the skin grown so far; whichever is less. Below 1 the path comes short.
    """
    seconds, early = set_and_skin(asked, shot)
    rate = (np.asarray(shot.injection_ml_s) * 1e-6)[..., None, None] * asked.share[:, None]
    push = (np.asarray(shot.pressure_mpa) * 1e6 / shot.viscosity_pa_s)[..., None, None]
    flat = asked.flatness[:, None]
    gap = np.maximum(open_share(_ELAPSED, early[..., None], flat), 1e-6)
    drag = asked.stays[:, None] + asked.skins[:, None] * np.exp((flat - 4) * np.log(gap))
    flow = np.einsum("...p,p->...", np.minimum(rate, push / drag), _PORTION)
    return np.asarray(seconds * flow / (asked.needs_ml * 1e-6))


def thin_run(sec: Sections, deciding: int, thickness_mm: float | None = None) -> NDArray[np.bool_]:
    """Which sections belong to the thin place around `deciding`: neighbours hardly thicker than it.

    With a thickness, those that are thinner than that.
    """
    limit = _SIMILAR * sec.thickness_mm[deciding] if thickness_mm is None else thickness_mm
    thin = sec.thickness_mm <= limit
    first = deciding - int(np.argmin(np.append(thin[deciding::-1], False))) + 1
    last = deciding + int(np.argmin(np.append(thin[deciding:], False)))
    order = np.arange(len(thin))
    return (order >= first) & (order < last)


def resized(sec: Sections, deciding: int, thickness_mm: float) -> Sections:
    """The path with the thin place around `deciding` made so thick, feeding the same.

    Thicker: everything next to it that would now be thinner grows too; thinner: the place itself. A
    section keeps its width until it is thicker than wide, then it grows both ways. Drag and flatness
    change as those of an ellipse.
    """
    before, width = sec.thickness_mm, sec.width_mm
    run = thin_run(sec, deciding)
    if thickness_mm >= before[deciding]:
        grown = thin_run(sec, deciding, thickness_mm)
        after = np.where(grown, np.maximum(before, thickness_mm), before)
    else:
        after = np.where(run, thickness_mm, before)
    wide = np.maximum(width, after)
    flat = sec.flatness + _ellipse_flatness(after, wide) - _ellipse_flatness(before, width)
    return replace(
        sec,
        thickness_mm=after,
        width_mm=wide,
        flatness=np.clip(flat, 0.0, 1.0),
        drag_m3=sec.drag_m3 * _ellipse_drag(after, wide) / _ellipse_drag(before, width),
    )


def _ellipse_drag(height: Array, width: Array) -> Array:
    """Drag of a metre of elliptic duct, but for a constant: (h² + w²)/(h w)³ (Shah & London, ch. VIII)."""
    return np.asarray((height**2 + width**2) / (height * width) ** 3)


def _ellipse_flatness(height: Array, width: Array) -> Array:
    """Flatness of an ellipse; its perimeter by Ramanujan 1914, within 0.4 %."""
    root = np.sqrt((3 * height + width) * (height + 3 * width))
    perimeter = np.pi / 2 * (3 * (height + width) - root)
    return flatness(np.pi / 4 * height * width, perimeter, height)
