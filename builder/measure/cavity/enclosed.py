"""The hollows of a closed mold, with lids over the mouths that its hull does not reach."""

from __future__ import annotations

from collections.abc import Sequence

from builder import mesh
from builder.measure.cavity import classify, lids, steps, void
from builder.measure.cavity.void import Piece
from builder.model import Solid

WIDEST_SPRUE_MM = 25.0
WIDEST_VENT_MM = 1.5
SECOND_MOUTH = 0.6
"""A mouth that comes this near to the sprue's in area is no vent, however narrow: a crack all round."""


def hollows(halves: tuple[Solid, Solid], outer: mesh.Body, bodies: Sequence[mesh.Body]) -> list[Piece]:
    """The void's pieces; where no cavity is closed but for a sprue, with the parting line's mouths closed.

    A second wide mouth may be the air beside a smaller half, into which a vent runs out.
    `halves` are the lower and the upper one, `bodies` all printed parts, `outer` their hull.
    """
    mold = mesh.union(bodies)
    found = lids.lids(mesh.solid(mold, "mold"), mold)
    pieces = void.pieces(outer, mold, [lid.body for lid in found])
    deep = [lid.at for lid in found if lid.deep]
    shoulders = steps.shoulders(pieces, deep)
    shoulders += steps.within_bores(pieces, [lid.at for lid in found])
    covers = [lid.body for lid in found if not any(lid.at is at for at in shoulders)]
    parting = [cover for cover in covers if not void.lies_within(pieces, cover)]
    if shoulders or len(parting) < len(covers):
        covers = parting
        pieces = void.pieces(outer, mold, covers)
    if slit := lids.slit_lids(*halves, outer):
        within = void.pieces(outer, mold, [*covers, *slit])
        if _is_shut(within) and not void.opens_at(within, slit, WIDEST_VENT_MM):
            return within
    if _is_shut(pieces):
        return pieces
    drawn_in = void.pieces(outer, mold, [*covers, *lids.rim_lids(*halves, outer)])
    if _is_shut(drawn_in):
        return drawn_in
    ends = lids.rim_lids(*halves, outer, all_round=False)
    smaller = void.pieces(outer, mold, [*covers, *ends])
    if _is_shut(smaller) and not void.opens_at(smaller, ends, WIDEST_VENT_MM):
        return smaller
    cavities = classify.name(pieces).plastic
    if cavities and cavities[0].mouths[0].area_mm2 < WIDEST_SPRUE_MM**2:
        return pieces
    return drawn_in if classify.name(drawn_in).plastic else pieces


def _is_shut(pieces: Sequence[Piece]) -> bool:
    """True if the cavity opens nowhere as wide as a sprue but at one place."""
    cavities = classify.name(pieces).plastic
    if not cavities:
        return False
    first, *others = cavities[0].mouths
    small = all(m.area_mm2 < SECOND_MOUTH * first.area_mm2 for m in others)
    return (
        first.area_mm2 < WIDEST_SPRUE_MM**2 and small and all(m.diameter_mm < WIDEST_VENT_MM for m in others)
    )
