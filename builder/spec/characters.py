"""Which characters a text of a stranger may hold: what both readers, of YAML and of JSON, refuse."""

from __future__ import annotations

import re

from builder.base.problems import STEERING

_HALF = re.compile("[\ud800-\udfff]")
_NONE = "\ufdd0-\ufdef" + "".join(
    f"{chr(plane + 0xFFFE)}{chr(plane + 0xFFFF)}" for plane in range(0, 0x110000, 0x10000)
)
"""Numbers that no character has (Unicode 23.7); XML refuses two of them (XML 1.0, 2.2)."""
_UNSEEN = re.compile(f"[{STEERING}{_NONE}]")


def joined(text: str) -> str:
    r"""The text with pairs of surrogates, which JSON writes for one character, made that character.

    >>> joined("\ud83d\udc1f") == "\N{FISH}"
    True
    """
    if not _HALF.search(text):
        return text
    return text.encode("utf-16", "surrogatepass").decode("utf-16", "surrogatepass")


def unfit(text: str) -> str:
    r"""What is wrong with the characters of a text; '' when nothing is.

    >>> unfit("a\u202eb")
    'the character U+202E is not allowed in text'
    """
    if _HALF.search(text):
        return "this text holds half of a character (a lone surrogate)"
    found = _UNSEEN.search(text)
    return f"the character U+{ord(found[0]):04X} is not allowed in text" if found else ""


def fit(text: str) -> str:
    """The text with a question mark for each character that is not allowed."""
    return _UNSEEN.sub("?", _HALF.sub("?", text))
