"""Which characters a text of a stranger may hold: what both readers, of YAML and of JSON, refuse."""

from __future__ import annotations

import re

_HALF = re.compile("[\ud800-\udfff]")
_UNSEEN = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069]")
"""Control characters but tab and line feed, other ends of lines, marks that turn the direction of text."""


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
