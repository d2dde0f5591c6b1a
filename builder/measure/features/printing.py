"""How each part prints, on any printer: best pose, bed, height, overhang, small features, flatness."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from builder import mesh
from builder.mesh.flat_regions import NEEDLE_MM, Index, Surface, flats, patches, surface
from builder.model import PartMeasure, PartSpec, Solid, Vouch

Array = NDArray[np.float64]

OVERHANG_COSINE = math.cos(math.radians(45))
"""Steeper than 45 degrees prints without support (common practice, no source)."""
ON_BED_MM = 0.1
NEGLIGIBLE_MM2 = 5.0
"""Less overhang than this bridges by itself (common practice, no source)."""
SEARCH_MM = 5.0
"""Features and gaps wider than this are not small on any nozzle."""
RAYS = 6000
FACING = 0.94
"""Two faces bound a wall or a gap when they face each other within 20 degrees."""
LEVEL = 0.99
LEVEL_MM = 1.0
FOOT = 0.4
"""Share of its bed that a back must touch for a half to stand on it (our own choice)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pose:
    """A way to lie on the bed: x -> turn @ x, what it needs and what hangs over."""

    turn: Array
    bed_mm: tuple[float, float]
    height_mm: float
    overhang_mm2: float


def printed(part: PartSpec, solid: Solid, body: mesh.Body, vouch: Vouch) -> PartMeasure:
    """The part, as it lies in the closed mold, with everything that its printing asks."""
    skin = surface(solid)
    hull = surface(mesh.solid(mesh.hull([body]), "hull"))
    back = on_its_back(skin, hull) if part.role in ("half", "open") else None
    pose = back or best_pose(skin, hull)
    feature, gap = smallest(skin, body)
    size = np.ptp(solid.vertices, axis=0)
    return PartMeasure(
        name=part.name,
        file=part.file,
        role=part.role,
        size_mm=(float(size[0]), float(size[1]), float(size[2])),
        volume_ml=mesh.volume_ml(mesh.volume_mm3(solid)),
        area_mm2=float(skin.areas_mm2.sum()),
        print_turn_deg=mesh.turns_deg(pose.turn),
        bed_mm=pose.bed_mm,
        height_mm=pose.height_mm,
        overhang_mm2=pose.overhang_mm2,
        smallest_feature_mm=feature,
        smallest_gap_mm=gap,
        flatness_mm=flatness_mm(skin) if part.role in ("half", "open") else None,
        vouch=vouch,
    )


def on_its_back(skin: Surface, hull: Surface) -> Pose | None:
    """A half that was read in the closed mold, its cavity up; None if its back is no foot to stand on.

    So the cavity's layers lie as the maker wants them, whatever nut traps and chamfers hang over.
    """
    height = hull.vertices[:, 2]
    down = 1.0 if height.max() > -height.min() else -1.0
    deep = np.abs(height[hull.faces] - (height.max() if down > 0 else height.min())).max(axis=1)
    foot = float(hull.areas_mm2[(hull.normals[:, 2] * down > LEVEL) & (deep < LEVEL_MM)].sum())
    pose = _pose(skin, hull, np.array([0.0, 0.0, down]))
    return pose if foot > FOOT * pose.bed_mm[0] * pose.bed_mm[1] else None


def best_pose(skin: Surface, hull: Surface) -> Pose:
    """The pose on one of the hull's faces with the least overhang; of equal ones the lowest."""
    feet = flats(hull, 0.03 * float(hull.areas_mm2.sum()))[:12]
    downs = [foot.normal for foot in feet] or [np.array([0.0, 0.0, -1.0])]
    poses = [_pose(skin, hull, down) for down in downs]
    return min(poses, key=lambda pose: (max(pose.overhang_mm2, NEGLIGIBLE_MM2), round(pose.height_mm, 2)))


def _pose(skin: Surface, hull: Surface, down: Array) -> Pose:
    """Standing on the face whose outward normal is `down`, its long side along x."""
    turn = mesh.frame(-down)
    spin, bed = _along_x((hull.vertices @ turn.T)[:, :2])
    turn = spin @ turn
    height = skin.vertices @ turn[2]
    floor = height.min()
    hanging = skin.normals @ turn[2] < -OVERHANG_COSINE - 1e-6
    raised = height[skin.faces].max(axis=1) > floor + ON_BED_MM
    return Pose(
        turn=turn,
        bed_mm=bed,
        height_mm=float(height.max() - floor),
        overhang_mm2=float(skin.areas_mm2[hanging & raised].sum()),
    )


def _along_x(points: Array) -> tuple[Array, tuple[float, float]]:
    """Turn (3, 3) about z that lays the smallest rectangle round plane points along x, and its sides."""
    corners = np.array(shapely.minimum_rotated_rectangle(shapely.MultiPoint(points)).exterior.coords)
    sides = np.diff(corners[:3], axis=0)
    lengths = np.linalg.norm(sides, axis=1)
    longer = int(lengths[1] > lengths[0] + 1e-6)
    c, s = sides[longer] / lengths[longer]
    if (c, s) < (-1e-9, 0.0):
        c, s = -c, -s
    turn = np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
    return turn, (float(lengths[longer]), float(lengths[1 - longer]))


def smallest(skin: Surface, body: mesh.Body) -> tuple[float | None, float | None]:
    """Thinnest wall of material and narrowest gap (mm), sampled; None where both exceed SEARCH_MM."""
    facets = _spread(skin.areas_mm2)
    starts = skin.vertices[skin.faces[facets]].mean(axis=1)
    normals = skin.normals[facets]
    return _shortest(body, starts, -normals, 1.0), _shortest(body, starts, normals, -1.0)


def _spread(areas_mm2: Array) -> Index:
    """At most RAYS facets: the largest, and every n-th of the rest."""
    order = np.argsort(-areas_mm2, kind="stable")
    large, rest = order[: RAYS // 2], np.sort(order[RAYS // 2 :])
    return np.concatenate([large, rest[:: max(1, math.ceil(2 * len(rest) / RAYS))]])


def _shortest(body: mesh.Body, starts: Array, ways: Array, facing: float) -> float | None:
    """Shortest way from a surface to one that looks the other way; `facing` is 1 through material."""
    best = SEARCH_MM
    rays = zip((starts + 1e-3 * ways).tolist(), starts.tolist(), ways.tolist(), strict=True)
    for begin, (x, y, z), (u, v, w) in rays:
        hits = body.ray_cast(begin, (x + best * u, y + best * v, z + best * w))
        if hits and facing * float(np.dot(hits[0].normal, (u, v, w))) > FACING:
            best = float(np.dot(np.subtract(hits[0].position, (x, y, z)), (u, v, w)))
    return best if best < SEARCH_MM else None


def flatness_mm(skin: Surface) -> float | None:
    """Highest less lowest point of the parting face at z = 0 over its best plane; None without one.

    Needles are left out: one has no direction of its own, and may stand in a cavity and seem level.
    """
    near = np.abs(skin.vertices[skin.faces][:, :, 2]).max(axis=1) < LEVEL_MM
    level = near & (np.abs(skin.normals[:, 2]) > LEVEL)
    faces = patches(skin, 1.0, among=level)
    if not faces:
        return None
    patch = max(faces, key=lambda facets: float(skin.areas_mm2[facets].sum()))
    patch = patch[_height_mm(skin, patch) > NEEDLE_MM]
    points = skin.vertices[np.unique(skin.faces[patch])]
    matrix = np.column_stack([points[:, :2], np.ones(len(points))])
    rest = points[:, 2] - matrix @ np.linalg.lstsq(matrix, points[:, 2], rcond=None)[0]
    return float(np.ptp(rest))


def _height_mm(skin: Surface, facets: Index) -> Array:
    """Height of each facet over its longest side."""
    corners = skin.vertices[skin.faces[facets]]
    sides = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=-1)
    return np.asarray(2 * skin.areas_mm2[facets] / np.maximum(sides.max(axis=1), 1e-12))
