"""Whatever is told of a mold that is poured open is told in its words: nobody shoots, presses or bolts it."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from lxml import html

from builder import build
from builder.base.store import Store
from builder.cli import report
from builder.history import compare
from builder.model import MoldRecord, Tables
from builder.release import freeze, leaflet
from builder.site import site_map
from builder.site.catalogue import Catalogue
from tests import small_mold

pytestmark = pytest.mark.slow
"""A mold is read and drawn first."""
OTHERS = {
    "en": r"inject|shoot|\bshots?\b|press (?!plus)|pressure|halves|sprue|runner|\bgate|bolt|\bshut|\bhold\b",
    "de": r"spritz|schuss|schüss|drück|hälften|anguss|verteiler|anschnitt|schraub|zuhalt",
}
"""What only a mold that is shut has."""
PLAIN = r"shot-card\.html|Cup must hold|Hold a burn|\{\w+\}"
"""A file's name, a cup, first aid, and places that sentences are filled at."""


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory, tables: Tables, kept: Path) -> MoldRecord:
    folder = small_mold.write(tmp_path_factory.mktemp("molds"))
    return build.build_mold(folder, tables, Store(kept))


def out_of_place(texts: Iterator[str], language: str) -> list[str]:
    """Those that speak of another kind of mold."""
    return [one for one in texts if re.search(OTHERS[language], re.sub(PLAIN, "", one), re.IGNORECASE)]


def of_page(page: str) -> Iterator[str]:
    """The texts of a page, those that screens read out with them."""
    for element in html.fromstring(page).iter():
        if isinstance(element.tag, str) and element.tag not in ("script", "style"):
            yield from filter(None, (element.text, element.tail, element.get("alt"), element.get("title")))


def of_data(value: object) -> Iterator[str]:
    """The sentences of data, which have blanks; a single word is a name."""
    if isinstance(value, str) and " " in value:
        yield value
    for inner in value.values() if isinstance(value, dict) else value if isinstance(value, list) else ():
        yield from of_data(inner)


@pytest.mark.parametrize("language", OTHERS)
def test_page_and_data_of_an_open_pour_are_in_its_words(
    record: MoldRecord, tables: Tables, language: str
) -> None:
    made = site_map.generate(Catalogue(molds=(record,), tables=tables, colours={}), language)
    page, data = made["molds/small-bar.md"], made["data/molds/small-bar.js"]
    assert isinstance(page, str)
    assert isinstance(data, str)
    _, _, body = page.removeprefix("---\n").partition("---\n")
    assert out_of_place(of_page(body), language) == []
    told = json.loads(data.removeprefix("shotbook.mold(").rstrip(");\n"))
    assert out_of_place(of_data(told), language) == []
    assert {pair["hold"] for pairs in told["w"].values() for pair in pairs.values()} == {None}


@pytest.mark.parametrize("language", OTHERS)
def test_what_a_release_of_an_open_pour_says_is_in_its_words(record: MoldRecord, language: str) -> None:
    order = freeze.Order(notes="", date="2026-03-02", texts=site_map.texts(language))
    first = freeze.version_record(record, order, ())
    figures = {
        name: replace(figure, value=2 * figure.value, low=2 * figure.low, high=2 * figure.high)
        for name, figure in first.figures.items()
    }
    changed = replace(first, changes=compare.changes(figures, first.figures))
    assert len(changed.changes) == len(first.figures)
    texts = (
        leaflet.readme(changed, ["to-print/block.stl", "shot-card.html"], order.texts),
        leaflet.changes(changed, order.texts),
        leaflet.post(changed, order.texts, markdown=False),
        leaflet.post(changed, order.texts, markdown=True),
    )
    assert out_of_place(iter("\n".join(texts).splitlines()), language) == []
    assert out_of_place(of_page(freeze.shot_card(record, order)), language) == []


@pytest.mark.parametrize("language", OTHERS)
def test_the_terminal_tells_an_open_pour_in_its_words(record: MoldRecord, language: str) -> None:
    texts, mold = site_map.texts(language), record.spec
    table = report.table(mold, record.measurement, record.advice, texts)
    found = [*record.advice.findings, *(one for own in record.advice.windows for one in own.findings)]
    checked = report.checked(mold, found, texts)["findings"]
    assert isinstance(checked, list)
    assert out_of_place(iter(table.splitlines()), language) == []
    assert out_of_place((one["text"] for one in checked), language) == []


def test_a_version_frozen_before_has_no_time_to_hold_either(record: MoldRecord) -> None:
    order = freeze.Order(notes="", date="2026-03-02", texts=site_map.texts("en"))
    frozen = freeze.version_record(record, order, ())
    held = record.advice.windows[0].hold_s
    older = replace(frozen, figures={**frozen.figures, "hold": held})
    assert compare.without_hold(older, "open pour").figures == frozen.figures
    assert compare.without_hold(older, "injection").figures["hold"] == held
