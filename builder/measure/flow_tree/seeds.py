"""Where the flow begins: the voxels in the sprue's mouth."""

from __future__ import annotations

import numpy as np

from builder.measure.cavity.void import Mouth
from builder.measure.flow_tree import voxels

AT_ONCE = 1_000_000
"""Voxels whose places are asked at a time: an array of all of them would take more than the grid."""


def at_mouth(grid: voxels.Grid, sprue: Mouth) -> voxels.Index:
    """The voxels (flat indices) inside the sprue's mouth; the nearest one if that is narrower."""
    inside = np.flatnonzero(grid.inside)
    parts = np.array_split(inside, len(inside) // AT_ONCE + 1)
    found = np.concatenate([_near(grid, some, sprue) for some in parts])
    if len(found):
        return found
    away = [np.linalg.norm(grid.centres(some) - sprue.at, axis=1) for some in parts]
    return inside[[np.argmin(np.concatenate(away))]]


def _near(grid: voxels.Grid, some: voxels.Index, sprue: Mouth) -> voxels.Index:
    """Those of some voxels (flat indices) that lie at the sprue's mouth."""
    centres = grid.centres(some)
    depth = (sprue.at - centres) @ sprue.normal
    aside = np.linalg.norm(centres - sprue.at + depth[:, None] * sprue.normal, axis=1)
    return np.asarray(some[(depth < 1.01 * grid.pitch_mm) & (aside < np.sqrt(sprue.area_mm2))])
