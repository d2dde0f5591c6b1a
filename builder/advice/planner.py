"""Several like molds in turn: the order of work for one person, how long it takes, how many baits an hour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from typing import Literal

from builder.model import Figure, Plan, ShotTimes, Sourced

MOST_MOLDS = 4
BAITS = (12, 24, 50)
"""Numbers of baits that a plan is told for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """The times of each shot, and the work that a person has with it: what a plan is made from."""

    open_s: Sequence[float]
    """In the shut mold, by the shot's number in its mold; the last one counts for all later."""
    rest_s: Sequence[float]
    """Rest after it, likewise."""
    shoot_s: float
    """Work to draw, shoot and hold; the mold's clock starts when it is done."""
    take_s: float
    """Work to open the mold and take the baits out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One piece of work: from when, with which mold (from 0)."""

    at_s: float
    mold: int
    work: Literal["shoot", "take"]


def order(pace: Pace, molds: int, shots: int) -> tuple[tuple[Step, ...], float]:
    """The order of work for so many shots with so many like molds, and when the last bait is out.

    Whatever may be done first is done first; of two, the mold that waits longer. Work is never broken off.

    >>> one = Pace(open_s=[300.0], rest_s=[0.0], shoot_s=60.0, take_s=30.0)
    >>> order(one, molds=1, shots=2)[1], order(one, molds=2, shots=2)[1]
    (780.0, 450.0)
    """
    free, done = 0.0, [0] * molds
    ready: list[tuple[float, int, Literal["shoot", "take"]]] = [(0.0, mold, "shoot") for mold in range(molds)]
    steps: list[Step] = []
    left = shots
    while ready:
        at, mold, work = min(ready, key=lambda one: (max(one[0], free), one[0], one[1]))
        ready.remove((at, mold, work))
        if work == "shoot" and left == 0:
            continue
        start = max(at, free)
        steps.append(Step(at_s=start, mold=mold, work=work))
        if work == "shoot":
            left, free = left - 1, start + pace.shoot_s
            ready.append((free + _of(pace.open_s, done[mold]), mold, "take"))
        else:
            free = start + pace.take_s
            ready.append((free + _of(pace.rest_s, done[mold]), mold, "shoot"))
            done[mold] += 1
    return tuple(steps), free


def _of(times: Sequence[float], shot: int) -> float:
    """The time of a shot, counted from 0; the last listed time is that of all later shots."""
    return times[min(shot, len(times) - 1)]


def steady_shots_per_h(pace: Pace, molds: int) -> float:
    """Shots an hour once every mold is warm: limited by the molds, or by the hands.

    >>> one = Pace(open_s=[300.0], rest_s=[0.0], shoot_s=60.0, take_s=40.0)
    >>> steady_shots_per_h(one, 1), steady_shots_per_h(one, 9)
    (9.0, 36.0)
    """
    return 3600.0 / max(_cycle_s(pace) / molds, pace.shoot_s + pace.take_s)


def molds_to_be_busy(pace: Pace) -> int:
    """The number of molds that keeps one person busy without waiting."""
    return ceil(_cycle_s(pace) / (pace.shoot_s + pace.take_s) - 1e-9)


def _cycle_s(pace: Pace) -> float:
    return pace.shoot_s + pace.open_s[-1] + pace.take_s + pace.rest_s[-1]


def plans(
    times: Sequence[ShotTimes], hold_s: Figure, handling: Sourced, cavities: int, *, whole: bool
) -> tuple[Plan, ...]:
    """Plans for one to MOST_MOLDS molds; with the time for BAITS where `whole`. Empty where no rest helps."""
    if any(row.rest_s is None for row in times):
        return ()
    slow = _pace(times, hold_s.high, handling.high, "high")
    usual = _pace(times, hold_s.value, handling.value, "value")
    fast = _pace(times, hold_s.low, handling.low, "low")
    return tuple(
        Plan(
            molds=molds,
            baits_per_h=_figure(
                "count", *(cavities * steady_shots_per_h(pace, molds) for pace in (slow, usual, fast))
            ),
            total_s=tuple(
                (
                    baits,
                    _figure("s", *(order(p, molds, ceil(baits / cavities))[1] for p in (fast, usual, slow))),
                )
                for baits in (BAITS if whole else ())
            ),
            busy_from=molds_to_be_busy(usual),
        )
        for molds in range(1, MOST_MOLDS + 1)
    )


def _pace(
    times: Sequence[ShotTimes], hold_s: float, work_s: float, side: Literal["low", "value", "high"]
) -> Pace:
    """Half of the work before the mold's clock starts, with the hold; half of it to open and take out."""
    rows = [next((t for t in times if t.shot in (n, 0) or t.shot > n), times[-1]) for n in range(1, 12)]
    return Pace(
        open_s=[getattr(row.open_s, side) for row in rows],
        rest_s=[row.rest_s.value if row.rest_s else 0.0 for row in rows],
        shoot_s=work_s / 2 + hold_s,
        take_s=work_s / 2,
    )


def _figure(unit: Literal["count", "s"], low: float, value: float, high: float) -> Figure:
    low, high = min(low, value), max(high, value)
    return Figure(
        value=value, low=low, high=high, unit=unit, because="advice.because.plan", origin="computed"
    )
