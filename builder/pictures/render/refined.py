"""Pixels on edges: nine rays each, one colour for each surface that they meet, and lines between surfaces."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from builder.pictures.render.camera import Camera
from builder.pictures.render.edges import differs
from builder.pictures.render.scene import Found, Scene, cast

Bool = NDArray[np.bool_]
F32 = NDArray[np.float32]
I32 = NDArray[np.int32]
I64 = NDArray[np.int64]
ACROSS = 3
"""Rays through a pixel each way."""
LINE = 0.5
"""How much of the light a line takes."""
BEND = 0.77
"""Cosine at which two facets make a crease that is drawn as a line."""
JUMP_PX = 2.5
"""Step in depth that is drawn as a line."""
FAR_PX = 8.0
"""Rays that meet one surface so much deeper than the rest of the pixel have met another part of it."""
BATCH = 1 << 14


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Groups:
    """Rays of n pixels by the surface that they met, pixel by pixel.

    `ray` is one of the group's rays, `pixel` its pixel, `share` and `light` how much of the pixel the
    group covers, without and with the light that lines take.
    """

    ray: I64
    pixel: I64
    share: F32
    light: F32


def refine(
    scene: Scene, camera: Camera, which: Bool, tinted: Bool, shade: Callable[[Found], F32]
) -> tuple[I64, F32]:
    """The numbers (n,) of the pixels that are refined and their mean colour with alpha (n, 4).

    `which` (height, width) tells the pixels, `tinted` those of them in which tints may change; `shade`
    gives the colour (k, 3) of places that see something.
    """
    at = np.flatnonzero(which)
    colour = np.zeros((len(at), 4), dtype=np.float32)
    if not len(at):
        return at, colour
    found = _rays(scene, camera, at)
    groups = _grouped(scene, found, _lines(scene, camera, which, found), tinted.ravel()[at], camera)
    for start in range(0, len(groups.ray), BATCH):
        part = slice(start, start + BATCH)
        light = shade(found.only(groups.ray[part])) * groups.light[part, None]
        pixel, first = np.unique(groups.pixel[part], return_index=True)
        colour[pixel, :3] += np.add.reduceat(light, first, axis=0)
        colour[pixel, 3] += np.add.reduceat(groups.share[part], first)
    return at, np.minimum(colour, 1)


def _rays(scene: Scene, camera: Camera, at: I64) -> Found:
    """What nine rays through each pixel meet, row by row."""
    spots = (np.arange(ACROSS, dtype=np.float32) + np.float32(0.5)) / ACROSS
    down, across = np.divmod(at, camera.width_px)
    x = (across.astype(np.float32)[:, None] + np.tile(spots, ACROSS)).ravel()
    y = (down.astype(np.float32)[:, None] + np.repeat(spots, ACROSS)).ravel()
    return cast(scene, camera, x, y)


def _lines(scene: Scene, camera: Camera, which: Bool, found: Found) -> Bool:
    """Which rays (n * 9) lie on a line: beside another body, a crease or a step."""
    count = len(found.face) // ACROSS**2
    shape = (count, ACROSS, ACROSS)
    face, depth = found.face.reshape(shape), found.depth.reshape(shape)
    line = np.zeros(shape, dtype=bool)
    number = np.full(which.shape, -1, dtype=np.int32)
    number[which] = np.arange(count)
    limits = (BEND, JUMP_PX * camera.mm_per_px)
    for axis in (0, 1):
        faces, depths = np.moveaxis(face, 1 + axis, 1), np.moveaxis(depth, 1 + axis, 1)
        lines = np.moveaxis(line, 1 + axis, 1)
        before, after = _next(number, which, axis)
        pairs: list[tuple[Any, Any]] = [(np.s_[:, k], np.s_[:, k + 1]) for k in range(ACROSS - 1)]
        pairs.append(((before, ACROSS - 1), (after, 0)))
        for one, other in pairs:
            pair = (faces[one], depths[one]), (faces[other], depths[other])
            changes = differs(scene, *pair, np.array(camera.toward), limits)
            lines[one] |= changes
            lines[other] |= changes
    return line.ravel()


def _next(number: I32, which: Bool, axis: int) -> tuple[I32, I32]:
    """Refined pixels whose neighbour below (axis 0) or to the right (1) is refined as well, and those."""
    here, there = (np.s_[:-1], np.s_[1:]) if axis == 0 else (np.s_[:, :-1], np.s_[:, 1:])
    both = which[here] & which[there]
    return number[here][both], number[there][both]


def _grouped(scene: Scene, found: Found, line: Bool, apart: Bool, camera: Camera) -> Groups:
    """The rays of each pixel that met one surface at about one depth; each by itself where `apart`."""
    nine = ACROSS**2
    shape = (len(apart), nine)
    face, depth = found.face.reshape(shape), found.depth.reshape(shape)
    far = depth > depth.min(axis=1, keepdims=True) + np.float32(FAR_PX * camera.mm_per_px)
    key = np.where(face >= 0, 2 * scene.surface[face] + far, -1)
    key[apart] = np.where(face[apart] >= 0, np.arange(nine), -1)
    order = np.argsort(key, axis=1, kind="stable")
    key = np.take_along_axis(key, order, axis=1)
    begins = np.ones(shape, dtype=bool)
    begins[:, 1:] = key[:, 1:] != key[:, :-1]
    first = np.flatnonzero(begins)
    ray = (order + nine * np.arange(shape[0])[:, None]).ravel()
    light = (1 - np.float32(LINE) * line[ray]) / np.float32(nine)
    size = np.diff(first, append=key.size)
    hit = key.ravel()[first] >= 0
    return Groups(
        ray=ray[first + size // 2][hit],
        pixel=(first // nine)[hit],
        share=(size / nine).astype(np.float32)[hit],
        light=np.add.reduceat(light, first)[hit],
    )
