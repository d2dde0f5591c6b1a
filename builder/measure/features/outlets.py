"""A bait without what its vents and gates leave on it, and with the tip that was cut off with the vents."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from builder import mesh
from builder.mesh import cuts
from builder.mesh.cuts import Cut
from builder.model import Solid

Array = NDArray[np.float64]

BACK_MM = (0.5, 1.0, 2.0, 4.0, 8.0)
"""A vent is looked at so far behind its end: a pointed tip of the bait reaches into it."""
SAME_SHARE, SAME_MM = 0.01, 0.01
"""Two sections that differ by less, one straight behind the other, are those of a straight vent."""
SPARE_MM = 0.01
WIDTHS = 3.0
"""A vent is drawn into the bait: so many widths in, no corner of it stands out of the bait."""

STUB_WIDTHS, STUB_SPARE_MM = 1.5, 1e-3
"""A stub of a gate that meets the bait aslant is no longer than so many of its widths."""
STUB_BACK, STUB_LIKE = 0.5, 1.5
"""So many widths before a gate its channel tells which way it runs, where it is at most so much larger."""


def without_stubs(bait: mesh.Body, gates: Sequence[Cut], plastic: Solid) -> mesh.Body:
    """The bait for its sizes without what a gate's channel leaves on it, where it meets the bait aslant.

    Left as it is where that would take off more than the gate is wide: there the bait goes on as narrow.
    """
    for gate in gates:
        left = bait - _channel(gate, plastic)
        sizes, before = (high - low for low, high in (mesh.box(left), mesh.box(bait)))
        if (before - sizes).max() < _wide_mm(gate):
            bait = left
    return bait


def _channel(gate: Cut, plastic: Solid) -> mesh.Body:
    """A gate's channel drawn on into the bait, square to the gate and as it runs before it."""
    long = STUB_WIDTHS * _wide_mm(gate)
    square = _drawn_on(gate, gate.normal, long)
    back_mm = STUB_BACK * _wide_mm(gate)
    before = cuts.across(plastic, gate.at - back_mm * gate.normal, gate.normal)
    if before is None or before.polygon.area > STUB_LIKE * gate.polygon.area:
        return square
    way = gate.at - before.at
    aslant = _drawn_on(gate, np.asarray(way / float(way @ gate.normal)), long)
    return mesh.union([square, aslant])


def _drawn_on(gate: Cut, axis: Array, long_mm: float) -> mesh.Body:
    """A gate drawn on along an axis."""
    wide = gate.polygon.buffer(STUB_SPARE_MM, join_style="mitre")
    straight = mesh.prism(mesh.rings(wide), -STUB_SPARE_MM, long_mm)
    return mesh.placed(straight, np.column_stack([gate.turn[0], gate.turn[1], axis]), gate.at)


def _wide_mm(cut: Cut) -> float:
    """The longer side of a cut's outline."""
    low_x, low_y, high_x, high_y = cut.polygon.bounds
    return float(max(high_x - low_x, high_y - low_y))


def without_vents(bait: mesh.Body, vents: Sequence[tuple[mesh.Body, Cut]]) -> mesh.Body:
    """The bait for its sizes: straight vents taken off up to where they end in it, its own tips kept.

    A vent is cut off where the plastic opens, so that its corners stay on a round bait's end, and the end's
    own tip stays on the vent. A vent that is not straight is left as it was cut.
    """
    for vent, cut in vents:
        land = _land(mesh.solid(vent, "vent"), cut)
        if land is not None:
            near = float((land.at - cut.at) @ cut.normal)
            tip = vent.trim_by_plane(mesh.vec(-cut.normal), -float((cut.at + near * cut.normal) @ cut.normal))
            bait = _without_crumbs(mesh.union([bait, tip]) - _drawn_in(land, near), land)
    return bait


def _without_crumbs(bait: mesh.Body, land: Cut) -> mesh.Body:
    """The bait without pieces that reach on to the land: what is left of a vent whose walls are not even."""
    whole, *parts = mesh.pieces(bait)
    reach = [((mesh.solid(part, "part").vertices - land.at) @ land.normal).max() for part in parts]
    tips = [part for part, far in zip(parts, reach, strict=True) if far < -SPARE_MM]
    return mesh.union([whole, *tips]).as_original() if tips else whole


def _land(vent: Solid, cut: Cut) -> Cut | None:
    """The section nearest to the bait behind which a vent goes on unchanged; None where there is none."""
    found = (cuts.across(vent, cut.at + back * cut.normal, cut.normal) for back in BACK_MM)
    for one, two in pairwise(found):
        if one is None or two is None:
            return None
        if not one.polygon.interiors and _same(one, two):
            return one
    return None


def _same(one: Cut, two: Cut) -> bool:
    """True for sections of one shape, one straight behind the other."""
    aside = one.turn[:2] @ (two.at - one.at)
    apart = shapely.symmetric_difference(one.polygon, two.polygon).area
    return bool(abs(aside).max() < SAME_MM and apart < SAME_SHARE * one.polygon.area)


def _drawn_in(land: Cut, near: float) -> mesh.Body:
    """The vent as drawn from its land into the bait, a little wider than it is."""
    low_x, low_y, high_x, high_y = land.polygon.bounds
    deep = WIDTHS * max(high_x - low_x, high_y - low_y)
    wide = land.polygon.buffer(SPARE_MM, join_style="mitre")
    return mesh.placed(mesh.prism(mesh.rings(wide), -near - deep, SPARE_MM), land.turn.T, land.at)
