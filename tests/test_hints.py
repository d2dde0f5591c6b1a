"""A hint in mold.yaml changes the reading, or is told when the files say otherwise."""

from __future__ import annotations

import json
from dataclasses import asdict, replace

import pytest
import yaml

from builder.base.problems import Faults
from builder.measure.questions import offered, with_told
from builder.model import Hints, Measurement
from tests.shapes_files import on_the_bed
from tests.test_measure import POND, read, spec_of

SPEC = spec_of(POND, 1)


@pytest.fixture(scope="module")
def plain() -> Measurement:
    """What is read without a hint."""
    return read(POND, on_the_bed)


@pytest.mark.slow
def test_a_hinted_vent_is_the_one_that_is_there(plain: Measurement) -> None:
    hints = Hints(vents_at_mm=(plain.vents[0].at_mm,))
    assert read(POND, on_the_bed, replace(SPEC, hints=hints)).vents == plain.vents


@pytest.mark.slow
def test_a_mouth_that_is_not_among_the_hinted_vents_is_none(plain: Measurement) -> None:
    assert plain.sprue is not None
    hints = Hints(vents_at_mm=(plain.sprue.mouth_mm,))
    read_so = read(POND, on_the_bed, replace(SPEC, hints=hints))
    assert read_so.vents == ()
    assert read_so.baits[0].volume_ml > plain.baits[0].volume_ml  # what was a vent is counted to the bait


def test_a_hinted_vent_where_nothing_opens_is_refused_with_the_nearest_mouth() -> None:
    hints = Hints(vents_at_mm=((0.0, 0.0, 99.0),))
    with pytest.raises(
        Faults, match=r"hints.vents_at_mm: nothing opens to the outside at .* the nearest one is at"
    ):
        read(POND, on_the_bed, replace(SPEC, hints=hints))


@pytest.mark.slow
def test_counts_that_differ_are_warned_of_and_the_sprues_direction_is_taken(plain: Measurement) -> None:
    hints = Hints(bolts=4, pins=len(plain.pins), sprue_direction=(0.0, 0.0, -4.0))
    found = read(POND, on_the_bed, replace(SPEC, hints=hints))
    warned = [finding for finding in found.findings if finding not in plain.findings]
    assert [(one.level, one.code) for one in warned] == [("warn", "reading.told_bolts")]
    assert warned[0].values == {"told": "4", "found": "6"}
    assert found.sprue is not None
    assert found.sprue.direction == (0.0, 0.0, -1.0)


EVERY = Hints(
    sprue_at_mm=(-50.0, 0.0, 0.5),
    sprue_direction=(1.0, 0.0, 0.0),
    gates_at_mm=(((-26.0, 0.0, 0.0), (1.0, 0.0, 0.0)),),
    vents_at_mm=((30.0, 0.0, 0.0),),
    ignore_at_mm=((0.0, -38.0, 0.0),),
    bolts=4,
    pins=0,
    eye_mm=3.5,
    pitch_mm=0.25,
)


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("bolts: 6", replace(EVERY, bolts=6)),
        ("sprue_at_mm: [1.00, 2.00, -0.00]", replace(EVERY, sprue_at_mm=(1.0, 2.0, 0.0))),
        (
            "gates: [{at_mm: [3.00, 0.00, 0.00], normal: [0.000, 1.000, 0.000]}]",
            replace(EVERY, gates_at_mm=(((3.0, 0.0, 0.0), (0.0, 1.0, 0.0)),)),
        ),
        (
            "ignore_at_mm: [[5.00, 0.00, 0.00]]",
            replace(EVERY, ignore_at_mm=((0.0, -38.0, 0.0), (5.0, 0.0, 0.0))),
        ),
    ],
)
def test_an_offered_line_keeps_all_hints_that_are_told_already(line: str, expected: Hints) -> None:
    remedy = with_told(EVERY, f"write this:{offered([(line, 'what it is')])}")
    said, whole = remedy.split("\n")
    assert said.endswith("write it in their place:")
    told = yaml.safe_load(whole)["hints"]
    told["gates_at_mm"] = [[one["at_mm"], one["normal"]] for one in told.pop("gates")]
    assert told == dict(json.loads(json.dumps(asdict(expected))).items())
    assert with_told(Hints(), remedy) == remedy
