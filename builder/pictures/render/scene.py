"""The scene of a picture: triangles, colours, smooth normals, and the surface at each ray's hit."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from builder.model import Solid, Vec3
from builder.pictures.render import palette, rays
from builder.pictures.render.camera import Camera
from builder.pictures.render.shape import Shape

F32 = NDArray[np.float32]
F64 = NDArray[np.float64]
I32 = NDArray[np.int32]
I64 = NDArray[np.int64]
Bool = NDArray[np.bool_]
MARK_BITS = 6
"""A mark is a body's number, shifted by these, and in them the number of a tint on it."""
OFF_MM = 0.04
"""How far off a surface one stands to ask what touches it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Inlay:
    """Solids that tint the skin which touches them: a caster, each triangle's colour and its number."""

    caster: rays.Caster
    colours: F32
    numbers: I32
    pieces: I32
    """Which of the solids each triangle is of."""
    lowest: F32
    highest: F32


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Place:
    """A rigid move: turned by `turn` (3, 3), then shifted."""

    turn: F64 = field(default_factory=lambda: np.eye(3))
    shift_mm: Vec3 = (0.0, 0.0, 0.0)

    def turned(self, directions: F32) -> F32:
        """Directions (n, 3) turned."""
        if np.array_equal(self.turn, np.eye(3)):
            return directions
        return np.asarray(directions @ self.turn.T, dtype=np.float32)

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
class Ruling:
    """Lines on a flat face, which lies at `point` and faces along `normal`.

    They lie `apart_mm` from each other, square to each direction of `across`, and are 2 `half_mm` wide.
    """

    point: F64
    normal: F64
    across: tuple[F64, ...]
    apart_mm: float
    half_mm: float
    colour: str


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
    ruling: Ruling | None = None

    def points(self) -> F64:
        """Its vertices where they are seen (n, 3)."""
        return self.place.put(self.shape.vertices)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scene:
    """All bodies as one set of m triangles: the body that each is of, and its corners' normals (m, 3, 3).

    Its own normal is `flat` (3, m). `surface` and `edges` are those of the shapes, numbered through.
    """

    bodies: tuple[Body, ...]
    vertices: F64
    faces: I32
    body: I32
    flat: F32
    normals: F32
    surface: I32
    edges: I32
    caster: rays.Caster
    lowest: F64
    highest: F64

    @property
    def size_mm(self) -> float:
        """Diagonal of the box round everything."""
        return float(np.linalg.norm(self.highest - self.lowest))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """What the rays through n places x, y of a picture meet first, as rays.Hits tells it."""

    x: F32
    y: F32
    face: I32
    depth: F32
    u: F32
    v: F32

    def only(self, which: I64) -> Found:
        """Some of them, by their numbers."""
        return Found(
            x=self.x.take(which),
            y=self.y.take(which),
            face=self.face.take(which),
            depth=self.depth.take(which),
            u=self.u.take(which),
            v=self.v.take(which),
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """The surface at n places: its point, the facet's and the round normal, its colour, all (3, n).

    `mark` (n,) tells surfaces apart that have different tints.
    """

    point: F32
    flat: F32
    normal: F32
    colour: F32
    gloss: F32
    relief: F32
    mark: I32


def inlay(tinted: Sequence[tuple[Solid, str]]) -> Inlay:
    """Solids with their tints, as an inlay."""
    vertices, faces, owner = _stack([(solid.vertices, solid.faces) for solid, _ in tinted])
    colours = np.stack([palette.linear(colour) for _, colour in tinted])
    names = [colour for _, colour in tinted]
    numbers = np.array([names.index(name) + 1 for name in names], dtype=np.int32)
    return Inlay(
        caster=rays.caster(vertices.astype(np.float32), faces),
        colours=colours[owner],
        numbers=numbers[owner],
        pieces=owner,
        lowest=vertices.min(axis=0).astype(np.float32),
        highest=vertices.max(axis=0).astype(np.float32),
    )


def lay(bodies: Sequence[Body]) -> Scene:
    """The bodies, at least one, as a scene."""
    vertices, faces, owner = _stack([(body.points(), body.shape.faces) for body in bodies])
    shapes = [body.shape for body in bodies]
    corners, facets = (
        np.cumsum([0, *(len(some) for some in counted)][:-1])
        for counted in ([one.vertices for one in shapes], [one.faces for one in shapes])
    )
    steps = [np.array([corner, corner, facet, facet]) for corner, facet in zip(corners, facets, strict=True)]
    edges = [one.edges + step for one, step in zip(shapes, steps, strict=True)]
    surfaces = [one.surface + facet for one, facet in zip(shapes, facets, strict=True)]
    normals = [body.place.turned(body.shape.normals.reshape(-1, 3)).reshape(-1, 3, 3) for body in bodies]
    flat = np.concatenate([body.place.turned(body.shape.flat) for body in bodies])
    return Scene(
        bodies=tuple(bodies),
        vertices=vertices,
        faces=faces,
        body=owner,
        flat=np.ascontiguousarray(flat.T),
        normals=np.concatenate(normals),
        surface=np.concatenate(surfaces).astype(np.int32),
        edges=np.concatenate(edges).astype(np.int32),
        caster=rays.caster(vertices.astype(np.float32), faces),
        lowest=vertices.min(axis=0),
        highest=vertices.max(axis=0),
    )


def cast(scene: Scene, camera: Camera, x: F32, y: F32) -> Found:
    """What the rays through pixel coordinates x, y (n,) meet first."""
    origins = camera.origins(x, y, camera.away_mm(scene.lowest, scene.highest))
    hits = scene.caster.first(origins, -np.array([camera.toward], dtype=np.float32))
    return Found(x=x, y=y, face=hits.face, depth=hits.distance, u=hits.u, v=hits.v)


def points(scene: Scene, camera: Camera, found: Found) -> F32:
    """Where the rays met something (3, n)."""
    return camera.ends(found.x, found.y, camera.away_mm(scene.lowest, scene.highest), found.depth)


def seen(scene: Scene, camera: Camera, found: Found, *, ruled: bool = True) -> Seen:
    """The surface at each place; every ray must have met something. Lines are left out unless `ruled`."""
    normal, flat = _normals(scene, camera, found)
    point = points(scene, camera, found)
    owner = scene.body.take(found.face)
    colour = np.stack([palette.linear(body.colour) for body in scene.bodies], axis=1).take(owner, axis=1)
    mark = owner << MARK_BITS
    for index, body in enumerate(scene.bodies):
        if body.gauge is None and body.inlay is None and not (ruled and body.ruling):
            continue
        mine = np.flatnonzero(owner == index)
        if body.gauge is not None:
            inner = body.place.turned_back(normal[:, mine].T)
            most = 1.2 * body.gauge.high_mm
            deep = thickness(body.gauge.caster, body.place.back(point[:, mine].T), inner, most)
            colour[:, mine] = palette.ramp(palette.THIN_TO_THICK, deep / body.gauge.high_mm).T
        if body.inlay is not None:
            touched, tint, number = _touched(body.place, body.inlay, point[:, mine].T, flat[:, mine].T)
            touched = mine.take(touched)
            colour[:, touched] = tint.T
            mark[touched] += number
        if ruled and body.ruling is not None:
            share = lines_at(body.ruling, camera, found.x[mine], found.y[mine])
            share *= on_face(scene, body.ruling, found.face[mine])
            colour[:, mine] += share * (palette.linear(body.ruling.colour)[:, None] - colour[:, mine])
    gloss = np.array([body.gloss for body in scene.bodies], dtype=np.float32).take(owner)
    relief = np.array([body.relief for body in scene.bodies], dtype=np.float32).take(owner)
    return Seen(point=point, flat=flat, normal=normal, colour=colour, gloss=gloss, relief=relief, mark=mark)


def _normals(scene: Scene, camera: Camera, found: Found) -> tuple[F32, F32]:
    """The round surface's normals (3, n) and the facets', both toward the viewer."""
    corners = scene.normals.reshape(-1, 9).take(found.face, axis=0).T.reshape(3, 3, -1)
    first = 1 - found.u - found.v
    normal = np.stack([a * first + b * found.u + c * found.v for a, b, c in corners.swapaxes(0, 1)])
    flat = scene.flat.take(found.face, axis=1)
    side = np.where(dot(flat, np.array(camera.toward, dtype=np.float32)) < 0, np.float32(-1), np.float32(1))
    normal *= side / np.maximum(np.sqrt(dot(normal, normal)), np.float32(1e-20))
    flat *= side
    return normal, flat


def dot(one: F32, other: F32) -> F32:
    """Scalar products of vectors whose three components come first, any shape after."""
    return np.asarray(one[0] * other[0] + one[1] * other[1] + one[2] * other[2])


def on_face(scene: Scene, ruling: Ruling, face: I32) -> Bool:
    """Which triangles (n,) lie on the face that is ruled."""
    facing = ruling.normal @ scene.flat[:, face] > 0.99
    off = (scene.vertices[scene.faces[face, 0]] - ruling.point) @ ruling.normal
    return np.asarray(facing & (np.abs(off) < OFF_MM))


def lines_at(ruling: Ruling, camera: Camera, x: F32, y: F32) -> F32:
    """Share of a pixel that lines cover, at pixel coordinates x and y of like or broadcast shapes."""
    free = np.ones(np.broadcast_shapes(x.shape, y.shape), dtype=np.float32)
    for across in ruling.across:
        start, right, down = (np.float32(value / ruling.apart_mm) for value in _slope(ruling, across, camera))
        place = start + right * x + down * y
        place -= np.rint(place)
        pixel = max(math.hypot(right, down), 1e-9)
        cover = (np.float32(ruling.half_mm / ruling.apart_mm) - np.abs(place)) / np.float32(pixel)
        free *= 1 - np.clip(cover + np.float32(0.5), 0, 1)
    return 1 - free


def _slope(ruling: Ruling, across: F64, camera: Camera) -> tuple[float, float, float]:
    """How far along `across` the picture's corner sees the face, and how much farther a pixel on, mm."""
    toward = np.array(camera.toward)

    def along(place: F64) -> float:
        away = float((ruling.point - place) @ ruling.normal) / float(toward @ ruling.normal)
        return float((place + away * toward) @ across)

    right, down = camera.mm_per_px * np.array(camera.right), -camera.mm_per_px * np.array(camera.up)
    corner = np.array(camera.centre_mm) - camera.width_px / 2 * right - camera.height_px / 2 * down
    start = along(corner)
    return start, along(corner + right) - start, along(corner + down) - start


def _touched(place: Place, touching: Inlay, point: F32, flat: F32) -> tuple[I64, F32, I32]:
    """Which points (n, 3) of a skin lie on a solid of the inlay; of those the tints, and numbers from 1."""
    start = place.back(point) + place.turned_back(flat) * np.float32(OFF_MM)
    within = np.ones(len(start), dtype=bool)
    for axis in range(3):
        within &= (start[:, axis] > touching.lowest[axis]) & (start[:, axis] < touching.highest[axis])
    at = np.flatnonzero(within)
    upward = np.array([[0, 0, 1]], dtype=np.float32)
    hits = touching.caster.first(start.take(at, axis=0), upward)
    inside = np.flatnonzero(hits.behind(upward))
    face = hits.face.take(inside)
    return at.take(inside), touching.colours.take(face, axis=0), touching.numbers.take(face)


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


def _stack(meshes: Sequence[tuple[F64, I32]]) -> tuple[F64, I32, I32]:
    """Meshes as one: vertices, faces, and the number of the mesh of each face."""
    counts = np.cumsum([0] + [len(vertices) for vertices, _ in meshes])
    faces = [faces + count for (_, faces), count in zip(meshes, counts, strict=False)]
    owner = np.repeat(np.arange(len(meshes), dtype=np.int32), [len(f) for f in faces])
    vertices = np.concatenate([vertices for vertices, _ in meshes])
    return vertices, np.concatenate(faces).astype(np.int32), owner
