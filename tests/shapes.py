"""Molds made in code: the halves as solids, and the exact volume of everything that fills them.

Frame of the closed mold, mm: parting face at z = 0, first half below it. Every exact volume is that of
the faceted solid itself, so that a reading can be compared without a meshing tolerance.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from manifold3d import Manifold, Mesh64, OpType
from numpy.typing import NDArray

Vec3 = tuple[float, float, float]
Array = NDArray[np.float64]
SIDES = 48
"""Facets round every circle; a multiple of four, so that the parting plane cuts along vertices."""
PAST = 2.0
"""How far (mm) a cutter reaches past the face that it opens."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """A bolt hole along z through everything between the two heights."""

    at: tuple[float, float]
    diameter: float
    bottom: float
    top: float

    def solid(self) -> Manifold:
        return rod((*self.at, self.bottom), (*self.at, self.top), self.diameter / 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Peg:
    """A locating pin on the lower half; its socket is `clearance` wider and half of it deeper."""

    at: tuple[float, float]
    diameter: float
    length: float
    clearance: float

    def pin(self) -> Manifold:
        return rod((*self.at, -0.5), (*self.at, self.length), self.diameter / 2)

    def socket(self) -> Manifold:
        top = (*self.at, self.length + self.clearance / 2)
        return rod((*self.at, -0.5), top, (self.diameter + self.clearance) / 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """Where something crosses a face: a gate's place and the direction into the bait, or a sprue's mouth."""

    at: Vec3
    normal: Vec3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mold:
    """A closed mold and the truth about it. `feed` is sprue and runner without what lies inside a bait."""

    name: str
    parts: tuple[tuple[str, Manifold], ...]
    baits: tuple[Manifold, ...]
    feed: Manifold
    vents: tuple[Manifold, ...] = ()
    gates: tuple[Opening, ...] = ()
    sprue: Opening | None = None
    holes: tuple[Hole, ...] = ()
    pegs: tuple[Peg, ...] = ()
    open_pour: bool = False
    roles: tuple[str, ...] = ()
    """Role of each part where it is not a half (or the open block)."""

    @property
    def bait_ml(self) -> tuple[float, ...]:
        """Exact volume of each bait, mL."""
        return tuple(bait.volume() / 1000 for bait in self.baits)

    @property
    def feed_ml(self) -> float:
        """Exact volume of sprue and runner together, mL."""
        return float(self.feed.volume()) / 1000

    @property
    def vent_ml(self) -> float:
        """Exact volume of all vents, mL."""
        return float(sum(vent.volume() for vent in self.vents)) / 1000


# -- primitives ------------------------------------------------------------------------------------


def union(solids: Iterable[Manifold]) -> Manifold:
    """All of them in one."""
    return Manifold.batch_boolean(list(solids), OpType.Add)


def box(low: Vec3, high: Vec3) -> Manifold:
    """The box between two corners."""
    size = (high[0] - low[0], high[1] - low[1], high[2] - low[2])
    return Manifold.cube(size).translate(low)


def rod(start: Vec3, end: Vec3, radius: float, end_radius: float | None = None) -> Manifold:
    """A cylinder or a cone frustum between two points."""
    axis = np.subtract(end, start)
    length = float(np.linalg.norm(axis))
    upright = Manifold.cylinder(length, radius, radius if end_radius is None else end_radius, SIDES)
    turn = _frame(axis / length)
    return upright.transform(np.column_stack([turn, np.asarray(start, dtype=np.float64)]))


def ball(at: Vec3, radius: float) -> Manifold:
    """A sphere."""
    return Manifold.sphere(radius, SIDES // 2).translate(at)


def channel(points: Sequence[Vec3], radius: float) -> Manifold:
    """A round runner through the points, its bends and ends rounded."""
    balls = [ball(point, radius) for point in points]
    return union(Manifold.batch_hull(pair) for pair in pairwise(balls))


def _frame(axis: Array) -> Array:
    """Columns x, y, z of a right-handed frame whose z is the axis; facets symmetric to the parting plane."""
    helper = np.array([0.0, 0.0, 1.0]) if abs(axis[2]) < 0.9 else np.array([1.0, 0.0, 0.0])
    across = np.cross(helper, axis)
    across /= np.linalg.norm(across)
    return np.column_stack([across, np.cross(axis, across), axis])


def loft(sections: Sequence[tuple[float, float, float, float]]) -> Manifold:
    """Elliptic sections along x: (x, half height along y, half width along z, y of the centre)."""
    turn = [2 * math.pi * k / SIDES for k in range(SIDES)]
    ring = np.array([(math.cos(a), math.sin(a)) for a in turn])
    table = np.asarray(sections, dtype=np.float64)
    rings = np.empty((len(table), SIDES, 3))
    rings[:, :, 0] = table[:, 0, None]
    rings[:, :, 1] = table[:, 3, None] + table[:, 1, None] * ring[None, :, 0]
    rings[:, :, 2] = table[:, 2, None] * ring[None, :, 1]
    poles = [(table[i, 0], table[i, 3], 0.0) for i in (0, -1)]
    vertices = np.vstack([rings.reshape(-1, 3), poles])
    return Manifold(Mesh64(vertices, _loft_faces(len(table))))


def _loft_faces(rings: int) -> NDArray[np.uint64]:
    near = np.arange(SIDES)
    onward = (near + 1) % SIDES
    base = (np.arange(rings - 1) * SIDES)[:, None]
    a, b = base + near, base + onward
    c, d = a + SIDES, b + SIDES
    walls = np.concatenate([np.stack([a, b, d], -1), np.stack([a, d, c], -1)]).reshape(-1, 3)
    last, pole = (rings - 1) * SIDES, rings * SIDES
    front = np.stack([np.full(SIDES, pole), onward, near], -1)
    back = np.stack([np.full(SIDES, pole + 1), last + near, last + onward], -1)
    return np.concatenate([walls, front, back]).astype(np.uint64)


# -- molds -----------------------------------------------------------------------------------------


def two_halves(
    name: str,
    *,
    lower: Manifold,
    upper: Manifold,
    baits: Sequence[Manifold],
    feed: Manifold,
    vents: Sequence[Manifold] = (),
    gates: Sequence[Opening] = (),
    sprue: Opening | None = None,
    holes: Sequence[Hole] = (),
    pegs: Sequence[Peg] = (),
) -> Mold:
    """Cut baits, feed and holes out of two blocks, the vents out of the upper, and set pins on the lower."""
    envelope = lower + upper
    plastic = union([*baits, feed])
    bolts = union(hole.solid() for hole in holes)
    pins, sockets = union(peg.pin() for peg in pegs), union(peg.socket() for peg in pegs)
    inside = union(baits)
    feed_only = (feed ^ envelope) - inside
    return Mold(
        name=name,
        parts=(
            ("a", lower - plastic - bolts + pins),
            ("b", upper - plastic - bolts - sockets - union(vents)),
        ),
        baits=tuple(baits),
        feed=feed_only,
        vents=tuple((vent ^ upper) - inside - feed_only for vent in vents),
        gates=tuple(gates),
        sprue=sprue,
        holes=tuple(holes),
        pegs=tuple(pegs),
    )


def open_mold(name: str, *, block: Manifold, baits: Sequence[Manifold]) -> Mold:
    """Cut the lower half of each bait out of a block whose top is the pouring face."""
    poured = tuple(bait.trim_by_plane((0.0, 0.0, -1.0), 0.0) for bait in baits)
    return Mold(
        name=name,
        parts=(("a", block - union(baits)),),
        baits=poured,
        feed=Manifold(),
        open_pour=True,
    )
