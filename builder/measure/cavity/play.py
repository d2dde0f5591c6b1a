"""The play between a core and its seat: a crack of even width, which stays empty."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from builder import mesh
from builder.base import figures
from builder.measure.cavity import void
from builder.measure.cavity.void import Piece
from builder.model import Finding

Array = NDArray[np.float64]

WIDEST_MM = 0.15
"""Play that is no wider is closed, where it does not lead to the outside as a vent does."""
EVEN_MM, EVEN_SHARE = 0.22, 1.3
"""Play is even: where so wide a crack is looked for, no more than this times as much is found. A bait that
thins out between core and half gives more, with the square of the width."""
BACK_MM = 0.03
"""What is taken off round the cores is laid on again, and so much more, to leave no skins."""
CODE = "reading.play"
RIM_MM = WIDEST_MM + BACK_MM
"""A rim of the play so deep stays on the bait."""
CRUMB_MM3 = 0.2
LARGE_SHARE = 0.1
"""Play of less than this share of the largest crack stays where a vent would lose its way out with it..."""
TRIED = 8
"""...as is tried for so many of them."""
LIGHT_MM = 0.02
"""All is looked at this coarsely."""
LOOKS = 2000
"""Facets of a core that are asked how far the halves are: the largest."""
NEAREST_MM = 0.005
FACING = -0.98
LEAST_MM2 = 4.0
"""So much of a core must lie before a face of the halves, not farther than play is wide."""


def loose(cores: Sequence[mesh.Body], halves: Sequence[mesh.Body]) -> list[mesh.Body]:
    """The cores that have play in their seats."""
    around = mesh.union(halves)
    return [core.simplify(LIGHT_MM) for core in cores if _has_play(core, around)]


def without(piece: Piece, cores: Sequence[mesh.Body]) -> tuple[Piece, list[Finding]]:
    """The piece without the play round loose cores that opens nowhere, and what to say of it."""
    beside = [core for core in cores if piece.mouths and _boxes_meet(core, piece.body, WIDEST_MM)]
    if not beside:
        return piece, []
    core = mesh.union(beside)
    found = [crack for part in _cracks(piece, core) if not (crack := void.piece(part, piece.marks)).mouths]
    if not found:
        return piece, []
    off = found
    left = _left(piece, found)
    if len(left.mouths) < len(piece.mouths):
        left, off = _keeping_vents(piece, found)
    held = figures.exact(
        mesh.volume_ml(sum(crack.volume_mm3 for crack in off)), "ml", "reading.volume", "measured"
    )
    return left, [Finding(level="note", code=CODE, values={"volume": held})]


def _keeping_vents(piece: Piece, cracks: Sequence[Piece]) -> tuple[Piece, list[Piece]]:
    """The piece without large cracks, and without small ones through which no vent leads on; these cracks."""
    off = [crack for crack in cracks if crack.volume_mm3 > LARGE_SHARE * cracks[0].volume_mm3]
    left = _left(piece, off)
    for crack in [one for one in cracks if one not in off][:TRIED]:
        less = _left(piece, [*off, crack])
        if len(less.mouths) == len(left.mouths):
            left, off = less, [*off, crack]
    return left, off


def _left(piece: Piece, cracks: Sequence[Piece]) -> Piece:
    """The piece without some cracks."""
    return void.piece(mesh.pieces(piece.body - mesh.union(one.body for one in cracks))[0], piece.marks)


def rim_mm(findings: Sequence[Finding]) -> float:
    """How deep a rim of the play stays on the baits: so much longer they may be read; 0 without play."""
    return RIM_MM if any(finding.code == CODE for finding in findings) else 0.0


def _has_play(core: mesh.Body, around: mesh.Body) -> bool:
    """True if enough of a core lies before a face of the halves, face to face, as near as play is wide."""
    drawn = mesh.facets(mesh.solid(core, "core"))
    largest = np.argsort(-drawn.areas_mm2, kind="stable")[:LOOKS]
    near = [k for k in largest if _is_near(around, drawn.centres[k], drawn.normals[k])]
    return float(drawn.areas_mm2[near].sum()) > LEAST_MM2


def _is_near(around: mesh.Body, at: Array, normal: Array) -> bool:
    """True if a face of the halves lies before a facet of a core."""
    hits = around.ray_cast(tuple(at + NEAREST_MM * normal), tuple(at + WIDEST_MM * normal))
    return bool(hits) and float(np.dot(hits[0].normal, normal)) < FACING


def _cracks(piece: Piece, core: mesh.Body) -> list[mesh.Body]:
    """What comes off with a little of the piece round the cores and does not come back, where it is even."""
    found = _off(piece, core, WIDEST_MM)
    wider = _off(piece, core, EVEN_MM) if found else []
    return [part for part in found if _alike_mm3(part, wider) < EVEN_SHARE * part.volume()]


def _off(piece: Piece, core: mesh.Body, wide_mm: float) -> list[mesh.Body]:
    """The parts of the piece that are narrower than that beside the cores."""
    near = _clipped(core, piece.low - 2 * wide_mm, piece.high + 2 * wide_mm)
    free = (piece.body.simplify(LIGHT_MM) - _boxed(near, wide_mm)).simplify(LIGHT_MM)
    return mesh.pieces(piece.body - _boxed(free, wide_mm + BACK_MM), CRUMB_MM3)


def _clipped(body: mesh.Body, low: Array, high: Array) -> mesh.Body:
    """What of a body lies between two corners."""
    area = shapely.box(*low[:2], *high[:2])
    return body ^ mesh.prism(mesh.rings(area), float(low[2]), float(high[2]))


def _boxed(body: mesh.Body, by_mm: float) -> mesh.Body:
    """The body larger by so much along each axis, and into its corners."""
    for way in np.eye(3) * by_mm:
        body = mesh.union([body, *(mesh.placed(body, np.eye(3), sign * way) for sign in (-1.0, 1.0))])
    return body


def _alike_mm3(part: mesh.Body, wider: Sequence[mesh.Body]) -> float:
    """Volume of the wider crack that holds the part; inf if none does."""
    boxed = (one for one in wider if _boxes_meet(one, part))
    return max((one.volume() for one in boxed if (one ^ part).volume() > part.volume() / 2), default=np.inf)


def _boxes_meet(one: mesh.Body, other: mesh.Body, reach_mm: float = 0.0) -> bool:
    """True if the boxes of two bodies meet, or come so near."""
    (low, high), (other_low, other_high) = mesh.box(one), mesh.box(other)
    return bool((low < other_high + reach_mm).all() and (high > other_low - reach_mm).all())
