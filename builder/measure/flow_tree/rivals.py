"""Places before and behind a chosen gate that may be it as well: as narrow, with something wide between."""

from __future__ import annotations

from collections.abc import Container, Iterable

import numpy as np
from numpy.typing import NDArray

from builder.measure.cavity import void
from builder.measure.flow_tree.stations import SPREADS
from builder.measure.flow_tree.tree import LEVEL_VOXELS, Tree

Array = NDArray[np.float64]

AS_NARROW = 1.5
"""A place before a gate rivals it where its section is no more than this times as large..."""
SWELLS_SHARE = 0.025
"""...and what lies between both is more than this share of the bait: a fin or a head of it, or a well."""
BEHIND, SWELLS = 3.0, 2.5
"""A place behind a gate rivals it up to this times its section where the way between swells so much more."""
CLEARLY = 0.75
"""A place behind a gate is likelier the gate than that where its section is less than this times as large."""
LONG = 2.5
"""A runner between two narrow places is so many times longer than it is wide; a head or a ball is not."""
MOST_SHARE = 0.6
"""A place behind a gate rivals it only where it feeds this share of what the gate feeds: no tail's trunk."""


def feeding(tree: Tree, nodes: Iterable[int]) -> frozenset[int]:
    """All nodes that some nodes are fed through."""
    found: set[int] = set()
    for node in nodes:
        here = int(tree.parent[node])
        while here >= 0 and here not in found:
            found.add(here)
            here = int(tree.parent[here])
    return frozenset(found)


def before(
    tree: Tree, node: int, area_mm2: float, pitch_mm: float, start_mm: float, *, shared: Container[int] = ()
) -> int | None:
    """The last node before a gate's that rivals it, `start_mm` or more from the mouth; None where none does.

    `area_mm2` is the gate's own; the nodes `shared` feed other baits' gates too. The way widens behind the
    rival by SPREADS and narrows to the gate again. A flat fin is no thicker than a slot that leads into it:
    the sections are compared, and not the thickness.
    """
    section = tree.volume_mm3 / (LEVEL_VOXELS * pitch_mm)
    beyond = tree.beyond_mm3()
    widest, here = 0.0, int(tree.parent[node])
    found, least = None, AS_NARROW * area_mm2
    while here >= 0 and here not in shared and tree.way_mm[here] >= start_mm:
        size = float(section[here])
        if size * SPREADS < widest and size < least:
            found, least = here, size
        widest = max(widest, size) if size > SPREADS * area_mm2 else widest
        here = int(tree.parent[here])
    if found is None or beyond[found] - beyond[node] < SWELLS_SHARE * beyond[node]:
        return None
    return found


def behind(tree: Tree, node: int, area_mm2: float, pitch_mm: float) -> int | None:
    """The narrowest node behind a gate's that rivals it, along the children that feed most; None without one.

    The way widens behind the gate, as into a ball that feeds the bait, and narrows again before most of it.
    """
    section = tree.volume_mm3 / (LEVEL_VOXELS * pitch_mm)
    beyond, below = tree.beyond_mm3(), tree.children()
    widest, here, found, least = 0.0, node, None, BEHIND * area_mm2
    while below[here]:
        here = max(below[here], key=lambda child: beyond[child])
        if beyond[here] < MOST_SHARE * beyond[node]:
            break
        size = float(section[here])
        swells = SPREADS if size < AS_NARROW * area_mm2 else SWELLS
        if size * swells < widest and size < least:
            found, least = here, size
        widest = max(widest, size) if size > SPREADS * area_mm2 else widest
    return found


def runs_long(tree: Tree, node: int, later: int | None, pitch_mm: float) -> bool:
    """True if the way from a gate to a later node is long for its width, as a runner's is, and no head's."""
    if later is None:
        return False
    section, here, widest = tree.volume_mm3 / (LEVEL_VOXELS * pitch_mm), later, 0.0
    while here > node:
        widest = max(widest, float(section[here]))
        here = int(tree.parent[here])
    return bool(tree.way_mm[later] - tree.way_mm[node] > LONG * void.even_mm(widest))
