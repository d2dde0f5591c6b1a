"""The judge of the hold: heat and flow in a round gate and the wall round it, along and across, in time.

While the bait fills, plastisol streams through with a parabolic profile and carries its heat; then it stands.
Finite volumes on rings, upwind along the stream, implicit steps each solved as a whole.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csc_array, diags_array
from scipy.sparse.linalg import splu

from builder.physics.heat import Medium

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Gate:
    """A round gate in a wall; `share` is (T_set − T_mold)/(T_shot − T_mold)."""

    inside: Medium
    wall: Medium
    bore_mm: float
    length_mm: float
    flow_ml_s: float
    streams_s: float
    share: float


def sets_after_s(gate: Gate, *, across: tuple[int, int] = (44, 60), along: int = 10) -> float:
    """Seconds after the stream stopped until the axis sets first."""
    faces, inside = _rings(gate, across)
    high = gate.length_mm * 1e-3 / along
    areas = np.pi * np.diff(faces**2)
    heat = np.where(inside, gate.inside.volumetric, gate.wall.volumetric) * areas * high
    still = _conduction(gate, faces, inside, high, along)
    speed = 2 * (gate.flow_ml_s * 1e-6 / (np.pi * faces[across[0]] ** 2))
    middle = (faces[1:] + faces[:-1]) / 2
    profile = np.where(inside, speed * (1 - (middle / faces[across[0]]) ** 2), 0.0)
    profile *= gate.flow_ml_s * 1e-6 / (profile * areas)[inside].sum()
    carried = profile * areas * float(gate.inside.volumetric)
    whole = np.tile(heat, along)
    now = np.tile(inside.astype(float), along)
    moving, fed = _stream(carried, along)
    steps = 200
    dt = gate.streams_s / steps
    solver = splu(csc_array(diags_array(whole / dt) + still + moving))
    for _ in range(steps):
        now = solver.solve(whole / dt * now + fed)
    dt, clock = 0.1, 0.0
    solver = splu(csc_array(diags_array(whole / dt) + still))
    rings = len(inside)
    while now[::rings].min() > gate.share:
        now = solver.solve(whole / dt * now)
        clock += dt
    return clock


def _rings(gate: Gate, across: tuple[int, int]) -> tuple[Array, NDArray[np.bool_]]:
    """Radii in m, closest together at the wall's face, and which rings are plastisol."""
    radius = gate.bore_mm * 0.5e-3
    inner = radius * np.sin(np.linspace(0, np.pi / 2, across[0] + 1)) ** 0.8
    outer = radius + np.concatenate([[0.0], np.geomspace(radius / 200, 7 * radius, across[1])])
    faces = np.concatenate([inner, outer[1:]])
    return faces, np.arange(len(faces) - 1) < across[0]


def _conduction(gate: Gate, faces: Array, inside: NDArray[np.bool_], high: float, along: int) -> csc_array:
    """Heat passed between neighbours for each kelvin."""
    k = np.where(inside, gate.inside.conductivity_w_mk, gate.wall.conductivity_w_mk)
    middle = (faces[1:] + faces[:-1]) / 2
    ways = np.log(faces[1:-1] / middle[:-1]) / k[:-1] + np.log(middle[1:] / faces[1:-1]) / k[1:]
    outward = 2 * np.pi * high / ways
    forward = k * np.pi * np.diff(faces**2) / high
    rings = len(k)
    number = np.arange(rings * along).reshape(along, rings)
    pairs = [(number[:, :-1], number[:, 1:], np.tile(outward, (along, 1)))]
    pairs += [(number[:-1], number[1:], np.tile(forward, (along - 1, 1)))]
    rows, columns, values = [], [], []
    for one, other, passed in pairs:
        i, j, v = one.ravel(), other.ravel(), passed.ravel()
        rows += [i, j, i, j]
        columns += [i, j, j, i]
        values += [v, v, -v, -v]
    size = rings * along
    whole = (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns)))
    return csc_array(coo_array(whole, shape=(size, size)))


def _stream(carried: Array, along: int) -> tuple[csc_array, Array]:
    """What the stream carries on (upwind), and what comes in hot at the mouth."""
    rings = len(carried)
    size = rings * along
    every = np.tile(carried, along)
    place = np.arange(size)
    rows, columns = np.append(place, place[rings:]), np.append(place, place[:-rings])
    whole = coo_array((np.append(every, -every[rings:]), (rows, columns)), shape=(size, size))
    fed = np.zeros(size)
    fed[:rings] = carried
    return csc_array(whole), fed
