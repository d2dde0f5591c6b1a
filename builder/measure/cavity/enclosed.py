"""The hollows of a closed mold, with lids over the mouths that its hull does not reach."""

from __future__ import annotations

from collections.abc import Sequence

from builder import mesh
from builder.measure.cavity import classify, lids, void
from builder.measure.cavity.void import Piece
from builder.model import Solid

WIDEST_SPRUE_MM = 25.0
WIDEST_VENT_MM = 1.5


def hollows(halves: tuple[Solid, Solid], outer: mesh.Body, bodies: Sequence[mesh.Body]) -> list[Piece]:
    """The void's pieces; where no cavity is closed but for a sprue, with the parting line's mouths closed.

    `halves` are the lower and the upper one, `bodies` all printed parts, `outer` their hull.
    """
    mold = mesh.union(bodies)
    found = lids.lids(mesh.solid(mold, "mold"), mold)
    pieces = void.pieces(outer, mold, [lid.body for lid in found])
    deep = [lid.at for lid in found if lid.deep]
    shoulders = [*classify.shoulders(pieces, deep), *classify.idle(pieces, deep)]
    covers = [lid.body for lid in found if not any(lid.at is at for at in shoulders)]
    if shoulders:
        pieces = void.pieces(outer, mold, covers)
    cavities = classify.name(pieces).plastic
    if cavities and cavities[0].mouths[0].area_mm2 < WIDEST_SPRUE_MM**2:
        return pieces
    for all_round in (True, False):
        rims = lids.rim_lids(*halves, outer, all_round=all_round)
        parted = void.pieces(outer, mold, [*covers, *rims])
        wide = not all_round and void.opens_at(parted, rims, WIDEST_VENT_MM)
        if classify.name(parted).plastic and not wide:
            return parted
    return pieces
