"""Parallel projection of the mold onto a picture, true to scale."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from builder.model import Vec3

F32 = NDArray[np.float32]
F64 = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """A parallel projection. `right`, `up` and `toward` (to the viewer) are orthogonal, of length 1.

    Pixel (column, row) covers [column, column + 1) x [row, row + 1); `centre_mm` is seen at the middle.
    """

    centre_mm: Vec3
    right: Vec3
    up: Vec3
    toward: Vec3
    mm_per_px: float
    width_px: int
    height_px: int

    def coarser(self, times: int) -> Camera:
        """The same view with `times` fewer pixels each way."""
        width, height = self.width_px // times, self.height_px // times
        return replace(self, mm_per_px=self.mm_per_px * times, width_px=width, height_px=height)

    def cropped(self, left: int, top: int, right: int, bottom: int) -> Camera:
        """The view of the pixels from column `left` and row `top` on, up to `right` and `bottom`."""
        across = ((left + right) / 2 - self.width_px / 2) * self.mm_per_px
        down = ((top + bottom) / 2 - self.height_px / 2) * self.mm_per_px
        centre = self.centre_mm + across * np.array(self.right) - down * np.array(self.up)
        middle = (float(centre[0]), float(centre[1]), float(centre[2]))
        return replace(self, centre_mm=middle, width_px=right - left, height_px=bottom - top)

    def project(self, points_mm: F64) -> F64:
        """Pixel coordinates (n, 2) of points (n, 3)."""
        away = np.asarray(points_mm, dtype=np.float64) - self.centre_mm
        x = self.width_px / 2 + away @ np.array(self.right) / self.mm_per_px
        y = self.height_px / 2 - away @ np.array(self.up) / self.mm_per_px
        return np.stack([x, y], axis=-1)

    def away_mm(self, lowest: F64, highest: F64) -> float:
        """How far before the centre rays start so that the whole box lies ahead of them."""
        middle = (lowest + highest) / 2
        return float(np.linalg.norm(highest - lowest) + np.linalg.norm(middle - self.centre_mm))

    def origins(self, x: F32, y: F32, distance_mm: float) -> F32:
        """Where the rays of pixel coordinates x, y (n,) start, `distance_mm` before the centre; (n, 3)."""
        out = np.empty((len(x), 3), dtype=np.float32)
        for axis, start in enumerate(self._starts(x, y, distance_mm)):
            out[:, axis] = start
        return out

    def ends(self, x: F32, y: F32, distance_mm: float, depth_mm: F32) -> F32:
        """Where rays that start there are after `depth_mm` (n,); (3, n)."""
        starts = zip(self._starts(x, y, distance_mm), np.array(self.toward, dtype=np.float32), strict=True)
        return np.stack([start - depth_mm * toward for start, toward in starts])

    def _starts(self, x: F32, y: F32, distance_mm: float) -> Iterator[F32]:
        """Each of the three coordinates (n,) of where rays start."""
        right, down = self.mm_per_px * np.array(self.right), -self.mm_per_px * np.array(self.up)
        start = self.centre_mm + distance_mm * np.array(self.toward)
        corner = start - self.width_px / 2 * right - self.height_px / 2 * down
        steps = (some.astype(np.float32) for some in (right, down, corner))
        for across, below, first in zip(*steps, strict=True):
            yield np.asarray(x * across + y * below + first)


def look(azimuth_deg: float, elevation_deg: float) -> tuple[Vec3, Vec3, Vec3]:
    """Right, up and toward of a view from an azimuth (0 = from -y, turning to +x) and an elevation.

    >>> right, up, toward = look(0, 0)
    >>> [tuple(round(c) for c in v) for v in (right, up, toward)]
    [(1, 0, 0), (0, 0, 1), (0, -1, 0)]
    """
    a, e = math.radians(azimuth_deg), math.radians(elevation_deg)
    toward = (math.sin(a) * math.cos(e), -math.cos(a) * math.cos(e), math.sin(e))
    right = (math.cos(a), math.sin(a), 0.0)
    up = (-math.sin(a) * math.sin(e), math.cos(a) * math.sin(e), math.cos(e))
    return right, up, toward


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """The paper: a width, the tallest height allowed, and free margins (left, top, right, bottom) in px."""

    width_px: int
    tallest_px: int
    margins_px: tuple[int, int, int, int] = (12, 12, 12, 12)


def fit(points_mm: F64, axes: tuple[Vec3, Vec3, Vec3], frame: Frame) -> Camera:
    """The camera along these axes that shows all points (n, 3) as large as the frame allows.

    The picture is as low as its content lets it be.
    """
    right, up, toward = (np.array(axis) for axis in axes)
    x, y = points_mm @ right, points_mm @ up
    left_px, top_px, right_px, bottom_px = frame.margins_px
    free_x, free_y = frame.width_px - left_px - right_px, frame.tallest_px - top_px - bottom_px
    scale = max(np.ptp(x) / free_x, np.ptp(y) / free_y, 1e-6)
    height = min(frame.tallest_px, math.ceil(np.ptp(y) / scale) + top_px + bottom_px)
    height += height % 2
    middle_x = (x.min() + x.max()) / 2 + (right_px - left_px) / 2 * scale
    middle_y = (y.min() + y.max()) / 2 + (top_px - bottom_px) / 2 * scale
    depth = (points_mm @ toward).mean()
    centre = middle_x * right + middle_y * up + depth * toward
    return Camera(
        centre_mm=(float(centre[0]), float(centre[1]), float(centre[2])),
        right=axes[0],
        up=axes[1],
        toward=axes[2],
        mm_per_px=float(scale),
        width_px=frame.width_px,
        height_px=int(height),
    )
