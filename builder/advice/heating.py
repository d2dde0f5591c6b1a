"""How the mold heats up: temperature of its wall, and times to hold, to open and to rest."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from builder.advice import samples
from builder.advice.samples import Constants
from builder.model import Measurement, Sourced
from builder.physics import cycle
from builder.physics.conduction import Layers, flatness, set_fourier, set_time_s
from builder.physics.heat import Array, Medium, Shape

TYPICAL_C = 165.0
"""Shot temperature at which the closed time is taken for the mold's limit; it hardly moves it."""
SHOTS = 10
SHOWN = (1, 2, 3, 5, SHOTS)
"""Shots whose times are told, beside that of every later one."""
RESOLUTION_S = 60.0
"""Rests are looked up so far apart; a shorter one is none."""
HELD_S = 30.0
"""The halves are pressed apart while one presses: about so long (common practice, no source)."""
_THERMAL = 7
"""Every seventh sample gets its own solution of the wall; its neighbours share it."""
STEP_S = 30.0
"""Advised rests are rounded up to it."""
RESTS_S = np.array([0.0, 60.0, 120.0, 180.0, 270.0, 420.0, 600.0, 900.0, 1350.0, 2100.0, 3600.0])
"""Rests that are tried. The last is never a value: where it is too short, no rest is advised."""

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
    flat: Array
    """How many times hotter the wall gets behind the body's flat side than behind the round section."""


def heating(thick: Body, constants: Constants) -> Heating:
    """Solve the walls of all pairs."""
    some = {name: values[:, ::_THERMAL] for name, values in constants.items()}
    inside, wall = samples.inside(some), samples.wall(some)
    half = equivalent_half_mm(thick, inside, wall)
    case = cycle.mold(inside, wall, half, np.full_like(half, thick.wall_mm), some["air_film"])
    made = Heating(case=case, constants=constants, some=some, flat=np.ones_like(half))
    return replace(made, flat=_flat_side(thick, made))


def _flat_side(thick: Body, hot: Heating) -> Array:
    """Rise of the wall behind the body over that behind the round section, in a first shot, at least 1.

    Behind the middle of a flat side heat runs straight into the wall; round a rod it spreads.
    By its flatness the body lies between the two: within 3–9 % above sections of ellipses that were solved in
    two dimensions (the tests hold one), so the wall is never taken to be cooler than it gets.
    """
    if thick.flatness <= 0:
        return np.ones_like(hot.flat)
    some = hot.some
    beat = rhythm(hot, np.full_like(some["room"], TYPICAL_C))
    half = np.full_like(hot.flat, thick.thickness_mm / 2)
    depth = np.full_like(half, thick.wall_mm)
    peaks = [
        cycle.peak_at(case, cycle.first_peaks(case, beat.first_s * beat.later), some["soft_share"])
        for case in (_shaped(hot, half, depth, "plane"), _shaped(hot, half, depth, "round"))
    ]
    between = thick.flatness * peaks[0] + (1 - thick.flatness) * peaks[1]
    own = cycle.peaks(beat, cycle.cold(beat), beat.first_s * beat.later)
    return np.maximum(between / cycle.peak_at(hot.case, own, some["soft_share"]), 1.0)


def _shaped(hot: Heating, half_mm: Array, wall_mm: Array, shape: Shape) -> cycle.Mold:
    """The same materials in another shape."""
    inside, wall = samples.inside(hot.some), samples.wall(hot.some)
    return cycle.mold(inside, wall, half_mm, wall_mm, hot.some["air_film"], shape=shape)


def only(hot: Heating, index: int) -> Heating:
    """The heating of one pair."""
    one = slice(index, index + 1)
    closed, bare = (_sliced(x, one) for x in (hot.case.closed, hot.case.bare))
    return Heating(
        case=cycle.Mold(closed=closed, bare=bare, depth=hot.case.depth[one]),
        constants={name: values[one] for name, values in hot.constants.items()},
        some={name: values[one] for name, values in hot.some.items()},
        flat=hot.flat[one],
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


def rhythm(hot: Heating, shot_c: Array) -> cycle.Rhythm:
    """Shots at a temperature, opened when the bait keeps its shape; a bait that still flows keeps none."""
    room = hot.some["room"]
    demold = np.minimum(hot.some["demold"], hot.some["set"])
    return cycle.rhythm(hot.case, (demold - room) / (shot_c - room), hot.some["later"])


def first_open_s(hot: Heating, shot_c: Array) -> Array:
    """Seconds in the closed mold until the bait of a first shot keeps its shape, (pairs, solutions)."""
    beat = rhythm(hot, shot_c)
    return np.asarray(beat.first_s * beat.later)


@dataclass(frozen=True, slots=True, kw_only=True)
class Times:
    """Times of all pairs by the shot's number: one row for each of SHOWN, the last for every later shot.

    Arrays of shape (rows, pairs, solutions).
    """

    open_s: Array
    """With the rests that are advised."""
    hurried_s: Array
    """Without a rest."""
    cold_s: Array
    """Cold all through, with the rests that are advised."""
    rest_s: Array
    """Rest after the shot, so that the next softens no more than may be; infinite where none does."""
    hopeless: NDArray[np.bool_]
    """Where already the first shot softens more, (pairs, solutions)."""
    first: Array
    row: Array
    """Share of the wall that softens in the first shot, and in the last of SHOTS without a rest."""
    first_held: Array
    row_held: Array
    """The same within HELD_S, while one presses."""


def times(hot: Heating, shot_c: Array) -> Times:
    """Shoot every pair at its temperature again and again, with the rests that are advised and without."""
    beat, room = rhythm(hot, shot_c), hot.some["room"]
    soft = _softens_at(hot, shot_c)
    limit = cycle.guard(beat, hot.some["soft_share"], soft)
    hurried, walls = cycle.row(beat, SHOTS)
    always, always_wall = cycle.steady(beat, hurried[-1])
    rests = cycle.rests_needed_s(beat, limit, RESTS_S, SHOTS, always_wall)
    advised = advised_s(rests)[..., None]
    opened, before = cycle.row(beat, SHOTS, advised[:-1])
    later, later_wall = cycle.steady(beat, opened[-1], advised[-1] + np.zeros_like(room))
    told = [number - 1 for number in SHOWN] + [SHOTS]
    in_a_row = np.maximum.accumulate(np.concatenate([hurried, always[None]]))
    unrested = _unrested(advised)
    all_walls = np.concatenate([before, later_wall[None]])[told]
    shots = ((walls[0], hurried[0]), (walls[-1], hurried[-1]))
    first, last = (cycle.soft_share(hot.case, cycle.peaks(beat, *each), soft) for each in shots)
    held = [cycle.soft_share(hot.case, cycle.peaks_within(beat, wall, HELD_S), soft) for wall, _ in shots]
    cold = cycle.waited_s(beat, all_walls, (hot.some["cold"] - room) / (shot_c - room))
    return Times(
        open_s=np.where(unrested, in_a_row, np.concatenate([opened, later[None]]))[told],
        hurried_s=in_a_row[told],
        cold_s=np.where(unrested[told], np.maximum(np.maximum.accumulate(cold), in_a_row[told]), cold),
        rest_s=rests[told],
        hopeless=cycle.is_too_hot_when_cold(limit),
        first=first,
        row=last,
        first_held=held[0],
        row_held=held[1],
    )


def _unrested(advised: Array) -> NDArray[np.bool_]:
    """Which shots come after no rest at all, from the rests after each; the last row for all later shots.

    Their times never fall: the wall only warms, and the judge of these times finds the same. `later` keeps
    the mold closed a little longer than the bait needs. Where a thin wall is slower than the bait, it cools
    for that while, and the next shots would seem to take some percent less.
    """
    before = np.concatenate([np.zeros_like(advised[:1]), advised[:-1]])
    before[-1] += advised[-1]
    return np.asarray(np.cumsum(before, axis=0) == 0)


def advised_s(rests: Array) -> Array:
    """The rest that is advised, from samples along the last axis: the middle one, on to the next half minute.

    0 where it is shorter than rests are told apart, and where with most samples none helps.
    """
    ordered = np.sort(rests, axis=-1)
    middle = ordered[..., rests.shape[-1] // 2]
    told = np.isfinite(middle) & (middle >= RESOLUTION_S)
    return np.where(told, STEP_S * np.ceil(np.where(told, middle, 0.0) / STEP_S), 0.0)


def mold_limit_c(hot: Heating) -> Array:
    """Shot temperature at which the first shot softens as much of the wall as may be, (pairs, samples)."""
    beat = rhythm(hot, np.full_like(hot.some["room"], TYPICAL_C))
    peak = cycle.peaks(beat, cycle.cold(beat), beat.first_s * beat.later)
    constants = hot.constants
    owner = np.arange(constants["room"].shape[1]) // _THERMAL
    case = cycle.Mold(closed=hot.case.closed, bare=hot.case.bare, depth=hot.case.depth[:, owner])
    reached = cycle.peak_at(case, peak[:, owner], constants["soft_share"]) * hot.flat[:, owner]
    room = constants["room"]
    return np.asarray(room + (constants["mold_deflection"] - room) / np.maximum(reached, 1e-6))


def lost_share(hot: Heating, index: int, seconds: Array) -> Array:
    """Share of its heat that the body of one pair has lost after so long in a first shot, (samples,)."""
    owner = np.arange(len(seconds)) // _THERMAL
    closed = hot.case.closed
    one = Layers(
        centres_m=closed.centres_m[index][owner],
        sizes_m=closed.sizes_m[index][owner],
        capacity=closed.capacity[index][owner],
        inner=closed.inner,
        rates=closed.rates[index][owner],
        modes=closed.modes[index][owner],
    )
    return cycle.lost_share(one, seconds / hot.constants["later"][index])


def _softens_at(hot: Heating, shot_c: Array) -> Array:
    """Rise of the wall behind the round section at which the wall behind the flat side softens.

    As a share of the shot's temperature over the room's.
    """
    room = hot.some["room"]
    return np.asarray((hot.some["mold_deflection"] - room) / (shot_c - room) / hot.flat)


def softened(hot: Heating, shot_c: Array, rest_s: Array | float, shots: int) -> tuple[Array, Array]:
    """Share of the wall that softens in the last of some shots: in all, and while the pressure is held."""
    beat = rhythm(hot, shot_c)
    closed, walls = cycle.row(beat, shots, rest_s)
    soft = _softens_at(hot, shot_c)
    whole = cycle.soft_share(hot.case, cycle.peaks(beat, walls[-1], closed[-1]), soft)
    return whole, cycle.soft_share(hot.case, cycle.peaks_within(beat, walls[-1], HELD_S), soft)
