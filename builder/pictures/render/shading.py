"""A scene as a picture: soft shadow in hollows, one lamp, thin lines at creases; the same bytes every time.

Three grids, from coarse to fine. Light and colour are found once for each block of 4 x 4 pixels: 12 rays over
the hemisphere and 4 at the lamp, in one of 9 patterns that repeat in a tile of 3 x 3 blocks, so that an
edge-aware mean over the tile removes the pattern exactly. Where a surface goes on smoothly, a pixel's colour
lies between its blocks'; hatching and rulings are laid over that. Pixels are looked at by themselves only
between blocks that see different surfaces, and where an edge of a body passes. There a pixel next to an edge
is shaded by itself; one on an edge is looked at 5 times and shaded for each surface that it shows.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from builder.pictures.render import edges, palette, rays
from builder.pictures.render.camera import Camera
from builder.pictures.render.light import BLOCK, Light, gather
from builder.pictures.render.refined import refine
from builder.pictures.render.scene import Found, Scene, Seen, cast, dot, lines_at, on_face, seen

Bool = NDArray[np.bool_]
Bytes = NDArray[np.uint8]
F32 = NDArray[np.float32]
I32 = NDArray[np.int32]
I64 = NDArray[np.int64]
BATCH = 1 << 14
"""Places shaded at once: bounds the memory."""
LEVELS = (1 << 16) - 1
"""Steps of linear light before it becomes 8-bit sRGB: even in the dark twenty make one of those."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lit:
    """A scene, how it is looked at, and the light of its blocks."""

    scene: Scene
    camera: Camera
    light: Light


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pixels:
    """Pixels that are looked at by themselves: their numbers (n,), row by row, and what they see."""

    at: I64
    block: I64
    """The number of the block that each lies in."""
    found: Found


def render(scene: Scene, camera: Camera, margins_px: tuple[int, int, int, int] = (0, 0, 0, 0)) -> Bytes:
    """The picture (height, width, 4) as sRGB with alpha, not premultiplied; clear where nothing is hit.

    Nothing is drawn in the margins (left, top, right, bottom).
    """
    pixels = np.zeros((camera.height_px, camera.width_px, 4), dtype=np.uint8)
    left, top, right, bottom = _window(scene, camera, margins_px)
    if left < right and top < bottom:
        inner = camera.cropped(left, top, right, bottom)
        lit = Lit(scene=scene, camera=inner, light=gather(scene, inner))
        pixels[top:bottom, left:right] = _drawn(lit)
    return pixels


def _window(scene: Scene, camera: Camera, margins_px: tuple[int, int, int, int]) -> tuple[int, int, int, int]:
    """The columns and rows that the scene can be seen in, without the margins."""
    places = camera.project(scene.vertices)
    low, high = np.floor(places.min(axis=0)) - 1, np.ceil(places.max(axis=0)) + 1
    left, top, right, bottom = margins_px
    return (
        max(left, int(low[0])),
        max(top, int(low[1])),
        min(camera.width_px - right, int(high[0])),
        min(camera.height_px - bottom, int(high[1])),
    )


def _drawn(lit: Lit) -> Bytes:
    """The pixels of the whole view."""
    scene, camera, light = lit.scene, lit.camera, lit.light
    shape = (camera.height_px, camera.width_px)
    colour, ruled, mark = _blocks(lit)
    changed, tinted = edges.mixed(scene, light, colour, mark, camera)
    tints = edges.grown(edges.between_pixels(tinted, shape))
    busy = edges.grown(edges.between_pixels(changed, shape)) | tints | edges.lined(scene, light, camera)
    looked = _looked(lit, busy)
    image = _smooth(lit, (colour, ruled), looked)
    face, depth = _maps(looked, shape)
    edge = edges.edges(scene, face, depth, busy, camera)
    near = edges.between_pixels(changed, shape)
    near.reshape(-1)[looked.at] |= _odd(lit, looked)
    near &= busy & ~edge
    near |= tints
    tint = np.full(shape, -1, dtype=np.int32)
    _sample(lit, looked, near | (edge if not rays.fast() else False), image, tint)
    inlaid = any(body.inlay is not None for body in scene.bodies)
    parted = edges.parted(tint) if inlaid else np.zeros(shape, dtype=bool)
    if rays.fast():
        which = edge | parted
        middle = looked.found.only(np.flatnonzero(which.reshape(-1).take(looked.at)))
        at, fine = refine(scene, camera, (which, parted), middle, lambda found: _coloured(lit, found)[0])
        image.reshape(-1, 4)[at] = _encoded(fine)
    return image


def _blocks(lit: Lit) -> tuple[F32, F32 | None, I32]:
    """Of the blocks (rows, columns): colour (3, ...), that of a line where there are rulings, and mark.

    0 and -1 without a hit.
    """
    light, shape, count = lit.light, lit.light.hit.shape, lit.light.hit.size
    hit = np.flatnonzero(light.hit)
    what = seen(lit.scene, lit.camera, light.found.only(hit), ruled=False)
    colour, mark = np.zeros((3, count), dtype=np.float32), np.full(count, -1, dtype=np.int32)
    sky, lamp = light.sky.ravel()[hit], light.lamp.ravel()[hit]
    colour[:, hit] = _shade(what, sky, lamp, lit)
    mark[hit] = what.mark
    return colour.reshape(3, *shape), _ruled(lit, what, sky, lamp), mark.reshape(shape)


def _ruled(lit: Lit, what: Seen, sky: F32, lamp: F32) -> F32 | None:
    """Colour (3, rows, columns) of a line at each block; None when no body has a ruling."""
    bodies, hit = lit.scene.bodies, lit.light.hit
    if all(body.ruling is None for body in bodies):
        return None
    tones = [body.ruling.colour if body.ruling else body.colour for body in bodies]
    base = np.stack([palette.linear(tone) for tone in tones], axis=1)
    out = np.zeros((3, *hit.shape), dtype=np.float32)
    owner = lit.scene.body[lit.light.found.face[hit.ravel()]]
    out[:, hit] = base[:, owner] * _strength(what, sky, lamp, lit)
    return out


def _looked(lit: Lit, which: Bool) -> Pixels:
    """What some pixels (height, width) see at their middles."""
    down, across = np.nonzero(which)
    half = np.float32(0.5)
    return Pixels(
        at=down * lit.camera.width_px + across,
        block=down // BLOCK * lit.light.hit.shape[1] + across // BLOCK,
        found=cast(lit.scene, lit.camera, across.astype(np.float32) + half, down.astype(np.float32) + half),
    )


def _maps(looked: Pixels, shape: tuple[int, int]) -> tuple[I32, F32]:
    """Triangle and depth (height, width) of the pixels that are looked at, -1 and 0 elsewhere."""
    face, depth = np.full(shape, -1, dtype=np.int32), np.zeros(shape, dtype=np.float32)
    face.reshape(-1)[looked.at], depth.reshape(-1)[looked.at] = looked.found.face, looked.found.depth
    return face, depth


def _odd(lit: Lit, looked: Pixels) -> Bool:
    """Which of the pixels (n,) see another surface than their block."""
    surface = np.append(lit.scene.surface, -1)
    of_block = surface.take(lit.light.found.face)
    return np.asarray(surface.take(looked.found.face) != of_block.take(looked.block))


def _smooth(lit: Lit, blocks: tuple[F32, F32 | None], looked: Pixels) -> Bytes:
    """The picture (height, width, 4) with each pixel's colour between those of the four blocks around."""
    shape = (lit.camera.height_px, lit.camera.width_px)
    plain = _finer(blocks[0], shape)
    if blocks[1] is not None:
        plain = Image.composite(_finer(blocks[1], shape), plain, Image.fromarray(_cover(lit, looked, shape)))
    alpha = edges.of_blocks(np.where(lit.light.hit, np.uint8(255), np.uint8(0)), shape)
    alpha.reshape(-1)[looked.at] = np.where(looked.found.face >= 0, 255, 0)
    plain.putalpha(Image.fromarray(alpha))
    return np.array(plain)


def _finer(colour: F32, shape: tuple[int, int]) -> Image.Image:
    """Blocks (3, rows, columns) as an image of so many pixels, between the blocks on all sides."""
    high, wide = colour.shape[1:]
    coarse = Image.fromarray(np.ascontiguousarray(np.moveaxis(_bytes(colour), 0, -1)))
    fine = coarse.resize((BLOCK * wide, BLOCK * high), Image.Resampling.BILINEAR)
    return fine.crop((0, 0, shape[1], shape[0]))


def _cover(lit: Lit, looked: Pixels, shape: tuple[int, int]) -> Bytes:
    """How much of each pixel (height, width) lines cover, 255 for all of it."""
    face = edges.of_blocks(lit.light.found.face.reshape(lit.light.hit.shape), shape)
    face.reshape(-1)[looked.at] = looked.found.face
    x, y = (np.arange(count, dtype=np.float32) + np.float32(0.5) for count in shape[::-1])
    cover = np.zeros(shape, dtype=np.uint8)
    every = np.arange(len(lit.scene.faces), dtype=np.int32)
    for index, body in enumerate(lit.scene.bodies):
        if body.ruling is None:
            continue
        lies = np.append((lit.scene.body == index) & on_face(lit.scene, body.ruling, every), False)
        lines = lines_at(body.ruling, lit.camera, x[None], y[:, None])
        cover += lies[face] * (lines * 255 + np.float32(0.5)).astype(np.uint8)
    return cover


def _sample(lit: Lit, looked: Pixels, which: Bool, image: Bytes, mark: I32) -> None:
    """Shade some of the pixels into the image (height, width, 4), and set their marks (height, width)."""
    rows = np.flatnonzero(which.reshape(-1).take(looked.at))
    colours, marks = image.reshape(-1, 4), mark.reshape(-1)
    for start in range(0, len(rows), BATCH):
        part = rows[start : start + BATCH]
        part = part[looked.found.face[part] >= 0]
        shaded, told = _coloured(lit, looked.found.only(part))
        colours[looked.at[part], :3], marks[looked.at[part]] = _bytes(shaded).T, told


def _coloured(lit: Lit, found: Found) -> tuple[F32, I32]:
    """Colour (3, n) and mark (n,) at places that see something."""
    what = seen(lit.scene, lit.camera, found)
    return _shade(what, *_light_at(lit, what, found.x, found.y), lit), what.mark


def _shade(what: Seen, sky: F32, lamp: F32, lit: Lit) -> F32:
    """Linear light (3, n) that leaves the points toward the viewer."""
    light = what.colour * _strength(what, sky, lamp, lit)
    if what.gloss.any():
        half = lit.light.lamp_direction + np.array(lit.camera.toward, dtype=np.float32)
        half /= np.linalg.norm(half)
        light += np.float32(0.35) * what.gloss * np.maximum(dot(what.normal, half), 0) ** 48 * lamp
    return np.asarray(light)


def _strength(what: Seen, sky: F32, lamp: F32, lit: Lit) -> F32:
    """Light that falls on the points (n,): 1 leaves them in their own colour."""
    facing = np.maximum(dot(what.normal, lit.light.lamp_direction), 0) * lamp
    dome = np.float32(0.62) + np.float32(0.2) * dot(what.normal, np.array(lit.camera.up, dtype=np.float32))
    strength = dome * sky + np.float32(0.62) * facing
    return np.asarray(what.relief * strength + (1 - what.relief))


def _light_at(lit: Lit, what: Seen, x: F32, y: F32) -> tuple[F32, F32]:
    """Sky and lamp at the points: the four blocks around, those that lie in the same face counting most."""
    light, near_mm = lit.light, np.float32(4 * lit.camera.mm_per_px)
    high, wide = light.sky.shape
    column, row = (place / np.float32(BLOCK) - np.float32(0.5) for place in (x, y))
    left, top = np.floor(column).astype(np.int64), np.floor(row).astype(np.int64)
    right, below = column - left.astype(np.float32), row - top.astype(np.float32)
    points, normals = light.point.reshape(3, -1), light.normal.reshape(3, -1)
    total = np.full(len(column), 1e-6, dtype=np.float32)
    sky, lamp = total * np.float32(0.8), total * np.float32(0.8)
    for down in (0, 1):
        for across in (0, 1):
            block = np.clip(top + down, 0, high - 1) * wide + np.clip(left + across, 0, wide - 1)
            weight = (right if across else 1 - right) * (below if down else 1 - below) + np.float32(0.01)
            off = dot(what.flat, points.take(block, axis=1) - what.point) / near_mm
            same = np.maximum(dot(what.flat, normals.take(block, axis=1)), 0)
            same *= same
            weight *= same * same * np.exp(-off * off) * light.hit.take(block)
            total += weight
            sky += weight * light.sky.take(block)
            lamp += weight * light.lamp.take(block)
    return sky / total, lamp / total


def _encoded(colour: F32) -> Bytes:
    """Premultiplied linear light with alpha (4, n) as 8-bit sRGB with plain alpha (n, 4)."""
    alpha = colour[3]
    pixels = np.empty(colour.shape[::-1], dtype=np.uint8)
    pixels[:, :3] = _bytes(np.asarray(colour[:3] / np.maximum(alpha, np.float32(1e-6)))).T
    pixels[:, 3] = alpha * 255 + np.float32(0.5)
    return pixels


def _bytes(colour: F32) -> Bytes:
    """Linear light of any shape as 8-bit sRGB."""
    level = (np.clip(colour, 0, 1) * np.float32(LEVELS) + np.float32(0.5)).astype(np.uint16)
    return np.asarray(_byte_of_level()[level])


@cache
def _byte_of_level() -> Bytes:
    """The sRGB byte of each level of linear light."""
    levels = np.arange(LEVELS + 1, dtype=np.float32) / np.float32(LEVELS)
    return np.asarray(palette.srgb(levels) * 255 + 0.5, dtype=np.uint8)
