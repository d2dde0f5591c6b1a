"""The flow paths of a mold as the fill computation needs them, and the sections that decide."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from builder.advice import samples
from builder.advice.samples import Constants
from builder.model import Bait, FlowPath, Measurement, Stands, Station, Vec3
from builder.physics import flow
from builder.physics.heat import Array, Numbers
from builder.physics.sections import Sections, sections

_KEPT, _NEAR = 12, 3.0
"""At most so many sections decide; those within this factor of the lowest margin are asked."""
_STEPS_K = np.array([3.0, 6.0, 10.0, 15.0, 22.0, 31.0, 43.0, 58.0, 78.0, 105.0])
"""Temperatures over the set temperature at which the margin is looked up."""
TIP_SHARE = 0.001
"""A tip that holds less of its bait than this may stay short (our own choice): a film, a hair."""
NEVER_C = 240.0
"""Fill limit of a sample that no temperature fills: far beyond every limit, and never shown."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """A flow path with its sections."""

    path: FlowPath
    sections: Sections
    rows: flow.Rows
    otherwise: dict[Stands, Way] = field(default_factory=dict, compare=False, repr=False)
    """The same path where the mold stands otherwise; kept, since every pair of materials asks."""
    resized: dict[int, flow.Rows] = field(default_factory=dict, compare=False, repr=False)
    """By section, the rows of the place around it in every thickness that is tried; kept as well."""


def upward(measurement: Measurement, stands: Stands) -> Vec3 | None:
    """Which way is up in the closed mold's frame; None for a mold that is poured open."""
    if measurement.sprue is None or measurement.kind != "injection":
        return None
    if stands == "flat":
        return (0.0, 0.0, 1.0)
    x, y, z = measurement.sprue.direction
    return (-x, -y, -z) if stands == "sprue_up" else (x, y, z)


def flow_paths(measurement: Measurement, stands: Stands) -> tuple[Way, ...]:
    """Every path of every bait that has at least two stations, as the mold stands."""
    found = [_way(measurement, bait, path, stands) for bait in measurement.baits for path in bait.paths]
    return tuple(way for way in found if way is not None)


def turned(measurement: Measurement, way: Way, stands: Stands) -> Way:
    """The same path where the mold stands otherwise."""
    if stands not in way.otherwise:
        bait = next(bait for bait in measurement.baits if bait.name == way.path.bait)
        way.otherwise[stands] = _way(measurement, bait, way.path, stands) or way
    return way.otherwise[stands]


def _way(measurement: Measurement, bait: Bait, path: FlowPath, stands: Stands) -> Way | None:
    stations = _that_matter(path, bait.volume_ml)
    if len(stations) < 2:
        return None
    total, up = sum(one.volume_ml for one in measurement.baits), upward(measurement, stands)
    cut = sections(stations, path.gate_index, bait.volume_ml, total, up=up)
    return Way(path=path, sections=cut, rows=flow.rows(cut))


def _that_matter(path: FlowPath, bait_ml: float) -> tuple[Station, ...]:
    """The sections that have more beyond them than a small tip; the gate is always one of them."""
    wanted = [station.beyond_ml > TIP_SHARE * bait_ml for station in path.stations]
    return path.stations[: max(sum(wanted), path.gate_index + 1)]


def shot(constants: Constants, shot_c: Numbers, **instead: Numbers) -> flow.Shot:
    """A shot at `shot_c` in the cup, with the constants; `instead` replaces some of them.

    Constants get one more axis at their end for each axis that `shot_c` has beyond theirs.
    """
    extra = np.ndim(shot_c) - next(iter(constants.values())).ndim
    known = {name: values.reshape(values.shape + (1,) * max(extra, 0)) for name, values in constants.items()}
    known |= {name: np.asarray(value) for name, value in instead.items()}
    at_sprue = shot_c - known["on_the_way"]
    return flow.Shot(
        inside=samples.inside(known),
        wall=samples.wall(known),
        shot_c=at_sprue,
        mold_c=known["room"],
        set_c=known["set"],
        viscosity_pa_s=flow.viscosity_pa_s(at_sprue, known["viscosity"], known["set"], known["exponent"]),
        injection_ml_s=known["injection"],
        pressure_mpa=known["pressure"],
        later=known["later"],
        cling=known["cling"],
    )


def worst_first(found: Sequence[Way], constants: Constants) -> tuple[Way, ...]:
    """The paths by their lowest margin at 160 °C."""
    hot = shot(constants, np.full_like(constants["room"], flow.REFERENCE_C))
    return tuple(sorted(found, key=lambda way: float(flow.fill_margins(way.rows, hot).min())))


def deciding(found: Sequence[Way], constants: Constants) -> flow.Rows:
    """The sections that can decide whether this mold fills, without near copies from like cavities."""
    everything = flow.joined([way.rows for way in found])
    margins = flow.fill_margins(everything, shot(constants, np.full((1, 1), flow.REFERENCE_C)))
    nearness = (margins / margins.min(axis=-1, keepdims=True)).min(axis=tuple(range(margins.ndim - 1)))
    order = [int(i) for i in np.argsort(nearness) if nearness[i] <= _NEAR]
    fields = np.stack([everything.thickness_mm, everything.needs_ml, everything.stays + everything.skins])
    kept: list[int] = []
    for index in order:
        alike = np.abs(np.log(fields[:, kept] / fields[:, [index]])) < 0.03
        if not alike.all(axis=0).any() and len(kept) < _KEPT:
            kept.append(index)
    return everything.pick(np.array(kept))


def fill_limit_c(rows: flow.Rows, constants: Constants, **instead: Numbers) -> Array:
    """Lowest temperature in the cup at which every section's margin is 1, of the constants' shape."""
    known = {**constants, **{name: np.asarray(value) for name, value in instead.items()}}
    base = np.broadcast_arrays(*known.values())[0].shape
    wide = {name: np.broadcast_to(values, base) for name, values in known.items()}
    steps = _STEPS_K.reshape((1,) * len(base) + (-1,))
    cup_c = wide["set"][..., None] + wide["on_the_way"][..., None] + steps
    lowest = np.log(np.maximum(flow.fill_margins(rows, shot(wide, cup_c)).min(axis=-1), 1e-12))
    rising = np.maximum.accumulate(lowest, axis=-1)
    return _first_above_zero(cup_c, rising)


def _first_above_zero(places: Array, rising: Array) -> Array:
    """Where each rising row becomes positive, interpolated; the first place or NEVER_C outside."""
    index = np.clip((rising < 0).sum(axis=-1), 1, rising.shape[-1] - 1)
    x0, x1, y0, y1 = (
        np.take_along_axis(rows, i[..., None], -1)[..., 0]
        for rows in (places, rising)
        for i in (index - 1, index)
    )
    between = x0 + np.clip(-y0 / np.maximum(y1 - y0, 1e-12), 0.0, 1.0) * (x1 - x0)
    return np.where(rising[..., -1] < 0, NEVER_C, np.minimum(between, NEVER_C))
