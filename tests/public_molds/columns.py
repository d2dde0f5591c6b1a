"""The volume of a hollow between parts by straight columns: no boolean, no voxel, nothing of the reader.

Each column runs along z. Where it passes through a part's facets, the part begins or ends; what no part fills
is air. Of the air, the piece that holds a given point is summed up: length times the column's cross-section.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

Array = npt.NDArray[np.float64]
FILM_MM = 2e-3
Spans = dict[tuple[int, int], list[tuple[float, float]]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bounds:
    """Where to look: a box, and planes (point, outward normal) behind which nothing counts. mm."""

    low: tuple[float, float, float]
    high: tuple[float, float, float]
    cuts: tuple[tuple[tuple[float, float, float], tuple[float, float, float]], ...] = ()


def hollow_ml(
    parts: Sequence[Array], bounds: Bounds, seed: tuple[float, float, float], pitch_mm: float
) -> float:
    """The air round the point `seed` between the parts' facets (n, 3, 3), within the bounds, mL."""
    air = _air([_solid(part, bounds, pitch_mm) for part in parts], bounds, pitch_mm)
    kept = _round(air, bounds, seed, pitch_mm)
    return float(sum(top - bottom for bottom, top in kept)) * pitch_mm**2 / 1000.0


def _axes(bounds: Bounds, pitch: float) -> tuple[Array, Array]:
    """The columns' x and y; shifted by an odd share, so that none runs along an edge of the drawing."""
    low, high = np.array(bounds.low), np.array(bounds.high)
    return (
        np.arange(low[0] + pitch * 0.4871, high[0], pitch),
        np.arange(low[1] + pitch * 0.5237, high[1], pitch),
    )


def _solid(facets: Array, bounds: Bounds, pitch: float) -> Spans:
    """For each column, from where to where the part fills it."""
    xs, ys = _axes(bounds, pitch)
    hits: dict[tuple[int, int], list[float]] = {}
    low, high = facets.min(axis=1), facets.max(axis=1)
    first = np.stack([np.searchsorted(xs, low[:, 0]), np.searchsorted(ys, low[:, 1])], axis=1)
    last = np.stack([np.searchsorted(xs, high[:, 0]), np.searchsorted(ys, high[:, 1])], axis=1)
    for facet, (i0, j0), (i1, j1) in zip(facets, first, last, strict=True):
        if i1 <= i0 or j1 <= j0:
            continue
        (ax, ay, az), (bx, by, bz), (cx, cy, cz) = facet
        area = (bx - ax) * (cy - ay) - (cx - ax) * (by - ay)
        if abs(area) < 1e-14:
            continue
        gx, gy = np.meshgrid(xs[i0:i1], ys[j0:j1], indexing="ij")
        u = ((gx - ax) * (cy - ay) - (cx - ax) * (gy - ay)) / area
        v = ((bx - ax) * (gy - ay) - (gx - ax) * (by - ay)) / area
        inside = (u >= 0) & (v >= 0) & (u + v <= 1)
        z = az + u * (bz - az) + v * (cz - az)
        for i, j in zip(*np.nonzero(inside), strict=True):
            hits.setdefault((int(i0 + i), int(j0 + j)), []).append(float(z[i, j]))
    return {key: _pairs(sorted(found)) for key, found in hits.items()}


def _pairs(heights: list[float]) -> list[tuple[float, float]]:
    return [(heights[n], heights[n + 1]) for n in range(0, len(heights) - 1, 2)]


def _air(solids: Sequence[Spans], bounds: Bounds, pitch: float) -> Spans:
    """What no part fills, within the bounds."""
    xs, ys = _axes(bounds, pitch)
    found: Spans = {}
    for i, x in enumerate(xs):
        for j, y in enumerate(ys):
            bottom, top = _limits(float(x), float(y), bounds)
            spans = []
            filled = sorted(span for solid in solids for span in solid.get((i, j), ()))
            for start, end in [*filled, (top, top)]:
                if (
                    min(start, top) - bottom > FILM_MM
                ):  # parts that lie on each other leave no way between them
                    spans.append((bottom, min(start, top)))
                bottom = max(bottom, end)
                if bottom >= top:
                    break
            if spans:
                found[i, j] = spans
    return found


def _limits(x: float, y: float, bounds: Bounds) -> tuple[float, float]:
    """From where to where a column lies within the bounds; empty where the first is not below the second."""
    bottom, top = bounds.low[2], bounds.high[2]
    if not bounds.cuts:
        return bottom, top
    at, normal = np.array(bounds.cuts).transpose(1, 0, 2)
    flat = (x - at[:, 0]) * normal[:, 0] + (y - at[:, 1]) * normal[:, 1]
    steep = np.abs(normal[:, 2]) < 1e-12
    if (flat[steep] > 0).any():
        return top, bottom
    height = at[~steep, 2] - flat[~steep] / normal[~steep, 2]
    upward = normal[~steep, 2] > 0
    return max(bottom, height[~upward].max(initial=bottom)), min(top, height[upward].min(initial=top))


def _round(
    air: Spans, bounds: Bounds, seed: tuple[float, float, float], pitch: float
) -> list[tuple[float, float]]:
    """The spans that hang together with the one at the seed."""
    xs, ys = _axes(bounds, pitch)
    keys = [(key, n) for key, spans in air.items() for n in range(len(spans))]
    number = {key: n for n, key in enumerate(keys)}
    pairs = [
        (number[(i, j), n], number[side, m])
        for (i, j), n in keys
        for side in ((i + 1, j), (i, j + 1))
        for m, other in enumerate(air.get(side, ()))
        if min(air[i, j][n][1], other[1]) > max(air[i, j][n][0], other[0])
    ]
    rows, columns = np.array(pairs, dtype=int).reshape(-1, 2).T
    graph = coo_matrix((np.ones(len(rows)), (rows, columns)), shape=(len(keys), len(keys)))
    _, labels = connected_components(graph, directed=False)
    nearest = (int(np.abs(xs - seed[0]).argmin()), int(np.abs(ys - seed[1]).argmin()))
    at = next(n for n, (low, high) in enumerate(air[nearest]) if low <= seed[2] <= high)
    wanted = labels[number[nearest, at]]
    return [air[key][n] for (key, n), label in zip(keys, labels, strict=True) if label == wanted]
