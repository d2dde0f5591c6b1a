"""What holds the halves and lines them up: pins in their sockets, loose dowels, open slots for bolts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from builder import mesh
from builder.measure.cavity import classify, void
from builder.measure.cavity.classify import Named
from builder.measure.cavity.void import Mouth, Piece
from builder.model import Bolt, Pin, Solid

Array = NDArray[np.float64]

UP = (0.0, 0.0, 1.0)
ROUND = 0.85
"""A square has 0.79."""
DOWELS_MM = (1.5, 12.0)
"""Diameters of loose dowels (common practice, no source)."""
SLIM = 1.3
"""A dowel's hole is longer than wide by this; shorter pockets hold magnets."""
LIKE_PRISM = (0.9, 1.05)
"""A straight hole's volume over that of its middle section drawn through: chamfers take and tips add."""
SAME_MM = 1.0
"""Pins found in two ways no farther apart are one."""
NEAR_END_MM = 0.1
BESIDE_MM = 0.3
SLOTS_MM = (2.5, 16.0)
"""Widths of slots for bolts (common practice, no source)."""
LONGEST_SLOT = 5.0
"""A slot goes in no farther than so many widths: longer ones are grooves."""
END_SHARE = 0.05
"""How far a slot's end may lie off its circle or its square, as a share of the half width."""
WIDEST_SQUARE_MM = 10.0
"""Slots with a square end are no wider: wider notches are for clamps and hands."""
TOUCH_MM = 0.01
FULL_MM = 0.1
LEVEL = 0.1
FLAT = 0.3


def pins(halves: tuple[Solid, Solid], closed: Sequence[Piece]) -> list[Pin]:
    """Pins in their sockets and loose dowels, from lower to upper x.

    `closed` are the hollows without a way out: a pin leaves a sleeve of its clearance, on whatever level
    of the parting it stands; a dowel's two holes make one round hollow across the parting.
    """
    found, bodies = classify.pins(*halves), [mesh.body(half) for half in halves]
    for piece in closed:
        pin = _sleeve(piece, bodies) or _dowel(piece, *bodies)
        if pin and all(np.hypot(*np.subtract(pin.at_mm, old.at_mm)[:2]) > SAME_MM for old in found):
            found.append(pin)
    return sorted(found, key=lambda pin: pin.at_mm)


def _is_round(ring: shapely.Polygon) -> bool:
    return void.roundness(ring) > ROUND


def _sleeve(piece: Piece, halves: Sequence[mesh.Body]) -> Pin | None:
    """The pin in a hollow that lies round it as a sleeve; none in a ring that is cut into one half."""
    middle = (piece.low + piece.high) / 2
    cut = classify.level(piece, float(middle[2]))
    if cut is None or len(cut.interiors) != 1:
        return None
    socket, pin = shapely.Polygon(cut.exterior), shapely.Polygon(cut.interiors[0])
    if not (_is_round(socket) and _is_round(pin)):
        return None
    beside = np.array([socket.bounds[2] + BESIDE_MM, socket.centroid.y, middle[2]])
    within = np.array([*pin.representative_point().coords[0], middle[2]])
    if any(_within(half, within) and _within(half, beside) for half in halves):
        return None  # the island in an engraved letter
    height = float(piece.high[2] - piece.low[2])
    top = classify.level(piece, float(piece.high[2]) - NEAR_END_MM)
    return Pin(
        at_mm=(pin.centroid.x, pin.centroid.y, 0.0),
        direction=(0.0, 0.0, 1.0 if top is None or not len(top.interiors) else -1.0),
        diameter_mm=void.drawn_mm(pin),
        length_mm=(socket.area * height - piece.volume_mm3) / pin.area,
        clearance_mm=void.passing_mm(socket) - void.drawn_mm(pin),
    )


def _dowel(piece: Piece, lower: mesh.Body, upper: mesh.Body) -> Pin | None:
    """A dowel for a slim round hollow that reaches into both halves."""
    middle = (piece.low + piece.high) / 2
    cut = classify.level(piece, float(middle[2]))
    if cut is None or len(cut.interiors) or not _is_round(cut):
        return None
    width, length = void.even_mm(cut.area), float(piece.high[2] - piece.low[2])
    straight = LIKE_PRISM[0] < piece.volume_mm3 / (cut.area * length) < LIKE_PRISM[1]
    if not (straight and length > SLIM * width and DOWELS_MM[0] <= width <= DOWELS_MM[1]):
        return None
    ends = ((lower, piece.low[2] + NEAR_END_MM), (upper, piece.high[2] - NEAR_END_MM))
    beside = middle[0] + width / 2 + BESIDE_MM
    if not all(_within(body, np.array([beside, middle[1], z])) for body, z in ends):
        return None
    return Pin(
        at_mm=(float(middle[0]), float(middle[1]), 0.0),
        direction=UP,
        diameter_mm=void.drawn_mm(cut),
        length_mm=length,
        clearance_mm=None,
    )


def _within(body: mesh.Body, point: Array) -> bool:
    """True if a point is inside a body."""
    return bool((body ^ mesh.placed(mesh.ball(0.05), np.eye(3), point)).volume() > 0)


def held(named: Named, outer: mesh.Body, parts: Sequence[mesh.Body]) -> Named:
    """The named pieces with what holds the halves among the bolt holes: no pocket, and slots at the edge.

    A pocket in one half may reach past the middle of a parting that is stepped. What lies along the parting,
    as a guide rod or a hinge's pin does, holds nothing.
    """
    walls = [
        0 if _lies_flat(bolt) else sum(touches(hole, part) for part in parts)
        for bolt, hole in zip(named.bolts, named.holes, strict=True)
    ]
    return _slotted(named.keeping([k for k, count in enumerate(walls) if count > 1]), outer)


def _lies_flat(bolt: Bolt) -> bool:
    """True for a hole whose axis lies in the parting."""
    middle = bolt.at_mm[2] + bolt.direction[2] * bolt.length_mm / 2
    return abs(bolt.direction[2]) < FLAT and abs(middle) < bolt.diameter_mm / 2


def between(named: Named, halves: Sequence[mesh.Body]) -> Named:
    """The named pieces without plastic that lies in one half alone, as a pocket in its back does."""
    kept = [piece for piece in named.plastic if all(touches(piece.body, half) for half in halves)]
    pockets = tuple(piece for piece in named.plastic if not any(piece is one for one in kept))
    return replace(named, plastic=tuple(kept), recesses=(*named.recesses, *pockets)) if pockets else named


def touches(hole: mesh.Body, half: mesh.Body) -> bool:
    """True if a hole has a half for its wall; mostly they share a corner, which is found at once."""
    (low, high), points = mesh.box(hole), mesh.solid(half, "half").vertices
    near = points[((points > low - TOUCH_MM) & (points < high + TOUCH_MM)).all(axis=1)]
    corners = cKDTree(mesh.solid(hole, "hole").vertices)
    if len(near) and np.min(corners.query(near)[0]) < TOUCH_MM:
        return True
    return bool(hole.min_gap(half, TOUCH_MM) < TOUCH_MM)


def _slotted(named: Named, outer: mesh.Body) -> Named:
    """The named pieces with the open slots at the edge, which bolts swing into, among the bolt holes."""
    low, high = mesh.box(outer)
    found = [(piece, bolt) for piece in named.recesses for bolt in _slots(piece, low[2], high[2])]
    mine = [piece for piece, _ in found]
    return replace(
        named,
        bolts=(*named.bolts, *(bolt for _, bolt in found)),
        holes=(*named.holes, *(piece.body for piece in mine)),
        recesses=tuple(piece for piece in named.recesses if not any(piece is one for one in mine)),
    )


def _slots(piece: Piece, low: float, high: float) -> Iterator[Bolt]:
    """A recess as a slot: straight through the whole height, open at one side, with a round or square end."""
    sides = [mouth for mouth in piece.mouths if abs(mouth.normal[2]) < LEVEL]
    full = piece.low[2] < low + FULL_MM and piece.high[2] > high - FULL_MM
    cut = classify.level(piece, float(piece.low[2] + piece.high[2]) / 2)
    if len(sides) != 1 or not full or cut is None or len(cut.interiors):
        return
    height = float(piece.high[2] - piece.low[2])
    if LIKE_PRISM[0] < piece.volume_mm3 / (cut.area * height) < LIKE_PRISM[1]:
        yield from _at_end(piece, sides[0], height)


def _at_end(piece: Piece, side: Mouth, height: float) -> Iterator[Bolt]:
    """The bolt that lies in the inner end of a slot."""
    inward = -side.normal * [1.0, 1.0, 0.0]
    inward /= np.linalg.norm(inward)
    across = np.array([-inward[1], inward[0], 0.0])
    points = mesh.solid(piece.body, "slot").vertices - side.at
    width, depth = float(np.ptp(points @ across)), float((points @ inward).max())
    middle = float((points @ across).max()) - width / 2
    if not (SLOTS_MM[0] <= width <= SLOTS_MM[1] and width < 2 * depth < 2 * LONGEST_SLOT * width):
        return
    ahead = points @ inward - (depth - width / 2)
    there = ahead > END_SHARE * width
    end = np.stack([points @ across - middle, ahead])[:, there] / (width / 2)
    if _is_round_end(end) or (_is_square_end(end) and width <= WIDEST_SQUARE_MM):
        at = side.at + middle * across + (depth - width / 2) * inward
        at[2] = piece.low[2]
        yield Bolt(at_mm=mesh.vec(at), direction=UP, diameter_mm=width, length_mm=height)


def _is_round_end(end: Array) -> bool:
    """True for points (2, n) on a circle of radius 1."""
    return bool(end.size and np.abs(np.hypot(*end) - 1).max() < END_SHARE)


def _is_square_end(end: Array) -> bool:
    """True for points (2, n) in the corners of a square whose half side is 1."""
    return bool(end.size and np.abs(np.abs(end) - 1).max() < END_SHARE)
