"""Types of YAML values: each reads and checks a node, and describes itself in JSON Schema and in words."""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from functools import partial
from pathlib import Path, PurePosixPath
from typing import Any, Protocol, TypeVar

from builder.base import contained
from builder.base.problems import Faults, Problem, Where
from builder.spec.yaml_reader import Node, shorten

SHORTEST_DIRECTION = 1e-6
"""A direction whose numbers are all smaller has none that can be told from rounding."""
SLUG = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
Schema = dict[str, Any]
T = TypeVar("T")

UNIT_WORDS = {
    "c": "°C",
    "f": "°F",
    "mm": "mm",
    "inch": "inches",
    "mpa": "MPa",
    "psi": "psi",
    "deg": "degrees",
    "kg": "kg",
    "lb": "lb",
}
UNIT_WORDS |= {"s": "seconds", "ml_s": "mL/s", "g_ml": "g/mL"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Scope:
    """Context of a check: the folder for file names, and the known names of each list."""

    folder: Path | None = None
    names: Mapping[str, Sequence[str]] = field(default_factory=dict)


ANYWHERE = Scope()


class Type(Protocol):
    """Interface of a value type: reads a node or raises Faults; gives its JSON Schema and its description."""

    def read(self, node: Node, scope: Scope) -> Any:  # noqa: ANN401 - each type has its own
        """The value; raises Faults."""

    def schema(self, scope: Scope) -> Schema:
        """Its JSON Schema, draft-07."""

    def words(self, scope: Scope = ANYWHERE) -> str:
        """The expected value in words, as a part of a sentence."""


def fault(where: Where, what: str, expected: str = "", remedy: str = "") -> Faults:
    """One problem, ready to raise."""
    return Faults([Problem(where=where, what=what, expected=expected, remedy=remedy)])


def gather(reads: Iterable[Callable[[], T]]) -> list[T]:
    """The result of each call; raises Faults with the problems of all of them."""
    results: list[T] = []
    problems: list[Problem] = []
    for read in reads:
        try:
            results.append(read())
        except Faults as faults:
            problems.extend(faults.problems)
    if problems:
        raise Faults(problems)
    return results


def nearest(word: str, known: Sequence[str]) -> str:
    """The known word with the closest spelling, ignoring case, blanks and hyphens; '' when none is close.

    >>> nearest("Plastisole", ["title", "plastisol"])
    'plastisol'
    """
    plain = {_plain(name): name for name in known}
    found = difflib.get_close_matches(_plain(word)[:80], list(plain), n=1, cutoff=0.6)
    return plain[found[0]] if found else ""


def did_you_mean(word: str, known: Sequence[str]) -> str:
    """`did you mean WORD` for the closest known word, or ''."""
    meant = nearest(word, known)
    return f"did you mean {meant}?" if meant else ""


def _plain(word: str) -> str:
    return word.strip().lower().replace("-", "_").replace(" ", "_")


def misfit(node: Node, expected: str, remedy: str = "") -> Faults:
    """The Faults for a value of the wrong type: what is given, and what was expected."""
    if isinstance(node.value, dict):
        what = "this is a group of keys"
    elif isinstance(node.value, tuple):
        what = f"this is a list of {len(node.value)}" if node.value else "this is an empty list"
    elif node.value is None or not node.text.strip():
        what = "nothing is given"
    elif isinstance(node.value, str):
        what = f'this is the text "{shorten(node.text)}"'
    else:
        what = f"this is {shorten(node.text)}"
    return fault(node.where, what, expected, remedy)


def is_scalar(node: Node) -> bool:
    """Whether the node is a single value, not a list or a group of keys."""
    return not isinstance(node.value, dict | tuple) and node.value is not None and bool(node.text.strip())


# -- single values ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Text:
    """Text of limited length; a number is taken as it was written, unless `only` text will do."""

    longest: int = 200
    pattern: str = ""
    meaning: str = ""
    only: bool = False

    def read(self, node: Node, scope: Scope) -> str:
        """The text without blanks around it."""
        if not is_scalar(node) or isinstance(node.value, bool):
            raise misfit(node, self.words(scope))
        text = node.text.strip()
        if len(text) > self.longest:
            raise fault(node.where, f"this text has {len(text)} characters", f"at most {self.longest}")
        if self.only and not isinstance(node.value, str):
            raise misfit(node, self.words(scope), "put it in quotes")
        if self.pattern and not re.fullmatch(self.pattern, text):
            raise fault(node.where, f"{shorten(text)} does not fit here", self.words(scope))
        return text

    def schema(self, scope: Scope) -> Schema:  # noqa: ARG002
        """A string, or a number."""
        pattern = f"^(?:{self.pattern})$" if self.pattern else r"\S"
        lone: Schema = {"type": "string", "maxLength": self.longest, "pattern": pattern}
        number: Schema = {"type": "number", "minimum": 0} if self.pattern else {"type": "number"}
        return lone if self.only else {"anyOf": [lone, number]}

    def words(self, scope: Scope = ANYWHERE) -> str:  # noqa: ARG002
        """Its meaning, or how long it may be."""
        return self.meaning or f"text of at most {self.longest} characters"


@dataclass(frozen=True, slots=True)
class Number:
    """A finite number within limits, in a unit (a key of UNIT_WORDS, or '')."""

    low: float
    high: float
    unit: str = ""
    whole: bool = False

    def read(self, node: Node, scope: Scope) -> float:
        """The number in the key's unit."""
        value = node.value
        if isinstance(value, bool) or not isinstance(value, int | float) or (self.whole and value % 1):
            quoted = isinstance(value, str) and re.fullmatch(r"-?[0-9.]+", value)
            raise misfit(node, self.words(scope), "remove the quotes" if quoted else "")
        if not self.low <= value <= self.high:
            raise fault(node.where, f"{shorten(node.text)} is out of range", self.words(scope))
        return int(value) if self.whole else float(value)

    def schema(self, scope: Scope) -> Schema:  # noqa: ARG002
        """A number with its limits."""
        return {"type": "integer" if self.whole else "number", "minimum": self.low, "maximum": self.high}

    def words(self, scope: Scope = ANYWHERE) -> str:  # noqa: ARG002
        """The limits with the unit."""
        unit = f" {UNIT_WORDS[self.unit]}" if self.unit else ""
        return f"a {'whole ' if self.whole else ''}number from {self.low:g} to {self.high:g}{unit}"

    def twin(self, unit: str, factor: float, offset: float) -> Number:
        """The same limits in another unit: value = (written - offset) * factor."""
        low, high = (float(f"{limit / factor + offset:.3g}") for limit in (self.low, self.high))
        return Number(low, high, unit)


@dataclass(frozen=True, slots=True)
class Vector:
    """Three numbers, x, y and z; a direction may have any length but none."""

    number: Number
    direction: bool = False

    def read(self, node: Node, scope: Scope) -> tuple[float, ...]:
        """The three numbers in the key's unit."""
        if not isinstance(node.value, tuple) or len(node.value) != 3:
            raise misfit(node, self.words(scope))
        values = gather(partial(self.number.read, child, scope) for child in node.value)
        if self.direction and max(map(abs, values)) < SHORTEST_DIRECTION:
            raise fault(node.where, "a direction of length 0", self.words(scope))
        return tuple(values)

    def schema(self, scope: Scope) -> Schema:
        """An array of three numbers."""
        return {"type": "array", "items": self.number.schema(scope), "minItems": 3, "maxItems": 3}

    def words(self, scope: Scope = ANYWHERE) -> str:
        """Three numbers, each within its limits."""
        if self.direction:
            return "a direction, three numbers such as [0, 0, 1], not all of them 0"
        return f"three numbers in brackets, [x, y, z], each {self.number.words(scope)}"

    def twin(self, unit: str, factor: float, offset: float) -> Vector:
        """The same in another unit."""
        return replace(self, number=self.number.twin(unit, factor, offset))


@dataclass(frozen=True, slots=True)
class Flag:
    """True or false."""

    def read(self, node: Node, scope: Scope) -> bool:
        """The flag."""
        if not isinstance(node.value, bool):
            raise misfit(node, self.words(scope))
        return node.value

    def schema(self, scope: Scope) -> Schema:  # noqa: ARG002
        """A boolean."""
        return {"type": "boolean"}

    def words(self, scope: Scope = ANYWHERE) -> str:  # noqa: ARG002
        """The two words."""
        return "true or false"


@dataclass(frozen=True, slots=True)
class Choice:
    """One of a few words; `names` names a list of further words in `Scope.names`.

    `extra` is a pattern of further words, told as `pattern_words`.
    """

    options: tuple[str, ...] = ()
    names: str = ""
    extra: str = ""
    pattern_words: str = ""

    def read(self, node: Node, scope: Scope) -> str:
        """The word."""
        options = self._options(scope)
        if not is_scalar(node):
            raise misfit(node, self._expected(options))
        text = node.text
        if options and text not in options and not (self.extra and re.fullmatch(self.extra, text)):
            remedy = did_you_mean(text, options)
            raise fault(node.where, f"{shorten(text)} is not known", self._expected(options), remedy)
        return text

    def schema(self, scope: Scope) -> Schema:
        """An enumeration, or any text while the names are not known."""
        options = self._options(scope)
        known: Schema = {"enum": list(options)} if options else {"type": "string", "minLength": 1}
        return (
            {"anyOf": [known, {"type": "string", "pattern": f"^(?:{self.extra})$"}]} if self.extra else known
        )

    def words(self, scope: Scope = ANYWHERE) -> str:
        """The words, or the list they come from."""
        return self._expected(self._options(scope))

    def _options(self, scope: Scope) -> tuple[str, ...]:
        return (*self.options, *scope.names.get(self.names, ()))

    def _expected(self, options: Sequence[str]) -> str:
        further = (self.pattern_words,) if self.pattern_words else ()
        return (
            f"one of {', '.join((*options, *further))}"
            if options
            else f"a name from the list of {self.names}"
        )


@dataclass(frozen=True, slots=True)
class Day:
    """A date, written as ISO 8601 has it."""

    def read(self, node: Node, scope: Scope) -> str:
        """The date as it was written."""
        try:
            if re.fullmatch(r"\d{4}-\d{2}-\d{2}", node.text):
                date.fromisoformat(node.text)
                return node.text
        except ValueError:
            pass
        raise misfit(node, self.words(scope))

    def schema(self, scope: Scope) -> Schema:  # noqa: ARG002
        """A string in the format of a date."""
        return {"type": "string", "format": "date", "pattern": r"^\d{4}-\d{2}-\d{2}$"}

    def words(self, scope: Scope = ANYWHERE) -> str:  # noqa: ARG002
        """Its form."""
        return "a date of the calendar as YYYY-MM-DD, such as 2026-03-01"


_WORD = "[Cc][Oo][Nn]|[Pp][Rr][Nn]|[Aa][Uu][Xx]|[Nn][Uu][Ll]|(?:[Cc][Oo][Mm]|[Ll][Pp][Tt])[0-9]"
_DEVICE = rf"(?:{_WORD})(?:[./]|$)"
"""Names that Windows keeps for devices, with any ending."""
PLAIN_NAME = rf"(?!{_DEVICE})[A-Za-z0-9][A-Za-z0-9._-]{{0,99}}"
"""One part of a file's path in its strict form: no blanks, no hidden names, nothing that any system reads."""


@dataclass(frozen=True, slots=True)
class FileName:
    """A regular file inside the folder, by its path in plain names with forward slashes; no link."""

    endings: tuple[str, ...]

    def read(self, node: Node, scope: Scope) -> str:
        """The path as it was written."""
        text = node.text
        if not is_scalar(node):
            raise misfit(node, self.words(scope))
        path = PurePosixPath(text)
        if path.is_absolute() or "\\" in text or ":" in text or ".." in path.parts or not text.isprintable():
            what = f"{shorten(text)} is not a path inside the mold's folder"
            raise fault(
                node.where, what, self.words(scope), "copy the file into the mold's folder and give its name"
            )
        if path.suffix.lower() not in self.endings:
            phone = path.suffix.lower() in (".heic", ".heif")
            remedy = "save or share the photo as JPEG; few browsers show another kind" if phone else ""
            raise fault(node.where, f"{shorten(text)} has the wrong ending", self.words(scope), remedy)
        if any(re.match(_DEVICE, part) for part in path.parts):
            what = f"{shorten(text)} is a name that some systems keep for a device"
            raise fault(node.where, what, self.words(scope), "put a word before it, such as part-")
        if not re.fullmatch(f"{PLAIN_NAME}(?:/{PLAIN_NAME}){{0,3}}", text):
            letters = unicodedata.normalize("NFKD", text[:100]).encode("ascii", "ignore").decode()
            plain = re.sub(r"[^A-Za-z0-9._/-]+", "-", letters).lstrip("-._/")
            plain = plain if PurePosixPath(plain).suffix else f"part{path.suffix.lower()}"
            expected = "letters from A to Z, digits, dots, hyphens and underscores in each name"
            what = f"{shorten(text)} cannot be part of an address unchanged"
            raise fault(node.where, what, expected, f"rename the file, to {plain} for example")
        if scope.folder is not None:
            self._look(node.where, path, scope, scope.folder)
        return text

    def _look(self, where: Where, path: PurePosixPath, scope: Scope, folder: Path) -> None:
        """Faults unless the file is there; it is opened and its size is checked when it is read."""
        if contained.is_file(folder, str(path)):
            return
        what, remedy = _instead(folder, path), "put the file itself here"
        if "link" not in what:
            likely = [name for name in _there(folder) if PurePosixPath(name).suffix.lower() in self.endings]
            remedy = did_you_mean(str(path), likely)
        raise fault(where, f"{shorten(str(path))} {what}", self.words(scope), remedy)

    def schema(self, scope: Scope) -> Schema:  # noqa: ARG002
        """A string with one of the endings."""
        either = "|".join("".join(f"[{c}{c.upper()}]" for c in ending[1:]) for ending in self.endings)
        name = PLAIN_NAME.replace("0,99", "0,94")
        return {"type": "string", "pattern": rf"^(?:{PLAIN_NAME}/){{0,3}}{name}\.(?:{either})$"}

    def words(self, scope: Scope = ANYWHERE) -> str:  # noqa: ARG002
        """The endings."""
        return f"the name of a file in the mold's folder that ends in {' or '.join(self.endings)}"


def _there(folder: Path) -> tuple[str, ...]:
    """The files of the folder; none where they cannot be told."""
    try:
        return contained.files(folder)
    except Faults:
        return ()


def _instead(folder: Path, path: PurePosixPath) -> str:
    """What stands where a file should, looked at only to name it."""
    here = folder
    for part in path.parts:
        here = here / part
        if here.is_symlink():
            return "is a link, and links are not followed"
    if here.is_dir():
        return "is a folder"
    return "is not a file that can be read" if contained.exists(here) else "does not exist"
