"""How easily the sentences of a language file read, by Flesch's formula.

R. Flesch, A new readability yardstick, J. Appl. Psychol. 32 (1948) 221, from memory: 206.835 - 1.015 words a
sentence - 84.6 syllables a word; 60 to 70 is plain English. Syllables are counted as groups of vowels.
"""

from __future__ import annotations

import re

from tests.numbers.sentences import entries


def reading_ease(text: str) -> float:
    """Flesch's reading ease.

    >>> round(reading_ease("The cat sat on the mat."))
    116
    """
    sentences = max(1, len(re.findall(r"[.!?](?:\s|$)", text)))
    words = re.findall(r"[A-Za-z']+", text)
    syllables = sum(max(1, len(re.findall(r"[aeiouy]+", re.sub(r"e$", "", word.lower())))) for word in words)
    return 206.835 - 1.015 * len(words) / sentences - 84.6 * syllables / max(1, len(words))


def prose() -> str:
    """The sentences of the English file that end like one."""
    told = [text for key, text in entries("en").items() if text.endswith(".") and not key.startswith("test.")]
    return " ".join(re.sub(r"\{\w+\}", "some", text) for text in told)
