"""All molds of the collection, as the pages need them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources
from pathlib import Path

from builder.base import serialize, workers
from builder.base.store import Store
from builder.model import Ingredient, MoldRecord, Request, Tables
from builder.site import batch
from builder.spec import material_tables, requests, yaml_reader

Progress = batch.Progress


@dataclass(frozen=True, slots=True, kw_only=True)
class Catalogue:
    """Every mold by slug, and the tables that its numbers were computed from."""

    molds: tuple[MoldRecord, ...]
    tables: Tables
    colours: Mapping[str, tuple[Ingredient, ...]]
    """Recipes to start from, by id."""
    requests: tuple[Request, ...] = ()
    ask: str = ""
    """Where visitors may ask for a mold."""
    store: Store | None = None
    """Where what is made of a mold is kept; None where nothing is."""
    engine: workers.Engine = workers.here
    """What writes the pages of many molds: processes of this machine, which reach the store."""


def build_all(
    molds: Path,
    store: Store,
    progress: Progress = lambda *_: None,
    engine: workers.Engine = workers.here,
) -> Catalogue:
    """The molds under `molds`, by slug; Faults of all of them together."""
    tables = material_tables.load(molds)
    read = batch.build_molds(molds, tables, store, progress, engine)
    slugs = [record.spec.slug for record in read]
    asked = requests.load(molds, slugs)
    return Catalogue(
        molds=read,
        tables=tables,
        colours=load_colours(),
        requests=asked,
        ask=requests.ask(molds),
        store=store,
        engine=workers.local(engine),
    )


def load_colours() -> Mapping[str, tuple[Ingredient, ...]]:
    """The recipes of builder/tables/colours.yaml.

    >>> load_colours()["ink_black"][0].unit
    'drops'
    """
    file = "colours.yaml"
    text = resources.files("builder").joinpath("tables", file).read_text(encoding="utf-8")
    content = yaml_reader.read_plain(text, file)
    recipes = content if isinstance(content, dict) else {}
    return {name: serialize.from_json(tuple[Ingredient, ...], listed) for name, listed in recipes.items()}
