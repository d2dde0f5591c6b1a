"""A scene as a picture: soft shadow in hollows, one lamp, thin lines at creases; the same bytes every time.

The slow part, light, is gathered once for each block of 2 x 2 pixels: 16 rays over the hemisphere and 4 at
the lamp, in one of 16 patterns that repeat in a tile of 4 x 4 blocks, so that an edge-aware mean over 4 x 4
neighbours removes the pattern exactly. Colour is sampled once a pixel, and 9 times where something changes.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from builder.pictures.render import palette, rays
from builder.pictures.render.camera import Camera
from builder.pictures.render.light import BLOCK, Light, gather
from builder.pictures.render.scene import Scene, Seen, seen

F32 = NDArray[np.float32]
I32 = NDArray[np.int32]
Bool = NDArray[np.bool_]
SPOTS = np.array([-0.8, -1 / 3, 0, 1 / 3, 0.8], dtype=np.float32)
"""Where a busy pixel is sampled, across and down, px from its middle; the outer ones only look for lines."""
LINE = 0.5
"""How much of the light a line takes."""
BEND = 0.77
"""Cosine at which two facets make a crease."""
BATCH = 1 << 17
"""Samples shaded at once: bounds the memory."""


def render(scene: Scene, camera: Camera) -> NDArray[np.uint8]:
    """The picture (height, width, 4) as sRGB with alpha, not premultiplied; clear where nothing is hit."""
    light = gather(scene, camera)
    rows, columns = np.mgrid[0 : camera.height_px, 0 : camera.width_px].reshape(2, -1)
    x, y = columns.astype(np.float32) + np.float32(0.5), rows.astype(np.float32) + np.float32(0.5)
    colour = np.zeros((len(x), 4), dtype=np.float32)
    marks = np.full(len(x), -1, dtype=np.int32)
    flat = np.zeros((len(x), 3), dtype=np.float32)
    depth = np.zeros(len(x), dtype=np.float32)
    for start in range(0, len(x), BATCH):
        part = slice(start, start + BATCH)
        colour[part], marks[part], flat[part], depth[part] = _plain(scene, camera, light, x[part], y[part])
    if rays.fast():
        shape = (camera.height_px, camera.width_px)
        changing = _busy(marks.reshape(shape), flat.reshape(*shape, 3), depth.reshape(shape), camera)
        busy = np.flatnonzero(changing)
        step = BATCH // len(SPOTS) ** 2
        for start in range(0, len(busy), step):
            at = busy[start : start + step]
            colour[at] = _refined(scene, camera, light, x[at], y[at])
    return _encode(colour.reshape(camera.height_px, camera.width_px, 4))


def _cast(scene: Scene, camera: Camera, x: F32, y: F32) -> tuple[F32, F32, rays.Hits]:
    """Origins, directions and hits of the rays at pixel coordinates."""
    origins = camera.origins(x, y, camera.away_mm(scene.lowest, scene.highest))
    directions = np.broadcast_to(-np.array(camera.toward, dtype=np.float32), origins.shape).copy()
    return origins, directions, scene.caster.first(origins, directions)


def _plain(scene: Scene, camera: Camera, light: Light, x: F32, y: F32) -> tuple[F32, I32, F32, F32]:
    """One sample a pixel: colour with alpha (n, 4), mark, facet normal and depth."""
    origins, directions, hits = _cast(scene, camera, x, y)
    hit = hits.face >= 0
    what = seen(scene, origins[hit], directions[hit], hits.only(hit), camera.mm_per_px)
    colour = np.zeros((len(x), 4), dtype=np.float32)
    colour[hit, :3] = _shade(what, light, camera, x[hit], y[hit])
    colour[hit, 3] = 1
    mark, flat = np.full(len(x), -1, dtype=np.int32), np.zeros((len(x), 3), dtype=np.float32)
    mark[hit], flat[hit] = what.mark, what.flat
    return colour, mark, flat, hits.distance


def _refined(scene: Scene, camera: Camera, light: Light, x: F32, y: F32) -> F32:
    """Mean colour with alpha (n, 4) of the inner spots of busy pixels, darker on lines."""
    across, down = np.meshgrid(SPOTS, SPOTS)
    many_x, many_y = (x[:, None] + across.ravel()).ravel(), (y[:, None] + down.ravel()).ravel()
    origins, directions, hits = _cast(scene, camera, many_x, many_y)
    lines = _lines(scene, hits, directions, len(x), 2.5 * camera.mm_per_px)
    inner = np.zeros((len(x), 5, 5), dtype=bool)
    inner[:, 1:4, 1:4] = True
    use = inner.ravel() & (hits.face >= 0)
    what = seen(scene, origins[use], directions[use], hits.only(use), camera.mm_per_px)
    colour = np.zeros((len(many_x), 4), dtype=np.float32)
    dark = 1 - LINE * lines.ravel()[use].astype(np.float32)
    colour[use, :3] = _shade(what, light, camera, many_x[use], many_y[use]) * dark[:, None]
    colour[use, 3] = 1
    return np.asarray(colour.reshape(len(x), 5, 5, 4)[:, 1:4, 1:4].mean(axis=(1, 2)), dtype=np.float32)


def _lines(scene: Scene, hits: rays.Hits, directions: F32, count: int, jump_mm: float) -> Bool:
    """Which of the 5 x 5 spots of each pixel lie on a line: beside another body, a crease or a step."""
    shape = (count, 5, 5)
    body = np.where(hits.face >= 0, scene.body[hits.face], -1).reshape(shape)
    flat = scene.flat[hits.face].reshape(*shape, 3)
    depth = np.minimum(hits.distance, 1e6).reshape(shape)
    slope = np.abs(np.einsum("ij,ij->i", scene.flat[hits.face], directions)).reshape(shape)
    line = np.zeros(shape, dtype=bool)
    for one, other in (
        (np.s_[:, :, :-1], np.s_[:, :, 1:]),
        (np.s_[:, :-1, :], np.s_[:, 1:, :]),
    ):
        bend = np.einsum("...c,...c->...", flat[one], flat[other]) < BEND
        step = np.abs(depth[one] - depth[other]) * np.minimum(slope[one], slope[other]) > jump_mm
        differs = (body[one] != body[other]) | ((bend | step) & (body[one] >= 0))
        line[one] |= differs
        line[other] |= differs
    return line


def _busy(mark: I32, flat: F32, depth: F32, camera: Camera) -> Bool:
    """Pixels (height, width) where something changes against a neighbour, and those next to them."""
    busy = np.zeros(mark.shape, dtype=bool)
    slope = np.abs(flat @ np.array(camera.toward, dtype=np.float32))
    for one, other in ((np.s_[:, :-1], np.s_[:, 1:]), (np.s_[:-1], np.s_[1:])):
        bend = np.einsum("...c,...c->...", flat[one], flat[other]) < 0.9
        gap = np.abs(np.minimum(depth[one], 1e6) - np.minimum(depth[other], 1e6))
        step = gap * np.minimum(slope[one], slope[other]) > 1.5 * camera.mm_per_px
        changes = (mark[one] != mark[other]) | ((bend | step) & (mark[one] >= 0))
        busy[one] |= changes
        busy[other] |= changes
    wide = busy.copy()
    wide[1:] |= busy[:-1]
    wide[:-1] |= busy[1:]
    wide[:, 1:] |= busy[:, :-1]
    wide[:, :-1] |= busy[:, 1:]
    return wide


def _shade(what: Seen, light: Light, camera: Camera, x: F32, y: F32) -> F32:
    """Linear light (n, 3) that leaves the points toward the viewer."""
    half_block = np.float32(0.5)
    column, row = x / np.float32(BLOCK) - half_block, y / np.float32(BLOCK) - half_block
    sky, lamp = _light_at(light, what, column, row, 4 * camera.mm_per_px)
    toward = np.array(camera.toward, dtype=np.float32)
    half = light.lamp_direction + toward
    half /= np.linalg.norm(half)
    facing = np.maximum(what.normal @ light.lamp_direction, 0) * lamp
    dome = np.float32(0.62) + np.float32(0.2) * (what.normal @ np.array(camera.up, dtype=np.float32))
    shine = what.gloss * np.maximum(what.normal @ half, 0) ** 48 * lamp
    strength = dome * sky + np.float32(0.62) * facing
    strength = what.relief * strength + (1 - what.relief)
    return np.asarray(what.colour * strength[:, None] + 0.35 * shine[:, None], dtype=np.float32)


def _light_at(light: Light, what: Seen, column: F32, row: F32, near_mm: float) -> tuple[F32, F32]:
    """Sky and lamp at the points: the four blocks around, those that lie in the same face counting most."""
    left, top = np.floor(column).astype(np.int32), np.floor(row).astype(np.int32)
    total = np.full(len(column), 1e-6, dtype=np.float32)
    sky, lamp = total * np.float32(0.8), total * np.float32(0.8)
    for down in (0, 1):
        for across in (0, 1):
            r = np.clip(top + down, 0, light.sky.shape[0] - 1)
            c = np.clip(left + across, 0, light.sky.shape[1] - 1)
            weight = (1 - np.abs(column - left - across)) * (1 - np.abs(row - top - down)) + np.float32(0.01)
            off = np.einsum("ij,ij->i", what.flat, light.point[r, c] - what.point)
            same = np.maximum(np.einsum("ij,ij->i", what.flat, light.normal[r, c]), 0) ** 4
            weight = weight * same * np.exp(-((off / np.float32(near_mm)) ** 2)) * light.hit[r, c]
            total += weight
            sky += weight * light.sky[r, c]
            lamp += weight * light.lamp[r, c]
    return sky / total, lamp / total


def _encode(colour: F32) -> NDArray[np.uint8]:
    """Premultiplied linear light to 8-bit sRGB with plain alpha."""
    alpha = colour[..., 3:]
    plain = palette.srgb(np.asarray(colour[..., :3] / np.maximum(alpha, 1e-6), dtype=np.float32))
    return np.asarray(np.concatenate([plain, alpha], axis=-1) * 255 + 0.5, dtype=np.uint8)
