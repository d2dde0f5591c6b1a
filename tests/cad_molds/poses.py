"""How a mold is filed: closed, opened, laid for printing, all in one file, stood up, upside down."""

from __future__ import annotations

import math

import numpy as np
from manifold3d import Manifold
from numpy.typing import NDArray

from tests.cad_molds.blocks import Skin
from tests.cad_molds.primitives import Point, triangles
from tests.cad_molds.records import Filed, Recipe

Turn = NDArray[np.float64]


def turn(x: float, y: float, z: float) -> Turn:
    """The matrix that turns about x, then y, then z (degrees)."""
    made = np.eye(3)
    for axis, angle in enumerate((x, y, z)):
        sin, cos = math.sin(math.radians(angle)), math.cos(math.radians(angle))
        one = np.eye(3)
        first, second = (axis + 1) % 3, (axis + 2) % 3
        one[first, first] = one[second, second] = cos
        one[first, second], one[second, first] = -sin, sin
        made = np.round(one, 15) @ made
    return made


def angles(matrix: Turn) -> Point:
    """Degrees about x, then y, then z that give the matrix."""
    y = math.asin(max(-1.0, min(1.0, -float(matrix[2, 0]))))
    if abs(math.cos(y)) < 1e-9:
        return (
            math.degrees(math.atan2(-matrix[0, 1] * math.copysign(1, -matrix[2, 0]), matrix[1, 1])) * -1.0,
            math.degrees(y),
            0.0,
        )
    return (
        math.degrees(math.atan2(matrix[2, 1], matrix[2, 2])),
        math.degrees(y),
        math.degrees(math.atan2(matrix[1, 0], matrix[0, 0])),
    )


def _place(name: str, body: Manifold, matrix: Turn, move: Point, role: str | None = None) -> Filed:
    """A part filed under x -> matrix x + move, with what brings it back."""
    corners = triangles(body) @ matrix.T + np.array(move)
    back = -(matrix.T @ np.array(move))
    return Filed(
        name=name,
        corners=corners,
        role=role,
        turn_deg=angles(matrix.T),
        move_mm=(float(back[0]), float(back[1]), float(back[2])),
    )


def _for_pose(pose: str, s: Skin, number: int) -> tuple[Turn, Point]:
    """How the lower (number 0) or upper half (1) is turned and moved when it is filed."""
    wide, upper = s.high[1] - s.low[1], number == 1
    still, over = np.eye(3), turn(180.0, 0.0, 0.0)
    to_bed = (-s.low[0], -s.low[1], -s.low[2])
    flipped = (-s.low[0], s.high[1] + wide + 10.0, s.high[2])
    poses: dict[str, tuple[Turn, Point]] = {
        "closed": (still, (0.0, 0.0, 0.0)),
        "closed apart": (still, (0.0, 0.0, 40.0 if upper else 0.0)),
        "book": (over, (0.0, 2 * s.low[1] - 3.0, 0.0)) if upper else (still, (0.0, 0.0, 0.0)),
        "book end": (turn(0, 180, 0), (2 * s.high[0] + 3.0, 0.0, 0.0)) if upper else (still, (0.0, 0.0, 0.0)),
        "print": (over, flipped) if upper else (still, to_bed),
        "own origins": (over, (-s.low[0], s.high[1], s.high[2])) if upper else (still, to_bed),
        "standing": (turn(90, 0, 0), (0.0, 0.0, 0.0)),
        "standing on end": (turn(0, 90, 0), (10.0, 20.0, 30.0)),
        "print standing": (turn(-90, 0, 0), (0.0, 60.0, 0.0)) if upper else (turn(90, 0, 0), (0.0, 0.0, 0.0)),
        "tilted": (turn(20, 30, 40), (5.0, -7.0, 11.0)),
        "turned 90": (turn(0, 0, 90), (3.0, 4.0, 5.0)),
        "face down": (turn(0, 180, 0), (0.0, 0.0, 0.0)) if not upper else (still, (0.0, 0.0, 0.0)),
    }
    return poses[pose.removesuffix(" one file").removesuffix(" upper first")]


def filed(
    recipe: Recipe, s: Skin, parts: list[Manifold], cores: list[Manifold], positives: list[Manifold]
) -> tuple[Filed, ...]:
    """The files of a mold, in the order in which the maker lists them."""
    many = len(parts) > 2
    made = []
    for number, part in enumerate(parts):
        upper = number * 2 // len(parts) if len(parts) > 1 else 0
        matrix, move = _for_pose(recipe.pose, s, upper)
        name = f"{'ab'[upper]}{number % 2 + 1}.stl" if many else f"half-{'ab'[upper]}.stl"
        made.append(_place(name, part, matrix, move, "half" if many else None))
    if recipe.pose.endswith(" upper first"):
        made.reverse()
    matrix, move = _for_pose(recipe.pose, s, 0)
    made += [_place(f"core-{k + 1}.stl", core, matrix, move, "core") for k, core in enumerate(cores)]
    beside = (0.0, -200.0, 0.0) if "positive beside" in recipe.extras else (0.0, 0.0, 0.0)
    made += [_place("bait.stl", body, np.eye(3), beside, "bait") for body in positives]
    if recipe.pose.endswith(" one file"):
        return (Filed(name="mold.stl", corners=np.concatenate([f.corners for f in made])),)
    return tuple(made)
