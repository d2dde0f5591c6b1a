"""Pages say all that a stranger needs: each number in both systems with its origin, nothing unescaped."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache

import pytest
import yaml

from builder.base import units
from builder.base.texts import Texts
from builder.model import Finding, MoldRecord, Picture, Version
from builder.site import plots, site_map
from builder.site.pages import CollectionPages, MoldPages, Words
from tests.advice_for_pages import window
from tests.measurement_for_pages import figure
from tests.records_for_pages import SENTENCES, mold

SECTIONS = ["print", "bolt", "shoot", "cool", "wrong", "files", "details"]
SAME_EVERYWHERE = re.compile(r"^[\d.∞–() ]+(\u00a0(s|min|h|%)[^a-z]*)*$")


@cache
def words(language: str = "en") -> Words:
    texts = site_map.texts(language)
    return Words(Texts(language=language, entries={**texts.entries, **SENTENCES}))


def page(record: MoldRecord) -> str:
    return MoldPages(words()).mold(record)


def open_pour() -> MoldRecord:
    record = mold()
    spec = replace(record.spec, kind="open pour")
    return replace(record, spec=spec, measurement=replace(record.measurement, kind="open pour", sprue=None))


def shut() -> MoldRecord:
    record = mold()
    own = window("medium", "pla", works=False)
    return replace(record, advice=replace(record.advice, windows=(own, *record.advice.windows[1:])))


def test_a_mold_page_has_every_section_in_the_order_of_the_work() -> None:
    assert re.findall(r'^<h2 id="(\w+)">.*</h2>$', page(mold()), re.M) == SECTIONS


def numbers(text: str) -> list[str]:
    return re.findall(r"<var[^>]*>(.*?)</var>", text)


def test_every_number_is_told_in_metric_and_us() -> None:
    told = [text.replace("\u202f", " ").replace("\u2009", " ") for text in numbers(page(mold()))]
    told.remove(words().texts.say("page.cool.rest_none"))
    assert len(told) > 40
    assert [text for text in told if " · " not in text and not SAME_EVERYWHERE.match(text)] == []


def test_every_number_tells_its_origin() -> None:
    none = words().texts.say("page.cool.rest_none")
    origins = {
        words().texts.say(f"page.origin.{one}")
        for one in ("measured", "computed", "declared", "common practice")
    }
    told = re.findall(r'<var(?:[^>]*? title="([^"]*)")?[^>]*>(.*?)</var>', page(mold()))
    assert [text for origin, text in told if origin not in origins] == [none]
    assert {origin for origin, _ in told} - {""} == origins


def test_what_the_maker_wrote_is_text_and_never_markup() -> None:
    head, text = page(mold()).removeprefix("---\n").split("\n---\n", 1)
    assert yaml.safe_load(head)["title"] == "Test minnow <& co>"
    assert "<& co>" not in text
    assert "Test minnow &lt;&amp; co&gt;" in text
    assert "*not* bold &amp; not &lt;b&gt;" in text


def test_an_open_pour_page_pours_and_never_speaks_of_bolts_or_pressing() -> None:
    text = page(open_pour())
    assert words().say("page.bolt.open") in text
    assert 'data-n="w.hold"' not in text
    assert "thin stream" in text


SHUT_ONLY = r"injector|halves|\bshut\b|\bshots?\b|sprue|runner|nozzle|\bbolts?\b|\bclamp|\bpress"
"""Words of molds that are shot shut."""


def test_an_open_pour_page_has_no_word_of_a_mold_that_is_shot_shut() -> None:
    """Folded texts and the findings of the record, which stand for themselves, are left out."""
    left_out = r"<(details|nav|script).*?</\1>|<(ol|ul) class=\"sb-(wrong|findings)\".*?</\2>|---.*?---"
    unfolded = re.sub(left_out, "", page(open_pour()), flags=re.S)
    read = re.sub(r"<[^>]*>", " ", unfolded)
    assert re.findall(rf"(?i)[^.]*(?:{SHUT_ONLY})[^.]*", read) == []


def test_a_shut_window_is_told_and_its_step_is_hidden() -> None:
    text = page(shut())
    assert re.search(r'<p class="sb-stop" data-shut>No temperature both fills', text)
    assert re.search(r"<li data-open hidden>Shoot at", text)


def test_cautions_stand_in_the_steps_where_they_are_needed() -> None:
    steps = page(mold()).partition('id="shoot"')[2].partition('id="cool"')[0]
    for needed in ("safety data sheet", "Face shield", "must be dry", "sharp smell", "Never lean over"):
        assert needed in steps


def test_instructions_name_no_heat_source_of_a_kitchen() -> None:
    """Cautions do, to keep plastisol out of it."""
    told = re.sub(r'<ul class="sb-cautions".*?</ul>', "", page(mold()), flags=re.S)
    said = set(re.findall(r"[a-z]+", re.sub(r"<[^>]*>", " ", told).lower()))
    assert not said & {"microwave", "oven", "stove", "pan", "pot", "kitchen"}


def test_findings_that_read_the_same_stand_once() -> None:
    record = mold()
    doubled = replace(record, advice=replace(record.advice, findings=record.advice.findings * 2))
    assert page(doubled).count("sb-warn") == page(record).count("sb-warn") == 1


def test_the_card_tells_both_systems_and_leads_to_the_page() -> None:
    text = MoldPages(words()).card(mold(), "", "test-minnow.svg")
    assert "°C" in text
    assert "°F" in text
    assert '<img src="test-minnow.svg"' in text
    assert text.count("<tr>") == 2 + 5 + 4, "amounts for five batches, times of four shots"


def version(withdrawn: str = "") -> Version:
    return Version(
        slug="test-minnow",
        version="1",
        order=1,
        date="2026-01-02",
        title="Test minnow",
        summary="",
        author="",
        licence="CC0-1.0",
        notes="first",
        figures={"bait_length": figure(104.0, "mm")},
        changes=(),
        pictures=(),
        assets=mold().assets,
        downloads=() if withdrawn else mold().downloads,
        withdrawn=withdrawn,
    )


def test_an_old_version_names_the_newer_one_and_a_withdrawn_one_offers_no_file() -> None:
    old, new = version(), replace(version(), version="2", order=2)
    pages = CollectionPages(words())
    assert "A newer version exists: 2." in pages.version(old, (new, old))
    told = pages.version(version("The hot nozzle jumps off."), (new,))
    assert "The hot nozzle jumps off." in told
    assert "download" not in told.partition('id="files"')[2]


def test_every_picture_of_a_version_has_a_caption_of_its_kind() -> None:
    told = Finding(level="note", code="test.note")
    names = ("open", "closed", "cut-thinnest", "changed_bait", "shot", "unheard of")
    pictures = tuple(
        Picture(name=name, files={400: f"{name}.webp"}, width_px=400, height_px=300, alt=told)
        for name in names
    )
    page = CollectionPages(words()).version(replace(version(), pictures=pictures), (version(),))
    captions = [
        words().say(f"page.caption.{key}")
        for key in ("open_plain", "closed", "cut_thinnest", "changed", "shot", "other")
    ]
    assert [page.count(f"<figcaption>{one}</figcaption>") for one in captions] == [1] * len(names)


def test_the_window_is_drawn_inside_its_frame() -> None:
    plot = mold().advice.windows[0].plot
    assert plot is not None
    drawn = plots.window_svg(replace(plot, mold_limit_c=figure(260, "c")), words().texts)
    numbers = [
        float(n) for pair in re.findall(r'points="([^"]*)"', drawn) for n in re.findall(r"[\d.]+", pair)
    ]
    assert max(numbers[0::2]) <= plots.WIDTH - plots.RIGHT
    assert min(numbers[1::2]) >= plots.TOP
    assert "Mold stands" not in drawn


def test_the_thinnest_station_survives_the_thinning_of_a_line() -> None:
    path = mold().measurement.baits[0].paths[0]
    many = [replace(path.stations[0], s_mm=float(s), thickness_mm=5.0) for s in range(500)]
    many[333] = replace(many[333], thickness_mm=1.5)
    assert min(s.thickness_mm for s in plots.thinned(many)) == 1.5
    assert len(plots.thinned(many)) <= plots.MOST_STATIONS


@pytest.mark.parametrize("language", ["en", "de"])
def test_a_page_is_whole_in_every_language(language: str) -> None:
    text = MoldPages(words(language)).mold(mold())
    wanted = words(language)
    assert all(wanted.say(f"page.{section}.head") in text for section in SECTIONS)
    assert ("8,5" in text) == (language == "de")


def test_a_picture_brings_its_sizes_and_its_description() -> None:
    record = mold()
    picture: Picture = record.pictures[0]
    text = page(record)
    assert f'width="{picture.width_px}" height="{picture.height_px}"' in text
    assert 'srcset="test-minnow/open-400.webp 400w, test-minnow/open-1200.webp 1200w"' in text
    assert 'alt="Nothing to do."' in text


def test_a_spread_is_written_with_the_digits_that_it_allows() -> None:
    assert (
        units.line(figure(24.4, "ml")).replace("\u00a0", " ")
        == "24.4 mL (22.4–26.4) · 0.825 fl oz (0.759–0.891)"
    )
