"""A scene as a picture: soft shadow in hollows, one lamp, thin lines at creases; the same bytes every time.

Three grids, from coarse to fine. Light and colour are found once for each block of 3 x 3 pixels: 16 rays over
the hemisphere and 4 at the lamp, in one of 9 patterns that repeat in a tile of 3 x 3 blocks, so that an
edge-aware mean over the tile removes the pattern exactly. Where a surface goes on smoothly, a pixel's colour
lies between its blocks'; hatching and rulings are put under that light. Near an edge each pixel is shaded by
itself; on an edge 9 times.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from builder.pictures.render import palette, rays
from builder.pictures.render.camera import Camera
from builder.pictures.render.light import BLOCK, Light, cast, dot, gather, rays_of
from builder.pictures.render.scene import MARKS, Scene, Seen, patterned, seen

F32 = NDArray[np.float32]
I32 = NDArray[np.int32]
Bool = NDArray[np.bool_]
SPOTS = np.array([-0.8, -1 / 3, 0, 1 / 3, 0.8], dtype=np.float32)
"""Where a pixel on an edge is sampled, px from its middle each way; the outer ones only look for lines."""
LINE = 0.5
"""How much of the light a line takes."""
BEND = 0.77
"""Cosine at which two facets make a crease."""
BATCH = 1 << 14
"""Samples shaded at once: bounds the memory."""
LEVELS = (1 << 16) - 1
"""Steps of linear light before it becomes 8-bit sRGB: even in the dark twenty make one of those."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lit:
    """A scene, how it is looked at, and the light of its blocks."""

    scene: Scene
    camera: Camera
    light: Light


def render(scene: Scene, camera: Camera) -> NDArray[np.uint8]:
    """The picture (height, width, 4) as sRGB with alpha, not premultiplied; clear where nothing is hit."""
    lit = Lit(scene=scene, camera=camera, light=gather(scene, camera))
    coarse, marks = _blocks(lit)
    face, depth = _pixels(scene, camera)
    colour = _between(coarse[..., :3], face >= 0)
    edge = _edges(scene, face, depth, camera)
    tinted = _of_blocks(_grown(_parted(marks)), edge.shape)
    near = tinted | _grown(_grown(edge)) & ~edge
    mark = np.full(face.shape, -1, dtype=np.int32)
    _pattern(lit, colour, coarse, (face, depth), _has_pattern(scene, face) & ~near & ~edge)
    _sample(lit, (colour, mark), near, _plain, BATCH)
    edge |= _parted(mark)
    _sample(
        lit, (colour, mark), edge, *((_refined, BATCH // len(SPOTS) ** 2) if rays.fast() else (_plain, BATCH))
    )
    return _encode(colour)


def _blocks(lit: Lit) -> tuple[F32, I32]:
    """Colour and strength of light (rows, columns, 4), mark (rows, columns); 0 and -1 without a hit."""
    light = lit.light
    hit = light.hit.ravel()
    px_mm = BLOCK * lit.camera.mm_per_px
    what = seen(lit.scene, light.origins[hit], light.directions[hit], light.hits.only(hit), px_mm)
    colour, mark = np.zeros((len(hit), 4), dtype=np.float32), np.full(len(hit), -1, dtype=np.int32)
    sky, lamp = light.sky.ravel()[hit], light.lamp.ravel()[hit]
    colour[hit, :3], colour[hit, 3] = _shade(what, sky, lamp, lit), _strength(what, sky, lamp, lit)
    mark[hit] = what.mark
    return colour.reshape(*light.hit.shape, 4), mark.reshape(light.hit.shape)


def _pixels(scene: Scene, camera: Camera) -> tuple[I32, F32]:
    """The triangle (-1 for none) and the distance that each pixel sees, both (height, width)."""
    shape = (camera.height_px, camera.width_px)
    face, depth = np.empty(shape, dtype=np.int32), np.empty(shape, dtype=np.float32)
    step = max(1, BATCH // camera.width_px)
    across = np.arange(camera.width_px, dtype=np.float32) + np.float32(0.5)
    for top in range(0, camera.height_px, step):
        rows = np.arange(top, min(top + step, camera.height_px), dtype=np.float32) + np.float32(0.5)
        hits = cast(scene, camera, np.tile(across, len(rows)), np.repeat(rows, len(across)))[2]
        face[top : top + step] = hits.face.reshape(len(rows), -1)
        depth[top : top + step] = hits.distance.reshape(len(rows), -1)
    return face, depth


def _edges(scene: Scene, face: I32, depth: F32, camera: Camera) -> Bool:
    """Pixels (height, width) whose surface changes against a neighbour's, and those next to them."""
    edge = np.zeros(face.shape, dtype=bool)
    slope = np.abs(scene.flat @ np.array(camera.toward, dtype=np.float32))
    for one, other in ((np.s_[:, :-1], np.s_[:, 1:]), (np.s_[:-1], np.s_[1:])):
        differs = face[one] != face[other]
        a, b = face[one][differs], face[other][differs]
        body_a, body_b = (np.where(some >= 0, scene.body[some], -1) for some in (a, b))
        bend = dot(scene.flat[a].T, scene.flat[b].T) < 0.9
        gap = np.abs(np.minimum(depth[one][differs], 1e6) - np.minimum(depth[other][differs], 1e6))
        step = gap * np.minimum(slope[a], slope[b]) > 1.5 * camera.mm_per_px
        changes = differs.copy()
        changes[differs] = (body_a != body_b) | ((bend | step) & (body_a >= 0))
        edge[one] |= changes
        edge[other] |= changes
    return edge


def _parted(mark: I32) -> Bool:
    """Places whose tint differs from a neighbour's on the same body; -1 differs from nothing."""
    edge = np.zeros(mark.shape, dtype=bool)
    for one, other in ((np.s_[:, :-1], np.s_[:, 1:]), (np.s_[:-1], np.s_[1:])):
        a, b = mark[one], mark[other]
        changes = (a != b) & (a // MARKS == b // MARKS)
        edge[one] |= changes
        edge[other] |= changes
    return edge


def _grown(mask: Bool) -> Bool:
    """The mask with all eight neighbours of what it holds."""
    tall = mask.copy()
    tall[1:] |= mask[:-1]
    tall[:-1] |= mask[1:]
    wide = tall.copy()
    wide[:, 1:] |= tall[:, :-1]
    wide[:, :-1] |= tall[:, 1:]
    return wide


def _has_pattern(scene: Scene, face: I32) -> Bool:
    """Pixels (height, width) on hatched or ruled facets."""
    fine = np.zeros(len(scene.faces) + 1, dtype=bool)
    for index, body in enumerate(scene.bodies):
        mine = scene.body == index
        if body.grid_mm:
            fine[:-1] |= mine
        if body.cap is not None and body.cap.hatch_mm:
            fine[:-1] |= mine & (scene.flat @ body.cap.normal.astype(np.float32) > 0.98)
    return np.asarray(fine[face])


def _pattern(lit: Lit, colour: F32, coarse: F32, seen_there: tuple[I32, F32], which: Bool) -> None:
    """Put hatching and rulings on some pixels (height, width), under the light of the blocks around.

    `seen_there` is the triangle and the distance that each pixel sees, both (height, width).
    """
    at = np.flatnonzero(which)
    if not len(at):
        return
    face, depth = seen_there[0].reshape(-1), seen_there[1].reshape(-1)
    strength = _fine(coarse[..., 3:], which.shape).reshape(-1)
    flat = colour.reshape(-1, 4)
    for start in range(0, len(at), BATCH):
        part = at[start : start + BATCH]
        origins, directions = rays_of(lit.scene, lit.camera, *_middles(part, which.shape[1]))
        point = origins + directions * depth[part, None]
        base = patterned(lit.scene, face[part], point, lit.camera.mm_per_px)
        flat[part, :3] = base * strength[part, None]


def _middles(at: NDArray[np.int64], wide: int) -> tuple[F32, F32]:
    """Coordinates x, y (n,) of the middles of pixels that are given by their number, row by row."""
    y, x = np.divmod(at, wide)
    return x.astype(np.float32) + np.float32(0.5), y.astype(np.float32) + np.float32(0.5)


def _between(coarse: F32, hit: Bool) -> F32:
    """Colour with alpha (height, width, 4) of the pixels: between those of the four blocks around."""
    colour = np.empty((*hit.shape, 4), dtype=np.float32)
    colour[..., :3] = _fine(coarse, hit.shape)
    colour[..., :3] *= hit[..., None]
    colour[..., 3] = hit
    return colour


def _fine(coarse: F32, shape: tuple[int, ...]) -> F32:
    """What the blocks hold, of any depth, at each pixel (height, width)."""
    fine = _finer(np.ascontiguousarray(_finer(coarse).swapaxes(0, 1))).swapaxes(0, 1)
    return fine[: shape[0], : shape[1]]


def _finer(grid: F32) -> F32:
    """BLOCK times as many rows, between the rows on both sides."""
    before, after = np.concatenate([grid[:1], grid[:-1]]), np.concatenate([grid[1:], grid[-1:]])
    out = np.empty((BLOCK * len(grid), *grid.shape[1:]), dtype=np.float32)
    for row in range(BLOCK):
        off = np.float32((row + 0.5) / BLOCK - 0.5)
        out[row::BLOCK] = (1 - abs(off)) * grid + abs(off) * (before if off < 0 else after)
    return out


def _of_blocks(mask: Bool, shape: tuple[int, int]) -> Bool:
    """A mask of blocks as one of pixels."""
    return np.repeat(np.repeat(mask, BLOCK, axis=0), BLOCK, axis=1)[: shape[0], : shape[1]]


def _sample(
    lit: Lit, into: tuple[F32, I32], which: Bool, shade: Callable[[Lit, F32, F32], tuple[F32, I32]], step: int
) -> None:
    """Shade some pixels of a picture, colour (height, width, 4) and mark (height, width), so many at once."""
    at = np.flatnonzero(which)
    colour, mark = into[0].reshape(-1, 4), into[1].reshape(-1)
    for start in range(0, len(at), step):
        part = at[start : start + step]
        colour[part], mark[part] = shade(lit, *_middles(part, which.shape[1]))


def _plain(lit: Lit, x: F32, y: F32) -> tuple[F32, I32]:
    """Colour with alpha (n, 4) and mark (n,) at the middles of pixels."""
    found = cast(lit.scene, lit.camera, x, y)
    return _coloured(lit, found, found[2].face >= 0, (x, y))


def _coloured(lit: Lit, found: tuple[F32, F32, rays.Hits], use: Bool, at: tuple[F32, F32]) -> tuple[F32, I32]:
    """Colour with alpha (n, 4) and mark (n,) of the hits in use at pixel coordinates; clear elsewhere."""
    origins, directions, hits = found
    what = seen(lit.scene, origins[use], directions[use], hits.only(use), lit.camera.mm_per_px)
    colour, mark = np.zeros((len(use), 4), dtype=np.float32), np.full(len(use), -1, dtype=np.int32)
    colour[use, :3] = _shade(what, *_light_at(lit, what, at[0][use], at[1][use]), lit)
    colour[use, 3] = 1
    mark[use] = what.mark
    return colour, mark


def _refined(lit: Lit, x: F32, y: F32) -> tuple[F32, I32]:
    """Mean colour with alpha (n, 4) of the inner spots of pixels on edges, darker on lines; no mark."""
    across, down = np.meshgrid(SPOTS, SPOTS)
    many_x, many_y = (x[:, None] + across.ravel()).ravel(), (y[:, None] + down.ravel()).ravel()
    _, directions, hits = found = cast(lit.scene, lit.camera, many_x, many_y)
    lines = _lines(lit.scene, hits, directions, len(x), 2.5 * lit.camera.mm_per_px)
    inner = np.zeros((len(x), 5, 5), dtype=bool)
    inner[:, 1:4, 1:4] = True
    colour = _coloured(lit, found, inner.ravel() & (hits.face >= 0), (many_x, many_y))[0]
    colour[:, :3] *= 1 - np.float32(LINE) * lines.reshape(-1, 1)
    mean = colour.reshape(len(x), 5, 5, 4)[:, 1:4, 1:4].mean(axis=(1, 2))
    return np.asarray(mean, dtype=np.float32), np.full(len(x), -1, dtype=np.int32)


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


def _shade(what: Seen, sky: F32, lamp: F32, lit: Lit) -> F32:
    """Linear light (n, 3) that leaves the points toward the viewer."""
    half = lit.light.lamp_direction + np.array(lit.camera.toward, dtype=np.float32)
    half /= np.linalg.norm(half)
    shine = what.gloss * np.maximum(what.normal @ half, 0) ** 48 * lamp
    strength = _strength(what, sky, lamp, lit)
    return np.asarray(what.colour * strength[:, None] + np.float32(0.35) * shine[:, None])


def _strength(what: Seen, sky: F32, lamp: F32, lit: Lit) -> F32:
    """Light that falls on the points (n,): 1 leaves them in their own colour."""
    facing = np.maximum(what.normal @ lit.light.lamp_direction, 0) * lamp
    dome = np.float32(0.62) + np.float32(0.2) * (what.normal @ np.array(lit.camera.up, dtype=np.float32))
    strength = dome * sky + np.float32(0.62) * facing
    return np.asarray(what.relief * strength + (1 - what.relief))


def _light_at(lit: Lit, what: Seen, x: F32, y: F32) -> tuple[F32, F32]:
    """Sky and lamp at the points: the four blocks around, those that lie in the same face counting most."""
    light, near_mm = lit.light, np.float32(4 * lit.camera.mm_per_px)
    high, wide = light.sky.shape
    column, row = (place / np.float32(BLOCK) - np.float32(0.5) for place in (x, y))
    left, top = np.floor(column).astype(np.int32), np.floor(row).astype(np.int32)
    flat, point = np.ascontiguousarray(what.flat.T), np.ascontiguousarray(what.point.T)
    points, normals = light.point.reshape(3, -1), light.normal.reshape(3, -1)
    total = np.full(len(column), 1e-6, dtype=np.float32)
    sky, lamp = total * np.float32(0.8), total * np.float32(0.8)
    for down in (0, 1):
        for across in (0, 1):
            block = np.clip(top + down, 0, high - 1) * wide + np.clip(left + across, 0, wide - 1)
            weight = (1 - np.abs(column - left - across)) * (1 - np.abs(row - top - down)) + np.float32(0.01)
            off = dot(flat, points[:, block] - point) / near_mm
            same = np.maximum(dot(flat, normals[:, block]), 0)
            weight *= (same * same) ** 2 * np.exp(-off * off) * light.hit.ravel()[block]
            total += weight
            sky += weight * light.sky.ravel()[block]
            lamp += weight * light.lamp.ravel()[block]
    return sky / total, lamp / total


def _encode(colour: F32) -> NDArray[np.uint8]:
    """Premultiplied linear light to 8-bit sRGB with plain alpha."""
    alpha = colour[..., 3]
    partly = (alpha > 0) & (alpha < 1)
    plain = colour[..., :3].copy()
    plain[partly] /= alpha[partly][:, None]
    level = (np.clip(plain, 0, 1) * np.float32(LEVELS) + np.float32(0.5)).astype(np.uint16)
    pixels = np.empty(colour.shape, dtype=np.uint8)
    pixels[..., :3] = _bytes()[level]
    pixels[..., 3] = alpha * 255 + np.float32(0.5)
    return pixels


@cache
def _bytes() -> NDArray[np.uint8]:
    """The sRGB byte of each level of linear light."""
    levels = np.arange(LEVELS + 1, dtype=np.float32) / np.float32(LEVELS)
    return np.asarray(palette.srgb(levels) * 255 + 0.5, dtype=np.uint8)
