"""Random molds are read right or the reading asks; and what must not change a reading does not change it.

The whole table is printed by `python -m tests.random_molds --seeds 200`; here a few seeds of it run.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
import yaml

from builder import materials, mesh
from builder.measure import measure
from builder.model import Measurement
from tests.random_molds import KINDS, Outcome, outcome, shortest_spec, table
from tests.shapes import Array, Mold
from tests.shapes_files import Pose, anyhow, binary_stl, closed, mirrored, on_the_bed, triangles
from tests.shapes_random import Case, random_case

SEEDS = (10, 11, 17, 25, 28, 32, 33, 36, 67, 87, 89, 91)
SURE = {"right", "right after a hint"}


@pytest.mark.parametrize("seed", SEEDS)
def test_a_random_mold_is_read_right_or_right_after_the_hint_that_it_asks_for(seed: int) -> None:
    found = outcome(random_case(seed))
    assert found.kind in SURE, f"{found.kind}: {found.features}: {found.note}"


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
    kept = materials.load().reliability
    assert kept is not None
    assert kept.molds == sum(kept.outcomes.values()) >= 200
    assert kept.outcomes["wrong"] == kept.outcomes["crashed"] == 0


# -- what changes nothing --------------------------------------------------------------------------


@cache
def case() -> Case:
    """One bait with a vent, shot through the nose."""
    return random_case(3)


def reading(mold: Mold, pose: Pose, shuffle: int = 0, scale: float = 1.0) -> Measurement:
    """Read the mold in a pose, its facets in another order, its size scaled."""
    rng = np.random.default_rng(shuffle)
    spec = shortest_spec(case())
    contents = [binary_stl(_shuffled(triangles(part) * scale, rng, shuffle > 0)) for part in pose(mold)]
    return measure(spec, [mesh.read(content, "part.stl", "mm") for content in contents]).measurement


def _shuffled(corners: Array, rng: np.random.Generator, wanted: bool) -> Array:
    """The facets in any order, each beginning at any of its corners."""
    if not wanted:
        return corners
    mixed = corners[rng.permutation(len(corners))]
    first = rng.integers(0, 3, len(mixed))
    return np.asarray(mixed[np.arange(len(mixed))[:, None], (first[:, None] + np.arange(3)) % 3])


@cache
def plain() -> Measurement:
    """The mold as it is shot."""
    return reading(case().mold, closed)


def assert_same(found: Measurement, expected: Measurement, scale: float = 1.0) -> None:
    """Volumes, thicknesses, names and counts, all but for rounding and the grid's place."""
    assert [b.name for b in found.baits] == [b.name for b in expected.baits]
    for one, other in zip(found.baits, expected.baits, strict=True):
        assert one.volume_ml == pytest.approx(other.volume_ml * scale**3, rel=2e-3)
        assert one.length_mm == pytest.approx(other.length_mm * scale, rel=2e-3)
        assert one.gates[0].thickness_mm == pytest.approx(other.gates[0].thickness_mm * scale, rel=0.02)
        assert [s.diameter_mm for s in one.sockets] == pytest.approx(
            [s.diameter_mm * scale for s in other.sockets], rel=2e-3
        )
        assert one.thinnest is not None
        assert other.thinnest is not None
        assert one.thinnest.thickness_mm == pytest.approx(other.thinnest.thickness_mm * scale, rel=0.02)
        assert one.thinnest_feeds == other.thinnest_feeds
    counts = [(len(m.bolts), len(m.pins), len(m.vents), len(m.findings)) for m in (found, expected)]
    assert counts[0] == counts[1]


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_turning_and_moving_the_parts_changes_nothing(seed: int) -> None:
    assert_same(reading(case().mold, anyhow(seed)), plain())


@pytest.mark.parametrize("seed", [1, 2])
def test_the_order_of_facets_and_of_their_corners_changes_nothing(seed: int) -> None:
    assert_same(reading(case().mold, closed, shuffle=seed), plain())


@pytest.mark.parametrize("scale", [0.7, 1.4])
def test_scaling_by_s_changes_volumes_by_its_cube_and_lengths_by_itself(scale: float) -> None:
    assert_same(reading(case().mold, on_the_bed, scale=scale), plain(), scale)


def test_a_mirrored_second_half_changes_only_that_it_is_said() -> None:
    found = reading(case().mold, mirrored)
    assert [f.code for f in found.findings if f.code == "reading.mirrored"] == ["reading.mirrored"]
    for one, other in zip(found.baits, plain().baits, strict=True):
        assert one.volume_ml == pytest.approx(other.volume_ml, rel=2e-3)
