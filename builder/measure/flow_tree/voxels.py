"""Solids on a grid: inside voxels, and how far each is from a place when one stays inside."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from builder.model import Solid

Array = NDArray[np.float64]
Index = NDArray[np.int64]

OFF_GRID = (0.3719, 0.4142, 0.4337)
"""The grid is shifted by this share of a voxel, so that no ray runs along a mold's own planes."""
CHAMFER = 3
"""Steps to the 6, 12 and 8 neighbours cost 3, 4 and 5 (Borgefors 1986): within 8 % of the straight length."""
FAR = np.iinfo(np.int32).max


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Grid:
    """`inside` (x, y, z) with an empty rim; the centre of voxel i is origin + pitch * i."""

    inside: NDArray[np.bool_]
    origin: Array
    pitch_mm: float

    def centres(self, flat: Index) -> Array:
        """Centres (n, 3) in mm of voxels by flat index."""
        return np.asarray(
            self.origin + self.pitch_mm * np.stack(np.unravel_index(flat, self.inside.shape), axis=1)
        )

    def along(self, flat: Index, axis: int) -> Index:
        """The index along one axis of voxels by flat index."""
        stride, size = self.inside.strides[axis], self.inside.shape[axis]
        return np.asarray(flat // stride % size)

    def neighbours(self) -> tuple[Index, Index]:
        """Offsets in the flat index to the 26 neighbours, and their cost."""
        steps = np.array([step for step in product((-1, 0, 1), repeat=3) if any(step)])
        strides = np.array(self.inside.strides, np.int64)
        return steps @ strides, CHAMFER - 1 + np.abs(steps).sum(axis=1)


def cells(solid: Solid, pitch_mm: float) -> int:
    """How many voxels the grid round a solid has."""
    return int(np.prod(_shape(solid, pitch_mm)))


def _shape(solid: Solid, pitch_mm: float) -> Array:
    return np.asarray(np.ceil(np.ptp(solid.vertices, axis=0) / pitch_mm) + 4)


def fill(solid: Solid, pitch_mm: float) -> Grid:
    """Voxels whose centre is inside the solid: rays along z, entries and exits counted."""
    low, shape = solid.vertices.min(axis=0), _shape(solid, pitch_mm).astype(int)
    origin = low - pitch_mm * (1 + np.array(OFF_GRID))
    x, y, z, way = crossings((solid.vertices - origin) / pitch_mm, solid.faces)
    winding = np.zeros(shape, np.int16)
    np.add.at(winding, (x, y, np.ceil(z).astype(np.int64)), way)
    return Grid(inside=np.cumsum(winding, axis=2, dtype=np.int16) > 0, origin=origin, pitch_mm=pitch_mm)


def crossings(points: Array, faces: NDArray[np.int32]) -> tuple[Index, Index, Array, NDArray[np.int16]]:
    """Where upright rays through whole (x, y) cross facets: x, y, height, +1 going in and -1 going out."""
    a, b, c = (points[faces[:, k]] for k in range(3))
    size = _cross(a, b, c[:, 0], c[:, 1])
    low = np.ceil(np.minimum(np.minimum(a, b), c)[:, :2]).astype(np.int64)
    high = np.floor(np.maximum(np.maximum(a, b), c)[:, :2]).astype(np.int64)
    wide = np.maximum(high - low + 1, 0)
    count = np.where(size != 0, wide[:, 0] * wide[:, 1], 0)
    face = np.repeat(np.arange(len(faces)), count)
    step = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    x = low[face, 0] + step // wide[face, 1]
    y = low[face, 1] + step % wide[face, 1]
    u, v, w = (one[:, :2][face] for one in (a, b, c))
    area = size[face]
    shares = np.stack([_cross(v, w, x, y), _cross(w, u, x, y), _cross(u, v, x, y)])
    hit = (shares * np.sign(area) > 0).all(axis=0)
    shares, area, face = shares[:, hit], area[hit], face[hit]
    z = (shares[0] * a[face, 2] + shares[1] * b[face, 2] + shares[2] * c[face, 2]) / area
    return x[hit], y[hit], z, -np.sign(area).astype(np.int16)


def _cross(a: Array, b: Array, x: Array | Index, y: Array | Index) -> Array:
    """Twice the area of the triangle a, b, (x, y)."""
    return np.asarray((b[:, 0] - a[:, 0]) * (y - a[:, 1]) - (b[:, 1] - a[:, 1]) * (x - a[:, 0]))


def distances(grid: Grid, seeds: Index) -> NDArray[np.int32]:
    """Shortest way inside from the seeds (flat indices) to each voxel, in thirds of a pitch, or FAR."""
    offsets, cost = grid.neighbours()
    unseen = grid.inside.ravel().copy()
    found = np.full(unseen.size, FAR, np.int32)
    waiting: defaultdict[int, list[Index]] = defaultdict(list)
    waiting[0].append(seeds)
    now = 0
    while waiting:
        reached = np.concatenate(waiting.pop(now, [np.zeros(0, np.int64)]))
        reached = np.unique(reached[unseen[reached]])
        unseen[reached] = False
        found[reached] = now
        if len(reached):
            for price in (CHAMFER, CHAMFER + 1, CHAMFER + 2):
                ahead = (reached[:, None] + offsets[cost == price]).ravel()
                ahead = ahead[unseen[ahead]]
                if len(ahead):
                    waiting[now + price].append(ahead)
        now += 1
    return found
