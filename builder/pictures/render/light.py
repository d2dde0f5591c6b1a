"""Light over a scene, gathered once for each block of pixels: how much sky and how much lamp a point sees."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from builder.pictures.render import rays
from builder.pictures.render.camera import Camera
from builder.pictures.render.scene import Found, Scene, cast, dot, points

Bool = NDArray[np.bool_]
F32 = NDArray[np.float32]
I32 = NDArray[np.int32]
BLOCK = 4
"""A block is so many pixels across and down."""
TILE = 3
"""The patterns of rays repeat after so many blocks."""
AROUND = range(-(TILE // 2), TILE - TILE // 2)
"""Steps from a block to those of the tile around it."""
SKY_RAYS = 12
"""Rays of one block over the hemisphere..."""
LAMP_RAYS = 2
"""...and, squared, at the lamp."""
GOLDEN = (math.sqrt(5) - 1) / 2
LAMP_SPREAD = 0.11
REACH = 0.3
"""What is farther away than this share of the scene takes no light."""
OFF = np.float32(2e-5)
"""How far off the surface rays start, as a share of the scene."""
BATCH = 1 << 12
"""Blocks lit at once: bounds the memory."""
OUTER = 8
"""In so many directions, those that most blocks face, flat faces are sought with all of the scene behind."""
STEPS = 100
"""Directions closer to each other than one to this are one."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Light:
    """Light at the middle of each block (rows, columns): `sky` and `lamp` in 0..1.

    `point` and `normal` (3, rows, columns) tell which point of which facet was lit; `found` (rows * columns)
    what the rays through the blocks met.
    """

    sky: F32
    lamp: F32
    point: F32
    normal: F32
    hit: Bool
    lamp_direction: F32
    found: Found


def gather(scene: Scene, camera: Camera) -> Light:
    """The light of every block that sees something, evened out."""
    lamp_direction = _lamp(camera)
    high, wide = -(-camera.height_px // BLOCK), -(-camera.width_px // BLOCK)
    rows, columns = (grid.ravel() for grid in np.indices((high, wide), dtype=np.int32))
    x, y = ((grid.astype(np.float32) + np.float32(0.5)) * BLOCK for grid in (columns, rows))
    found = cast(scene, camera, x, y)
    at = np.flatnonzero(found.face >= 0)
    point, normal = np.zeros((2, 3, len(x)), dtype=np.float32)
    point[:, at] = points(scene, camera, found.only(at))
    normal[:, at] = scene.flat.take(found.face[at], axis=1)
    sky, lamp = np.ones(len(x), dtype=np.float32), np.ones(len(x), dtype=np.float32)
    pattern = (rows % TILE) * TILE + columns % TILE
    at = at[~_outer(scene, point[:, at], normal[:, at])]
    for start in range(0, len(at), BATCH):
        part = at[start : start + BATCH]
        facing = normal.take(part, axis=1)
        begin = (point.take(part, axis=1) + facing * (OFF * np.float32(scene.size_mm))).T
        sky[part] = _sky(scene, begin, facing, pattern[part])
        lamp[part] = _lamp_share(scene, begin, facing, pattern[part], lamp_direction)
    shape = (high, wide)
    rough = Light(
        sky=sky.reshape(shape),
        lamp=lamp.reshape(shape),
        point=point.reshape(3, *shape),
        normal=normal.reshape(3, *shape),
        hit=(found.face >= 0).reshape(shape),
        lamp_direction=lamp_direction,
        found=found,
    )
    return _evened(rough, 3 * BLOCK * camera.mm_per_px)


def _outer(scene: Scene, point: F32, normal: F32) -> Bool:
    """Which points (3, n) lie on a flat face with all of the scene behind it: nothing takes their light."""
    found = np.zeros(point.shape[1], dtype=bool)
    if not found.size or not rays.fast():
        return found
    keys = np.array([1, 4 * STEPS, 16 * STEPS**2]) @ np.rint(normal * STEPS).astype(np.int64)
    _, first, count = np.unique(keys, return_index=True, return_counts=True)
    for one in first[np.argsort(-count, kind="stable")[:OUTER]]:
        along = normal[:, one]
        most = float((scene.vertices @ along.astype(np.float64)).max())
        near = dot(point, along) > most - OFF * scene.size_mm
        found |= near & (dot(normal, along) > 1 - 1e-6)
    return found


def _lamp(camera: Camera) -> F32:
    """Direction to the lamp: over the viewer's left shoulder."""
    right, up, toward = (np.array(axis) for axis in (camera.right, camera.up, camera.toward))
    lamp = -0.55 * right + 0.75 * up + 0.75 * toward
    return np.asarray(lamp / np.linalg.norm(lamp), dtype=np.float32)


def _dome() -> F32:
    """Places in the unit square (TILE², SKY_RAYS, 2): all of a tile make one lattice without rows or gaps.

    Its step is the golden ratio. Against 100 rays a block, 12 laid so err less than 16 in a square grid.
    """
    number = np.arange(SKY_RAYS * TILE**2)
    spots = np.stack([(number + 0.5) / len(number), number * GOLDEN % 1], axis=-1)
    return spots.reshape(SKY_RAYS, TILE**2, 2).swapaxes(0, 1).astype(np.float32)


def _spots(across: int) -> F32:
    """Places in the unit square (TILE², across², 2): a coarse grid, shifted so that all make a fine one."""
    coarse = np.mgrid[0:across, 0:across].reshape(2, -1).T / across
    shift = (np.mgrid[0:TILE, 0:TILE].reshape(2, -1).T + 0.5) / (across * TILE)
    return np.asarray(coarse[None] + shift[:, None], dtype=np.float32)


def _sky(scene: Scene, begin: F32, normal: F32, pattern: I32) -> F32:
    """Share of a cosine-weighted hemisphere that is free (n,), for points (n, 3) and their normals (3, n)."""
    if not rays.fast():
        return np.full(len(begin), 0.9, dtype=np.float32)
    spots = _dome()
    radius, turn = np.sqrt(spots[..., 0]), 2 * np.pi * spots[..., 1]
    local = np.stack([radius * np.cos(turn), radius * np.sin(turn), np.sqrt(1 - spots[..., 0])])
    along = local.astype(np.float32).take(pattern, axis=1)
    towards = np.empty((*along.shape[1:], 3), dtype=np.float32)
    side, other = rays.beside(normal.T)
    for axis, frame in enumerate(zip(side.T, other.T, normal, strict=True)):
        towards[..., axis] = dot(along, np.stack(frame)[..., None])
    return _free(scene, begin, towards)


def _lamp_share(scene: Scene, begin: F32, normal: F32, pattern: I32, lamp: F32) -> F32:
    """Share of the lamp's disc that is free (n,), 1 for facets turned away from it."""
    share = np.ones(len(begin), dtype=np.float32)
    if not rays.fast():
        return share
    facing = np.flatnonzero(dot(normal, lamp) > 0.03)
    spots = (_spots(LAMP_RAYS) - 0.5) * 2 * np.float32(LAMP_SPREAD)
    side, other = rays.beside(lamp[None])
    disc = lamp + spots[..., :1] * side + spots[..., 1:] * other
    disc /= np.linalg.norm(disc, axis=-1, keepdims=True)
    share[facing] = _free(scene, begin[facing], disc.astype(np.float32).take(pattern[facing], axis=0))
    return share


def _free(scene: Scene, begin: F32, towards: F32) -> F32:
    """Share (n,) of the rays (n, k, 3) that nothing is in the way of."""
    count = towards.shape[1]
    blocked = scene.caster.blocked(
        np.repeat(begin, count, axis=0), np.ascontiguousarray(towards.reshape(-1, 3)), REACH * scene.size_mm
    )
    taken = np.add.reduce(blocked.reshape(-1, count), axis=1, dtype=np.uint8)
    return np.asarray(1 - taken / np.float32(count))


def _evened(light: Light, near_mm: float) -> Light:
    """The mean over a tile around each block, of blocks that lie in the same face."""
    total = np.zeros_like(light.sky)
    sky, lamp = np.zeros_like(total), np.zeros_like(total)
    for down in AROUND:
        for across in AROUND:
            here, there = _overlap(down, across)
            mine, yours = light.normal[:, *here], light.normal[:, *there]
            off = np.abs(dot(mine, light.point[:, *there] - light.point[:, *here]))
            weight = (dot(mine, yours) > 0.85) & (off < near_mm) & light.hit[there]
            total[here] += weight
            sky[here] += weight * light.sky[there]
            lamp[here] += weight * light.lamp[there]
    some = np.maximum(total, 1)
    return replace(light, sky=np.asarray(sky / some), lamp=np.asarray(lamp / some))


def _overlap(down: int, across: int) -> tuple[tuple[slice, slice], tuple[slice, slice]]:
    """Slices of an image and of its neighbours `down` and `across`, cut to what both have."""

    def pair(step: int) -> tuple[slice, slice]:
        here = slice(max(0, -step), -step if step > 0 else None)
        return here, slice(max(0, step), step if step < 0 else None)

    (here_r, there_r), (here_c, there_c) = pair(down), pair(across)
    return (here_r, here_c), (there_r, there_c)
