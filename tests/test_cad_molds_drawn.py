"""The drawn trial molds are sound, and their truths are those of their own facets."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from manifold3d import Manifold
from numpy.typing import NDArray

from tests.cad_molds.baits import BAITS, stick
from tests.cad_molds.by_hand import finished
from tests.cad_molds.catalogue import BY_NAME, RECIPES
from tests.cad_molds.hand_drawings import DRAWINGS
from tests.cad_molds.molds import draw
from tests.cad_molds.poses import angles, turn
from tests.cad_molds.primitives import box, enclosed, lathe, loft, sides, stl, triangles
from tests.cad_molds.records import MM, Case, Recipe


def _few() -> list[str]:
    """Names that together have every bait, way in, parting, extra, pose and unit."""
    seen: set[tuple[str, str]] = set()
    names = []
    for recipe in RECIPES:
        marks = {
            ("bait", recipe.bait),
            ("feed", recipe.feed),
            ("parting", recipe.parting),
            ("pose", recipe.pose),
        }
        marks |= {("unit", recipe.unit)} | {("extra", extra) for extra in recipe.extras}
        if recipe.chord >= 0.05 and not marks <= seen:
            seen |= marks
            names.append(recipe.name)
    return names


FEW = _few()
APART = ("own waves", "one waved half", "rough")
"""Partings whose faces do not fit: closed, they run into each other, and the truth lies between."""
FITTING = [name for name in FEW if BY_NAME[name].parting not in APART]


@cache
def drawn(name: str) -> Case:
    """The case, with coarser facets than in the catalogue: the claims hold at any chord."""
    return draw(replace(BY_NAME[name], chord=0.4))


def open_edges(corners: NDArray[np.float64]) -> int:
    """Directed edges without exactly one neighbour that runs the other way."""
    _, index = np.unique(corners.reshape(-1, 3), axis=0, return_inverse=True)
    faces = index.reshape(-1, 3)
    edges = Counter((int(a), int(b)) for f in faces for a, b in zip(f, np.roll(f, -1), strict=True) if a != b)
    return sum(abs(count - edges.get((b, a), 0)) for (a, b), count in edges.items())


def test_the_catalogue_names_at_least_64_habits_once_each() -> None:
    assert len(RECIPES) >= 64
    assert len(BY_NAME) == len(RECIPES)


@pytest.mark.parametrize("name", sorted(BAITS))
def test_each_bait_is_one_closed_solid_that_begins_at_its_nose(name: str) -> None:
    bait = BAITS[name](0.5)
    assert bait.body.status().name == "NoError"
    assert len(bait.body.decompose()) == 1
    assert bait.body.bounding_box()[0] == pytest.approx(0.0, abs=1e-9)
    assert open_edges(triangles(bait.body)) == 0


def test_an_edge_left_open_is_seen() -> None:
    corners = triangles(box((0, 0, 0), (1, 2, 3)))
    assert open_edges(corners) == 0
    assert open_edges(corners[1:]) == 3


@pytest.mark.parametrize("name", FEW)
def test_each_part_is_closed_and_its_facets_enclose_its_volume(name: str) -> None:
    case = drawn(name)
    for part in case.halves:
        assert part.status().name == "NoError"
        corners = triangles(part)
        assert enclosed(corners) == pytest.approx(part.volume(), rel=1e-9)
        assert all(piece.volume() > 1e-6 for piece in part.decompose())


@pytest.mark.parametrize("name", FEW)
def test_files_enclose_what_the_parts_do_in_their_own_unit(name: str) -> None:
    case = drawn(name)
    parts = sum(part.volume() for part in case.halves)
    filed = sum(enclosed(f.corners * MM[case.true_unit]) for f in case.files if f.role != "bait")
    assert filed == pytest.approx(parts, rel=1e-9)


@pytest.mark.parametrize("name", sorted(set(FEW) - set(FITTING)))
def test_faces_that_do_not_fit_run_into_each_other(name: str) -> None:
    first, second = drawn(name).halves
    assert (first ^ second).volume() > 1.0


@pytest.mark.parametrize("name", FITTING)
def test_closed_parts_do_not_overlap(name: str) -> None:
    parts = drawn(name).halves
    for number, part in enumerate(parts):
        for other in parts[number + 1 :]:
            assert abs((part ^ other).volume()) < 1e-6


@pytest.mark.parametrize("name", FITTING)
def test_what_the_closed_parts_leave_free_is_the_sum_of_the_truths(name: str) -> None:
    case, free = drawn(name), drawn(name).truths.block_ml
    box_of_block = case.halves[0].bounding_box() if len(case.halves) == 3 else None
    for part in case.halves:
        # A core reaches out of the block: only what lies in it fills it.
        inside = (
            part
            if box_of_block is None
            else part ^ box((box_of_block[0], -500, -500), (box_of_block[3], 500, 500))
        )
        free -= inside.volume() / 1000.0
    t = case.truths
    assert sum(t.baits_ml) + t.feed_ml + t.overflow_ml + t.vents_ml + t.other_ml == pytest.approx(
        free, rel=1e-6
    )


@pytest.mark.parametrize("name", FEW)
def test_what_a_file_tells_about_its_placing_closes_the_mold(name: str) -> None:
    case = drawn(name)
    if len(case.files) == 1 and len(case.halves) > 1:
        return  # both halves in one file: nothing to tell
    parts = [*case.halves[:2][::-1], *case.halves[2:]] if "upper first" in BY_NAME[name].pose else case.halves
    for file, part in zip((f for f in case.files if f.role != "bait"), parts, strict=True):
        closed = (file.corners * MM[case.true_unit]) @ turn(*file.turn_deg).T + np.array(file.move_mm)
        np.testing.assert_allclose(closed, triangles(part), atol=1e-9)


@pytest.mark.parametrize("name", FEW)
def test_the_plastic_is_no_narrower_beside_a_gate_than_at_it(name: str) -> None:
    case = drawn(name)
    free = Manifold.batch_hull(list(case.halves))
    for part in case.halves:
        free = free - part
    for gate in case.truths.gates:
        areas = []
        # Just before the gate: a flat nose widens the section at once.
        for along in (-0.007, -0.4, 0.4):
            at = [p + along * n for p, n in zip(gate.at_mm, gate.normal, strict=True)]
            axis = int(np.argmax(np.abs(gate.normal)))
            low, high = np.array(at) - 5.2, np.array(at) + 5.2
            low[axis], high[axis] = at[axis] - 0.005, at[axis] + 0.005
            areas.append((free ^ box(low.tolist(), high.tolist())).volume() / 0.01)
        assert areas[0] <= min(areas[1:]) + 0.02 * areas[0]


def test_a_turned_stick_has_the_volume_of_its_frustums() -> None:
    profile = [(0.0, 2.0), (10.0, 4.0), (30.0, 1.0)]
    chord = 0.05
    count = sides(4.0, chord)
    circle = count / 2 * math.sin(2 * math.pi / count)
    exact = sum(
        circle * (x1 - x0) * (r0 * r0 + r0 * r1 + r1 * r1) / 3 for (x0, r0), (x1, r1) in pairwise(profile)
    )
    assert lathe(profile, chord).volume() == pytest.approx(exact, rel=1e-12)


def test_a_lofted_ellipse_has_the_volume_of_its_prism() -> None:
    count = sides(5.0, 0.05)
    exact = count / 2 * math.sin(2 * math.pi / count) * 5.0 * 3.0 * 20.0
    assert loft([(0.0, 5.0, 3.0), (20.0, 5.0, 3.0)], 0.05).volume() == pytest.approx(exact, rel=1e-12)


def test_a_finer_chord_gives_more_volume_up_to_the_smooth_one() -> None:
    coarse, middle, fine = (stick(chord).body.volume() for chord in (0.5, 0.1, 0.01))
    assert coarse < middle < fine


def test_a_polygon_leaves_its_circle_by_at_most_the_chord() -> None:
    for radius in (0.5, 3.0, 12.0):
        for chord in (0.5, 0.05, 0.01):
            assert radius * (1 - math.cos(math.pi / sides(radius, chord))) <= chord


@pytest.mark.parametrize(
    "given", [(180.0, 0.0, 0.0), (0.0, 180.0, 0.0), (0.0, 90.0, 0.0), (0.0, -90.0, 0.0), (20.0, 30.0, 40.0)]
)
def test_angles_give_the_turn_they_are_taken_from(given: tuple[float, float, float]) -> None:
    np.testing.assert_allclose(turn(*angles(turn(*given))), turn(*given), atol=1e-12)


def test_an_stl_file_holds_the_corners_in_single_precision() -> None:
    corners = triangles(box((0.1, 0.2, 0.3), (10.0, 20.0, 30.0)))
    data = stl(corners)
    assert len(data) == 84 + 50 * len(corners)
    rows = np.frombuffer(data[84:], dtype=np.dtype([("v", "<f4", (4, 3)), ("tag", "<u2")]))
    np.testing.assert_array_equal(rows["v"][:, 1:], corners.astype(np.float32))


def test_a_planted_overlap_changes_the_sum() -> None:
    """A bolt hole through the bait would make the sum of the truths too large: the sum is no tautology."""
    case = drawn("swimbait-thin-trunk")
    hole = box((20, -1, -50), (22, 1, 50))
    free = case.truths.block_ml - sum((part - hole).volume() for part in case.halves) / 1000.0
    t = case.truths
    assert sum(t.baits_ml) + t.feed_ml + t.vents_ml + t.other_ml != pytest.approx(free, rel=1e-6)


def test_recipes_and_cases_are_frozen() -> None:
    with pytest.raises(AttributeError):
        RECIPES[0].name = "other"  # type: ignore[misc]
    assert isinstance(RECIPES[0], Recipe)


@pytest.mark.slow
@pytest.mark.parametrize("name", sorted(DRAWINGS))
def test_a_mold_drawn_by_hand_is_two_whole_halves_that_touch_and_hold_its_plastic(name: str) -> None:
    case = finished(name, DRAWINGS[name])
    lower, upper, *cores = case.halves
    assert (len(lower.decompose()), len(upper.decompose())) == (1, 1)
    assert (lower ^ upper).volume() == pytest.approx(0.0, abs=1e-6)
    solid = (lower.volume() + upper.volume() + sum(core.volume() for core in cores)) / 1000.0
    plastic = sum(case.truths.baits_ml) + case.truths.feed_ml
    assert solid + plastic < case.truths.block_ml + sum(core.volume() for core in cores) / 1000.0
    assert min(case.truths.baits_ml) > 0.5
