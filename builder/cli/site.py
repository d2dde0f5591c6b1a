"""Commands that publish: build, serve, pages, schema."""

from __future__ import annotations

import json
from importlib.util import find_spec
from pathlib import Path

import click

from builder.base import disk
from builder.base.problems import Where
from builder.cli.common import (
    LANGUAGE,
    MOLDS,
    STORE,
    example,
    folders,
    main,
    progress_bar,
    reporting_faults,
    say,
    texts_in,
)
from builder.spec.types import fault

HOSTED_BYTES = 1_000_000_000
"""The largest site that common free hosts take; from memory of GitHub's limits for Pages."""
CONFIG = click.option(
    "--config",
    type=click.Path(path_type=Path),
    default=Path("mkdocs.yml"),
    show_default=True,
    help="MkDocs configuration of the site.",
)


@main.command(
    short_help="Build the site.", epilog=example("  shotbook build\n  shotbook build --out /tmp/site")
)
@CONFIG
@LANGUAGE
@click.option(
    "--out", type=click.Path(path_type=Path), help="Folder of the site, instead of MkDocs' own site_dir."
)
def build(*, config: Path, out: Path | None, language: str) -> None:
    """Build the whole site and replace the old one with it; if anything fails, the old one stays."""
    import logging

    from builder import plugin

    logging.basicConfig(level=logging.WARNING, format="%(message)s")
    with reporting_faults(), progress_bar("Reading molds") as progress:
        place = plugin.build_site(_existing(config), out, progress)
    _warn_if_slow(language)
    if told := over_budget(place, language=language):
        click.echo(told, err=True)
    if not disk.LOCKS:
        say(language, "no_locks", err=True)
    say(language, "site", place=str(place), page=str(place / "index.html"))


@main.command(
    short_help="Serve the site while you work on it.",
    epilog=example("  shotbook serve\n  shotbook serve --address 0.0.0.0:8000"),
)
@CONFIG
@click.option("--address", default="127.0.0.1:8000", show_default=True, help="Address and port to serve at.")
def serve(config: Path, address: str) -> None:
    """Serve the site on this computer and rebuild it whenever a page, a mold.yaml or an STL changes."""
    import logging

    from builder import plugin

    logging.basicConfig(level=logging.INFO, format="%(message)s")
    with reporting_faults():
        plugin.serve(_existing(config), address)


@main.command(
    short_help="Write the pages as plain Markdown, or as HTML.",
    epilog=example("  shotbook pages --out pages\n  shotbook pages --out pages --html"),
)
@MOLDS
@LANGUAGE
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    required=True,
    help="Folder to write; its old content is replaced.",
)
@STORE
@click.option("--html", is_flag=True, help="Write complete HTML pages that open in a browser.")
def pages(*, molds: Path, language: str, out: Path, store: Path, html: bool) -> None:
    """Write the generated pages as Markdown, with all they need, for another site generator.

    Pictures, files, styles and scripts lie beside them. Inside, the pages are HTML; links between them end
    in .html.
    """
    from builder.base import disk, site_folder, workers
    from builder.base.store import Store
    from builder.site import catalogue, offline, site_map, whole_folder
    from builder.site.place import Place

    with reporting_faults(), progress_bar("Reading molds") as progress:
        really = site_folder.refuse(out, (molds, store, Path.cwd()))
        folders((), molds)
        found = catalogue.build_all(molds, Store(store), progress, workers.choose())
        made = site_map.generate(found, language, Place(alone=False))
        generated = whole_folder.whole(made, site_map.shell(language, ()), html=html)
        with disk.replacing(really) as folder:
            for uri, thing in generated.items():
                file = folder / uri
                file.parent.mkdir(parents=True, exist_ok=True)
                offline.written(thing, file)
            site_folder.mark(folder)
    say(language, "pages", count=len(generated), place=str(out))


@main.command(
    short_help="Print the JSON Schema of mold.yaml.", epilog=example("  shotbook schema > mold.schema.json")
)
@MOLDS
def schema(molds: Path) -> None:
    """Print the JSON Schema of mold.yaml: with it, an editor completes and checks the file as you type.

    It includes your own plastisols and mold materials, which lie beside the molds folder.
    """
    from builder.spec import material_tables, mold_file

    with reporting_faults():
        click.echo(json.dumps(mold_file.schema(material_tables.load(molds)), ensure_ascii=False, indent=1))


@main.command(
    short_help="Show what is kept between runs, and trim it.",
    epilog=example("  shotbook store\n  shotbook store --trim 500"),
)
@STORE
@LANGUAGE
@click.option(
    "--trim", type=click.IntRange(0), metavar="MB", help="Delete the oldest results until this much is left."
)
def store(*, store: Path, trim: int | None, language: str) -> None:
    """Print how much of each stage is kept. What is deleted is computed again; that only takes time."""
    from builder.base import units
    from builder.base.store import Store

    with reporting_faults():
        if not store.is_dir():
            raise fault(Where(file=str(store)), "nothing is kept here", remedy="name the store with --store")
        kept = Store(store)
        if trim is not None:
            say(language, "deleted", size=units.size(kept.trim(trim * 1_000_000), language))
        for stage, (count, size_bytes) in kept.sizes().items():
            size = units.size(size_bytes, language)
            say(language, "kept", stage=f"{stage:12}", count=f"{count:6}", size=size)


def _existing(config: Path) -> Path:
    """The configuration, which must be there."""
    if not config.is_file():
        remedy = "run this where the configuration is, or name it with --config"
        expected = "the MkDocs configuration of the site"
        raise fault(Where(file=str(config)), "there is no such file", expected, remedy)
    return config


def over_budget(site: Path, most_bytes: int = HOSTED_BYTES, language: str = "en") -> str:
    """A warning when the site is larger than a free host may take; '' otherwise."""
    from builder.base import units

    size_bytes = sum(file.stat().st_size for file in site.rglob("*") if file.is_file())
    if size_bytes <= most_bytes:
        return ""
    has, most = (units.size(each, language).replace("\u00a0", " ") for each in (size_bytes, most_bytes))
    told: str = texts_in(language).say("cli.said.large", size=has, most=most)
    return told


def _warn_if_slow(language: str) -> None:
    """Warn that pictures are plainer when the fast ray caster is missing."""
    if find_spec("embreex") is None:
        from builder import pictures

        note = pictures.slow_note()
        click.echo(texts_in(language).say(note.code) if note else "", err=True)
