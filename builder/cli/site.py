"""Commands that publish: build, serve, pages, schema."""

from __future__ import annotations

import json
from importlib.util import find_spec
from pathlib import Path

import click

from builder.base.problems import Where
from builder.cli.common import LANGUAGE, MOLDS, STORE, example, folders, main, progress_bar, texts_in, told
from builder.spec.types import fault

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
@click.option(
    "--out", type=click.Path(path_type=Path), help="Folder of the site, instead of MkDocs' own site_dir."
)
def build(config: Path, out: Path | None) -> None:
    """Build the whole site and put it in place of the old one, which stays untouched when anything fails."""
    import logging

    from builder import plugin

    logging.basicConfig(level=logging.WARNING, format="%(message)s")
    with told(), progress_bar("Reading molds") as progress:
        _refuse_to_replace(out, "404.html")
        place = plugin.build_site(_existing(config), out, progress)
    _tell_if_slow()
    click.echo(f"The site is in {place}; open {place / 'index.html'}.")


@main.command(
    short_help="Serve the site while you work on it.",
    epilog=example("  shotbook serve\n  shotbook serve --address 0.0.0.0:8000"),
)
@CONFIG
@click.option("--address", default="127.0.0.1:8000", show_default=True, help="Address and port to serve at.")
def serve(config: Path, address: str) -> None:
    """Serve the site on this machine and build it again whenever a page, a mold.yaml or an STL changes."""
    import logging

    from builder import plugin

    logging.basicConfig(level=logging.INFO, format="%(message)s")
    with told():
        plugin.serve(_existing(config), address)


@main.command(
    short_help="Write the pages as plain Markdown.", epilog=example("  shotbook pages --out /tmp/pages")
)
@MOLDS
@LANGUAGE
@click.option(
    "--out", type=click.Path(path_type=Path), required=True, help="Folder to write, replaced as a whole."
)
@STORE
def pages(molds: Path, language: str, out: Path, store: Path) -> None:
    """Write the generated pages as Markdown, with pictures and files, for another site generator."""
    from builder.base import disk
    from builder.base.store import Store
    from builder.site import catalogue, site_map

    with told(), progress_bar("Reading molds") as progress:
        _refuse_to_replace(out, "index.md")
        folders((), molds)
        generated = site_map.generate(catalogue.build_all(molds, Store(store), progress), language)
        disk.mend_swap(out)
        with disk.making_beside(out) as folder:
            for uri, thing in generated.items():
                file = folder / "pages" / uri
                file.parent.mkdir(parents=True, exist_ok=True)
                file.write_bytes(thing.read_bytes() if isinstance(thing, Path) else thing.encode())
            disk.swap_in(folder / "pages", out)
    click.echo(f"{len(generated)} files are in {out}.")


@main.command(
    short_help="Print the JSON Schema of mold.yaml.", epilog=example("  shotbook schema > mold.schema.json")
)
def schema() -> None:
    """Print the JSON Schema of mold.yaml, with which an editor completes and checks it as you type."""
    from builder.spec import material_tables, mold_file

    with told():
        click.echo(json.dumps(mold_file.schema(material_tables.load()), ensure_ascii=False, indent=1))


def _refuse_to_replace(out: Path | None, mark: str) -> None:
    """Faults when the folder to write holds something else than what the command wrote before."""
    if (
        out is None
        or not out.exists()
        or (out.is_dir() and ((out / mark).exists() or not any(out.iterdir())))
    ):
        return
    what = "other files are there, which would be lost"
    remedy = "name another folder"
    raise fault(
        Where(file=str(out)), what, "a new or empty folder, or one that this command wrote before", remedy
    )


def _existing(config: Path) -> Path:
    """The configuration, which must be there."""
    if not config.is_file():
        remedy = "run this where the configuration is, or name it with --config"
        expected = "the MkDocs configuration of the site"
        raise fault(Where(file=str(config)), "there is no such file", expected, remedy)
    return config


def _tell_if_slow() -> None:
    """Say that pictures are plainer where the fast ray caster is missing; load nothing where it is there."""
    if find_spec("embreex") is None:
        from builder import pictures

        note = pictures.slow_note()
        click.echo(texts_in("en").say(note.code) if note else "", err=True)
