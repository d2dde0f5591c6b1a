"""Eye sockets cut as a ball: hollows of a bait whose surface is part of a sphere."""

from __future__ import annotations

import numpy as np

from builder import mesh
from builder.measure.closing.planes import outline
from builder.mesh.flat_regions import Index, Points, Surface, hanging, members
from builder.model import EyeSocket

DIAMETERS_MM = (1.5, 16.0)
"""Ball eyes lie well inside this (common practice, no source)."""
BEND_COSINE = float(np.cos(np.radians(35.0)))
"""Facets of one cup bend by less from each other, even where the mesh is coarse."""
CONVEX_SHARE = 1e-4
"""A bend outwards by more than this (height over length) is the rim."""
OFF_SHARE = 0.04
"""How far the corners may lie off the sphere, as a share of its radius: a coarse ball's chords."""
LEAST_WITHIN = 6
LEAST_FACETS = 12
LEAST_SPREAD = 0.95
"""The normals of a cup point to at least 18 degrees from its axis: less is nearly flat."""
SHARP_COSINE = float(np.cos(np.radians(15.0)))
SHARP_SHARE = 0.75
"""So much of the rim bends outwards sharply: a hollow that fades into the body is its form, not an eye's."""
SIDEWAYS = 0.5
"""Eyes look out of the bait's side, across the parting: a cup that looks along the bait is a tail's."""
ROUND = 0.85
"""Seen along its axis a cup is round: a saddle or the hollow behind a tail's root is not."""
DEEP_SHARE = 0.5
"""From this depth (share of the radius) on the eye is the ball itself; shallower, what the rim lets in."""


def ball_sockets(skin: Surface) -> list[EyeSocket]:
    """Cups that look out of the side of a bait, each with the diameter of the eye that it takes."""
    one, two = skin.beside.T
    centres = skin.vertices[skin.faces].mean(axis=1)
    apart = centres[two] - centres[one]
    length = np.maximum(np.linalg.norm(apart, axis=1), 1e-12)
    rise = np.einsum("ij,ij->i", apart, skin.normals[one] - skin.normals[two]) / length
    dot = np.einsum("ij,ij->i", skin.normals[one], skin.normals[two])
    label = hanging(skin.beside[(dot > BEND_COSINE) & (rise > -CONVEX_SHARE)], len(skin.faces))
    border = label[one] != label[two]
    sharp = border & (rise < 0) & (dot < SHARP_COSINE)
    ends = skin.vertices[skin.edges]
    long = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    round_it, bent = (_summed(label, skin.beside, long * some) for some in (border, sharp))
    wanted = (np.bincount(label) >= LEAST_FACETS) & (bent > SHARP_SHARE * round_it)
    return [cup for facets in members(label, wanted) if (cup := _cup(skin, facets))]


def _summed(label: Index, beside: Index, weight: Points) -> Points:
    """A weight of each edge summed over the labels on its two sides."""
    size = int(label.max(initial=0)) + 1
    return np.asarray(sum(np.bincount(label[side], weights=weight, minlength=size) for side in beside.T))


def _cup(skin: Surface, facets: Index) -> EyeSocket | None:
    """The facets as a cup, if they lie on a sphere round a point outside the bait."""
    points, within = _corners(skin, facets)
    centre, radius = _sphere(within)
    if not DIAMETERS_MM[0] <= 2 * radius <= DIAMETERS_MM[1]:
        return None
    off = np.abs(np.linalg.norm(within - centre, axis=1) - radius).max()
    axis = skin.areas_mm2[facets] @ skin.normals[facets]
    axis = axis / max(float(np.linalg.norm(axis)), 1e-12)
    height = (points - centre) @ axis
    outside = height.mean() < 0
    spread = (skin.normals[facets] @ axis).min()
    if off > OFF_SHARE * radius or not outside or spread > LEAST_SPREAD or abs(axis[2]) < SIDEWAYS:
        return None
    if _roundness(skin, facets, axis) < ROUND:
        return None
    bottom = centre - radius * axis
    depth = float(height.max()) + radius
    rim = 2 * float(np.sqrt(max(radius**2 - min(height.max(), 0.0) ** 2, 0.0)))
    return EyeSocket(
        at_mm=(float(bottom[0]), float(bottom[1]), float(bottom[2])),
        normal=(float(axis[0]), float(axis[1]), float(axis[2])),
        diameter_mm=2 * radius if depth > DEEP_SHARE * radius else rim,
        depth_mm=depth,
    )


def _roundness(skin: Surface, facets: Index, axis: Points) -> float:
    """4 pi area / perimeter squared of the cup seen along its axis: 1 for a circle, 0.79 for a square."""
    seen = outline((skin.vertices @ mesh.frame(axis).T)[:, :2], skin.faces[facets])
    return float(4 * np.pi * seen.area / max(seen.length, 1e-12) ** 2)


def _corners(skin: Surface, facets: Index) -> tuple[Points, Points]:
    """All corners of some facets, and those that no other facet has: the rim's lie on chords, inside.

    Of a cup with few such corners all count as within.
    """
    mine = np.unique(skin.faces[facets])
    others = np.ones(len(skin.faces), dtype=bool)
    others[facets] = False
    within = np.setdiff1d(mine, skin.faces[others])
    return skin.vertices[mine], skin.vertices[within if len(within) >= LEAST_WITHIN else mine]


def _sphere(points: Points) -> tuple[Points, float]:
    """Centre (3,) and radius of the sphere nearest to the points, by linear least squares.

    >>> centre, radius = _sphere(np.array([[2.0, 0, 0], [0, 2, 0], [0, 0, 2], [-2, 0, 0]]) + 1.0)
    >>> centre.round(6).tolist(), round(radius, 6)
    ([1.0, 1.0, 1.0], 2.0)
    """
    middle = points.mean(axis=0)
    moved = points - middle
    matrix = np.column_stack([2 * moved, np.ones(len(moved))])
    x, y, z, c = np.linalg.lstsq(matrix, (moved**2).sum(axis=1), rcond=None)[0]
    return middle + np.array([x, y, z]), float(np.sqrt(max(c + x * x + y * y + z * z, 0.0)))
