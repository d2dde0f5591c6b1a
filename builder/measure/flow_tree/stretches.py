"""Where rays along an axis run inside a solid, exactly: thin places, and what hangs on by them alone."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import connected_components, dijkstra

from builder.measure.flow_tree import voxels
from builder.model import Solid

Array = NDArray[np.float64]
Index = NDArray[np.int64]
Mask = NDArray[np.bool_]

FINEST_MM = 0.2
"""Rays lie so far apart, or farther where there would be more than MOST of them."""
MOST = 1_000_000
LEAST_MM3 = 1.0
"""What is smaller is no pocket, but a corner that the rays miss the way into."""
BRIDGE_MM, LONGEST_MM, MOST_ENDS = 1.0, 60.0, 12
"""A bridge of thin places is so long, and not longer; one that meets the plastic in more places is a web."""
AROUND = 3
"""The way through a throat is taken from so many rays before its middle to so many behind it."""
BESIDE = ((0, 1), (1, 0), (1, 1), (1, -1))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Throat:
    """A thin place between the plastic and a pocket: a point in it, the unit way into the pocket.

    `axis` is the unit vector along which it is thin. A bridge leads back into the plastic itself.
    """

    at: Array
    way: Array
    axis: Array
    is_bridge: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stretches:
    """Stretches of rays inside a solid and the pairs (n, 2) of those that touch; lengths in mm."""

    at_mm: Array
    """Their middles (n, 3)."""
    long_mm: Array
    pairs: Index
    pitch_mm: float

    def graph(self, among: Mask) -> csr_array:
        """How those of `among` touch, with how far apart they are, mm."""
        one, two = self.pairs[among[self.pairs].all(axis=1)].T
        apart = np.linalg.norm(self.at_mm[one] - self.at_mm[two], axis=1)
        size = len(self.long_mm)
        return coo_array((apart, (one, two)), shape=(size, size)).tocsr()


def throats(solid: Solid, start: Array, thin_mm: float) -> Iterator[Throat]:
    """Thin places by which pockets hang on what holds `start`, as rays along each axis show them; bridges."""
    for axis in range(3):
        found = along(solid, axis)
        if len(found.long_mm):
            yield from _throats(found, np.eye(3)[axis], start, thin_mm)


def along(solid: Solid, axis: int, finest_mm: float = FINEST_MM) -> Stretches:
    """The stretches of rays along an axis that run inside the solid."""
    turned = [(axis + 1) % 3, (axis + 2) % 3, axis]
    points = solid.vertices[:, turned]
    low, size = points.min(axis=0), np.ptp(points, axis=0)
    pitch = max(finest_mm, float(np.sqrt(size[0] * size[1] / MOST)))
    origin = low - pitch * (1 + np.array(voxels.OFF_GRID))
    x, y, z, way = voxels.crossings((points - origin) / pitch, solid.faces)
    wide = int(size[1] / pitch) + 4
    column = x * wide + y
    order = np.lexsort((z, column))
    x, y, z, way, column = x[order], y[order], z[order], way[order], column[order]
    depth = np.cumsum(way)
    begins, ends = np.flatnonzero((way > 0) & (depth == 1)), np.flatnonzero((way < 0) & (depth == 0))
    count = min(len(begins), len(ends))
    begins, ends = begins[:count], ends[:count]
    middle = np.stack([x[begins], y[begins], (z[begins] + z[ends]) / 2], axis=1) * pitch + origin
    pairs = _touching(column[begins], z[begins], z[ends], wide)
    return Stretches(
        at_mm=middle[:, np.argsort(turned)],
        long_mm=(z[ends] - z[begins]) * pitch,
        pairs=pairs,
        pitch_mm=pitch,
    )


def _touching(column: Index, low: Array, high: Array, wide: int) -> Index:
    """Pairs of stretches in neighbouring columns (sorted) that overlap."""
    found = []
    for across, aside in BESIDE:
        target = column + across * wide + aside
        first = np.searchsorted(column, target, side="left")
        count = np.searchsorted(column, target, side="right") - first
        one = np.repeat(np.arange(len(column)), count)
        two = np.arange(len(one)) - np.repeat(np.cumsum(count) - count, count) + first[one]
        over = np.minimum(high[one], high[two]) > np.maximum(low[one], low[two])
        found.append(np.column_stack([one[over], two[over]]))
    return np.concatenate(found)


def _throats(found: Stretches, axis: Array, start: Array, thin_mm: float) -> Iterator[Throat]:
    """The throats of each pocket: of what is thick and hangs on the thick part at the start by thin ones."""
    thin = found.long_mm <= thin_mm
    if thin.all() or not thin.any():
        return
    _, body = connected_components(found.graph(~thin), directed=False)
    away = np.linalg.norm(found.at_mm - start, axis=1)
    own = body[np.argmin(np.where(thin, np.inf, away))]
    size = np.bincount(body, weights=np.where(thin, 0.0, found.long_mm)) * found.pitch_mm**2
    films = found.graph(thin)
    at_own = _beside(found, thin, ~thin & (body == own))
    for pocket in np.flatnonzero(size > LEAST_MM3):
        if pocket != own:
            at_pocket = _beside(found, thin, ~thin & (body == pocket))
            yield from _ways(found, films, at_own, at_pocket, axis)
    yield from _bridges(found, films, at_own, axis)


def _beside(found: Stretches, thin: Mask, body: Mask) -> Mask:
    """The thin stretches that touch a body."""
    one, two = found.pairs.T
    mask = np.zeros(len(thin), bool)
    mask[one[body[two]]] = True
    mask[two[body[one]]] = True
    return mask & thin


def _ways(found: Stretches, films: csr_array, at_own: Mask, at_pocket: Mask, axis: Array) -> Iterator[Throat]:
    """For each place where thin stretches meet a pocket, the middle of the shortest way to the plastic."""
    if not at_own.any() or not at_pocket.any():
        return
    far, before, _ = dijkstra(
        films, directed=False, indices=np.flatnonzero(at_own), return_predecessors=True, min_only=True
    )
    _, place = connected_components(found.graph(at_pocket), directed=False)
    reached = np.flatnonzero(at_pocket & np.isfinite(far))
    for one in np.unique(place[reached]):
        mine = reached[place[reached] == one]
        throat = _middle(found, _back(before, int(mine[np.argmin(far[mine])])), axis)
        if throat is not None:
            yield throat


def _back(before: NDArray[np.int32], node: int) -> list[int]:
    """The way back from a stretch to where it began."""
    way = [node]
    while before[way[-1]] >= 0:
        way.append(int(before[way[-1]]))
    return way


def _middle(found: Stretches, way: list[int], axis: Array, is_bridge: bool = False) -> Throat | None:
    """The throat in the middle of a way that begins at the pocket; None where it is too short to tell."""
    middle = len(way) // 2
    behind, ahead = way[max(middle - AROUND, 0)], way[min(middle + AROUND, len(way) - 1)]
    step = found.at_mm[behind] - found.at_mm[ahead]
    if not step.any():
        return None
    towards = step / np.linalg.norm(step)
    return Throat(at=found.at_mm[way[middle]], way=towards, axis=axis, is_bridge=is_bridge)


def _bridges(found: Stretches, films: csr_array, at_own: Mask, axis: Array) -> Iterator[Throat]:
    """The middles of thin places that meet the plastic at several ends, from each end to the nearest one."""
    _, film = connected_components(films, directed=False)
    _, end = connected_components(found.graph(at_own), directed=False)
    own = np.flatnonzero(at_own)
    pairs = np.unique(np.column_stack([film[own], end[own]]), axis=0)
    which, count = np.unique(pairs[:, 0], return_counts=True)
    for one in which[(count > 1) & (count <= MOST_ENDS)]:
        for here in pairs[pairs[:, 0] == one, 1]:
            mine = own[film[own] == one]
            far, before, _ = dijkstra(
                films,
                directed=False,
                indices=mine[end[mine] == here],
                return_predecessors=True,
                min_only=True,
                limit=LONGEST_MM,
            )
            others = mine[(end[mine] != here) & (far[mine] > BRIDGE_MM) & np.isfinite(far[mine])]
            if len(others):
                way = _back(before, int(others[np.argmin(far[others])]))
                throat = _middle(found, way, axis, is_bridge=True)
                if throat is not None:
                    yield throat


@dataclass(frozen=True, slots=True, kw_only=True)
class Film:
    """A thin and wide place between what is fed and the rest: how thick, how long where it meets the rest."""

    at_mm: tuple[float, float, float]
    thick_mm: float
    wide_mm: float


def film_behind(
    rays: Sequence[Stretches], starts: Sequence[Array], thin_mm: float, most_share: float
) -> Film | None:
    """The film by which most of a solid hangs on what holds the `starts`, `most_share` of it at most.

    `rays` are its stretches along each axis. None where nothing so large hangs on a place so thin.
    """
    for found in rays:
        thin = found.long_mm <= thin_mm
        if thin.all() or not thin.any():
            continue
        _, body = connected_components(found.graph(~thin), directed=False)
        size = np.bincount(body, weights=np.where(thin, 0.0, found.long_mm))
        away = (np.linalg.norm(found.at_mm - start, axis=1) for start in starts)
        own = {int(body[np.argmin(np.where(thin, np.inf, far))]) for far in away}
        rest = int(np.argmax(size))
        if rest in own or size[rest] < (1.0 - most_share) * float(found.long_mm.sum()):
            continue
        _, film = connected_components(found.graph(thin), directed=False)
        at_own, at_rest = (_beside(found, thin, ~thin & np.isin(body, some)) for some in ([*own], [rest]))
        joined = np.flatnonzero(at_rest & np.isin(film, film[at_own]))
        if len(joined):
            x, y, z = found.at_mm[joined[np.argmin(np.linalg.norm(found.at_mm[joined] - starts[0], axis=1))]]
            thick = float(np.median(found.long_mm[joined]))
            return Film(at_mm=(x, y, z), thick_mm=thick, wide_mm=len(joined) * found.pitch_mm)
    return None


def film_between(
    rays: Sequence[Stretches], starts: Sequence[Array], thin_mm: float, least_share: float
) -> Throat | None:
    """The middle of a film that alone joins what holds one start to what holds another, the way to the later.

    Each of both is more than `least_share` of all. None where nothing so thin joins them.
    """
    for axis, found in enumerate(rays):
        thin = found.long_mm <= thin_mm
        if thin.all() or not thin.any():
            continue
        _, body = connected_components(found.graph(~thin), directed=False)
        size = np.bincount(body, weights=np.where(thin, 0.0, found.long_mm)) / found.long_mm.sum()
        away = (np.linalg.norm(found.at_mm - start, axis=1) for start in starts)
        own = [int(body[np.argmin(np.where(thin, np.inf, far))]) for far in away]
        ends = list(dict.fromkeys(one for one in own if size[one] > least_share))
        if len(ends) < 2:
            continue
        first, second = (_beside(found, thin, ~thin & (body == end)) for end in ends[:2])
        ways = list(_ways(found, found.graph(thin), first, second, np.eye(3)[axis]))
        if ways:
            return ways[len(ways) // 2]
    return None
