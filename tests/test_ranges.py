"""The ranges that a reading states hold the truth of the drawing: a sample of `tests.bench.bench_ranges`."""

from __future__ import annotations

import re

import pytest

from tests.bench import bench_ranges
from tests.bench.bench_ranges import Row
from tests.bench.truths import Known, finer, of_random
from tests.shapes_random import random_case

QUANTITIES = ("bait volume", "bait length", "sprue and runner", "bolt hole")


def row(value: float, low: float, high: float, truth: tuple[float, float]) -> Row:
    return Row(generator="one", mold="mold", quantity="size", truth=truth, value=value, low=low, high=high)


def test_the_share_of_a_range_that_is_needed_is_1_where_the_truth_lies_at_its_end() -> None:
    assert row(10.0, 9.0, 12.0, (12.0, 12.0)).used == pytest.approx(1.0)
    assert row(10.0, 9.0, 12.0, (8.5, 8.5)).used == pytest.approx(1.5)
    assert row(10.0, 9.0, 12.0, (9.5, 10.5)).used == 0.0
    assert row(10.0, 9.0, 12.0, (11.0, 13.0)).used == pytest.approx(0.5)


def test_a_bait_drawn_finer_is_larger_and_as_long() -> None:
    coarse = of_random(random_case(3))
    with finer():
        fine = of_random(random_case(3))
    (small, _), (large, _) = coarse["bait volume"][0], fine["bait volume"][0]
    assert 1.001 * small < large < 1.01 * small
    assert fine["bait length"][0] == pytest.approx(coarse["bait length"][0], abs=0.05)


@pytest.mark.slow
@pytest.mark.parametrize("mold", ["swimbait-flat-eyes", "random-3", "flat-lid", "micro-28-mm"])
def test_every_range_of_a_mold_holds_the_truth_of_its_drawing(mold: str) -> None:
    known: Known
    kind, known, measured = (
        bench_ranges.read_random(3) if mold == "random-3" else bench_ranges.read_drawn(mold)
    )
    assert measured is not None, kind
    made = bench_ranges.rows(bench_ranges.generator(mold), mold, known, measured)
    assert {row.quantity for row in made} >= set(QUANTITIES)
    assert [(row.quantity, row.truth, row.value) for row in made if row.used > 1.0] == []


def test_the_kept_table_holds_19_of_20_ranges_of_every_quantity_of_enough_molds() -> None:
    text = bench_ranges.TABLE.read_text(encoding="utf-8").partition(bench_ranges.MARKS[0])[2]
    found = re.findall(r"^\| ([^|]+) \| ([^|]+) \| (\d+) \| (\d+) \|", text, re.M)
    assert {generator for generator, *_ in found} == {"baits alone", "random", "catalogue", "drawn by hand"}
    volumes = [(int(ranges), int(held)) for _, name, ranges, held in found if name == "bait volume"]
    assert all(held >= 0.95 * ranges for ranges, held in volumes)
