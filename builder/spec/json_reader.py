"""JSON text to the same nodes as YAML's, under the same rules: one meaning, limits, faults with places.

The standard reader keeps the last of two equal keys, takes NaN, and runs out of stack on deep nesting.
"""

from __future__ import annotations

import json
import math
import re
from bisect import bisect_left
from json.decoder import scanstring  # type: ignore[attr-defined]
from typing import NoReturn

from builder.base.problems import Faults, Problem, Where
from builder.spec.characters import unfit
from builder.spec.yaml_reader import MAX_DEPTH, MAX_DIGITS, MAX_PROBLEMS, Node, Scalar, decode, shorten

MAX_BYTES = 4_000_000
MAX_VALUES = 100_000
MAX_TEXT = 20_000

_SPACE = re.compile(r"[ \t\r\n]*")
_NUMBER = re.compile(r"-?[0-9]+(?:\.[0-9]+)?(?:[eE][-+]?[0-9]+)?")
_WORD = re.compile(r"[A-Za-z]+")
_WORDS: dict[str, bool | None] = {"true": True, "false": False, "null": None}
_LONGEST_NUMBER = 32
_ESCAPED = re.compile(r'\\[^"\\/nt]')
"""A character told by its number or as one that is not allowed: what the plain text does not show."""


def read_json(data: bytes, file: str) -> Node:
    """The document as a tree of nodes; raises Faults with every fault found, in file order.

    >>> node = read_json(b'{"order": 2}', "lock.json")
    >>> node.value["order"].value, str(node.value["order"].where)
    (2, 'lock.json:1:11, key order')
    """
    if len(data) > MAX_BYTES:
        what = f"the file has {len(data)} bytes"
        raise Faults([Problem(where=Where(file=file), what=what, expected=f"at most {MAX_BYTES}")])
    reading = _Reading(decode(data, file), file)
    node = reading.document()
    if reading.problems or node is None:
        raise Faults(reading.problems)
    return node


class _StopError(Exception):
    """Reading further makes no sense."""


class _Reading:
    """One pass over the text."""

    def __init__(self, text: str, file: str) -> None:
        self.text, self.file = text, file
        self.at = 0
        self.values = 0
        self.problems: list[Problem] = []
        self.breaks = [place.start() for place in re.finditer("\n", text)]

    def document(self) -> Node | None:
        """The only value of the text; None if reading had to stop."""
        try:
            node = self._value("", None, 0)
            if self._next():
                self._stop("", "the file goes on after its end")
        except _StopError:
            return None
        return node

    def _next(self) -> str:
        """The next character that is no space; '' at the end."""
        space = _SPACE.match(self.text, self.at)
        self.at = space.end() if space else self.at
        return self.text[self.at : self.at + 1]

    def _value(self, key: str, named: Where | None, depth: int) -> Node:
        start = self._next()
        where = self._where(self.at, key)
        self.values += 1
        if depth > MAX_DEPTH:
            self._stop(key, f"lists and keys are nested more than {MAX_DEPTH} deep")
        if self.values > MAX_VALUES:
            self._stop(key, f"the file holds more than {MAX_VALUES} values")
        value: Scalar | tuple[Node, ...] | dict[str, Node]
        text = ""
        if start == "{":
            value = self._object(key, depth)
        elif start == "[":
            value = self._array(key, depth)
        elif start == '"':
            value = text = self._string(key)
        else:
            value, text = self._scalar(key)
        return Node(where=where, named=named or where, value=value, text=text)

    def _object(self, key: str, depth: int) -> dict[str, Node]:
        found: dict[str, Node] = {}
        self.at += 1
        if self._next() == "}":
            self.at += 1
            return found
        while True:
            if self._next() != '"':
                self._stop(key, "a key in quotes is missing here")
            start = self.at
            name = self._string(key)
            child_key = f"{key}.{shorten(name)}" if key else shorten(name)
            if name in found:
                first = f"it is already set in line {found[name].named.line}"
                self._fault(start, child_key, "this key is given twice", f"keep one; {first}")
            self._expect(":", child_key)
            found[name] = self._value(child_key, self._where(start, child_key), depth + 1)
            if not self._goes_on("}", key):
                return found

    def _array(self, key: str, depth: int) -> tuple[Node, ...]:
        found: list[Node] = []
        self.at += 1
        if self._next() == "]":
            self.at += 1
            return ()
        while True:
            found.append(self._value(f"{key}[{len(found)}]", None, depth + 1))
            if not self._goes_on("]", key):
                return tuple(found)

    def _goes_on(self, end: str, key: str) -> bool:
        """True after a comma, False after the end of the list or the group."""
        mark = self._next()
        if mark not in (",", end):
            self._stop(key, f"a comma or {end} is missing here")
        self.at += 1
        return mark == ","

    def _expect(self, mark: str, key: str) -> None:
        if self._next() != mark:
            self._stop(key, f"a {mark} is missing here")
        self.at += 1

    def _string(self, key: str) -> str:
        start = self.at
        text: str
        try:
            text, self.at = scanstring(self.text, start + 1, True)
        except json.JSONDecodeError as error:
            self._stop(key, f"this is not valid JSON: {error.msg[:1].lower()}{error.msg[1:]}")
        if len(text) > MAX_TEXT:
            self._fault(start, key, f"this text has {len(text)} characters, more than {MAX_TEXT}")
            return ""
        if what := unfit(text):
            self._fault(start, key, what, "remove it")
        return text

    def _scalar(self, key: str) -> tuple[Scalar, str]:
        start = self.at
        if number := _NUMBER.match(self.text, start):
            self.at = number.end()
            return self._number(number[0], start, key), number[0]
        word = _WORD.match(self.text, start)
        if word is None or word[0] not in _WORDS:
            self._stop(key, "a value is missing here" if word is None else f"{shorten(word[0])} is no value")
        self.at = word.end()
        return _WORDS[word[0]], "" if word[0] == "null" else word[0]

    def _number(self, text: str, start: int, key: str) -> int | float:
        digits = text.lstrip("-")
        whole = digits.isdigit()
        if len(digits) > (MAX_DIGITS if whole else _LONGEST_NUMBER):
            self._fault(start, key, f"the number {shorten(text, 24)} is too long")
            return 0
        if digits[:1] == "0" and digits[1:2].isdigit():
            self._fault(start, key, f"the number {text} starts with a zero")
            return 0
        number = float(text)
        if not math.isfinite(number):
            self._fault(start, key, f"{text} is too large", "give a finite number")
            return 0
        return int(text) if whole else number

    def _where(self, at: int, key: str) -> Where:
        line = bisect_left(self.breaks, at)
        start = self.breaks[line - 1] + 1 if line else 0
        return Where(file=self.file, line=line + 1, column=at - start + 1, key=key)

    def _fault(self, at: int, key: str, what: str, remedy: str = "") -> None:
        self.problems.append(Problem(where=self._where(at, key), what=what, remedy=remedy))
        if len(self.problems) >= MAX_PROBLEMS:
            raise _StopError

    def _stop(self, key: str, what: str) -> NoReturn:
        self.problems.append(Problem(where=self._where(self.at, key), what=what))
        raise _StopError


def check_json(data: bytes, file: str) -> object:
    """The document as plain values, after the same faults as `read_json`, without places: for long files.

    >>> check_json(b'{"slug": "a"}', "record.json")
    {'slug': 'a'}
    """
    text = decode(data, file) if len(data) <= MAX_BYTES else ""
    many = max(text.count("["), text.count("{"), text.count(",")) > MAX_VALUES
    if many or not text or _ESCAPED.search(text) or unfit(text.replace("\r", "")):
        read_json(data, file)  # raises, with the place, unless what is written in escapes is fit
    try:
        return json.loads(text, object_pairs_hook=_once, parse_constant=_refuse, parse_int=_whole)
    except (ValueError, RecursionError):
        read_json(data, file)
    raise Faults([Problem(where=Where(file=file), what="this is not JSON that can be read")])


def _once(pairs: list[tuple[str, object]]) -> dict[str, object]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError
    return found


def _refuse(text: str) -> object:
    raise ValueError(text)


def _whole(text: str) -> int:
    if len(text) > MAX_DIGITS + 1:
        raise ValueError(text)
    return int(text)
