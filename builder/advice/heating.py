"""The mold's side of the window: how hot its wall stands, how long to hold, to cool, to rest."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from builder.advice import samples
from builder.advice.samples import Constants
from builder.model import Measurement, Sourced
from builder.physics import cycle
from builder.physics.conduction import Layers, flatness, set_fourier, set_time_s
from builder.physics.heat import Array, Medium

TYPICAL_C = 165.0
"""Shot temperature at which the closed time is taken for the mold's limit; it hardly moves it."""
HARD_C = 400.0
"""Limit shown for a mold that no shot softens."""
SHOTS = 10
_THERMAL = 7
"""Every seventh sample gets its own solution of the wall; its neighbours share it."""
_RESTS_S = np.array([0.0, 60.0, 120.0, 180.0, 270.0, 420.0, 600.0, 900.0, 1350.0, 2100.0, 3600.0])


THINNEST_WALL_MM = 0.1
"""A cavity that breaks through to the outside is reckoned with so much wall: it softens at once."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """The thickest place of a bait, and the wall behind it."""

    thickness_mm: float
    flatness: float
    wall_mm: float


def body(measurement: Measurement, practice: Mapping[str, Sourced]) -> Body:
    """Thickest section of any path; else the smaller side of the largest bait, taken as round."""
    stations = [s for b in measurement.baits for p in b.paths for s in p.stations[p.gate_index :]]
    walls = [wall.thickness_mm for wall in measurement.walls if wall.kind in ("back", "outside")]
    wall = max(min(walls, default=practice["wall"].value), THINNEST_WALL_MM)
    if stations:
        thick = max(stations, key=lambda s: s.thickness_mm)
        flat = float(flatness(thick.area_mm2, thick.perimeter_mm, thick.thickness_mm))
        return Body(thickness_mm=thick.thickness_mm, flatness=flat, wall_mm=wall)
    bait = max(measurement.baits, key=lambda b: b.volume_ml)
    return Body(thickness_mm=min(bait.height_mm, bait.width_mm), flatness=0.0, wall_mm=wall)


def equivalent_half_mm(thick: Body, inside: Medium, wall: Medium) -> Array:
    """Radius of the round section that sets as late as the body's."""
    share = np.asarray(0.6)
    seconds = set_time_s(thick.thickness_mm, thick.flatness, inside, wall, share)
    return np.asarray(1e3 * np.sqrt(seconds * inside.diffusivity / set_fourier("round", inside, wall, share)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Heating:
    """The wall of every pair, solved for every seventh sample; arrays of shape (pairs, solutions)."""

    case: cycle.Mold
    constants: Constants
    """All samples, (pairs, samples)."""
    some: dict[str, Array]
    """The samples that were solved."""


def heating(thick: Body, constants: Constants) -> Heating:
    """Solve the walls of all pairs."""
    some = {name: values[:, ::_THERMAL] for name, values in constants.items()}
    inside, wall = samples.inside(some), samples.wall(some)
    half = equivalent_half_mm(thick, inside, wall)
    case = cycle.mold(inside, wall, half, np.full_like(half, thick.wall_mm), some["air_film"])
    return Heating(case=case, constants=constants, some=some)


def only(hot: Heating, index: int) -> Heating:
    """The heating of one pair."""
    one = slice(index, index + 1)
    closed, bare = (_sliced(x, one) for x in (hot.case.closed, hot.case.bare))
    return Heating(
        case=cycle.Mold(closed=closed, bare=bare, depth=hot.case.depth[one]),
        constants={name: values[one] for name, values in hot.constants.items()},
        some={name: values[one] for name, values in hot.some.items()},
    )


def _sliced(cut: Layers, one: slice) -> Layers:
    return Layers(
        centres_m=cut.centres_m[one],
        sizes_m=cut.sizes_m[one],
        capacity=cut.capacity[one],
        inner=cut.inner,
        rates=cut.rates[one],
        modes=cut.modes[one],
    )


def cool_s(hot: Heating, shot_c: Array) -> Array:
    """Seconds in the closed mold until the bait's middle keeps its shape, (pairs, solutions)."""
    room = hot.some["room"]
    share = (hot.some["demold"] - room) / (shot_c - room)
    return cycle.cooling_s(hot.case, share) * hot.some["later"]


def mold_limit_c(hot: Heating) -> Array:
    """Shot temperature at which the first shot softens as much of the wall as may be, (pairs, samples)."""
    peak, _ = cycle.shoot_again(hot.case, cool_s(hot, np.full_like(hot.some["room"], TYPICAL_C)))
    constants = hot.constants
    owner = np.arange(constants["room"].shape[1]) // _THERMAL
    case = cycle.Mold(closed=hot.case.closed, bare=hot.case.bare, depth=hot.case.depth[:, owner])
    reached = cycle.peak_at(case, peak[:, owner], constants["soft_share"])
    limit = constants["room"] + (constants["mold_deflection"] - constants["room"]) / np.maximum(reached, 1e-6)
    return np.minimum(limit, HARD_C)


def softened(
    hot: Heating, shot_c: Array, rest_s: Array | float, shots: int, closed_s: Array | None = None
) -> Array:
    """Share of the wall that softens in the last of so many shots, (pairs, solutions)."""
    closed_s = cool_s(hot, shot_c) if closed_s is None else closed_s
    peak, _ = cycle.shoot_again(hot.case, closed_s, rest_s, shots)
    room = hot.some["room"]
    return cycle.soft_share(hot.case, peak, (hot.some["mold_deflection"] - room) / (shot_c - room))


def rest_s(hot: Heating, shot_c: Array, shots: int = SHOTS) -> Array:
    """Shortest rest after which so many shots soften no more than may be, (pairs, solutions)."""
    allowed, closed_s = hot.some["soft_share"], cool_s(hot, shot_c)
    shares = np.stack([softened(hot, shot_c, rest, shots, closed_s) for rest in _RESTS_S], axis=-1)
    falling = np.minimum.accumulate(shares, axis=-1)
    index = np.clip((falling > allowed[..., None]).sum(axis=-1), 0, len(_RESTS_S) - 1)
    before = np.maximum(index - 1, 0)
    high, low = (np.take_along_axis(falling, i[..., None], -1)[..., 0] for i in (before, index))
    part = np.clip((high - allowed) / np.maximum(high - low, 1e-9), 0.0, 1.0)
    return np.where(index == 0, 0.0, _RESTS_S[before] + part * (_RESTS_S[index] - _RESTS_S[before]))
