"""Shot after shot, and the halves under pressure: grids that suffice, directions, scaling laws."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from builder.physics import clamping, cycle
from builder.physics.heat import Array, Medium

VINYL = Medium(conductivity_w_mk=0.155, density_kg_m3=1040.0, heat_capacity_j_kgk=1850.0)
PRINTED = Medium(conductivity_w_mk=0.15, density_kg_m3=1240.0, heat_capacity_j_kgk=1500.0)
ROOM_C, SHOT_C, SOFT_C, DEMOLD_C = 22.0, 165.0, 56.0, 65.0


def share(celsius: float) -> Array:
    return np.asarray((celsius - ROOM_C) / (SHOT_C - ROOM_C))


def mold(wall_mm: float = 10.0, film: float = 10.0) -> cycle.Mold:
    return cycle.mold(VINYL, PRINTED, 7.0, wall_mm, film)


def softened(case: cycle.Mold, shots: int, rest_s: float) -> float:
    beat = cycle.rhythm(case, share(DEMOLD_C))
    times, walls = cycle.row(beat, shots, rest_s)
    return float(cycle.soft_share(case, cycle.peaks(beat, walls[-1], times[-1]), share(SOFT_C)))


def test_finer_cells_and_more_moments_change_little(monkeypatch: pytest.MonkeyPatch) -> None:
    coarse = [softened(mold(), shots, rest) for shots, rest in ((1, 0.0), (10, 600.0))]
    cooling = float(cycle.cooling_s(mold(), share(DEMOLD_C)))
    monkeypatch.setattr(cycle, "_CELLS", (60, 120))
    monkeypatch.setattr(cycle, "_MOMENTS", np.geomspace(0.002, 2.0, 60))
    assert coarse == pytest.approx([softened(mold(), s, r) for s, r in ((1, 0.0), (10, 600.0))], abs=0.015)
    assert cooling == pytest.approx(float(cycle.cooling_s(mold(), share(DEMOLD_C))), rel=0.01)


def test_many_cases_at_once_give_what_each_gives_alone() -> None:
    walls = np.array([6.0, 10.0, 15.0])
    both = cycle.mold(VINYL, PRINTED, np.full(3, 7.0), walls, np.full(3, 10.0))
    together = cycle.cooling_s(both, np.full(3, float(share(DEMOLD_C))))
    alone = [float(cycle.cooling_s(mold(wall), share(DEMOLD_C))) for wall in walls]
    assert together == pytest.approx(alone)


def test_a_row_of_many_shots_ends_in_the_steady_one() -> None:
    for wall_mm, rest_s in ((4.0, 0.0), (10.0, 0.0), (10.0, 400.0), (40.0, 60.0)):
        beat = cycle.rhythm(mold(wall_mm), share(DEMOLD_C), 1.1)
        times, walls = cycle.row(beat, 400, rest_s)
        steady, wall = cycle.steady(beat, times[2], np.asarray(rest_s))
        assert float(steady) == pytest.approx(float(times[-1]), rel=1e-5)
        assert wall == pytest.approx(walls[-1], abs=1e-4 * float(np.abs(wall).max()))


def test_the_advised_rests_keep_the_wall_just_within_what_may_soften() -> None:
    beat = cycle.rhythm(mold(), share(88.0))
    limit = cycle.guard(beat, 0.4, share(SOFT_C))
    hurried, _ = cycle.row(beat, 10)
    rests = cycle.rests_needed_s(
        beat, limit, np.linspace(0.0, 7200.0, 241), 10, cycle.steady(beat, hurried[-1])[1]
    )
    assert (np.diff(rests[:4]) >= -1.0).all()
    times, walls = cycle.row(beat, 10, rests[:-1])
    soft = [
        float(cycle.soft_share(beat.case, cycle.peaks(beat, wall, time), share(SOFT_C)))
        for wall, time in zip(walls, times, strict=True)
    ]
    assert soft[1:] == pytest.approx([0.4] * 9, abs=0.02)
    assert soft[0] < 0.4


def test_no_rest_helps_a_wall_that_the_first_shot_softens_too_far() -> None:
    beat = cycle.rhythm(mold(4.0), share(70.0))
    limit = cycle.guard(beat, 0.1, share(SOFT_C))
    hurried, _ = cycle.row(beat, 3)
    rests = cycle.rests_needed_s(
        beat, limit, np.array([0.0, 600.0, 3600.0]), 3, cycle.steady(beat, hurried[-1])[1]
    )
    assert cycle.is_too_hot_when_cold(limit)
    assert np.isinf(rests).all()


def test_energy_only_leaves_by_the_films() -> None:
    case = cycle.mold(VINYL, PRINTED, 7.0, 10.0, 0.0)
    beat = cycle.rhythm(case, share(80.0))
    state = cycle.temperatures(beat, cycle.closed_for(beat, cycle.cold(beat), 1e7))
    mixed = float((case.closed.capacity * case.closed.hot_inside()).sum() / case.closed.capacity.sum())
    assert state == pytest.approx(mixed, rel=1e-6)


@pytest.mark.parametrize("shots", [1, 3, 10])
def test_a_thinner_wall_softens_a_larger_share(shots: int) -> None:
    shares = [softened(mold(wall), shots, 300.0) for wall in (6.0, 10.0, 16.0)]
    assert shares == sorted(shares, reverse=True)


def test_the_wall_creeps_towards_a_steady_cycle() -> None:
    row = [softened(mold(), shots, 600.0) for shots in (1, 2, 4, 8, 16, 32)]
    assert row == sorted(row)
    assert row[-1] - row[-2] < 0.1 * (row[1] - row[0])


def test_the_peak_is_where_the_share_was_read() -> None:
    case = mold()
    beat = cycle.rhythm(case, share(DEMOLD_C))
    peak = cycle.peaks(beat, cycle.cold(beat), beat.first_s)
    depth = cycle.soft_share(case, peak, share(SOFT_C))
    assert 0 < float(depth) < 1
    assert float(cycle.peak_at(case, peak, depth)) == pytest.approx(float(share(SOFT_C)), rel=1e-6)


@given(reach=st.floats(5.0, 100.0), thickness=st.floats(5.0, 30.0), more=st.floats(1.0, 3.0))
def test_the_gap_grows_with_the_fourth_power_of_reach_and_falls_with_the_third_of_thickness(
    reach: float, thickness: float, more: float
) -> None:
    def gap(reach_mm: float, thickness_mm: float) -> float:
        return float(clamping.gap_mm(0.2, clamping.panel_mm4(0.5, reach_mm), 1300.0, thickness_mm))

    assert gap(reach * more, thickness) == pytest.approx(gap(reach, thickness) * more**4)
    assert gap(reach, thickness * more) == pytest.approx(gap(reach, thickness) / more**3)
