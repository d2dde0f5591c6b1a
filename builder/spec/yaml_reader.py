"""YAML text to values that know their line: one meaning only, nothing hidden, all faults at once.

YAML readers disagree about `NO`, `010` or `12:30:00`, silently keep the last of two equal keys, and
follow references that make a small file huge. Here such text is refused with its place instead.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

import yaml

from builder.base import contained
from builder.base.problems import Faults, Problem, Where
from builder.spec.characters import fit, joined, unfit

Scalar = str | int | float | bool | None
Plain = Scalar | list["Plain"] | dict[str, "Plain"]

MAX_CHARS = 400_000
MAX_DEPTH = 16
MAX_PROBLEMS = 50
LONGEST_NUMBER = 100
"""Longer text is no number to any reader; the patterns for such would be slow on it."""
MAX_DIGITS = 15
"""A float holds 15 decimal digits (DBL_DIG of IEEE 754 binary64)."""

_WORDS = {"true": True, "false": False, "null": None, "~": None, "": None}
_FAST = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_READ_UNLIKE = re.compile(r"[\t?\ufeff]|[|>][-+0-9]*#")
"""What one of the library's two parsers refuses and the other reads."""
_NUMBER = re.compile(
    r"[-+]?(?:0|[1-9][0-9]*)(?:\.[0-9]*)?(?:[eE][-+]?[0-9]+)?|[-+]?\.[0-9]+(?:[eE][-+]?[0-9]+)?"
)
_QUOTE_OR_PLAIN = "put it in quotes if it is text, or write the plain decimal number"
_TWO_MEANINGS = (
    # YAML 1.1 (yaml.org/type) against YAML 1.2.2 section 10.3.2, core schema
    (
        re.compile(r"(?i:yes|no|on|off)"),
        "is true or false to some readers and text to others",
        "put it in quotes if it is text, or write true or false",
    ),
    (
        re.compile(r"[-+]?0[0-9_]+(?:\.[0-9_]*)?"),
        "starts with a zero, which makes it another number to some readers",
        _QUOTE_OR_PLAIN,
    ),
    (
        re.compile(r"[-+]?0(?:[xX][0-9a-fA-F_]+|[oO][0-7]+|[bB][01_]+)"),
        "is a number in another base to some readers",
        _QUOTE_OR_PLAIN,
    ),
    (
        re.compile(r"[-+]?[0-9][0-9_]*(?::[0-5]?[0-9])+(?:\.[0-9_]*)?"),
        "is a number of seconds to some readers",
        _QUOTE_OR_PLAIN,
    ),
    (
        re.compile(r"[-+]?[0-9.][0-9_.]*_[0-9_.]*"),
        "is a number to some readers and text to others",
        _QUOTE_OR_PLAIN,
    ),
)
_YAML_TAG = "tag:yaml.org,2002:"
_BEYOND = re.compile(r"\\U(?!0010|000)[0-9A-Fa-f]{8}")
_NOT_FINITE = re.compile(r"[-+]?\.(?:inf|Inf|INF)|\.(?:nan|NaN|NAN)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Node:
    """A YAML value with its position (`where`) and the position of its key (`named`).

    `value` is text, a number, true or false, None, a tuple of nodes or a mapping of nodes; `text` is the
    scalar as it was written, so that a version 1.10 is not taken for 1.1.
    """

    where: Where
    named: Where
    value: Scalar | tuple[Node, ...] | dict[str, Node]
    text: str = ""


def decode(data: bytes, file: str) -> str:
    """The text of a UTF-8 file, without a byte order mark; raises Faults at the first byte that is none."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = data[: error.start]
        where = Where(
            file=file, line=before.count(b"\n") + 1, column=len(before) - (before.rfind(b"\n") + 1) + 1
        )
        raise Faults(
            [Problem(where=where, what="this is not UTF-8 text", remedy="save the file as UTF-8 text")]
        ) from None


def read_file(path: Path) -> str:
    """The text of a regular file that is no link; raises Faults."""
    return decode(contained.read(path.parent, path.name, 4 * MAX_CHARS), contained.shown(path))


def read_yaml(text: str, file: str) -> Node:
    """The document as a tree of nodes; raises Faults with every fault found, in file order.

    The parser in C reads it where it reads as the one in Python, which is slow and tells faults better.

    >>> node = read_yaml("title: Minnow\\ncavities: 2", "mold.yaml")
    >>> node.value["cavities"].value, str(node.value["cavities"].where)
    (2, 'mold.yaml:2:11, key cavities')
    """
    return _read(text, file, alike=not _READ_UNLIKE.search(text))


def read_own(text: str, file: str) -> Node:
    """As `read_yaml`, for files of the builder's own, whose every text both parsers take."""
    return _read(text, file, alike=True)


def _read(text: str, file: str, *, alike: bool) -> Node:
    if len(text) > MAX_CHARS:
        what = f"the file has {len(text)} characters"
        raise Faults([Problem(where=Where(file=file), what=what, expected=f"at most {MAX_CHARS}")])
    for parser in (_FAST, yaml.SafeLoader) if alike else (yaml.SafeLoader,):
        reading = _Reading(file)
        node = reading.document(text, parser)
        placed = parser is yaml.SafeLoader or not reading.has_empty  # they place what is empty differently
        if node and placed and not reading.problems:
            return node
    raise Faults(sorted(reading.problems, key=lambda p: (p.where.line or 0, p.where.column or 0)))


def read_plain(text: str, file: str) -> Plain:
    """A file of the builder's own as plain dicts, lists and scalars, under the same rules as `read_yaml`.

    >>> read_plain("eyes_mm: [3, 4.5]", "eyes.yaml")
    {'eyes_mm': [3, 4.5]}
    """
    return plain(read_own(text, file))


def quoted(text: str) -> str:
    """The text as a YAML scalar in quotes on one line, which every reader takes for exactly this text.

    >>> quoted('Reed "minnow" \\N{FISH}\\n---')
    '"Reed \\\\"minnow\\\\" \\\\U0001F41F\\\\n---"'
    """
    told = text.encode("utf-16", "surrogatepass").decode("utf-16", "replace")
    line = yaml.safe_dump(told, default_style='"', allow_unicode=True, width=math.inf).rstrip("\n")
    return line.replace("<", "\\x3C")  # so that nothing in it ends or begins an element of a page


def plain(node: Node) -> Plain:
    """A node without its places."""
    if isinstance(node.value, dict):
        return {key: plain(child) for key, child in node.value.items()}
    if isinstance(node.value, tuple):
        return [plain(child) for child in node.value]
    return node.value


def shorten(text: str, limit: int = 60) -> str:
    """Text from a file, fit to be shown in one sentence: one line, no control characters, not too long."""
    line = "".join(char if char.isprintable() else " " for char in text)
    return line if len(line) <= limit else f"{line[: limit - 1]}…"


def items(node: Node | None) -> tuple[Node, ...]:
    """The nodes inside a list or a group of keys; none inside anything else."""
    value = node.value if node else None
    return tuple(value.values()) if isinstance(value, dict) else value if isinstance(value, tuple) else ()


def lines_of(node: Node) -> Iterator[tuple[str, int]]:
    """Each dotted key under the node with the line where it is written, parents first."""
    for child in items(node):
        yield child.named.key, child.named.line or 0
        yield from lines_of(child)


class _Mark(Protocol):
    """A position of the parser; lines and columns count from 0."""

    line: int
    column: int


class _StopError(Exception):
    """Reading further makes no sense."""


class _Reading:
    """Builds the tree from the parser's events, which unlike its loader hide nothing."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.problems: list[Problem] = []
        self.events: Iterator[yaml.Event] = iter(())
        self.has_empty = False

    def document(self, text: str, parser: Any) -> Node | None:  # noqa: ANN401
        """The only document of the text; None if reading had to stop."""
        try:
            self.events = yaml.parse(text, Loader=parser)
            return self._only_document()
        except _StopError:
            return None
        except yaml.MarkedYAMLError as error:
            opened = error.context_mark if _STARTS_BEFORE.search(error.context or "") else None
            mark = opened or error.problem_mark or error.context_mark
            self._fault(mark, "", f"this is not valid YAML: {_plainly(error.problem or str(error))}")
        except yaml.reader.ReaderError as error:
            what = f"the character U+{int(error.character):04X} is not allowed in YAML"
            self._fault_at(text, error.position, what)
        except (ValueError, OverflowError):  # the library makes a character of any number that is escaped
            found = _BEYOND.search(text)
            self._fault_at(text, found.start() if found else 0, "no character has this number")
        return None

    def _fault_at(self, text: str, position: int, what: str) -> None:
        before = text[:position]
        line, column = before.count("\n") + 1, len(before) - before.rfind("\n")
        where = Where(file=self.file, line=line, column=column)
        self.problems.append(Problem(where=where, what=what, remedy="remove it"))

    def _only_document(self) -> Node:
        root = Where(file=self.file, line=1, column=1)
        node = Node(where=root, named=root, value=None)
        documents = 0
        for event in self.events:
            if isinstance(event, yaml.DocumentStartEvent):
                documents += 1
                if documents > 1:
                    self._fault(
                        event.start_mark,
                        "",
                        "a second document starts here",
                        remedy="keep one document in a file",
                    )
                    raise _StopError
                node = self._node(next(self.events), "", None, 0)
        return node

    def _node(self, event: yaml.Event, key: str, named: Where | None, depth: int) -> Node:
        where = self._where(event.start_mark, key)
        if depth > MAX_DEPTH:
            self._fault(event.start_mark, key, f"lists and keys are nested more than {MAX_DEPTH} deep")
            raise _StopError
        self._refuse_extras(event, key)
        value: Scalar | tuple[Node, ...] | dict[str, Node] = None
        text = ""
        if isinstance(event, yaml.MappingStartEvent):
            value = self._mapping(key, depth)
        elif isinstance(event, yaml.SequenceStartEvent):
            value = self._sequence(key, depth)
        elif isinstance(event, yaml.ScalarEvent):
            value, text = self._scalar(event, key), event.value
        return Node(where=where, named=named or where, value=value, text=text)

    def _mapping(self, key: str, depth: int) -> dict[str, Node]:
        found: dict[str, Node] = {}
        for event in self.events:
            if isinstance(event, yaml.MappingEndEvent):
                break
            name, child_key = "", key
            if isinstance(event, yaml.ScalarEvent) and event.value:
                self._refuse_extras(event, key)
                name = self._whole_characters(event, key)
                child_key = f"{key}.{shorten(name)}" if key else shorten(name)
            else:
                self._fault(event.start_mark, key, "a key is missing here", "a word before the colon")
                self._node(event, key, None, depth + 1)
            named = self._where(event.start_mark, child_key)
            child = self._node(next(self.events), child_key, named, depth + 1)
            if name in found:
                first = f"it is already set in line {found[name].named.line}"
                self._fault(
                    event.start_mark, child_key, "this key is given twice", remedy=f"keep one; {first}"
                )
            elif name:
                found[name] = child
        return found

    def _sequence(self, key: str, depth: int) -> tuple[Node, ...]:
        found: list[Node] = []
        for event in self.events:
            if isinstance(event, yaml.SequenceEndEvent):
                break
            found.append(self._node(event, f"{key}[{len(found)}]", None, depth + 1))
        return tuple(found)

    def _scalar(self, event: yaml.ScalarEvent, key: str) -> Scalar:
        text = self._whole_characters(event, key)
        if event.style:
            return text
        self.has_empty |= not text
        if text.lower() in _WORDS and text in (text.lower(), text.title(), text.upper()):
            return _WORDS[text.lower()]
        if _NOT_FINITE.fullmatch(text):
            self._fault(
                event.start_mark, key, f"{shorten(text)} is not a number that can be used", "a finite number"
            )
        elif _NUMBER.fullmatch(text):
            return self._number(event, key)
        for pattern, reason, remedy in _TWO_MEANINGS if len(text) <= LONGEST_NUMBER else ():
            if pattern.fullmatch(text):
                self._fault(event.start_mark, key, f"{shorten(text)} {reason}", remedy=remedy)
                break
        return text

    def _whole_characters(self, event: yaml.ScalarEvent, key: str) -> str:
        """The scalar with pairs of surrogates, which JSON writes for one character, made that character."""
        text = joined(event.value)
        if what := unfit(text):
            self._fault(event.start_mark, key, what, remedy="remove it")
        event.value = fit(text)
        return fit(text)

    def _number(self, event: yaml.ScalarEvent, key: str) -> int | float:
        text: str = event.value
        whole = text.lstrip("+-").isdigit()
        if len(text) > (MAX_DIGITS + 1 if whole else 2 * MAX_DIGITS):
            expected = f"at most {MAX_DIGITS} digits"
            self._fault(event.start_mark, key, f"the number {shorten(text, 24)} is too long", expected)
            return 0
        number = float(text)
        if not math.isfinite(number):
            self._fault(event.start_mark, key, f"{text} is too large", "a finite number")
            return 0
        return int(text) if whole else number

    def _refuse_extras(self, event: yaml.Event, key: str) -> None:
        """Anchors, references to them, and tags: a file must say what it means where it says it."""
        anchor, tag = getattr(event, "anchor", None), getattr(event, "tag", None)
        if isinstance(event, yaml.AliasEvent):
            what = f"*{shorten(str(anchor))} refers to another place"
            self._fault(event.start_mark, key, what, remedy="write the value out here")
        elif anchor:
            what = f"&{shorten(anchor)} names a value for reuse, which is not supported"
            self._fault(event.start_mark, key, what, remedy="remove it")
        if tag:
            what = f"the tag {shorten(tag.replace(_YAML_TAG, '!!'))} is not supported"
            self._fault(event.start_mark, key, what, remedy="write the plain value without a tag")

    def _where(self, mark: _Mark | None, key: str) -> Where:
        if mark is None:
            return Where(file=self.file, key=key)
        return Where(file=self.file, line=mark.line + 1, column=mark.column + 1, key=key)

    def _fault(
        self, mark: _Mark | None, key: str, what: str, expected: str = "", *, remedy: str = ""
    ) -> None:
        problem = Problem(where=self._where(mark, key), what=what, expected=expected, remedy=remedy)
        self.problems.append(problem)
        if len(self.problems) == MAX_PROBLEMS:
            raise _StopError


_STARTS_BEFORE = re.compile(r"simple key|flow|quoted")
"""What the parser was reading when the fault lies where that began, not where it was noticed."""
_PLAINLY = (
    (
        r"found character '\\t' that cannot start any token",
        "a tab stands where only spaces may, indent with spaces",
    ),
    (
        r"mapping values are not allowed here",
        "a colon where no key can stand, check the indentation or put the text in quotes",
    ),
    (r"could not find expected ':'", "a colon and a space are missing after a key"),
    (
        r"expected <block end>, but found '<scalar>'",
        "text where none can stand, check the quotes before it and the indentation",
    ),
    (r"expected <block end>, but found .*", "the indentation does not match the lines above"),
    (r"found unexpected end of stream", "a quote is opened and never closed"),
    (r"found undefined alias.*", "a reference to a name that was never given"),
    (r"expected ',' or '([\]}])', but got .*", r"a list or a group in brackets is not closed with \1"),
    (r"found character '(.)' that cannot start any token", r"a value cannot start with \1, put it in quotes"),
)


def _plainly(problem: str) -> str:
    """A parser's complaint in a maker's words.

    >>> _plainly("mapping values are not allowed here")
    'a colon where no key can stand, check the indentation or put the text in quotes'
    """
    for pattern, words in _PLAINLY:
        match = re.fullmatch(pattern, problem)
        if match:
            return match.expand(words)
    return shorten(problem, 120)
