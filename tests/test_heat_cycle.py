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
    closed = cycle.cooling_s(case, share(DEMOLD_C))
    peak, _ = cycle.shoot_again(case, closed, np.asarray(rest_s), shots)
    return float(cycle.soft_share(case, peak, share(SOFT_C)))


def test_finer_cells_and_more_moments_change_little(monkeypatch: pytest.MonkeyPatch) -> None:
    coarse = [softened(mold(), shots, rest) for shots, rest in ((1, 0.0), (10, 600.0))]
    cooling = float(cycle.cooling_s(mold(), share(DEMOLD_C)))
    monkeypatch.setattr(cycle, "_CELLS", (60, 120))
    monkeypatch.setattr(cycle, "_MOMENTS", np.geomspace(0.002, 1.0, 60))
    assert coarse == pytest.approx([softened(mold(), s, r) for s, r in ((1, 0.0), (10, 600.0))], abs=0.015)
    assert cooling == pytest.approx(float(cycle.cooling_s(mold(), share(DEMOLD_C))), rel=0.01)


def test_many_cases_at_once_give_what_each_gives_alone() -> None:
    walls = np.array([6.0, 10.0, 15.0])
    both = cycle.mold(VINYL, PRINTED, np.full(3, 7.0), walls, np.full(3, 10.0))
    together = cycle.cooling_s(both, np.full(3, float(share(DEMOLD_C))))
    alone = [float(cycle.cooling_s(mold(wall), share(DEMOLD_C))) for wall in walls]
    assert together == pytest.approx(alone)


def test_energy_only_leaves_by_the_films() -> None:
    case = cycle.mold(VINYL, PRINTED, 7.0, 10.0, 0.0)
    _, state = cycle.shoot_again(case, np.asarray(1e7))
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
    peak, _ = cycle.shoot_again(case, cycle.cooling_s(case, share(DEMOLD_C)))
    depth = cycle.soft_share(case, peak, share(SOFT_C))
    assert 0 < float(depth) < 1
    assert float(cycle.peak_at(case, peak, depth)) == pytest.approx(float(share(SOFT_C)), rel=1e-6)


@given(reach=st.floats(5.0, 100.0), thickness=st.floats(5.0, 30.0), more=st.floats(1.0, 3.0))
def test_the_gap_grows_with_the_fourth_power_of_reach_and_falls_with_the_third_of_thickness(
    reach: float, thickness: float, more: float
) -> None:
    base = float(clamping.gap_mm(0.2, 0.5, reach, 1300.0, thickness))
    assert float(clamping.gap_mm(0.2, 0.5, reach * more, 1300.0, thickness)) == pytest.approx(base * more**4)
    assert float(clamping.gap_mm(0.2, 0.5, reach, 1300.0, thickness * more)) == pytest.approx(base / more**3)
