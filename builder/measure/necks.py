"""Where the flow narrows and widens again: the candidate gates in the tree of the plastic."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from builder.measure.tree import Tree

Index = NDArray[np.int64]
Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Segments:
    """The tree cut at its necks: segment 0 holds the sprue, segment k begins at the node neck[k]."""

    of_node: Index
    neck: list[int]
    parent: list[int]
    volume_mm3: Array
    """Each segment's own volume."""
    beyond_mm3: Array
    """Each segment's volume with all that it feeds."""


def segments(tree: Tree, contrast: float, start_mm: float) -> Segments:
    """Cut the tree where the radius falls and then grows by `contrast`, `start_mm` or more from the mouth."""
    necks = sorted(_necks(tree, contrast, start_mm))
    of_node = np.zeros(len(tree.parent), np.int64)
    number = {node: k + 1 for k, node in enumerate(necks)}
    parent = [-1]
    for node in range(1, len(of_node)):
        above = of_node[tree.parent[node]]
        of_node[node] = number.get(node, above)
        if node in number:
            parent.append(int(above))
    volume = np.bincount(of_node, weights=tree.volume_mm3, minlength=len(necks) + 1).astype(np.float64)
    beyond = volume.copy()
    for k in range(len(parent) - 1, 0, -1):
        beyond[parent[k]] += beyond[k]
    return Segments(of_node=of_node, neck=[0, *necks], parent=parent, volume_mm3=volume, beyond_mm3=beyond)


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
