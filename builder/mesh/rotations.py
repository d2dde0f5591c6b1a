"""Rotations: as turns about the axes, as matrices, and as a frame along a direction."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from builder.model import Vec3

Array = NDArray[np.float64]


def matrix(turn_deg: Vec3) -> Array:
    """The rotation (3, 3) about x, then y, then z, in degrees.

    >>> (matrix((90.0, 0.0, 90.0)).round(6) + 0.0).tolist()
    [[0.0, 0.0, 1.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]]
    """
    x, y, z = (math.radians(angle) for angle in turn_deg)
    about_x = [[1, 0, 0], [0, math.cos(x), -math.sin(x)], [0, math.sin(x), math.cos(x)]]
    about_y = [[math.cos(y), 0, math.sin(y)], [0, 1, 0], [-math.sin(y), 0, math.cos(y)]]
    about_z = [[math.cos(z), -math.sin(z), 0], [math.sin(z), math.cos(z), 0], [0, 0, 1]]
    return np.asarray(np.array(about_z) @ about_y @ about_x, dtype=np.float64)


def turns_deg(rotation: Array) -> Vec3:
    """A rotation (3, 3) as turns about x, then y, then z, in degrees: what `matrix` makes it of.

    >>> turns_deg(np.diag([1.0, -1.0, -1.0]))
    (180.0, 0.0, 0.0)
    """
    about_y = math.asin(max(-1.0, min(1.0, -rotation[2, 0])))
    if abs(rotation[2, 0]) < 1 - 1e-9:
        about_x = math.atan2(rotation[2, 1], rotation[2, 2])
        about_z = math.atan2(rotation[1, 0], rotation[0, 0])
    else:  # straight up or down only the sum of the other two counts
        about_x, about_z = math.atan2(-rotation[1, 2], rotation[1, 1]), 0.0
    x, y, z = (round(math.degrees(angle), 3) + 0.0 for angle in (about_x, about_y, about_z))
    return (x, y, z)


def frame(direction: Vec3 | Array) -> Array:
    """A right-handed rotation (3, 3) whose rows are two directions across and the direction itself.

    >>> frame((0.0, 0.0, 2.0)).round(6).tolist()
    [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]
    """
    n = np.asarray(direction, float) / np.linalg.norm(direction)
    v = _cross(n, np.eye(3)[int(np.argmin(np.abs(n)))])
    v /= np.linalg.norm(v)
    return np.array([_cross(v, n), v, n])


def vec(point: Array) -> Vec3:
    """An array (3,) as a tuple of the model."""
    return (float(point[0]), float(point[1]), float(point[2]))


def _cross(a: Array, b: Array) -> Array:
    """The cross product (3,) of two vectors, many times faster than numpy's for stacks of them."""
    (x, y, z), (u, v, w) = a.tolist(), b.tolist()
    return np.array([y * w - z * v, z * u - x * w, x * v - y * u])
