"""The block's judge: it finds the shell's times in a shell, and how far real blocks lie from them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.judge_block import Block
from tests.judge_cycle import Setting, Stuff

VINYL = Stuff(conductivity_w_mk=0.155, density_kg_m3=1040.0, heat_capacity_j_kgk=1850.0)
PRINTED = Stuff(conductivity_w_mk=0.15, density_kg_m3=1240.0, heat_capacity_j_kgk=1500.0)
ALUMINIUM = Stuff(conductivity_w_mk=167.0, density_kg_m3=2700.0, heat_capacity_j_kgk=896.0)
BOTH = pytest.mark.parametrize("wall", [PRINTED, ALUMINIUM])
RESTS = pytest.mark.parametrize("rest_s", [0.0, 300.0])
SHARE = 0.32


def block(wall: Stuff) -> Block:
    """A bait of 16 mm with 10 mm of wall behind and beside it."""
    return Block(
        body=VINYL,
        wall=wall,
        film_w_m2k=10.0,
        demold_share=SHARE,
        radius_mm=8.0,
        left_mm=18.4,
        right_mm=18.4,
        top_mm=18.4,
    )


def shell_s(wall: Stuff, rest_s: float) -> list[float]:
    """The first six times in a round shell, from the judge in one dimension."""
    shell = Setting(
        body=VINYL, wall=wall, half_mm=8.0, wall_mm=10.0, film_w_m2k=10.0, demold_share=SHARE, fineness=2
    )
    return shell.open_after_s(6, rest_s)


@BOTH
@RESTS
def test_a_shell_in_two_dimensions_takes_the_times_of_the_shell_in_one(wall: Stuff, rest_s: float) -> None:
    shell = replace(block(wall), shell_mm=18.0)
    assert shell.open_after_s(6, rest_s) == pytest.approx(shell_s(wall, rest_s), rel=0.03)


@pytest.mark.parametrize(("wall", "low", "high"), [(PRINTED, 0.88, 1.37), (ALUMINIUM, 0.66, 1.16)])
@RESTS
def test_real_blocks_lie_near_the_shell(wall: Stuff, low: float, high: float, rest_s: float) -> None:
    """One bait in a square block, and two with 10 mm between them: so much does the round wall leave open."""
    shell = shell_s(wall, rest_s)
    alone = block(wall).open_after_s(6, rest_s)
    beside = replace(block(wall), right_mm=13.6, right_in_air=False).open_after_s(6, rest_s)
    for times in (alone, beside):
        assert all(low < time / round_ < high for time, round_ in zip(times, shell, strict=True))
    assert beside[0] == pytest.approx(shell[0], rel=0.08)
    assert beside[-1] > alone[-1]
