"""The thinnest walls of a closed mold: cavity to outside, to its neighbour, to a bolt, to the back face."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from builder import mesh
from builder.model import Solid, Wall

Points = NDArray[np.float64]
Corners = NDArray[np.float64]
"""Triangles (n, 3, 3)."""

SPACING_MM = 2.0
"""Distance of the samples from which the exact search starts."""
ROUGH = 16
"""Every so many samples are tried first, to bound the search."""
STARTS = 2
TURNS = 12
POURING_MM = 0.01
STEEP = 0.7
"""A facet whose normal has more than this along z belongs to a back face, not to a side."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Skin:
    """A named surface, ready to be searched: its facets, their boxes and its own, samples."""

    name: str
    corners: Corners
    low: Points
    high: Points
    box: tuple[Points, Points]
    samples: Points
    tree: cKDTree

    @classmethod
    def of(cls, name: str, corners: Corners) -> Skin:
        """The surface with samples at most about SPACING_MM apart."""
        samples = _sampled(corners)
        low, high = corners.min(axis=1), corners.max(axis=1)
        return cls(
            name=name,
            corners=corners,
            low=low,
            high=high,
            box=(low.min(axis=0), high.max(axis=0)),
            samples=samples,
            tree=cKDTree(samples),
        )

    def around(self, point: Points) -> Corners:
        """Facets whose boxes come within a few samples of the point."""
        reach = 3 * SPACING_MM
        near = (self.low < point + reach) & (self.high > point - reach)
        return np.asarray(self.corners[near.all(axis=1)])


def walls(
    outer: Sequence[Solid],
    baits: Sequence[tuple[str, Solid]],
    holes: Sequence[Solid] = (),
    poured: bool = False,
) -> tuple[Wall, ...]:
    """The thinnest wall of each kind that the mold has, in the closed mold's frame.

    `outer` is the mold's hull and, where the outline is not convex, the hollows between mold and
    hull. `baits` come with their names, `holes` are the bolt holes. In an open-pour mold (`poured`)
    the pouring face is no wall.
    """
    skin = np.concatenate([_corners(solid) for solid in outer])
    if poured:
        skin = skin[np.abs(skin[:, :, 2]).max(axis=1) > POURING_MM]
    up = np.abs(_normal_z(skin))
    side, back = (
        _skins([(name, skin[mine])]) for name, mine in (("outside", up <= STEEP), ("back", up > STEEP))
    )
    cavities = _skins((name, _corners(solid)) for name, solid in baits)
    bolts = _skins((f"bolt {k + 1}", _corners(hole)) for k, hole in enumerate(holes))
    found = (
        _thinnest("outside", itertools.product(cavities, side)),
        _thinnest("cavity", itertools.combinations(cavities, 2)),
        _thinnest("bolt", itertools.product(cavities, bolts)),
        _thinnest("back", itertools.product(cavities, back)),
    )
    return tuple(wall for wall in found if wall)


def closest(one: Skin, two: Skin) -> tuple[float, Points, Points]:
    """Distance (mm) of two surfaces that do not cross, and a point of each where it is reached.

    >>> flat = np.array([[[0.0, 0, 0], [9, 0, 0], [0, 9, 0]]])
    >>> closest(Skin.of("one", flat), Skin.of("two", flat + [0.0, 0.0, 4.0]))[0]
    4.0
    """
    rough = float(np.min(two.tree.query(one.samples[::ROUGH])[0]))
    distance, partner = two.tree.query(one.samples, distance_upper_bound=rough + SPACING_MM)
    best = np.argsort(distance, kind="stable")[:STARTS]
    best = best[np.isfinite(np.asarray(distance)[best])]
    pairs = zip(one.samples[best], two.samples[np.asarray(partner)[best]], strict=True)
    tries = [_slide(one.around(p), two.around(q), p) for p, q in pairs]
    return min(tries, key=lambda found: float(found[0]))


def _skins(named: Iterable[tuple[str, Corners]]) -> list[Skin]:
    """The surfaces that have facets."""
    return [Skin.of(name, corners) for name, corners in named if len(corners)]


def _thinnest(
    kind: Literal["outside", "cavity", "bolt", "back"], pairs: Iterable[tuple[Skin, Skin]]
) -> Wall | None:
    """The thinnest wall among pairs of surfaces."""
    best: Wall | None = None
    for one, two in sorted(pairs, key=lambda pair: _apart(*pair)):
        if best and _apart(one, two) > best.thickness_mm:
            break
        distance, here, there = closest(one, two)
        if best is None or distance < best.thickness_mm:
            best = Wall(
                kind=kind,
                thickness_mm=distance,
                from_mm=(float(here[0]), float(here[1]), float(here[2])),
                to_mm=(float(there[0]), float(there[1]), float(there[2])),
                names=(one.name, two.name),
            )
    return best


def _apart(one: Skin, two: Skin) -> float:
    """Distance of the two bounding boxes: never more than that of the surfaces."""
    low, high = np.maximum(one.box[0], two.box[0]), np.minimum(one.box[1], two.box[1])
    return float(np.linalg.norm(np.maximum(low - high, 0.0)))


def _corners(solid: Solid) -> Corners:
    return np.asarray(solid.vertices[solid.faces])


def _normal_z(corners: Corners) -> Points:
    """The z component of each facet's unit normal."""
    return np.asarray(mesh.unit_normals(corners)[:, 2])


def _sampled(corners: Corners) -> Points:
    """Points on every facet, about SPACING_MM apart, one for each facet smaller than that; thinned out."""
    edges = np.linalg.norm(np.roll(corners, -1, axis=1) - corners, axis=2)
    rows, longest, first = np.arange(len(corners)), edges.max(axis=1), edges.argmax(axis=1)
    a, b, c = (corners[rows, (first + k) % 3] for k in range(3))
    height = 2 * mesh.areas(np.stack([a, b, c], axis=1)) / np.maximum(longest, 1e-12)
    along, across = ((size + SPACING_MM / 2) // SPACING_MM for size in (longest, height))
    count = ((along + 1) * (across + 1)).astype(np.int64)
    owner = np.repeat(rows, count)
    step = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
    u = step % (along + 1)[owner] / np.maximum(along, 1)[owner]
    v = step // (along + 1)[owner] / np.maximum(across, 1)[owner]
    base = a[owner] + u[:, None] * (b - a)[owner]
    points = base + v[:, None] * (c[owner] - base)
    cell = np.round(points / (SPACING_MM / 2)).astype(np.int64) @ np.array([1, 1 << 20, 1 << 40])
    return np.asarray(points[np.unique(cell, return_index=True)[1]])


def _slide(one: Corners, two: Corners, start: Points) -> tuple[float, Points, Points]:
    """From a point near both, back and forth between the nearest points until they stay."""
    here = there = start
    distance = np.inf
    for _ in range(TURNS):
        there = _nearest(two, here)
        here = _nearest(one, there)
        before, distance = distance, float(np.linalg.norm(there - here))
        if before - distance < 1e-4:
            break
    return distance, here, there


def _nearest(corners: Corners, point: Points) -> Points:
    """The point of the triangles nearest to a point: inside one, or on an edge."""
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    u, v, w = b - a, c - a, point - a
    uu, uv, vv = (np.einsum("ij,ij->i", *pair) for pair in ((u, u), (u, v), (v, v)))
    wu, wv = np.einsum("ij,ij->i", w, u), np.einsum("ij,ij->i", w, v)
    det = np.maximum(uu * vv - uv * uv, 1e-30)
    s, t = (vv * wu - uv * wv) / det, (uu * wv - uv * wu) / det
    inside = (s >= 0) & (t >= 0) & (s + t <= 1)
    spots = [(a + s[:, None] * u + t[:, None] * v)[inside]]
    for start, end in ((a, b), (b, c), (c, a)):
        edge = end - start
        length = np.maximum(np.einsum("ij,ij->i", edge, edge), 1e-30)
        share = np.clip(np.einsum("ij,ij->i", point - start, edge) / length, 0.0, 1.0)
        spots.append(start + share[:, None] * edge)
    found = np.concatenate(spots)
    return np.asarray(found[np.linalg.norm(found - point, axis=1).argmin()])
