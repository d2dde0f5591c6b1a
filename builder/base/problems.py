"""Faults of a user's files: one sentence each, all of them reported at once."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

STEERING = "\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069"
"""Control characters but tab and line feed, other ends of lines, marks that turn the direction of text."""
_STEERS = re.compile(f"[{STEERING}\ud800-\udfff]")
"""These and halves of characters: a file's name may hold them, a terminal must not get them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Where:
    """A place in a user's file. Line and column count from 1; None where the file has no lines."""

    file: str
    line: int | None = None
    column: int | None = None
    key: str = ""

    def __str__(self) -> str:
        """The place as `file:line:column, key parts[1].file`, on one line and fit for a terminal."""
        place = ":".join(str(part) for part in (self.file, self.line, self.column) if part is not None)
        return _STEERS.sub("?", f"{place}, key {self.key}" if self.key else place).replace("\n", "?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One fault: where it is, what it is, what was expected and what to do about it."""

    where: Where
    what: str
    expected: str = ""
    remedy: str = ""

    def __str__(self) -> str:
        """One sentence.

        >>> print(Problem(where=Where(file="mold.yaml", line=3, column=11, key="cavities"),
        ...               what="-1 is out of range", expected="a whole number from 1 to 64"))
        mold.yaml:3:11, key cavities: -1 is out of range; expected a whole number from 1 to 64.
        """
        parts = [self.what]
        if self.expected:
            parts.append(f"expected {self.expected}")
        if self.remedy:
            parts.append(self.remedy)
        return f"{self.where}: {_STEERS.sub('?', ended('; '.join(parts)))}"


def ended(sentence: str) -> str:
    """With a full stop, unless it is a question or its last line is one to paste: a stop would be pasted too.

    >>> ended("two halves"), ended("write this:\\nparts: [a.stl, b.stl]")
    ('two halves.', 'write this:\\nparts: [a.stl, b.stl]')
    """
    is_line = "\n" in sentence and sentence.endswith(("]", "}"))
    return sentence if is_line or sentence.endswith("?") else f"{sentence}."


class Faults(Exception):  # noqa: N818 - it carries faults of the user's files, not an error of ours
    """The one exception that a shell shows without a traceback: all faults found, in file order."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        """Keep the problems; there is at least one."""
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))
