"""The judge of the times by the shot's number against closed forms: series, contact, order, lumps."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.special import erf, erfc

from tests.judge_cycle import Array, Setting, Stuff

VINYL = Stuff(conductivity_w_mk=0.155, density_kg_m3=1040.0, heat_capacity_j_kgk=1850.0)
PRINTED = Stuff(conductivity_w_mk=0.15, density_kg_m3=1240.0, heat_capacity_j_kgk=1500.0)
ALUMINIUM = Stuff(conductivity_w_mk=167.0, density_kg_m3=2700.0, heat_capacity_j_kgk=896.0)
SKIN = Stuff(conductivity_w_mk=1e3, density_kg_m3=1e-3, heat_capacity_j_kgk=1.0)
"""A wall that passes heat and holds none: the film then works on the body itself."""
PERFECT = replace(VINYL, conductivity_w_mk=1e6)


def setting(wall: Stuff = PRINTED, **changed: Any) -> Setting:  # noqa: ANN401 - fields of several types
    given = Setting(
        body=VINYL, wall=wall, half_mm=8.0, wall_mm=10.0, film_w_m2k=10.0, demold_share=0.32, fineness=2
    )
    return replace(given, **changed)


@pytest.mark.parametrize(
    ("round_", "biot", "root", "first"),
    [
        (False, 1.0, 0.8603, 1.1191),
        (False, 10.0, 1.4289, 1.2620),
        (True, 1.0, 1.2558, 1.2071),
        (True, 10.0, 2.1795, 1.5677),
    ],
)
def test_a_body_in_a_film_follows_the_first_term_of_its_series(
    round_: bool, biot: float, root: float, first: float
) -> None:
    """Roots and coefficients: Incropera, Fundamentals of Heat and Mass Transfer, 6th ed., table 5.1."""
    film = biot * VINYL.conductivity_w_mk / 8e-3
    case = setting(SKIN, wall_mm=1e-3, film_w_m2k=film, demold_share=0.2, round_=round_, fineness=4)
    fourier = np.log(first / 0.2) / root**2
    expected = fourier * 8e-3**2 / VINYL.diffusivity
    assert case.open_after_s(1, 0.0)[0] == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize("wall", [PRINTED, ALUMINIUM])
@pytest.mark.parametrize("round_", [False, True])
def test_the_face_of_a_fresh_shot_is_at_the_contact_temperature(wall: Stuff, round_: bool) -> None:
    """(e₁T₁ + e₂T₂)/(e₁ + e₂): Carslaw & Jaeger, 2nd ed., §2.16 (before the round shape is felt)."""
    case = setting(wall, fineness=8, round_=round_)
    state, _ = case.march(case.poured(case.cold()), 0.05)
    expected = VINYL.effusivity / (VINYL.effusivity + wall.effusivity)
    assert state[case.contact] == pytest.approx(expected, abs=4e-3)


def test_the_heat_wave_in_a_thick_wall_is_an_error_function() -> None:
    """T_c erfc(x/(2√(αt))): Carslaw & Jaeger, 2nd ed., §2.16."""
    case = setting(round_=False, half_mm=30.0, wall_mm=60.0, film_w_m2k=0.0, fineness=8)
    state, _ = case.march(case.poured(case.cold()), 100.0)
    depth = case.nodes[case.contact :] - 0.03
    contact = VINYL.effusivity / (VINYL.effusivity + PRINTED.effusivity)
    expected = contact * erfc(depth / (2 * np.sqrt(PRINTED.diffusivity * 100.0)))
    assert np.abs(state[case.contact :] - expected).max() < 2e-4


@pytest.mark.parametrize("wall", [VINYL, PRINTED, ALUMINIUM])
def test_the_middle_of_a_slab_in_thick_walls_follows_the_method_of_images(wall: Stuff) -> None:
    """θ = 1 − 2/(1 + r) Σ (−ρ)ⁿ erfc((2n+1)/(2√Fo)), ρ = (1 − r)/(1 + r), r = e₁/e₂: Carslaw & Jaeger."""
    thick = 60.0 if wall is not ALUMINIUM else 2000.0
    case = setting(wall, round_=False, half_mm=2.0, wall_mm=thick, film_w_m2k=0.0, fineness=8)
    ratio = VINYL.effusivity / wall.effusivity
    image, n = (1 - ratio) / (1 + ratio), np.arange(60)
    seconds = case.open_after_s(1, 0.0)[0]
    root = 2 * np.sqrt(VINYL.diffusivity * seconds / 2e-3**2)
    expected = 1 - 2 / (1 + ratio) * float(((-image) ** n * erfc((2 * n + 1) / root)).sum())
    assert expected == pytest.approx(0.32, abs=5e-4)
    if wall is VINYL:
        assert expected == pytest.approx(float(erf(1 / root)), abs=1e-9)


@pytest.mark.parametrize("round_", [False, True])
def test_the_heat_of_two_shots_is_in_the_mold_or_went_through_its_film(round_: bool) -> None:
    case = setting(round_=round_)
    fill = case.body_alone.mass.copy()
    body_j = float(fill[1].sum() + 2 * fill[0, 1:].sum())
    size = 8e-3**2 / 2 if round_ else 8e-3
    assert body_j == pytest.approx(VINYL.volumetric * size, rel=1e-12)
    wall = case.cold()
    for _ in range(2):
        before_j = body_j + _heat_j(case.wall_alone.mass, wall)
        state, lost_j = case.march(case.poured(wall), 700.0)
        assert _heat_j(case.closed.mass, state) + lost_j == pytest.approx(before_j, rel=1e-10)
        assert 0 < lost_j < before_j
        wall = state[case.contact :]


def _heat_j(mass: Array, state: Array) -> float:
    """Heat over the room per m² (plane) or per 2π m (round), for a shot 1 K above the room."""
    return float(mass[1] @ state + mass[0, 1:] @ state[:-1] + mass[0, 1:] @ state[1:])


def test_an_open_wall_cools_by_the_first_term_of_its_series() -> None:
    """A plate with a film on both faces, Bi = h w/(2k) = 1, after Fo = 1: Incropera, 6th ed., table 5.1."""
    film = PRINTED.conductivity_w_mk / 5e-3
    case = setting(round_=False, film_w_m2k=film)
    wall = case.rested(np.ones_like(case.cold()), 5e-3**2 / PRINTED.diffusivity)
    middle = float(np.interp(8e-3 + 5e-3, case.nodes[case.contact :], wall))
    assert middle == pytest.approx(1.1191 * np.exp(-(0.8603**2)), rel=1e-3)


@pytest.mark.parametrize("wall", [PRINTED, ALUMINIUM])
def test_errors_fall_with_the_square_of_elements_and_steps(wall: Stuff) -> None:
    times = [setting(wall, fineness=f).open_after_s(1, 0.0)[0] for f in (2, 4, 8, 16)]
    changes = np.abs(np.diff(times))
    orders = np.log2(changes[:-1] / changes[1:])
    assert orders.min() > 1.5 and orders[-1] > 1.7
    assert changes[-1] / times[-1] < 3e-4


@pytest.mark.parametrize("round_", [False, True])
@pytest.mark.parametrize("rest_s", [0.0, 300.0])
def test_perfect_conductors_take_the_times_of_two_lumps(round_: bool, rest_s: float) -> None:
    """Mixing, then exp(−H t/C): own closed form of the periodic cycle for lumps C_b, C_w and films H."""
    wall = replace(PRINTED, conductivity_w_mk=1e6)
    case = setting(wall, body=PERFECT, film_w_m2k=20.0, demold_share=0.2, round_=round_, fineness=4)
    object.__setattr__(case, "body", PERFECT)
    half, back = 8e-3, 18e-3
    body_j = VINYL.volumetric * (half**2 / 2 if round_ else half)
    wall_j = PRINTED.volumetric * ((back**2 - half**2) / 2 if round_ else back - half)
    front_film, back_film = (20.0 * (x if round_ else 1.0) for x in (half, back))
    kept = 0.2 * np.exp(-(front_film + back_film) * rest_s / wall_j)
    mixed = [(body_j + wall_j * left) / (body_j + wall_j) for left in (0.0, kept)]
    expected = [(body_j + wall_j) / back_film * np.log(m / 0.2) for m in mixed]
    first, second, third = case.open_after_s(3, rest_s)
    assert (first, second, third) == pytest.approx((expected[0], expected[1], expected[1]), rel=2e-4)
    assert case.steady_s(rest_s) == pytest.approx(expected[1], rel=2e-4)


@pytest.mark.parametrize("wall", [PRINTED, ALUMINIUM])
@pytest.mark.parametrize("rest_s", [0.0, 300.0])
def test_the_steady_cycle_is_the_limit_of_many_shots(wall: Stuff, rest_s: float) -> None:
    case = setting(wall, fineness=1)
    assert case.steady_s(rest_s) == pytest.approx(case.open_after_s(60, rest_s)[-1], rel=1e-5)


@pytest.mark.parametrize("wall", [PRINTED, ALUMINIUM])
def test_later_shots_open_later_and_rest_makes_them_earlier(wall: Stuff) -> None:
    case = setting(wall, fineness=1)
    times = {rest: [*case.open_after_s(10, rest), case.steady_s(rest)] for rest in (0.0, 120.0, 1200.0)}
    for row in times.values():
        assert row == sorted(row)
        assert row[0] == times[0.0][0]
    assert all(a > b > c for a, b, c in zip(*(row[1:] for row in times.values()), strict=True))


@pytest.mark.slow
@pytest.mark.parametrize("wall", [PRINTED, ALUMINIUM])
def test_the_rest_that_keeps_times_within_a_tenth_does_so_and_no_more(wall: Stuff) -> None:
    case = setting(wall, fineness=1)
    rest, first = case.rest_for_s(1.1), case.open_after_s(1, 0.0)[0]
    assert case.steady_s(rest) / first == pytest.approx(1.1, abs=1e-3)


def test_a_mold_that_loses_no_heat_has_no_steady_cycle() -> None:
    case = setting(fineness=1, film_w_m2k=0.0, demold_share=0.6)
    with pytest.raises(RuntimeError):
        case.steady_s(0.0)
