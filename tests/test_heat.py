"""Heat: published values, the order of convergence, energy kept, limits and directions."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq
from scipy.special import ellipe

from builder.model import Check
from builder.physics import checks, conduction, heat
from builder.physics.heat import Array, Medium
from builder.spec import material_tables

VINYL = Medium(conductivity_w_mk=0.155, density_kg_m3=960.0, heat_capacity_j_kgk=2000.0)
PRINTED = Medium(conductivity_w_mk=0.155, density_kg_m3=1240.0, heat_capacity_j_kgk=1500.0)
ALUMINIUM = Medium(conductivity_w_mk=167.0, density_kg_m3=2700.0, heat_capacity_j_kgk=896.0)

CHECKS = material_tables.load().checks


def test_there_are_at_least_twenty_values_from_outside() -> None:
    assert len({(check.formula, check.expected) for check in CHECKS}) >= 20


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.name)
def test_our_formulas_give_the_values_of_the_books(check: Check) -> None:
    (result,) = checks.results([check])
    assert result.computed == pytest.approx(check.expected, abs=check.tolerance), check.source


def middle(shape: heat.Shape, wall: Medium, seconds: float, cells: tuple[int, int]) -> float:
    body = conduction.layers(VINYL, wall, 1.5, 40.0, shape, cells=cells)
    return float(body.after(body.hot_inside(), np.asarray(seconds))[0])


def order(coarse: float, fine: float, finest: float) -> float:
    """Observed order of convergence of three solutions on grids that halve each time."""
    return float(np.log2(abs(coarse - fine) / abs(fine - finest)))


@pytest.mark.parametrize("shape", ["plane", "round"])
@pytest.mark.parametrize("wall", [PRINTED, ALUMINIUM], ids=["printed", "aluminium"])
def test_the_solver_converges_with_second_order_in_the_cell_size(shape: heat.Shape, wall: Medium) -> None:
    at = [middle(shape, wall, 10.0, (n, 2 * n)) for n in (12, 24, 48)]
    assert order(*at) == pytest.approx(2.0, abs=0.25)


@pytest.mark.parametrize("wall", [PRINTED, ALUMINIUM], ids=["printed", "aluminium"])
@pytest.mark.parametrize("seconds", [3.0, 10.0, 40.0])
def test_the_solver_agrees_with_the_exact_series_of_a_slab_between_thick_walls(
    wall: Medium, seconds: float
) -> None:
    fourier = float(VINYL.diffusivity * seconds / 0.0015**2)
    exact = float(heat.slab_centre(fourier, float(VINYL.effusivity / wall.effusivity)))
    body = conduction.layers(VINYL, wall, 1.5, 400.0, cells=(40, 80))
    assert float(body.after(body.hot_inside(), np.asarray(seconds))[0]) == pytest.approx(exact, abs=0.002)


@settings(max_examples=25, deadline=None)
@given(
    half=st.floats(0.5, 10.0),
    wall=st.floats(3.0, 40.0),
    seconds=st.floats(0.01, 1e5),
    round_one=st.booleans(),
)
def test_energy_is_conserved_in_the_closed_two_material_problem(
    half: float, wall: float, seconds: float, round_one: bool
) -> None:
    body = conduction.layers(VINYL, PRINTED, half, wall, "round" if round_one else "plane")
    first = body.hot_inside()
    before, after = (
        float((body.capacity * t).sum()) for t in (first, body.after(first, np.asarray(seconds)))
    )
    assert after == pytest.approx(before, rel=1e-6)


def test_with_a_film_the_wall_ends_at_the_temperature_of_the_room() -> None:
    body = conduction.layers(VINYL, PRINTED, 1.5, 10.0, film_w_m2k=10.0)
    assert body.after(body.hot_inside(), np.asarray(1e6)) == pytest.approx(0.0, abs=1e-9)


def test_a_bare_wall_cools_from_both_faces_as_fast_as_half_of_it_from_one() -> None:
    whole = conduction.bare_wall(PRINTED, 1e6, 10.0, film_w_m2k=10.0, cells=(2, 400))
    half = conduction.layers(PRINTED, PRINTED, 2.5, 2.5, film_w_m2k=10.0, cells=(60, 60))
    ones = [np.ones_like(x.capacity) for x in (whole, half)]
    means = [
        float((x.capacity * x.after(one, np.asarray(300.0))).sum() / x.capacity.sum())
        for x, one in zip((whole, half), ones, strict=True)
    ]
    assert means[0] == pytest.approx(means[1], rel=1e-3)


def test_the_face_jumps_to_the_contact_temperature() -> None:
    body = conduction.layers(VINYL, ALUMINIUM, 5.0, 200.0, cells=(400, 400))
    after = body.after(body.hot_inside(), np.asarray(0.05))
    face = float(np.mean(after[body.inner - 1 : body.inner + 1]))
    exact = float(heat.contact_c(1.0, VINYL, 0.0, ALUMINIUM))
    assert face == pytest.approx(exact, abs=0.01)


TRIAL = [
    ("plane", 2.0, PRINTED, (5.9, 8.0, 10.1)),
    ("plane", 6.0, ALUMINIUM, (30.0, 36.0, 41.0)),
    ("round", 4.0, PRINTED, (10.6, 12.8, 14.9)),
    ("round", 14.0, ALUMINIUM, (90.0, 104.0, 116.0)),
]


@pytest.mark.parametrize(("shape", "thickness_mm", "wall", "seconds"), TRIAL)
def test_set_times_are_those_of_an_earlier_independent_march(
    shape: str, thickness_mm: float, wall: Medium, seconds: tuple[float, float, float]
) -> None:
    """Own trial with an implicit march and another printed plastic: within 10 %."""
    share = 85.0 / (np.array([150.0, 165.0, 180.0]) - 25.0)
    found = conduction.set_time_s(thickness_mm, 1.0 if shape == "plane" else 0.0, VINYL, wall, share)
    assert found == pytest.approx(seconds, rel=0.11)


def solved_set_time(shape: heat.Shape, thickness_mm: float, wall: Medium, share: float) -> float:
    body = conduction.layers(VINYL, wall, thickness_mm / 2, 20 * thickness_mm, shape, cells=(50, 80))
    times = np.geomspace(0.05, 3000.0, 4000)
    return float(np.interp(-share, -body.middle(body.hot_inside(), times), times))


@pytest.mark.parametrize("shape", ["plane", "round"])
@pytest.mark.parametrize("wall", [PRINTED, ALUMINIUM], ids=["printed", "aluminium"])
@pytest.mark.parametrize("share", [0.3, 0.6, 0.85])
def test_the_table_of_set_times_agrees_with_the_solver_within_one_percent(
    shape: heat.Shape, wall: Medium, share: float
) -> None:
    flatness = 1.0 if shape == "plane" else 0.0
    exact = solved_set_time(shape, 3.0, wall, share)
    found = float(conduction.set_time_s(3.0, flatness, VINYL, wall, np.asarray(share)))
    assert found == pytest.approx(exact, rel=0.01 if wall is PRINTED else 0.02)


@given(share=st.floats(0.1, 0.9), flatness=st.floats(0.0, 1.0), hotter=st.floats(1.0, 1.5))
def test_a_section_sets_later_when_it_is_thicker_flatter_or_hotter(
    share: float, flatness: float, hotter: float
) -> None:
    def seconds(thickness_mm: float, flat: float, at: float) -> float:
        return float(conduction.set_time_s(thickness_mm, flat, VINYL, PRINTED, np.asarray(at)))

    base = seconds(2.0, flatness, share)
    assert seconds(2.0 * hotter, flatness, share) == pytest.approx(base * hotter**2)
    assert seconds(2.0, min(1.0, flatness * hotter), share) >= base
    assert seconds(2.0, flatness, share / hotter) >= base


def exact_set_s(radius_mm: Callable[[Array], Array], share: float) -> float:
    """When the middle of a section of VINYL in a wall of the same is down to `share`: exact for any outline.

    θ(0, t) = mean over all directions of 1 − exp(−r²/4αt): the Gaussian source of Carslaw & Jaeger §10.3
    integrated over the section.
    """
    direction = np.linspace(0.0, np.pi / 2, 2001)
    squared = (radius_mm(direction) * 1e-3) ** 2

    def excess(seconds: float) -> float:
        left = 1 - np.exp(-squared / (4 * float(VINYL.diffusivity) * seconds))
        return float(np.trapezoid(left, direction) / (np.pi / 2)) - share

    return float(brentq(excess, 1e-3, 1e4))


PROPORTIONS = [1.0, 1.1, 1.25, 1.5, 2.0, 3.0, 5.0, 10.0]


@pytest.mark.parametrize("share", [0.5, 0.6, 0.7])
@pytest.mark.parametrize("wide", PROPORTIONS)
def test_elliptic_sections_set_within_the_range_that_is_carried(wide: float, share: float) -> None:
    def radius(direction: Array) -> Array:
        return np.asarray(wide / np.hypot(np.cos(direction), wide * np.sin(direction)))

    perimeter = 4 * wide * float(ellipe(1 - 1 / wide**2))
    flat = conduction.flatness(np.pi * wide, perimeter, 2.0)
    ratio = exact_set_s(radius, share) / float(
        conduction.set_time_s(2.0, flat, VINYL, VINYL, np.asarray(share))
    )
    assert 0.89 < ratio < 1.11


@pytest.mark.parametrize("share", [0.5, 0.6, 0.7])
@pytest.mark.parametrize("wide", PROPORTIONS)
def test_rectangular_sections_set_later_by_their_corners(wide: float, share: float) -> None:
    def radius(direction: Array) -> Array:
        cos, sin = np.maximum(np.cos(direction), 1e-12), np.maximum(np.sin(direction), 1e-12)
        return np.asarray(np.minimum(wide / cos, 1 / sin))

    flat = conduction.flatness(4 * wide, 4 * (1 + wide), 2.0)
    ratio = exact_set_s(radius, share) / float(
        conduction.set_time_s(2.0, flat, VINYL, VINYL, np.asarray(share))
    )
    assert 0.9 < ratio < 1.3


def profile(shape: heat.Shape, wall: Medium, share: float, elapsed: float) -> float:
    """Share of the thickness still above the set temperature, from the solver."""
    body = conduction.layers(VINYL, wall, 1.0, 40.0, shape, cells=(80, 60))
    seconds = elapsed * solved_set_time(shape, 2.0, wall, share)
    inside: Array = body.after(body.hot_inside(), np.asarray(seconds))[: body.inner]
    at = body.centres_m[: body.inner] * 1e3
    return 1.0 if inside[-1] > share else float(np.interp(-share, -inside, at))


@pytest.mark.parametrize("shape", ["plane", "round"])
@pytest.mark.parametrize("wall", [PRINTED, ALUMINIUM], ids=["printed", "aluminium"])
@pytest.mark.parametrize("share", [0.6, 0.7, 0.8])
def test_the_open_share_of_a_section_is_within_a_tenth_of_the_solver(
    shape: heat.Shape, wall: Medium, share: float
) -> None:
    flatness = 1.0 if shape == "plane" else 0.0
    fourier = conduction.set_fourier(shape, VINYL, wall, np.asarray(share))
    early = float(2 * conduction.skin_rate(VINYL, wall, np.asarray(share)) * np.sqrt(fourier))
    for elapsed in (0.1, 0.3, 0.5, 0.7, 0.9):
        exact = profile(shape, wall, share, elapsed)
        found = float(conduction.open_share(np.asarray(elapsed), early, flatness))
        assert found == pytest.approx(exact, abs=0.1), elapsed


def test_what_has_set_already_takes_no_time() -> None:
    assert float(conduction.set_time_s(3.0, 0.5, VINYL, PRINTED, np.asarray(1.2))) == 0.0
