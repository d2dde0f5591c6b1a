"""Parting faces that wave are read right where they fit each other, and else never without a word."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml

from builder.base import figures
from tests.cad_molds.answers import lay, shortest
from tests.cad_molds.molds import draw
from tests.cad_molds.reader_door import Faults, Measurement, read_folder
from tests.cad_molds.records import Case, Recipe
from tests.cad_molds.run import attempt

pytestmark = pytest.mark.slow


def _drawn(parting: str, wave_mm: float, pose: str) -> Case:
    name = f"{parting} {wave_mm} {pose}"
    return draw(Recipe(name=name, bait="stick", parting=parting, wave_mm=wave_mm, pose=pose, chord=0.03))


@pytest.mark.parametrize("pose", ["closed", "print"])
@pytest.mark.parametrize("wave_mm", [0.03, 0.1, 0.3, 0.8])
def test_waves_that_both_halves_share_are_read_right_at_once(wave_mm: float, pose: str) -> None:
    outcome = attempt(_drawn("waves", wave_mm, pose))
    assert (outcome.kind, outcome.off, outcome.warnings) == ("right at once", (), ()), str(outcome)


@pytest.mark.parametrize("wave_mm", [0.02, 0.06, 0.1])
def test_a_bowed_parting_between_flat_backs_keeps_its_bolts(wave_mm: float) -> None:
    outcome = attempt(_drawn("bowed", wave_mm, "print"))
    assert (outcome.kind, outcome.off, outcome.warnings) == ("right at once", (), ()), str(outcome)


@pytest.mark.parametrize("pose", ["closed", "print"])
@pytest.mark.parametrize("wave_mm", [0.01, 0.03, 0.06, 0.1, 0.2, 0.4])
@pytest.mark.parametrize("parting", ["own waves", "one waved half", "rough"])
def test_faces_that_do_not_fit_are_asked_about_or_the_volume_they_cost_is_in_the_range(
    parting: str, wave_mm: float, pose: str, tmp_path: Path
) -> None:
    drawn = _drawn(parting, wave_mm, pose)
    lay(drawn, tmp_path / "mold", shortest(drawn))
    try:
        read = read_folder(tmp_path / "mold")
    except Faults as faults:
        (problem,) = faults.problems
        assert problem.remedy
        for line in problem.remedy.splitlines()[1:]:
            _moves_on(drawn, line, problem.where.key, tmp_path / "answered")
        return
    _honest(drawn, read)


def _moves_on(drawn: Case, line: str, key: str, folder: Path) -> None:
    """A line that is offered, pasted into mold.yaml, reads the mold or is asked about something else."""
    lay(drawn, folder, {**shortest(drawn), **yaml.safe_load(line.removesuffix("."))})
    try:
        read_folder(folder)
    except Faults as faults:
        assert [problem.where.key for problem in faults.problems] != [key], str(faults)


def test_halves_whose_cavities_lie_outside_are_offered_no_sprue(tmp_path: Path) -> None:
    drawn = _drawn("rough", 0.06, "print")
    lay(drawn, tmp_path / "mold", shortest(drawn))
    with pytest.raises(Faults, match="opens so wide") as caught:
        read_folder(tmp_path / "mold")
    assert "sprue_at_mm" not in str(caught.value)
    assert "the right faces lie on each other" in str(caught.value)


def _honest(drawn: Case, read: Measurement) -> None:
    """Every volume within what the faces are said to cost; all right where nothing is said."""
    (truth,), (bait,) = drawn.truths.baits_ml, read.baits
    said = [finding for finding in read.findings if finding.code == figures.APART]
    off = abs(bait.volume_ml / truth - 1.0)
    if said:
        cost = figures.apart_mm(said) * read.projected_mm2 / 1000.0 / truth
        assert off < cost < read.volume_share
    else:
        assert off < 0.006
        assert (len(read.bolts), len(read.pins), len(read.vents)) == (4, 2, 1)


def test_a_placing_that_leaves_the_halves_apart_is_not_read() -> None:
    drawn = _drawn("rough", 0.2, "closed")
    outcome = attempt(drawn)
    assert outcome.kind == "refused", str(outcome)


@pytest.mark.parametrize("parting", ["own waves", "one waved half"])
def test_low_waves_of_its_own_are_pressed_flat_and_that_is_said(parting: str) -> None:
    outcome = attempt(_drawn(parting, 0.05, "print"))
    assert (outcome.kind, outcome.off, outcome.warnings) == ("right at once", (), (figures.APART,)), str(
        outcome
    )
