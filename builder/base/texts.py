"""Sentences of the language file, filled in. The file itself is read by an orchestra module."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace

from builder.base import units
from builder.model import Figure, Finding, Kind, Tables

Value = Figure | str | int
_SLOT = re.compile(r"\{(\w+)\}")
_END = re.compile(r"(\d{1,3})(?:([a-z]+)|_end)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Texts:
    """One language: its code (BCP 47) and its sentences by dotted key."""

    language: str
    entries: Mapping[str, str]

    def say(self, key: str, **values: Value) -> str:
        """The sentence as plain text; a figure is written in both systems with its range.

        Raises KeyError when the language file has no such sentence or a name in braces has no value.

        >>> Texts(language="en", entries={"a.b": "{n} baits from {mold}"}).say("a.b", n=12, mold="two halves")
        '12 baits from two halves'
        """
        return self.fill(key, lambda figure: units.plain(figure, self.language), **values)

    def fill(self, key: str, show: Callable[[Figure], str], **values: Value) -> str:
        """The sentence with figures written by `show`; for pages, which mark numbers up."""
        if key not in self.entries:
            raise KeyError(f"the language file {self.language}.yaml has no sentence {key}")

        def put(match: re.Match[str]) -> str:
            name = match.group(1)
            if name not in values:
                raise KeyError(f"the sentence {key} in {self.language}.yaml wants a value for {{{name}}}")
            value = values[name]
            return show(value) if isinstance(value, Figure) else self.word(str(value))

        return _SLOT.sub(put, self.entries[key])

    def word(self, word: str) -> str:
        """A word of the builder (a role, a plastisol, an outcome), in this language if it is listed.

        Ends of ways through the plastic, 2a, 2b, are told as ends of bait 2, and 2_end as its far end.
        """
        listed = (self.entries.get(f"{section}.{word}") for section in ("words", "plastisol", "material"))
        if name := next((name for name in listed if name), ""):
            return name
        ends = [_END.fullmatch(one) for one in word.split(", ")]
        return ", ".join(self._end(end[1], end[2]) for end in ends if end) if all(ends) else word

    def _end(self, bait: str, letter: str | None) -> str:
        if letter is None:
            return self.say("page.window.only_end", bait=bait)
        return self.say("page.window.end", bait=bait, end=letter)

    def name(self, section: str, id_: str) -> str:
        """The display name of a table entry or figure; its id with blanks where the language file has none.

        >>> Texts(language="en", entries={"material.pla": "PLA"}).name("material", "heat_resin")
        'heat resin'
        """
        return self.entries.get(f"{section}.{id_}", id_.replace("_", " "))

    def of_kind(self, kind: Kind) -> Texts:
        """The same in the words of this kind of mold: for an open pour, x_pour stands in for x.

        >>> texts = Texts(language="en", entries={"shoot": "Shoot at", "shoot_pour": "Pour at"})
        >>> texts.of_kind("open pour").say("shoot"), texts.of_kind("injection").say("shoot")
        ('Pour at', 'Shoot at')
        """
        if kind == "injection":
            return self
        return replace(
            self, entries={key: self.entries.get(f"{key}_pour", said) for key, said in self.entries.items()}
        )

    def with_own(self, tables: Tables) -> Texts:
        """The same with the names that the keeper of the catalogue gave to plastisols and mold materials.

        >>> from builder.model import Plastisol
        >>> own = Plastisol(id="pier", values={}, name="Pier blend", file="plastisols/pier.yaml")
        >>> tables = Tables(plastisols=(own,), mold_materials=(), eyes_mm=(), practice={}, sources={})
        >>> Texts(language="en", entries={}).with_own(tables).name("plastisol", "pier")
        'Pier blend'
        """
        kinds = (("plastisol", tables.plastisols), ("material", tables.mold_materials))
        own = {f"{section}.{one.id}": one.name for section, listed in kinds for one in listed if one.name}
        return replace(self, entries={**self.entries, **own})

    def under(self, section: str) -> list[str]:
        """The names right under a section, in the order of the file."""
        start = f"{section}."
        return list(dict.fromkeys(k[len(start) :].split(".")[0] for k in self.entries if k.startswith(start)))

    def describe(self, finding: Finding) -> str:
        """A finding as plain text without ranges, for a picture's description."""
        return self.fill(finding.code, lambda figure: units.brief(figure, self.language), **finding.values)

    def finding(self, finding: Finding) -> str:
        """A finding as plain text."""
        return self.say(finding.code, **finding.values)


def slots(sentence: str) -> frozenset[str]:
    """The names in braces of a sentence.

    >>> sorted(slots("{n} baits from {mold}"))
    ['mold', 'n']
    """
    return frozenset(_SLOT.findall(sentence))


def flatten(nested: Mapping[str, object], prefix: str = "") -> Iterator[tuple[str, str]]:
    """Nested sections to dotted keys and sentences; raises TypeError where a leaf is not text.

    >>> dict(flatten({"a": {"b": "one", "c": {"d": "two"}}}))
    {'a.b': 'one', 'a.c.d': 'two'}
    """
    for key, value in nested.items():
        dotted = f"{prefix}{key}"
        if isinstance(value, Mapping):
            yield from flatten(value, f"{dotted}.")
        elif isinstance(value, str):
            yield dotted, value
        else:
            raise TypeError(f"{dotted} is {value!r}; a sentence is text: put it in quotes")
