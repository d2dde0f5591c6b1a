"""Places before a chosen gate that may be the gate as well: as narrow, with something wide behind them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from builder.measure.flow_tree.stations import SPREADS
from builder.measure.flow_tree.tree import LEVEL_VOXELS, Tree

Array = NDArray[np.float64]

AS_NARROW = 1.5
"""A place before a gate rivals it where its section is no more than this times as large..."""
SWELLS_SHARE = 0.01
"""...and what lies between both is more than this share of the bait: a fin or a head of it, or a well."""


def swelling(tree: Tree, node: int, area_mm2: float, pitch_mm: float, start_mm: float) -> int | None:
    """The last node before a gate's that rivals it, `start_mm` or more from the mouth; None where none does.

    `area_mm2` is the gate's own. The way widens behind the rival by SPREADS and narrows to the gate again. A
    flat fin is no thicker than a slot that leads into it: the sections are compared, and not the thickness.
    """
    section = tree.volume_mm3 / (LEVEL_VOXELS * pitch_mm)
    beyond = tree.beyond_mm3()
    widest, here = 0.0, int(tree.parent[node])
    found, least = None, AS_NARROW * area_mm2
    while here >= 0 and tree.way_mm[here] >= start_mm:
        size = float(section[here])
        if size * SPREADS < widest and size < least:
            found, least = here, size
        widest = max(widest, size) if size > SPREADS * area_mm2 else widest
        here = int(tree.parent[here])
    if found is None or beyond[found] - beyond[node] < SWELLS_SHARE * beyond[node]:
        return None
    return found
