"""Which necks are the gates: as many subtrees as there are cavities, with the least doubt."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

from builder.measure.necks import Segments

SMALL_BODY = 0.06
"""A first segment that is less of the bait than this is a cold well: the bait begins at the next neck."""
NO_BAIT = 0.02
"""Subtrees smaller than this share of the plastic are no baits: dimples, cold wells."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """Segments that begin baits, and the cost (0 = no doubt)."""

    cost: float
    gates: tuple[int, ...]


def choices(segments: Segments, wanted: int) -> list[Choice]:
    """Ways to see `wanted` baits in the segments, the best first."""
    below: list[list[int]] = [[] for _ in segments.parent]
    for k, parent in enumerate(segments.parent):
        if parent >= 0 and segments.beyond_mm3[k] > NO_BAIT * segments.beyond_mm3[0]:
            below[parent].append(k)
    return sorted(_in(0, wanted, segments, below)[:8], key=lambda way: (way.cost, way.gates))


def _in(segment: int, wanted: int, segments: Segments, below: list[list[int]]) -> list[Choice]:
    """The best ways to see `wanted` baits beyond a segment's neck."""
    total = float(segments.beyond_mm3[0])
    if wanted == 0:
        return [Choice(cost=float(segments.beyond_mm3[segment]) / total * 3, gates=())]
    ways = []
    if wanted == 1 and segment:
        first = float(segments.volume_mm3[segment] / segments.beyond_mm3[segment])
        doubt = max(0.0, 1 - first / SMALL_BODY)
        ways.append(Choice(cost=doubt * float(segments.beyond_mm3[segment]) / total, gates=(segment,)))
    own = float(segments.volume_mm3[segment]) / total if segment else 0.0
    for split in _splits(wanted, len(below[segment])):
        parts = [_in(k, n, segments, below)[:3] for k, n in zip(below[segment], split, strict=True)]
        for combination in product(*parts):
            cost = own + sum(way.cost for way in combination)
            ways.append(Choice(cost=cost, gates=tuple(g for way in combination for g in way.gates)))
    return sorted(ways, key=lambda way: (way.cost, way.gates))[:8]


def _splits(total: int, places: int) -> list[tuple[int, ...]]:
    """All ways to put `total` baits into `places` subtrees."""
    if places == 0:
        return []
    if places == 1:
        return [(total,)]
    return [(n, *rest) for n in range(total + 1) for rest in _splits(total - n, places - 1)]
