"""The numbers of the data that a page's scripts show: by address, and of its tables by place."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from typing import Any

from tests.numbers import quantity
from tests.numbers.compared import MARKS
from tests.numbers.expected_scripted import LETTER_OF, Leaf
from tests.numbers.quantity import Quantity
from tests.numbers.reading import Found, Reader
from tests.numbers.sentences import TELLING, clean

SECTIONS = {
    "paths": "window", "logged": "window", "grid": "window", "batch": "shoot", "plan": "cool",
    "why": "numbers", "moves": "numbers",
}  # fmt: skip
"""The section of the page where each table stands."""
APART = ("tables", "sentences", "plots", "turn", "names")
"""What is read in another way."""


def load(text: str) -> Any:  # noqa: ANN401 - any JSON value
    """What a data script hands over."""
    match = re.fullmatch(r"[\w.]+\((.*)\);\n", text, re.S)
    assert match, text[:60]
    return json.loads(match[1])


def leaves(value: object, place: str = "") -> Iterator[tuple[str, object]]:
    """Every number and text of the data by dotted address; a figure's texts are one."""
    if isinstance(value, Mapping):
        for key, one in value.items():
            yield from leaves(one, f"{place}.{key}" if place else key)
    elif isinstance(value, list) and not _figure(value):
        for index, one in enumerate(value):
            yield from leaves(one, f"{place}.{index}" if place else str(index))
    else:
        yield place, value


def _figure(value: list[object]) -> bool:
    """Whether it is a figure's texts: value and range in one system or two, and perhaps a letter."""
    texts = [one for one in value if isinstance(one, str)]
    alike = len(texts) == len(value) and 2 <= len(value) <= 5
    if not alike or "×" in texts[0]:
        return False
    numbers = texts[:-1] if len(texts) % 2 else texts
    return bool(texts[0]) and all(re.match(r"[−\d∞]|$", text) for text in numbers)


def line(texts: list[str]) -> str:
    """A figure's texts as the line that a page has."""
    letter = LETTER_OF[texts[-1]] if len(texts) % 2 else ""
    pairs = zip(texts[0::2], texts[1::2], strict=False)
    return " · ".join(f"{value} ({span})" if span else value for value, span in pairs) + letter


def differences(found: object, wanted: Mapping[str, Leaf], language: str = "en") -> list[str]:
    """Every number of the data that is wrong, that nobody knows, or that is missing."""
    told = {place: one for place, one in leaves(found) if not place.startswith(APART)}
    faults = [f"{place} is missing" for place in wanted if place not in told]
    for place, one in told.items():
        if isinstance(one, list):
            known, text = wanted.get(place), line(one)
            what = (
                quantity.faults(text, known, MARKS[language]) if isinstance(known, Quantity) else ["unknown"]
            )
            faults += [f"{place}: {text!r}: {fault}" for fault in what]
        elif place in wanted:
            right = (isinstance(one, float | int) and one == wanted[place]) or one == wanted[place]
            faults += [] if right else [f"{place}: {one!r} instead of {wanted[place]!r}"]
        elif isinstance(one, float | int) or (isinstance(one, str) and TELLING.search(one)):
            faults.append(f"{place}: {one!r}: unknown")
    return faults


def tables(data: Mapping[str, Any], language: str = "en") -> list[Found]:
    """The numbers of the tables with their places on the page."""
    reader = Reader(language=language)
    for name, table in data["tables"].items():
        reader.section = SECTIONS[name]
        reader.note(clean(table.get("lead", "")), [], "p")
        for row in table["rows"]:
            text, figures = _cell(row[0])
            reader.note(text, figures, "th")
            for head, cell in zip(table["heads"][1:], row[1:], strict=True):
                reader.note(*_cell(cell), f"{text} | {clean(head)}")
    return [one for one in reader.found if TELLING.search(one.text)]


def troubles(data: Mapping[str, Any], pair: tuple[str, str], language: str = "en") -> list[Found]:
    """The numbers of what may go wrong with a pair."""
    reader = Reader(language=language, section="wrong")
    for chance, code, values, _ in data["w"][pair[0]][pair[1]]["troubles"]:
        reader.section = "numbers"
        reader.note(chr(0xE000), [(line(chance), "")], data["sentences"][code])
        reader.section = "wrong"
        for key in (code, f"{code}_cure"):
            text, figures = "", list[tuple[str, str]]()
            for index, part in enumerate(re.split(r"\{(\w+)\}", data["sentences"][key])):
                told = values[part] if index % 2 else part
                text += told if isinstance(told, str) else chr(0xE000 + len(figures))
                figures += [] if isinstance(told, str) else [(line(told), "")]
            reader.note(clean(text), figures, "li")
    return reader.found


def _cell(parts: list[Any]) -> tuple[str, list[tuple[str, str]]]:
    text, figures = "", list[tuple[str, str]]()
    for part in parts:
        text += part if isinstance(part, str) else chr(0xE000 + len(figures))
        figures += [] if isinstance(part, str) else [(line(part), "")]
    return clean(text), figures
