"""Sentences: one file a language, the same keys and names in each, nothing missing and nothing invented."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml

import builder
from builder.base import texts
from builder.model import Figure, Finding

FOLDER = Path(builder.__file__).parent / "texts"


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
