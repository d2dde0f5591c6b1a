"""The generated site as data: every address a mold needs, no path of the machine, both languages whole."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import jsonschema
import pytest

from builder.base import serialize
from builder.base.contained import Checked
from builder.base.texts import Texts
from builder.model import MoldRecord, Request, Version
from builder.site import offline, public_data, site_map
from builder.site.catalogue import Catalogue, load_colours
from builder.site.place import Place
from builder.spec import material_tables
from tests.measurement_for_pages import figure
from tests.records_for_pages import SENTENCES, mold

FOLDER = Path("/somewhere/on/this/machine")


READ = site_map.texts


@cache
def real_texts(language: str) -> Texts:
    texts = READ(language)
    return Texts(language=language, entries={**texts.entries, **SENTENCES})


@pytest.fixture(autouse=True)
def sentences_of_the_invented_record(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(site_map, "texts", real_texts)


def generated(
    *records: MoldRecord, language: str = "en", requests: tuple[Request, ...] = ()
) -> dict[str, str]:
    """Everything generated that is text."""
    found = site_map.generate(
        Catalogue(molds=records, tables=material_tables.load(), colours=load_colours(), requests=requests),
        language,
        Place(root="https://example.org/"),
    )
    return {uri: thing for uri, thing in found.items() if isinstance(thing, str)}


def version(number: int, withdrawn: str = "") -> Version:
    record = mold(folder=FOLDER)
    return Version(
        slug="test-minnow",
        version=str(number),
        order=number,
        date=f"2026-01-0{number}",
        title="Test minnow",
        summary="",
        author="",
        licence="CC0-1.0",
        notes=f"notes & news {number}",
        figures={"bait_length": figure(104.0, "mm")},
        changes=(),
        pictures=(),
        assets=record.assets,
        downloads=() if withdrawn else record.downloads,
        withdrawn=withdrawn,
    )


def test_a_mold_has_its_page_card_code_data_and_files() -> None:
    found = site_map.generate(
        Catalogue(molds=(mold(folder=FOLDER),), tables=material_tables.load(), colours=load_colours())
    )
    wanted = {
        "molds/test-minnow.md",
        "cards/test-minnow.svg",
        "data/molds/test-minnow.js",
        "data/molds/test-minnow.json",
        "molds/test-minnow/a.stl",
        "molds/test-minnow/open-400.webp",
    }
    assert wanted <= set(found)
    offered = found["molds/test-minnow/a.stl"]
    assert isinstance(offered, Checked)
    assert (offered.folder / offered.file, offered.sha256) == (FOLDER / "test-minnow" / "a.stl", "ab" * 32)


def test_what_is_fetched_ahead_has_each_page_and_the_smallest_size_of_each_picture() -> None:
    catalogue = Catalogue(molds=(mold(folder=FOLDER),), tables=material_tables.load(), colours=load_colours())
    ahead = offline.ahead(site_map.generate(catalogue))
    wanted = {
        "index.md",
        "bench.md",
        "card.html",
        "data/index.js",
        "molds/test-minnow.md",
        "cards/test-minnow.svg",
    }
    assert wanted <= set(ahead)
    pictures = {uri for uri in ahead if uri.endswith(".webp")}
    assert pictures == {f"molds/test-minnow/{p.files[min(p.files)]}" for p in mold().pictures}
    assert not [uri for uri in ahead if uri.endswith((".stl", "-turn.js"))]


def test_of_a_catalogue_too_large_the_first_molds_are_fetched_ahead_whole() -> None:
    large = "x" * (offline.OFFLINE_BYTES // 3)
    molds = {f"molds/m{n}.md": large for n in range(9)} | {f"data/molds/m{n}.js": "y" for n in range(9)}
    ahead = offline.ahead({**molds, "index.md": "all of them"})
    assert set(ahead) == {
        "index.md",
        *(f"{kind}" for n in (0, 1) for kind in (f"molds/m{n}.md", f"data/molds/m{n}.js")),
    }


def test_no_text_of_the_site_tells_where_it_was_built() -> None:
    texts = generated(replace(mold(folder=FOLDER), versions=(version(1),)))
    assert [uri for uri, text in texts.items() if str(FOLDER) in text] == []


def test_each_version_keeps_an_address_and_the_feed_tells_the_newest_first() -> None:
    texts = generated(replace(mold(folder=FOLDER), versions=(version(2), version(1, "It cracked."))))
    assert "molds/test-minnow/v1.md" in texts
    assert "It cracked." in texts["molds/test-minnow/v1.md"]
    assert re.findall(r"<id>https://example.org/molds/test-minnow/v(\d).html</id>", texts["feed.xml"]) == [
        "2",
        "1",
    ]
    assert "notes &amp; news 2" in texts["feed.xml"]


def test_a_renamed_mold_is_still_found_under_its_old_name() -> None:
    record = mold(folder=FOLDER)
    texts = generated(replace(record, spec=replace(record.spec, renamed_from=("old-minnow",))))
    assert 'http-equiv="refresh" content="0; url=test-minnow.html"' in texts["molds/old-minnow.html"]


def test_a_request_leads_to_the_mold_that_came_of_it() -> None:
    asked = Request(asked="A slim one", date="2026-01-01", state="done", mold="test-minnow")
    text = generated(mold(folder=FOLDER), requests=(asked,))["requests.md"]
    assert '<a href="molds/test-minnow.html">' in text


def test_the_catalogue_is_shared_out_over_pages_that_lead_to_each_other(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(site_map, "PER_PAGE", 2)
    texts = generated(*[mold(f"mold-{n}", FOLDER, f"Mold {n}") for n in range(3)])
    assert 'rel="next" href="catalogue/2.html"' in texts["index.md"]
    assert 'rel="prev" href="../index.html"' in texts["catalogue/2.md"]
    assert texts["index.md"].count("<article") == 2
    assert texts["catalogue/2.md"].count("<article") == 1


def test_the_published_record_reads_by_its_schema_and_keeps_its_numbers() -> None:
    texts = generated(mold(folder=FOLDER))
    data = json.loads(texts["data/molds/test-minnow.json"])
    schema = json.loads(texts["data/mold.schema.json"])
    assert list(jsonschema.Draft202012Validator(schema).iter_errors(data)) == []
    assert data["measurement"]["baits"][0]["volume_ml"] == 8.5
    assert data["advice"]["amounts"][0]["shot_ml"]["unit"] == "ml"


def test_a_published_number_keeps_seven_digits() -> None:
    assert (
        serialize.text({"a": [123456789.123, 2.0 / 3.0]}, public_data.DIGITS)
        == '{"a":[123456800.0,0.6666667]}'
    )


def test_the_offline_worker_keeps_pages_and_data_but_no_large_file() -> None:
    texts = generated(mold(folder=FOLDER))
    kept = json.loads(re.search(r"const FILES = (\[.*?\]);", texts["sw.js"], re.S).group(1))  # type: ignore[union-attr]
    assert {"index.html", "bench.html", "molds/test-minnow.html", "data/molds/test-minnow.js"} <= set(kept)
    assert not [uri for uri in kept if uri.endswith(".stl")]


def test_the_offline_worker_changes_when_anything_that_it_keeps_does() -> None:
    record = mold(folder=FOLDER)
    renamed = replace(record, spec=replace(record.spec, title="Another name"))
    assert generated(record)["sw.js"] != generated(renamed)["sw.js"]


def test_a_script_is_never_ended_by_what_a_maker_wrote() -> None:
    record = mold(folder=FOLDER, title="</script><b>")
    texts = generated(record)
    assert "</script><b>" not in texts["data/molds/test-minnow.js"]
    assert "</script><b>" not in texts["molds/test-minnow.md"]


def test_german_pages_hold_no_english_sentence_of_the_language_file() -> None:
    english, german = real_texts("en").entries, real_texts("de").entries
    told = generated(mold(folder=FOLDER), language="de")["molds/test-minnow.md"]
    same = {text for key, text in german.items() if english[key] == text}
    sentences = [t for k, t in english.items() if k.startswith("page.") and len(t) > 40 and t not in same]
    assert [sentence for sentence in sentences if "{" not in sentence and sentence in told] == []


def test_every_name_that_pages_show_is_in_the_language_file() -> None:
    tables, entries = material_tables.load(), real_texts("en").entries
    wanted = [f"plastisol.{one.id}" for one in tables.plastisols]
    wanted += [f"material.{one.id}" for one in tables.mold_materials]
    wanted += [f"value.{name}" for one in tables.plastisols for name in one.values]
    wanted += [f"value.{name}" for one in tables.mold_materials for name in one.values]
    wanted += [f"value.{name}" for name in tables.practice]
    wanted += [f"colour.{name}" for name in load_colours()]
    wanted += [f"ingredient.{one.what}" for listed in load_colours().values() for one in listed]
    assert [key for key in wanted if key not in entries] == []
