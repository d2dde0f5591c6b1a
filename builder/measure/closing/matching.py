"""Closing the mold: each half's parting face to z = 0, then the second half turned onto the first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import islice

import numpy as np
import shapely
from numpy.typing import NDArray

from builder import mesh
from builder.measure.closing import poses
from builder.measure.closing.planes import WARPED, Plane, planes, whole
from builder.model import Solid

Array = NDArray[np.float64]

SNAP_MM = 2e-3
"""Vertices this near to the parting plane are laid on it: a gap of 1e-6 mm would join all cavities."""
PRESSED_MM = 3e-3
"""Curved faces that touch are off by their files' rounding, and a film of 1e-6 mm would join all hollows."""
CANDIDATES = 3
"""How many faces of each half are tried as its parting face."""
PROUD_SHARE = 0.15
"""A face with more of the part's volume before it than this is no parting face."""
LEAST_AREAS = (0.3, 0.05)
"""A parting face has at least this share of the largest outline's area; in a thin-walled mold, much less."""
GOOD_MISMATCH = 0.09
BACK_SHARE = 0.25
"""Two faces that open less than this share of the widest pair are backs with counterbores."""
WAVE_MM = 0.004
"""A face that waves by more, curl taken away, is not laid flat where the other half's fits it as it is."""
CURLED = 1.1
"""Faces that grow by this when curl is allowed are curled."""
CLEAR_MISMATCH = 0.004
TOUCH_MM = 5e-3
FILED_MM, FILED_TOUCH_MM, FILED_GAP_MM = 0.05, 0.02, 1.0
"""Faces filed no farther apart than the first are filed as closed, than the second as touching; a gap up to
the last was drawn as one, a wider one only to show the halves apart."""
DEPTHS = (0.08, 0.2, 0.35, 0.5)
"""Two ways of closing that differ by less (share of the face's area) are told apart by their depths."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Face:
    """A candidate parting face: x -> turn @ x + move lays it at z = 0, where it covers `polygon`."""

    turn: Array
    move: Array
    polygon: shapely.Geometry
    opening_mm2: float
    rim: NDArray[np.int32]
    """The face's own vertices, which closing lays flat."""
    curl_mm: float
    wave_mm: float
    """What is left of it (twice the deviation) when the quadratic surface that a print curls by is off."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Closing:
    """How the second half lies on the first (x -> turn @ x + move), and how well the faces fit."""

    first: Face
    second: Face
    turn: Array
    move: Array
    mismatch: float
    opening_mm2: float
    mirrored: bool
    contoured: bool = False
    """The halves lie closed in their files, and their parting is no flat face."""

    @property
    def as_filed(self) -> bool:
        """True if the two halves lie in their files as in the closed mold."""
        turned = np.abs(self.turn - self.first.turn).max()
        return bool(turned < 1e-4 and np.abs(self.move - self.first.move).max() < FILED_TOUCH_MM)

    @property
    def filed_gap_mm(self) -> float:
        """How far (mm) the halves lie apart in their files, if they lie as closed but for that; else 0."""
        turned, off = np.abs(self.turn - self.first.turn).max(), np.abs(self.move - self.first.move)
        apart = FILED_TOUCH_MM <= off[2] < FILED_GAP_MM and off[:2].max() < FILED_TOUCH_MM
        return float(off[2]) if turned < 1e-4 and apart else 0.0

    def lay_first(self, solid: Solid) -> Solid:
        """The first half, below z = 0."""
        return _laid_first(self, solid)

    def lay_second(self, solid: Solid) -> Solid:
        """The second half, above z = 0; on a curved parting pressed on, so that no film stays open."""
        return _laid_second(self, solid)

    def rim(self, face: Face) -> NDArray[np.int32] | None:
        """What is laid flat of a half: nothing of a curved parting."""
        return None if self.contoured else face.rim


@lru_cache(maxsize=2)
def _laid_first(way: Closing, solid: Solid) -> Solid:
    """The first half; kept, for what is made of it is kept by the solid."""
    return laid(solid, way.first.turn, way.first.move, way.rim(way.first))


@lru_cache(maxsize=2)
def _laid_second(way: Closing, solid: Solid) -> Solid:
    """The second half, kept likewise."""
    pressed = np.array([0.0, 0.0, PRESSED_MM if way.contoured else 0.0])
    return laid(solid, way.turn, way.move - pressed, way.rim(way.second))


def laid(solid: Solid, turn: Array, move: Array, rim: NDArray[np.int32] | None = None) -> Solid:
    """The solid under x -> turn @ x + move, uncurled, with its face and all that is near on z = 0."""
    vertices = solid.vertices @ turn.T + move
    if rim is not None:
        vertices[:, 2] -= curl(vertices[rim], vertices)
        vertices[rim, 2] = 0.0
    vertices[np.abs(vertices[:, 2]) < SNAP_MM, 2] = 0.0
    faces = solid.faces if np.linalg.det(turn) > 0 else solid.faces[:, ::-1]
    return Solid(name=solid.name, vertices=vertices, faces=np.ascontiguousarray(faces))


def curl(rim: Array, points: Array) -> Array:
    """Height (mm) of the quadratic surface through a curled face; taking it away keeps every volume."""
    if np.ptp(rim[:, 2]) < SNAP_MM:
        return np.zeros(len(points))
    scale = float(np.abs(rim[:, :2]).max())

    def terms(some: Array) -> Array:
        x, y = some[:, 0] / scale, some[:, 1] / scale
        return np.stack([np.ones(len(some)), x, y, x * x, x * y, y * y], axis=1)

    fit = np.linalg.lstsq(terms(rim), rim[:, 2], rcond=None)[0]
    return np.asarray(terms(points) @ fit)


def parting_faces(solid: Solid, least: float = LEAST_AREAS[0]) -> list[Face]:
    """Candidate parting faces, likeliest first: much opening in their hull, little of the part proud.

    None has less than `least` of the largest outline's area.
    """
    return list(_likely(solid, least))


@lru_cache(maxsize=4)
def _likely(solid: Solid, least: float) -> tuple[Face, ...]:
    """The candidates of the last few solids, which are asked for more than once."""
    return tuple(_candidates_of(solid, _flats(solid), least))


@lru_cache(maxsize=2)
def _flats(solid: Solid) -> tuple[Plane, ...]:
    """The flat faces of the last two solids; curled ones as a whole."""
    drawn = list(planes(solid))
    curled = list(planes(solid, flat=WARPED))
    return tuple(
        curled if curled[0].area_mm2 > CURLED * drawn[0].area_mm2 else whole(solid, drawn, curled, CURLED)
    )


def _candidates_of(solid: Solid, flats: Sequence[Plane], least: float) -> list[Face]:
    """Flat faces that may be the parting face."""
    body = mesh.body(solid)
    largest = max((hull_mm2(solid, plane) for plane in flats), default=0.0)
    seen = (face_of(solid, plane) for plane in flats if plane.area_mm2 > least * largest)
    faces = sorted((f for f in seen if f.polygon.area > least * largest), key=lambda f: -f.opening_mm2)
    return list(islice((face for face in faces if proud_share(body, face) <= PROUD_SHARE), CANDIDATES))


def hull_mm2(solid: Solid, plane: Plane) -> float:
    """Area of a face's convex hull."""
    points = solid.vertices[np.unique(solid.faces[plane.facets])] @ mesh.frame(plane.normal).T
    return float(shapely.MultiPoint(points[:, :2]).convex_hull.area)


def proud_share(body: mesh.Body, face: Face) -> float:
    """Share of the part's volume that stands before a face."""
    return float(mesh.above(mesh.placed(body, face.turn, face.move), WARPED.mm).volume() / body.volume())


def face_of(solid: Solid, plane: Plane) -> Face:
    """The candidate that a plane makes: outline centred, long side along x, more material towards +x."""
    turn = mesh.frame(plane.normal)
    move = -turn @ plane.point
    polygon = plane.polygon(solid, turn, move)
    level = poses.levelled(polygon)
    rim = np.unique(solid.faces[plane.facets])
    points = solid.vertices[rim] @ turn.T + move
    return Face(
        turn=level[:3, :3] @ turn,
        move=level[:3, :3] @ move + level[:3, 3],
        polygon=_moved(polygon, level[:2, :2], level[:2, 3]),
        opening_mm2=float(polygon.convex_hull.area - polygon.area),
        rim=rim,
        curl_mm=float(np.ptp((solid.vertices[rim] - plane.point) @ plane.normal)),
        wave_mm=2.0 * float(np.std(points[:, 2] - curl(points, points))),
    )


def closings(first: Solid, second: Solid, ones: Sequence[Face], twos: Sequence[Face]) -> list[Closing]:
    """Ways to lay the second half on the first, best first: faces that match, then depths that match.

    Behind them those whose faces match clearly worse: flat backs match better than faces with cavities.
    """
    found = _good(ones, twos, mirrored=False)
    if min((way.mismatch for way in found), default=1.0) > CLEAR_MISMATCH:
        found += _good(ones, twos, mirrored=True)
    opened = max((way.opening_mm2 for way in found), default=0.0)
    found = [way for way in found if way.opening_mm2 > 0.5 * opened]
    best = min((way.mismatch for way in found), default=0.0)
    close = [way for way in found if way.mismatch < best + CLEAR_MISMATCH or way.as_filed]
    close = [way for way in close if not way.mirrored] or close
    others = [way for way in found if not way.mirrored and not any(way is one for one in close)]
    others.sort(key=lambda way: (-round(way.opening_mm2), way.mismatch))
    if len(close) < 2:
        return [*close, *others]
    ranked = sorted((round(_depth_mismatch(way, first, second), 4), k) for k, way in enumerate(close))
    return [*(close[k] for _, k in ranked), *others]


def _good(ones: Sequence[Face], twos: Sequence[Face], mirrored: bool) -> list[Closing]:
    """Ways in which the faces match well enough, those with the widest opening first.

    Pairs with less than half of the opening already found, or much less than the widest pair's (backs with
    counterbores), are not tried.
    """
    pairs = sorted(((one, two) for one in ones for two in twos), key=lambda pair: -_opening(*pair))
    found: list[Closing] = []
    opened = 2 * BACK_SHARE * _opening(*pairs[0])
    for one, two in pairs:
        if _opening(one, two) > 0.5 * opened:
            made = [*turns(one, two, mirrored)] if mirrored else [*_filed(one, two), *turns(one, two)]
            found += [way for way in made if way.mismatch < GOOD_MISMATCH]
            opened = max((way.opening_mm2 for way in found), default=opened)
    return _different(found)


def _opening(one: Face, two: Face) -> float:
    """Area (mm2) that two faces leave open together."""
    return one.opening_mm2 + two.opening_mm2


def _different(found: Sequence[Closing]) -> list[Closing]:
    """Without ways that repeat an earlier one."""
    kept: list[Closing] = []
    for way in found:
        same = (
            np.abs(way.turn - old.turn).max() < 1e-3 and np.abs(way.move - old.move).max() < 0.1
            for old in kept
        )
        if not any(same):
            kept.append(way)
    return kept


def _filed(one: Face, two: Face) -> Iterator[Closing]:
    """The second face where its file has it, if that is on the first face."""
    turn = one.turn @ two.turn.T
    move = one.move - turn @ two.move
    if turn[2, 2] < -0.9999 and abs(move[2]) < FILED_MM:
        yield Closing(
            first=one,
            second=two,
            turn=one.turn,
            move=one.move,
            mismatch=_mismatch(one.polygon, _moved(two.polygon, turn[:2, :2], move[:2])),
            opening_mm2=_opening(one, two),
            mirrored=False,
        )


def turns(one: Face, two: Face, mirrored: bool = False) -> Iterator[Closing]:
    """Turns in the plane that bring the second outline onto the first."""
    flip = np.diag([1.0, 1.0 if mirrored else -1.0, -1.0])
    flipped = _moved(two.polygon, flip[:2, :2], np.zeros(2))
    for turn, move in poses.turned(one.polygon, flipped):
        spin = np.eye(3)
        spin[:2, :2] = turn
        yield Closing(
            first=one,
            second=two,
            turn=spin @ flip @ two.turn,
            move=spin @ flip @ two.move + np.append(move, 0.0),
            mismatch=_mismatch(one.polygon, _moved(flipped, turn, move), GOOD_MISMATCH),
            opening_mm2=_opening(one, two),
            mirrored=mirrored,
        )


def _mismatch(one: shapely.Geometry, two: shapely.Geometry, most: float = 1.0) -> float:
    """Share of the common outline where only one face has material; a tenth of what is not common.

    Where it is surely more than `most`, something between that and the mismatch.
    """
    a, b = one.convex_hull, two.convex_hull
    common = a.intersection(b).area
    if common <= 0.5 * min(a.area, b.area):
        return 1.0
    beyond = a.area - common, b.area - common
    sizes = one.area, two.area
    least = max(sizes[0] - beyond[0] - sizes[1], sizes[1] - beyond[1] - sizes[0]) / common
    if least <= most:
        least = (sum(sizes) - sum(beyond) - 2 * one.intersection(two).area) / common
    if least > most:
        return float(least)
    apart = one.symmetric_difference(two).intersection(a.intersection(b)).area / common
    return float(apart + 0.1 * (1 - common / min(a.area, b.area)))


def _depth_mismatch(way: Closing, first: Solid, second: Solid) -> float:
    """How much the openings of the two halves differ at equal depths, as a share of the sections."""
    low, high = way.lay_first(first), way.lay_second(second)
    reach = min(-low.vertices[:, 2].min(), high.vertices[:, 2].max())
    total = 0.0
    for share in DEPTHS:
        one = mesh.section(low, (0.0, 0.0, -share * reach), (0.0, 0.0, 1.0)).polygons
        two = mesh.section(high, (0.0, 0.0, share * reach), (0.0, 0.0, 1.0)).polygons
        total += _mismatch(one, two)
    return total / len(DEPTHS)


def _moved(polygon: shapely.Geometry, turn: Array, move: Array) -> shapely.Geometry:
    """A plane polygon under x -> turn @ x + move."""
    return shapely.transform(polygon, lambda points: points @ turn.T + move)


def contact_mm2(lower: Solid, upper: Solid, contoured: bool = False) -> float:
    """Area (mm2) where the halves touch in the plane z = 0; on a curved parting its shadow along z."""
    if contoured:
        down = mesh.placed(mesh.body(upper), np.eye(3), np.array([0.0, 0.0, -2 * TOUCH_MM]))
        return mesh.projected_mm2(down ^ mesh.body(lower))
    one = mesh.section(lower, (0.0, 0.0, -TOUCH_MM), (0.0, 0.0, 1.0)).polygons
    two = mesh.section(upper, (0.0, 0.0, TOUCH_MM), (0.0, 0.0, 1.0)).polygons
    return float(shapely.intersection(one, two).area)


def overlap_share(lower: Solid, upper: Solid) -> float:
    """What two halves share, as a share of the smaller one's volume; their union is asked for again."""
    both = [mesh.body(half) for half in (lower, upper)]
    sizes = [body.volume() for body in both]
    return float((sum(sizes) - mesh.union(both).volume()) / min(sizes))
