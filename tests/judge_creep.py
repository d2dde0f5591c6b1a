"""The judge of creeping flow: explicit finite volumes on a fixed grid along a slit, in SI units.

Another scheme than `builder.physics.creep_march`: cells along the slit stand still and are filled one
after the other, heat is carried in conservative form, conduction is explicit, the wall has own k, ρ, c.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
ACROSS, WALL = 16, 44


@dataclass(frozen=True, slots=True, kw_only=True)
class Slits:
    """Slits of one gap each; every field an array of shape (slits,)."""

    gap_m: Array
    pressure_pa: Array
    viscosity_pa_s: Array
    """At the first temperature; it rises as ((T_first − T_set)/(T − T_set))^exponent."""
    exponent: Array
    first_c: Array
    set_c: Array
    mold_c: Array
    conductivity: Array
    volumetric: Array
    """ρc, J/m³K."""
    mold_conductivity: Array
    mold_volumetric: Array


def reach_m(slits: Slits, cells: int = 60) -> Array:
    """Where each front stops, in m."""
    half = slits.gap_m / 2
    diffusivity = slits.conductivity / slits.volumetric
    y = (np.arange(ACROSS) + 0.5) / ACROSS * half[:, None]
    dy = half / ACROSS
    depth = dy * np.sqrt((slits.mold_conductivity / slits.mold_volumetric) / diffusivity)
    span = slits.first_c - slits.set_c
    guess = half * np.sqrt(slits.pressure_pa * half**2 / (slits.viscosity_pa_s * diffusivity))
    share = (slits.set_c - slits.mold_c) / (slits.first_c - slits.mold_c)
    dx = guess * (0.5 * (1 - share) + 0.03) / cells
    many = 3 * cells
    plastic = np.tile(slits.first_c[:, None, None], (1, many, ACROSS))
    wall = np.tile(slits.mold_c[:, None, None], (1, many, WALL))
    filled = np.ones(len(half))
    number = np.arange(many)
    now, end = np.zeros(len(half)), 12 * half**2 / diffusivity
    rows = np.arange(len(half))
    while True:
        last = int(np.ceil(filled.max())) + 1
        if last >= many:
            raise ValueError("the slit is too short")
        hot, cold = plastic[:, :last], wall[:, :last]
        open_ = np.clip((hot - slits.set_c[:, None, None]) / span[:, None, None], 0, 1)
        fluid = open_ ** slits.exponent[:, None, None]
        slope = fluid * y[:, None, :] * dy[:, None, None]
        profile = np.cumsum(slope[:, :, ::-1], axis=-1)[:, :, ::-1] - slope / 2
        mean = profile.mean(axis=-1)
        resistance = slits.viscosity_pa_s[:, None] / np.maximum(mean, 1e-12 * half[:, None] ** 2)
        length = np.clip(filled[:, None] - number[None, :last], 0.0, 1.0) * dx[:, None]
        speed = slits.pressure_pa / (resistance * length).sum(axis=-1)
        profile = profile / np.maximum(mean, 1e-300)[..., None]
        step = np.minimum(0.4 * dy**2 / diffusivity, 0.4 * dx / np.maximum(1.6 * speed, 1e-30))
        live = (now < end) & (speed * (end - now) > 1e-3 * dx)
        if not live.any():
            return filled * dx
        step = np.where(live, step, 0.0)
        front = np.minimum(np.ceil(filled).astype(int) - 1, last - 1)
        plastic[:, :last], wall[:, :last] = _conducted(slits, hot, cold, (dy, depth), step)
        moved = _carried(plastic[:, :last], profile, speed * step / dx, (filled, front), slits.first_c)
        plastic[:, :last] = moved
        filled = filled + speed * step / dx
        begun = np.ceil(filled).astype(int) - 1 > front
        wall[rows[begun], front[begun] + 1] = slits.mold_c[begun, None]
        now = now + step


def _conducted(
    slits: Slits, hot: Array, cold: Array, sizes: tuple[Array, Array], step: Array
) -> tuple[Array, Array]:
    k, kw = slits.conductivity[:, None, None], slits.mold_conductivity[:, None, None]
    across, deep = (size[:, None, None] for size in sizes)
    inner = k * np.diff(hot, axis=-1) / across
    outer = kw * np.diff(cold, axis=-1) / deep
    face = (cold[:, :, :1] - hot[:, :, -1:]) / (across / (2 * k) + deep / (2 * kw))
    none = np.zeros_like(face)
    gain = np.diff(np.concatenate([none, inner, face], axis=-1), axis=-1)
    lost = np.diff(np.concatenate([face, outer, none], axis=-1), axis=-1)
    time = step[:, None, None]
    return (
        hot + time * gain / (across * slits.volumetric[:, None, None]),
        cold + time * lost / (deep * slits.mold_volumetric[:, None, None]),
    )


def _carried(hot: Array, profile: Array, courant: Array, at: tuple[Array, Array], first_c: Array) -> Array:
    """Heat carried by one step; the cell at the front takes what comes, mixed across."""
    filled, front = at
    number = np.arange(hot.shape[1])
    behind = (number[None, :] < front[:, None])[..., None]
    entry = np.broadcast_to(1.5 * (1 - ((np.arange(ACROSS) + 0.5) / ACROSS) ** 2), profile[:, :1].shape)
    entry = entry / entry.mean(axis=-1, keepdims=True)
    beside = np.concatenate([entry, (profile[:, :-1] + profile[:, 1:]) / 2], axis=1)
    moved_by = courant[:, None, None]
    came = np.concatenate([np.broadcast_to(first_c[:, None, None], hot[:, :1].shape), hot[:, :-1]], axis=1)
    into, out = beside, np.concatenate([beside[:, 1:], profile[:, -1:]], axis=1)
    up = np.cumsum(into - out, axis=-1)
    up[:, :, -1] = 0.0
    rise = np.where(up[:, :, :-1] > 0, up[:, :, :-1] * hot[:, :, :-1], up[:, :, :-1] * hot[:, :, 1:])
    none = np.zeros_like(hot[:, :, :1])
    across = np.diff(np.concatenate([none, rise, none], axis=-1), axis=-1)
    moved = hot + moved_by * (into * came - out * hot - across)
    held = np.maximum(filled - front, 1e-9)[:, None, None]
    mixed = (into * came).mean(axis=-1, keepdims=True)
    share = np.minimum(moved_by / (held + moved_by), 1.0)
    at_front = hot * (1 - share) + mixed * share
    result = np.where(behind, moved, hot)
    is_front = (number[None, :] == front[:, None])[..., None]
    result = np.where(is_front, at_front, result)
    ahead = (number[None, :] > front[:, None])[..., None]
    return np.asarray(np.where(ahead, mixed, result))
