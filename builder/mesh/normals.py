"""Normals, areas and centres of triangles: the one place that works them out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from builder.model import Solid

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Facets:
    """A solid's triangles: unit normals (n, 3), areas (n,), centres (n, 3)."""

    normals: Array
    areas_mm2: Array
    centres: Array


def crosses(corners: Array) -> Array:
    """For triangles (n, 3, 3), vectors (n, 3) along their normals, as long as twice their areas.

    >>> crosses(np.array([[[0.0, 0, 0], [2, 0, 0], [0, 3, 0]]])).tolist()
    [[0.0, 0.0, 6.0]]
    """
    first = corners[:, 0]
    return np.asarray(np.cross(corners[:, 1] - first, corners[:, 2] - first), dtype=np.float64)


def areas(corners: Array) -> Array:
    """Areas (n,) of triangles (n, 3, 3)."""
    return np.asarray(np.linalg.norm(crosses(corners), axis=1) / 2)


def unit_normals(corners: Array) -> Array:
    """Unit normals (n, 3) of triangles (n, 3, 3); zeros for a triangle without area."""
    return units(crosses(corners))


def units(vectors: Array) -> Array:
    """Vectors (n, 3) at length 1; zeros stay zeros."""
    length = np.linalg.norm(vectors, axis=-1, keepdims=True)
    return np.asarray(vectors / np.where(length == 0, 1, length), dtype=np.float64)


def facets(solid: Solid) -> Facets:
    """Normal, area and centre of each of the solid's triangles."""
    corners = solid.vertices[solid.faces]
    cross = crosses(corners)
    centres = (corners[:, 0] + corners[:, 1] + corners[:, 2]) / 3
    return Facets(normals=units(cross), areas_mm2=np.linalg.norm(cross, axis=1) / 2, centres=centres)
