"""What several test files share: the tables, and a store that outlives a run."""

from __future__ import annotations

from pathlib import Path

import pytest

from builder import materials
from builder.model import Tables
from builder.store import Store

ROOT = Path(__file__).parent.parent


@pytest.fixture(scope="session")
def tables() -> Tables:
    return materials.load()


@pytest.fixture(scope="session")
def kept() -> Path:
    """The folder of the store that `shotbook build` uses: results are kept by content, so sharing is safe."""
    return ROOT / ".shotbook"


@pytest.fixture
def store(kept: Path) -> Store:
    return Store(kept)
