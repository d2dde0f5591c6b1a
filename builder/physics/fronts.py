"""Where the front stands and waits: thin sections that it reaches while a thicker place still fills.

A front that reaches a thin section before the body is full has no more than the weight of the plastic above
it to drive it. It stands there, grows its skin, and moves on when the body is full and the full pressure
comes on. Molders call it hesitation. How early it gets there depends on how the mold stands: downhill, the
plastic runs ahead in a stream that fills only a share of the section and gathers at the lowest place.

The stream is a film of falling liquid, d³ = 3 η q/(ρ g b sin θ) on the wetted width b (Bird, Stewart,
Lightfoot, Transport Phenomena, 2nd ed., §2.2); on level ground the plastic makes its own slope, its depth
over its length. A stream may also fall free of the wall, with hardly any depth: `cling` says how much of it
runs down the wall.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from builder.physics.heat import Array, Numbers
from builder.physics.sections import Sections, thin_runs

Index = NDArray[np.intp]

GRAVITY_M_S2 = 9.81
_DEPTHS = np.geomspace(1e-5, 0.1, 49)
"""(η q/(ρ g))^⅓ in m^(4/3) at which the volume left behind is looked up."""
_LOG_FIRST, _LOG_STEP = float(np.log(_DEPTHS[0])), float(np.log(_DEPTHS[1] / _DEPTHS[0]))


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """What each section waits for; the first axis counts the sections."""

    free_ml: Array
    """Volume that fills while the front stands in it, where streams fall free; by `_DEPTHS`."""
    clinging_ml: Array
    """What is added where they run down the wall; by `_DEPTHS`."""
    head_m: Array
    """Mean height of plastic above the front while it stands."""
    run_ml: Array
    """Volume of the thin place that the section belongs to."""
    inward_ml: Array
    """How much of it lies before the section."""
    mouth: Array
    """Share of the thin place that the front wets at once: its mouth, as deep as it is thick."""
    ahead_m3: Array
    """Drag of the way that the plastic takes meanwhile, for the bait's whole flow, 1/m³."""
    bait_share: Array
    """Share of the injected flow that the bait takes."""


def waiting(sec: Sections) -> Waiting:
    """What each section of a path waits for; nothing before the gate."""
    count = len(sec.thickness_mm)
    inside = sec.past_gate
    bait = float(sec.share[inside].max()) if inside.any() else 1.0
    order = np.arange(count)
    before = (order[None, :] < order[:, None]) & inside[None, :] & inside[:, None]
    above = before & (sec.height_mm[None, :] >= sec.height_mm[:, None] - sec.thickness_mm[:, None] / 2)
    down = np.clip(sec.descent, 0.0, 1.0)
    slope = np.where(sec.descent > -sec.spread, np.minimum(down + sec.spread, 1.0), 0.0)
    film = _film(sec, slope)
    level, steep = film * (1 - down)[:, None], film * down[:, None]
    tube, side = sec.tube_ml[:, None], sec.side_ml[:, None]
    free = above.astype(float) @ (tube * (1 - level)) + before.astype(float) @ (side * level)
    clinging = before.astype(float) @ (side * steep) - above.astype(float) @ (tube * steep)
    runs = thin_runs(sec) & inside
    run_ml = runs.astype(float) @ sec.tube_ml
    top = np.where(before, sec.height_mm[None, :], -np.inf).max(axis=1)
    bottom = np.where(runs, sec.height_mm[None, :], np.inf).min(axis=1)
    head = np.where(inside, np.maximum(top - sec.height_mm, 0) + np.maximum(sec.height_mm - bottom, 0), 0.0)
    area = np.pi / 4 * sec.thickness_mm * sec.width_mm
    widest = np.maximum.accumulate(np.where(inside, sec.thickness_mm, 0.0))
    passed = sec.drag_m3 * sec.share / bait * (sec.thickness_mm >= widest / 2)
    return Waiting(
        free_ml=free,
        clinging_ml=clinging,
        head_m=np.where(np.isfinite(head), head, 0.0) / 2e3,
        run_ml=np.maximum(run_ml, 1e-9),
        inward_ml=(runs & (order[None, :] < order[:, None])).astype(float) @ sec.tube_ml,
        mouth=np.minimum(1.0, sec.thickness_mm * area * 1e-3 / np.maximum(run_ml, 1e-9)),
        ahead_m3=np.cumsum(passed) - passed,
        bait_share=np.full(count, bait),
    )


def film_m(viscous_m: Numbers, wetted_m: Numbers, slope: Numbers) -> Array:
    """Depth of a film that runs down a wall: d³ = 3 η q/(ρ g b sin θ). Source: Bird, 2nd ed., eq. 2.2-20.

    `viscous_m` is (η q/(ρ g))^⅓ in m^(4/3) for a flow q in m³/s on the wetted width b.

    >>> float(film_m(1e-3, 0.02, 1.0).round(5))
    0.00531
    """
    return np.asarray(np.cbrt(3 / (np.asarray(wetted_m) * slope)) * viscous_m)


def _film(sec: Sections, slope: Array) -> Array:
    """Share of each section that a falling stream fills, (sections, depths); 1 where nothing falls."""
    wetted_m = np.pi / 4 * sec.width_mm * 1e-3
    depth = film_m(_DEPTHS, wetted_m[:, None], np.maximum(slope, 1e-9)[:, None])
    film = np.minimum(1.0, depth / (sec.thickness_mm[:, None] * 1e-3))
    return np.where(slope[:, None] > 0, film, 1.0)


def waits_s(
    asked: Waiting, *, injection_ml_s: Numbers, push_m3_s: Numbers, viscous_m4: Numbers, cling: Numbers
) -> Array:
    """Seconds that the front stands in each section before the full pressure comes on, (..., sections).

    `push_m3_s` is pressure over viscosity, `viscous_m4` viscosity over the weight of a volume, both for a
    flow in m³/s.
    """
    injected = (np.asarray(injection_ml_s) * 1e-6)[..., None] * asked.bait_share
    flow = np.minimum(injected, np.asarray(push_m3_s)[..., None] / np.maximum(asked.ahead_m3, 1e-9))
    thick = np.minimum(viscous_m4, 1e6)[..., None]  # set plastisol flows nowhere
    depth = np.cbrt(np.maximum(thick * flow, 1e-30))
    place = np.clip((np.log(depth) - _LOG_FIRST) / _LOG_STEP, 0.0, len(_DEPTHS) - 1.001)
    index = place.astype(np.intp)
    part = (depth - _DEPTHS[index]) / (_DEPTHS[index + 1] - _DEPTHS[index])
    part = np.clip(part, 0.0, 1.0)
    row = np.arange(len(asked.bait_share))
    left = np.asarray(cling)[..., None] * _between(asked.clinging_ml, row, index, part)
    left = np.maximum(left + _between(asked.free_ml, row, index, part), 0.0)
    return np.asarray(left * 1e-6 / np.maximum(flow, 1e-12))


def _between(table: Array, row: Index, index: Index, part: Array) -> Array:
    return np.asarray((1 - part) * table[row, index] + part * table[row, index + 1])
