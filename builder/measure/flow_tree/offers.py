"""Sections that are offered as gates where the tree shows no sure one, and gates that may be an open end."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from builder.measure.cavity.void import Mouth
from builder.measure.flow_tree.necks import dips
from builder.measure.flow_tree.tree import Tree
from builder.mesh import cuts
from builder.mesh.cuts import Cut
from builder.model import Solid

DIP_SHARE = 1.04
"""A section is offered where those before and behind it are so many times as large..."""
AT_ONCE_SHARE, WIDEST_SHARE = 2.0, 4.0
"""...or the next one is, and where it has at most so many times the mouth's area."""
SAME_MM = 0.5
"""Gates nearer to each other are one."""
AT_MOUTH_MM = 0.02
"""A bait that begins at the mouth itself, as one that is poured into its open end, is cut so far inside."""
OPEN_END_MM2, OPEN_END_SHARE = 300.0, 0.25
"""A mouth of more than 20 mm is wider than sprues are, unless its gate has less than this share of it."""
WIDE_GATE_MM2, WIDE_GATE_SHARE = 100.0, 0.5
"""A gate of more than 11 mm, with more than this share of its sprue's mouth, may be the bait's own waist."""


def is_open_end(gate: Cut, mouth: Mouth) -> bool:
    """True where the bait may be poured into its own open end, and what looks like its gate be its waist."""
    area = float(gate.polygon.area)
    if area > WIDE_GATE_MM2 and area > WIDE_GATE_SHARE * mouth.area_mm2:
        return True
    return mouth.area_mm2 > OPEN_END_MM2 and area > OPEN_END_SHARE * mouth.area_mm2


def along(plastic: Solid, tree: Tree, sprue: Mouth) -> list[Cut]:
    """The narrowest sections along the longest way, and the last ones before it widens at once.

    Also where the grid shows no neck; none much wider than the mouth, as those across a broad bait are.
    """
    way = tree.back(int(np.argmax(tree.way_mm)))
    axes = [tree.at_mm[after] - tree.at_mm[before] for before, after in pairwise(way[::-1])]
    found = [
        cuts.across(plastic, tree.at_mm[n], a) for n, a in zip(way[-2::-1], axes, strict=True) if a.any()
    ]
    sections = [cut for cut in found if cut is not None]
    areas = [cut.polygon.area for cut in sections]
    last = [k for k, (here, ahead) in enumerate(pairwise(areas)) if ahead > AT_ONCE_SHARE * here]
    picked = sorted({*dips(areas, DIP_SHARE), *last})
    return [sections[k] for k in picked if areas[k] < WIDEST_SHARE * sprue.area_mm2]


def at_mouth(plastic: Solid, sprue: Mouth) -> list[Cut]:
    """The cut of a bait that begins at the mouth."""
    cut = cuts.across(plastic, sprue.at - AT_MOUTH_MM * sprue.normal, -sprue.normal)
    return [cut] if cut else []


def distinct(way: Sequence[Cut]) -> list[Cut]:
    """The cuts without those at the place of one before: both ends of a link that is but a notch."""
    return [
        cut
        for k, cut in enumerate(way)
        if not any(np.linalg.norm(cut.at - old.at) < SAME_MM for old in way[:k])
    ]


def same_way(one: Sequence[Cut], two: Sequence[Cut]) -> bool:
    """True for the same gates."""
    pairs = zip(one, two, strict=False)
    return len(one) == len(two) and all(np.linalg.norm(a.at - b.at) < SAME_MM for a, b in pairs)
