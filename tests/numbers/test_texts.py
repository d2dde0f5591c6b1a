"""The texts that travel and the data that anybody may read tell the record's numbers and no others."""

from __future__ import annotations

import hashlib
import io
import json
import math
import re
import zipfile
from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from pathlib import Path

import pytest
from lxml import etree, html

from builder.cli import report
from builder.model import Figure, MoldRecord
from builder.release import bundle, freeze, leaflet
from builder.site import public_data
from tests.numbers import expected, expected_texts, molds, quantity, reading
from tests.numbers.compared import differences
from tests.numbers.conftest import Site
from tests.numbers.expected import Places
from tests.numbers.reading import Found
from tests.numbers.test_pages import SLUGS

ORDER = freeze.Order(notes="Wider tail.", date="2026-03-18", texts=molds.texts("en"))
AT = Places()
STOPPED = AT.say("page.versions.stop")
ATOM = "{http://www.w3.org/2005/Atom}"
RECORDS = {record.spec.slug: record for record in molds.collection(Path("molds")).molds}


def unreleased(slug: str) -> MoldRecord:
    return replace(RECORDS[slug], versions=RECORDS[slug].versions[1:])


def zipped(record: MoldRecord) -> Mapping[str, bytes]:
    """The texts of the zip that a release makes, by name."""
    version = freeze.version_record(record, ORDER, ())
    given = {
        "CHANGES.md": leaflet.changes(version, ORDER.texts).encode(),
        "shot-card.html": freeze.shot_card(record, ORDER).encode(),
        "record.json": public_data.as_json(record).encode(),
    }
    archive = zipfile.ZipFile(io.BytesIO(bundle.zip_of(version, given, ORDER.texts)))
    root = f"{record.spec.slug}-{record.spec.version}/"
    return {name.removeprefix(root): archive.read(name) for name in archive.namelist()}


@pytest.mark.parametrize("slug", SLUGS)
def test_the_zips_readme_tells_the_records_numbers_and_no_others(slug: str) -> None:
    found = list(reading.lines(zipped(unreleased(slug))["README.txt"].decode()))
    assert differences(found, expected_texts.leaflet(RECORDS[slug], AT, warned=True)) == []


@pytest.mark.parametrize("slug", SLUGS)
@pytest.mark.parametrize("markdown", [True, False])
def test_a_post_tells_the_records_numbers_and_no_others(slug: str, *, markdown: bool) -> None:
    version = freeze.version_record(unreleased(slug), ORDER, ())
    found = list(reading.lines(leaflet.post(version, ORDER.texts, markdown=markdown)))
    assert differences(found, expected_texts.leaflet(RECORDS[slug], AT)) == []


def test_the_zips_changes_tell_the_number_before_and_the_number_now() -> None:
    record = unreleased("test-minnow")
    before = record.versions[0].figures
    now = expected_texts.version_numbers(record)
    rows = {
        cells[1]: cells[2:4]
        for line in zipped(record)["CHANGES.md"].decode().splitlines()
        if len(cells := [cell.strip() for cell in line.split("|")]) == 5
    }
    head, *_ = rows
    del rows[head], rows["---"]
    changed = [name for name in (*now, *before) if name != "cavities"]
    assert list(rows) == [AT.say(f"release.number.{name}") for name in dict.fromkeys(changed)]
    for name in changed:
        for cell, wanted in zip(
            rows[AT.say(f"release.number.{name}")], (before.get(name), now[name]), strict=True
        ):
            what = quantity.bare(wanted) if isinstance(wanted, Figure) else wanted
            faults = quantity.faults(cell, what) if what else [] if cell == AT.say("release.none") else [cell]
            assert faults == [], name


@pytest.mark.parametrize("slug", SLUGS)
def test_the_zips_shot_card_tells_the_records_numbers_and_no_others(slug: str) -> None:
    found = reading.page(zipped(unreleased(slug))["shot-card.html"].decode())
    assert differences(found, expected_texts.card(RECORDS[slug], AT)) == []


def test_the_zips_sums_are_those_of_its_files() -> None:
    files = zipped(unreleased("test-minnow"))
    told = dict(line.split(maxsplit=1)[::-1] for line in files["SHA256SUMS"].decode().splitlines())
    others = {name: data for name, data in files.items() if name != "SHA256SUMS"}
    assert told == {name: hashlib.sha256(data).hexdigest() for name, data in others.items()}


@pytest.mark.parametrize("slug", SLUGS)
def test_the_terminal_tells_the_records_numbers_and_no_others(slug: str) -> None:
    record = RECORDS[slug]
    rows = report.table(record.spec, record.measurement, record.advice, ORDER.texts).splitlines()
    head = next(number for number, row in enumerate(rows) if row.startswith(AT.say("cli.head.what")))
    starts = [rows[head].index(AT.say(f"cli.head.{one}")) for one in ("value", "range", "us", "origin")]
    told = [cells(row, [0, *starts]) for row in rows[head + 1 :] if row[starts[0] :].strip()]
    wanted = list(expected_texts.terminal(record))
    assert len(told) == len(wanted)
    for (name, text, origin), (_, row, what, comes) in zip(told, wanted, strict=True):
        assert name.startswith(AT.of(record).say(f"cli.row.{row}"))
        assert quantity.faults(text, what) == [], name
        assert origin == AT.say(f"page.origin.{comes}")


def cells(row: str, starts: list[int]) -> tuple[str, str, str]:
    """Name, the figure's line, and origin of a row of the report."""
    ends = [*starts[1:], len(row)]
    name, value, span, american, origin = (row[a:b].strip() for a, b in zip(starts, ends, strict=True))
    metric = f"{value} [{span}]" if span else value
    us = re.sub(r" \((.*)\)$", r" [\1]", american)
    return name, f"{metric} ({us})" if us else metric, origin


@pytest.mark.parametrize("slug", SLUGS)
def test_the_terminals_plain_values_are_the_records(slug: str) -> None:
    record = RECORDS[slug]
    data = report.data(record.spec, record.measurement, record.advice)
    m, told = record.measurement, data["figures"]
    counts = (len(m.baits), len(m.bolts), len(m.pins), len(m.vents))
    assert tuple(data[name] for name in ("cavities", "bolts", "pins", "vents")) == counts
    assert isinstance(told, list)
    for one, (thing, name, what, origin) in zip(told, expected_texts.terminal(record), strict=True):
        assert (one["thing"], one["name"], one["unit"], one["origin"]) == (thing, name, what.unit, origin)
        numbers = [what.value, what.low, what.high]
        assert [one["value"], one["low"], one["high"]] == pytest.approx(numbers, rel=1e-12)


@pytest.mark.parametrize("slug", SLUGS)
def test_the_published_record_holds_every_number_to_seven_digits(site: Site, slug: str) -> None:
    record = next(one for one in site.made.molds if one.spec.slug == slug)
    told = json.loads(site.text(f"data/molds/{slug}.json"))
    files = [{"name": d.name, "size_bytes": d.size_bytes, "sha256": d.sha256} for d in record.downloads]
    assert told.pop("files") == files
    assert unlike(record.measurement, told.pop("measurement")) == []
    assert unlike(record.advice, told.pop("advice")) == []
    assert unlike(record.made_by, told.pop("made_by")) == []
    stopped, code = told.pop("stop"), expected.stop_code(record.advice.windows[0])
    assert (stopped or {"code": ""})["code"] == code
    if code == "stop.too_cold":
        assert unlike(expected.lowest_limit(record.advice.windows[0]), stopped["values"]["limit"]) == []
    assert (told.pop("despite"), told.pop("withdrawn")) == ("", "")
    assert unlike(record.spec.maker, told.pop("maker")) == []
    assert told == {name: like(getattr(record.spec, name)) for name in told}
    assert {"cavities", "version", "kind", "plastisol"} <= set(told)


def like(value: object) -> object:
    return list(value) if isinstance(value, tuple) else value


def unlike(value: object, told: object, place: str = "") -> list[str]:
    """Where JSON differs from a record."""
    if is_dataclass(value):
        value = {one.name: getattr(value, one.name) for one in fields(value)}
    if isinstance(value, Mapping):
        assert isinstance(told, dict)
        keys = [] if set(told) == set(value) else [f"{place}: {set(told) ^ set(value)}"]
        return keys + [fault for key in told for fault in unlike(value.get(key), told[key], f"{place}.{key}")]
    if isinstance(value, tuple):
        assert isinstance(told, list)
        pairs = enumerate(zip(value, told, strict=True))
        return [fault for index, (one, other) in pairs for fault in unlike(one, other, f"{place}.{index}")]
    if isinstance(value, float):
        alike = isinstance(told, float | int) and math.isclose(value, told, rel_tol=5.1e-7)
        return [] if alike else [f"{place}: {told} instead of {value}"]
    return [] if value == told else [f"{place}: {told!r} instead of {value!r}"]


def test_the_feed_tells_each_version_with_its_day_and_its_address(site: Site) -> None:
    feed = etree.fromstring(site.text("feed.xml").encode())
    versions = next(one for one in site.made.molds if one.spec.slug == "test-minnow").versions
    told = [
        tuple(entry.findtext(f"{ATOM}{name}") for name in ("title", "id", "updated", "summary"))
        for entry in feed.iter(f"{ATOM}entry")
    ]
    address = "https://example.org/molds/test-minnow/v{}.html"
    assert told == [
        (
            f"{v.title} {v.version}",
            address.format(v.version),
            f"{v.date}T00:00:00Z",
            f"{STOPPED} {v.notes}" if v.stop else v.notes,
        )
        for v in versions
    ]
    assert feed.findtext(f"{ATOM}updated") == f"{versions[0].date}T00:00:00Z"
    links = [link.get("href") for link in feed.iter(f"{ATOM}link")]
    assert links[2:] == [address.format(v.version) for v in versions]
    assert re.findall(r"\d+", "".join(links[:2])) == []


@pytest.mark.parametrize("slug", SLUGS)
def test_the_structured_data_tells_version_licence_and_files(site: Site, slug: str) -> None:
    record = next(one for one in site.made.molds if one.spec.slug == slug)
    page = html.document_fromstring(site.text(f"molds/{slug}.html"))
    (script,) = page.xpath("//script[@type='application/ld+json']")
    told, address = json.loads(script.text), f"https://example.org/molds/{slug}"
    numbers = {name: told[name] for name in told if re.search(r"\d", json.dumps(told[name]))}
    assert numbers == {
        "@type": "3DModel",
        "version": record.spec.version,
        "license": f"https://spdx.org/licenses/{record.spec.licence}.html",
        "encoding": [
            {"@type": "MediaObject", "contentUrl": f"{address}/{d.name}", "sha256": d.sha256}
            for d in record.downloads
        ],
    }


def test_a_line_that_tells_an_unknown_number_is_found() -> None:
    found = [Found(" | Bait length", "104 mm (4.09 in)"), Found(" | line", "14 spoons")]
    assert differences(found, [(" | Bait length", quantity.exact(104.0, "mm"))]) != []
