"""What walls, printed parts and pins have to say, by the usual values of the table of practice."""

from __future__ import annotations

import dataclasses

import pytest

from builder.advice.parts import of_parts
from builder.model import Finding, Measurement, PartMeasure, Pin, Wall
from builder.spec import material_tables, mold_file
from tests.readings import measured
from tests.shapes_demo import DEMOS, MOLDS

PRACTICE = material_tables.load().practice


@pytest.fixture(scope="module")
def stick() -> Measurement:
    made = mold_file.load(MOLDS / "pond-stick")
    return measured(made, [part.path.read_bytes() for part in made.parts])


def with_part(measurement: Measurement, **changes: object) -> Measurement:
    part: PartMeasure = dataclasses.replace(measurement.parts[0], **changes)  # type: ignore[arg-type]
    return dataclasses.replace(measurement, parts=(part,), walls=(), pins=())


def codes(measurement: Measurement) -> list[str]:
    return [finding.code for finding in of_parts(measurement, PRACTICE)]


def wall(kind: str, thickness_mm: float, other: str = "outside") -> Wall:
    return Wall(
        kind=kind,  # type: ignore[arg-type]
        thickness_mm=thickness_mm,
        from_mm=(0.0, 0.0, 0.0),
        to_mm=(thickness_mm, 0.0, 0.0),
        names=("1", other),
    )


def test_a_sound_demo_mold_has_nothing_to_say(stick: Measurement) -> None:
    assert len(DEMOS) == 4
    assert codes(stick) == []


@pytest.mark.parametrize("kind", ["outside", "cavity", "bolt", "back"])
@pytest.mark.parametrize(
    ("thickness_mm", "level"),
    [(1.0, "warn"), (2.4, "warn"), (2.6, "note"), (3.9, "note"), (4.1, None), (9.0, None)],
)
def test_a_wall_is_judged_by_its_thickness(
    stick: Measurement, kind: str, thickness_mm: float, level: str | None
) -> None:
    thin = dataclasses.replace(stick, walls=(wall(kind, thickness_mm),), parts=(), pins=())
    found = of_parts(thin, PRACTICE)
    assert [(f.level, f.code) for f in found] == ([(level, f"parts.wall_{kind}")] if level else [])
    assert all(f.at_mm == (thickness_mm / 2, 0.0, 0.0) for f in found)


def test_a_wall_that_runs_out_to_nothing_is_said_in_words(stick: Measurement) -> None:
    gone = dataclasses.replace(stick, walls=(wall("back", 0.001),), parts=(), pins=())
    found = of_parts(gone, PRACTICE)
    assert [(f.level, f.code, dict(f.values)) for f in found] == [("warn", "parts.no_wall", {"bait": "1"})]


def test_a_bolt_is_told_by_its_number(stick: Measurement) -> None:
    near: tuple[Finding, ...] = of_parts(
        dataclasses.replace(stick, walls=(wall("bolt", 1.0, "bolt 3"),), parts=(), pins=()), PRACTICE
    )
    assert near[0].values["other"] == "3"


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"overhang_mm2": 4.9}, []),
        ({"overhang_mm2": 120.0}, ["parts.overhang"]),
        ({"smallest_feature_mm": 0.79}, ["parts.thin_feature"]),
        ({"smallest_feature_mm": 0.001}, ["parts.knife_edge"]),
        ({"smallest_feature_mm": 0.81}, []),
        ({"smallest_gap_mm": 0.39}, ["parts.narrow_gap"]),
        ({"smallest_gap_mm": 0.001}, ["parts.touching"]),
        ({"smallest_gap_mm": 0.41}, []),
        ({"flatness_mm": 0.09}, ["parts.uneven"]),
        ({"flatness_mm": 0.07}, []),
        ({"flatness_mm": None, "smallest_gap_mm": None, "smallest_feature_mm": None}, []),
        ({"overhang_mm2": 120.0, "role": "bait"}, []),
    ],
)
def test_a_printed_part_is_judged_by_what_common_printers_do(
    stick: Measurement, changes: dict[str, object], expected: list[str]
) -> None:
    assert codes(with_part(stick, **changes)) == expected


@pytest.mark.parametrize(
    ("clearance_mm", "expected"),
    [(0.0, ["parts.pin_tight"]), (0.1, []), (0.3, []), (0.6, []), (0.8, ["parts.pin_loose"])],
)
def test_a_pin_is_judged_by_its_play(stick: Measurement, clearance_mm: float, expected: list[str]) -> None:
    pin: Pin = dataclasses.replace(stick.pins[0], clearance_mm=clearance_mm)
    assert codes(dataclasses.replace(stick, walls=(), parts=(), pins=(pin,))) == expected
