"""A second judge: the section of a real block in two dimensions, to see what a round shell leaves out.

A round bait of radius R lies in the parting plane of a block; one half of the section (above that plane) is
enough. Square cells, finite volumes; cells cut by the bait share heat capacity by area, conductivities are in
series between the cells' middles; TR-BDF2 as in `judge_cycle`. A film works on the back and on the sides that
face the air and, while the mold stands open, on the cavity and the parting plane. Staircases stand for round
faces: their films are reduced by π/4, the ratio of a circle's length to its staircase's.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.linalg import splu

from tests.judge_cycle import GAMMA, Array, Stuff

Mask = NDArray[np.bool_]
SIDES = ((-1, 0), (1, 0), (0, -1), (0, 1))
ROUND = np.pi / 4


@dataclass(frozen=True, kw_only=True)
class Block:
    """Half a section of a block, mm from the bait's middle. With `shell_mm` only that circle is wall."""

    body: Stuff
    wall: Stuff
    film_w_m2k: float
    demold_share: float
    radius_mm: float
    left_mm: float
    right_mm: float
    top_mm: float
    right_in_air: bool = True
    shell_mm: float | None = None
    cell_mm: float = 0.8
    _factors: dict[tuple[bool, float], sparse.linalg.SuperLU] = field(init=False, default_factory=dict)

    @cached_property
    def _places(self) -> tuple[Array, Array]:
        across = np.arange(-self.left_mm, self.right_mm, self.cell_mm) + self.cell_mm / 2
        up = np.arange(0, self.top_mm, self.cell_mm) + self.cell_mm / 2
        x, y = np.meshgrid(across, up, indexing="ij")
        return x, y

    @cached_property
    def filled(self) -> Array:
        """Share of bait in every cell."""
        x, y = self._places
        within = self.cell_mm * ((np.arange(8) + 0.5) / 8 - 0.5)
        inside = [np.hypot(x + a, y + b) < self.radius_mm for a in within for b in within]
        return np.asarray(np.mean(inside, axis=0))

    @cached_property
    def _solid(self) -> Mask:
        x, y = self._places
        return np.hypot(x, y) < self.shell_mm if self.shell_mm else np.ones_like(x, dtype=bool)

    @cached_property
    def _wall(self) -> Mask:
        """The cells that stay when the bait is out."""
        return self._solid & (self.filled < 0.5)

    def _capacity(self, is_open: bool) -> Array:
        bait = np.zeros_like(self.filled) if is_open else self.filled
        mixed = bait * self.body.volumetric + (1 - bait) * self.wall.volumetric
        return np.asarray(mixed * (self.cell_mm * 1e-3) ** 2)

    def _films(self, is_open: bool) -> Array:
        """Sides of each cell that the air touches."""
        there = self._wall if is_open else self._solid
        air = np.zeros_like(self.filled)
        if self.shell_mm:
            air += ROUND * _beside(self._solid, ~self._solid)
        else:
            air[0, :] += 1
            air[-1, :] += self.right_in_air
            air[:, -1] += 1
        if is_open:
            air += ROUND * _beside(there, self._solid & ~there)
            air[:, 0] += 1 if self.shell_mm is None else 0
        return air

    def _conduction(self, is_open: bool) -> sparse.csc_matrix:
        there = self._wall if is_open else self._solid
        number = np.full(there.shape, -1)
        number[there] = np.arange(there.sum())
        bait = self.filled
        resist = bait / self.body.conductivity_w_mk + (1 - bait) / self.wall.conductivity_w_mk
        half_cell = self.cell_mm * 1e-3 / 2
        film = self.film_w_m2k * self.cell_mm * 1e-3 / (1 + self.film_w_m2k * half_cell * resist)
        diagonal = np.asarray((film * self._films(is_open))[there])
        rows, columns, passing = [], [], []
        for low, high in ((np.s_[:-1, :], np.s_[1:, :]), (np.s_[:, :-1], np.s_[:, 1:])):
            both = there[low] & there[high]
            rows.append(number[low][both])
            columns.append(number[high][both])
            passing.append(2 / (resist[low] + resist[high])[both])
        pairs = (np.concatenate(rows), np.concatenate(columns))
        size = (diagonal.size, diagonal.size)
        onwards = sparse.coo_matrix((np.concatenate(passing), pairs), shape=size)
        beside = (onwards + onwards.T).tocsc()
        total = np.asarray(beside.sum(axis=1)).ravel() + diagonal
        return (sparse.diags(total) - beside).tocsc()

    @cached_property
    def _matrices(self) -> dict[bool, tuple[Array, sparse.csc_matrix]]:
        there = {False: self._solid, True: self._wall}
        return {key: (self._capacity(key)[there[key]], self._conduction(key)) for key in (False, True)}

    def _step(self, is_open: bool, state: Array, seconds: float) -> Array:
        capacity, conduction = self._matrices[is_open]
        key = (is_open, round(seconds, 9))
        if key not in self._factors:
            self._factors[key] = splu((sparse.diags(capacity) + GAMMA / 2 * seconds * conduction).tocsc())
        solve = self._factors[key].solve
        between = solve(capacity * state - GAMMA / 2 * seconds * (conduction @ state))
        share = 1 / (GAMMA * (2 - GAMMA))
        return np.asarray(solve(capacity * (share * between - (share - 1) * state)))

    def _shot(self, wall: Array) -> tuple[float, Array]:
        """Seconds until the middle is at `demold_share` after a shot, and the block then."""
        bait = self.filled[self._solid]
        hot, cold = bait * self.body.volumetric, (1 - bait) * self.wall.volumetric
        state = (hot + cold * wall) / (hot + cold)
        x, y = self._places
        middle = int(np.argmin(np.hypot(x, y)[self._solid]))
        now, span = 0.0, 0.02
        while True:
            after = self._step(False, state, span)
            if after[middle] < self.demold_share:
                break
            state, now = after, now + span
            span *= 2 if now > 24 * span else 1
        above, below = np.log(state[middle] / self.demold_share), np.log(after[middle] / self.demold_share)
        last = round(span * above / (above - below), 6)
        return now + last, self._step(False, state, last)

    def open_after_s(self, shots: int, rest_s: float) -> list[float]:
        """Seconds in the closed mold for each of the first `shots`."""
        block, times = np.zeros(int(self._solid.sum())), []
        stays = self._wall[self._solid]
        for _ in range(shots):
            seconds, block = self._shot(block)
            times.append(seconds)
            if rest_s:
                bare = block[stays]
                for _ in range(64):
                    bare = self._step(True, bare, rest_s / 64)
                block = np.full_like(block, bare.mean())  # cells that are nearly all bait: their rim of wall
                block[stays] = bare
        return times


def _beside(cells: Mask, others: Mask) -> Array:
    """How many sides of each of `cells` lie beside one of `others`."""
    padded = np.pad(others, 1)
    rows, columns = others.shape
    count = [padded[1 + i : 1 + i + rows, 1 + j : 1 + j + columns] for i, j in SIDES]
    return np.asarray(np.where(cells, np.sum(count, axis=0), 0), dtype=np.float64)
