"""Flat regions of a solid's surface: facets that share edges and lie in one plane."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from builder.mesh.normals import crosses, units
from builder.model import Solid

Points = NDArray[np.float64]
Index = NDArray[np.int64]

BEND_COSINE = float(np.cos(np.radians(0.5)))
FLAT_MM = 0.02
NEEDLE_MM = 2e-3
"""A facet lower than this tells no direction: 32-bit rounding turns it by more than BEND_COSINE."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surface:
    """Facets with their normals (f, 3) and areas (f,), and every shared edge with its two facets."""

    vertices: Points
    faces: NDArray[np.int32]
    normals: Points
    areas_mm2: Points
    edges: Index
    """Vertex pairs (e, 2)."""
    beside: Index
    """The two facets at each edge (e, 2)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Flat:
    """One flat region: its facets, its outward normal, a point on it and its area."""

    facets: Index
    normal: Points
    point: Points
    area_mm2: float


@lru_cache(maxsize=2)
def surface(solid: Solid) -> Surface:
    """The solid's facets and the facets beside them; needles take the normal across their longest edge."""
    a, b, c = (solid.vertices[solid.faces[:, k]] for k in range(3))
    cross = crosses(solid.vertices[solid.faces])
    length, normals = np.linalg.norm(cross, axis=1), units(cross)
    edges, beside = neighbours(solid.faces)
    longest = np.maximum.reduce([np.linalg.norm(e, axis=1) for e in (b - a, c - b, a - c)])
    needles = length < NEEDLE_MM * longest
    _turn_needles(
        normals, needles, beside, np.linalg.norm(np.diff(solid.vertices[edges], axis=1)[:, 0], axis=1)
    )
    return Surface(
        vertices=solid.vertices,
        faces=solid.faces,
        normals=normals,
        areas_mm2=length / 2,
        edges=edges,
        beside=beside,
    )


def _turn_needles(normals: Points, needles: NDArray[np.bool_], beside: Index, lengths_mm: Points) -> None:
    """Give each needle the normal of the facet across its longest edge, from whole facets inwards."""
    both = np.concatenate([beside, beside[:, ::-1]])
    order = np.argsort(np.tile(lengths_mm, 2), kind="stable")
    needle, other = both[order].T
    unknown = needles.copy()
    for _ in range(3):
        known = unknown[needle] & ~unknown[other]
        normals[needle[known]] = normals[other[known]]
        unknown[needle[known]] = False


def neighbours(faces: NDArray[np.int32]) -> tuple[Index, Index]:
    """Each edge that exactly two facets share, and those facets."""
    ends = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)
    owner = np.tile(np.arange(len(faces)), 3)
    key = ends[:, 0].astype(np.int64) * (int(faces.max(initial=0)) + 1) + ends[:, 1]
    order = np.argsort(key, kind="stable")
    key = key[order]
    first = np.flatnonzero(np.r_[True, key[1:] != key[:-1]])
    first = first[np.diff(np.r_[first, len(key)]) == 2]
    return ends[order[first]].astype(np.int64), np.column_stack(
        [owner[order[first]], owner[order[first + 1]]]
    )


def flats(skin: Surface, least_mm2: float) -> list[Flat]:
    """Flat regions of at least the area, the largest first; smoothly curved patches are none."""
    found = [flat(skin, facets) for facets in patches(skin, least_mm2)]
    return sorted((one for one in found if one), key=lambda one: (-one.area_mm2, *one.point.round(6)))


def patches(skin: Surface, least_mm2: float, among: NDArray[np.bool_] | None = None) -> list[Index]:
    """Facets (of those `among`) that hang together without a bend, for every patch of at least the area."""
    label = smooth(skin, among)
    wanted = np.ones(len(label), dtype=bool) if among is None else among
    return members(label, np.bincount(label, weights=skin.areas_mm2 * wanted) >= least_mm2)


def smooth(skin: Surface, among: NDArray[np.bool_] | None = None) -> Index:
    """A number (f,) for each facet, the same for facets that hang together without a bend."""
    one, two = skin.beside.T
    joined = np.einsum("ij,ij->i", skin.normals[one], skin.normals[two]) > BEND_COSINE
    if among is not None:
        joined &= among[one] & among[two]
    return hanging(skin.beside[joined], len(skin.faces))


def hanging(pairs: Index, count: int) -> Index:
    """A number (count,) for each facet, the same for facets that a chain of pairs (p, 2) joins."""
    graph = coo_array((np.ones(len(pairs), np.int8), (pairs[:, 0], pairs[:, 1])), shape=(count, count))
    return np.asarray(connected_components(graph, directed=False)[1], np.int64)


def members(label: Index, wanted: NDArray[np.bool_]) -> list[Index]:
    """The facets of each wanted label."""
    order = np.argsort(label, kind="stable")
    start = np.r_[0, np.cumsum(np.bincount(label))]
    return [order[start[k] : start[k + 1]] for k in np.flatnonzero(wanted)]


def flat(skin: Surface, facets: Index) -> Flat | None:
    """The facets as a flat region, if they lie within FLAT_MM of one plane."""
    area = skin.areas_mm2[facets]
    normal = (skin.normals[facets] * area[:, None]).sum(axis=0)
    normal /= np.linalg.norm(normal)
    corners = skin.vertices[skin.faces[facets]]
    point = (corners.mean(axis=1) * area[:, None]).sum(axis=0) / area.sum()
    if np.abs((corners - point) @ normal).max() > FLAT_MM:
        return None
    return Flat(facets=facets, normal=normal, point=point, area_mm2=float(area.sum()))


def rim(skin: Surface, region: Flat) -> tuple[Index, Index]:
    """Edges (e, 2) between the region and the rest, and the facet beyond each (e,)."""
    inside = np.zeros(len(skin.faces), dtype=bool)
    inside[region.facets] = True
    here = inside[skin.beside]
    border = here[:, 0] != here[:, 1]
    beyond = np.where(here[border, 0], skin.beside[border, 1], skin.beside[border, 0])
    return skin.edges[border], beyond
