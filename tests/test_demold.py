"""The temperature to take a bait out at, beside what makers do: a section in two dimensions as the judge.

Common practice, no source: a body 16 mm thick is taken out after 6–8 minutes.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from builder.advice.samples import Pair
from tests.advised_minnow import pair

FILM_W_M2K, CELL_M = 10.0, 0.5e-3
OPENED_S = (360, 420, 480)


@cache
def middle_c(mold_material: str, width_mm: float, shot_c: float = 160.0, room_c: float = 22.0) -> list[float]:
    """The middle of an oval body 16 mm thick in 10 mm of wall, a quarter of it, when makers open."""
    inside, wall = media(pair("medium", mold_material))
    across, up = (
        CELL_M * (np.arange(round((half + 10) * 1e-3 / CELL_M)) + 0.5) for half in (width_mm / 2, 8.0)
    )
    bait = (across / (width_mm * 0.5e-3)) ** 2 + (up[:, None] / 8e-3) ** 2 <= 1
    conducts, holds = (np.where(bait, hot, cold) for hot, cold in zip(inside, wall, strict=True))
    now = np.where(bait, shot_c, room_c).astype(float)
    sideways = 2 / (1 / conducts[:, 1:] + 1 / conducts[:, :-1])
    upward = 2 / (1 / conducts[1:] + 1 / conducts[:-1])
    lost = 1 / (1 / FILM_W_M2K + CELL_M / 2 / wall[0]) * CELL_M
    step_s = 0.2 * CELL_M**2 * float((holds / conducts).min())
    told: list[float] = []
    seconds = 0.0
    while len(told) < len(OPENED_S):
        gains = np.zeros_like(now)
        over, rise = sideways * np.diff(now, axis=1), upward * np.diff(now, axis=0)
        gains[:, :-1] += over
        gains[:, 1:] -= over
        gains[:-1] += rise
        gains[1:] -= rise
        gains[-1] -= lost * (now[-1] - room_c)
        gains[:, -1] -= lost * (now[:, -1] - room_c)
        now = now + step_s * gains / (holds * CELL_M**2)
        seconds += step_s
        if seconds >= OPENED_S[len(told)]:
            told.append(float(now[0, 0]))
    return told


def media(known: Pair) -> tuple[tuple[float, float], tuple[float, float]]:
    """Conductivity and heat capacity of a volume, of plastisol and wall, as the tables have them."""
    found = []
    for values in (known.plastisol.values, known.mold.values):
        volumetric = values["density"].value * 1e3 * values["heat_capacity"].value
        found.append((values["conductivity"].value, volumetric))
    return found[0], found[1]


@pytest.mark.slow
def test_makers_open_a_round_body_colder_and_an_oval_one_hotter_than_the_table_says() -> None:
    """So the table's value lies between: what is wider than it is thick would ask for a hotter one."""
    table = pair("medium").plastisol.values["demold"]
    for mold_material in ("pla", "petg"):
        round_c, oval_c = (middle_c(mold_material, width_mm)[1] for width_mm in (16.0, 19.2))
        assert round_c < table.value + 2.0
        assert oval_c > table.value
        assert table.low - 1.0 < round_c < oval_c < table.high + 1.0


@pytest.mark.slow
def test_what_makers_do_spans_the_tables_range() -> None:
    every = [c for m in ("pla", "petg") for width in (16.0, 19.2) for c in middle_c(m, width)]
    table = pair("medium").plastisol.values["demold"]
    assert min(every) < table.low
    assert max(every) > table.high
    assert np.median(every) == pytest.approx(table.value, abs=4.0)
