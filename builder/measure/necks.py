"""Where the flow narrows and widens again: the plastic as segments that hang together at necks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from builder.measure.tree import Tree

Index = NDArray[np.int64]
Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Neck:
    """A narrow place at a node of the tree; the flow passes it from one segment to another."""

    node: int
    before: int
    after: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Segments:
    """The plastic cut at its necks; segment 0 holds the sprue. Segments may meet at several necks."""

    volume_mm3: Array
    necks: tuple[Neck, ...]

    def around(self, segment: int) -> list[Neck]:
        """Necks of a segment."""
        return [neck for neck in self.necks if segment in (neck.before, neck.after)]


def segments(tree: Tree, contrast: float, start_mm: float) -> Segments:
    """Cut the tree where the radius falls and then grows by `contrast`, `start_mm` or more from the mouth.

    Where flows meet again beyond different necks, what lies there is one segment.
    """
    nodes = sorted(_necks(tree, contrast, start_mm))
    of_node = np.zeros(len(tree.parent), np.int64)
    number = {node: k + 1 for k, node in enumerate(nodes)}
    for node in range(1, len(of_node)):
        of_node[node] = number.get(node, of_node[tree.parent[node]])
    before = of_node[tree.parent[nodes]] if nodes else np.zeros(0, np.int64)
    meet = of_node[tree.joins]
    size = len(nodes) + 1
    graph = coo_array((np.ones(len(meet), np.int8), (meet[:, 0], meet[:, 1])), shape=(size, size))
    _, merged = connected_components(graph, directed=False)
    volume = np.bincount(merged[of_node], weights=tree.volume_mm3).astype(np.float64)
    ends = (
        (node, int(merged[up]), int(merged[number[node]])) for node, up in zip(nodes, before, strict=True)
    )
    necks = tuple(Neck(node=node, before=a, after=b) for node, a, b in ends if a != b)
    return Segments(volume_mm3=volume, necks=necks)


def _necks(tree: Tree, contrast: float, start_mm: float) -> set[int]:
    """Nodes of least radius between a fall and a rise by `contrast`, seen from the sprue."""
    size = len(tree.parent)
    rising = np.zeros(size, bool)
    extreme = np.full(size, np.inf)
    at = np.arange(size)
    found: set[int] = set()
    for node in range(1, size):
        up, radius = tree.parent[node], tree.radius_mm[node]
        rising[node], extreme[node], at[node] = rising[up], extreme[up], at[up]
        if tree.way_mm[node] < start_mm:
            continue
        if rising[up]:
            if radius >= extreme[up]:
                extreme[node] = radius
            elif radius * contrast < extreme[up]:
                rising[node], extreme[node], at[node] = False, radius, node
        elif radius <= extreme[up]:
            extreme[node], at[node] = radius, node
        elif radius > contrast * extreme[up]:
            found.add(int(at[up]))
            rising[node], extreme[node] = True, radius
    return found
