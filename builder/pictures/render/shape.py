"""A solid made ready for drawing: smooth normals, its round surfaces, and the edges that may be seen."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components

from builder import mesh
from builder.model import Solid

F32 = NDArray[np.float32]
F64 = NDArray[np.float64]
I32 = NDArray[np.int32]
I64 = NDArray[np.int64]
CREASE = math.cos(math.radians(32))
"""Facets that meet flatter than this are one round surface."""
FLAT = 1 - 1e-6
"""Cosine from which on two facets are one plane: their edge is never seen."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shape:
    """A solid made ready for drawing once: `normals` (m, 3, 3) by corner, of length 1."""

    vertices: F64
    faces: I32
    normals: F32
    flat: F32
    """The normal (m, 3) of each triangle, of length 1, or zeros for one without area."""
    surface: I32
    """The number (m,) of the round surface that each triangle is of."""
    edges: I32
    """Edges between facets of different planes (k, 4): two vertices, and the triangles on both sides.

    At an open edge these are the same.
    """


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Joined:
    """Edges as the corners that they start at, with those of the triangle beyond, and which are smooth."""

    edge: I64
    twin: I64
    smooth: NDArray[np.bool_]
    bend: F64


def shape(solid: Solid) -> Shape:
    """The solid made ready for drawing."""
    vertices, faces = solid.vertices, solid.faces
    cross = mesh.crosses(vertices[faces])
    flat = mesh.units(cross)
    joined = _joined(faces, flat)
    return Shape(
        vertices=vertices,
        faces=faces,
        normals=_normals(faces, cross, joined),
        flat=flat.astype(np.float32),
        surface=_numbered(joined.edge[joined.smooth] // 3, joined.twin[joined.smooth] // 3, len(faces)),
        edges=_edges(faces, joined),
    )


def _normals(faces: I32, cross: F64, joined: _Joined) -> F32:
    """Unit normals (m, 3, 3) of each triangle's corners: round over flat edges, sharp over creases."""
    edge, twin = joined.edge[joined.smooth], joined.twin[joined.smooth]
    group = _numbered(edge, twin - twin % 3 + (twin + 1) % 3, faces.size)
    total = np.stack([np.bincount(group, np.repeat(cross[:, c], 3)) for c in range(3)], axis=-1)
    return mesh.units(np.asarray(total[group], dtype=np.float64)).astype(np.float32).reshape(-1, 3, 3)


def _numbered(one: I64, other: I64, count: int) -> I32:
    """The number of the group that each of so many things belongs to, given pairs that belong together.

    The first of the pairs must rise.
    """
    starts = np.concatenate([[0], np.cumsum(np.bincount(one, minlength=count))])
    links = csr_array((np.ones(len(one)), other, starts), shape=(count, count))
    return np.asarray(connected_components(links, directed=False)[1], dtype=np.int32)


def _joined(faces: I32, normal: F64) -> _Joined:
    """The edges that two triangles share, from either side."""
    start, end = faces.ravel().astype(np.int64), np.roll(faces, -1, axis=1).ravel().astype(np.int64)
    span = int(faces.max()) + 1
    order = np.argsort(start * span + end, kind="stable")
    keys = (start * span + end)[order]
    place = np.minimum(np.searchsorted(keys, end * span + start), len(keys) - 1)
    edge = np.flatnonzero(keys[place] == end * span + start)
    twin = order[place[edge]]
    bend = np.einsum("ij,ij->i", normal[edge // 3], normal[twin // 3])
    no_area = np.abs(normal).sum(axis=1) == 0
    smooth = (bend > CREASE) | no_area[edge // 3] | no_area[twin // 3]
    return _Joined(edge=edge, twin=twin, smooth=smooth, bend=bend)


def _edges(faces: I32, joined: _Joined) -> I32:
    """Edges (k, 4) as Shape holds them."""
    once = (joined.edge < joined.twin) & (joined.bend < FLAT)
    alone = np.ones(faces.size, dtype=bool)
    alone[joined.edge] = False
    edge = np.concatenate([joined.edge[once], np.flatnonzero(alone)])
    beyond = np.concatenate([joined.twin[once], np.flatnonzero(alone)])
    ends = faces.ravel()[edge], np.roll(faces, -1, axis=1).ravel()[edge]
    return np.stack([*ends, edge // 3, beyond // 3], axis=1).astype(np.int32)
