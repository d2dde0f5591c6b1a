"""The plastic as a tree of level sets of the way from the sprue: what the flow meets, in its order."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import label

from builder.measure.flow_tree.voxels import CHAMFER, FAR, Grid, Index, distances

Array = NDArray[np.float64]

LEVEL_VOXELS = 2
"""Thickness of a level, in voxels."""
BLOCK = 1 << 16
"""So many voxels are looked at together: what is worked out beside them takes little memory then."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tree:
    """Nodes in flow order (parents first). `parent` is -1 at the root; `joins` are further links (loops)."""

    at_mm: Array
    volume_mm3: Array
    radius_mm: Array
    """Largest inscribed sphere that touches the node, from the grid: a rough guide only."""
    way_mm: Array
    parent: Index
    joins: Index
    """Pairs (n, 2) of nodes that touch without being parent and child."""

    def children(self) -> list[list[int]]:
        """Each node's children."""
        below: list[list[int]] = [[] for _ in self.parent]
        for node, parent in enumerate(self.parent):
            if parent >= 0:
                below[parent].append(node)
        return below

    def back(self, node: int) -> list[int]:
        """The way from a node back to the root, both with it."""
        way = [node]
        while self.parent[way[-1]] >= 0:
            way.append(int(self.parent[way[-1]]))
        return way

    def upstream(self, node: int, reach_mm: float) -> int:
        """The node so far towards the sprue."""
        start = self.way_mm[node]
        while self.parent[node] > 0 and start - self.way_mm[node] < reach_mm:
            node = int(self.parent[node])
        return node

    def downstream(self, node: int, reach_mm: float) -> int:
        """The node so far from the sprue, along the children that feed most."""
        start, below, beyond = self.way_mm[node], self.children(), self.beyond_mm3()
        while below[node] and self.way_mm[node] - start < reach_mm:
            node = max(below[node], key=lambda child: beyond[child])
        return node

    def beyond_mm3(self) -> Array:
        """Volume of each node and all that it feeds."""
        total = self.volume_mm3.copy()
        for node in range(len(total) - 1, 0, -1):
            if self.parent[node] >= 0:
                total[self.parent[node]] += total[node]
        return total


def grow(grid: Grid, seeds: Index) -> Tree:
    """The tree from the seed voxels (flat indices)."""
    way = distances(grid, seeds)
    wet = np.flatnonzero(way != FAR)
    raw, level = _bands(grid, way)[wet], way[wet] // (CHAMFER * LEVEL_VOXELS)
    first = np.unique(raw, return_index=True)[1]
    order = np.lexsort((first, level[first]))
    rank = np.empty(len(order), np.int32)
    rank[order] = np.arange(len(order), dtype=np.int32)
    node = rank[raw - 1]
    del raw, level
    parent, joins = _links(grid, wet, node, len(order))
    depth = _depths(grid, wet)
    depth *= grid.pitch_mm
    count = np.bincount(node)
    radius = np.zeros(len(count))
    np.maximum.at(radius, node, depth)
    del depth
    centres = (grid.origin[k] + grid.pitch_mm * grid.along(wet, k) for k in range(3))
    return Tree(
        at_mm=np.stack([np.bincount(node, weights=centre) / count for centre in centres], axis=1),
        volume_mm3=count.astype(np.float64) * grid.pitch_mm**3,
        radius_mm=radius,
        way_mm=np.bincount(node, weights=way[wet]) / count * grid.pitch_mm / CHAMFER,
        parent=parent,
        joins=joins,
    )


def _bands(grid: Grid, way: NDArray[np.int32]) -> NDArray[np.int32]:
    """For each voxel a number from 1 of the connected piece of its level, 0 where no way leads.

    The longest step (CHAMFER + 2) is shorter than a level, so that neighbours are of one level or of two that
    follow each other: the even levels never touch each other, nor do the odd ones.
    """
    numbers, count = np.zeros(way.size, np.int32), 0
    for odd in (False, True):
        mask = (way != FAR) & ((way // (CHAMFER * LEVEL_VOXELS) % 2 == 1) == odd)
        found, more = label(mask.reshape(grid.inside.shape), np.ones((3, 3, 3)))
        numbers[mask] = found.ravel()[mask] + count
        count += more
    return numbers


def _depths(grid: Grid, wet: Index) -> Array:
    """Distance (voxels) of inside voxels to the nearest outside one.

    Squares are summed axis by axis (as Felzenszwalb & Huttenlocher 2012), each as far as it can still help,
    and only inside: most of the grid round a thin bait is outside.
    """
    squares = np.full(len(wet), FAR, np.int32)
    for stride in np.argsort(grid.inside.strides):
        squares = _nearer(grid, wet, squares, grid.inside.strides[stride])
    return np.sqrt(squares)


def _nearer(grid: Grid, wet: Index, squares: NDArray[np.int32], stride: int) -> NDArray[np.int32]:
    """Squares of distances, given those without the steps along one axis; the empty rim ends each way."""
    known = np.zeros(grid.inside.size, np.int32)
    known[wet] = squares
    blocks = range(0, len(wet), BLOCK)
    return (
        np.concatenate([_stepped(known, wet[k : k + BLOCK], stride) for k in blocks]) if len(wet) else squares
    )


def _stepped(known: NDArray[np.int32], wet: Index, stride: int) -> NDArray[np.int32]:
    """The least squares of these voxels with steps along one axis."""
    nearest, waiting, step = known[wet], np.arange(len(wet)), 1
    while len(waiting):
        at = wet[waiting]
        before, after = known[at - step * stride], known[at + step * stride]
        found = np.minimum(before, after).astype(np.int64) + step**2
        nearest[waiting] = np.minimum(nearest[waiting], found)
        step += 1
        waiting = waiting[nearest[waiting] > step**2]
    return nearest


def _links(grid: Grid, wet: Index, node: NDArray[np.int32], size: int) -> tuple[Index, Index]:
    """Each node's parent (the earlier node it touches most), and the other links.

    Nodes are numbered level by level: of two that touch, the one with the smaller number is nearer the sprue.
    """
    at = np.full(grid.inside.size, -1, np.int32)
    at[wet] = node
    offsets = grid.neighbours()[0]
    found, counts = [], []
    for offset in offsets[offsets > 0]:
        other = at[wet + offset]
        touch = (other >= 0) & (other != node)
        one, two = node[touch], other[touch]
        keys, times = np.unique(
            np.maximum(one, two).astype(np.int64) * size + np.minimum(one, two), return_counts=True
        )
        found.append(keys)
        counts.append(times)
    key, place = np.unique(np.concatenate(found), return_inverse=True)
    count = np.bincount(place, weights=np.concatenate(counts), minlength=len(key)).astype(np.int64)
    child, elder = key // size, key % size
    parent = np.full(size, -1, np.int64)
    best = np.lexsort((elder, -count, child))
    first = best[np.unique(child[best], return_index=True)[1]]
    parent[child[first]] = elder[first]
    rest = np.setdiff1d(np.arange(len(key)), first)
    return parent, np.column_stack([elder[rest], child[rest]])
