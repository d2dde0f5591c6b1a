"""A plastisol's viscosity and set temperature from what a flow ladder shows, by the physics of `creep`.

Everything that the lengths depend on is drawn from its range, and each draw is weighted by how well it
tells the readings. The draws move to where the weight is in steps of rising sharpness (population Monte
Carlo: Cappé and others, J. Comput. Graph. Stat. 13, 907, 2004). Their stream is fixed: one answer.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import log_ndtr, ndtr

from builder.advice import ladder_log, samples
from builder.advice.ladder_log import Logged
from builder.advice.samples import Pair
from builder.base import figures
from builder.model import Figure, LadderFit, LadderReadings, LadderShot, Sourced, Tables, Unit
from builder.physics import creep, flow
from builder.physics.heat import Array, Medium

READ_MM = 1.0
"""Standard error of a reading: a tip is round, and shrinks while it cools."""
MODEL_SHARE = 0.03
"""A channel may fill so much farther or less far than the model has it."""
THERMOMETER_K, MOLD_K, HEAD_MM, GAP_MM, CUP_K = 1.5, 1.5, 2.0, 0.05, 4.0
"""Standard errors: thermometer in the well and on the mold, the fill mark, all gaps together as printed,
and the temperature at which plastic seems to stop in the cup."""
WRONG = 0.02
"""One reading in fifty is wrong altogether: another channel, a bubble, a slip of the pen."""
_CONSTANTS = (
    *("viscosity", "set", "exponent", "conductivity", "heat_capacity", "density"),
    *("mold_conductivity", "mold_heat_capacity", "mold_density"),
)
_DRAWS, _STAGES, _SPREAD = 12000, 12, 1.1
_ENOUGH = 0.1
"""A step is so sharp that this share of the draws still counts."""
_NOTHING = 1e-4
"""A draw of less than this share of the best one's weight adds nothing."""
_TRIANGLE = 0.684
"""Width of the middle 90 % of a symmetric triangular distribution over its whole width."""
_GRAVITY = 9.81
_NAMES = ("viscosity", "set")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Draws:
    """Draws in standard normal coordinates, (draws, coordinates), with log weights and predicted lengths."""

    at: Array
    weight: Array
    constants: Mapping[str, Array]
    reached_mm: Array
    """(draws, shots, channels)"""


def fit(readings: LadderReadings, tables: Tables, logged: Sequence[Logged] = ()) -> LadderFit:
    """Viscosity and set temperature with their 90 % ranges, from the table's ranges and the readings.

    Shots of this plastisol in the logs of `logged` molds count as well.
    """
    plastisol = next(one for one in tables.plastisols if one.id == readings.like)
    mold = next(one for one in tables.mold_materials if one.id == readings.mold_material)
    pair = Pair(plastisol=plastisol, mold=mold)
    found, shots = _with_log(_settled(readings, pair), readings, tables, logged)
    viscosity, set_c = (_figure(found, name, plastisol.values[name]) for name in _NAMES)
    before = {name: _before(name, plastisol.values[name]) for name in _NAMES}
    return LadderFit(
        viscosity=viscosity,
        set_c=set_c,
        before=before,
        narrower={
            "viscosity": _ratio(before["viscosity"]) / _ratio(viscosity),
            "set": _width(before["set"]) / _width(set_c),
        },
        at_shot=tuple((shot.well_c, _at_shot(found, shot)) for shot in readings.shots),
        expected_mm=tuple(
            tuple(_ranged(found.reached_mm[:, shot, rung], found.weight, "mm") for rung in range(count))
            for shot, count in enumerate(len(one.reached_mm) for one in readings.shots)
        ),
        values=_values(viscosity, set_c, plastisol.values),
        logged=shots,
    )


def _with_log(
    found: _Draws, readings: LadderReadings, tables: Tables, logged: Sequence[Logged]
) -> tuple[_Draws, int]:
    """The draws weighted by logged shots too, those of no weight left out; and how many shots that are."""
    if not logged:
        return found, 0
    kept = found.weight > _NOTHING * found.weight.max()
    constants = {name: values[kept] for name, values in found.constants.items()}
    logs, shots = ladder_log.log_weights(constants, readings, tables, logged)
    weight = _normal(np.log(found.weight[kept]) + logs)
    return _Draws(
        at=found.at[kept], weight=weight, constants=constants, reached_mm=found.reached_mm[kept]
    ), shots


def reached_mm(
    constants: Mapping[str, Array], readings: LadderReadings, errors: Mapping[str, Array]
) -> Array:
    """How far each channel fills, (draws, shots, channels): the one seam to the physics of flow.

    `errors` are the instruments': "gap" (mm), "common" (share), and by shot "well", "mold" (K), "head" (mm).
    """
    ladder = readings.ladder
    gaps = np.array(ladder.gaps_mm) + errors["gap"][:, None]
    narrow = np.sqrt(creep.beside_walls(gaps, ladder.width_mm))
    inside, wall = samples.inside(constants), samples.wall(constants)
    filled = []
    for index, shot in enumerate(readings.shots):
        well_c = shot.well_c + errors["well"][:, index]
        mold_c = shot.mold_c + errors["mold"][:, index]
        hot = flow.hot_density(constants["density"] * 1e3, constants["expansion"], well_c - 20.0)
        level_mm = ladder.head_mm - _drop_mm(readings, shot) + errors["head"][:, index]
        pressure = hot[:, None] * _GRAVITY * (level_mm[:, None] + gaps / 2) * 1e-3
        viscosity = flow.viscosity_pa_s(
            well_c, constants["viscosity"], constants["set"], constants["exponent"]
        )
        length = creep.reach_mm(
            gaps,
            pressure_pa=pressure,
            viscosity=viscosity[:, None],
            inside=_column(inside),
            wall=_column(wall),
            share=((constants["set"] - mold_c) / (well_c - mold_c))[:, None],
            exponent=constants["exponent"][:, None],
        )
        filled.append(length * narrow * np.exp(errors["common"])[:, None])
    return np.stack(filled, axis=1)


def _drop_mm(readings: LadderReadings, shot: LadderShot) -> float:
    """Half of what the level sinks while the channels fill."""
    ladder = readings.ladder
    filled = sum(
        gap * min(mm, ladder.length_mm) for gap, mm in zip(ladder.gaps_mm, shot.reached_mm, strict=True)
    )
    return filled * ladder.width_mm / (np.pi * ladder.well_mm**2 / 4) / 2


def _column(medium: Medium) -> Medium:
    """The medium of each draw, beside a row of channels."""
    names = ("conductivity_w_mk", "density_kg_m3", "heat_capacity_j_kgk")
    return Medium(**{name: np.asarray(getattr(medium, name))[:, None] for name in names})


def _settled(readings: LadderReadings, pair: Pair) -> _Draws:
    """Draws that have settled where the readings put them."""
    stream = np.random.RandomState(7)  # its stream is frozen (NEP 19)
    size = len(_CONSTANTS) + 2 + 3 * len(readings.shots)
    middle, spread, sharpness = np.zeros(size), np.eye(size), 0.0
    for stage in range(_STAGES):
        root = np.linalg.cholesky(spread * (_SPREAD**2 if stage else 1.0))
        free = stream.standard_normal((_DRAWS, size))
        at = middle + free @ root.T
        drawn = _told(at, readings, pair)
        back = (free**2).sum(axis=1) / 2 + float(np.log(np.diag(root)).sum())
        prior = back - (at**2).sum(axis=1) / 2
        sharpness = _sharper(prior, drawn.weight, sharpness) if stage < _STAGES - 1 else 1.0
        weight = _normal(prior + sharpness * drawn.weight)
        if sharpness >= 1.0 and stage >= 2:
            return replace(drawn, weight=weight)
        middle = weight @ at
        spread = np.cov(at.T, aweights=weight) + 1e-6 * np.eye(size)
    raise AssertionError("the last stage returns")


def _sharper(prior: Array, told: Array, least: float) -> float:
    """The sharpest power of the likelihood with which enough draws still count, at least `least`."""
    for power in np.linspace(1.0, 0.0, 101):
        weight = _normal(prior + power * told)
        if 1 / (weight**2).sum() >= _ENOUGH * len(weight):
            return float(max(power, least))
    return least


def _normal(logs: Array) -> Array:
    weight = np.exp(logs - logs.max())
    return np.asarray(weight / weight.sum())


def _told(at: Array, readings: LadderReadings, pair: Pair) -> _Draws:
    """What draws predict, and the log of how well that tells the readings (not normalized)."""
    shots = len(readings.shots)
    even = ndtr(np.clip(at[:, : len(_CONSTANTS)], -6.0, 6.0))
    constants = {
        name: samples.spread(samples.known(pair, {}, name), even[:, column], name == "viscosity")
        for column, name in enumerate(_CONSTANTS)
    }
    constants["expansion"] = np.full(len(at), pair.plastisol.values["expansion"].value)
    rest = at[:, len(_CONSTANTS) :]
    by_shot = rest[:, 2:].reshape(len(at), 3, shots)
    errors = {
        "gap": rest[:, 0] * GAP_MM,
        "common": rest[:, 1] * MODEL_SHARE,
        "well": by_shot[:, 0] * THERMOMETER_K,
        "mold": by_shot[:, 1] * MOLD_K,
        "head": by_shot[:, 2] * HEAD_MM,
    }
    length = reached_mm(constants, readings, errors)
    read = np.array([shot.reached_mm for shot in readings.shots])
    most = readings.ladder.length_mm
    deviation = np.hypot(READ_MM, MODEL_SHARE * length)
    miss = (read - length) / deviation
    near = np.log(1 - WRONG) - miss**2 / 2 - np.log(deviation * np.sqrt(2 * np.pi))
    told = np.where(
        read >= most, log_ndtr((length - most) / deviation), np.logaddexp(near, np.log(WRONG / most))
    )
    weight = told.sum(axis=(1, 2))
    if readings.stopped_c is not None:
        weight = weight - ((readings.stopped_c - constants["set"]) / CUP_K) ** 2 / 2
    return _Draws(at=at, weight=weight, constants=constants, reached_mm=np.minimum(length, most))


def _ranged(values: Array, weight: Array, unit: Unit) -> Figure:
    return samples.weighted(values, weight, unit, "advice.because.ladder")


def _figure(found: _Draws, name: str, table: Sourced) -> Figure:
    return _ranged(found.constants[name], found.weight, table.unit)


def _at_shot(found: _Draws, shot: LadderShot) -> Figure:
    known = found.constants
    at = flow.viscosity_pa_s(shot.well_c, known["viscosity"], known["set"], known["exponent"])
    return _ranged(np.minimum(at, 1e6), found.weight, "pa_s")


def _before(name: str, table: Sourced) -> Figure:
    """The table's value as it is drawn: the middle of its distribution, and its 90 % range."""
    even = (np.arange(2000) + 0.5) / 2000
    drawn = samples.spread(table, even, name == "viscosity")
    low, middle, high = (float(x) for x in np.percentile(drawn, [5, 50, 95]))
    return replace(figures.of_table(table), value=middle, low=low, high=high)


def _ratio(figure: Figure) -> float:
    return float(np.log(figure.high / figure.low))


def _width(figure: Figure) -> float:
    return figure.high - figure.low


def _values(viscosity: Figure, set_c: Figure, table: Mapping[str, Sourced]) -> dict[str, Sourced]:
    """The values for the plastisol's file, within what such a file may hold."""
    set_high = min(set_c.value + (set_c.high - set_c.value) / _TRIANGLE, table["shoot"].low - 1)
    set_low = set_c.value - (set_c.value - set_c.low) / _TRIANGLE
    thick, thin = (
        float(np.exp(np.log(end / viscosity.value) / _TRIANGLE)) for end in (viscosity.high, viscosity.low)
    )
    found = {
        "viscosity": _own(
            table["viscosity"], viscosity.value, viscosity.value * thin, viscosity.value * thick, 3
        ),
        "set": _own(table["set"], set_c.value, set_low, max(set_high, set_c.value), 1),
    }
    demold = table["demold"]
    lower = demold.value - (found["set"].value - 2.0)
    if lower > 0:
        moved = (demold.value - lower, demold.low - lower, demold.high - lower)
        found["demold"] = _own(demold, *moved, 1)
    return found


def _own(table: Sourced, value: float, low: float, high: float, digits: int) -> Sourced:
    value, low, high = (round(x, digits) for x in (value, low, high))
    return replace(
        table, value=value, low=min(low, value), high=max(high, value), source="ladder", grade="measured"
    )
