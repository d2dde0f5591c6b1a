"""All molds of the collection, as the pages need them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from builder import fleet, materials
from builder.model import MoldRecord, Tables
from builder.store import Store


@dataclass(frozen=True, slots=True, kw_only=True)
class Catalogue:
    """Every mold by slug, and the tables that its numbers were computed from."""

    molds: tuple[MoldRecord, ...]
    tables: Tables


def build_all(
    molds: Path, store: Store, progress: Callable[[int, int, str], None] = lambda *_: None
) -> Catalogue:
    """The molds under `molds`, by slug; Faults of all of them together."""
    tables = materials.load()
    return Catalogue(molds=fleet.build_molds(molds, tables, store, progress), tables=tables)
