"""Halves with a curved parting, laid for printing: set on their backs, one is let down on the other."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from builder import mesh
from builder.measure.closing import lying, matching
from builder.measure.closing.matching import Closing, Face
from builder.measure.closing.planes import DRAWN, WARPED, Plane, planes
from builder.model import Solid

Array = NDArray[np.float64]

SHALLOW = 0.08
"""A face that opens less than this share of its own area may be a back with holes."""
OPPOSITE = -0.99
LIKE_MM = 0.5
"""Outlines whose sides differ by less belong together."""
TOUCH_SHARE = 2e-5
"""Halves touch where they share this of the smaller one."""
STEP_MM = 5e-4
SHARE = 0.3
"""Halves that belong together touch on so much of the outline..."""
CLEAR = 0.7
"""...and a turn in which they touch on less than this share of that is none of theirs."""
NEARLY = 1e-3
"""Turns that differ by less than this share of the outline in what is touched are told apart by the maker."""


def is_back(solid: Solid, face: Face) -> bool:
    """True for a face with holes only, on a part that is nowhere flat on the other side.

    A parting face that curls with the print is flat: closing takes its curl away. A wave stays.
    """
    if face.opening_mm2 > SHALLOW * face.polygon.area:
        return False
    least = matching.LEAST_AREAS[0] * face.polygon.area
    across = (
        plane for flat in (DRAWN, WARPED) for plane in planes(solid, flat=flat) if plane.area_mm2 > least
    )
    return all(
        plane.normal @ face.turn[2] > OPPOSITE or _level_mm2(solid, plane) <= least for plane in across
    )


def _level_mm2(solid: Solid, plane: Plane) -> float:
    """Area (mm2) of a plane's facets that lie level once its curl is taken away."""
    faces = solid.faces[plane.facets]
    points = (solid.vertices - plane.point) @ mesh.frame(plane.normal).T
    rest = points[:, 2] - matching.curl(points[np.unique(faces)], points)
    level = (np.abs(rest[faces]) < DRAWN.mm).all(axis=1)
    return float(mesh.facets(solid).areas_mm2[plane.facets[level]].sum())


def ways(first: Solid, second: Solid, backs: tuple[Face, Face]) -> list[Closing]:
    """The ways in which the second half lies on the first when both stand back to back outside.

    Of more than one, as a roof has, those count in which openings lie on openings, so that most is touched.
    """
    one, two = backs
    found = sorted(_tries(first, second, one, two), key=lambda pair: -pair[0])
    if not found or found[0][0] < SHARE:
        return []
    near = [way for share, way in found if share > CLEAR * found[0][0]]
    if len(near) == 1:
        return near
    touched = [
        matching.contact_mm2(way.lay_first(first), way.lay_second(second), contoured=True) for way in near
    ]
    least = max(touched) - NEARLY * float(one.polygon.convex_hull.area)
    return [way for area, way in zip(touched, near, strict=True) if area > least]


def _tries(first: Solid, second: Solid, one: Face, two: Face) -> Iterator[tuple[float, Closing]]:
    """Each turn about the upright in which the outlines match: the share that touches, and the way."""
    over = np.diag([1.0, -1.0, -1.0])
    lower = matching.laid(first, over @ one.turn, over @ one.move)
    body, size = mesh.body(lower), _size(one)
    for quarter in range(4):
        spin = _spin(quarter * math.pi / 2)
        if np.abs(size - (_size(two) if quarter % 2 == 0 else _size(two)[::-1])).max() > LIKE_MM:
            continue
        height = _height(body, mesh.body(matching.laid(second, spin @ two.turn, spin @ two.move)))
        up = np.array([0.0, 0.0, height])
        upper = matching.laid(second, spin @ two.turn, spin @ two.move + up)
        touch = lying.contact(lower, upper)
        if touch is not None:
            framed = lying.closing(lower, touch)
            yield touch.share, _as_filed(framed, (over, one), (spin, two), up)


def _as_filed(framed: Closing, lower: tuple[Array, Face], upper: tuple[Array, Face], up: Array) -> Closing:
    """The way from the files: first on its back or let down, then into the closed mold's frame."""
    turn, move = framed.turn, framed.move
    (over, one), (spin, two) = lower, upper
    first = replace(framed.first, turn=turn @ over @ one.turn, move=turn @ over @ one.move + move)
    second_turn, second_move = turn @ spin @ two.turn, turn @ (spin @ two.move + up) + move
    return replace(framed, first=first, second=first, turn=second_turn, move=second_move)


def _height(lower: mesh.Body, upper: mesh.Body) -> float:
    """How far up (mm) the upper body, whose top is at 0, has to be moved to rest on the lower one."""
    (_, top), (bottom, _) = mesh.box(lower), mesh.box(upper)
    free, met = float(top[2] - bottom[2]), 0.0
    least = TOUCH_SHARE * min(lower.volume(), upper.volume())
    while free - met > STEP_MM:
        middle = (free + met) / 2
        shared = (lower ^ upper.translate((0.0, 0.0, middle))).volume()
        free, met = (free, middle) if shared > least else (middle, met)
    return free


def _size(face: Face) -> Array:
    """Sides (2,) of a face's outline, which lies along x and y."""
    low_x, low_y, high_x, high_y = face.polygon.bounds
    return np.array([high_x - low_x, high_y - low_y])


def _spin(angle: float) -> Array:
    """Turn (3, 3) about the upright."""
    c, s = math.cos(angle), math.sin(angle)
    return np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])


def backs(
    first: Solid, second: Solid, ones: Sequence[Face], twos: Sequence[Face]
) -> tuple[Face, Face] | None:
    """The backs of two halves that have no other flat face to be closed by, else None."""
    if not ones or not twos:
        return None
    one, two = (max(faces, key=lambda face: float(face.polygon.area)) for faces in (ones, twos))
    return (one, two) if is_back(first, one) and is_back(second, two) else None
