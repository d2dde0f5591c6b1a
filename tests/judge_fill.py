"""The judge of filling: a march in small steps of time along a fine grid, with conduction of its own.

It shares the physics with the model and nothing else: a falling film in wide places, duct flow in narrow
ones, one clock for each cell. Each cell is 0.25 mm of path and knows when plastic came to it; what is open
of it comes from temperatures that are marched through plastisol and wall by Crank and Nicolson's scheme.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solve_banded

from tests.paths_for_flow import Section

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
GRAVITY = 9.81
CELL_MM = 0.25
STEP_S = 0.005


@dataclass(frozen=True, slots=True, kw_only=True)
class Heat:
    """Conductivity, density (kg/m³), heat capacity of one material."""

    k: float
    rho: float
    c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Push:
    """What the hand does, and the plastisol."""

    inside: Heat
    wall: Heat
    share: float
    """(T_set − T_mold)/(T_shot − T_mold)"""
    viscosity: float
    injection_ml_s: float
    pressure_mpa: float
    cling: float
    cavities: int = 2
    later: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """Sections of a millimetre each: feed to `gate`, then the bait; `rise` of each, from −1 to 1.

    `side_at` is where `side_ml` branches off that fill before the way goes on.
    """

    sections: Sequence[Section]
    gate: int
    rise: float
    side_at: int | None = None
    side_ml: float = 0.0


class Closing:
    """Open share of a slit and of a rod by time over half thickness squared, from one share on."""

    def __init__(self, push: Push) -> None:
        """March both once."""
        self.fourier = np.geomspace(2e-4, 4.0, 900)
        self.plane, self.plane_set = self._solve(push, 0)
        self.round, self.round_set = self._solve(push, 1)

    def _solve(self, push: Push, power: int) -> tuple[Array, float]:
        """Open share at each time, and the time at which the middle sets."""
        inner, outer = 160, 320
        faces = np.concatenate([np.linspace(0, 1, inner + 1), 1 + np.geomspace(1 / inner, 14.0, outer) - 0.0])
        middle = (faces[1:] + faces[:-1]) / 2
        is_in = middle < 1
        k = np.where(is_in, push.inside.k, push.wall.k)
        heat = np.where(is_in, push.inside.rho * push.inside.c, push.wall.rho * push.wall.c)
        scale = push.inside.rho * push.inside.c / push.inside.k  # half thickness 1, time as Fourier number
        volume = np.diff(faces ** (power + 1)) / (power + 1) * heat
        gap = np.diff(middle)
        near = (faces[1:-1] - middle[:-1]) / k[:-1] + (middle[1:] - faces[1:-1]) / k[1:]
        pass_ = faces[1:-1] ** power / near * scale
        assert (gap > 0).all()
        now = is_in.astype(float)
        opened, moment, clock = [], float("inf"), 0.0
        for until in self.fourier:
            steps = 2 if clock else 8
            for _ in range(steps):
                now = self._step(now, volume, pass_, (until - clock) / steps, half=0.5 if clock else 1.0)
            clock = until
            inside = now[:inner]
            if inside[0] <= push.share:
                if not np.isfinite(moment):
                    moment = until
                opened.append(0.0)
            else:
                falling = np.interp(-push.share, -now, middle)
                opened.append(min(1.0, float(falling)))
        return np.array(opened), moment

    def _step(self, now: Array, volume: Array, pass_: Array, dt: float, half: float) -> Array:
        leaving = np.zeros_like(now)
        leaving[:-1] += pass_
        leaving[1:] += pass_
        flux = np.zeros_like(now)
        exchange = pass_ * np.diff(now)
        flux[:-1] += exchange
        flux[1:] -= exchange
        bands = np.zeros((3, len(now)))
        bands[0, 1:] = -half * dt * pass_
        bands[1] = volume + half * dt * leaving
        bands[2, :-1] = -half * dt * pass_
        return np.asarray(now + solve_banded((1, 1), bands, dt * flux))

    def open(self, age: Array, half_m: Array, flat: Array, push: Push) -> tuple[Array, Flags]:
        """Open share of cells that have held plastic for `age` s, and whether they have set."""
        alpha = push.inside.k / (push.inside.rho * push.inside.c) / push.later
        set_at = self.plane_set**flat * self.round_set ** (1 - flat)
        part = alpha * age / half_m**2 / set_at
        one = np.interp(part * self.plane_set, self.fourier, self.plane, left=1.0)
        two = np.interp(part * self.round_set, self.fourier, self.round, left=1.0)
        return np.maximum(flat * one + (1 - flat) * two, 1e-9), np.asarray(part >= 1)


class March:
    """One shot into one way."""

    def __init__(self, way: Route, push: Push, closing: Closing) -> None:
        """Cut the way into cells."""
        self.push, self.closing = push, closing
        fine = round(1 / CELL_MM)
        rows = np.repeat(np.array(way.sections, float), fine, axis=0)
        self.area, self.thick, self.around = rows.T * np.array([[1e-6], [1e-3], [1e-3]])
        self.length = CELL_MM * 1e-3
        hydraulic = 4 * self.area / self.around
        self.flat = np.clip(2 * (hydraulic / self.thick - 1), 0, 1)
        self.drag = (
            friction(self.area, self.around, self.thick) * self.length / (2 * self.area * hydraulic**2)
        )
        self.gate = way.gate * fine
        shared = np.arange(len(self.area)) < self.gate // 2
        self.loads = np.where(shared, push.cavities, 1.0)
        self.volume = self.area * self.length
        self.rise = way.rise
        self.side_at = None if way.side_at is None else way.side_at * fine
        self.side = way.side_ml * 1e-6
        bait_m = (len(self.area) - self.gate) * self.length
        fall = max(-way.rise, 0.0)
        slope = np.clip(fall + self.thick / bait_m, 0, 1) if way.rise <= 0 else np.zeros_like(self.thick)
        if way.rise > 0:
            slope = np.where(self.thick / bait_m > way.rise, self.thick / bait_m - way.rise, 0.0)
        self.fall, self.slope = fall, slope
        self.came = np.full(len(self.area), np.inf)
        self.weight = push.inside.rho * GRAVITY
        self.rate = push.injection_ml_s * 1e-6 / push.cavities

    def fills(self) -> bool:
        """Whether the plastic gets to the end."""
        return self.run() >= 1.0

    def run(self) -> float:
        """Share of the bait that fills."""
        now = self._feed()
        now, front = self._body(now)
        return self._press(now, front)

    def _resist(self, upto: int, now: float, first: int = 0) -> tuple[float, bool]:
        """Drag of the cells before `upto` for this bait's flow, and whether one of them has set."""
        cells = slice(first, upto)
        age = now - self.came[cells]
        gap, is_set = self.closing.open(
            np.maximum(age, 0), self.thick[cells] / 2, self.flat[cells], self.push
        )
        drag = self.drag[cells] * self.loads[cells] * gap ** (self.flat[cells] - 4)
        return float(drag.sum()), bool((is_set & (age > 0)).any())

    def _flow(self, upto: int, now: float) -> tuple[float, bool]:
        drag, is_set = self._resist(upto, now)
        pushed = self.push.pressure_mpa * 1e6 / self.push.viscosity / max(drag, 1e-9)
        return (0.0 if is_set else min(self.rate, pushed)), is_set

    def _feed(self) -> float:
        now = 0.0
        for cell in range(self.gate):
            self.came[cell] = now
            now += self.volume[cell] / (self.loads[cell] * max(self._flow(cell, now)[0], 1e-12))
        return now

    def _stream(self, cell: int, flow: float) -> float:
        """Share of a cell that a stream of this flow fills on its way down."""
        if self.slope[cell] <= 0:
            return 1.0
        wide = self.area[cell] / self.thick[cell]
        depth = (3 * self.push.viscosity * flow / (self.weight * wide * self.slope[cell])) ** (1 / 3)
        wet = min(1.0, depth / self.thick[cell])
        return float(wet * (1 - self.fall * (1 - self.push.cling)))

    def _body(self, now: float) -> tuple[float, int]:
        """Until the wide part is full: the stream, the pool, what seeps into the narrow part."""
        end, front = len(self.area), self.gate
        owed = 0.0  # room that the stream left behind
        while front < end and (front < self.gate + 40 or not self._is_neck(front)):
            flow = max(self._flow(self.gate + (front - self.gate) // 2, now)[0], 1e-12)
            self.came[front] = now
            if self.side_at is not None and front == self.side_at:
                owed += self.side
            share = self._stream(front, flow)
            owed += (1 - share) * self.volume[front]
            now += share * self.volume[front] / flow
            front += 1
        neck, seeped, total = front, 0.0, max(owed, 1e-30)
        depth = self.fall * (front - self.gate) * self.length
        mouth = neck + max(1, round(self.thick[min(neck, end - 1)] / self.length))
        while owed > 0 and front < end:
            flow = max(self._flow(neck, now)[0], 1e-12)
            while front < min(mouth, end):
                self.came[front] = now
                front += 1
                seeped = float(self.volume[neck:front].sum())
            head = depth * (1 - owed / total) + self.fall * (front - neck) * self.length
            drag, is_set = self._resist(front, now, neck)
            seep = 0.0 if is_set else min(flow, self.weight * head / self.push.viscosity / max(drag, 1e-9))
            if is_set:
                return now, -1
            seeped += seep * STEP_S
            owed -= (flow - seep) * STEP_S
            now += STEP_S
            while front < end and seeped >= float(self.volume[neck : front + 1].sum()):
                self.came[front] = now
                front += 1
        self.neck, self.seeped = neck, seeped
        return now, front

    def _is_neck(self, cell: int) -> bool:
        """Narrower than half of what lay before."""
        return bool(self.thick[cell] < 0.5 * self.thick[self.gate : cell].max())

    def _press(self, now: float, front: int) -> float:
        """The full pressure, to the end or until a cell sets."""
        inside = float(self.volume[self.gate :].sum())
        if front < 0:
            return 0.0
        end = len(self.area)
        while front < end:
            left = self.volume[front] / 2
            self.came[front] = now
            for _ in range(2):
                flow, is_set = self._flow(front, now)
                if is_set or flow <= 0:
                    return float(self.volume[self.gate : front].sum()) / inside
                now += left / flow
            front += 1
        return 1.0


def friction(area: Array, around: Array, thick: Array) -> Array:
    """Darcy f·Re: 64 round; a slit by its two parallel walls with the sides' correction 1 − 0.63 h/w."""
    wide = area / thick
    aspect = np.minimum(thick / wide, 1.0)
    slit = 96 / (1 - 0.63 * aspect) * (1 / (1 + aspect)) ** 2
    oval = 4 * area / (np.pi * thick)
    circle = 128 * np.pi**2 * (thick**2 + oval**2) / 4 / around**2
    is_slit = np.isclose(around, 2 * (thick + wide), rtol=1e-3)
    return np.asarray(np.where(is_slit, slit, circle))
