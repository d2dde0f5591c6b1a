"""What each piece of the void is: bolt hole, plastic, pin clearance or an outside recess."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
import shapely
from numpy.typing import NDArray

from builder import mesh
from builder.measure.cavity import void
from builder.measure.cavity.void import Mouth, Piece
from builder.model import Bolt, Pin, Solid, Vec3

Array = NDArray[np.float64]

ROUND = 0.85
"""Mouths less round than this are no bolt holes (a square has 0.79, a hexagon 0.91)."""
OPEN_SHARE = 0.2
"""A piece with more of its surface open to the outside is a recess of the outside, not a cavity."""
HEXAGON = 0.95
"""Rounder mouths are circles."""
WIDEST_BOLT_MM = 25.0
ACROSS_MM = 0.5
MOST_MOUTHS = 24
WIDE = (0.5, 0.2)
"""Mouths that count, as shares of the widest, for a through hole (others may cut it) and for a blind one."""
BORE_MM = 0.01
SLIM_SHARE, BLOCKED_SHARE = 0.15, 0.01
"""A rod that is thinner than a bolt hole's mouth by such a share on each side goes through but for this."""
MEET_MM = 0.1
"""Mouths no farther apart are the two sides of one lid."""
AROUND_SHARE = 0.15
LOWEST_PIN = 0.1
"""A pin is at least so high, as a share of its width; crests of a parting that waves are lower."""
SLOPES = 0.3
"""A mouth in a back that is domed or rounded off looks up or down by so much of its normal."""
TUBE_LEVELS = np.linspace(0.02, 0.98, 7)
"""Where a hole with sloping mouths is looked at, as shares of the way between them."""
LIKE = 1.05
ASIDE_SHARE = 0.05
"""Sections of one hole: so much larger at most, and so much of its width off its middle."""
FULL = (0.75, 1.3)
"""Volume of a hole with sloping mouths, over its sections' mean drawn along it: nothing else hangs on it."""
HOLLOW_SHARE = 0.35
"""Round a bolt hole, this share of its width farther out, less than that share is hollow."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Named:
    """The void's pieces by what they are."""

    plastic: tuple[Piece, ...]
    bolts: tuple[Bolt, ...]
    holes: tuple[mesh.Body, ...]
    drilled: tuple[Piece, ...]
    """The pieces that were taken for bolt holes."""
    closed: tuple[Piece, ...]
    """Pieces without a mouth."""
    recesses: tuple[Piece, ...]

    def keeping(self, kept: Sequence[int]) -> Named:
        """Only these bolt holes are some, the others recesses."""
        others = (hole for k, hole in enumerate(self.holes) if k not in kept)
        return replace(
            self,
            bolts=tuple(self.bolts[k] for k in kept),
            holes=tuple(self.holes[k] for k in kept),
            recesses=(*self.recesses, *(void.piece(hole, {}) for hole in others)),
        )


def name(pieces: Sequence[Piece], sprue_at_mm: Vec3 | None = None) -> Named:
    """Sort the pieces of the void, which come the largest first. The piece of a hinted sprue is plastic."""
    shot = _nearest(pieces, sprue_at_mm)
    pieces = [part for piece in pieces for part in ([piece] if piece is shot else drilled_out(piece))]
    drilled = [
        (piece, bolt) for piece in pieces if piece is not shot and (bolt := bolt_of(piece)) is not None
    ]
    heads = [one for one in drilled if any(_is_head(one, other) for other in drilled)]
    holes = [one for one in drilled if one not in heads and _crosses(one[0])]
    pockets = [one[0] for one in drilled if one not in heads and one not in holes]
    rest = [piece for piece in pieces if not any(piece is one for one, _ in drilled)]
    return Named(
        plastic=tuple(void.over_edges(piece) for piece in rest if piece is shot or is_cavity(piece)),
        bolts=tuple(_with_head(one, heads) for one in holes),
        holes=tuple(
            mesh.union([piece.body, *(h.body for h, _ in heads if _meet(piece, h))]) for piece, _ in holes
        ),
        drilled=tuple(piece for piece, _ in drilled),
        closed=tuple(piece for piece in rest if not piece.mouths),
        recesses=(
            *(piece for piece in rest if piece.mouths and piece is not shot and not is_cavity(piece)),
            *pockets,
        ),
    )


def _nearest(pieces: Sequence[Piece], point: Vec3 | None) -> Piece | None:
    """The piece with the mouth nearest to a hinted point."""
    if point is None:
        return None
    mouths = [
        (float(np.linalg.norm(m.at - np.array(point))), k) for k, p in enumerate(pieces) for m in p.mouths
    ]
    return pieces[min(mouths)[1]] if mouths else None


def is_cavity(piece: Piece) -> bool:
    """True for a piece that opens to the outside, but not wide."""
    return bool(piece.mouths) and open_share(piece) <= OPEN_SHARE


def _is_head(one: tuple[Piece, Bolt], other: tuple[Piece, Bolt]) -> bool:
    """True for a counterbore or nut trap: it goes on in a longer hole, or in one across the parting."""
    if one is other or not _meet(one[0], other[0]):
        return False
    crosses, goes_on = _crosses(one[0]), _crosses(other[0])
    return goes_on if crosses != goes_on else one[1].length_mm < other[1].length_mm


def _crosses(piece: Piece) -> bool:
    """True for a hole that goes on beyond the parting: a bolt ends in the other half, or behind it."""
    return bool(piece.low[2] < -ACROSS_MM and piece.high[2] > ACROSS_MM)


def _meet(one: Piece, other: Piece) -> bool:
    """True where a mouth of one piece is a mouth of the other."""
    return any(faces(mouth, across) for mouth in one.mouths for across in other.mouths)


def faces(one: Mouth, two: Mouth) -> bool:
    """True for the two sides of one lid."""
    return bool(np.linalg.norm(one.at - two.at) < MEET_MM and one.normal @ two.normal < -0.99)


def _with_head(one: tuple[Piece, Bolt], heads: Sequence[tuple[Piece, Bolt]]) -> Bolt:
    """The bolt, with the width of its nut trap (a six-sided head recess) if it has one."""
    piece, bolt = one
    for head, _ in heads:
        widest = head.mouths[0]
        if _meet(piece, head) and ROUND < widest.roundness < HEXAGON:
            return replace(bolt, nut_trap_mm=widest.diameter_mm)
    return bolt


def drilled_out(piece: Piece) -> list[Piece]:
    """The piece without the bolt holes that run into it (a vent may end at one), and those holes."""
    if bolt_of(piece) is not None:
        return [piece]
    for one, two in combinations(piece.mouths[:MOST_MOUTHS], 2):
        if _opposite(one, two) and (parts := _drill(piece, one, two)):
            return [parts[0], *(part for left in parts[1:] for part in drilled_out(left))]
    return [piece]


def _drill(piece: Piece, one: Mouth, two: Mouth) -> list[Piece]:
    """A bolt hole cut out of a larger piece, and what is left; nothing where none runs straight through."""
    narrow = min((one, two), key=lambda mouth: mouth.area_mm2)
    length = float(np.linalg.norm(two.at - one.at))
    flat = _flat(narrow)
    bore = _drawn(narrow, flat, -length - 1, 1.0)
    ring = _drawn(narrow, flat.buffer(AROUND_SHARE * narrow.diameter_mm), -length - 1, 1.0) - bore
    if (piece.body ^ ring).volume() > HOLLOW_SHARE * ring.volume():
        return []  # a vent that looks along the bait at its sprue
    hole = void.piece(piece.body ^ bore, piece.marks)
    if hole.volume_mm3 < 0.98 * narrow.area_mm2 * length or bolt_of(hole) is None:
        return []
    cutter = _drawn(narrow, flat.buffer(BORE_MM), -length - 1, 1.0).as_original()
    left = mesh.pieces(piece.body - cutter, void.SLIVER_MM3)
    marks = {**piece.marks, cutter.original_id(): "bolt"}
    return [hole, *(void.piece(part, marks) for part in left)]


def _flat(mouth: Mouth) -> shapely.Geometry:
    """A mouth's outline round its own middle."""
    turn = mesh.frame(mouth.normal)
    return shapely.transform(mouth.polygon, lambda points: points - (mouth.at @ turn.T)[:2])


def _drawn(mouth: Mouth, flat: shapely.Geometry, low: float, high: float) -> mesh.Body:
    """An outline drawn along a mouth's normal, between two heights over it."""
    return mesh.placed(mesh.prism(mesh.rings(flat), low, high), mesh.frame(mouth.normal).T, mouth.at)


def open_share(piece: Piece) -> float:
    """Share of a piece's surface that is open to the outside."""
    return sum(mouth.area_mm2 for mouth in piece.mouths) / piece.area_mm2


def bolt_of(piece: Piece) -> Bolt | None:
    """The piece as a bolt hole, if it is one: through, or blind and upright."""
    through, blind = (
        [m for m in piece.mouths if m.area_mm2 > share * piece.mouths[0].area_mm2] for share in WIDE
    )
    if len(through) == 2 and _opposite(*through):
        return _through(piece, *through)
    return _blind(piece, blind) or _tube(piece)


def _tube(piece: Piece) -> Bolt | None:
    """An upright round hole through both backs, which may be domed or rounded off; its ends may be wider.

    Its mouths slope and may fall apart at an edge, so that its sections are asked instead.
    """
    top, bottom = (next((m for m in piece.mouths if up * m.normal[2] > SLOPES), None) for up in (1, -1))
    if top is None or bottom is None or np.ptp([piece.low, piece.high], axis=0)[:2].max() > WIDEST_BOLT_MM:
        return None
    low, high = bottom.at[2] + _rise(bottom), top.at[2] - _rise(top)
    found = [level(piece, float(z)) for z in low + (high - low) * TUBE_LEVELS] if high > low else []
    rings = [
        ring for ring in found if ring is not None and not ring.interiors and void.roundness(ring) > ROUND
    ]
    if not rings or len(rings) < len(TUBE_LEVELS):
        return None
    bore = min(rings, key=lambda ring: ring.area)
    wider = [ring for ring in rings if ring.area > LIKE * bore.area]
    width = void.passing_mm(bore)
    aside = max(ring.centroid.distance(bore.centroid) for ring in rings)
    length = float(top.at[2] - bottom.at[2])
    full = piece.volume_mm3 / (length * np.mean([ring.area for ring in rings]))
    if 2 * len(wider) > len(rings) or aside > ASIDE_SHARE * width or not FULL[0] < full < FULL[1]:
        return None
    traps = [mesh.inscribed(ring)[0] for ring in wider if void.roundness(ring) < HEXAGON]
    return Bolt(
        at_mm=(bore.centroid.x, bore.centroid.y, float(bottom.at[2])),
        direction=(0.0, 0.0, 1.0),
        diameter_mm=width,
        length_mm=length,
        nut_trap_mm=max(traps, default=None),
    )


def _rise(mouth: Mouth) -> float:
    """How far the rim of a sloping mouth reaches above its middle, mm."""
    return float(mouth.reach_mm * np.sqrt(max(1 - mouth.normal[2] ** 2, 0.0)))


def level(piece: Piece, z: float) -> shapely.Polygon | None:
    """The piece's section at a height, by x and y, if it is one area."""
    middle = (piece.low + piece.high) / 2
    cut = mesh.section(mesh.solid(piece.body, "hollow"), (middle[0], middle[1], z), (0.0, 0.0, 1.0))
    areas = cut.polygons.geoms
    return shapely.transform(areas[0], lambda points: cut.lift(points)[:, :2]) if len(areas) == 1 else None


def _opposite(one: Mouth, two: Mouth) -> bool:
    """Two round mouths that look away from each other along one axis."""
    narrow = min(one.diameter_mm, two.diameter_mm)
    offset = two.at - one.at
    aside = np.linalg.norm(offset - (offset @ one.normal) * one.normal)
    return bool(
        one.normal @ two.normal < -0.999
        and aside < 0.2 * narrow
        and narrow < WIDEST_BOLT_MM
        and min(one.roundness, two.roundness) > ROUND
    )


def _through(piece: Piece, one: Mouth, two: Mouth) -> Bolt | None:
    """A hole whose volume is about that of the narrower mouth drawn to the other; nut traps widen it."""
    first, second = (one, two) if one.at[2] <= two.at[2] else (two, one)
    length = float(np.linalg.norm(second.at - first.at))
    narrow, wide = sorted((one, two), key=lambda mouth: mouth.area_mm2)
    if not 0.9 < piece.volume_mm3 / (narrow.area_mm2 * length) < 2.5 * wide.area_mm2 / narrow.area_mm2:
        return None
    rod = _drawn(narrow, _flat(narrow).buffer(-SLIM_SHARE * narrow.diameter_mm), -length, 0.0)
    if (rod - piece.body).volume() > BLOCKED_SHARE * rod.volume():
        return None  # a bait with a sprue at either end: no bolt goes through its gates
    return Bolt(
        at_mm=mesh.vec(first.at),
        direction=mesh.vec((second.at - first.at) / length),
        diameter_mm=void.passing_mm(narrow.polygon),
        length_mm=length,
        nut_trap_mm=wide.diameter_mm if ROUND < wide.roundness < HEXAGON else None,
    )


def _blind(piece: Piece, wide: Sequence[Mouth]) -> Bolt | None:
    """An upright prism with one round mouth."""
    if len(wide) != 1:
        return None
    mouth = wide[0]
    depth = float(piece.high[2] - piece.low[2])
    upright = abs(mouth.normal[2]) > 0.999 and mouth.roundness > ROUND
    if not upright or mouth.diameter_mm > WIDEST_BOLT_MM or depth < 0.8 * mouth.diameter_mm:
        return None
    if not 0.8 < piece.volume_mm3 / (mouth.area_mm2 * depth) < 1.1:
        return None
    return Bolt(
        at_mm=mesh.vec(mouth.at),
        direction=mesh.vec(-mouth.normal),
        diameter_mm=void.passing_mm(mouth.polygon),
        length_mm=depth,
        through=False,
    )


def round_diameter(mouth: Mouth) -> float:
    """Diameter of the circle that a round mouth was drawn as; of the circle of equal area for others."""
    return void.drawn_mm(mouth.polygon)


def pins(lower: Solid, upper: Solid) -> list[Pin]:
    """Pins that stand on one half and their sockets in the other, from lower to upper x."""
    found = _pins(lower, upper, 1.0) + _pins(upper, lower, -1.0)
    return sorted(found, key=lambda pin: pin.at_mm)


def _pins(bearer: Solid, other: Solid, up: float) -> list[Pin]:
    """Pins on one half; `up` is the side on which they stand."""
    body = mesh.body(bearer)
    proud = mesh.above(body, 0.01) if up > 0 else mesh.below(body, -0.01)
    return [pin for part in mesh.pieces(proud, 0.5) for pin in _pins_of(part, other, up)]


def _pins_of(part: mesh.Body, other: Solid, up: float) -> Iterator[Pin]:
    """The pins in one proud piece: upright, about round, a socket round each. None in steps and lips.

    Where the parting waves, what is proud of its middle holds a crest too: half-way up only pins are left.
    """
    low, high = mesh.box(part)
    length, middle = float(high[2] - low[2]), (low + high) / 2
    if length < 0.5:
        return
    cut = mesh.section(mesh.solid(part, "pin"), middle, (0.0, 0.0, 1.0))
    wall = mesh.section(other, middle, (0.0, 0.0, 1.0))
    for outline in cut.polygons.geoms:
        low_x, low_y, high_x, high_y = outline.bounds
        width = max(high_x - low_x, high_y - low_y)
        if (
            void.roundness(outline) < 0.6
            or outline.area < 0.5
            or max(width, length) > 40
            or length < LOWEST_PIN * width
        ):
            continue
        at = cut.lift(np.array(outline.centroid.coords[0]))
        diameter, socket = void.drawn_mm(outline), _hole_round(wall, at)
        if socket is None:
            continue  # a hinge's knuckle, a clip: it stands beside the other half
        yield Pin(
            at_mm=(float(at[0]), float(at[1]), 0.0),
            direction=(0.0, 0.0, up),
            diameter_mm=diameter,
            length_mm=length + 0.01,
            clearance_mm=max(socket - diameter, 0.0),
        )


def _hole_round(section: mesh.Section, at: Array) -> float | None:
    """Diameter of the pin that fits the opening of a section that holds the point."""
    here = shapely.Point(section.lower(at))
    for part in section.polygons.geoms:
        for ring in part.interiors:
            hole = shapely.Polygon(ring)
            if hole.contains(here):
                return void.passing_mm(hole)
    return None
