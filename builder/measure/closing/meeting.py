"""How two closed halves meet: the gap between their faces, cast along z at many places of the parting."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from builder import mesh
from builder.model import Solid

Array = NDArray[np.float64]

PLACES = 900
"""So many places of the first half's faces that look up are asked."""
REACH_MM = 0.4
"""Faces farther apart than this are cavity floors or pockets, not the parting."""
UP = 0.9
MET_MM = 0.01
"""Faces this near meet; closing presses curved ones together by less."""
CUT_BACK_MM = 0.05
"""Faces farther apart than this are so on purpose: vents, and faces cut back round a land."""
FIT_SHARE, POINTS_SHARE = 0.9, 0.5
"""Halves made for each other touch at so much of the rest (drawn ones at 0.98); below the last, on points."""
ROUNDS = 5
STRAY = 3.0
"""Gaps so many times the median one off are vents and floors: they do not draw the halves together."""
LEAST = 30
"""Fewer places tell nothing."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Meeting:
    """Where the halves face each other: places (n, 2) and gaps (n,), mm; overlaps are negative."""

    at: Array
    gap_mm: Array

    @property
    def _counted(self) -> Array:
        return self.gap_mm[self.gap_mm < CUT_BACK_MM]

    @property
    def met_share(self) -> float:
        """Share of the places, those that are cut back not counted, where the halves touch."""
        gaps = self._counted
        return float((np.abs(gaps) < MET_MM).mean()) if len(gaps) >= LEAST else 0.0

    @property
    def apart_mm(self) -> float:
        """How far the faces are apart, or within each other, in the mean."""
        return float(np.abs(self._counted).mean())


def meeting(lower: Solid, upper: Solid) -> Meeting:
    """The gaps between two halves that lie closed, the lower one below the upper."""
    places = _spread(lower)
    body = mesh.body(upper)
    found = [(point, gap) for point in places for gap in [_gap(body, point)] if gap is not None]
    points = np.array([point for point, _ in found]).reshape(-1, 3)
    return Meeting(at=points[:, :2], gap_mm=np.array([gap for _, gap in found], np.float64))


def _spread(solid: Solid) -> Array:
    """Places (n, 3) spread evenly over the faces that look up: as many for each mm2."""
    drawn = mesh.facets(solid)
    up = np.flatnonzero(drawn.normals[:, 2] > UP)
    if not len(up):
        return np.zeros((0, 3))
    until = np.cumsum(drawn.areas_mm2[up])
    steps = (np.arange(PLACES) + 0.5) / PLACES
    facet = up[np.searchsorted(until, steps * until[-1])]
    # additive recurrence of the plastic number: low discrepancy in two dimensions (from memory)
    u, v = (np.arange(1, PLACES + 1)[:, None] * np.array([0.7548776662466927, 0.5698402909980532]) % 1.0).T
    u, v = np.where(u + v > 1, 1 - u, u), np.where(u + v > 1, 1 - v, v)
    a, b, c = (solid.vertices[solid.faces[facet, k]] for k in range(3))
    return np.asarray(a + u[:, None] * (b - a) + v[:, None] * (c - a))


def _gap(body: mesh.Body, point: Array) -> float | None:
    """How far (mm) above a point the body's underside is, None if there is none near."""
    reach = np.array([0.0, 0.0, REACH_MM])
    low, high = point - reach, point + reach
    gaps = [
        (2 * hit.distance - 1) * REACH_MM
        for hit in body.ray_cast(tuple(low), tuple(high))
        if hit.normal[2] < -UP
    ]
    return min(gaps, key=abs, default=None)


def drawn_together(lower: Solid, upper: Solid) -> tuple[Array, Array] | None:
    """The small turn (3, 3) and move (3,) of the upper half by which waved faces meet, None if they do not.

    Least squares over the gaps without the strays: height and tilt, for the outlines set the rest.
    """
    turn, move = np.eye(3), np.zeros(3)
    for _ in range(ROUNDS):
        found = meeting(lower, _moved(upper, turn, move))
        if len(found.gap_mm) < LEAST:
            return None
        aside = np.abs(found.gap_mm - np.median(found.gap_mm))
        near = aside <= max(STRAY * float(np.median(aside)), MET_MM)
        x, y = found.at[near].T
        level, along, across = np.linalg.lstsq(
            np.column_stack([np.ones(len(x)), x, y]), found.gap_mm[near], rcond=None
        )[0]
        step = np.array([[1.0, 0.0, along], [0.0, 1.0, across], [-along, -across, 1.0]])
        u, _, v = np.linalg.svd(step)
        step = u @ v
        turn, move = step @ turn, step @ move - np.array([0.0, 0.0, level])
    fits = meeting(lower, _moved(upper, turn, move)).met_share > FIT_SHARE
    return (turn, move) if fits else None


def _moved(solid: Solid, turn: Array, move: Array) -> Solid:
    """The solid under x -> turn @ x + move, nothing of it snapped to the parting."""
    return replace(solid, vertices=solid.vertices @ turn.T + move)
