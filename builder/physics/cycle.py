"""Shot after shot: how far the mold's wall heats and softens, how long to cool and to rest.

Everything is linear in the shot's temperature over the room's, so one run in shares of that difference
answers for all temperatures. The bait counts as the round section that sets as late as its thickest one.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from builder.physics.conduction import Layers, bare_wall, layers
from builder.physics.heat import Array, Medium, Numbers, Shape

_CELLS = (14, 28)
_MOMENTS = np.geomspace(0.004, 2.0, 12)
"""When to look for the wall's peak, in times for which the mold stays closed; beyond 1 as if it stayed
closed, for the wall goes on warming inside after the bait is out."""
_EARLY = np.array([0.1, 0.3, 0.6, 1.0])
"""When to look while one presses, as shares of that time."""
_NEWTON, _CLOSE = 25, 1e-7
_STEADY = 60
"""Shots after which a row with the rests that it needs is like the one before, within `_SAME`."""
_SAME = 2e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class Mold:
    """A section of bait and the wall behind it, closed and open; many cases at once, shape (cases, cells)."""

    closed: Layers
    bare: Layers
    depth: Array
    """Depth of each wall cell's middle as a share of the wall, (cases, wall cells)."""


def mold(
    inside: Medium,
    wall: Medium,
    half_mm: Numbers,
    wall_mm: Numbers,
    film_w_m2k: Numbers,
    *,
    shape: Shape = "round",
) -> Mold:
    """Set up the cases; every argument but the shape a number or an array of shape (cases,)."""
    closed = layers(inside, wall, half_mm, wall_mm, shape, film_w_m2k=film_w_m2k, cells=_CELLS)
    bare = bare_wall(wall, half_mm, wall_mm, shape, film_w_m2k=film_w_m2k, cells=_CELLS)
    front = np.asarray(half_mm)[..., None] * 1e-3
    depth = (bare.centres_m - front) / (np.asarray(wall_mm)[..., None] * 1e-3)
    return Mold(closed=closed, bare=bare, depth=np.broadcast_to(depth, bare.capacity.shape))


@dataclass(frozen=True, slots=True, kw_only=True)
class Rhythm:
    """One mold opened whenever the middle is down to `share` of its heat over the room, shot after shot.

    Between shots the wall is known by the amounts of its own modes (`b` below), in the closed mold by those
    of all cells (`a`): a shot and a rest are then products with small matrices.
    """

    case: Mold
    share: Array
    later: Array
    """A real section cools so many times slower than the round one."""
    hot: Array
    """Amounts in the closed mold of a fresh shot in a cold wall, (cases, modes)."""
    into: Array
    """Amounts in the closed mold from those of the bare wall, (cases, modes, wall modes)."""
    see: Array
    """The middle's temperature from the amounts, (cases, modes)."""
    first_s: Array
    """When the middle of the first shot is down to the share, without `later`."""


def rhythm(case: Mold, share: Array, later: Numbers = 1.0) -> Rhythm:
    """Set up shots that open at `share`; shares and `later` have the shape of the cases."""
    closed, inner = case.closed, case.closed.inner
    root = np.sqrt(closed.capacity)
    hot = np.einsum("...cm,...c->...m", closed.modes[..., :inner, :], root[..., :inner])
    into = np.matmul(np.swapaxes(closed.modes[..., inner:, :], -1, -2), case.bare.modes)
    start = cooling_s(case, share)
    made = Rhythm(
        case=case,
        share=np.asarray(share),
        later=np.asarray(later) + np.zeros_like(start),
        hot=hot,
        into=into,
        see=closed.modes[..., 0, :] / root[..., :1],
        first_s=start,
    )
    return replace(made, first_s=_opened_s(made, hot, start))


def cold(beat: Rhythm) -> Array:
    """The wall before the first shot."""
    return np.zeros(beat.into.shape[:-2] + beat.into.shape[-1:])


def shot(beat: Rhythm, wall: Array) -> tuple[Array, Array]:
    """Seconds in the closed mold of a shot into this wall, and the wall then."""
    amounts = beat.hot + _times(beat.into, wall)
    seconds = _opened_s(beat, amounts, beat.first_s) * beat.later
    return seconds, closed_for(beat, wall, seconds)


def closed_for(beat: Rhythm, wall: Array, seconds: Numbers) -> Array:
    """The wall after a shot into this wall stood in the closed mold so long."""
    decayed = np.exp(-beat.case.closed.rates * np.asarray(seconds)[..., None])
    return _times(np.swapaxes(beat.into, -1, -2), (beat.hot + _times(beat.into, wall)) * decayed)


def temperatures(beat: Rhythm, wall: Array) -> Array:
    """The wall's cells, in shares of the shot's heat over the room."""
    return np.asarray(_times(beat.case.bare.modes, wall) / np.sqrt(beat.case.bare.capacity))


def rested(beat: Rhythm, wall: Array, rest_s: Numbers) -> Array:
    """The wall after it stood open."""
    return np.asarray(wall * np.exp(-beat.case.bare.rates * np.asarray(rest_s)[..., None]))


def row(beat: Rhythm, shots: int, rest_s: Numbers = 0.0) -> tuple[Array, Array]:
    """Seconds in the closed mold of each of `shots`, shape (shots, cases), and the wall before each.

    Rests are the same between all shots, or have one row for each of them.
    """
    between = np.broadcast_to(rest_s, (shots, *beat.first_s.shape))
    wall, times, walls = cold(beat), [], []
    for number in range(shots):
        walls.append(wall)
        seconds, wall = shot(beat, wall)
        wall = rested(beat, wall, between[number])
        times.append(seconds)
    return np.stack(times), np.stack(walls)


def steady(beat: Rhythm, start_s: Array, rest_s: Numbers = 0.0) -> tuple[Array, Array]:
    """Seconds in the closed mold once each shot is like the one before, and the wall before such a shot.

    Newton on ln θ(t, b(t)) = ln share, where b(t) = (1 - D K(t))⁻¹ D g(t) is the wall that returns to itself
    when every shot takes t: K and g carry wall and fresh shot through a shot, D through the rest.
    `start_s` is the time of a late shot.
    """
    rest = np.exp(-beat.case.bare.rates * np.asarray(rest_s)[..., None])
    same, back = np.eye(rest.shape[-1]), np.swapaxes(beat.into, -1, -2)
    seconds, later = start_s / beat.later, beat.later[..., None]
    for _ in range(_NEWTON):
        long = np.exp(-beat.case.closed.rates * seconds[..., None] * later)
        short = np.exp(-beat.case.closed.rates * seconds[..., None])
        matrix = same - rest[..., :, None] * np.matmul(back * long[..., None, :], beat.into)
        wall = np.linalg.solve(matrix, (rest * _times(back, long * beat.hot))[..., None])[..., 0]
        amounts = beat.hot + _times(beat.into, wall)
        push = -rest * _times(back, beat.case.closed.rates * later * long * amounts)
        moved = _times(beat.into, np.linalg.solve(matrix, push[..., None])[..., 0])
        middle = (beat.see * short * amounts).sum(axis=-1)
        slope = (beat.see * short * (moved - beat.case.closed.rates * amounts)).sum(axis=-1)
        step = _step(middle, slope, beat.share, seconds)
        seconds = seconds + step
        if np.abs(step / seconds).max() < _CLOSE:
            break
    return seconds * beat.later, wall


@dataclass(frozen=True, slots=True, kw_only=True)
class Guard:
    """Heat of the wall at one depth in a shot into a wall b: the most over the moments of own + of · b."""

    own: Array
    """(cases, moments)"""
    of: Array
    """(cases, moments, wall modes)"""
    most: Array
    """What is allowed, as a share of the shot's heat over the room."""


def guard(beat: Rhythm, depth_share: Numbers, most: Array) -> Guard:
    """Allow `most` at a depth of the wall (a share of it)."""
    case, inner = beat.case, beat.case.closed.inner
    weights = _weights(case.depth, np.broadcast_to(np.asarray(depth_share), case.depth.shape[:-1]))
    root = np.sqrt(case.closed.capacity[..., inner:])
    seen = np.einsum("...cm,...c->...m", case.closed.modes[..., inner:, :], weights / root)
    moments = (beat.first_s * beat.later)[..., None] * _MOMENTS
    decayed = seen[..., None, :] * np.exp(-case.closed.rates[..., None, :] * moments[..., None])
    own = np.einsum("...km,...m->...k", decayed, beat.hot)
    return Guard(own=own, of=np.matmul(decayed, beat.into), most=np.asarray(most))


def rest_needed_s(beat: Rhythm, limit: Guard, wall: Array, rests_s: Array) -> Array:
    """Shortest of the rests (interpolated) after which the next shot keeps within the guard, from this wall.

    Infinite where the longest of them is too short.
    """
    left = wall[..., None, :] * np.exp(-beat.case.bare.rates[..., None, :] * rests_s[:, None])
    peaks = (limit.own[..., None, :] + np.matmul(left, np.swapaxes(limit.of, -1, -2))).max(axis=-1)
    places = np.broadcast_to(rests_s, peaks.shape)
    found = np.where(peaks[..., 0] <= limit.most, 0.0, _at(-peaks, places, -limit.most))
    return np.where(peaks[..., -1] > limit.most, np.inf, found)


def is_too_hot_when_cold(limit: Guard) -> NDArray[np.bool_]:
    """Whether already the first shot breaks the guard, so that no rest helps."""
    return np.asarray(limit.own.max(axis=-1) > limit.most)


def rests_needed_s(beat: Rhythm, limit: Guard, rests_s: Array, shots: int, hurried_wall: Array) -> Array:
    """Shortest rest after each shot of a row that keeps within the guard, shape (shots + 1, cases).

    The last row is for every later shot. Infinite where none that was tried is enough. `hurried_wall` is the
    wall before the steady shots without a rest: where it keeps within the guard, no rest is needed ever.
    """
    hopeless = is_too_hot_when_cold(limit)
    wall, before, kept = cold(beat), np.zeros_like(beat.first_s), []
    for number in range(_STEADY):
        seconds, wall = shot(beat, wall)
        rest = np.where(hopeless, np.inf, rest_needed_s(beat, limit, wall, rests_s))
        wall = rested(beat, wall, np.where(hopeless, 0.0, np.minimum(rest, rests_s[-1])))
        if number < shots:
            kept.append(rest)
        if number >= shots - 1 and np.abs(seconds / before - 1).max() < _SAME:
            break
        before = seconds
    closing = shot(beat, hurried_wall)[1]
    never = rest_needed_s(beat, limit, closing, rests_s) == 0
    kept.append(np.where(never & ~hopeless, 0.0, rest))
    return np.stack(kept)


def waited_s(beat: Rhythm, walls: Array, share: Array) -> Array:
    """Seconds in the closed mold until the middle is down to another share, for shots into these walls."""
    other = replace(beat, share=np.broadcast_to(share, beat.first_s.shape))
    return np.stack([_opened_s(other, beat.hot + _times(beat.into, w), beat.first_s) for w in walls]) * (
        beat.later
    )


def peaks(beat: Rhythm, wall: Array, closed_s: Array) -> Array:
    """Highest temperature of each wall cell in a shot into this wall, in shares, (cases, wall cells)."""
    return _hottest(beat, wall, closed_s[..., None] * _MOMENTS)


def first_peaks(case: Mold, closed_s: Array) -> Array:
    """Highest temperature of each wall cell in a first shot, as `peaks`."""
    moments = np.moveaxis(closed_s[..., None] * _MOMENTS, -1, 0)
    seen = case.closed.after(case.closed.hot_inside(), moments)
    return np.asarray(seen[..., case.closed.inner :].max(axis=0))


def lost_share(closed: Layers, seconds: Array) -> Array:
    """Share of its heat that the bait has lost after so long in a cold closed mold, (cases,).

    At first it grows with √t, as the heat of any thick body does.
    """
    inside = closed.after(closed.hot_inside(), seconds)[..., : closed.inner]
    weight = closed.capacity[..., : closed.inner]
    return np.asarray(1 - (inside * weight).sum(axis=-1) / weight.sum(axis=-1))


def peaks_within(beat: Rhythm, wall: Array, seconds: float) -> Array:
    """Highest temperature of each wall cell within so long after a shot into this wall, as `peaks`."""
    return _hottest(beat, wall, np.broadcast_to(seconds * _EARLY, (*beat.first_s.shape, len(_EARLY))))


def _hottest(beat: Rhythm, wall: Array, moments: Array) -> Array:
    case, inner = beat.case, beat.case.closed.inner
    amounts = beat.hot + _times(beat.into, wall)
    seen = case.closed.modes[..., inner:, :] / np.sqrt(case.closed.capacity[..., inner:, None])
    decayed = np.exp(-case.closed.rates[..., None, :] * moments[..., None])
    each = np.matmul(decayed * amounts[..., None, :], np.swapaxes(seen, -1, -2))
    return np.asarray(each.max(axis=-2))


def _times(matrix: Array, vector: Array) -> Array:
    return np.asarray(np.matmul(matrix, vector[..., None])[..., 0])


def _opened_s(beat: Rhythm, amounts: Array, start_s: Array) -> Array:
    """When the middle is down to the share: Newton on its logarithm, which is nearly straight."""
    seen, seconds = amounts * beat.see, start_s
    for _ in range(_NEWTON):
        parts = seen * np.exp(-beat.case.closed.rates * seconds[..., None])
        slope = -(beat.case.closed.rates * parts).sum(axis=-1)
        step = _step(parts.sum(axis=-1), slope, beat.share, seconds)
        seconds = seconds + step
        if np.abs(step / seconds).max() < _CLOSE:
            break
    return seconds


def _step(middle: Array, slope: Array, share: Array, seconds: Array) -> Array:
    """Newton's step for ln middle = ln share, never to less than half or more than thrice the time."""
    off = np.log(np.maximum(middle, 1e-12)) - np.log(share)
    return np.asarray(np.clip(off * middle / np.maximum(-slope, 1e-30), -0.5 * seconds, 2.0 * seconds))


def cooling_s(case: Mold, share: Numbers, longest_s: float = 3 * 3600.0) -> Array:
    """Seconds in the closed mold, cold before, until the middle is down to `share`; at most `longest_s`."""
    times = np.geomspace(0.5, longest_s, 90)
    middle = case.closed.middle(case.closed.hot_inside(), times)
    return np.exp(_at(-middle, np.broadcast_to(np.log(times), middle.shape), -np.asarray(share)))


def soft_share(case: Mold, peak: Array, threshold: Numbers) -> Array:
    """Share of the wall that was above `threshold` (a share of the shot's heat over the room)."""
    part = np.clip(_crossing(case.depth, peak, threshold), 0.0, 1.0)
    return np.where(peak[..., -1] > np.asarray(threshold), 1.0, part)


def peak_at(case: Mold, peak: Array, depth_share: Numbers) -> Array:
    """Highest temperature at a depth given as a share of the wall, interpolated between cells."""
    return _at(case.depth, peak, np.asarray(depth_share))


def _at(places: Array, values: Array, where: Array) -> Array:
    """Values at `where`, linear between the rising places of each row; shape (cases,)."""
    above = np.clip((places < where[..., None]).sum(axis=-1), 1, places.shape[-1] - 1)
    x0, x1, y0, y1 = (
        np.take_along_axis(rows, index[..., None], -1)[..., 0]
        for rows in (places, values)
        for index in (above - 1, above)
    )
    part = np.clip((where - x0) / np.maximum(x1 - x0, 1e-300), 0.0, 1.0)
    return np.asarray(y0 + part * (y1 - y0))


def _weights(places: Array, where: Array) -> Array:
    """Weights of the values at the rising places of each row that give the value at `where`."""
    above = np.clip((places < where[..., None]).sum(axis=-1), 1, places.shape[-1] - 1)
    x0, x1 = (np.take_along_axis(places, i[..., None], -1)[..., 0] for i in (above - 1, above))
    part = np.clip((where - x0) / (x1 - x0), 0.0, 1.0)
    weights = np.zeros(np.broadcast_shapes(places.shape))
    np.put_along_axis(weights, (above - 1)[..., None], (1 - part)[..., None], -1)
    np.put_along_axis(weights, above[..., None], part[..., None], -1)
    return weights


def _crossing(places: Array, falling: Array, level: Numbers) -> Array:
    """Where each falling row passes `level`; 0 where it lies below from the start, the end if never."""
    places, falling = np.broadcast_arrays(places, falling)
    wanted = np.asarray(level)
    beyond = _at(-falling, places, np.broadcast_to(-wanted, falling.shape[:-1]))
    return np.where(falling[..., 0] > wanted, beyond, 0.0)
