"""The language files: which there are, and the sentences of one."""

from __future__ import annotations

from functools import cache
from importlib import resources

from builder.base.texts import Texts, flatten
from builder.spec import yaml_reader


def languages() -> tuple[str, ...]:
    """The languages that there are sentences in."""
    files = resources.files("builder").joinpath("texts").iterdir()
    return tuple(sorted(file.name.removesuffix(".yaml") for file in files if file.name.endswith(".yaml")))


def texts(language: str) -> Texts:
    """The sentences of one language; Faults when its file cannot be read."""
    text = resources.files("builder").joinpath("texts", f"{language}.yaml").read_text(encoding="utf-8")
    return _parsed(text, language)


@cache
def _parsed(text: str, language: str) -> Texts:
    """A language file, parsed once in a process, as long as its text is the same."""
    file = f"{language}.yaml"
    content = yaml_reader.read_plain(text, file)
    if not isinstance(content, dict):
        raise TypeError(f"{file} has no sections")
    return Texts(language=language, entries=dict(flatten(content)))
