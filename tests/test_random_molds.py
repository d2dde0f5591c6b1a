"""Random molds are read right, or the reading asks.

The whole table is printed by `python -m tests.random_molds --seeds 200`; here a few seeds of it run.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
import yaml

from builder.spec import material_tables
from tests.random_molds import KINDS, Outcome, outcome, shortest_spec, table
from tests.readings import measured
from tests.shapes_files import binary_stl, closed, mirrored, triangles
from tests.shapes_random import random_case

SEEDS = (10, 11, 17, 25, 28, 32, 33, 36, 67, 87, 89, 91)
QUICK = (25,)
SURE = {"right", "right after a hint"}


@pytest.mark.parametrize(
    "seed", [pytest.param(seed, marks=() if seed in QUICK else pytest.mark.slow) for seed in SEEDS]
)
def test_a_random_mold_is_read_right_or_right_after_the_hint_that_it_asks_for(seed: int) -> None:
    found = outcome(random_case(seed), measured)
    assert found.kind in SURE, f"{found.kind}: {found.features}: {found.note}"


@pytest.mark.slow
@pytest.mark.parametrize("seed", [51, 154, 427])
def test_halves_that_curl_and_lie_anyhow_are_laid_flat_and_read_right_at_once(seed: int) -> None:
    case = random_case(seed)
    assert {"warped", "pose anyhow"} <= set(case.features)
    found = outcome(case, measured)
    assert found.kind == "right", f"{found.kind}: {found.hints}: {found.note}"


@pytest.mark.slow
def test_a_smaller_upper_half_is_laid_by_its_holes_where_specks_mar_the_parting_face() -> None:
    case = random_case(399)
    assert {"smaller upper half", "pose on the bed", "warped"} <= set(case.features)
    found = outcome(case, measured)
    assert found.kind == "right", f"{found.kind}: {found.hints}: {found.note}"


def test_a_seed_draws_the_same_mold_again() -> None:
    one, two = random_case(7), random_case(7)
    assert one.features == two.features
    assert one.mold.bait_ml == two.mold.bait_ml


def test_the_table_counts_every_outcome_once() -> None:
    made = [
        Outcome(seed=0, kind="right", features=("comb",), hints=(), worst=0.001, seconds=1.0),
        Outcome(
            seed=1, kind="refused", features=("comb", "vents"), hints=("units",), worst=None, seconds=1.0
        ),
    ]
    told = yaml.safe_load(table(made))
    assert told["outcomes"] == dict.fromkeys(KINDS, 0) | {"right": 1, "refused": 1}
    assert told["features"] == {"comb": {"right": 1, "refused": 1}, "vents": {"refused": 1}}
    assert (told["molds"], told["worst_right_share"]) == (2, 0.001)


def test_the_kept_table_is_of_at_least_200_molds_and_none_is_wrong_without_a_warning() -> None:
    kept = material_tables.load().reliability
    assert kept is not None
    assert kept.molds == sum(kept.outcomes.values()) >= 200
    assert kept.outcomes["wrong"] == kept.outcomes["crashed"] == 0


@pytest.mark.slow
def test_a_mirrored_half_whose_bolts_tell_it_is_read_the_same_and_said() -> None:
    """Its cavity is symmetric, so that it closes unmirrored too; only there the bolts do not meet."""
    case = random_case(3)
    spec = replace(shortest_spec(case), units="mm")  # as the files are written here
    plain, turned = (
        measured(spec, [binary_stl(triangles(part)) for part in pose(case.mold)])
        for pose in (closed, mirrored)
    )
    assert [f.code for f in turned.findings] == ["reading.mirrored"]
    pairs = zip(turned.baits, plain.baits, strict=True)
    assert all(one.volume_ml == pytest.approx(other.volume_ml, rel=1e-3) for one, other in pairs)
    assert all(bolt.through for bolt in turned.bolts)


@pytest.mark.slow
@pytest.mark.parametrize("seed", [20, 22])
def test_a_sprue_from_above_ends_where_it_meets_the_runner(seed: int) -> None:
    """Its plastic is what stands over the runner, and not a half of the runner too."""
    case = random_case(seed)
    assert "sprue from above" in case.features
    found = measured(shortest_spec(case), [binary_stl(triangles(part)) for part in closed(case.mold)])
    feed = case.mold.feed
    runner_mm = -feed.bounding_box()[2]
    over, with_runner = (
        feed.trim_by_plane((0.0, 0.0, 1.0), height).volume() / 1000 for height in (runner_mm, -runner_mm)
    )
    assert found.sprue is not None
    assert found.sprue.volume_ml == pytest.approx(over, rel=0.05)
    assert found.sprue.volume_ml + found.runner.volume_ml == pytest.approx(with_runner, rel=0.02)
