"""Solids to draw with, in mm: everything is a manifold3d solid, faceted to a chord like a CAD export."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import pairwise

import numpy as np
from manifold3d import CrossSection, Manifold, Mesh64
from numpy.typing import NDArray

Point = tuple[float, float, float]
Triangles = NDArray[np.float64]


def sides(radius: float, chord: float) -> int:
    """Sides of a circle whose facets leave it by at most `chord` (mm); a multiple of 4, at least 12."""
    bend = math.acos(max(0.0, 1.0 - chord / max(radius, 2.0 * chord)))
    return max(12, 4 * math.ceil(math.pi / bend / 4.0))


def union(bodies: Iterable[Manifold]) -> Manifold:
    """All bodies as one."""
    made = Manifold()
    for body in bodies:
        made = made + body
    return made


def box(low: Sequence[float], high: Sequence[float]) -> Manifold:
    """The box between two corners."""
    size = [float(h - b) for b, h in zip(low, high, strict=True)]
    return Manifold.cube(tuple(size)).translate(tuple(float(v) for v in low))


def lathe(profile: Sequence[tuple[float, float]], chord: float, at: Point = (0.0, 0.0, 0.0)) -> Manifold:
    """Turned round the x axis from points (x, radius) in order of x; equal x make flat shoulders."""
    ring = [(r, x) for x, r in profile]
    if profile[-1][1] > 0:
        ring.append((0.0, profile[-1][0]))
    if profile[0][1] > 0:
        ring.append((0.0, profile[0][0]))
    area = CrossSection([np.array(ring)])
    made = Manifold.revolve(area, sides(max(r for _, r in profile), chord))
    return _z_to_x(made).translate(at)


def _z_to_x(body: Manifold) -> Manifold:
    """Turned so that z becomes x (x -> y, y -> z)."""
    return body.transform(np.array([[0.0, 0.0, 1.0, 0.0], [1.0, 0.0, 0.0, 0.0], [0.0, 1.0, 0.0, 0.0]]))


def turned(body: Manifold, direction: str) -> Manifold:
    """A body drawn along +x, laid along +y, -y, +z, -z or -x, about the origin."""
    turns = {
        "+x": (0, 0, 0),
        "+y": (0, 0, 90),
        "-y": (0, 0, -90),
        "+z": (0, -90, 0),
        "-z": (0, 90, 0),
        "-x": (0, 0, 180),
    }
    return body.rotate(tuple(float(v) for v in turns[direction]))


def rod(start: Point, direction: str, length: float, radius: float, chord: float) -> Manifold:
    """A cylinder from `start` along an axis."""
    return turned(lathe([(0.0, radius), (length, radius)], chord), direction).translate(start)


def hexagon(start: Point, across_flats: float, length: float) -> Manifold:
    """A hexagonal prism upward from `start`, as a nut trap."""
    return Manifold.cylinder(length, across_flats / math.sqrt(3.0), -1.0, 6).translate(start)


def ball(at: Point, radius: float, chord: float) -> Manifold:
    """A sphere."""
    return Manifold.sphere(radius, sides(radius, chord)).translate(at)


def limb(places: Sequence[tuple[float, float, float]], flat: float, chord: float) -> Manifold:
    """A limb in the plane z = 0 through (x, y, radius); `flat` is its height over its width."""
    balls = [
        Manifold.sphere(r, sides(r, chord)).scale((1.0, 1.0, flat)).translate((x, y, 0.0))
        for x, y, r in places
    ]
    return union(Manifold.batch_hull(list(pair)) for pair in pairwise(balls))


def ribbon(places: Sequence[tuple[float, float, float]], thick: float, chord: float) -> Manifold:
    """A flat band in the plane z = 0 through (x, y, half width), `thick` high."""
    discs = [
        Manifold.cylinder(thick, r, -1.0, sides(r, chord)).translate((x, y, -thick / 2.0))
        for x, y, r in places
    ]
    return union(Manifold.batch_hull(list(pair)) for pair in pairwise(discs))


def loft(keys: Sequence[tuple[float, float, float]], chord: float, power: float = 2.0) -> Manifold:
    """Skin over sections across x: keys (x, half width y, half height z), smooth between them.

    `power` 2 gives ellipses, more gives boxier sections. The first and last key are closed by flat ends.
    """
    x, wide, high = (np.array(column, float) for column in zip(*keys, strict=True))
    step = max(0.15, min(2.0, 4.0 * math.sqrt(chord)))
    places = np.unique(np.concatenate([x, np.arange(x[0], x[-1], step)]))
    count = sides(float(max(wide.max(), high.max())), chord)
    angle = np.arange(count) * (2.0 * math.pi / count)
    cos, sin = np.cos(angle), np.sin(angle)
    shape_y, shape_z = np.sign(cos) * np.abs(cos) ** (2 / power), np.sign(sin) * np.abs(sin) ** (2 / power)
    rings = [
        np.column_stack([np.full(count, at), _eased(at, x, wide) * shape_y, _eased(at, x, high) * shape_z])
        for at in places
    ]
    return _skin(np.array(rings))


def _eased(at: float, x: NDArray[np.float64], value: NDArray[np.float64]) -> float:
    """Between keys along half a cosine, so that each key is level."""
    where = int(np.clip(np.searchsorted(x, at, side="right") - 1, 0, len(x) - 2))
    share = (at - x[where]) / (x[where + 1] - x[where])
    ease = (1.0 - math.cos(math.pi * share)) / 2.0
    return float(value[where] + ease * (value[where + 1] - value[where]))


def _skin(rings: NDArray[np.float64]) -> Manifold:
    """The closed solid over rings (k, n, 3) that turn counterclockwise seen from the last one."""
    many, count = rings.shape[:2]
    corner = np.arange(many * count).reshape(many, count)
    here, there = corner[:-1], corner[1:]
    here_next, there_next = np.roll(here, -1, axis=1), np.roll(there, -1, axis=1)
    walls = [np.stack([here, here_next, there_next], -1), np.stack([here, there_next, there], -1)]
    first, last = many * count, many * count + 1
    caps = [
        np.column_stack([np.full(count, first), np.roll(corner[0], -1), corner[0]]),
        np.column_stack([np.full(count, last), corner[-1], np.roll(corner[-1], -1)]),
    ]
    faces = np.concatenate([*(wall.reshape(-1, 3) for wall in walls), *caps])
    middle = np.array([rings[0].mean(axis=0), rings[-1].mean(axis=0)])
    points = np.concatenate([rings.reshape(-1, 3), middle])
    return _oriented(Manifold(Mesh64(points, faces.astype(np.uint64))), points, faces)


def _oriented(made: Manifold, points: NDArray[np.float64], faces: NDArray[np.int64]) -> Manifold:
    return made if made.volume() > 0 else Manifold(Mesh64(points, faces[:, ::-1].astype(np.uint64).copy()))


def clear_mm(body: Manifold, at: tuple[float, float], degrees: float) -> float:
    """Diameter of the largest circle about a point of the parting plane, in the section across `degrees`."""
    upright = turned(body.translate((-at[0], -at[1], 0.0)).rotate((0.0, 0.0, -degrees)), "+z")
    near = math.inf
    for ring in upright.slice(0.0).to_polygons():
        start, step = ring, np.roll(ring, -1, axis=0) - ring
        share = np.clip(-(start * step).sum(1) / np.maximum((step**2).sum(1), 1e-30), 0.0, 1.0)
        near = min(near, float(np.linalg.norm(start + share[:, None] * step, axis=1).min()))
    return 2.0 * near


def reach_mm(body: Manifold) -> float:
    """The longer side of the box along x and y: every drawing has its baits along one of them."""
    x, y = spans_xy_mm(body)
    return max(x, y)


def spans_mm(body: Manifold) -> tuple[float, float]:
    """The shorter side of the box along x and y, and the extent along z."""
    low_high = body.bounding_box()
    return min(spans_xy_mm(body)), low_high[5] - low_high[2]


def spans_xy_mm(body: Manifold) -> tuple[float, float]:
    """Extents along x and y."""
    low_high = body.bounding_box()
    return low_high[3] - low_high[0], low_high[4] - low_high[1]


LETTERS = {
    "A": "0111010001111111000110001",
    "B": "1111010001111101000111110",
    "H": "1000110001111111000110001",
    "L": "1000010000100001000011111",
    "M": "1000111011101011000110001",
    "2": "1111000001011101000011111",
}


def words(text: str, cell: float, height: float) -> Manifold:
    """Block letters on a 5 x 5 grid of square cells, upward from z = 0, beginning at the origin."""
    cells = []
    for place, letter in enumerate(text):
        for number, mark in enumerate(LETTERS.get(letter, "0" * 25)):
            if mark == "1":
                x, y = (place * 6 + number % 5) * cell, (4 - number // 5) * cell
                cells.append(box((x, y, 0.0), (x + cell * 1.02, y + cell * 1.02, height)))
    return union(cells)


def under(heights: Sequence[tuple[float, float]], reach: Sequence[float], axis: str) -> Manifold:
    """Everything under a surface that follows (place, z) along `axis` x or y; `reach` is its half extent."""
    bottom = -reach[2]
    ring = [(heights[0][0], bottom), *[(v, bottom) for v, _ in heights[-1:]], *reversed(heights)]
    area = CrossSection([np.array(ring)])
    depth = 2.0 * (reach[1] if axis == "x" else reach[0])
    made = Manifold.extrude(area, depth).rotate((90.0, 0.0, 0.0)).translate((0.0, depth / 2.0, 0.0))
    return made if axis == "x" else made.rotate((0.0, 0.0, 90.0))


def whole_only(body: Manifold, smallest_mm3: float = 1e-6) -> Manifold:
    """The body without crumbs of no volume, which cuts along touching faces leave."""
    pieces = body.decompose()
    kept = [piece for piece in pieces if abs(piece.volume()) > smallest_mm3]
    return body if len(kept) == len(pieces) else Manifold.compose(kept)


def triangles(body: Manifold) -> Triangles:
    """Corners (n, 3, 3) of the facets."""
    mesh = body.to_mesh64()
    points = np.asarray(mesh.vert_properties, dtype=np.float64)[:, :3]
    return points[np.asarray(mesh.tri_verts, dtype=np.int64)]


def enclosed(corners: Triangles) -> float:
    """Volume (mm3) by the divergence theorem, summed about the middle of the box."""
    moved = corners - (corners.min(axis=(0, 1)) + corners.max(axis=(0, 1))) / 2.0
    return float(np.einsum("ij,ij->i", moved[:, 0], np.cross(moved[:, 1], moved[:, 2])).sum() / 6.0)


def stl(corners: Triangles, header: bytes = b"drawn") -> bytes:
    """Binary STL: 80 bytes, the count, then normal and corners of each facet in single precision."""
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    size = np.linalg.norm(normal, axis=1, keepdims=True)
    normal = np.divide(normal, size, out=np.zeros_like(normal), where=size > 0)
    row = np.dtype([("v", "<f4", (4, 3)), ("tag", "<u2")])
    made = np.zeros(len(corners), dtype=row)
    made["v"][:, 0], made["v"][:, 1:] = normal, corners
    return header.ljust(80, b" ") + np.uint32(len(corners)).tobytes() + made.tobytes()
