"""The site of the invented molds, built once."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pytest

from builder.site.catalogue import Catalogue
from tests.numbers import molds, reading
from tests.numbers.expected import Places
from tests.numbers.reading import Found


@dataclass(frozen=True, slots=True)
class Site:
    """The site as built, and what it was built from."""

    folder: Path
    made: Catalogue
    at: Places

    def text(self, place: str) -> str:
        """A file of the site."""
        return (self.folder / place).read_text(encoding="utf-8")

    def page(self, place: str) -> list[Found]:
        """The numbers of a page before scripts."""
        return reading.page(self.text(place), self.at.language)


@pytest.fixture(scope="session")
def site(tmp_path_factory: pytest.TempPathFactory) -> Site:
    made, folder = molds.build(tmp_path_factory.mktemp("invented"))
    return Site(folder, made, Places())


@pytest.fixture(scope="session")
def german(tmp_path_factory: pytest.TempPathFactory) -> Site:
    made, folder = molds.build(tmp_path_factory.mktemp("erfunden"), "de")
    return Site(folder, made, Places("de"))
