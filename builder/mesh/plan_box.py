"""The box round a bait in the plane of its parting: length along the bait, height square to it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from builder.model import Solid, Vec3

Array = NDArray[np.float64]

SMALLER = 0.001
"""A bait lies along its own mass, not along x or y, where the box is smaller by such a share then..."""
CURLED = 0.25
"""...or by this where its gate looks along x or y: a curled tail turns the mass, not the bait."""
STRAIGHT = 0.9986
"""A gate within 3 degrees of x or y looks along it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlanBox:
    """Sides (mm) of the box and the direction (2,) of the long one."""

    length_mm: float
    height_mm: float
    along: Array


def plan_box(solid: Solid, corners: Array, gates: Sequence[Vec3] = ()) -> PlanBox:
    """The box round those of a bait's corners (n, 3) that count, along x and y or along the bait's mass.

    The smallest box would do neither: a fin leans it over. `gates` are the normals of the gates.
    """
    upright, own = _along(corners, np.array([1.0, 0.0])), _along(corners, _heavy_axis(solid))
    fed_straight = any(max(abs(x), abs(y)) > STRAIGHT for x, y, _ in gates)
    smaller = CURLED if fed_straight else SMALLER
    more = upright.length_mm * upright.height_mm / (own.length_mm * own.height_mm) - 1.0
    return own if more > smaller else upright


def _along(corners: Array, way: Array) -> PlanBox:
    """The box with a side along a way (2,)."""
    aside = np.array([-way[1], way[0]])
    one, two = (float(np.ptp(corners[:, :2] @ side)) for side in (way, aside))
    if one >= two:
        return PlanBox(length_mm=one, height_mm=two, along=way)
    return PlanBox(length_mm=two, height_mm=one, along=aside)


def _heavy_axis(solid: Solid) -> Array:
    """The direction (2,) in the plane along which the solid's mass spreads most.

    Its second moments are summed over the tetrahedra from a point to each facet: those of one with corners
    0, a, b, c are det(a, b, c) / 120 (aa + bb + cc + ss), s = a + b + c.
    """
    facets = solid.vertices[solid.faces] - solid.vertices.mean(axis=0)
    whole = facets.sum(axis=1)
    six = np.einsum("ij,ij->i", facets[:, 0], np.cross(facets[:, 1], facets[:, 2]))
    middle = six @ whole / (4.0 * six.sum())
    spread = np.einsum("f,fki,fkj->ij", six, facets, facets) + np.einsum("f,fi,fj->ij", six, whole, whole)
    spread = spread / 120.0 - six.sum() / 6.0 * np.outer(middle, middle)
    return np.asarray(np.linalg.eigh(spread[:2, :2])[1][:, 1])
