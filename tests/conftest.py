"""What several test files share: the tables, a store that outlives a run, and the driver of the browser."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Protocol

import pytest
from playwright.sync_api import Browser, sync_playwright

from builder.base.store import Store
from builder.model import Tables
from builder.spec import material_tables

ROOT = Path(__file__).parent.parent
CHROMIUM = shutil.which("chromium")


class Launch(Protocol):
    """Starts Chromium with the switches given."""

    def __call__(self, switches: list[str]) -> Browser:
        """The browser; whoever starts it closes it."""


@pytest.fixture(scope="session")
def tables() -> Tables:
    return material_tables.load()


@pytest.fixture(scope="session")
def kept() -> Path:
    """The folder of the store that `shotbook build` uses: results are kept by content, so sharing is safe."""
    return ROOT / ".shotbook"


@pytest.fixture
def store(kept: Path) -> Store:
    return Store(kept)


@pytest.fixture(scope="session")
def launch() -> Iterator[Launch]:
    """One driver for all: a second one in the same process is refused."""
    if CHROMIUM is None:
        pytest.skip("no chromium on this machine")
    with sync_playwright() as playwright:
        yield lambda switches: playwright.chromium.launch(executable_path=CHROMIUM, args=switches)
