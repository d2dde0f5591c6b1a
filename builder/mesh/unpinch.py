"""Edges that more than two facets share: which facets belong together, so that bodies that touch part."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

Faces = NDArray[np.int32]
Points = NDArray[np.float64]
Index = NDArray[np.int64]

SAME_RAD = 1e-3
"""Facets at a smaller angle lie on each other: the wedge between them is no solid, but all round it."""
ROUNDS = 20
TIE = 1e-4
"""Where bodies have a face in common, the facets that lie together in the file belong together."""


def unpinched(vertices: Points, faces: Faces) -> tuple[Points, Faces]:
    """The closed mesh with vertices (n, 3) of their own for each body or fold that only touches another.

    Every edge of the result is shared by exactly two facets: those with the solid between them. The mesh
    must be wound alike, with as many facets one way along each edge as the other way.
    """
    forth, back = _paired(vertices, faces)
    return _apart(vertices, faces, forth, back)


def without_twins(vertices: Points, faces: Faces) -> tuple[Points, Faces]:
    """The unpinched mesh with no two edges between the same two vertices, as those of a fold are.

    Each but the first of them gets a vertex in its middle.
    """
    for _ in range(ROUNDS):
        forth, back = _paired(vertices, faces)
        twins = _twins(faces, forth)
        if not len(twins):
            break
        vertices, faces = unpinched(*_halved(vertices, faces, forth[twins], back[twins]))
    return vertices, faces


def _apart(vertices: Points, faces: Faces, forth: Index, back: Index) -> tuple[Points, Faces]:
    """A vertex for all corners that facets have in common over their edges."""
    corners = np.arange(3 * len(faces)).reshape(-1, 3)
    (f, i), (g, j) = (np.divmod(half, 3) for half in (forth, back))
    rows = np.concatenate([corners[f, i], corners[f, (i + 1) % 3]])
    columns = np.concatenate([corners[g, (j + 1) % 3], corners[g, j]])
    graph = coo_array((np.ones(len(rows), np.int8), (rows, columns)), shape=(corners.size, corners.size))
    label = connected_components(graph, directed=False)[1]
    first = np.unique(label, return_index=True)[1]
    return vertices[faces.ravel()[first]], label[corners].astype(np.int32)


def _twins(faces: Faces, forth: Index) -> Index:
    """Which edges run between the same two vertices as another one before them, as those of a fold do."""
    start, end = faces.ravel()[forth], faces[forth // 3, (forth + 1) % 3]
    key = start.astype(np.int64) * (int(faces.max(initial=0)) + 1) + end
    return np.setdiff1d(np.arange(len(key)), np.unique(key, return_index=True)[1])


def _halved(vertices: Points, faces: Faces, forth: Index, back: Index) -> tuple[Points, Faces]:
    """The mesh with a vertex in the middle of some edges; of two edges of one facet, of the first only."""
    taken: set[int] = set()
    points, changed, added = list[Points](), faces.copy(), list[tuple[int, int, int]]()
    for one, two in zip(forth.tolist(), back.tolist(), strict=True):
        if taken & {one // 3, two // 3}:
            continue
        taken |= {one // 3, two // 3}
        middle = len(vertices) + len(points)
        for half in (one, two):
            start, end, across = (int(faces[half // 3, (half + k) % 3]) for k in range(3))
            changed[half // 3] = (start, middle, across)
            added.append((middle, end, across))
        points.append((vertices[start] + vertices[end]) / 2)
    return np.concatenate([vertices, points]), np.concatenate([changed, np.array(added, np.int32)])


def _paired(vertices: Points, faces: Faces) -> tuple[Index, Index]:
    """Half-edges (facet * 3 + corner) from the lower vertex up, each with the one that belongs to it."""
    ends = np.stack([faces, np.roll(faces, -1, axis=1)], axis=2).reshape(-1, 2).astype(np.int64)
    size = int(faces.max(initial=0)) + 1
    forth = np.flatnonzero(ends[:, 0] < ends[:, 1])
    back = np.flatnonzero(ends[:, 0] > ends[:, 1])
    keys = ends.min(axis=1) * size + ends.max(axis=1)
    forth = forth[np.argsort(keys[forth], kind="stable")]
    back = back[np.argsort(keys[back], kind="stable")]
    _, first, count = np.unique(keys[forth], return_index=True, return_counts=True)
    for k in np.unique(count[count > 1]):
        here = first[count == k][:, None] + np.arange(k)
        back[here] = np.take_along_axis(back[here], _matched(vertices, faces, forth[here], back[here]), 1)
    return forth, back


def _matched(vertices: Points, faces: Faces, forth: Index, back: Index) -> Index:
    """For each facet (m, k) that runs forth along its edge, the facet back along it that belongs to it.

    That with the least solid between: seen along the edge, a facet that runs back starts a wedge of solid
    anticlockwise, one that runs forth ends it.
    """
    a, b = (vertices[faces[forth[:, 0] // 3, (forth[:, 0] + step) % 3]] for step in (0, 1))
    axis = b - a
    aside = np.cross(axis, np.eye(3)[np.argmin(np.abs(axis), axis=1)])
    across = np.cross(axis, aside) / np.linalg.norm(axis, axis=1)[:, None]
    end, start = (
        np.arctan2(np.einsum("mki,mi->mk", to, across), np.einsum("mki,mi->mk", to, aside))
        for to in (vertices[faces[half // 3, (half + 2) % 3]] - a[:, None] for half in (forth, back))
    )
    wedge = (end[:, :, None] - start[:, None, :] - SAME_RAD) % (2 * np.pi)
    wedge += TIE * np.abs(forth[:, :, None] - back[:, None, :]) / (3 * len(faces))
    if wedge.shape[1] == 2:
        crossed = wedge[:, 0, 1] + wedge[:, 1, 0] < wedge[:, 0, 0] + wedge[:, 1, 1]
        return np.column_stack([crossed, ~crossed]).astype(np.int64)
    return np.array([linear_sum_assignment(one)[1] for one in wedge], np.int64)
