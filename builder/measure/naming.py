"""What each piece of the void is: bolt hole, plastic, pin clearance or an outside recess."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from builder import mesh
from builder.measure.cuts import vec
from builder.measure.void import Mouth, Piece
from builder.model import Bolt, Pin, Solid

Array = NDArray[np.float64]

ROUND = 0.85
"""Mouths less round than this are no bolt holes (a square has 0.79, a hexagon 0.91)."""
OPEN_SHARE = 0.2
"""A piece with more of its surface open to the outside is a recess of the outside, not a cavity."""
WIDEST_BOLT_MM = 25.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Named:
    """The void's pieces by what they are."""

    plastic: tuple[Piece, ...]
    bolts: tuple[Bolt, ...]
    holes: tuple[mesh.Body, ...]
    closed: tuple[Piece, ...]
    """Pieces without a mouth."""
    recesses: tuple[Piece, ...]


def name(pieces: Sequence[Piece]) -> Named:
    """Sort the pieces of the void, which come the largest first."""
    bolts: list[Bolt] = []
    holes: list[mesh.Body] = []
    rest: list[Piece] = []
    for piece in pieces:
        bolt = bolt_of(piece)
        if bolt is None:
            rest.append(piece)
        else:
            bolts.append(bolt)
            holes.append(piece.body)
    closed = tuple(piece for piece in rest if not piece.mouths)
    recess = tuple(piece for piece in rest if piece.mouths and _open_share(piece) > OPEN_SHARE)
    plastic = tuple(piece for piece in rest if piece.mouths and _open_share(piece) <= OPEN_SHARE)
    return Named(plastic=plastic, bolts=tuple(bolts), holes=tuple(holes), closed=closed, recesses=recess)


def _open_share(piece: Piece) -> float:
    """Share of a piece's surface that is open to the outside."""
    return sum(mouth.area_mm2 for mouth in piece.mouths) / piece.area_mm2


def bolt_of(piece: Piece) -> Bolt | None:
    """The piece as a bolt hole, if it is one: through, or blind and upright."""
    for one, two in combinations(piece.mouths[:4], 2):
        if _opposite(one, two):
            return _through(piece, one, two)
    return _blind(piece)


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
    if len(piece.mouths) > 2 and piece.mouths[2].area_mm2 > 0.2 * narrow.area_mm2:
        return None
    return Bolt(
        at_mm=vec(first.at),
        direction=vec((second.at - first.at) / length),
        diameter_mm=round_diameter(narrow),
        length_mm=length,
        nut_trap_mm=wide.diameter_mm if wide.area_mm2 > 1.2 * narrow.area_mm2 else None,
    )


def _blind(piece: Piece) -> Bolt | None:
    """An upright prism with one round mouth."""
    if len(piece.mouths) != 1:
        return None
    mouth = piece.mouths[0]
    depth = float(piece.high[2] - piece.low[2])
    upright = abs(mouth.normal[2]) > 0.999 and mouth.roundness > ROUND
    if not upright or mouth.diameter_mm > WIDEST_BOLT_MM or depth < 0.8 * mouth.diameter_mm:
        return None
    if not 0.8 < piece.volume_mm3 / (mouth.area_mm2 * depth) < 1.1:
        return None
    return Bolt(
        at_mm=vec(mouth.at),
        direction=vec(-mouth.normal),
        diameter_mm=round_diameter(mouth),
        length_mm=depth,
        through=False,
    )


def round_diameter(mouth: Mouth) -> float:
    """Diameter of the circle of equal area."""
    return float(2 * np.sqrt(mouth.area_mm2 / np.pi))


def pins(lower: Solid, upper: Solid) -> list[Pin]:
    """Pins that stand on one half and their sockets in the other, from lower to upper x."""
    found = _pins(lower, upper, 1.0) + _pins(upper, lower, -1.0)
    return sorted(found, key=lambda pin: pin.at_mm)


def _pins(bearer: Solid, other: Solid, up: float) -> list[Pin]:
    """Pins on one half; `up` is the side on which they stand."""
    body = mesh.body(bearer)
    proud = mesh.above(body, 0.01) if up > 0 else mesh.below(body, -0.01)
    return [pin for part in mesh.pieces(proud, 0.5) if (pin := _pin(part, other, up)) is not None]


def _pin(part: mesh.Body, other: Solid, up: float) -> Pin | None:
    """One proud piece as a pin: upright, about round, a socket round it. None for steps and lips."""
    low, high = mesh.box(part)
    length = float(high[2] - low[2])
    middle = (low + high) / 2
    outline = mesh.section(mesh.solid(part, "pin"), middle, (0.0, 0.0, 1.0)).at(middle)
    if outline is None or length < 0.5 or max(high - low) > 40:
        return None
    roundness = 4 * np.pi * outline.area / outline.length**2
    diameter = float(2 * np.sqrt(outline.area / np.pi))
    if roundness < 0.6 or outline.area < 0.5:
        return None
    wall = mesh.section(other, middle, (0.0, 0.0, 1.0))
    socket = _hole_round(wall, middle)
    return Pin(
        at_mm=(float(middle[0]), float(middle[1]), 0.0),
        direction=(0.0, 0.0, up),
        diameter_mm=diameter,
        length_mm=length + 0.01,
        clearance_mm=max(socket - diameter, 0.0) if socket else 0.0,
    )


def _hole_round(section: mesh.Section, at: Array) -> float | None:
    """Diameter (of equal area) of the opening of a section that holds the point."""
    import shapely

    here = shapely.Point(section.lower(at))
    for part in section.polygons.geoms:
        for ring in part.interiors:
            hole = shapely.Polygon(ring)
            if hole.contains(here):
                return float(2 * np.sqrt(hole.area / np.pi))
    return None
