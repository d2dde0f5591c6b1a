"""Partings folded from planes: no one plane of a half is its parting face, and its back is its flattest."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray

from builder.measure.closing import lying, matching
from builder.measure.closing.matching import Face
from builder.measure.closing.planes import Plane, planes
from builder.model import Solid

Array = NDArray[np.float64]

TRIED = 3
"""So many of a half's flat faces may be its back: the largest."""
AWAY = -0.9
"""Planes of a parting look away from the back by no more than 26 degrees askew."""
PIECE_SHARE, ASIDE_SHARE = 0.05, 0.1
"""A piece of the fold has so much of the back's outline, and so much of it beside the largest piece."""
WHOLE_SHARE = 0.9
"""A plane whose hull has so much of the back's outline is the whole parting."""
ASKEW = 0.9997
"""Pieces that are parallel to 1.4 degrees make no fold: steps and curls."""


def backs(first: Solid, second: Solid) -> tuple[Face, Face] | None:
    """The backs of two halves whose parting is folded, else None; also where they lie closed already."""
    one = _back(first)
    two = _back(second) if one else None
    touch = lying.contact(first, second) if two else None
    lies_closed = touch is not None and touch.share > lying.CONTACT_SHARE
    return (one, two) if one and two and not lies_closed else None


def _back(solid: Solid) -> Face | None:
    """The largest of a half's flat faces that has a fold behind it."""
    large = sorted(planes(solid), key=lambda plane: -plane.area_mm2)[:TRIED]
    faces = (matching.face_of(solid, plane) for plane in large)
    return next((face for face in faces if is_back(solid, face)), None)


def is_back(solid: Solid, face: Face) -> bool:
    """True for a face with a fold on the part's other side."""
    outline = face.polygon.convex_hull
    pieces = sorted(_pieces(solid, face, outline.area), key=lambda piece: -piece[1].area)
    if len(pieces) < 2 or pieces[0][1].area > WHOLE_SHARE * outline.area:
        return False
    main, largest = pieces[0]
    return any(
        plane.normal @ main.normal < ASKEW and hull.difference(largest).area > ASIDE_SHARE * outline.area
        for plane, hull in pieces[1:]
    )


def _pieces(solid: Solid, face: Face, outline_mm2: float) -> Iterator[tuple[Plane, shapely.Geometry]]:
    """The larger planes on the other side of a face, each with its hull seen from there."""
    for plane in planes(solid):
        if plane.normal @ face.turn[2] < AWAY and plane.area_mm2 > PIECE_SHARE * outline_mm2:
            points = solid.vertices[np.unique(solid.faces[plane.facets])] @ face.turn.T + face.move
            yield plane, shapely.MultiPoint(points[:, :2]).convex_hull
