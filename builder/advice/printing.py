"""Print settings to start with, and what a mold takes in material, time and money.

Settings are common practice, or what the maker printed with. A printed part is a shell of wall lines with
infill inside: used = shell + infill x (volume - shell), shell = area x walls x line, at most the volume.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from builder.base import figures
from builder.model import Figure, Measurement, MoldMaterial, MoldSpec, PartMeasure, Sourced

Process = Literal["filament", "resin", "cut"]
Triple = tuple[float, float, float]
_RESINS = ("resin", "heat-resin")
_METALS = ("aluminium",)
_BECAUSE = "page.print.because"
MM3_PER_ML = 1000.0
SECONDS_PER_H = 3600.0
TIMES: tuple[tuple[float, str], ...] = ((4.0, "hours"), (10.0, "night"), (24.0, "day"))
"""Upper ends, in hours, of the words for how long a print takes; more is days."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintAdvice:
    """Settings to print a mold with, and what it takes. None where a process has no such thing."""

    process: Process
    walls: Figure | None
    infill: Figure | None
    layer: Figure | None
    overhang: Figure | None
    """What hangs over without support in the best pose; None where it may stay without."""
    used_ml: Figure | None
    used_g: Figure | None
    length_m: Figure | None
    """Filament."""
    time: Figure | None
    time_word: str
    """hours, night, day or days; "" for a mold that is not printed."""


def process_of(material: str) -> Process:
    """How a mold of this material is made.

    >>> process_of("petg"), process_of("resin"), process_of("aluminium")
    ('filament', 'resin', 'cut')
    """
    if material in _METALS:
        return "cut"
    return "resin" if material in _RESINS else "filament"


def usual_settings(
    material: str, usual: Mapping[str, Sourced]
) -> tuple[Process, Figure | None, Figure | None, Figure | None]:
    """How a mold of this material is usually made, its wall lines, infill and layer height; None: none."""
    process = process_of(material)
    if process == "cut":
        return process, None, None, None
    if process == "resin":
        return process, None, None, _chosen(None, usual["layer_resin"])
    walls, infill, layer = (_chosen(None, usual[name]) for name in ("walls", "infill", "layer"))
    return process, walls, infill, layer


def settings(
    spec: MoldSpec,
    measurement: Measurement,
    material: MoldMaterial,
    usual: Mapping[str, Sourced],
    most_overhang_mm2: float,
) -> PrintAdvice:
    """Settings and needs of all printed parts together; the maker's own settings stand for the usual ones."""
    process = process_of(spec.mold_material)
    parts = [part for part in measurement.parts if part.role != "bait"]
    hanging = max((part.overhang_mm2 or 0.0 for part in parts), default=0.0)
    overhang = _figure((hanging,) * 3, "mm2", "overhang") if hanging > most_overhang_mm2 else None
    if process == "cut":
        return PrintAdvice(
            process=process, walls=None, infill=None, layer=None, overhang=None, used_ml=None, used_g=None,
            length_m=None, time=None, time_word="",
        )  # fmt: skip
    own = spec.maker.printed
    layer = _chosen(own.layer_mm, usual["layer_resin" if process == "resin" else "layer"])
    if process == "resin":
        used = _resin_ml(parts, usual["resin_waste"])
        hours = _over(_same(max(part.height_mm for part in parts)), usual["resin_mm_h"])
        walls = infill = length = None
    else:
        walls, infill = _chosen(own.walls, usual["walls"]), _chosen(own.infill_share, usual["infill"])
        used = used_ml(parts, walls, infill, usual["line"])
        hours = _over(used, usual["rate_ml_h"])
        length = _figure(_filament_m(used, usual["filament"]), "m", "length")
    density = material.values["density"]
    grams = tuple(ml * g for ml, g in zip(used, (density.value, density.low, density.high), strict=True))
    return PrintAdvice(
        process=process,
        walls=walls,
        infill=infill,
        layer=layer,
        overhang=overhang,
        used_ml=_figure(used, "ml", "used"),
        used_g=_figure((grams[0], grams[1], grams[2]), "g", "used"),
        length_m=length,
        time=_figure(
            (hours[0] * SECONDS_PER_H, hours[1] * SECONDS_PER_H, hours[2] * SECONDS_PER_H), "s", "time"
        ),
        time_word=next((word for most, word in TIMES if hours[0] <= most), "days"),
    )


def used_ml(parts: list[PartMeasure], walls: Figure, infill: Figure, line: Sourced) -> Triple:
    """Filament in mL for these parts: best guess, least, most.

    A cube of 20 mm (8 mL, 24 cm2) with 2 lines of 0.5 mm and half filled: 2.4 mL of shell, half of the rest.
    """

    def total(lines: float, width_mm: float, share: float) -> float:
        shells = [min(part.volume_ml, part.area_mm2 * lines * width_mm / MM3_PER_ML) for part in parts]
        return sum(s + share * (part.volume_ml - s) for s, part in zip(shells, parts, strict=True))

    return (
        total(walls.value, line.value, infill.value),
        total(walls.low, line.low, infill.low),
        total(walls.high, line.high, infill.high),
    )


def cost(grams: Figure, price_per_kg: float) -> Triple:
    """Cost of an amount of material: best guess, least, most, in the currency of the price."""
    return (
        grams.value * price_per_kg / 1000,
        grams.low * price_per_kg / 1000,
        grams.high * price_per_kg / 1000,
    )


def _chosen(own: float | None, usual: Sourced) -> Figure:
    if own is not None:
        return figures.declared(own, usual.unit)
    return Figure(
        value=usual.value,
        low=usual.low,
        high=usual.high,
        unit=usual.unit,
        because=f"{_BECAUSE}.usual",
        origin="common practice",
    )


def _resin_ml(parts: list[PartMeasure], waste: Sourced) -> Triple:
    solid = sum(part.volume_ml for part in parts)
    return solid * (1 + waste.value), solid * (1 + waste.low), solid * (1 + waste.high)


def _filament_m(used: Triple, filament: Sourced) -> Triple:
    """Length of a volume of filament: volume over cross-section; 1 mL over 1 mm2 is 1 m."""

    def area_mm2(diameter_mm: float) -> float:
        return math.pi / 4 * diameter_mm**2

    value, low, high = used
    return value / area_mm2(filament.value), low / area_mm2(filament.high), high / area_mm2(filament.low)


def _over(amount: Triple, rate: Sourced) -> Triple:
    return amount[0] / rate.value, amount[1] / rate.high, amount[2] / rate.low


def _same(value: float) -> Triple:
    return value, value, value


def _figure(triple: Triple, unit: Literal["ml", "g", "m", "s", "mm2"], because: str) -> Figure:
    value, low, high = triple
    return Figure(
        value=value, low=low, high=high, unit=unit, because=f"{_BECAUSE}.{because}", origin="computed"
    )
