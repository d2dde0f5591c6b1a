"""Molds drawn by the habits of makers are read right at once, or after the answer to what is asked.

A choice of the molds of tests/cad_molds; all of them: python -m tests.cad_molds.run.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from builder import measure, mesh
from builder.base.problems import Faults, Problem, Where
from builder.measure import noise
from builder.model import PartSpec, Role, Solid
from tests.bench import bench_calibration
from tests.cad_molds.catalogue import RECIPES
from tests.cad_molds.molds import draw
from tests.cad_molds.primitives import stl
from tests.cad_molds.run import CASES, Outcome, attempt
from tests.test_measure import POND, spec_of

pytestmark = pytest.mark.slow

BY_NAME = {recipe.name: recipe for recipe in RECIPES}


def read(name: str) -> Outcome:
    """How a drawn mold came out."""
    return attempt(CASES[name]())


def right_at_once(name: str) -> None:
    """Bait within 0.6 %, feed within 2 %, trunk within 3 %, every count right, and nothing asked."""
    outcome = read(name)
    assert (outcome.kind, outcome.off) == ("right at once", ()), str(outcome)


@pytest.mark.parametrize(
    "name", ["stepped-sprue-flat-shoulder-coarse", "stepped-sprue-straight-land", "twice-stepped-sprue"]
)
def test_a_shoulder_in_the_sprue_is_not_the_outside(name: str) -> None:
    right_at_once(name)


@pytest.mark.parametrize("name", ["nut-traps-counterbores-six", "nozzle-seat"])
def test_a_counterbore_over_a_bolt_hole_or_a_nozzles_seat_still_reads_right(name: str) -> None:
    right_at_once(name)


@pytest.mark.parametrize(
    "name",
    ["overflow-well-behind-vent", "large-overflow-well-behind-deep-vent", "balls-at-the-vents-four"],
)
def test_a_well_or_ball_behind_a_vent_is_no_bait(name: str) -> None:
    right_at_once(name)


def test_two_gates_into_one_bait_are_asked_for_and_right_with_the_answer() -> None:
    assert read("two-gates-one-bait").kind == "right after the first hint"


@pytest.mark.parametrize("name", ["u-slots-and-bolts", "mixed-stepped-u-slots-print"])
def test_open_slots_at_the_edge_are_bolt_holes(name: str) -> None:
    right_at_once(name)


@pytest.mark.parametrize("name", ["dowels-no-bolts", "magnets-pockets"])
def test_blind_holes_across_the_parting_are_dowels_if_slim_and_else_nothing(name: str) -> None:
    right_at_once(name)


@pytest.mark.parametrize("name", ["stepped-parting-draft", "slanted-parting"])
def test_pins_on_every_level_of_the_parting_are_found(name: str) -> None:
    right_at_once(name)


@pytest.mark.parametrize("name", ["swimbait-eyes-cut-as-balls", "jerk-shad-hook-slot-fork"])
def test_eyes_cut_as_balls_are_found_where_there_are_any(name: str) -> None:
    right_at_once(name)


@pytest.mark.parametrize("name", ["chord-0.01-ring-worm", "micro-28-mm"])
def test_the_thinnest_trunk_is_one_of_the_bait_and_not_its_gate(name: str) -> None:
    outcome = read(name)
    assert not [off for off in (*outcome.off, *outcome.notes) if "trunk" in off.what], str(outcome)


@pytest.mark.parametrize("name", ["hollow-halves-drains", "mixed-hollow-nozzle-magnets-book"])
def test_hollows_inside_one_half_are_no_bait(name: str) -> None:
    right_at_once(name)


@pytest.mark.parametrize("name", ["contoured-parting-closed", "all-curved-parting-closed"])
def test_halves_closed_on_a_curved_parting_are_read_as_they_lie(name: str) -> None:
    right_at_once(name)


@pytest.mark.parametrize("name", ["contoured-parting-print", "all-curved-parting-print"])
def test_halves_with_a_curved_parting_that_are_laid_for_printing_are_let_down_on_each_other(
    name: str,
) -> None:
    right_at_once(name)


@pytest.mark.parametrize(
    "name",
    ["shad-with-a-blade", "ejector-pins", "flat-lid", "sprue-in-a-neck", "two-tubes-on-core-pins"],
)
def test_molds_drawn_by_hand_are_read_right_at_once(name: str) -> None:
    """All of them: python -m tests.cad_molds.run."""
    right_at_once(name)


@pytest.mark.parametrize("pose", ["print", "book", "closed"])
def test_both_halves_in_one_file_are_split(pose: str) -> None:
    right_at_once(f"pose-both-in-one-file-{pose}")


def test_halves_in_segments_are_asked_about_and_right_with_the_line_that_is_offered() -> None:
    assert read("segmented-halves-four-files").told == ("parts as offered",)
    assert read("segmented-halves-four-files").kind == "right after the first hint"


@pytest.mark.parametrize("name", ["paddle", "stick", "frog"])
def test_the_stated_range_holds_what_a_coarser_mesh_loses_and_is_not_many_times_wider(name: str) -> None:
    """Truth: the same drawing, ten times finer and more. All of them: tests.bench.bench_calibration."""
    for _, lost, stated in bench_calibration.needed(name, (0.05, 0.5)):
        assert lost <= stated <= 4 * lost


def test_a_mesh_that_is_rough_all_over_is_refused_with_a_sentence_before_it_is_read() -> None:
    """Clean, the same 45 000 triangles are not rough; the noise is 0.05 mm on every vertex."""
    solid = mesh.solid(draw(BY_NAME["swimbait-thin-trunk"]).halves[0].refine_to_length(0.9), "half")
    assert noise.rough_share(solid) < noise.ROUGH_SHARE / 2
    moved = np.random.default_rng(5).normal(0.0, 0.05, solid.vertices.shape)
    rough = Solid(name="half", vertices=solid.vertices + moved, faces=solid.faces)
    vouch = mesh.read(stl(rough.vertices[rough.faces]), "half.stl", "mm")[1]
    parts = tuple(PartSpec(file=f"{k}.stl", path=Path(k), role="half", name=k) for k in "ab")
    spec = replace(spec_of(POND, 1), parts=parts)
    with pytest.raises(Faults, match=r"parts\[0\].file: a.stl is rough on \d+% of its surface"):
        measure.measure(spec, [(rough, vouch), (rough, vouch)])


def test_noise_is_told_as_the_reason_only_where_parts_of_the_mold_do_not_close_for_it() -> None:
    """Noise of 0.01 mm on one half of 45 000 triangles."""
    solid = mesh.solid(draw(BY_NAME["swimbait-thin-trunk"]).halves[0].refine_to_length(0.9), "half")
    moved = np.random.default_rng(5).normal(0.0, 0.01, solid.vertices.shape)
    noisy = Solid(name="half", vertices=solid.vertices + moved, faces=solid.faces)

    def told(key: str, *solids: Solid, role: Role = "half") -> str:
        parts = tuple(PartSpec(file=f"{k}.stl", path=Path(k), role=role, name=k) for k in "ab")
        asked = Faults([Problem(where=Where(file="mold.yaml", key=key), what="they do not meet")])
        return noise.explained(replace(spec_of(POND, 1), parts=parts), solids, asked).problems[0].what

    assert told("parts", solid, noisy).startswith("b.stl is rough on ")
    for unchanged in (
        told("parts", solid, solid),
        told("hints.gates", solid, noisy),
        told("parts", solid, noisy, role="bait"),
    ):
        assert unchanged == "they do not meet"
