"""Several molds in turn: limits, order of work, and the least total time against every other order."""

from __future__ import annotations

from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builder.advice import planner
from builder.advice.planner import Pace

PACES = st.builds(
    Pace,
    open_s=st.lists(st.sampled_from([60.0, 240.0, 600.0]), min_size=1, max_size=3).map(sorted),
    rest_s=st.lists(st.sampled_from([0.0, 120.0, 900.0]), min_size=1, max_size=2).map(sorted),
    shoot_s=st.sampled_from([30.0, 60.0, 90.0]),
    take_s=st.sampled_from([20.0, 45.0]),
)


def total_s(pace: Pace, molds: int, shots: int) -> float:
    return planner.order(pace, molds, shots)[1]


def test_one_mold_alternates_between_shooting_and_waiting() -> None:
    pace = Pace(open_s=[300.0, 400.0, 500.0], rest_s=[0.0, 100.0], shoot_s=60.0, take_s=30.0)
    steps, end = planner.order(pace, molds=1, shots=3)
    assert [(step.at_s, step.work) for step in steps] == [
        (0.0, "shoot"),
        (360.0, "take"),
        (390.0, "shoot"),
        (850.0, "take"),
        (980.0, "shoot"),
        (1540.0, "take"),
    ]
    assert end == 1570.0


@given(pace=PACES, molds=st.integers(1, 5), shots=st.integers(1, 12))
def test_work_never_overlaps_and_every_mold_waits_as_long_as_it_must(
    pace: Pace, molds: int, shots: int
) -> None:
    steps, end = planner.order(pace, molds, shots)
    long = {"shoot": pace.shoot_s, "take": pace.take_s}
    ends = [step.at_s + long[step.work] for step in steps]
    assert all(step.at_s >= before for step, before in zip(steps[1:], ends, strict=False))
    assert end == ends[-1]
    assert (
        [step.work for step in steps].count("shoot") == [step.work for step in steps].count("take") == shots
    )
    for mold in range(molds):
        own = [(step, at) for step, at in zip(steps, ends, strict=True) if step.mold == mold]
        for number, ((shoot, shut), (take, _)) in enumerate(zip(own[::2], own[1::2], strict=True)):
            assert (shoot.work, take.work) == ("shoot", "take")
            assert take.at_s >= shut + pace.open_s[min(number, len(pace.open_s) - 1)]
        for number, ((_, out), (again, _)) in enumerate(zip(own[1::2], own[2::2], strict=False)):
            assert again.at_s >= out + pace.rest_s[min(number, len(pace.rest_s) - 1)]


@given(pace=PACES, molds=st.integers(1, 4), shots=st.integers(1, 12))
def test_more_shots_take_longer_and_the_hands_bound_the_total(pace: Pace, molds: int, shots: int) -> None:
    total = total_s(pace, molds, shots)
    assert total >= shots * (pace.shoot_s + pace.take_s)
    assert total_s(pace, molds, shots + 1) > total
    assert planner.steady_shots_per_h(pace, molds + 1) >= planner.steady_shots_per_h(pace, molds)
    busy = planner.molds_to_be_busy(pace)
    assert planner.steady_shots_per_h(pace, busy) == pytest.approx(3600 / (pace.shoot_s + pace.take_s))


@pytest.mark.parametrize("molds", [1, 2, 3])
@pytest.mark.parametrize("shots", [1, 2, 3, 4])
def test_no_other_order_is_quicker_where_taking_out_is_shorter_than_waiting(molds: int, shots: int) -> None:
    pace = Pace(open_s=[300.0, 420.0], rest_s=[0.0, 60.0], shoot_s=70.0, take_s=40.0)
    assert total_s(pace, molds, shots) == pytest.approx(best_s(pace, molds, shots))


def best_s(pace: Pace, molds: int, shots: int) -> float:
    """The least total time of every order of work there is."""

    @cache
    def least(free: float, ready: tuple[tuple[float, bool, int], ...], left: int) -> float:
        waiting = any(is_shut for _, is_shut, _ in ready)
        if left == 0 and not waiting:
            return free
        ends = []
        for index, (at, is_shut, done) in enumerate(ready):
            if not is_shut and left == 0:
                continue
            start = max(at, free)
            if is_shut:
                end = start + pace.take_s
                after = (end + pace.rest_s[min(done, len(pace.rest_s) - 1)], False, done + 1)
            else:
                end = start + pace.shoot_s
                after = (end + pace.open_s[min(done, len(pace.open_s) - 1)], True, done)
            others = (*ready[:index], after, *ready[index + 1 :])
            ends.append(least(end, others, left - (not is_shut)))
        return min(ends)

    return least(0.0, ((0.0, False, 0),) * molds, shots)
