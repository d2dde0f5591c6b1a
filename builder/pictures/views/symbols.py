"""Things drawn beside a mold: bolts and nuts, axes, tubes along edges, the ground to print on."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import trimesh
from numpy.typing import NDArray

from builder import mesh
from builder.model import Solid

F64 = NDArray[np.float64]
HEAD_ACROSS = 1.6
HEAD_HIGH = 0.65
"""A hexagon head against the bolt's diameter, about as in ISO 4017 (M5: 8 mm across flats, 3.5 mm high)."""


def rod(start: F64, end: F64, radius_mm: float, sides: int = 32) -> Solid:
    """A prism with `sides` sides round the line from start to end."""
    way = (end - start) / np.linalg.norm(end - start)
    side = np.cross([0.0, 1.0, 0.0] if abs(way[1]) < 0.9 else [0.0, 0.0, 1.0], way)
    side /= np.linalg.norm(side)
    turn = np.arange(sides) * (2 * np.pi / sides)
    ring = radius_mm * (np.cos(turn)[:, None] * side + np.sin(turn)[:, None] * np.cross(way, side))
    one = np.arange(sides)
    two = (one + 1) % sides
    fan = np.stack([0 * one[1:-1], two[1:-1], one[1:-1]], axis=1)
    skin = [np.stack([one, two, two + sides], axis=1), np.stack([one, two + sides, one + sides], axis=1)]
    faces = np.concatenate([*skin, fan, fan[:, ::-1] + sides])
    return Solid(
        name="rod", vertices=np.concatenate([start + ring, end + ring]), faces=faces.astype(np.int32)
    )


def bolt(seat: F64, direction: F64, length_mm: float, diameter_mm: float) -> Solid:
    """A hexagon bolt, its head's underside at `seat`, its shank along `direction`."""
    across = HEAD_ACROSS * diameter_mm / np.sqrt(3)
    head = rod(seat - direction * HEAD_HIGH * diameter_mm, seat, across, sides=6)
    return together([head, rod(seat - direction * 0.01, seat + direction * length_mm, diameter_mm / 2)])


def nut(seat: F64, direction: F64, diameter_mm: float) -> Solid:
    """A hexagon nut whose face lies at `seat`, going on along `direction`."""
    return rod(seat, seat + direction * 0.8 * diameter_mm, HEAD_ACROSS * diameter_mm / np.sqrt(3), sides=6)


def pointer(tip: F64, direction: F64, length_mm: float) -> Solid:
    """A slim cone whose tip lies at `tip`, pointing along `direction`."""
    made = trimesh.creation.cone(radius=0.2 * length_mm, height=length_mm, sections=24)
    made.apply_translation([0, 0, -length_mm])
    made.apply_transform(trimesh.geometry.align_vectors([0, 0, 1], direction))  # type: ignore[no-untyped-call]
    return Solid(
        name="pointer",
        vertices=np.asarray(made.vertices + tip, dtype=np.float64),
        faces=np.asarray(made.faces, dtype=np.int32),
    )


def axis(start: F64, end: F64, radius_mm: float) -> Solid:
    """A thin chain line (long, short) between two points."""
    way = end - start
    length = float(np.linalg.norm(way))
    step = max(length / 40, 8 * radius_mm)
    dashes, at = [], 0.0
    while at < length:
        for run in (3 * step, 0.8 * step):
            stop = min(at + run, length)
            if stop > at:
                dashes.append((at, stop))
            at += run + step
    one = rod(np.zeros(3), way / length, radius_mm, sides=8)
    ring, far = one.vertices[:8], np.array(dashes)[:, :, None, None] * (way / length)
    return _copies(one, (start + ring + far).reshape(len(dashes), 16, 3))


def _copies(one: Solid, vertices: F64) -> Solid:
    """Several solids (n, vertices, 3) with the triangles of one, as one mesh."""
    count = len(one.vertices)
    faces = one.faces + (count * np.arange(len(vertices), dtype=np.int32))[:, None, None]
    return Solid(name=one.name, vertices=vertices.reshape(-1, 3), faces=faces.reshape(-1, 3))


def tubes(lines: F64, radius_mm: float) -> Solid:
    """A six-sided tube round each line (n, 2, 3), its ends drawn on by the radius so that corners close."""
    way = lines[:, 1] - lines[:, 0]
    way /= np.maximum(np.linalg.norm(way, axis=1, keepdims=True), 1e-12)
    side = np.cross(way, np.where(np.abs(way[:, 2:]) < 0.9, [[0.0, 0, 1]], [[1.0, 0, 0]]))
    side /= np.linalg.norm(side, axis=1, keepdims=True)
    other = np.cross(way, side)
    turn = np.arange(6) * np.pi / 3
    ring = np.cos(turn)[:, None] * side[:, None] + np.sin(turn)[:, None] * other[:, None]
    ends = lines + np.array([-1, 1])[None, :, None] * way[:, None] * radius_mm
    vertices = ends[:, :, None] + radius_mm * ring[:, None]
    one = np.arange(6)
    two = (one + 1) % 6
    sides = [[one, two, two + 6], [one, two + 6, one + 6]]
    caps = [[0 * one[:4], two[:4] + 1, one[:4] + 1], [0 * one[:4] + 6, one[:4] + 7, two[:4] + 7]]
    faces = np.concatenate([np.stack(triangle, axis=-1) for triangle in sides + caps])
    every = faces[None] + 12 * np.arange(len(lines))[:, None, None]
    return Solid(name="edges", vertices=vertices.reshape(-1, 3), faces=every.reshape(-1, 3).astype(np.int32))


def ground(low: F64, high: F64, thick_mm: float) -> Solid:
    """A slab under z = 0 between two corners (2,)."""
    made = trimesh.creation.box(bounds=[[*low, -thick_mm], [*high, 0.0]])
    return Solid(
        name="ground",
        vertices=np.asarray(made.vertices, dtype=np.float64),
        faces=np.asarray(made.faces, dtype=np.int32),
    )


def together(solids: Sequence[Solid]) -> Solid:
    """Separate solids as one mesh, as they are."""
    counts = np.cumsum([0] + [len(solid.vertices) for solid in solids])
    faces = [solid.faces + count for solid, count in zip(solids, counts, strict=False)]
    return Solid(
        name=solids[0].name,
        vertices=np.concatenate([solid.vertices for solid in solids]),
        faces=np.concatenate(faces).astype(np.int32),
    )


def behind(made: mesh.Body, point: F64, toward: F64) -> Solid | None:
    """The part of the body behind the plane through `point`, seen from `toward`; None when empty."""
    away = -np.asarray(toward, dtype=np.float64)
    cut = made.trim_by_plane((float(away[0]), float(away[1]), float(away[2])), float(away @ point))
    return None if cut.is_empty() else mesh.solid(cut, "behind")


def split_by_volume(
    solid: Solid, point: F64, direction: F64, volume_mm3: float
) -> tuple[Solid, Solid | None]:
    """The solid cut square to `direction` so that the first piece, from `point` on, has that volume."""
    if volume_mm3 >= 0.995 * mesh.volume_mm3(solid):
        return solid, None
    along = (float(direction[0]), float(direction[1]), float(direction[2]))
    start = float(direction @ point)
    corners = np.sort((solid.vertices @ direction)[solid.faces], axis=1).T
    upward = mesh.crosses(solid.vertices[solid.faces]) @ direction / 2
    low, high = 0.0, float(corners[2].max()) - start
    for _ in range(24):
        middle = (low + high) / 2
        if _volume_below(corners, upward, start + middle) < volume_mm3:
            low = middle
        else:
            high = middle
    rest, first = mesh.body(solid).split_by_plane(along, start + high)
    return mesh.solid(first, "sprue"), mesh.solid(rest, "runner")


def _volume_below(corners: F64, upward: F64, level: float) -> float:
    """Volume (mm3) of a closed mesh below a level.

    `corners` (3, n) are the heights of each triangle's corners, lowest first; `upward` (n,) its area as seen
    from above, negative where it faces down. Under each triangle stands a prism that reaches up to the level:
    by the divergence theorem the volume is the sum of what is below the level of all of them, signed.
    """
    below = corners[:, (corners[0] < level) & (upward != 0)]
    facing = upward[(corners[0] < level) & (upward != 0)]
    low, middle, high = below
    deep = level - below.mean(axis=0)
    one = (low < level) & (level <= middle)  # the level leaves one corner below, or one above
    two = (middle < level) & (level < high)
    a, b, c = low[one], middle[one], high[one]
    deep[one] = (level - a) ** 3 / (3 * (b - a) * (c - a))
    a, b, c = low[two], middle[two], high[two]
    deep[two] += (c - level) ** 3 / (3 * (c - a) * (c - b))
    return -float(deep @ facing)
