"""Which sentence of the language file a text is, and what stands in its gaps."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

import yaml

from tests.records_for_pages import SENTENCES
from tests.small_site import ROOT

SLOT = re.compile(r"\{(\w+)\}")
MARK = re.compile(r"[\ue000-\uf8ff]")
"""Stands for a figure in a text; which one, its code tells."""
TELLING = re.compile(r"[\d∞\ue000-\uf8ff]")
"""What makes a text worth looking at: a digit or a figure."""
_WITHIN = r"(?:(?!\. \w).)"
"""What a gap may hold: not the end of its sentence and the next one."""
LEAST_LETTERS = 12
"""A sentence is looked for within a longer text only if it has so many letters of its own."""


@dataclass(frozen=True, slots=True)
class Sentence:
    """A sentence of the language file as something to look for."""

    key: str
    whole: re.Pattern[str]
    within: re.Pattern[str]
    letters: int
    longest: str


@cache
def table(name: str) -> Any:  # noqa: ANN401 - any YAML value
    """A table of the builder, read without it."""
    return yaml.safe_load((ROOT / "builder" / "tables" / f"{name}.yaml").read_text(encoding="utf-8"))


@cache
def entries(language: str) -> Mapping[str, str]:
    """All sentences by dotted key, read without the builder."""
    file = ROOT / "builder" / "texts" / f"{language}.yaml"
    return {**dict(_flat(yaml.safe_load(file.read_text(encoding="utf-8")))), **SENTENCES}


def _flat(nested: Mapping[str, object], prefix: str = "") -> Iterator[tuple[str, str]]:
    for key, value in nested.items():
        if isinstance(value, Mapping):
            yield from _flat(value, f"{prefix}{key}.")
        else:
            yield f"{prefix}{key}", str(value)


def clean(text: str) -> str:
    """Text with single blanks; blanks within numbers stay as they are."""
    return re.sub(r"[ \t\r\n\u00a0]+", " ", text).strip()


@cache
def known(language: str) -> tuple[Sentence, ...]:
    """Every sentence of the site that is more than a gap, the longest first; of equal ones the first key."""
    told = {key: text for key, text in entries(language).items() if not key.startswith("cli.")}
    found = {clean(text): key for key, text in sorted(told.items(), reverse=True)}
    made = [_sentence(key, text) for text, key in found.items() if re.search(r"\w", SLOT.sub("", text))]
    return tuple(sorted(made, key=lambda one: -one.letters))


def same(language: str, key: str) -> str:
    """The key that stands for this sentence: the first of those that read the same."""
    text = clean(entries(language)[key])
    return min(k for k, other in entries(language).items() if clean(other) == text)


def _sentence(key: str, text: str) -> Sentence:
    pieces = SLOT.split(text)
    whole, within = "", ""
    for index, piece in enumerate(pieces):
        if index % 2 == 0:
            whole, within = whole + re.escape(piece), within + re.escape(piece)
        else:
            last = index == len(pieces) - 2 and not pieces[-1]
            whole += f"(?P<{piece}>{_WITHIN}+?)" if f"<{piece}>" not in whole else f"(?P={piece})"
            greedy = f"{_WITHIN}+" if last else f"{_WITHIN}+?"
            within += f"(?P<{piece}>{greedy})" if f"<{piece}>" not in within else f"(?P={piece})"
    literal = pieces[0::2]
    letters = sum(len(piece) for piece in literal)
    return Sentence(key, re.compile(whole, re.S), re.compile(within, re.S), letters, max(literal, key=len))


def taken_apart(text: str, language: str) -> tuple[str, list[tuple[str, str, str]]]:
    """What is left of a text without the sentences in it, and what stands in their gaps: key, gap, text."""
    for one in known(language):
        if one.longest in text and (match := one.whole.fullmatch(text)):
            return "", [(one.key, gap, told) for gap, told in match.groupdict().items()]
    found: list[tuple[str, str, str]] = []
    for one in known(language):
        if not TELLING.search(text):
            break
        if one.letters < LEAST_LETTERS or one.longest not in text:
            continue
        match = one.within.search(text)
        if match and TELLING.search(match[0]):
            found += [(one.key, gap, told) for gap, told in match.groupdict().items()]
            text = clean(f"{text[: match.start()]} {text[match.end() :]}")
    return text, found


def telling(found: Iterable[tuple[str, str, str]]) -> list[tuple[str, str, str]]:
    """Those gaps that hold a digit or a figure."""
    return [one for one in found if TELLING.search(one[2])]
