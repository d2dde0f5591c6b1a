"""How far plastic creeps into a cold slit under constant pressure: a march in two dimensions, without units.

Lengths across are in half gaps a, times in a²/α, temperatures as shares (T − T_mold)/(T_first − T_mold), and
the way x in a √(p a²/(η α)): then nothing is left but the share at which the plastic sets, the ratio of
effusivities and the exponent of the viscosity. `creep` holds what this gives, in a table.

Thin-film flow with heat carried along and conducted across, as in injection molding: Hieber & Shen,
J. Non-Newtonian Fluid Mech. 7, 1, 1980; at the front the plastic is mixed (fountain flow).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import eigh_tridiagonal

from builder.physics.heat import Array

_DEPTH = 14.0
"""Depth of the wall in half gaps: heat comes no farther while anything flows."""
_LATEST = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """Cells along the way filled so far, cells across half the gap, cells of the wall."""

    along: int = 40
    across: int = 24
    wall: int = 30
    first: float = 1e-3
    """Time at which the march begins, from the isothermal solution x² = 2t/3."""


def reach(share: Array, effusivity_ratio: Array, exponent: Array, grid: Grid | None = None) -> Array:
    """How far the front comes, in a √(p a²/(η α)); arrays of one shape (cases,).

    First order in the cells: twice as many along and half the first time move it by 1–2 %.
    """
    grid = grid or Grid()
    faces = _faces(grid)
    edges = faces[: grid.across + 1]
    low, high = edges[:-1], edges[1:]
    cells = _Cells(
        middle=(low + high) / 2,
        size=high - low,
        first=(high**2 - low**2) / 2,
        second=(high**3 - low**3) / 3,
        places=(np.arange(grid.along) + 0.5) / grid.along,
    )
    conduct = _Conduct.of(faces, grid.across, effusivity_ratio)
    heat = np.zeros((len(share), grid.along, grid.across + grid.wall))
    heat[:, :, : grid.across] = 1.0
    front, now = np.full(len(share), np.sqrt(2 * grid.first / 3)), grid.first
    while now < _LATEST and bool((heat[:, :, : grid.across].max(axis=(1, 2)) > share + 1e-3).any()):
        rate, profile = _flow(heat[:, :, : grid.across], share, exponent, front, cells)
        step = min(0.05 * now, 0.7 / grid.along / (1.6 * float(rate.max()) + 1e-12))
        if bool(np.all(rate * _LATEST < 1e-5)):
            break
        moved = heat + step * _carried(heat, rate, profile, cells)
        heat = conduct.after(moved, step)
        front, now = front * (1 + step * rate), now + step
    return front


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cells:
    """The cells across half the gap (arrays of shape (across,)) and the places along (along,)."""

    middle: Array
    size: Array
    first: Array
    """∫ y dy over each cell, and ∫ y² dy."""
    second: Array
    places: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class _Conduct:
    """Conduction across, solved exactly in time by the modes of the cells."""

    decay: Array
    into: Array
    back: Array

    @classmethod
    def of(cls, faces: Array, across: int, ratios: Array) -> _Conduct:
        """The modes for each ratio of effusivities; the wall's depth is in the plastic's diffusivity."""
        low, high = faces[:-1], faces[1:]
        middle = (low + high) / 2
        found = []
        for ratio in ratios.tolist():
            conducts = np.where(np.arange(len(middle)) < across, 1.0, 1 / ratio)
            root = np.sqrt(conducts * (high - low))
            passing = 1 / (((high - middle) / conducts)[:-1] + ((middle - low) / conducts)[1:])
            leaving = np.append(passing, 0.0) + np.append(0.0, passing)
            rates, modes = eigh_tridiagonal(leaving / root**2, -passing / (root[:-1] * root[1:]))
            found.append((rates[None, :], modes * root[:, None], (modes / root[:, None]).T))
        decay, into, back = (np.stack(each) for each in zip(*found, strict=True))
        return cls(decay=decay, into=into, back=back)

    def after(self, heat: Array, step: float) -> Array:
        """The heat a time step later."""
        return np.asarray(np.matmul(np.matmul(heat, self.into) * np.exp(-self.decay * step), self.back))


def _faces(grid: Grid) -> Array:
    inner = np.sin(np.linspace(0, np.pi / 2, grid.across + 1))
    outer = 1 + _DEPTH * np.sinh(3.5 * np.linspace(0, 1, grid.wall + 1)) / np.sinh(3.5)
    return np.concatenate([inner, outer[1:]])


def _flow(heat: Array, share: Array, exponent: Array, front: Array, cells: _Cells) -> tuple[Array, Array]:
    """Growth of the way filled, 1/t of itself, and the profile of speed over its mean."""
    open_ = np.clip((heat - share[:, None, None]) / (1 - share[:, None, None]), 0.0, 1.0)
    thin = open_ ** exponent[:, None, None]
    passing = np.maximum((thin * cells.second).sum(axis=-1), 1e-12)
    rate = 1 / ((1 / passing).mean(axis=-1) * front**2)
    slope = thin * cells.first
    profile = np.cumsum(slope[:, :, ::-1], axis=-1)[:, :, ::-1] - slope / 2
    profile /= np.maximum((profile * cells.size).sum(axis=-1, keepdims=True), 1e-12)
    return rate, profile


def _carried(heat: Array, rate: Array, profile: Array, cells: _Cells) -> Array:
    """What the flow changes of the heat at each place of the way, which grows with the front; upwind."""
    across, step = len(cells.size), 1 / len(cells.places)
    pace, place = rate[:, None, None], cells.places[None, :, None]
    inside, wall = heat[:, :, :across], heat[:, :, across:]
    arriving = np.clip(profile[:, -1] - 1, 0.0, None) * cells.size
    mixed = (arriving * inside[:, -1]).sum(axis=-1) / np.maximum(arriving.sum(axis=-1), 1e-12)
    at_front = np.broadcast_to(mixed[:, None, None], inside[:, :1].shape)
    ahead = _slope(np.concatenate([inside, at_front], axis=1), step, last=True)
    behind = _slope(np.concatenate([np.ones_like(inside[:, :1]), inside], axis=1), step, last=False)
    relative = pace * (place - profile)
    change = np.where(relative > 0, relative * ahead, relative * behind)
    change -= _sideways(inside, pace, profile, cells)
    cold = np.concatenate([wall, np.zeros_like(wall[:, :1])], axis=1)
    return np.concatenate([change, pace * place * _slope(cold, step, last=True)], axis=-1)


def _slope(values: Array, step: float, *, last: bool) -> Array:
    """Differences between neighbours along the way; the outer one lies half a cell away."""
    found = np.diff(values, axis=1) / step
    found[:, -1 if last else 0] *= 2
    return np.asarray(found)


def _sideways(inside: Array, pace: Array, profile: Array, cells: _Cells) -> Array:
    """What is carried across while the profile changes along the way (continuity); upwind."""
    entry = np.broadcast_to(1.5 * (1 - cells.middle**2), profile[:, :1].shape)
    beside = np.concatenate([entry, profile, profile[:, -1:]], axis=1)
    along = (beside[:, 2:] - beside[:, :-2]) * len(cells.places) / 2
    along[:, 0] = (profile[:, 1] - profile[:, 0]) * len(cells.places)
    along[:, -1] *= 2
    out = -pace * np.cumsum(along * cells.size, axis=-1)
    out[:, :, -1] = 0.0
    centred = (np.concatenate([np.zeros_like(out[:, :, :1]), out[:, :, :-1]], axis=-1) + out) / 2
    steps = np.diff(inside, axis=-1) / np.diff(cells.middle)
    none = np.zeros_like(inside[:, :, :1])
    below, above = np.concatenate([none, steps], axis=-1), np.concatenate([steps, none], axis=-1)
    return np.asarray(np.where(centred > 0, centred * below, centred * above))
