"""The scene of a picture: triangles, colours, smooth normals, and the surface at each ray's hit."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from builder import mesh
from builder.model import Solid, Vec3
from builder.pictures.render import palette, rays

F32 = NDArray[np.float32]
F64 = NDArray[np.float64]
I32 = NDArray[np.int32]
CREASE = math.cos(math.radians(32))
"""Facets that meet flatter than this are one round surface."""
LINE_MM = 0.18
"""Half the width of a line on the ground."""
HATCH_SHARE = 0.16
"""Width of a hatch line against the distance to the next."""
MARKS = 64
"""So many surfaces of one body are told apart."""
OFF_MM = 0.04
"""How far off a surface one stands to ask what touches it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shape:
    """A solid made ready for drawing once: `normals` (m, 3, 3) by corner, of length 1."""

    vertices: F64
    faces: I32
    normals: F32


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Inlay:
    """Solids that tint the skin which touches them: a caster, each triangle's colour and its number."""

    caster: rays.Caster
    colours: F32
    numbers: I32
    pieces: I32
    """Which of the solids each triangle is of."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Place:
    """A rigid move: turned by `turn` (3, 3), then shifted."""

    turn: F64 = field(default_factory=lambda: np.eye(3))
    shift_mm: Vec3 = (0.0, 0.0, 0.0)

    def put(self, points: F64) -> F64:
        """Points (n, 3) moved."""
        return np.asarray(points @ self.turn.T + self.shift_mm)

    def turned_back(self, directions: F32) -> F32:
        """Directions (n, 3) turned back."""
        return np.ascontiguousarray(directions @ self.turn, dtype=np.float32)

    def back(self, points: F32) -> F32:
        """Points (n, 3) moved back."""
        return np.asarray((points - np.array(self.shift_mm)) @ self.turn, dtype=np.float32)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cap:
    """A cutting plane and the colour of the cut face.

    Hatch lines lie `hatch_mm` apart, square to `across`; none where that is 0.
    """

    point: F64
    normal: F64
    colour: str
    across: F64
    hatch_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Gauge:
    """Colours a body by its thickness, measured square to its skin: `high_mm` and more is the scale's end."""

    caster: rays.Caster
    high_mm: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Body:
    """A shape in a picture, its colour in sRGB; `gloss` 0..1; skin that touches the inlay takes its tint."""

    shape: Shape
    colour: str
    gloss: float = 0.0
    relief: float = 1.0
    """How much light and shadow show on it: little where its colour is a measure."""
    place: Place = field(default_factory=Place)
    inlay: Inlay | None = None
    gauge: Gauge | None = None
    cap: Cap | None = None
    grid_mm: float = 0.0
    """Lines this far apart are drawn on it: the ground."""

    def points(self) -> F64:
        """Its vertices where they are seen (n, 3)."""
        return self.place.put(self.shape.vertices)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scene:
    """All bodies as one set of m triangles: the body that each is of, its normal, its corners' normals."""

    bodies: tuple[Body, ...]
    faces: I32
    body: I32
    flat: F32
    normals: F32
    caster: rays.Caster
    lowest: F64
    highest: F64

    @property
    def size_mm(self) -> float:
        """Diagonal of the box round everything."""
        return float(np.linalg.norm(self.highest - self.lowest))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """What n rays hit, all (n, ...): the point, the facet's and the round surface's normal, the colour.

    `mark` tells surfaces apart that have different colours; a line is drawn where it changes.
    """

    point: F32
    flat: F32
    normal: F32
    colour: F32
    gloss: F32
    relief: F32
    mark: I32


def shape(solid: Solid) -> Shape:
    """The solid made ready for drawing."""
    normals = corner_normals(solid.vertices, solid.faces)
    return Shape(vertices=solid.vertices, faces=solid.faces, normals=normals)


def inlay(tinted: Sequence[tuple[Solid, str]]) -> Inlay:
    """Solids with their tints, as an inlay."""
    vertices, faces, owner = _stack([(solid.vertices, solid.faces) for solid, _ in tinted])
    colours = np.stack([palette.linear(colour) for _, colour in tinted])
    names = [colour for _, colour in tinted]
    numbers = np.array([names.index(name) + 1 for name in names], dtype=np.int32)
    caster = rays.caster(vertices.astype(np.float32), faces)
    return Inlay(caster=caster, colours=colours[owner], numbers=numbers[owner], pieces=owner)


def lay(bodies: Sequence[Body]) -> Scene:
    """The bodies, at least one, as a scene."""
    vertices, faces, owner = _stack([(body.points(), body.shape.faces) for body in bodies])
    normals = np.concatenate([body.shape.normals @ body.place.turn.T.astype(np.float32) for body in bodies])
    flat = mesh.units(mesh.crosses(vertices[faces])).astype(np.float32)
    return Scene(
        bodies=tuple(bodies),
        faces=faces,
        body=owner,
        flat=flat,
        normals=normals,
        caster=rays.caster(vertices.astype(np.float32), faces),
        lowest=vertices.min(axis=0),
        highest=vertices.max(axis=0),
    )


def seen(scene: Scene, origins: F32, directions: F32, hits: rays.Hits, px_mm: float) -> Seen:
    """The surface at each hit; every ray must hit something: (n, 3) origins and directions.

    `px_mm` is the size of a pixel, over which hatching is evened out.
    """
    corners = scene.normals[hits.face]
    u, v = hits.u[:, None], hits.v[:, None]
    normal = corners[:, 0] * (1 - u - v) + corners[:, 1] * u + corners[:, 2] * v
    normal /= np.maximum(np.sqrt((normal * normal).sum(axis=1, keepdims=True)), np.float32(1e-20))
    flat = scene.flat[hits.face]
    side = np.where((flat * directions).sum(axis=1, keepdims=True) > 0, np.float32(-1), np.float32(1))
    flat, normal = flat * side, normal * side
    point = origins + directions * hits.distance[:, None]
    owner = scene.body[hits.face]
    base = np.stack([palette.linear(body.colour) for body in scene.bodies])
    colour, mark = base[owner], owner * np.int32(MARKS)
    gloss = np.array([body.gloss for body in scene.bodies], dtype=np.float32)[owner]
    relief = np.array([body.relief for body in scene.bodies], dtype=np.float32)[owner]
    for index, body in enumerate(scene.bodies):
        mine = np.flatnonzero(owner == index)
        if body.gauge is not None:
            inner = body.place.turned_back(normal[mine])
            most = 1.2 * body.gauge.high_mm
            deep = thickness(body.gauge.caster, body.place.back(point[mine]), inner, most)
            colour[mine] = palette.ramp(palette.THIN_TO_THICK, deep / body.gauge.high_mm)
        if body.inlay is not None:
            touched, tint, number = _touched(body.place, body.inlay, point[mine], flat[mine])
            colour[mine[touched]], mark[mine[touched]] = tint, mark[mine[touched]] + number
        where, tint = _pattern(body, point[mine], flat[mine], px_mm)
        colour[mine[where]], mark[mine[where]] = tint, mark[mine[where]] + 1
    return Seen(point=point, flat=flat, normal=normal, colour=colour, gloss=gloss, relief=relief, mark=mark)


def patterned(scene: Scene, face: I32, point: F32, px_mm: float) -> F32:
    """Colour (n, 3) of points on hatched or ruled facets."""
    owner = scene.body[face]
    colour = np.zeros(point.shape, dtype=np.float32)
    for index, body in enumerate(scene.bodies):
        mine = np.flatnonzero(owner == index)
        colour[mine] = palette.linear(body.colour)
        where, tint = _pattern(body, point[mine], scene.flat[face[mine]], px_mm)
        colour[mine[where]] = tint
    return colour


def _pattern(body: Body, point: F32, flat: F32, px_mm: float) -> tuple[NDArray[np.bool_], F32]:
    """Which points (n,) of a body lie on the face of its cut or on a line of its grid; their colour."""
    if body.cap is not None:
        return _capped(body.cap, point, flat, px_mm)
    if body.grid_mm:
        return _ruled(point, body.grid_mm), palette.linear(palette.GRID)
    return np.zeros(len(point), dtype=bool), palette.linear(body.colour)


def _touched(place: Place, touching: Inlay, point: F32, flat: F32) -> tuple[NDArray[np.bool_], F32, I32]:
    """Which points (n,) of a skin lie on a solid of the inlay; of those the tint and its number from 1."""
    start = place.back(point) + place.turned_back(flat) * np.float32(OFF_MM)
    upward = np.broadcast_to(np.array([0, 0, 1], dtype=np.float32), start.shape).copy()
    hits = touching.caster.first(start, upward)
    inside = hits.behind(upward)
    face = hits.face[inside]
    return inside, touching.colours[face], touching.numbers[face]


def _capped(cap: Cap, point: F32, flat: F32, px_mm: float) -> tuple[NDArray[np.bool_], F32]:
    """Which points (n,) lie on the face of the cut; of those the colour, hatched."""
    height = (point - cap.point) @ cap.normal
    cut = np.asarray((np.abs(height) < OFF_MM) & (flat @ cap.normal > 0.99))
    share = np.zeros(int(cut.sum()), dtype=np.float32)
    if cap.hatch_mm:
        off = np.abs((point[cut] @ cap.across / cap.hatch_mm + 0.5) % 1 - 0.5) * cap.hatch_mm
        share = np.clip((HATCH_SHARE / 2 * cap.hatch_mm - off) / px_mm + 0.5, 0, 1).astype(np.float32)
    colour, hatch = palette.linear(cap.colour), palette.linear(palette.HATCH)
    return cut, np.asarray(colour + share[:, None] * (hatch - colour), dtype=np.float32)


def thickness(caster: rays.Caster, point: F32, flat: F32, most_mm: float) -> F32:
    """Diameter (n,) of the ball that fits under each point of a skin, touching it there, mm.

    A ball of diameter d is left again after d cos(a) by a ray at the angle a to its inward normal; so
    none is larger than the shortest chord over cos(a), sought straight in and over a cone of 45 degrees.
    What is thicker than `most_mm` reads as that.
    """
    inward = np.ascontiguousarray(-flat, dtype=np.float32)
    begin = np.ascontiguousarray(point + inward * np.float32(OFF_MM), dtype=np.float32)
    least = caster.first(begin, inward, most_mm).distance + np.float32(OFF_MM)
    side, other = rays.beside(inward)
    for turn in np.arange(6) * (math.pi / 3):
        lean = np.float32(math.cos(turn)) * side + np.float32(math.sin(turn)) * other
        slant = (inward + lean) * np.float32(math.sqrt(0.5))
        chord = caster.first(begin, slant, most_mm).distance
        least = np.minimum(least, chord * np.float32(math.sqrt(2)) + np.float32(OFF_MM))
    return np.asarray(np.minimum(least, np.float32(most_mm)), dtype=np.float32)


def _ruled(point: F32, grid_mm: float) -> NDArray[np.bool_]:
    """Which points (n,) lie on a line of the grid."""
    off = np.abs((point[:, :2] / grid_mm + 0.5) % 1 - 0.5) * grid_mm
    return np.asarray(off.min(axis=1) < LINE_MM)


def corner_normals(vertices: F64, faces: I32) -> F32:
    """Unit normals (m, 3, 3) of each triangle's corners: round over flat edges, sharp over creases."""
    cross = mesh.crosses(vertices[faces])
    group = _round_corners(faces, mesh.units(cross))
    total = np.stack([np.bincount(group, np.repeat(cross[:, c], 3)) for c in range(3)], axis=-1)
    return mesh.units(np.asarray(total[group], dtype=np.float64)).astype(np.float32).reshape(-1, 3, 3)


def _round_corners(faces: I32, normal: F64) -> I32:
    """Number (3 m,) of the round surface that each corner of each triangle belongs to."""
    start, end = faces.ravel().astype(np.int64), np.roll(faces, -1, axis=1).ravel().astype(np.int64)
    span = int(faces.max()) + 1
    order = np.argsort(start * span + end, kind="stable")
    keys = (start * span + end)[order]
    place = np.minimum(np.searchsorted(keys, end * span + start), len(keys) - 1)
    edge = np.flatnonzero(keys[place] == end * span + start)
    twin = order[place[edge]]
    bend = np.einsum("ij,ij->i", normal[edge // 3], normal[twin // 3])
    no_area = (np.abs(normal[edge // 3]).sum(1) == 0) | (np.abs(normal[twin // 3]).sum(1) == 0)
    smooth = (bend > CREASE) | no_area
    edge, twin = edge[smooth], twin[smooth]
    after = twin - twin % 3 + (twin + 1) % 3
    links = coo_array((np.ones(len(edge), dtype=np.int8), (edge, after)), shape=(len(start), len(start)))
    return np.asarray(connected_components(links, directed=False)[1], dtype=np.int32)


def _stack(meshes: Sequence[tuple[F64, I32]]) -> tuple[F64, I32, I32]:
    """Meshes as one: vertices, faces, and the number of the mesh of each face."""
    counts = np.cumsum([0] + [len(vertices) for vertices, _ in meshes])
    faces = [faces + count for (_, faces), count in zip(meshes, counts, strict=False)]
    owner = np.repeat(np.arange(len(meshes), dtype=np.int32), [len(f) for f in faces])
    vertices = np.concatenate([vertices for vertices, _ in meshes])
    return vertices, np.concatenate(faces).astype(np.int32), owner
