"""Flat faces of a solid: facets grouped by the plane they lie in."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray

from builder import mesh
from builder.model import Solid

Array = NDArray[np.float64]

SEAM_MM = 1e-4
REGATHERED = 15
SEEDS = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class Flatness:
    """How far facets of one face may turn (cosine) and lie apart (mm)."""

    cos: float
    mm: float


DRAWN = Flatness(cos=1 - 2e-6, mm=5e-3)
"""A face as CAD draws it: parallel to 0.1 degrees."""
WARPED = Flatness(cos=1 - 1e-4, mm=0.12)
"""A face that follows a print's curl: 0.8 degrees. Shallower steps than this are taken for curl."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plane:
    """A flat face: a point on it, its outward normal, the indices of its facets and their area."""

    point: Array
    normal: Array
    facets: NDArray[np.intp]
    area_mm2: float

    def polygon(self, solid: Solid, turn: Array, move: Array) -> shapely.Geometry:
        """The face's outline with its openings, seen along z after x -> turn @ x + move."""
        return outline((solid.vertices @ turn.T + move)[:, :2], solid.faces[self.facets])


@lru_cache(maxsize=4)
def planes(solid: Solid, most: int = SEEDS, flat: Flatness = DRAWN) -> tuple[Plane, ...]:
    """The largest flat faces by area, at most so many; those of the last few solids are kept."""
    return tuple(_planes(solid, most, flat))


def _planes(solid: Solid, most: int, flat: Flatness) -> Iterator[Plane]:
    its = mesh.facets(solid)
    normals, areas, centres = its.normals, its.areas_mm2, its.centres
    offsets = np.einsum("ij,ij->i", normals, centres)
    key = np.column_stack([np.round(normals * 50), np.round(offsets * 10)]).astype(np.int64)
    mixed = key @ np.array([1_000_003, 10_007 * 1_000_003, 998_244_353, 1], np.int64)
    group = np.unique(mixed, return_inverse=True)[1]
    weight = np.bincount(group, weights=areas)
    taken = np.zeros(len(areas), bool)
    for seed in np.argsort(-weight, kind="stable")[:most]:
        mine = np.flatnonzero(group == seed)
        lead = mine[int(np.argmax(areas[mine]))]
        if taken[lead]:
            continue
        near = np.flatnonzero((normals @ normals[lead] > flat.cos) & ~taken)
        near = near[np.abs((centres[near] - centres[lead]) @ normals[lead]) < flat.mm]
        if flat is not DRAWN:
            near = _regathered(near, normals, centres, areas, taken)
        taken[near] = True
        share = areas[near] / areas[near].sum()
        normal = share @ normals[near]
        yield Plane(
            point=share @ centres[near],
            normal=normal / np.linalg.norm(normal),
            facets=near,
            area_mm2=float(areas[near].sum()),
        )


def _regathered(
    near: NDArray[np.intp], normals: Array, centres: Array, areas: Array, taken: NDArray[np.bool_]
) -> NDArray[np.intp]:
    """The facets of a curled face: those near the plane through the ones found so far, and so on."""
    for _ in range(REGATHERED):
        share = areas[near] / areas[near].sum()
        middle = share @ centres[near]
        spread = (centres[near] - middle) * np.sqrt(share)[:, None]
        normal = np.linalg.svd(spread, full_matrices=False)[2][2] if len(near) > 3 else normals[near[0]]
        normal = normal * np.sign(normal @ normals[near[0]])
        found = (normals @ normal > WARPED.cos) & (np.abs((centres - middle) @ normal) < WARPED.mm) & ~taken
        before, near = near, np.flatnonzero(found) if found.any() else near
        if np.array_equal(near, before):
            break
    return near


def whole(solid: Solid, drawn: Sequence[Plane], curled: Sequence[Plane], grown: float) -> list[Plane]:
    """The drawn planes, the pieces of one waved face put together where that is so many times larger."""
    owner = np.full(len(solid.faces), -1)
    for k, plane in enumerate(curled):
        owner[plane.facets] = k
    found: dict[tuple[str, int], Plane] = {}
    for k, plane in enumerate(drawn):
        mine = np.unique(owner[plane.facets])
        around = int(mine[0]) if len(mine) == 1 else -1
        if around >= 0 and curled[around].area_mm2 > grown * plane.area_mm2:
            found[("curled", around)] = curled[around]
        else:
            found[("drawn", k)] = plane
    return list(found.values())


def outline(points: Array, faces: NDArray[np.int32]) -> shapely.Geometry:
    """The area that facets (n, 3) over plane points cover, from the edges that only one of them has."""
    ends = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]).astype(np.int64)
    size = len(points)
    low, high = ends.min(axis=1), ends.max(axis=1)
    _, first, count = np.unique(low * size + high, return_index=True, return_counts=True)
    rim = ends[first[count == 1]]
    a, b, c = (points[faces[:, k]] for k in range(3))
    u, v = b - a, c - a
    covered = float(np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]).sum() / 2)
    for make in (_from_rims, _from_facets):
        made = make(points, faces, rim)
        if abs(made.area - covered) < 1e-6 * covered + 1e-3 and shapely.is_valid(made):
            return made
    return shapely.union_all(shapely.buffer(shapely.polygons(points[faces]), SEAM_MM, join_style="mitre"))


def _from_rims(points: Array, _: NDArray[np.int32], rim: NDArray[np.int64]) -> shapely.Geometry:
    """The area within the rims: the quickest way, for few facets or many."""
    try:
        return shapely.build_area(shapely.multilinestrings(shapely.linestrings(points[rim])))
    except shapely.GEOSException:  # rims that cross, as a curled face's may
        return shapely.MultiPolygon()


def _from_facets(points: Array, faces: NDArray[np.int32], _: NDArray[np.int64]) -> shapely.Geometry:
    """The facets joined along their edges: for rims that touch themselves, as those of noisy faces do."""
    try:
        return shapely.coverage_union_all(shapely.polygons(points[faces]))
    except shapely.GEOSException:  # facets that overlap, seen from here
        return shapely.MultiPolygon()
