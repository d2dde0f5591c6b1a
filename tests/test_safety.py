"""Each caution has a source and a sentence in each language, and stands at the step where it is needed."""

from __future__ import annotations

import re
from functools import cache
from html import unescape
from pathlib import Path
from typing import get_args

import numpy as np
import pytest
import yaml

from builder.base.problems import Faults
from builder.base.texts import Texts
from builder.model import Caution, Step, Tables
from builder.site import site_map
from builder.site.catalogue import Catalogue
from builder.site.pages import MoldPages, Words
from builder.spec import safety_table, yaml_reader
from tests.records_for_pages import SENTENCES, mold
from tests.test_pages import open_pour

LANGUAGES = ("en", "de")
CAUTIONS = safety_table.load()
ROOT = Path(__file__).parent.parent
SECTION = {"print": "print", "always": "shoot", "heat": "shoot", "shoot": "shoot", "first_aid": "shoot"}
SECTION |= {"open": "cool", "store": "cool"}
"""The section of a mold's page in which the cautions of a step stand."""
ASKED = {
    *("cool_burn", "jewellery", "no_ice", "keep_warm", "burn_help", "eye_splash", "fumes_breathed"),
    *("closed_vessel", "purge", "extraction", "respirator", "food", "hot_spots", "metal", "phthalates"),
    *("lead_hands", "lead_melt", "dry_mold", "warm_injector"),
}


@cache
def words(language: str) -> Words:
    texts = site_map.texts(language)
    return Words(Texts(language=language, entries={**texts.entries, **SENTENCES}))


@cache
def pages(language: str) -> dict[str, str]:
    """The generated page of an invented record, bench and safety page, and the card."""
    said = words(language)
    catalogue = Catalogue(molds=(mold(),), tables=tables_(), colours={})
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(site_map, "texts", lambda _: said.texts)
        made = site_map.generate(catalogue, language)
    found = {uri: str(made[uri]) for uri in ("molds/test-minnow.md", "bench.md", "safety.md")}
    return {**found, "card": MoldPages(said).card(mold(), "", "")}


def tables_() -> Tables:
    from builder.spec import material_tables

    return material_tables.load()


def sentence(caution: Caution, language: str) -> str:
    return plain(str(words(language).caution_text(caution)))


def plain(html: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]*>", "", html))).strip()


def listed(html: str, step: str) -> list[str]:
    """The cautions of a page's lists for one step."""
    lists = re.findall(rf'<ul class="sb-cautions" data-step="{step}">(.*?)</ul>', html, re.S)
    return [
        plain(re.sub(r"<br.*", "", item, flags=re.S)) for one in lists for item in one.split("</li>")[:-1]
    ]


@pytest.mark.parametrize("caution", CAUTIONS, ids=lambda caution: caution.key)
def test_a_caution_names_who_says_so_and_honestly_whether_it_was_read(caution: Caution) -> None:
    assert caution.title.strip()
    assert caution.step in get_args(Step)
    assert re.fullmatch(r"((19|20)\d\d)?", caution.year)
    if caution.body in ("common practice", "Shotbook"):
        assert not caution.read
    else:
        assert len(caution.body) > 8


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("caution", CAUTIONS, ids=lambda caution: caution.key)
def test_a_caution_has_short_sentences_in_each_language(caution: Caution, language: str) -> None:
    said = words(language).texts.entries[f"safety.{caution.key}"]
    assert all(len(part.split()) <= 25 for part in re.split(r"(?<=[.!?])\s+", said)), said


@pytest.mark.parametrize("language", LANGUAGES)
def test_there_is_no_sentence_without_a_caution(language: str) -> None:
    told = {key.removesuffix("_pour") for key in words(language).texts.under("safety")}
    assert told == {"step", "card", *(c.key for c in CAUTIONS)}


@pytest.mark.parametrize("key", sorted(ASKED))
def test_what_guidance_asks_for_is_among_the_cautions(key: str) -> None:
    assert key in {caution.key for caution in CAUTIONS}


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("caution", CAUTIONS, ids=lambda caution: caution.key)
def test_a_caution_stands_on_the_molds_page_at_the_step_where_it_is_needed(
    caution: Caution, language: str
) -> None:
    page = pages(language)["molds/test-minnow.md"]
    section = page.partition(f'<h2 id="{SECTION[caution.step]}">')[2].partition("<h2")[0]
    assert sentence(caution, language) in listed(section, caution.step)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("step", [one for one in get_args(Step) if one != "print"])
def test_the_bench_has_the_cautions_of_every_step_at_the_bench(step: str, language: str) -> None:
    wanted = [sentence(caution, language) for caution in CAUTIONS if caution.step == step]
    assert listed(pages(language)["bench.md"], step) == wanted != []


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_card_has_one_caution_for_each_step_at_the_bench(language: str) -> None:
    marked = [caution for caution in CAUTIONS if caution.card]
    assert {caution.step for caution in marked} == {"heat", "shoot", "open", "first_aid"}
    card, said = plain(pages(language)["card"]), words(language).texts
    assert said.under("safety.card") == [caution.key for caution in marked]
    assert all(said.say(f"safety.card.{caution.key}") in card for caution in marked)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("caution", CAUTIONS, ids=lambda caution: caution.key)
def test_the_safety_page_shows_each_caution_with_who_says_so_and_the_year(
    caution: Caution, language: str
) -> None:
    page, said = pages(language)["safety.md"], words(language).texts
    item = plain(page.partition(f'<li id="caution-{caution.key}">')[2].partition("</li>")[0])
    assert item.startswith(sentence(caution, language))
    own = {"Shotbook": said.say("page.safety.own"), "common practice": said.say("page.safety.practice")}
    named = own.get(caution.body, caution.body)
    assert f"{said.say('page.safety.from')}: {named}, {caution.title}" in item
    assert caution.year in item
    assert (said.say("page.safety.carried") in item) == caution.carried
    assert (said.say("page.safety.memory") in item) == (not caution.read and caution.body not in own)


def test_the_safety_page_defers_to_data_sheet_codes_and_licensed_practice() -> None:
    lead = plain(pages("en")["safety.md"])
    assert all(word in lead for word in ("safety data sheet", "local codes", "licensed practice"))


def test_a_poured_mold_has_no_cautions_on_injectors() -> None:
    page = MoldPages(words("en")).mold(open_pour())
    for caution in CAUTIONS:
        shown = sentence(caution, "en") in plain(page)
        assert shown != caution.injector, caution.key


def test_no_instruction_speaks_against_a_caution() -> None:
    """Open doors are no fan, water is cool and not cold, the nozzle points up over the cup."""
    entries = site_map.texts("en").entries
    said = {key: text for key, text in entries.items() if key.startswith(("page.", "findings.", "trouble."))}
    assert not [key for key, text in said.items() if re.search(r"doors? open|cold (running )?water", text)]
    up = [key for key, text in said.items() if "nozzle up" in text.lower()]
    assert up
    assert all("cup" in said[key] and "away from your face" in said[key] for key in up)


def test_a_pla_mold_is_dried_below_the_lowest_temperature_at_which_it_bends(tables: Tables) -> None:
    (caution,) = [one for one in CAUTIONS if one.key == "dry_mold"]
    pla = next(one for one in tables.mold_materials if one.id == "pla")
    assert caution.values["most"].high <= min(45.0, pla.values["deflection"].low - 5.0)


def loss_k(bore_mm: float, wall_mm: float, diffusivity: float, rings: int = 120) -> float:
    """How far the mean of plastisol at 165 °C falls in 5 s in an aluminium bore: rings, explicit scheme.

    The wall is of one temperature, at first 22 °C, and keeps what it takes.
    """
    conductivity, seconds = 0.155, 5.0
    radius = bore_mm / 2000
    width = radius / rings
    middle, edge = (np.arange(rings) + 0.5) * width, np.arange(1, rings) * width
    holds = conductivity / diffusivity * middle * width
    wall_holds = 2700.0 * 896.0 * ((radius + wall_mm / 1000) ** 2 - radius**2) / 2
    plastic, wall = np.full(rings, 165.0), 22.0
    step = 0.2 * width**2 / diffusivity
    for _ in range(int(seconds / step)):
        inside = conductivity * edge * np.diff(plastic) / width
        into_wall = conductivity * radius * (plastic[-1] - wall) / (width / 2)
        gain = np.append(inside, -into_wall) - np.insert(inside, 0, 0.0)
        plastic, wall = plastic + step * gain / holds, wall + step * into_wall / wall_holds
    return float(165.0 - np.average(plastic, weights=middle))


def test_what_a_cold_injector_costs_is_what_heat_conduction_says() -> None:
    """Own finite differences: an aluminium bore of 25–40 mm, 2–3 mm of wall, 6.5–8.1e-8 m²/s."""
    (caution,) = [one for one in CAUTIONS if one.key == "warm_injector"]
    told = caution.values["loss"]
    found = [loss_k(bore, wall, d) for bore in (25, 32, 40) for wall in (2, 3) for d in (6.5e-8, 8.1e-8)]
    assert told.low == pytest.approx(min(found), abs=0.6)
    assert told.high == pytest.approx(max(found), abs=0.6)
    assert told.value == pytest.approx(float(np.median(found)), abs=0.6)


def test_a_short_time_agrees_with_the_half_space_of_constant_surface_temperature() -> None:
    """Carslaw & Jaeger §2.5: mean fall = 4/d · ΔT · 2·sqrt(D t / pi), for a wide bore and a thick wall."""
    expected = 4 / 0.2 * 143.0 * 2 * np.sqrt(7.5e-8 * 5.0 / np.pi)
    assert loss_k(200.0, 50.0, 7.5e-8, rings=800) == pytest.approx(expected, rel=0.03)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"step": "later"}, "step"),
        ({"read": "yes"}, "read"),
        ({"body": 3}, "body"),
        ({"colour": "red"}, "colour|object"),
    ],
)
def test_a_faulty_entry_of_the_table_is_refused_by_its_key(
    change: dict[str, object], says: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    table = yaml.safe_load((ROOT / "builder" / "tables" / "safety.yaml").read_text(encoding="utf-8"))
    table["no_ice"] |= change
    monkeypatch.setattr(yaml_reader, "read_plain", lambda *_: table)
    with pytest.raises(Faults, match=f"no_ice.*({says})"):
        safety_table.load.__wrapped__()
