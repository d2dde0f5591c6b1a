"""The product's cycle of shots against the judge: the time to open the first shot, the wall after many."""

from __future__ import annotations

import numpy as np
import pytest

from builder.physics import cycle
from builder.physics.heat import Medium
from tests.judge_cycle import Array, Setting, Stuff

VINYL = Stuff(conductivity_w_mk=0.155, density_kg_m3=1040.0, heat_capacity_j_kgk=1850.0)
WALLS = [
    Stuff(conductivity_w_mk=0.15, density_kg_m3=1240.0, heat_capacity_j_kgk=1500.0),
    Stuff(conductivity_w_mk=0.21, density_kg_m3=1190.0, heat_capacity_j_kgk=1450.0),
    Stuff(conductivity_w_mk=167.0, density_kg_m3=2700.0, heat_capacity_j_kgk=896.0),
]
SHARE = (68 - 22) / (166 - 22)
BOTH_SIZES = pytest.mark.parametrize(("half_mm", "wall_mm"), [(3.5, 6.0), (8.0, 10.0)])


def both(wall: Stuff, half_mm: float, wall_mm: float) -> tuple[Setting, cycle.Mold]:
    """The same mold for the judge and for the product."""
    judge = Setting(
        body=VINYL,
        wall=wall,
        half_mm=half_mm,
        wall_mm=wall_mm,
        film_w_m2k=10.0,
        demold_share=SHARE,
        fineness=4,
    )
    return judge, cycle.mold(_medium(VINYL), _medium(wall), half_mm, wall_mm, 10.0)


def _medium(stuff: Stuff) -> Medium:
    return Medium(
        conductivity_w_mk=stuff.conductivity_w_mk,
        density_kg_m3=stuff.density_kg_m3,
        heat_capacity_j_kgk=stuff.heat_capacity_j_kgk,
    )


@pytest.mark.parametrize("wall", WALLS)
@BOTH_SIZES
def test_the_first_shot_opens_when_the_judge_says(wall: Stuff, half_mm: float, wall_mm: float) -> None:
    judge, mold = both(wall, half_mm, wall_mm)
    product_s = float(cycle.cooling_s(mold, np.asarray(SHARE)))
    assert product_s == pytest.approx(judge.open_after_s(1, 0.0)[0], rel=0.012)


@pytest.mark.parametrize("wall", WALLS)
@pytest.mark.parametrize(("shots", "rest_s"), [(1, 0.0), (10, 0.0), (10, 300.0)])
def test_the_wall_after_many_shots_is_the_judges(wall: Stuff, shots: int, rest_s: float) -> None:
    judge, mold = both(wall, 8.0, 10.0)
    closed_s = judge.open_after_s(1, 0.0)[0]
    beat = cycle.rhythm(mold, np.asarray(SHARE))
    amounts = cycle.closed_for(beat, cycle.cold(beat), closed_s)
    for _ in range(1, shots):
        amounts = cycle.closed_for(beat, cycle.rested(beat, amounts, rest_s), closed_s)
    product = cycle.temperatures(beat, amounts)
    found = _wall(judge, closed_s, rest_s, shots)
    places = judge.nodes[judge.contact :]
    assert product == pytest.approx(np.interp(mold.bare.centres_m, places, found), abs=1e-3)


def _wall(judge: Setting, closed_s: float, rest_s: float, shots: int) -> Array:
    wall = judge.cold()
    for number in range(shots):
        start = judge.rested(wall, rest_s) if number else wall
        state, _ = judge.march(judge.poured(start), closed_s)
        wall = state[judge.contact :]
    return wall
