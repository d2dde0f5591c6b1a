"""The terminal's table tells every figure in both systems, with its range and where it comes from."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from builder.base import units
from builder.cli import report
from builder.model import Agreement, Change, Figure, Finding, Fitted, Sourced
from builder.site import site_map
from tests.records_for_pages import mold

RECORD = mold()
TEXTS = site_map.texts("en")


def told(language: str = "en") -> str:
    return report.table(RECORD.spec, RECORD.measurement, RECORD.advice, site_map.texts(language))


def test_every_figure_stands_in_a_row_with_its_origin() -> None:
    lines = list(report.lines(RECORD.spec, RECORD.measurement, RECORD.advice))
    rows = [
        row
        for row in told().splitlines()
        if re.search(r"  (measured|computed|declared|common practice)$", row)
    ]
    assert len(rows) == len(lines) > 20
    for line, row in zip(lines, rows, strict=True):
        both = units.show(line.figure)
        for part in (both.metric.value, both.us.value, both.metric.range, both.us.range):
            assert part.replace("\u00a0", " ").replace("\u2009", " ") in row


def test_columns_line_up() -> None:
    rows = told().splitlines()
    head = next(row for row in rows if row.startswith("What"))
    assert all(
        row[head.index("Value") - 2 : head.index("Value")].strip() == "" for row in rows[rows.index(head) :]
    )


def test_every_bait_is_listed_with_volume_and_weight() -> None:
    lines = list(report.lines(RECORD.spec, RECORD.measurement, RECORD.advice))
    for bait in RECORD.measurement.baits:
        named = {line.name: line.figure for line in lines if line.thing == f"bait {bait.name}"}
        assert named["volume"].low <= bait.volume_ml <= named["volume"].high
        assert named["weight"] in RECORD.advice.amounts[0].bait_g


def test_an_open_pour_has_no_sprue_and_nothing_to_hold() -> None:
    spec = replace(RECORD.spec, kind="open pour")
    measured = replace(RECORD.measurement, kind="open pour", sprue=None)
    things = [(line.thing, line.name) for line in report.lines(spec, measured, RECORD.advice)]
    assert ("shooting", "hold") not in things
    assert not any(thing == "sprue" for thing, _ in things)


def test_findings_come_gravest_first() -> None:
    found = [Finding(level=level, code="cli.sound") for level in ("note", "stop", "warn")]
    assert [line.split(":")[0] for line in report.findings(found, TEXTS)] == ["STOP", "Warning", "Note"]


def test_equal_findings_are_counted_and_a_place_is_told_by_its_coordinates() -> None:
    note = Finding(level="note", code="cli.sound")
    found = [note, note, replace(note, at_mm=(1.25, -0.0, 30.0))]
    assert report.findings(found, TEXTS) == [
        "Note: Nothing to change. (2 ×)",
        "Note: Nothing to change. Place: [1.2, 0.0, 30.0] mm in the closed mold.",
    ]


@pytest.mark.parametrize("language", ["en", "de"])
def test_the_table_has_words_for_everything_in_each_language(language: str) -> None:
    assert "cli." not in told(language)


def test_the_plain_values_hold_the_same_figures() -> None:
    data = report.data(RECORD.spec, RECORD.measurement, RECORD.advice)
    figures = data["figures"]
    assert isinstance(figures, list)
    lines = list(report.lines(RECORD.spec, RECORD.measurement, RECORD.advice))
    assert [figure["value"] for figure in figures] == [line.figure.value for line in lines]
    assert all(figure["low"] <= figure["value"] <= figure["high"] for figure in figures)


def sourced(value: float, low: float, high: float) -> Sourced:
    return Sourced(value=value, low=low, high=high, unit="pa_s", source="test", grade="recalled")


def test_a_fit_tells_table_and_suggestion_side_by_side_with_their_ranges() -> None:
    suggested = Figure(value=4, low=3, high=6, unit="pa_s", because="", origin="computed")
    found = [Fitted(constant="soft.viscosity", table=sourced(8, 1, 20), suggested=suggested, shots=12)]
    agreed = Agreement(shots=12, agreed=9, share=None, by_outcome={"short": (3, 4), "full": (6, 8)})
    text = report.fitted(found, agreed, TEXTS)
    assert text.startswith("Prediction and outcome agree in 9 of 12 logged shots.\n  short: 3 of 4\n")
    row = next(line for line in text.splitlines() if "Viscosity" in line)
    assert re.split("  +", row) == [
        "Viscosity when hot, soft",
        "8.0 Pa·s",
        "1.0–20.0 Pa·s",
        "4.0 Pa·s",
        "3.0–6.0 Pa·s",
        "12",
    ]


def test_without_logged_shots_a_fit_tells_where_to_log_them() -> None:
    nothing = Agreement(shots=0, agreed=0, share=None, by_outcome={})
    assert "shots: in mold.yaml" in report.fitted([], nothing, TEXTS)


def test_a_difference_tells_old_and_new_value_and_what_there_was_not() -> None:
    before = Figure(value=1.5, low=1.5, high=1.5, unit="mm", because="", origin="measured")
    changes = [
        Change(name="thinnest", before=before, after=replace(before, value=2.6, low=2.6, high=2.6)),
        Change(name="shoot", before=None, after=replace(before, value=165, low=165, high=165, unit="c")),
    ]
    rows = [re.split("  +", line) for line in report.changed(changes, TEXTS).splitlines()]
    assert rows[1][1:] == ["1.50 mm (0.059 in)", "2.60 mm (0.102 in)"]
    assert rows[2][1:] == ["none", "165 °C (329 °F)"]
