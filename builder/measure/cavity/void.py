"""What the closed mold encloses: the void, its pieces, and the mouths by which they open to the outside."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from builder import mesh
from builder.measure.closing.planes import outline
from builder.mesh.flat_regions import hanging, neighbours
from builder.mesh.normals import Facets
from builder.model import Solid

Array = NDArray[np.float64]
Ends = Literal["outside", "bolt", "blind"]

TRIM_MM = 1e-3
CURLED_TRIM_MM = 0.02
"""The envelope is this much smaller than the hull, so that films on its faces do not join the holes."""
SLIVER_MM3 = 0.02
SMALLEST_MM2 = 0.1
SCRATCH_MM2, SCRATCH_MM, EVEN_SHARE = 0.012, 0.03, 0.8
"""A smaller mouth counts from this area and this thickness on where it fills so much of the box round it: a
knife's scratch does, the leavings of a curved parting do not."""
LEAST_MM2 = SCRATCH_MM2 / 2
"""Facets that are smaller together leave no mouth, whatever seams between them are filled."""
SEAM_MM = 1e-3
NEAR_MM, SIDES_MM = 0.01, 0.1
"""A mouth so near to a lid is in it, and two mouths so near to each other are its two sides."""
CIRCLE = 0.93
"""An octagon has 0.948, a hexagon 0.907."""
UNEVEN_SHARE = 0.05
"""A circle's corners lie on it but for such a share, also in a rough mesh."""
LEVEL_MM = 5e-3
LEVEL_COS = 0.9999
"""Facets within these limits are one opening."""
BEND_COS = 0.9
"""Facets of one opening meet at no sharper angle (26 degrees): a round outside is many narrow faces."""
AWAY_COS = -0.7
"""Faces that look farther away from each other are two sides of the mold, and no edge between them is one."""
ASLANT_COS = 0.6
"""A channel leaves by a mouth over an edge no more aslant than this (53 degrees)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mouth:
    """An opening of a piece; `normal` points out of it. `ends` says what lies before it."""

    at: Array
    normal: Array
    polygon: shapely.Geometry
    area_mm2: float
    ends: Ends = "outside"
    deep_mm: float = 0.0
    """So far behind its middle the rim lies where the opening goes over an edge of the mold."""

    @property
    def diameter_mm(self) -> float:
        """Diameter of the largest circle in the opening."""
        return mesh.inscribed(self.polygon)[0]

    @property
    def reach_mm(self) -> float:
        """How far the opening reaches from its middle."""
        low_x, low_y, high_x, high_y = self.polygon.bounds
        return float(np.hypot(high_x - low_x, high_y - low_y) / 2)

    @property
    def roundness(self) -> float:
        """4 pi area / perimeter squared: 1 for a circle, 0.91 for a hexagon, 0.79 for a square."""
        return roundness(self.polygon)


def roundness(polygon: shapely.Polygon) -> float:
    """4 pi area / perimeter squared: 1 for a circle, 0.91 for a hexagon, 0.79 for a square."""
    return float(4 * np.pi * polygon.area / polygon.length**2)


def even_mm(area_mm2: float) -> float:
    """Diameter (mm) of the circle of this area."""
    return float(2 * np.sqrt(area_mm2 / np.pi))


def drawn_mm(polygon: shapely.Polygon) -> float:
    """Diameter (mm) of the circle that a round outline was drawn as: its corners lie on it.

    That of the circle of equal area where the outline is no circle.

    >>> square = shapely.Point(0, 0).buffer(2.0, quad_segs=1)
    >>> octagon = shapely.Point(0, 0).buffer(2.0, quad_segs=2)
    >>> round(drawn_mm(square), 3), round(drawn_mm(octagon), 3)
    (3.192, 4.0)
    """
    away = _corners_away(polygon)
    return float(2 * away.mean()) if _is_circle(polygon, away) else even_mm(polygon.area)


def passing_mm(polygon: shapely.Polygon) -> float:
    """Diameter (mm) of the thickest round rod that goes through an opening that was drawn like this.

    >>> octagon = shapely.Point(0, 0).buffer(2.0, quad_segs=2)
    >>> slot = shapely.LineString([(0, 0), (1.5, 0)]).buffer(2.0)
    >>> round(passing_mm(octagon), 3), round(passing_mm(slot), 2)
    (4.0, 4.0)
    """
    away = _corners_away(polygon)
    return float(2 * away.mean()) if _is_circle(polygon, away) else mesh.inscribed(polygon)[0]


def _corners_away(polygon: shapely.Polygon) -> Array:
    """How far an outline's corners (n,) lie from its middle, mm."""
    corners = shapely.get_coordinates(polygon.exterior.simplify(SEAM_MM))[:-1]
    return np.asarray(np.linalg.norm(corners - shapely.get_coordinates(polygon.centroid), axis=1))


def _is_circle(polygon: shapely.Polygon, away_mm: Array) -> bool:
    """True for an outline that was drawn as a circle: a slot's corners lie nearer and farther out."""
    return bool(roundness(polygon) > CIRCLE and np.ptp(away_mm) < UNEVEN_SHARE * away_mm.mean())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Piece:
    """One connected part of the void, with its mouths, the largest first."""

    body: mesh.Body
    mouths: tuple[Mouth, ...]
    volume_mm3: float
    area_mm2: float
    low: Array
    high: Array
    marks: Mapping[int, str]


def envelope(parts: Sequence[mesh.Body], trim_mm: float = TRIM_MM) -> mesh.Body:
    """The hull of the closed mold, a thousandth of a millimetre (or as told) smaller on each side."""
    hull = mesh.hull(parts)
    low, high = mesh.box(hull)
    middle, size = (low + high) / 2, high - low
    scale = np.diag(1 - 2 * trim_mm / size)
    return mesh.placed(hull, scale, middle - scale @ middle)


def pieces(outer: mesh.Body, mold: mesh.Body, lids: Sequence[mesh.Body] = ()) -> list[Piece]:
    """The void's pieces, the largest first, closed at the hull and at the lids over mouths within it."""
    marked = outer.as_original()
    lids = [lid.as_original() for lid in lids]
    void = marked - mesh.union([mold, *lids])
    marks = {body.original_id(): "outside" for body in (marked, *lids)}
    return [piece(part, marks) for part in mesh.pieces(void, SLIVER_MM3)]


def piece(body: mesh.Body, marks: Mapping[int, str]) -> Piece:
    """A body with its mouths: the facets that stem from marked bodies, by what lies before them."""
    low, high = mesh.box(body)
    return Piece(
        body=body,
        mouths=tuple(sorted(_mouths(body, marks), key=lambda mouth: -mouth.area_mm2)),
        volume_mm3=body.volume(),
        area_mm2=body.surface_area(),
        low=low,
        high=high,
        marks=marks,
    )


def over_edges(piece: Piece) -> Piece:
    """The piece with each opening that goes over an edge of the mold's outside as one mouth.

    Bolt holes and recesses are told by the mouth in each single face.
    """
    outside = [mouth for mouth in piece.mouths if mouth.ends == "outside"]
    if not any(_may_be_one(one, two) for one, two in combinations(outside, 2)):
        return piece
    joined = tuple(sorted(_joined(piece), key=lambda mouth: -mouth.area_mm2))
    return replace(piece, mouths=joined) if len(joined) < len(piece.mouths) else piece


def _may_be_one(one: Mouth, two: Mouth) -> bool:
    """True for mouths in two faces, so near to each other that they may be one opening."""
    near = np.linalg.norm(one.at - two.at) < one.reach_mm + two.reach_mm + SIDES_MM
    return bool(near and AWAY_COS < one.normal @ two.normal < LEVEL_COS)


def _joined(piece: Piece) -> Iterator[Mouth]:
    """The piece's mouths, those that share an edge as one."""
    solid, origin = mesh.with_origin(piece.body, "void")
    its, taken = mesh.facets(solid), np.zeros(len(solid.faces), dtype=bool)
    groups = list(_groups(solid, origin, piece.marks))
    of = np.full(len(solid.faces), -1)
    for k, (facets, ends) in enumerate(groups):
        if ends == "outside":
            of[facets] = k
    number = _hanging_over(solid, of)
    for k in np.unique(number[of >= 0]):
        facets = np.flatnonzero((number == k) & (of >= 0))
        ways = np.array([_normal(its, facets[of[facets] == side]) for side in np.unique(of[facets])])
        if len(ways) > 1 and (ways @ ways.T).min() > AWAY_COS:
            taken[facets] = True
            for mouth in _mouth(solid, facets, _way_out(solid, its, facets), "outside"):
                depths = (mouth.at - solid.vertices[solid.faces[facets]]) @ mouth.normal
                yield replace(mouth, deep_mm=float(depths.max()))
    for facets, ends in groups:
        if not taken[facets].all():
            yield from _mouth(solid, facets[~taken[facets]], _normal(its, facets), ends)


def _way_out(solid: Solid, its: Facets, facets: NDArray[np.intp]) -> Array:
    """The way along the walls that end in an opening; the way its facets look where the walls tell none."""
    edges, beside = neighbours(solid.faces)
    within = np.isin(beside, facets)
    rim = within[:, 0] != within[:, 1]
    walls = its.normals[np.where(within[rim, 0], beside[rim, 1], beside[rim, 0])]
    long_mm = np.linalg.norm(np.diff(solid.vertices[edges[rim]], axis=1)[:, 0], axis=1)
    along = np.linalg.eigh((walls * long_mm[:, None]).T @ walls)[1][:, 0]
    looks = _normal(its, facets)
    along = along * np.sign(along @ looks)
    return np.asarray(along if along @ looks > ASLANT_COS else looks)


def _hanging_over(solid: Solid, of: NDArray[np.intp]) -> NDArray[np.int64]:
    """A number for each facet, the same for those that hang together in one face or over an edge.

    `of` is the face of the outside that each facet lies in, -1 for other facets.
    """
    its, edges = mesh.facets(solid), neighbours(solid.faces)[1]
    one, two = edges.T
    folds = np.einsum("ij,ij->i", its.centres[two] - its.centres[one], its.normals[one]) < 0
    joined = (of[one] >= 0) & (of[two] >= 0) & (folds | (of[one] == of[two]))
    return hanging(edges[joined], len(solid.faces))


def _mouths(body: mesh.Body, marks: Mapping[int, str]) -> Iterator[Mouth]:
    """The openings in each face of the outside, or round it where it has no sharp bend, and in bolt holes."""
    solid, origin = mesh.with_origin(body, "void")
    its = mesh.facets(solid)
    for facets, ends in _groups(solid, origin, marks):
        yield from _mouth(solid, facets, _normal(its, facets), ends)


def _normal(its: Facets, facets: NDArray[np.intp]) -> Array:
    """The way some facets look together."""
    normal = its.areas_mm2[facets] @ its.normals[facets]
    return np.asarray(normal / np.linalg.norm(normal))


def _groups(
    solid: Solid, origin: NDArray[np.int64], marks: Mapping[int, str]
) -> Iterator[tuple[NDArray[np.intp], Ends]]:
    """Facets in one plane, or that hang together without a sharp bend; each bolt's facets as one."""
    its = mesh.facets(solid)
    normals, areas, centres = its.normals, its.areas_mm2, its.centres
    kinds: tuple[Ends, ...] = ("outside", "bolt")
    for ends in kinds:
        mine = np.isin(origin, [mark for mark, kind in marks.items() if kind == ends]) & (areas > 1e-9)
        group = _hanging(solid, normals, mine) if ends == "outside" else origin
        while mine.any():
            lead = int(np.argmax(np.where(mine, areas, 0.0)))
            near = mine & (group == group[lead])
            if ends == "outside":
                level = np.abs((centres - centres[lead]) @ normals[lead]) < LEVEL_MM
                beside = mine & level & (normals @ normals[lead] > LEVEL_COS)
                near = mine & np.isin(group, group[beside])
            mine &= ~near
            if np.linalg.norm(areas[near] @ normals[near]) > LEAST_MM2:
                yield np.flatnonzero(near), ends


def _hanging(solid: Solid, normals: Array, among: NDArray[np.bool_]) -> NDArray[np.int64]:
    """A number for each facet, the same for those of `among` that hang together without a sharp bend."""
    edges = neighbours(solid.faces)[1]
    one, two = edges.T
    joined = among[one] & among[two] & (np.einsum("ij,ij->i", normals[one], normals[two]) > BEND_COS)
    return hanging(edges[joined], len(solid.faces))


def _mouth(solid: Solid, facets: NDArray[np.intp], normal: Array, ends: Ends) -> Iterator[Mouth]:
    """The group's openings; nothing where they are slivers."""
    turn = mesh.frame(normal)
    used, index = np.unique(solid.faces[facets], return_inverse=True)
    points = solid.vertices[used] @ turn.T
    polygon = outline(points[:, :2], index.reshape(-1, 3).astype(np.int32))
    for part in shapely.get_parts(
        polygon.buffer(SEAM_MM, join_style="mitre").buffer(-SEAM_MM, join_style="mitre")
    ):
        if part.area < SMALLEST_MM2 and not _is_scratch(part):
            continue
        centre = np.array([part.centroid.x, part.centroid.y, points[:, 2].mean()])
        yield Mouth(
            at=centre @ turn,
            normal=normal,
            polygon=part,
            area_mm2=float(part.area),
            ends=ends,
        )


def _is_scratch(part: shapely.Polygon) -> bool:
    """True for an opening as small as a knife's scratch, which lets air out, and as even."""
    if part.area < SCRATCH_MM2 or part.area < EVEN_SHARE * shapely.minimum_rotated_rectangle(part).area:
        return False
    return mesh.inscribed(part)[0] > SCRATCH_MM


def opens_at(pieces: Sequence[Piece], lids: Sequence[mesh.Body], wide_mm: float) -> bool:
    """True if a mouth wider than that lies in one of the lids: a sprue's, which goes on outside of it."""
    wide = [mouth.at for piece in pieces for mouth in piece.mouths if mouth.diameter_mm > wide_mm]
    return any(_in_box(at, lid) for at in wide for lid in lids)


def lies_within(pieces: Sequence[Piece], lid: mesh.Body) -> bool:
    """True if a lid parts nothing: the same piece opens at both sides of it.

    A face deep in a cavity sees the open through the sprue, and hollows that go on there are no mouths.
    """
    return any(
        one.normal @ two.normal < -LEVEL_COS and np.linalg.norm(one.at - two.at) < SIDES_MM
        for piece in pieces
        for one, two in combinations([mouth for mouth in piece.mouths if _in_box(mouth.at, lid)], 2)
    )


def _in_box(at: Array, lid: mesh.Body) -> bool:
    """True if a place lies in the box round a lid."""
    low, high = mesh.box(lid)
    return bool(((at > low - NEAR_MM) & (at < high + NEAR_MM)).all())


def holds(piece: Piece, point: Array) -> bool:
    """True if the point is inside the piece."""
    probe = mesh.placed(mesh.ball(0.05), np.eye(3), point)
    return bool((piece.body ^ probe).volume() > 0)
