"""What several test files share: the tables, a store that outlives a run, and the driver of the browser."""

from __future__ import annotations

import gc
import os
import shutil
import sys
from collections import Counter, defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Protocol

import pytest
from hypothesis import settings
from playwright.sync_api import Browser, sync_playwright

from builder.base.store import Store
from builder.mesh import solids
from builder.model import Tables
from builder.spec import material_tables
from tests import coarse

CHROMIUM = shutil.which("chromium-headless-shell") or shutil.which("chromium")
"""The shell is the same engine without windows, tabs and menus: a page takes two thirds of the time."""

settings.register_profile("untimed", deadline=None)  # a busy machine is no fault of what is tested
settings.load_profile("untimed")


def pytest_xdist_auto_num_workers(config: pytest.Config) -> int:
    """A process on each core for whole folders; one alone, which starts at once, where files are named."""
    if _named(config):
        config.option.dist = "no"
        return 0
    return os.cpu_count() or 1


def _named(config: pytest.Config) -> bool:
    """Whether files are named, not whole folders."""
    return any("::" in argument or argument.endswith(".py") for argument in config.args)


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """What took longest in the last run comes first, else files with many slow tests.

    What is long must not be the last that one process does alone.
    """
    for item in {getattr(item, "originalname", item.name) + str(item.path): item for item in items}.values():
        told = [mark.args for mark in item.iter_markers("parametrize")]
        assert "manifold3d.Manifold object" not in repr(told), (
            f"{item.nodeid} holds a solid, which outlives the interpreter"
        )
    slow = Counter(item.path for item in items if item.get_closest_marker("slow"))
    took = _took(config)
    items.sort(key=lambda item: (-took.get(_file(item.nodeid), 0.0), -slow[item.path]))


def _took(config: pytest.Config) -> dict[str, float]:
    """Seconds of each file in the last run of such a selection."""
    cache = getattr(config, "cache", None)  # absent where it is switched off
    return dict(cache.get(_round(config), {})) if cache else {}


def _round(config: pytest.Config) -> str:
    return f"shotbook/seconds/{config.getoption('markexpr') or 'all'}"


def _file(nodeid: str) -> str:
    return nodeid.partition("::")[0]


SECONDS: defaultdict[str, float] = defaultdict(float)


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    SECONDS[_file(report.nodeid)] += report.duration


def pytest_sessionfinish(session: pytest.Session) -> None:
    """Keep what took how long; let go of the last solids, else their library tells of each."""
    config = session.config
    cache = None if hasattr(config, "workerinput") or _named(config) else getattr(config, "cache", None)
    if cache:
        cache.set(_round(config), {file: round(spent, 1) for file, spent in SECONDS.items()})
    for keeps in (solids.body, solids._arrays, solids._union):
        keeps.cache_clear()
    for module in [module for name, module in sys.modules.items() if name.startswith("tests.")]:
        for name, value in list(vars(module).items()):
            if isinstance(value, solids.Body):
                delattr(module, name)
    gc.collect()


class Launch(Protocol):
    """Starts Chromium with the switches given."""

    def __call__(self, switches: list[str]) -> Browser:
        """The browser; whoever starts it closes it."""


@pytest.fixture(scope="session")
def tables() -> Tables:
    return material_tables.load()


@pytest.fixture(scope="session")
def kept() -> Path:
    """The folder of a store that outlives the run: results are kept by content, so sharing is safe."""
    coarse.KEPT.mkdir(parents=True, exist_ok=True)
    return coarse.KEPT


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
