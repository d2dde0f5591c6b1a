"""Faults that a developer could make in a number on a page; `python -m tests.mutants` plants each."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from tests.small_site import ROOT

SEEN_BY_SCRIPTS = (
    "on the site the mold's limit",
    "a shot's weight, compared",
    "the first bait's weight, compared",
    "thinnest for the length, compared",
    "hold for the rest, compared",
    "rest for the time to open, compared",
    "time to open for the hold, compared",
    "the plastisol's limit, compared",
    "shooting for filling, compared",
    "spare included, compared",
    "length for the thinnest, compared",
)
"""What is broken where the page has only the name of a figure, and a script puts the figure there."""


@dataclass(frozen=True, slots=True)
class Mutant:
    """One fault: in `file`, the text `find` becomes `put`, and `breaks` says what a visitor then reads."""

    file: str
    find: str
    put: str
    breaks: str

    @property
    def scripted(self) -> bool:
        """Whether only a browser can see it."""
        name = self.file.rpartition("/")[2]
        templates = ("bench.md.jinja", "compare.md.jinja")
        return name.endswith(".js") or name in templates or self.breaks in SEEN_BY_SCRIPTS

    def planted(self, root: Path = ROOT) -> str:
        """The file's text with the fault in it; ValueError when the text is not there just once."""
        text = (root / self.file).read_text(encoding="utf-8")
        if text.count(self.find) != 1:
            raise ValueError(f"{self.file} has {text.count(self.find)} times: {self.find}")
        return text.replace(self.find, self.put)


def in_file(file: str, *faults: tuple[str, str, str]) -> tuple[Mutant, ...]:
    """Faults of one file: text, other text, what it breaks."""
    return tuple(Mutant(file, *fault) for fault in faults)


def everything() -> tuple[Mutant, ...]:
    """All of them."""
    from tests.mutants import in_data, in_figures, in_scripts, in_templates, in_texts, in_views

    modules = (in_figures, in_templates, in_views, in_data, in_texts, in_scripts)
    return tuple(one for module in modules for one in module.MUTANTS)
