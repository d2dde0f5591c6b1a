"""Meshes whose faces are rough all over, as scans and photographs make them: told before they are read."""

from __future__ import annotations

import numpy as np

from builder import mesh
from builder.mesh.flat_regions import neighbours
from builder.model import Solid

BEND = float(np.sin(np.radians(0.5)))
"""Facets that bend by less from each other are one face with rounding."""
ROUGH_SHARE = 0.2
"""Where so much of the surface bends both in and out at once, its faces are noise and none of them is flat.

Clean drawn molds stay below 0.07; with noise of 0.02 mm on vertices 0.6 mm apart it is 0.31, at 0.05 mm 0.63.
"""


def rough_share(solid: Solid) -> float:
    """Share of the surface whose facets bend outwards at one edge and inwards at another."""
    drawn = mesh.facets(solid)
    normals, areas, centres = drawn.normals, drawn.areas_mm2, drawn.centres
    one, two = neighbours(solid.faces)[1].T
    way = centres[two] - centres[one]
    way /= np.maximum(np.linalg.norm(way, axis=1, keepdims=True), 1e-12)
    rise = np.einsum("ij,ij->i", normals[one], way), -np.einsum("ij,ij->i", normals[two], way)
    bends = [np.zeros(len(solid.faces), dtype=bool) for _ in range(2)]
    for ends, height in zip((one, two), rise, strict=True):
        bends[0][ends[height > BEND]] = True
        bends[1][ends[height < -BEND]] = True
    return float(areas[bends[0] & bends[1]].sum() / areas.sum())
