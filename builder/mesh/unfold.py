"""Flat faces whose triangles lie folded over each other, as some modellers export them: cut anew."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from builder.mesh.flat_regions import hanging, neighbours
from builder.mesh.normals import areas, crosses, units
from builder.mesh.outlines import chained
from builder.mesh.rotations import frame
from builder.mesh.solids import triangulated

Points = NDArray[np.float64]
Faces = NDArray[np.int32]
Index = NDArray[np.int64]
Mask = NDArray[np.bool_]

FOLDED_COS = -0.99
"""Facets side by side that face opposite ways are folded over each other, or two sides of nothing."""
NEEDLE_SHARE = 1e-5
"""A facet lower than this share of its longest edge tells no direction."""
LEVEL_SHARE = 3e-7
"""Corners lie in one plane within this share of the mesh's size: 32-bit numbers are rounded so far."""
SAME_SHARE = 1e-6
"""A face that is cut anew keeps its area within this share."""


def unfolded(vertices: Points, faces: Faces) -> tuple[Points, Faces]:
    """A closed mesh, each flat face with folded triangles cut anew within its outline.

    What a fold covers is air, or solid, as the winding tells; no volume changes. A face whose outline
    cannot be cut anew is left as it is. Corners that nothing uses any more are left out.
    """
    level_mm = LEVEL_SHARE * float(np.ptp(vertices, axis=0).max())
    beside = neighbours(faces)[1]
    normals, sizes = units(crosses(vertices[faces])), areas(vertices[faces])
    kept, added = np.ones(len(faces), bool), list[Faces]()
    for seed in _folds(vertices, faces, beside):
        if not kept[seed]:
            continue
        height = (vertices - vertices[faces[seed, 0]]) @ normals[seed]
        level = (np.abs(height) < level_mm)[faces].all(axis=1) & kept
        group = hanging(beside[level[beside].all(axis=1)], len(faces))
        region = np.flatnonzero(group == group[seed])
        made = _cut_anew(vertices, faces[region], normals[seed], sizes[region])
        if made is not None:
            kept[region] = False
            added.append(made)
    used, index = np.unique(np.concatenate([faces[kept], *added]), return_inverse=True)
    return vertices[used], index.reshape(-1, 3).astype(np.int32)


def _folds(vertices: Points, faces: Faces, beside: Index) -> Index:
    """Facets with a neighbour folded over them, the largest first; needles between them do not count."""
    cross = crosses(vertices[faces])
    double = np.linalg.norm(cross, axis=1)
    corners = vertices[faces]
    longest = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(axis=1)
    needle = double < NEEDLE_SHARE * longest**2
    normals = units(cross)
    one, two = np.concatenate([beside, _across_needles(beside, needle)]).T
    whole = ~needle[one] & ~needle[two]
    opposite = np.einsum("ij,ij->i", normals[one], normals[two]) < FOLDED_COS
    folded = np.unique(np.concatenate([one[whole & opposite], two[whole & opposite]]))
    return np.asarray(folded[np.argsort(-double[folded], kind="stable")])


def _across_needles(beside: Index, needle: Mask) -> Index:
    """Pairs of facets that only needles part."""
    group = hanging(beside[needle[beside].all(axis=1)], len(needle))
    rims = np.concatenate([beside, beside[:, ::-1]])
    rims = rims[needle[rims[:, 0]] & ~needle[rims[:, 1]]]
    rims = rims[np.argsort(group[rims[:, 0]], kind="stable")]
    around = np.split(rims[:, 1], np.flatnonzero(np.diff(group[rims[:, 0]])) + 1)
    pairs = [np.column_stack([np.repeat(some, len(some)), np.tile(some, len(some))]) for some in around]
    return np.concatenate([np.zeros((0, 2), np.int64), *pairs])


def _cut_anew(vertices: Points, region: Faces, normal: Points, sizes: Points) -> Faces | None:
    """Triangles that fill a flat region's outline; None where they do not, or where nothing is folded."""
    ends = np.concatenate([region[:, [0, 1]], region[:, [1, 2]], region[:, [2, 0]]]).astype(np.int64)
    most = int(ends.max()) + 1
    key, back = ends[:, 0] * most + ends[:, 1], ends[:, 1] * most + ends[:, 0]
    rim = ends[~np.isin(key, back)]
    loops = chained(rim[:, 0], rim[:, 1])
    if not loops or sum(map(len, loops)) != len(rim):
        return None
    signed = float((crosses(vertices[region]) @ normal).sum()) / 2
    across = frame(normal if signed > 0 else -normal)[:2]
    order = np.concatenate([rim[loop, 0] for loop in loops])
    made = order[triangulated([vertices[rim[loop, 0]] @ across.T for loop in loops])]
    whole = float(areas(vertices[made]).sum())
    if abs(whole - abs(signed)) > SAME_SHARE * whole or whole > (1 - SAME_SHARE) * float(sizes.sum()):
        return None
    return made.astype(np.int32)
