"""How much later a gate sets because the plastic that streams through it warms its wall."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from builder.advice import paths
from builder.advice.samples import Constants
from builder.model import Gate, Measurement
from builder.physics import flow
from builder.physics.conduction import Layers, flatness, layers, washed_wall
from builder.physics.heat import Array, Shape

_EACH = 7
"""Every seventh sample gets its own solution; its neighbours share it."""
_CELLS = (16, 24)
_DEPTH = 6.0
"""Wall that is reckoned with, in half thicknesses of the gate: the heat goes no farther until it sets."""
_TIMES = np.geomspace(0.05, 20.0, 60)
"""When to look, in Fourier numbers on the half thickness."""


def sizes(measurement: Measurement) -> list[tuple[float, float]]:
    """Thickness in mm and flatness of each gate; empty where nothing is gated."""
    found = [gate for bait in measurement.baits for gate in bait.gates]
    return [(gate.thickness_mm, _flat(gate)) for gate in found]


def later(measurement: Measurement, constants: Constants, shot_c: Sequence[float]) -> Array:
    """How many times later the slowest gate sets after the bait has passed it, (pairs, samples).

    `shot_c` is where each pair is shot.
    """
    ones = np.ones_like(constants["room"])
    gates = [gate for bait in measurement.baits for gate in bait.gates]
    if not gates:
        return ones
    gate = max(gates, key=lambda one: one.thickness_mm * (1 + 0.6 * _flat(one)))
    some = {name: values[:, ::_EACH] for name, values in constants.items()}
    shot = paths.shot(some, np.array(shot_c)[:, None] + np.zeros_like(some["room"]))
    total = sum(bait.volume_ml for bait in measurement.baits)
    rate = some["injection"] * 1e-6 / max(len(gates), 1)
    film = flow.stream_film_w_m2k(rate, shot.inside, gate.thickness_mm, gate.thickness_mm)
    warm, cold = _set_s(gate, shot, film, total / some["injection"])
    owner = np.arange(ones.shape[1]) // _EACH
    return np.asarray(np.maximum(warm / cold, 1.0)[:, owner])


def _flat(gate: Gate) -> float:
    return float(flatness(gate.area_mm2, gate.perimeter_mm, gate.thickness_mm))


def _set_s(gate: Gate, shot: flow.Shot, film: Array, streams_s: Array) -> tuple[Array, Array]:
    """Set time of the gate after a stream of that length, and without one, in Fourier numbers."""
    shape: Shape = "plane" if _flat(gate) > 0.5 else "round"
    half = np.full_like(film, gate.thickness_mm / 2)
    body = layers(shot.inside, shot.wall, half, _DEPTH * half, shape, cells=_CELLS)
    washed = washed_wall(shot.wall, half, _DEPTH * half, shape, film_w_m2k=film, cells=_CELLS)
    warmed = 1 - washed.after(np.ones_like(washed.capacity), streams_s)
    still = body.hot_inside()
    after = np.concatenate([still[..., : body.inner], warmed], axis=-1)
    times = _TIMES * float(np.mean((gate.thickness_mm * 0.5e-3) ** 2 / shot.inside.diffusivity))
    return _falls(body, after, times, shot.share), _falls(body, still, times, shot.share)


def _falls(body: Layers, first: Array, times: Array, share: Array) -> Array:
    """The time at which the middle has cooled to the share."""
    middle = np.minimum.accumulate(body.middle(first, times), axis=-1)
    found = np.empty(share.shape)
    for case in np.ndindex(share.shape):
        found[case] = np.interp(-share[case], -middle[case], np.log(times))
    return np.asarray(np.exp(found))
