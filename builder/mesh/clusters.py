"""A solid's facets in clusters that lie near each other: those near a plane are found quickly."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from builder.model import Solid

Array = NDArray[np.float64]
Index = NDArray[np.int64]

SIZE = 32
"""Facets of a cluster."""
BITS = 10
"""Cells along each axis of the curve that facets are ordered by, as a power of two."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Clusters:
    """Facets ordered along a curve that fills space, SIZE of them in each of k clusters, which have boxes.

    `order` (k, SIZE) are their numbers in the solid, `corners` (3 axes, 3 corners, k, SIZE) where they lie.
    What the last cluster lacks is filled up with corners that are nowhere.
    """

    order: Index
    corners: Array
    middle: Array
    half: Array

    def near_plane(self, origin: Array, normal: Array) -> tuple[Index, Array]:
        """Facets (n,) of all clusters that a plane passes (unit normal), and their corners (3, 3, n)."""
        away = np.abs((self.middle - origin) @ normal)
        return self._of(np.asarray(away <= (self.half @ np.abs(normal)) * (1 + 1e-9) + 1e-9))

    def _of(self, hit: NDArray[np.bool_]) -> tuple[Index, Array]:
        at = np.flatnonzero(hit)
        return self.order.take(at, axis=0).ravel(), self.corners.take(at, axis=2).reshape(3, 3, -1)


@lru_cache(maxsize=4)
def clustered(solid: Solid) -> Clusters:
    """The solid's facets in clusters; the last few solids' are kept."""
    corners = solid.vertices.T[:, solid.faces.T]
    low, high = corners.min(axis=1), corners.max(axis=1)
    order = np.argsort(_along_curve(low + high), kind="stable")
    starts = np.arange(0, len(order), SIZE)
    low = np.minimum.reduceat(low[:, order], starts, axis=1).T
    high = np.maximum.reduceat(high[:, order], starts, axis=1).T
    padded = np.full((3, 3, len(starts) * SIZE), np.nan)
    padded[:, :, : len(order)] = corners[:, :, order]
    return Clusters(
        order=np.pad(order, (0, len(starts) * SIZE - len(order))).reshape(-1, SIZE),
        corners=padded.reshape(3, 3, -1, SIZE),
        middle=(low + high) / 2,
        half=(high - low) / 2,
    )


def _along_curve(points: Array) -> Index:
    """The place of each point (3, n) on a curve that fills their box (Morton 1966)."""
    low = points.min(axis=1, keepdims=True)
    scale = ((1 << BITS) - 1) / max(float(np.ptp(points, axis=1).max()), 1e-9)
    cell = ((points - low) * scale).astype(np.int64)
    for shift, mask in ((16, 0x30000FF), (8, 0x300F00F), (4, 0x30C30C3), (2, 0x9249249)):
        cell = (cell | cell << shift) & mask
    return np.asarray(cell[0] | cell[1] << 1 | cell[2] << 2)
