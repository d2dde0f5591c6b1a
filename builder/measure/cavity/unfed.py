"""Hollows between the halves that no runner leads to: claws that end short of the body, a gate too few."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import shapely

from builder import mesh
from builder.base import figures
from builder.measure.cavity import classify, holding, void
from builder.measure.cavity.classify import Named
from builder.measure.cavity.void import Piece
from builder.model import Finding, MoldSpec, Solid

UNFED = "reading.unfed"
"""Says that hollows get no plastic."""
LEAST_SHARE = 0.005
"""Smaller hollows than this share of the smallest bait are none of a bait."""
THICK_MM, FULL = 0.3, 0.045
"""A hollow has so much volume for its surface at least (sleeves of pins and letters have less), and so many
times the edge of a cube of its volume (gaps between faces that are set back have less, a ball 0.21)."""
SET_BACK_MM = 1.6
"""A straight hollow that is no higher is left between faces that are set back."""
RECTANGLE = 0.95
"""A straight pocket that is such a share of a rectangle holds a magnet or a key, as a round one does."""


def said(
    spec: MoldSpec, named: Named, fed: Sequence[Piece], halves: Sequence[mesh.Body], baits: Sequence[Solid]
) -> Iterator[Finding]:
    """A warning with the number and volume of the hollows that get no plastic."""
    least = LEAST_SHARE * min(map(mesh.volume_mm3, baits))
    ignored = [np.array(point) for point in spec.hints.ignore_at_mm]
    found = [
        piece
        for piece in (*named.plastic, *named.closed)
        if piece.volume_mm3 > max(least, _least_thick(piece) * float(piece.body.surface_area()))
        and not any(_same(piece, one) for one in fed)
        and not any(void.holds(piece, point) for point in ignored)
        and not _is_pocket(piece)
        and all(holding.touches(piece.body, half) for half in halves)
    ]
    if found:
        volume = mesh.volume_ml(sum(piece.volume_mm3 for piece in found))
        largest = max(found, key=lambda piece: piece.volume_mm3)
        values = {
            "count": figures.count(len(found)),
            "volume": figures.exact(volume, "ml", "reading.volume", "measured"),
        }
        at_mm = mesh.vec((largest.low + largest.high) / 2)
        yield Finding(level="warn", code=UNFED, values=values, at_mm=at_mm)


def _least_thick(piece: Piece) -> float:
    """Volume over surface of the thinnest hollow of a bait that holds as much, mm."""
    return float(max(THICK_MM, FULL * np.cbrt(piece.volume_mm3)))


def _same(one: Piece, two: Piece) -> bool:
    return bool(np.array_equal(one.low, two.low) and np.array_equal(one.high, two.high))


def _is_pocket(piece: Piece) -> bool:
    """True for straight holes, round or square, for magnets, dowels or keys, for low ones and for rings."""
    cut = classify.level(piece, float(piece.low[2] + piece.high[2]) / 2)
    if cut is None:
        return False
    height = float(piece.high[2] - piece.low[2])
    low, high = holding.LIKE_PRISM
    straight = low < piece.volume_mm3 / (cut.area * height) < high
    filled = float(cut.area / shapely.minimum_rotated_rectangle(cut).area)
    made = height < SET_BACK_MM or void.roundness(cut) > holding.ROUND or filled > RECTANGLE
    return bool(cut.interiors) or (straight and made)
