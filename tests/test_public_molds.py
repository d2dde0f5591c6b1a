"""The table of public molds is what its command writes, of the files that the catalogue names."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
import yaml

from tests.public_molds import __main__ as command
from tests.public_molds.catalogue import MOLDS
from tests.public_molds.columns import Bounds, hollow_ml
from tests.shapes import ball, box
from tests.shapes_files import triangles

DOWNLOADS = os.environ.get("SHOTBOOK_PUBLIC_MOLDS")
KEPT = yaml.safe_load(command.TABLE.read_text(encoding="utf-8"))


def rows() -> list[command.Row]:
    """The kept table's rows, each with the mold of the catalogue that it is of."""
    return [
        command.Row(
            mold=next(mold for mold in MOLDS if mold.kind == kept["kind"]),
            outcome=kept["outcome"],
            volume_ml=kept["volume_ml"],
            expected_ml=kept["expected_ml"],
        )
        for kept in KEPT["molds"]
    ]


def test_the_kept_table_is_what_the_command_writes_of_the_catalogue_s_files() -> None:
    assert [row.mold for row in rows()] == list(MOLDS)
    written = command.table(rows(), KEPT["read_on"], KEPT["reader"])
    assert written == command.TABLE.read_text(encoding="utf-8")


def test_of_ten_public_molds_and_more_at_least_seven_are_right_and_none_is_wrong() -> None:
    outcomes = [row.outcome for row in rows()]
    assert len(outcomes) >= 10
    assert sum(outcome.startswith("right") for outcome in outcomes) >= 7
    assert set(outcomes) <= {"right", "right after a hint", "refused"}
    for row in rows():
        assert (row.volume_ml is None) == (row.outcome == "refused"), row.mold.kind
        if row.volume_ml is not None:
            assert row.volume_ml == pytest.approx(row.expected_ml, rel=command.SHARE), row.mold.kind


@pytest.mark.slow
def test_columns_measure_the_hollow_between_two_halves_and_leave_the_film_between_them_out() -> None:
    hollow = ball((0.0, 0.0, 0.0), 9.0)
    block = box((-20.0, -20.0, -20.0), (20.0, 20.0, 20.0)) - hollow
    upper, lower = (
        np.asarray(triangles(half), dtype=np.float64) for half in block.split_by_plane((0, 0, 1), 0)
    )
    bounds = Bounds(low=(-19.0, -19.0, -19.0), high=(19.0, 19.0, 19.0))
    found = hollow_ml([upper + np.array([0.0, 0.0, 1e-3]), lower], bounds, (0.0, 0.0, 1.0), 0.1)
    assert found == pytest.approx(hollow.volume() / 1000, rel=1e-3)


@pytest.mark.slow
@pytest.mark.skipif(not DOWNLOADS, reason="SHOTBOOK_PUBLIC_MOLDS names no folder with the public molds")
@pytest.mark.parametrize("row", rows(), ids=lambda row: row.mold.kind)
def test_a_public_mold_is_read_again_as_the_table_tells(row: command.Row) -> None:
    found = command.read(Path(DOWNLOADS or ""), row.mold)
    assert found.outcome == row.outcome, found.reason
    assert found.volume_ml == pytest.approx(row.volume_ml, rel=1e-3)
