"""How easily the sentences of a language file read: Flesch's reading ease, by the library textstat.

R. Flesch, A new readability yardstick, J. Appl. Psychol. 32 (1948) 221, from memory: 60 to 70 is plain
English, 70 to 80 fairly easy. The library takes English syllables from the CMU pronouncing dictionary, German
ones from hyphenation, with the constants for German.
"""

from __future__ import annotations

import re

import textstat

from tests.numbers.sentences import entries


def reading_ease(text: str, language: str = "en") -> float:
    """Flesch's reading ease.

    >>> reading_ease("The cat sat on the mat.")
    116.15
    """
    textstat.set_lang(language)
    return round(float(textstat.flesch_reading_ease(text)), 2)


def prose(language: str = "en") -> str:
    """The sentences of a language file that end like one."""
    told = (text for key, text in entries(language).items() if not key.startswith("test."))
    return " ".join(re.sub(r"\{\w+\}", "some", text) for text in told if text.endswith("."))
