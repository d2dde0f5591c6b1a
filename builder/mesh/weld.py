"""Triangles to a closed, outward-oriented solid: welds vertices, drops doubles, locates open edges."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from builder.base import limits
from builder.mesh.stl import fault
from builder.mesh.unpinch import unpinched

Faces = NDArray[np.int32]
Points = NDArray[np.float64]

ROUNDING = 3e-8
"""Half of the last place of a 32-bit number, as a share of it."""
WELD_SHARE = 2e-6
"""Open edges are closed by welding vertices nearer than this share of the largest size."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Welded:
    """A mesh with shared vertices; counts of facets left out and of edges shared by more than two."""

    vertices: Points
    faces: Faces
    dropped: int
    touching: int


def weld(corners: NDArray[np.floating], file: str) -> Welded:
    """Weld triangles into closed, consistently wound vertices and faces; raises Faults."""
    vertices, faces = _share(corners)
    faces = _without_degenerate(faces)
    single = _without_doubles(faces, file)
    open_edges = _edges(single)[1]
    if len(open_edges) and len(single) < len(faces) and _is_closed(faces):
        open_edges = open_edges[:0]  # bodies that have faces in common, each of them closed
    else:
        faces = single
    if len(open_edges):
        vertices, faces = _close_slits(vertices, faces, open_edges, file)
    _refuse_empty(faces, file)
    touching, open_edges, flipped = _edges(faces)
    if len(open_edges):
        raise fault(
            file,
            _where_open(vertices, open_edges),
            "a closed mesh",
            "close it in the CAD or with a mesh repair tool",
        )
    if flipped:
        what = f"inside and outside are mixed up: facets face against their neighbours at {flipped} edges"
        raise fault(
            file, what, "all facets facing outward", "let the mesh editor recalculate the normals outward"
        )
    if touching:
        faces = _without_folds(vertices, faces)
        _refuse_empty(faces, file)
        dropped = len(corners) - len(faces)
        vertices, faces = unpinched(vertices, faces)
        return Welded(vertices=vertices, faces=faces, dropped=dropped, touching=touching)
    return Welded(vertices=vertices, faces=faces, dropped=len(corners) - len(faces), touching=0)


def _refuse_empty(faces: Faces, file: str) -> None:
    """Raise where no facet is left."""
    if not len(faces):
        raise fault(
            file, "the mesh encloses no volume", "a solid part", "thicken it in the CAD and export it again"
        )


def body_labels(faces: Faces, count: int) -> tuple[int, NDArray[np.int32]]:
    """How many separate shells, and each vertex's shell."""
    ends = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]]])
    graph = coo_array((np.ones(len(ends), np.int8), (ends[:, 0], ends[:, 1])), shape=(count, count))
    found, labels = connected_components(graph, directed=False)
    return int(found), labels.astype(np.int32)


def signed_volumes(vertices: Points, faces: Faces) -> Points:
    """Each facet's signed share (f,) of the enclosed volume; their sum is the volume."""
    a, b, c = (vertices[faces[:, k]] - vertices.mean(axis=0) for k in range(3))
    return np.asarray(np.einsum("ij,ij->i", a, np.cross(b, c)) / 6.0)


def _share(corners: NDArray[np.floating]) -> tuple[Points, Faces]:
    """Equal corners become one vertex (exact equality of the file's own 32-bit numbers).

    Numbers below the rounding of the largest are zero: 1e-16 beside 0 is the CAD's rounding.
    """
    flat = np.ascontiguousarray(corners.reshape(-1, 3).astype(np.float32) + np.float32(0))
    flat[np.abs(flat) < ROUNDING * np.abs(flat).max(initial=0.0)] = 0.0
    bits = flat.view(np.uint32).astype(np.uint64)
    key = bits[:, 0] * np.uint64(0x9E3779B97F4A7C15) ^ bits[:, 1] * np.uint64(0xC2B2AE3D27D4EB4F)
    key = (key ^ (key >> np.uint64(29))) * np.uint64(0xBF58476D1CE4E5B9) ^ bits[:, 2] * np.uint64(
        0x165667B19E3779F9
    )
    _, first, index = np.unique(key, return_index=True, return_inverse=True)
    if not np.array_equal(flat[first[index]], flat):  # two different corners share a key: sort them all
        points, index = np.unique(flat, axis=0, return_inverse=True)
        return points.astype(np.float64), index.reshape(-1, 3).astype(np.int32)
    return flat[first].astype(np.float64), index.reshape(-1, 3).astype(np.int32)


def _without_degenerate(faces: Faces) -> Faces:
    """Facets with three different vertices."""
    a, b, c = faces.T
    return np.asarray(faces[(a != b) & (b != c) & (c != a)])


def _without_doubles(faces: Faces, file: str) -> Faces:
    """The facets without copies of one; raises Faults when the complete mesh is in the file twice.

    A facet and its reverse both stay: they are where two bodies touch, or a fold.
    """
    group, sign = _alike(faces)
    count = np.bincount(group)
    if count.max(initial=1) == 1:
        return faces
    net = np.bincount(group, weights=sign)
    doubled = int((np.abs(net) > 1).sum())
    if doubled > 0.5 * len(count):
        what = f"the part lies in the file twice ({doubled} of {len(count)} facets are doubled)"
        raise fault(file, what, "one copy of the part", "delete the second copy and export it again")
    first = (net[group] == 0) & (count[group] == 2)
    for want in (1, -1):  # one facet of the winning side of each other group
        mine = np.flatnonzero((sign == want) & (np.sign(net[group]) == want))
        first[mine[np.unique(group[mine], return_index=True)[1]]] = True
    return np.asarray(faces[first])


def _alike(faces: Faces) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """A number (f,) for each facet, the same for those of the same corners, and which way round it goes."""
    ordered = np.sort(faces, axis=1).astype(np.int64)
    size = int(faces.max(initial=0)) + 1
    _, low = np.unique(ordered[:, 0] * size + ordered[:, 1], return_inverse=True)
    _, group = np.unique(low * size + ordered[:, 2], return_inverse=True)
    a, b, c = faces.T
    return group, np.where(((a > b) ^ (b > c) ^ (a > c)), -1, 1)  # even or odd order of the three corners


def _without_folds(vertices: Points, faces: Faces) -> Faces:
    """The facets without those of one body that lie on each other, back to back."""
    group, sign = _alike(faces)
    twice = (np.bincount(group)[group] == 2) & (np.bincount(group, weights=sign)[group] == 0)
    if not twice.any():
        return faces
    own = unpinched(vertices, faces)[1]
    body = body_labels(own, int(own.max()) + 1)[1][own[:, 0]]
    alike = np.zeros((int(group.max()) + 1, 2), np.int64)
    order = np.flatnonzero(twice)[np.argsort(group[twice], kind="stable")]
    alike[group[order[::2]]] = np.column_stack([body[order[::2]], body[order[1::2]]])
    return np.asarray(faces[~(twice & (alike[group, 0] == alike[group, 1]))])


def _edges(faces: Faces) -> tuple[int, NDArray[np.int64], int]:
    """How many edges more than two facets share, the open edges (n, 2), how many are wound twice alike."""
    ends = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]).astype(np.int64)
    size = int(faces.max(initial=0)) + 1
    low, high = ends.min(axis=1), ends.max(axis=1)
    keys, group, count = np.unique(low * size + high, return_inverse=True, return_counts=True)
    net = np.bincount(group, weights=np.where(ends[:, 0] < ends[:, 1], 1, -1))
    is_open = count % 2 == 1
    edges = np.column_stack([keys[is_open] // size, keys[is_open] % size])
    return int((count > 2).sum()), edges, int(((net != 0) & ~is_open).sum())


def _is_closed(faces: Faces) -> bool:
    """True if every edge has as many facets one way along it as the other way."""
    _, open_edges, flipped = _edges(faces)
    return not len(open_edges) and not flipped


def _close_slits(vertices: Points, faces: Faces, edges: NDArray[np.int64], file: str) -> tuple[Points, Faces]:
    """Weld vertices of open edges that are all but equal (exporters that round each facet on its own)."""
    rim = np.unique(edges)
    reach = WELD_SHARE * float(np.ptp(vertices, axis=0).max())
    _refuse_crowd(len(rim), _pairs_at_least(vertices[rim], reach), file, "at least ")
    tree = cKDTree(vertices[rim])
    _refuse_crowd(len(rim), (int(tree.count_neighbors(tree, reach)) - len(rim)) // 2, file)
    pairs = tree.query_pairs(reach, output_type="ndarray")
    graph = coo_array((np.ones(len(pairs), np.int8), (pairs[:, 0], pairs[:, 1])), shape=(len(rim), len(rim)))
    labels = connected_components(graph, directed=False)[1]
    first = np.unique(labels, return_index=True)[1]
    target = np.arange(len(vertices))
    target[rim] = rim[first[labels]]
    return vertices, _without_degenerate(target[faces].astype(np.int32))


def _pairs_at_least(points: Points, reach: float) -> int:
    """A number of pairs within reach that is quick to find: those in one cell of a grid of half the reach.

    To count them one by one takes the square of their number where many crowd at just this distance.
    """
    if not len(points) or reach <= 0:
        return 0
    cells = np.floor((points - points.min(axis=0)) / (reach / 2)).astype(np.int64)
    count = np.unique(cells, axis=0, return_counts=True)[1]
    return int((count * (count - 1) // 2).sum())


def _refuse_crowd(corners: int, pairs: int, file: str, about: str = "") -> None:
    """Raise where more corners may be one than there is memory to try."""
    if pairs > limits.OPEN_PAIRS:
        what = f"{corners} corners at open edges crowd together in {about}{pairs} pairs"
        remedy = "close the mesh in the CAD or with a mesh repair tool"
        raise fault(file, what, f"at most {limits.OPEN_PAIRS} pairs", remedy)


def _where_open(vertices: Points, edges: NDArray[np.int64]) -> str:
    """How many holes and where the largest is, in the file's own coordinates."""
    rim, index = np.unique(edges, return_inverse=True)
    index = index.reshape(-1, 2)
    graph = coo_array((np.ones(len(index), np.int8), (index[:, 0], index[:, 1])), shape=(len(rim), len(rim)))
    holes, label = connected_components(graph, directed=False)
    sizes = [float(np.ptp(vertices[rim[label == k]], axis=0).max()) for k in range(min(holes, 1000))]
    worst = int(np.argmax(sizes))
    points = vertices[rim[label == worst]]
    x, y, z = (points.min(axis=0) + points.max(axis=0)) / 2
    many = "a hole" if holes == 1 else f"{holes} holes"
    return (
        f"the mesh has {many} ({len(edges)} open edges); the largest, {sizes[worst]:.2f} across, "
        f"is round ({x:.2f}, {y:.2f}, {z:.2f}) in the file's own coordinates"
    )
