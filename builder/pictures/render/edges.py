"""Where a picture is looked at pixel by pixel: along edges, and where blocks beside each other differ."""

from __future__ import annotations

from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from builder.pictures.render.camera import Camera
from builder.pictures.render.light import BLOCK, Light, dot
from builder.pictures.render.scene import MARKS, Scene

Bool = NDArray[np.bool_]
F32 = NDArray[np.float32]
F64 = NDArray[np.float64]
I32 = NDArray[np.int32]
PAIRS: tuple[tuple[Any, Any], ...] = ((np.s_[:, :-1], np.s_[:, 1:]), (np.s_[:-1], np.s_[1:]))
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
"""Edges are followed in steps of this..."""
LINE_NEAR_PX = 1.5
"""...and pixels this near to them are looked at."""
UNKNOWN = -2
"""Instead of a triangle: a pixel that is not looked at by itself."""


def differs(
    scene: Scene, one: tuple[I32, F32], other: tuple[I32, F32], toward: F64, limits: tuple[float, float]
) -> Bool:
    """Where the surface changes between two places, each given as triangle (-1 for none) and depth.

    `limits` are the cosine at which facets make an edge and the step in depth, mm.
    """
    bend, jump_mm = limits
    changes = np.asarray(one[0] != other[0])
    changes &= (one[0] != UNKNOWN) & (other[0] != UNKNOWN)
    a, b = one[0][changes], other[0][changes]
    body_a, body_b = (np.where(some >= 0, scene.body[some], -1) for some in (a, b))
    flat_a, flat_b = scene.flat[a], scene.flat[b]
    bent = dot(flat_a.T, flat_b.T) < bend
    gap = np.abs(np.minimum(one[1][changes], 1e6) - np.minimum(other[1][changes], 1e6))
    looking = toward.astype(np.float32)
    step = gap * np.minimum(np.abs(flat_a @ looking), np.abs(flat_b @ looking)) > jump_mm
    changes[changes] = (body_a != body_b) | ((bent | step) & (body_a >= 0))
    return changes


def edges(scene: Scene, face: I32, depth: F32, camera: Camera) -> Bool:
    """Pixels (height, width) whose surface changes against a neighbour's, and those next to them."""
    edge = np.zeros(face.shape, dtype=bool)
    limits = (BEND, 1.5 * camera.mm_per_px)
    for one, other in PAIRS:
        pair = (face[one], depth[one]), (face[other], depth[other])
        changes = differs(scene, *pair, np.array(camera.toward), limits)
        edge[one] |= changes
        edge[other] |= changes
    return edge


def tint_differs(one: I32, other: I32) -> Bool:
    """Where two marks are of the same body, but of different tints."""
    return np.asarray((one != other) & (one // MARKS == other // MARKS))


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

    And those at which they see more than one tint, with the places around. `colour` (rows, columns, 3) and
    `mark` (rows, columns) tell the blocks' colours and tints.
    """
    shape = light.hit.shape
    face, depth = light.found.face.reshape(shape), light.found.depth.reshape(shape)
    limits = (BEND, 1.2 * BLOCK * camera.mm_per_px)
    measured = np.array([*(body.gauge is not None for body in scene.bodies), False])
    owner = np.where(light.hit, scene.body[face], -1)
    changed, tinted = (np.zeros((shape[0] + 1, shape[1] + 1), dtype=bool) for _ in range(2))
    for (one, other), corners in zip(PAIRS, CORNERS, strict=True):
        pair = (face[one], depth[one]), (face[other], depth[other])
        changes = differs(scene, *pair, np.array(camera.toward), limits)
        if measured.any():
            apart = np.abs(colour[one] - colour[other]).max(axis=-1) > CONTRAST
            changes |= apart & measured[owner[one]]
        tints = tint_differs(mark[one], mark[other])
        for corner in corners:
            changed[corner] |= changes
            tinted[corner] |= tints
    return changed, grown(tinted)


def touching(between: Bool) -> Bool:
    """Blocks (rows, columns) at a corner of which such a place lies, given (rows + 1, columns + 1)."""
    return np.asarray(between[:-1, :-1] | between[:-1, 1:] | between[1:, :-1] | between[1:, 1:])


def between_pixels(between: Bool, shape: tuple[int, int]) -> Bool:
    """The pixels (height, width) around such places: up to the middles of the four blocks."""
    tall = np.repeat(between, BLOCK, axis=0)[(BLOCK + 1) // 2 :][: shape[0]]
    return np.repeat(tall, BLOCK, axis=1)[:, (BLOCK + 1) // 2 :][:, : shape[1]]


def of_blocks(blocks: NDArray[Kind], shape: tuple[int, int]) -> NDArray[Kind]:
    """What is told of blocks, of each of their pixels."""
    return np.repeat(np.repeat(blocks, BLOCK, axis=0), BLOCK, axis=1)[: shape[0], : shape[1]]


def lined(scene: Scene, light: Light, camera: Camera) -> Bool:
    """Blocks (rows, columns) near an edge of a body that may be seen."""
    high, wide = light.hit.shape
    deepest = _deepest(light.found.depth.reshape(high, wide)) + np.float32(2 * BLOCK * camera.mm_per_px)
    places = _along(_lines(scene, camera))
    near = np.zeros((high, wide), dtype=bool)
    row, column = (np.floor(places[:, k] / BLOCK).astype(np.int32) for k in (1, 0))
    inside = (row >= 0) & (row < high) & (column >= 0) & (column < wide)
    places, row, column = places[inside], row[inside], column[inside]
    ahead = places[:, 2] < deepest[row, column]
    places = places[ahead]
    for down in (-LINE_NEAR_PX, LINE_NEAR_PX):
        for across in (-LINE_NEAR_PX, LINE_NEAR_PX):
            row = np.clip(np.floor((places[:, 1] + down) / BLOCK).astype(np.int32), 0, high - 1)
            column = np.clip(np.floor((places[:, 0] + across) / BLOCK).astype(np.int32), 0, wide - 1)
            near[row, column] = True
    return near


def _deepest(depth: F32) -> F32:
    """The largest depth of each block and its eight neighbours."""
    deep = np.pad(depth, 1, mode="edge")
    tall = np.maximum(np.maximum(deep[:-2], deep[1:-1]), deep[2:])
    return np.maximum(np.maximum(tall[:, :-2], tall[:, 1:-1]), tall[:, 2:])


def _lines(scene: Scene, camera: Camera) -> F32:
    """Creases and outlines on the near side: pixel coordinates and depth of both ends (k, 2, 3)."""
    one, other = scene.edges[:, 2], scene.edges[:, 3]
    front = scene.flat @ np.array(camera.toward, dtype=np.float32) > 0
    bent = dot(scene.flat[one].T, scene.flat[other].T) < BEND
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
