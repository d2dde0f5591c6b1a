"""The terminal's table tells every figure in both systems, with its range and where it comes from."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from builder import report, site, units
from builder.model import Finding
from tests.records_for_pages import mold

RECORD = mold()
TEXTS = site.texts("en")


def told(language: str = "en") -> str:
    return report.table(RECORD.spec, RECORD.measurement, RECORD.advice, site.texts(language))


def test_every_figure_stands_in_a_row_with_its_origin() -> None:
    lines = list(report.lines(RECORD.spec, RECORD.measurement, RECORD.advice))
    rows = [
        row
        for row in told().splitlines()
        if re.search(r"(measured in|computed|declared|common practice)", row)
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
