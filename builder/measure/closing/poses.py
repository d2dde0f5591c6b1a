"""Turns and moves in the plane that bring one face's outline onto another's."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree

Array = NDArray[np.float64]

LEAST_RING_MM2 = 1.0


def turned(one: shapely.Geometry, two: shapely.Geometry) -> Iterator[tuple[Array, Array]]:
    """Turn (2, 2) and move (2,) that may bring the second outline onto the first."""
    mine, theirs = cKDTree(shapely.get_coordinates(one)), shapely.get_coordinates(two)
    for turn, move in _candidates(one, two):
        yield _refined(mine, theirs, turn, move)


def _candidates(one: shapely.Geometry, two: shapely.Geometry) -> Iterator[tuple[Array, Array]]:
    """Turn (2, 2) and move (2,) from the outlines' rectangles, then from rings that look alike."""
    angle, mine, theirs = _long_angle(one) - _long_angle(two), _middle(one), _middle(two)
    for quarter in range(4):
        turn = _spin(angle + quarter * math.pi / 2)
        yield turn, mine - turn @ theirs
    yield from _by_rings(one, two)


def _by_rings(one: shapely.Geometry, two: shapely.Geometry) -> Iterator[tuple[Array, Array]]:
    """Moves that lay two openings of the second face on two like openings of the first."""
    mine, theirs = rings(one), rings(two)
    if len(mine) < 2 or len(theirs) < 2:
        return
    seen: list[Array] = []
    pairs = sorted(
        ((i, j) for i in range(len(mine)) for j in range(len(mine)) if i < j),
        key=lambda p: -float(np.linalg.norm(mine[p[0], :2] - mine[p[1], :2])),
    )
    for i, j in pairs[:4]:
        for k in range(len(theirs)):
            for m in range(len(theirs)):
                if k == m or not (_like(mine[i], theirs[k]) and _like(mine[j], theirs[m])):
                    continue
                a, b = mine[j, :2] - mine[i, :2], theirs[m, :2] - theirs[k, :2]
                if abs(np.linalg.norm(a) - np.linalg.norm(b)) > 0.2:
                    continue
                turn = _spin(math.atan2(a[1], a[0]) - math.atan2(b[1], b[0]))
                move = (mine[i, :2] + mine[j, :2]) / 2 - turn @ (theirs[k, :2] + theirs[m, :2]) / 2
                key = np.append(turn[0], move)
                if not any(np.abs(key - old).max() < 0.05 for old in seen):
                    seen.append(key)
                    yield turn, move


def _like(one: Array, two: Array) -> bool:
    """Areas within a quarter (a pin's socket is a little wider than its pin)."""
    return bool(0.75 < one[2] / two[2] < 1.33)


def rings(polygon: shapely.Geometry) -> Array:
    """Centre and area (n, 3) of each opening, at most the 16 largest; specks lie nowhere in particular."""
    holes = [shapely.Polygon(ring) for part in shapely.get_parts(polygon) for ring in part.interiors]
    holes = sorted((hole for hole in holes if hole.area > LEAST_RING_MM2), key=lambda hole: -hole.area)[:16]
    return np.array([(hole.centroid.x, hole.centroid.y, hole.area) for hole in holes]).reshape(-1, 3)


def _refined(mine: cKDTree, theirs: Array, turn: Array, move: Array) -> tuple[Array, Array]:
    """Least-squares turn over outline vertices that nearly meet (Kabsch 1976); unchanged if few do."""
    for reach in (0.2, 0.02):
        found = mine.query(theirs @ turn.T + move, distance_upper_bound=reach)
        distance, nearest = map(np.asarray, found)
        hit = distance < reach
        if hit.sum() < 8:
            return turn, move
        a, b = mine.data[nearest[hit]], theirs[hit]
        u, _, v = np.linalg.svd((b - b.mean(0)).T @ (a - a.mean(0)))
        turn = v.T @ np.diag([1.0, np.sign(np.linalg.det(v.T @ u.T))]) @ u.T
        move = a.mean(0) - turn @ b.mean(0)
    return turn, move


def levelled(polygon: shapely.Geometry) -> Array:
    """The movement (4, 4) in the plane that centres an outline and lays its long side along x."""
    spin = _spin(-_long_angle(polygon))
    middle = spin @ _middle(polygon)
    heavy = spin @ np.array(polygon.centroid.coords[0]) - middle
    if heavy[0] < -1e-3 or (abs(heavy[0]) <= 1e-3 and heavy[1] < -1e-3):
        spin, middle = -spin, -middle
    level = np.eye(4)
    level[:2, :2], level[:2, 3] = spin, -middle
    return level


def _long_angle(polygon: shapely.Geometry) -> float:
    """Direction (rad) of the long side of the smallest rectangle round the outline."""
    corners = np.array(shapely.minimum_rotated_rectangle(polygon).exterior.coords)
    sides = np.diff(corners, axis=0)[:2]
    x, y = sides[int(np.argmax(np.linalg.norm(sides, axis=1) - [0, 1e-6]))]
    return math.atan2(y, x)


def _middle(polygon: shapely.Geometry) -> Array:
    """Centre of the smallest rectangle round the outline."""
    return np.array(shapely.minimum_rotated_rectangle(polygon).centroid.coords[0])


def _spin(angle: float) -> Array:
    """Turn (2, 2) by an angle in rad."""
    return np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
