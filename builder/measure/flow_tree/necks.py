"""Where the flow narrows and widens again: the plastic as segments that hang together at necks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from builder.measure.flow_tree.tree import Tree

Index = NDArray[np.int64]
Array = NDArray[np.float64]


SAME_MM = 6.0
START_RADII = 1.3
"""Necks are looked for from so many radii of the mouth on: it is no wall, and the room before it no neck."""
FORK_SHARE = 0.3
"""A flow forks where each arm leads to so much of what lies behind the neck."""
WIDENS = 1.05
"""A sprue that only widens from its mouth on, by more than this until there, has no neck at its start."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Neck:
    """A narrow place at a node of the tree, between two segments and on the way from one node to another."""

    node: int
    before: int
    after: int
    way: tuple[int, int]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Segments:
    """The plastic cut at its necks; segment 0 holds the sprue. Segments may meet at several necks."""

    volume_mm3: tuple[float, ...]
    necks: tuple[Neck, ...]
    beside: tuple[frozenset[int], ...]
    """The segments that each segment meets."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Narrowing:
    """Necks that flows pass; for each node the greatest radius before it and the node of the least since."""

    nodes: set[int]
    peak_mm: Array
    least_at: Index


def segments(tree: Tree, contrast: float, mouth_mm: float) -> Segments:
    """Cut the tree where the radius falls and then grows by `contrast`; `mouth_mm` is that of the mouth.

    Where flows meet again beyond different necks, what lies there is one segment, unless they meet in a neck.
    """
    found = _necks(tree, contrast, mouth_mm)
    nodes = sorted(found.nodes)
    of_node = np.zeros(len(tree.parent), np.int64)
    number = {node: k + 1 for k, node in enumerate(nodes)}
    for node in range(1, len(of_node)):
        of_node[node] = number.get(node, of_node[tree.parent[node]])
    least = tree.radius_mm[found.least_at[tree.joins]].min(axis=1)
    narrow = contrast * least < found.peak_mm[tree.joins].min(axis=1)
    meet = of_node[tree.joins[~narrow]]
    size = len(nodes) + 1
    graph = coo_array((np.ones(len(meet), np.int8), (meet[:, 0], meet[:, 1])), shape=(size, size))
    _, merged = connected_components(graph, directed=False)
    segment = merged[of_node].astype(np.int64)
    volume = tuple(np.bincount(segment, weights=tree.volume_mm3).tolist())
    passed = [_passed(tree, node, segment) for node in nodes]
    met = _met(tree, found.least_at, tree.joins[narrow], segment)
    necks = tuple(neck for neck in (*passed, *met) if neck.before != neck.after)
    return Segments(volume_mm3=volume, necks=necks, beside=_beside(len(volume), necks))


def _beside(size: int, necks: Sequence[Neck]) -> tuple[frozenset[int], ...]:
    """The segments that each of `size` segments meets at a neck."""
    found: list[set[int]] = [set() for _ in range(size)]
    for neck in necks:
        found[neck.before].add(neck.after)
        found[neck.after].add(neck.before)
    return tuple(map(frozenset, found))


def _passed(tree: Tree, node: int, segment: Index) -> Neck:
    """A neck that one flow passes."""
    reach = max(float(tree.radius_mm[node]), 0.3)
    way = tree.upstream(node, 2.5 * reach), tree.downstream(node, reach)
    return Neck(node=node, before=int(segment[tree.parent[node]]), after=int(segment[node]), way=way)


def _met(tree: Tree, least_at: Index, joins: Index, segment: Index) -> list[Neck]:
    """Necks in which two flows meet: one for each pair of segments and place, the narrowest."""
    found: list[Neck] = []
    narrowest = [min(pair, key=lambda end: (tree.radius_mm[least_at[end]], end)) for pair in joins.tolist()]
    order = np.argsort(tree.radius_mm[least_at[narrowest]], kind="stable") if narrowest else ()
    for k in order:
        here = narrowest[k]
        there = int(joins[k].sum()) - here
        node = int(least_at[here])
        reach = max(float(tree.radius_mm[node]), 0.3)
        past = tree.way_mm[here] - tree.way_mm[node] > reach / 2
        way = tree.upstream(node, 2.5 * reach), here if past else tree.upstream(there, reach)
        neck = Neck(node=node, before=int(segment[here]), after=int(segment[there]), way=way)
        if not any(_same(tree, neck, old) for old in found):
            found.append(neck)
    return found


def _same(tree: Tree, one: Neck, two: Neck) -> bool:
    """True for necks of the same segments at the same place."""
    apart = float(np.linalg.norm(tree.at_mm[one.node] - tree.at_mm[two.node]))
    return {one.before, one.after} == {two.before, two.after} and apart < SAME_MM


def dips(sizes: Sequence[float], share: float) -> list[int]:
    """Which of the sizes along a way are the least between ones that are `share` times as large.

    >>> dips([9.0, 6.0, 5.0, 5.1, 8.0, 7.9, 3.0, 2.0], 1.04)
    [2]
    """
    found: list[int] = []
    high, low = 0.0, None
    for k, size in enumerate(sizes):
        if low is None:
            high = max(high, size)
            low = k if size * share < high else None
        elif size < sizes[low]:
            low = k
        elif size > share * sizes[low]:
            found.append(low)
            high, low = size, None
    return found


def _necks(tree: Tree, contrast: float, mouth_mm: float) -> Narrowing:
    """Where the radius is least between a fall and a rise by `contrast`, seen from the sprue."""
    start_mm = START_RADII * mouth_mm
    size = len(tree.parent)
    rising = np.zeros(size, bool)
    extreme = np.full(size, np.inf)
    peak = np.zeros(size)
    at = np.arange(size)
    found: set[int] = set()
    risen: list[tuple[int, int]] = []
    for node in range(1, size):
        up, radius = tree.parent[node], tree.radius_mm[node]
        rising[node], extreme[node], at[node] = rising[up], extreme[up], at[up]
        if tree.way_mm[node] < start_mm:
            continue
        peak[node] = max(peak[up], radius)
        if rising[up]:
            at[node] = node
            if radius >= extreme[up]:
                extreme[node] = radius
            elif radius * contrast < extreme[up]:
                rising[node], extreme[node] = False, radius
        elif radius <= extreme[up]:
            extreme[node], at[node] = radius, node
        elif radius > contrast * extreme[up]:
            lowest = int(at[up])
            first = tree.way_mm[tree.parent[lowest]] < start_mm
            if not (first and tree.radius_mm[lowest] > WIDENS * mouth_mm):
                found.add(lowest)
                risen.append((node, lowest))
            rising[node], extreme[node], peak[node], at[node] = True, radius, radius, node
    beyond, below = tree.beyond_mm3(), tree.children()
    for rise, lowest in risen:
        found |= _behind_forks(tree, rise, lowest, beyond, below)
    return Narrowing(nodes=found, peak_mm=peak, least_at=at)


def _behind_forks(
    tree: Tree, rise: int, lowest: int, beyond: Array, below: Sequence[Sequence[int]]
) -> set[int]:
    """The narrowest node behind the last fork between a neck and where the flow widens; none without a fork.

    A gate at a runner's side or end begins where the flows part, and may be no narrower than the runner.
    """
    own: list[int] = []
    for node in tree.back(rise)[1:]:
        if sum(beyond[child] > FORK_SHARE * beyond[rise] for child in below[node]) > 1:
            return {min(own, key=lambda node: (tree.radius_mm[node], -node))} if own else set()
        if node == lowest:
            break
        own.append(node)
    return set()
