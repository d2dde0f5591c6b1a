"""Which necks are the gates: the likeliest runner that leaves as many baits as there are cavities."""

from __future__ import annotations

import heapq
from collections.abc import Sequence, Set
from dataclasses import dataclass
from functools import cache, partial

from builder.measure.flow_tree.necks import Neck, Segments

SMALL_BODY = 0.06
"""A first segment that is less of the bait than this is a cold well: the bait begins at the next neck."""
NO_BAIT = 0.1
"""What is smaller than this share of the mean bait is no bait: a dimple, a cold well."""
TINY_BAIT = 0.005
"""Where it is asked, what is larger than this share of all plastic may be a bait beside much larger ones."""
ALIKE, LINK_DOUBT = 0.03, 0.2
"""Baits joined behind their gates, by an overflow that all run into, are so much alike; seen as one bait with
several gates they are this doubtful."""
MOST_TRIES = 3000
ENOUGH = 4

Runner = frozenset[int]
Body = frozenset[int]
"""Segments that hang together."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gating:
    """A neck and the side on which the bait lies: `forward` if the flow enters the bait there."""

    neck: Neck
    forward: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """The gates into each bait, the cost of the choice (0 = no doubt), and what all baits hold together.

    `looped` where a bait has several gates: what lies between two of them may be runner or bait.
    """

    cost: float
    gates: tuple[Gating, ...]
    volume_mm3: float
    looped: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Linked:
    """Like pieces of what looks like one bait, and the share of all plastic their link has."""

    pieces: Sequence[Body]
    share: float


def choices(segments: Segments, wanted: int, least_share: float | None = None) -> list[Choice]:
    """Ways to see `wanted` baits in the segments, the best first; a bait is NO_BAIT of the mean or as told.

    The runner starts as the sprue's segment and takes in neighbours, the cheapest in volume first.
    """
    total = sum(segments.volume_mm3)
    least = total * (NO_BAIT / wanted if least_share is None else least_share)
    linked = cache(partial(_linked, segments))
    waiting: list[tuple[float, list[int]]] = [(0.0, [0])]
    seen: set[Runner] = set()
    found: list[Choice] = []
    while waiting and len(seen) < MOST_TRIES:
        spent, runner_list = heapq.heappop(waiting)
        runner = frozenset(runner_list)
        if runner in seen:
            continue
        seen.add(runner)
        if len(found) >= ENOUGH and spent > found[ENOUGH - 1].cost:
            break
        baits = [bait for bait in _rest(segments, runner) if _volume(segments, bait) > least]
        likely = _seen(baits, [linked(bait) for bait in baits], spent)
        found += [_choice(segments, some, cost) for some, cost in likely if len(some) == wanted]
        found.sort(key=lambda choice: choice.cost)
        for neighbour in _neighbours(segments, runner):
            cost = spent + segments.volume_mm3[neighbour] / total
            heapq.heappush(waiting, (cost, sorted([*runner_list, neighbour])))
    return found


def _seen(baits: list[Body], linked: Sequence[Linked | None], spent: float) -> list[tuple[list[Body], float]]:
    """The baits and what that costs; also with like ones parted that only a small link joins, if any."""
    if not any(linked):
        return [(baits, spent)]
    parted: list[Body] = []
    cost = spent
    for bait, pair in zip(baits, linked, strict=True):
        parted += pair.pieces if pair else [bait]
        cost += pair.share if pair else 0.0
    return [(baits, spent + LINK_DOUBT), (parted, cost)]


def _linked(segments: Segments, bait: Body) -> Linked | None:
    """The most like pieces of a bait, each with a gate of its own, that one small segment joins, if any.

    What lies beside a bait is runner: a bait is all that hangs together when the runner is taken away.
    """
    found: list[tuple[float, Linked]] = []
    most = NO_BAIT * _volume(segments, bait)
    at_gates = {one for one in bait if segments.beside[one] - bait}
    for link in sorted(bait):
        if segments.volume_mm3[link] > most or len(segments.beside[link] & bait) < 2:
            continue
        pieces = _hanging(segments, set(bait - {link}))
        sizes = [_volume(segments, piece) for piece in pieces]
        if len(pieces) > 1 and max(sizes) < (1 + ALIKE) * min(sizes) and all(p & at_gates for p in pieces):
            share = segments.volume_mm3[link] / sum(segments.volume_mm3)
            found.append((max(sizes) / min(sizes), Linked(pieces=pieces, share=share)))
    return min(found, key=lambda one: one[0])[1] if found else None


def side_by_side(segments: Segments) -> Choice | None:
    """All that hangs on the sprue's own segment as baits, however unlike; None where that is but one."""
    least = TINY_BAIT * sum(segments.volume_mm3)
    baits = [bait for bait in _rest(segments, frozenset([0])) if _volume(segments, bait) > least]
    return _choice(segments, baits, 0.0) if len(baits) > 1 else None


def in_a_row(segments: Segments, wanted: int) -> list[Choice]:
    """All segments behind the sprue's as baits, one fed through another, with both ends of each link."""
    if len(segments.volume_mm3) - 1 != wanted or wanted < 2:
        return []
    gates = [Gating(neck=neck, forward=True) for neck in segments.necks]
    gates += [Gating(neck=neck, forward=False) for neck in segments.necks if neck.before]
    volume = sum(segments.volume_mm3[1:])
    return [Choice(cost=0.0, gates=tuple(gates), volume_mm3=volume, looped=False)]


def _choice(segments: Segments, baits: Sequence[Body], spent: float) -> Choice:
    """The gates into the baits."""
    total = sum(segments.volume_mm3)
    gates: list[Gating] = []
    doubt = 0.0
    for bait in baits:
        crossing = [neck for neck in segments.necks if (neck.before in bait) != (neck.after in bait)]
        gates += [Gating(neck=neck, forward=neck.after in bait) for neck in crossing]
        first = {neck.after if neck.after in bait else neck.before for neck in crossing}
        share = _volume(segments, first) / _volume(segments, bait)
        doubt += max(0.0, 1 - share / SMALL_BODY) * _volume(segments, bait) / total
    return Choice(
        cost=spent + doubt,
        gates=tuple(gates),
        volume_mm3=sum(_volume(segments, bait) for bait in baits),
        looped=len(gates) > len(baits),
    )


def _volume(segments: Segments, some: Set[int]) -> float:
    """Volume (mm3) of some segments."""
    return sum(segments.volume_mm3[one] for one in sorted(some))


def _neighbours(segments: Segments, runner: Runner) -> Body:
    """Segments that meet the runner."""
    return frozenset[int]().union(*(segments.beside[one] for one in runner)) - runner


def _rest(segments: Segments, runner: Runner) -> list[Body]:
    """What hangs together when the runner is taken away."""
    return _hanging(segments, set(range(len(segments.beside))) - runner)


def _hanging(segments: Segments, left: set[int]) -> list[Body]:
    """Some segments (which are used up) in groups that hang together."""
    groups: list[Body] = []
    while left:
        first = min(left)
        left.discard(first)
        group, waiting = {first}, [first]
        while waiting:
            near = segments.beside[waiting.pop()] & left
            left -= near
            group |= near
            waiting += near
        groups.append(frozenset(group))
    return groups
