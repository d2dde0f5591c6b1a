"""Pixels on edges: five rays each, one colour for each surface that they meet, and lines between surfaces."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from builder.pictures.render.camera import Camera
from builder.pictures.render.edges import differs, facing
from builder.pictures.render.scene import Found, Scene, cast

Bool = NDArray[np.bool_]
F32 = NDArray[np.float32]
I32 = NDArray[np.int32]
I64 = NDArray[np.int64]
SPOTS = ((0, 0), (1, 2), (2, -1), (-1, -2), (-2, 1))
"""Where rays pass through a pixel, in fifths from its middle: one in each row and column, on a grid that
goes on through all pixels."""
STEPS = ((1, 2), (2, -1))
"""From a ray to the next of that grid, on both of its axes."""
FIFTHS = 5
LINE = 0.375
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
    scene: Scene, camera: Camera, pixels: tuple[Bool, Bool], middle: Found, shade: Callable[[Found], F32]
) -> tuple[I64, F32]:
    """The numbers (n,) of the pixels that are refined and their mean colour with alpha (4, n).

    `pixels` (height, width) tells which, and those of them in which tints may change; `middle` what they see
    at their middles; `shade` gives the colour (3, k) of places that see something.
    """
    which, tinted = pixels
    at = np.flatnonzero(which)
    colour = np.zeros((4, len(at)), dtype=np.float32)
    if not len(at):
        return at, colour
    found = _rays(scene, camera, at, middle)
    groups = _grouped(scene, found, _lines(scene, camera, which, found), tinted.ravel()[at], camera)
    for start in range(0, len(groups.ray), BATCH):
        part = slice(start, start + BATCH)
        light = shade(found.only(groups.ray[part])) * groups.light[part]
        first = np.flatnonzero(np.diff(groups.pixel[part], prepend=-1))
        pixel = groups.pixel[part][first]
        colour[:3, pixel] += np.add.reduceat(light, first, axis=1)
        colour[3, pixel] += np.add.reduceat(groups.share[part], first)
    return at, np.minimum(colour, 1)


def _rays(scene: Scene, camera: Camera, at: I64, middle: Found) -> Found:
    """What the rays through each pixel meet, pixel by pixel; that through its middle is known."""
    spots = np.array(SPOTS[1:], dtype=np.float32) / np.float32(FIFTHS)
    x, y = (place[:, None] + spot for place, spot in zip((middle.x, middle.y), spots.T, strict=True))
    rest = cast(scene, camera, x.ravel(), y.ravel())

    def both(one: NDArray[Any], others: NDArray[Any]) -> NDArray[Any]:
        return np.column_stack([one, others.reshape(len(at), -1)]).ravel()

    return Found(**{name: both(getattr(middle, name), getattr(rest, name)) for name in Found.__slots__})


def _lines(scene: Scene, camera: Camera, which: Bool, found: Found) -> Bool:
    """Which rays (n * 5) lie on a line: beside another body, a crease or a step."""
    shape = (len(found.face) // len(SPOTS), len(SPOTS))
    face, depth = (np.ascontiguousarray(some.reshape(shape).T) for some in (found.face, found.depth))
    line = np.zeros(face.shape, dtype=bool)
    number = np.full(np.array(which.shape) + 2, -1, dtype=np.int32)
    number[1:-1, 1:-1][which] = np.arange(shape[0])
    limits, facings = (BEND, JUMP_PX * camera.mm_per_px), facing(scene, camera)
    at = np.flatnonzero(number >= 0)
    ways = dict.fromkeys(way for _, _, way in _neighbours())
    sides = {way: _next(number, at, *way) for way in ways}
    for one, other, way in _neighbours():
        here, there = sides[way]
        pair = (face[one][here], depth[one][here]), (face[other][there], depth[other][there])
        changes = differs(scene, *pair, facings, limits)
        line[one][here] |= changes
        line[other][there] |= changes
    return np.ascontiguousarray(line.T).ravel()


@cache
def _neighbours() -> tuple[tuple[int, int, tuple[int, int]], ...]:
    """Spots beside each other: the numbers of both, and how many pixels on (across, down) the second is."""
    pairs = []
    for one, (x, y) in enumerate(SPOTS):
        for across, down in STEPS:
            column, row = ((place + FIFTHS // 2) // FIFTHS for place in (x + across, y + down))
            there = (x + across - FIFTHS * column, y + down - FIFTHS * row)
            pairs.append((one, SPOTS.index(there), (column, row)))
    return tuple(pairs)


def _next(number: I32, at: I64, across: int, down: int) -> tuple[I64, I32]:
    """Refined pixels whose neighbour so many on is refined as well, and those; the grid has an empty rim."""
    there = number.take(at + down * number.shape[1] + across)
    here = np.flatnonzero(there >= 0)
    return here, there.take(here)


def _grouped(scene: Scene, found: Found, line: Bool, apart: Bool, camera: Camera) -> Groups:
    """The rays of each pixel that met one surface at about one depth; each by itself where `apart`."""
    rays = len(SPOTS)
    shape = (len(apart), rays)
    face, depth = found.face.reshape(shape), found.depth.reshape(shape)
    far = depth > depth.min(axis=1, keepdims=True) + np.float32(FAR_PX * camera.mm_per_px)
    key = np.where(face >= 0, 2 * scene.surface[face] + far, -1)
    key[apart] = np.where(face[apart] >= 0, np.arange(rays), -1)
    order = np.argsort(key, axis=1, kind="stable")
    key = np.take_along_axis(key, order, axis=1)
    begins = np.ones(shape, dtype=bool)
    begins[:, 1:] = key[:, 1:] != key[:, :-1]
    first = np.flatnonzero(begins)
    ray = (order + rays * np.arange(shape[0])[:, None]).ravel()
    light = (1 - np.float32(LINE) * line[ray]) / np.float32(rays)
    size = np.diff(first, append=key.size)
    hit = key.ravel()[first] >= 0
    return Groups(
        ray=ray[first + size // 2][hit],
        pixel=(first // rays)[hit],
        share=(size / rays).astype(np.float32)[hit],
        light=np.add.reduceat(light, first)[hit],
    )
