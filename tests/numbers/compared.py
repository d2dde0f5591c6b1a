"""What a page says beside what it should say."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from tests.numbers import quantity
from tests.numbers.expected import Line, What
from tests.numbers.quantity import Near, Said
from tests.numbers.reading import Found

MARKS = {"en": ".", "de": ","}


def differences(found: Iterable[Found], wanted: Iterable[Line], language: str = "en") -> list[str]:
    """Every number that is wrong, that nobody knows, or that is missing; a place has its numbers in order."""
    told: dict[str, list[Found]] = defaultdict(list)
    should: dict[str, list[What]] = defaultdict(list)
    for one in found:
        told[one.place].append(one)
    for place, what in wanted:
        should[place].append(what)
    faults = []
    for place in dict.fromkeys((*told, *should)):
        texts, whats = told[place], should[place]
        if len(texts) != len(whats):
            said = [one.text for one in texts]
            faults.append(f"{place}: {len(texts)} numbers instead of {len(whats)}: {said}, wanted {whats}")
            continue
        for one, what in zip(texts, whats, strict=True):
            faults += [f"{place}: {one.text!r}: {fault}" for fault in wrong(one, what, language)]
    return faults


def wrong(found: Found, what: What, language: str) -> list[str]:
    """What is wrong with one number."""
    if isinstance(what, str):
        return [] if (found.text, found.key) == (what, "") else [f"instead of {what!r} without a key"]
    if isinstance(what, Said):
        return [] if (found.text, found.key) == (what.text, what.key) else [f"instead of {what}"]
    if isinstance(what, Near):
        return what.faults(found.text)
    faults = quantity.faults(found.text, what, MARKS[language])
    return faults + ([f"key {found.key!r} instead of {what.key!r}"] if found.key != what.key else [])
