"""Shot after shot: how far the mold's wall heats and softens, how long to cool and to rest.

Everything is linear in the shot's temperature over the room's, so one run in shares of that difference
answers for all temperatures. The bait counts as the round section that sets as late as its thickest one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from builder.physics.conduction import Layers, bare_wall, layers
from builder.physics.heat import Array, Medium, Numbers

_CELLS = (14, 28)
_MOMENTS = np.geomspace(0.004, 1.0, 10)
"""When to look for the wall's peak, as shares of the time the mold stays closed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mold:
    """A section of bait and the wall behind it, closed and open; many cases at once, shape (cases, cells)."""

    closed: Layers
    bare: Layers
    depth: Array
    """Depth of each wall cell's middle as a share of the wall, (cases, wall cells)."""


def mold(inside: Medium, wall: Medium, half_mm: Numbers, wall_mm: Numbers, film_w_m2k: Numbers) -> Mold:
    """Set up the cases; every argument a number or an array of shape (cases,)."""
    closed = layers(inside, wall, half_mm, wall_mm, "round", film_w_m2k=film_w_m2k, cells=_CELLS)
    bare = bare_wall(wall, half_mm, wall_mm, "round", film_w_m2k=film_w_m2k, cells=_CELLS)
    front = np.asarray(half_mm)[..., None] * 1e-3
    depth = (bare.centres_m - front) / (np.asarray(wall_mm)[..., None] * 1e-3)
    return Mold(closed=closed, bare=bare, depth=np.broadcast_to(depth, bare.capacity.shape))


def cooling_s(case: Mold, share: Numbers, longest_s: float = 3 * 3600.0) -> Array:
    """Seconds in the closed mold until the bait's middle is down to `share` of its heat over the room."""
    times = np.geomspace(0.5, longest_s, 90)
    middle = case.closed.middle(case.closed.hot_inside(), times)
    return np.exp(_at(-middle, np.broadcast_to(np.log(times), middle.shape), -np.asarray(share)))


def shoot_again(case: Mold, closed_s: Numbers, rest_s: Numbers = 0.0, shots: int = 1) -> tuple[Array, Array]:
    """Highest temperature of each wall cell in the last of `shots`, and the wall's state when it is opened.

    In shares of the shot's temperature over the room's; shapes (cases, wall cells). Closed for `closed_s`,
    then open for `rest_s`.
    """
    state = np.zeros_like(case.depth)
    for number in range(shots):
        if number and np.any(np.asarray(rest_s) > 0):
            state = case.bare.after(state, np.broadcast_to(rest_s, state.shape[:-1]))
        start = case.closed.hot_inside()
        start[..., case.closed.inner :] = state
        if number == shots - 1:
            moments = [case.closed.after(start, np.asarray(closed_s) * m) for m in _MOMENTS]
            peak = np.max([m[..., case.closed.inner :] for m in moments], axis=0)
        state = case.closed.after(start, np.asarray(closed_s))[..., case.closed.inner :]
    return peak, state


def soft_share(case: Mold, peak: Array, threshold: Numbers) -> Array:
    """Share of the wall that was above `threshold` (a share of the shot's heat over the room)."""
    return np.clip(_crossing(case.depth, peak, threshold), 0.0, 1.0)


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
    return np.asarray(y0 + np.clip((where - x0) / (x1 - x0), 0.0, 1.0) * (y1 - y0))


def _crossing(places: Array, falling: Array, level: Numbers) -> Array:
    """Where each falling row passes `level`; 0 where it lies below from the start, the end if never."""
    places, falling = np.broadcast_arrays(places, falling)
    wanted = np.asarray(level)
    beyond = _at(-falling, places, np.broadcast_to(-wanted, falling.shape[:-1]))
    return np.where(falling[..., 0] > wanted, beyond, 0.0)
