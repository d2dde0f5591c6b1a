"""Where the flow begins: the voxels, or the part of the plastic, in the sprue's mouth."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from builder import mesh
from builder.measure.cavity.void import Mouth
from builder.measure.flow_tree import voxels
from builder.mesh.cuts import Part

AT_ONCE = 1_000_000
"""Voxels whose places are asked at a time: an array of all of them would take more than the grid."""

DEEP_MM = 0.01
"""A part that opens in a mouth lies so deep behind it, even that before a gate in the mouth itself."""


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


def opening(bodies: Sequence[mesh.Body], mouth: Mouth) -> int:
    """Which of the bodies opens in a mouth."""
    turn, level = mesh.frame(mouth.normal), float(mouth.at @ mouth.normal)
    lid = mesh.placed(mesh.prism(mesh.rings(mouth.polygon), level - DEEP_MM, level), turn.T, np.zeros(3))
    return max(range(len(bodies)), key=lambda k: (bodies[k] ^ lid).volume())


def part_at(parts: Sequence[Part], mouth: Mouth) -> Part:
    """The part that opens in a mouth."""
    return parts[opening([part.body for part in parts], mouth) if len(parts) > 1 else 0]
