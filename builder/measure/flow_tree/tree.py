"""The plastic as a tree of level sets of the way from the sprue: what the flow meets, in its order."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from builder.measure.flow_tree.voxels import CHAMFER, FAR, Grid, Index, distances

Array = NDArray[np.float64]

LEVEL_VOXELS = 2
"""Thickness of a level, in voxels."""


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
    level = way[wet] // (CHAMFER * LEVEL_VOXELS)
    number = np.full(grid.inside.size, -1, np.int64)
    number[wet] = np.arange(len(wet))
    one, two = _pairs(grid, number, wet)
    same = level[one] == level[two]
    graph = coo_array((np.ones(same.sum(), np.int8), (one[same], two[same])), shape=(len(wet), len(wet)))
    _, raw = connected_components(graph, directed=False)
    first = np.unique(raw, return_index=True)[1]
    order = np.lexsort((first, level[first]))
    rank = np.empty(len(order), np.int64)
    rank[order] = np.arange(len(order))
    node = rank[raw]
    parent, joins = _links(node, one[~same], two[~same], level)
    depth = _depths(grid, wet) * grid.pitch_mm
    count = np.bincount(node)
    radius = np.zeros(len(count))
    np.maximum.at(radius, node, depth)
    centres = grid.centres(wet)
    return Tree(
        at_mm=np.stack([np.bincount(node, weights=centres[:, k]) / count for k in range(3)], axis=1),
        volume_mm3=count.astype(np.float64) * grid.pitch_mm**3,
        radius_mm=radius,
        way_mm=np.bincount(node, weights=way[wet]) / count * grid.pitch_mm / CHAMFER,
        parent=parent,
        joins=joins,
    )


def _depths(grid: Grid, wet: Index) -> Array:
    """Distance (voxels) of inside voxels to the nearest outside one."""
    nearest = distance_transform_edt(grid.inside, return_distances=False, return_indices=True)
    here = np.unravel_index(wet, grid.inside.shape)
    away = [found.ravel()[wet] - place for found, place in zip(nearest, here, strict=True)]
    return np.asarray(np.sqrt(sum(step.astype(np.float64) ** 2 for step in away)))


def _pairs(grid: Grid, number: Index, wet: Index) -> tuple[Index, Index]:
    """Neighbouring voxels, each pair once, by their numbers."""
    offsets = grid.neighbours()[0]
    ones, twos = [], []
    for offset in offsets[offsets > 0]:
        other = number[wet + offset]
        hit = other >= 0
        ones.append(np.flatnonzero(hit))
        twos.append(other[hit])
    return np.concatenate(ones), np.concatenate(twos)


def _links(node: Index, one: Index, two: Index, level: NDArray[np.int32]) -> tuple[Index, Index]:
    """Each node's parent (the earlier node it touches most), and the other links."""
    early = level[one] < level[two]
    up, down = np.where(early, node[one], node[two]), np.where(early, node[two], node[one])
    size = int(node.max()) + 1
    key, count = np.unique(down * size + up, return_counts=True)
    child, elder = key // size, key % size
    parent = np.full(size, -1, np.int64)
    best = np.lexsort((elder, -count, child))
    first = best[np.unique(child[best], return_index=True)[1]]
    parent[child[first]] = elder[first]
    rest = np.setdiff1d(np.arange(len(key)), first)
    return parent, np.column_stack([elder[rest], child[rest]])
