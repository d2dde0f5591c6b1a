"""Sentences: one file a language, the same keys and names in each, nothing missing and nothing invented."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import yaml
from markupsafe import Markup

import builder
from builder.base import texts
from builder.model import Figure, Finding
from builder.site.pages import Words
from tests.reading_ease import prose, reading_ease

FOLDER = Path(builder.__file__).parent / "texts"
MOST_WORDS = 25
TERMS = {
    *("bait", "bottleneck", "cavity", "cold well", "core", "dent", "flash", "gate", "half", "hold", "infill"),
    *("injector", "margin", "open pour", "overhang", "parting face", "plastisol", "remelt", "rest", "runner"),
    *("shooting window", "short shot", "shot", "shot card", "sprue", "trunk", "vent"),
}
"""Words of the trade and of ours that a stranger may not know."""


def entries(language: str) -> dict[str, str]:
    return dict(texts.flatten(yaml.safe_load((FOLDER / f"{language}.yaml").read_text(encoding="utf-8"))))


@pytest.mark.parametrize("language", ["en", "de"])
def test_no_sentence_holds_markup_or_stands_empty(language: str) -> None:
    bad = {
        key: text
        for key, text in entries(language).items()
        if "<" in text or "](" in text or not text.strip()
    }
    assert not bad


def test_german_says_the_same_things_with_the_same_numbers() -> None:
    english, german = entries("en"), entries("de")
    assert german.keys() == english.keys()
    assert {k: texts.slots(v) for k, v in german.items()} == {k: texts.slots(v) for k, v in english.items()}


@pytest.mark.parametrize("language", ["en", "de"])
def test_no_sentence_has_more_than_twenty_five_words(language: str) -> None:
    sentences = {
        f"{key}: {said}": len(said.split())
        for key, text in entries(language).items()
        for said in re.split(r"(?<=[.!?])\s+", text)
    }
    assert {said: words for said, words in sentences.items() if words > MOST_WORDS} == {}


def test_every_term_is_in_the_glossary() -> None:
    english = entries("en")
    told = {text for key, text in english.items() if re.fullmatch(r"glossary\.\w+\.term", key)}
    assert told >= TERMS


@pytest.mark.parametrize(("language", "least"), [("en", 80), ("de", 60)])
def test_the_sentences_read_easily(language: str, least: float, capsys: pytest.CaptureFixture[str]) -> None:
    """60 to 70 is plain, 70 to 80 fairly easy, 80 to 90 easy; a handbook of heat has about 30."""
    ease = reading_ease(prose(language), language)
    with capsys.disabled():
        print(f" reading ease of {language}.yaml {ease:.0f}", end="")
    assert ease > least


def test_a_harder_text_has_a_lower_reading_ease() -> None:
    hard = "Thermogravimetric characterisation necessitates instrumentation of considerable sophistication."
    assert reading_ease(hard) < 0 < reading_ease("The mold is hot. Do not touch it.")


def test_terms_lead_to_the_glossary_once_a_page_and_never_within_a_tag() -> None:
    words = Words(texts.Texts(language="en", entries=entries("en")))
    words.linked = set()
    said = Markup('The <var title="gate">gate</var> and the gateway; a gate.')
    linked = str(words.with_terms(said))
    assert linked == (
        'The <var title="gate"><a class="sb-term" href="../glossary.html#gate">gate</a></var>'
        " and the gateway; a gate."
    )
    assert str(words.with_terms(Markup("Another gate."))) == "Another gate."


def test_a_figure_in_a_sentence_is_written_in_both_systems() -> None:
    wall = Figure(value=2.0, low=1.9, high=2.1, unit="mm", because="", origin="measured")
    said = texts.Texts(language="en", entries={"a": "The trunk is {wall} thick."}).say("a", wall=wall)
    assert (
        said.replace("\u00a0", " ")
        == "The trunk is 2.00 mm [1.90–2.10 mm] (0.079 in [0.075–0.083 in]) thick."
    )


def test_a_missing_sentence_or_value_is_an_error_that_names_it() -> None:
    said = texts.Texts(language="en", entries={"a": "{n} baits"})
    with pytest.raises(KeyError, match=r"en\.yaml has no sentence b"):
        said.say("b")
    with pytest.raises(KeyError, match=r"\{n\}"):
        said.finding(Finding(level="note", code="a"))


def test_a_leaf_that_is_not_text_is_refused_by_its_key() -> None:
    with pytest.raises(TypeError, match=r"a\.b is 3"):
        dict(texts.flatten({"a": {"b": 3}}))


def test_the_end_of_a_way_is_told_in_words_and_a_digest_that_looks_like_one_is_not() -> None:
    said = {
        "page.window.end": "end {end} of bait {bait}",
        "page.window.only_end": "the far end of bait {bait}",
    }
    words = texts.Texts(language="en", entries=said)
    assert words.word("12b") == "end b of bait 12"
    assert words.word("2a, 2ab") == "end a of bait 2, end ab of bait 2"
    assert words.word("3_end") == "the far end of bait 3"
    assert words.word("a 3_end") == "a 3_end"
    assert words.word("6052149d") == "6052149d"
