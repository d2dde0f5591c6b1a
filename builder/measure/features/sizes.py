"""A bait's sizes in the closed mold, without films where parts meet and without vents that end blind."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from builder import mesh
from builder.measure.features import outlets
from builder.mesh.cuts import Cut
from builder.model import Solid

Array = NDArray[np.float64]

FILM_MM = 0.15
"""What is thinner and even is flash where parts meet on a slope or round a core: no bait is so thin."""
SLIVER_MM = 1e-3
"""Facets that are so narrow have no normal to speak of."""
RIMS_MM = (0.05, FILM_MM + 0.05)
"""Whether a narrow facet is the rim of a film is looked at so far within it: it may cross another film."""
FACING = -0.94
"""The two sides of a film are as parallel (20 degrees), as those round a pin of few facets are."""
BESIDE_MM, ROUNDING_MM = 0.2, 0.001
"""How thick a bait is at a corner is looked at so far beside it; what is thinner is files' rounding."""
BEFORE_MM, SAME = 1e-4, 1e-6
"""A ray starts so far before a facet; two hits nearer to each other, as shares of it, are at one place."""
LAYERS, CELL_MM = 200, 1e-4
"""So often the corners farthest out are looked at, with those that lie under them within such a cell."""
CRUMB_MM = 0.008
"""An area with less of itself for its rim is half as thick: a film's section."""
GROOVES = 6
GROOVE_MM, GROOVE_LONG_MM = 0.35, 1.0
"""An end that is so low over such a length is a vent that ends before the outside, no part of the bait."""
EVEN, EVENLY = 1.5, 1.1
"""A film is hardly thicker farther in, a groove not at all: a bait's thin edge widens."""
STEP_MM, END_MM = 0.5, 0.02
"""Sections are looked at so far apart, and the end of a groove found so closely."""
SAMPLES_MM = (2.0, 4.0, 6.0, 8.0, 10.0, 12.0)
"""Behind a pin's hole, which a groove crosses or ends in, it is looked for so deep: no groove is shorter."""
SMALLEST_MM3, OPEN_MM = 0.02, 0.1
"""Pieces of a groove that are looked at, and how near a vent's end or a corner lies to one that is on it."""
SAME_WAY = 0.99999
"""The cosine between two ways that are one."""
BEHIND_SHARE = 0.2
"""What lies behind a groove is smaller than this share of the plastic: else it is a bait."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spans:
    """What tells a bait's sizes: corners (n, 3) without films and grooves, and where grooves end blind.

    `groove_share` is the share of the bait that its grooves hold.
    """

    corners: Array
    blind: tuple[Array, ...] = ()
    groove_share: float = 0.0


def spanned(bait: mesh.Body) -> Spans:
    """A bait without films and without grooves as thin as vents."""
    return _spanned(bait, bait)


def spanned_between(
    bait: mesh.Body, vents: Sequence[tuple[mesh.Body, Cut]], gates: Sequence[Cut], plastic: Solid
) -> Spans:
    """A bait without films and grooves, and without what its vents leave on it, and its gates."""
    return _spanned(bait, outlets.without_stubs(outlets.without_vents(bait, vents), gates, plastic), vents)


def _spanned(bait: mesh.Body, whole: mesh.Body, vents: Sequence[tuple[mesh.Body, Cut]] = ()) -> Spans:
    """What of a bait counts for its sizes; `whole` is the bait without what vents and gates leave on it."""
    body = whole
    tips: list[Array] = []
    for _ in range(GROOVES):
        corners = _without_films(body)
        ways = list(_ways(body, corners))
        found = [(way, end) for way in ways if (end := _groove_from(body, way, corners)) is not None]
        if not found:
            break
        for way, end in found:
            tips.append(corners[np.argmax(corners @ way)])
            body = body.trim_by_plane(mesh.vec(-way), -end)
    else:
        corners = _without_films(body)
    if not tips:
        return Spans(corners=corners)
    return Spans(
        corners=corners,
        blind=tuple(_blind(bait, body, tips, [cut for _, cut in vents])),
        groove_share=1.0 - body.volume() / whole.volume(),
    )


def _blind(bait: mesh.Body, left: mesh.Body, tips: Sequence[Array], ends: Sequence[Cut]) -> list[Array]:
    """The ends of the grooves that no vent goes on from, one for each groove."""
    grooves = [
        mesh.solid(piece, "groove").vertices
        for piece in mesh.pieces(bait - left, SMALLEST_MM3)
        if not any(piece.min_gap(cut.plug(), OPEN_MM) < OPEN_MM for cut in ends)
    ]
    found: list[Array] = []
    for tip in tips:
        on_it = any(np.linalg.norm(points - tip, axis=1).min() < OPEN_MM for points in grooves)
        goes_on = any(np.linalg.norm(tip - old) <= SAMPLES_MM[-1] for old in found)
        if on_it and not goes_on:
            found.append(tip)
    return found


def _ways(body: mesh.Body, corners: Array) -> Iterator[Array]:
    """The ways along which grooves are looked for: along and across the bait, and where it reaches farthest.

    What hangs on at one corner turns the latter: a plane across it cuts a tube's end askew.
    """
    box = mesh.plan_box(mesh.solid(body, "bait"), corners).along
    farthest = _longest_way(corners[:, :2])
    for x, y in [box] if abs(box @ farthest) > SAME_WAY else [box, farthest]:
        yield from (np.array(way) for way in ((x, y, 0.0), (-x, -y, 0.0), (-y, x, 0.0), (y, -x, 0.0)))


def _longest_way(points: Array) -> Array:
    """The direction (2,) in which points (n, 2) reach farthest."""
    rim = np.array(shapely.MultiPoint(points).convex_hull.exterior.coords)
    apart = rim[:, None] - rim[None]
    i, j = np.unravel_index(int(np.argmax((apart**2).sum(axis=2))), apart.shape[:2])
    return np.asarray((rim[j] - rim[i]) / np.linalg.norm(rim[j] - rim[i]))


def _without_films(body: mesh.Body) -> Array:
    """The corners (n, 3) without those that only films reach, looked at from the outermost inwards."""
    solid = mesh.solid(body, "bait")
    films, counts = _Films.of(body, solid), np.ones(len(solid.vertices), bool)
    for _ in range(LAYERS):
        gone = [corner for corner in _outermost(solid.vertices, counts) if films.end_at(corner, counts)]
        if not gone:
            break
        counts[gone] = False
    return np.asarray(solid.vertices[counts])


def _outermost(points: Array, counts: NDArray[np.bool_]) -> NDArray[np.intp]:
    """Which of the counting points lie at corners of their hull seen along z, or highest or lowest."""
    mine = np.flatnonzero(counts)
    hull = shapely.get_coordinates(shapely.MultiPoint(points[mine, :2]).convex_hull)
    cells = {tuple(cell) for cell in np.round(hull / CELL_MM).astype(np.int64)}
    at = np.round(points[mine, :2] / CELL_MM).astype(np.int64)
    near = np.isin(at[:, 0], [x for x, _ in cells])
    near[near] = [tuple(cell) in cells for cell in at[near]]
    height = points[mine, 2]
    return np.asarray(mine[near | (height == height.min()) | (height == height.max())])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Films:
    """A bait's corners: is a corner the end of films alone?"""

    body: mesh.Body
    points: Array
    faces: NDArray[np.int32]
    facets: mesh.Facets
    sliver: NDArray[np.bool_]
    """Facets too narrow to tell."""
    narrow: NDArray[np.bool_]
    """Facets as narrow as the rim of a film."""
    order: NDArray[np.intp]
    first: NDArray[np.intp]

    @classmethod
    def of(cls, body: mesh.Body, solid: Solid) -> _Films:
        """The bait's facets round each of its corners."""
        corners, its = solid.vertices[solid.faces], mesh.facets(solid)
        longest = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(axis=1)
        flat = solid.faces.ravel()
        order = np.argsort(flat, kind="stable")
        return cls(
            body=body,
            points=solid.vertices,
            faces=solid.faces,
            facets=its,
            sliver=2 * its.areas_mm2 < SLIVER_MM * longest,
            narrow=2 * its.areas_mm2 < FILM_MM * longest,
            order=order // 3,
            first=np.searchsorted(flat[order], np.arange(len(solid.vertices) + 1)),
        )

    def end_at(self, corner: int, counts: NDArray[np.bool_]) -> bool:
        """True for a corner where films end and nothing else does."""
        around = self.order[self.first[corner] : self.first[corner + 1]]
        told = around[~self.sliver[around]]
        if not len(told):
            return not counts[self.faces[around]].all()
        return all(self._is_film(int(facet), corner) or self._is_rim(int(facet)) for facet in told)

    def _is_rim(self, facet: int) -> bool:
        """True for the narrow side of a film: just within it the bait is as thin on either side."""
        if not self.narrow[facet]:
            return False
        ends = self.points[self.faces[facet]]
        sides = np.roll(ends, -1, axis=0) - ends
        long = sides[np.argmax((sides**2).sum(axis=1))]
        across = np.cross(long, self.facets.normals[facet]) / np.linalg.norm(long)
        return any(self._is_thin(facet, far, across) for far in RIMS_MM)

    def _is_thin(self, facet: int, far: float, across: Array) -> bool:
        """True if the bait, so far within a facet, is a film to both sides."""
        at = self.facets.centres[facet] - far * self.facets.normals[facet]
        hits = self.body.ray_cast(mesh.vec(at - FILM_MM * across), mesh.vec(at + FILM_MM * across))
        before = max((hit.distance for hit in hits if hit.distance < 0.5), default=-np.inf)
        after = min((hit.distance for hit in hits if hit.distance >= 0.5), default=np.inf)
        return bool(2 * (after - before) < 1.0)

    def _is_film(self, facet: int, corner: int) -> bool:
        """True for a facet with another close behind it at a corner (it may reach on into the bait).

        Where films cross, it may lie over one at the corner and over another at its middle.
        """
        here, normal = self.points[corner], self.facets.normals[facet]
        inwards = self.facets.centres[facet] - here
        beside = min(1.0, BESIDE_MM / float(np.linalg.norm(inwards))) * inwards
        return any(self._is_even(here, step, normal) for step in (beside, inwards))

    def _is_even(self, here: Array, step: Array, normal: Array) -> bool:
        """True if the bait is a film a step beside a corner, and hardly thinner half-way."""
        thick = self._behind_mm(here + step, normal)
        if not ROUNDING_MM < thick < FILM_MM:
            return thick < FILM_MM
        half_way = self._behind_mm(here + step / 2, normal)
        return thick <= EVEN * half_way  # an edge or a point of the bait widens

    def _behind_mm(self, at: Array, normal: Array) -> float:
        """How thick the bait is behind a point of a facet, mm; FILM_MM where it is no film."""
        hits = self.body.ray_cast(mesh.vec(at + BEFORE_MM * normal), mesh.vec(at - FILM_MM * normal))
        facing = [(hit.distance, float(np.dot(hit.normal, normal))) for hit in hits]
        own = min((far for far, cosine in facing if cosine > -FACING), default=np.inf)
        back = min((far for far, cosine in facing if cosine < FACING and far > own - SAME), default=np.inf)
        return max((BEFORE_MM + FILM_MM) * (back - own), 0.0) if back < np.inf else FILM_MM


def _groove_from(body: mesh.Body, way: Array, corners: Array) -> float | None:
    """Where along a way the groove behind its end begins, mm; None where there is none.

    The groove may end in a pin's hole, or cross it.
    """
    solid, along = mesh.solid(body, "bait"), corners @ way
    end, long = float(along.max()), float(np.ptp(along))

    def high(depth: float) -> float:
        return _height(mesh.section(solid, mesh.vec((end - depth) * way), mesh.vec(way)))

    def low(depth: float) -> bool:
        return depth < long - STEP_MM and high(depth) < GROOVE_MM

    start = next((depth for depth in (STEP_MM, *SAMPLES_MM) if low(depth)), None)
    if start is None:
        return None
    last = start
    while low(last + STEP_MM):
        last += STEP_MM
    while start > STEP_MM and low(start - STEP_MM):
        start -= STEP_MM
    step = STEP_MM
    while step > END_MM:
        step /= 2
        last += step if low(last + step) else 0.0
    behind = body.trim_by_plane(mesh.vec(way), end - last)
    is_one = last - start >= GROOVE_LONG_MM - STEP_MM and last < long - 2 * STEP_MM
    is_one = is_one and high((start + last) / 2) < EVENLY * max(high(start), END_MM)
    return end - last if is_one and behind.volume() < BEHIND_SHARE * body.volume() else None


def _height(cut: mesh.Section) -> float:
    """How high a section is without the films in it, mm."""
    areas = [part for part in cut.parts if part.area > CRUMB_MM * part.length]
    heights = cut.lift(shapely.get_coordinates(areas))[:, 2]
    return float(np.ptp(heights)) if len(heights) else 0.0
