"""The wall behind a flat side, judged in two dimensions, and the wall as it is while one presses."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from builder.advice import heating, samples
from builder.advice.heating import Body
from builder.physics.conduction import flatness
from builder.physics.ducts import ellipse_perimeter
from builder.physics.heat import Array
from tests import judge_wall, paddle_tail
from tests.advised_minnow import TABLES, make_context, pair

WALL_MM, THICK_MM = 10.0, 16.0


def body(width_mm: float) -> Body:
    area = np.pi / 4 * THICK_MM * width_mm
    flat = float(flatness(area, ellipse_perimeter(THICK_MM, width_mm), THICK_MM))
    return Body(thickness_mm=THICK_MM, flatness=flat, wall_mm=WALL_MM)


def central(width_mm: float, mold_material: str) -> heating.Heating:
    return heating.heating(body(width_mm), samples.central([pair("medium", mold_material)], TABLES.practice))


@cache
def limits(width_mm: float, mold_material: str) -> tuple[float, float, float]:
    """By the judge, by the model, by the round wall alone, in °C at the best guess of every constant."""
    hot = central(width_mm, mold_material)
    known = {name: float(values[0, 0]) for name, values in hot.constants.items()}
    share = judge_wall.peak_share(
        samples.inside(hot.constants),
        samples.wall(hot.constants),
        half_mm=(THICK_MM / 2, width_mm / 2),
        wall_mm=WALL_MM,
        depth_mm=known["soft_share"] * WALL_MM,
        film_w_m2k=known["air_film"],
    )
    judged = known["room"] + (known["mold_deflection"] - known["room"]) / share
    found = [heating.mold_limit_c(each) for each in (hot, replace(hot, flat=np.ones_like(hot.flat)))]
    return judged, float(found[0][0, 0]), float(found[1][0, 0])


@pytest.mark.slow
@pytest.mark.parametrize("mold_material", ["pla", "petg"])
@pytest.mark.parametrize("width_mm", [16.0, 19.2, 24.0, 32.0])
def test_the_molds_limit_is_that_of_a_section_in_two_dimensions_and_never_far_above(
    width_mm: float, mold_material: str
) -> None:
    judged, model, _ = limits(width_mm, mold_material)
    assert judged * 0.93 < model < judged * 1.02


@pytest.mark.slow
@pytest.mark.parametrize("mold_material", ["pla", "petg"])
def test_the_round_wall_alone_allowed_too_much_the_more_the_flatter_the_bait(mold_material: str) -> None:
    """An audit in two dimensions: 16 K too much for a mold of this kind, in PLA and in PETG."""
    over = [
        alone - judged for judged, _, alone in (limits(wide, mold_material) for wide in (19.2, 24.0, 32.0))
    ]
    assert over == sorted(over)
    assert 3 < over[0] < 16 < over[-1] < 40


def test_a_round_body_has_no_flat_side_and_a_flatter_one_heats_its_wall_more() -> None:
    rise = [float(central(width, "pla").flat[0, 0]) for width in (16.0, 19.2, 24.0, 32.0)]
    assert rise[0] == 1.0
    assert rise == sorted(rise)
    assert rise[-1] > 1.2


def softened(shot_c: float, shots: int, rest_s: float) -> tuple[Array, Array]:
    hot = make_context(paddle_tail.measurement(2.0)).hot
    return heating.softened(hot, np.full_like(hot.some["room"], shot_c), rest_s, shots)


@pytest.mark.slow
@pytest.mark.parametrize("shots", [1, 10])
def test_less_of_the_wall_is_soft_while_one_presses_than_at_its_later_peak(shots: int) -> None:
    whole, held = softened(158.0, shots, 600.0)
    assert (held <= whole + 1e-9).all()
    assert np.median(held) < 0.8 * np.median(whole)
