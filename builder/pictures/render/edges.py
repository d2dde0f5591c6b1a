"""Where a picture is looked at pixel by pixel: along edges, and where blocks beside each other differ."""

from __future__ import annotations

from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from builder.pictures.render.camera import Camera
from builder.pictures.render.light import BLOCK, Light
from builder.pictures.render.scene import MARK_BITS, Scene, dot

Bool = NDArray[np.bool_]
F32 = NDArray[np.float32]
F64 = NDArray[np.float64]
I32 = NDArray[np.int32]
PAIRS: tuple[tuple[Any, Any], ...] = ((np.s_[:, :-1], np.s_[:, 1:]), (np.s_[:-1, :], np.s_[1:, :]))
"""All neighbours of a grid, beside each other and one over the other."""
CORNERS: tuple[tuple[tuple[slice, slice], ...], ...] = (
    ((slice(None, -1), slice(1, -1)), (slice(1, None), slice(1, -1))),
    ((slice(1, -1), slice(None, -1)), (slice(1, -1), slice(1, None))),
)
"""The places between blocks at both ends of the side that such neighbours share."""
Kind = TypeVar("Kind", bound=np.generic)
BEND = 0.9
"""Cosine at which two facets make an edge."""
CONTRAST = 0.08
"""Where thickness is shown, blocks that differ by more of the light are told apart."""
LINE_STEP_PX = 1.5
"""Edges are followed in steps of this; the two pixels to each side of these places are looked at."""
FAR_MM = 1e6
"""All that is farther away is nothing."""


def differs(
    scene: Scene, one: tuple[I32, F32], other: tuple[I32, F32], facing: F32, limits: tuple[float, float]
) -> Bool:
    """Where the surface changes between two places, each given as triangle (-1 for none) and depth.

    `facing` tells how squarely the camera sees each triangle (`facing`). `limits` are the cosine at which
    facets make an edge and the step in depth, mm.
    """
    bend, jump_mm = limits
    changes = np.asarray(one[0] != other[0])
    a, b = one[0][changes], other[0][changes]
    body = np.append(scene.body, np.int32(-1))
    body_a, body_b = body.take(a), body.take(b)
    bent = dot(scene.flat.take(a, axis=1), scene.flat.take(b, axis=1)) < bend
    far = np.float32(FAR_MM)
    gap = np.abs(np.minimum(one[1][changes], far) - np.minimum(other[1][changes], far))
    step = gap * np.minimum(facing.take(a), facing.take(b)) > jump_mm
    changes[changes] = (body_a != body_b) | ((bent | step) & (body_a >= 0))
    return changes


def facing(scene: Scene, camera: Camera) -> F32:
    """Cosine (m,) of the angle between the way to the camera and each triangle's normal, to either side."""
    return np.asarray(np.abs(dot(scene.flat, np.array(camera.toward, dtype=np.float32))))


def edges(scene: Scene, face: I32, depth: F32, known: Bool, camera: Camera) -> Bool:
    """Pixels (height, width) whose surface changes against a neighbour's, where both are known."""
    edge = np.zeros(face.shape, dtype=bool)
    limits, facings = (BEND, 1.5 * camera.mm_per_px), facing(scene, camera)
    for one, other in PAIRS:
        changes = (face[one] != face[other]) & known[one] & known[other]
        pair = (face[one][changes], depth[one][changes]), (face[other][changes], depth[other][changes])
        changes[changes] = differs(scene, *pair, facings, limits)
        edge[one] |= changes
        edge[other] |= changes
    return edge


def tint_differs(one: I32, other: I32) -> Bool:
    """Where two marks are of the same body, but of different tints."""
    return np.asarray((one != other) & (one >> MARK_BITS == other >> MARK_BITS))


def parted(mark: I32) -> Bool:
    """Places whose tint differs from a neighbour's on the same body; -1 differs from nothing."""
    edge = np.zeros(mark.shape, dtype=bool)
    for one, other in PAIRS:
        changes = tint_differs(mark[one], mark[other])
        edge[one] |= changes
        edge[other] |= changes
    return edge


def grown(mask: Bool) -> Bool:
    """The mask with all eight neighbours of what it holds."""
    tall = mask.copy()
    tall[1:] |= mask[:-1]
    tall[:-1] |= mask[1:]
    wide = tall.copy()
    wide[:, 1:] |= tall[:, :-1]
    wide[:, :-1] |= tall[:, 1:]
    return wide


def mixed(scene: Scene, light: Light, colour: F32, mark: I32, camera: Camera) -> tuple[Bool, Bool]:
    """Places between blocks (rows + 1, columns + 1) at which the blocks around see more than one surface.

    And those at which they see more than one tint. `colour` (3, rows, columns) and
    `mark` (rows, columns) tell the blocks' colours and tints.
    """
    shape = light.hit.shape
    face, depth = light.found.face.reshape(shape), light.found.depth.reshape(shape)
    limits, facings = (BEND, 1.2 * BLOCK * camera.mm_per_px), facing(scene, camera)
    measured = np.array([*(body.gauge is not None for body in scene.bodies), False])
    owner = np.where(light.hit, scene.body[face], -1)
    changed, tinted = (np.zeros((shape[0] + 1, shape[1] + 1), dtype=bool) for _ in range(2))
    for (one, other), corners in zip(PAIRS, CORNERS, strict=True):
        pair = (face[one], depth[one]), (face[other], depth[other])
        changes = differs(scene, *pair, facings, limits)
        if measured.any():
            apart = np.abs(colour[:, *one] - colour[:, *other]).max(axis=0) > CONTRAST
            changes |= apart & measured[owner[one]]
        tints = tint_differs(mark[one], mark[other])
        for corner in corners:
            changed[corner] |= changes
            tinted[corner] |= tints
    return changed, tinted


def between_pixels(between: Bool, shape: tuple[int, int]) -> Bool:
    """The pixels (height, width) around such places: up to the middles of the four blocks."""
    tall = np.repeat(between, BLOCK, axis=0)[(BLOCK + 1) // 2 :][: shape[0]]
    return np.repeat(tall, BLOCK, axis=1)[:, (BLOCK + 1) // 2 :][:, : shape[1]]


def of_blocks(blocks: NDArray[Kind], shape: tuple[int, int]) -> NDArray[Kind]:
    """What is told of blocks, of each of their pixels; one piece of memory, so that it can be written to."""
    fine = np.repeat(np.repeat(blocks, BLOCK, axis=0), BLOCK, axis=1)
    return np.ascontiguousarray(fine[: shape[0], : shape[1]])


def lined(scene: Scene, light: Light, camera: Camera) -> Bool:
    """Pixels (height, width) near an edge of a body that may be seen."""
    high, wide = light.hit.shape
    deepest = _deepest(light.found.depth.reshape(high, wide)) + np.float32(2 * BLOCK * camera.mm_per_px)
    places = _along(_lines(scene, camera))
    near = np.zeros((camera.height_px, camera.width_px), dtype=bool)
    row, column = (np.floor(places[:, k]).astype(np.int32) for k in (1, 0))
    inside = (row >= 0) & (row < camera.height_px) & (column >= 0) & (column < camera.width_px)
    depth, row, column = places[inside, 2], row[inside], column[inside]
    ahead = depth < deepest[row // BLOCK, column // BLOCK]
    near[row[ahead], column[ahead]] = True
    return grown(grown(near))


def _deepest(depth: F32) -> F32:
    """The largest depth of each block and its eight neighbours, beyond the picture without end."""
    deep = np.pad(depth, 1, constant_values=np.inf)
    tall = np.maximum(np.maximum(deep[:-2], deep[1:-1]), deep[2:])
    return np.maximum(np.maximum(tall[:, :-2], tall[:, 1:-1]), tall[:, 2:])


def _lines(scene: Scene, camera: Camera) -> F32:
    """Creases and outlines on the near side: pixel coordinates and depth of both ends (k, 2, 3)."""
    one, other = scene.edges[:, 2], scene.edges[:, 3]
    front = dot(scene.flat, np.array(camera.toward, dtype=np.float32)) > 0
    bent = dot(scene.flat.take(one, axis=1), scene.flat.take(other, axis=1)) < BEND
    alone = one == other
    seen = front[one] | front[other] | bool(alone.any())
    wanted = scene.edges[alone | (bent & seen) | (front[one] != front[other]), :2]
    used, place = np.unique(wanted, return_inverse=True)
    away = camera.away_mm(scene.lowest, scene.highest)
    depth = away - (scene.vertices[used] - camera.centre_mm) @ np.array(camera.toward)
    ends = np.column_stack([camera.project(scene.vertices[used]), depth]).astype(np.float32)
    return np.asarray(ends[place.reshape(-1, 2)])


def _along(lines: F32) -> F32:
    """Places (n, 3) along lines (k, 2, 3), no farther from each other than a step."""
    way = lines[:, 1] - lines[:, 0]
    count = np.ceil(np.hypot(way[:, 0], way[:, 1]) / LINE_STEP_PX).astype(np.int64) + 1
    line = np.repeat(np.arange(len(lines)), count)
    step = np.arange(len(line)) - np.repeat(np.cumsum(count) - count, count)
    share = (step / np.maximum(count - 1, 1)[line]).astype(np.float32)
    return np.asarray(lines[line, 0] + share[:, None] * way[line])
