"""The command `shotbook`. Stages are imported by the command that needs them, so that help is quick."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from builder.kinds import did_you_mean, fault, gather, nearest
from builder.problems import Faults, Where

if TYPE_CHECKING:
    from builder.model import Advice, Measurement, MoldSpec, Tables
    from builder.store import Store

    Numbers = tuple[MoldSpec, Measurement, Advice]

MOLDS = click.option(
    "--molds",
    type=click.Path(path_type=Path),
    default=Path("molds"),
    show_default=True,
    help="Folder that holds one folder for each mold.",
)
CONFIG = click.option(
    "--config",
    type=click.Path(path_type=Path),
    default=Path("mkdocs.yml"),
    show_default=True,
    help="MkDocs configuration of the site.",
)
LANGUAGE = click.option(
    "--language",
    type=click.Choice(sorted(file.stem for file in (Path(__file__).parent / "texts").glob("*.yaml"))),
    default="en",
    show_default=True,
    help="Language of the sentences.",
)
STORE = click.option(
    "--store",
    type=click.Path(path_type=Path),
    default=Path(".shotbook"),
    show_default=True,
    help="Folder of kept results, safe to delete.",
)
NAMES = click.argument("molds_named", metavar="[MOLD]...", nargs=-1)


class Commands(click.Group):
    """The commands; a misspelled one gets a suggestion."""

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command of that name; a usage error with the nearest name otherwise."""
        meant = nearest(args[0], self.list_commands(ctx))
        if self.get_command(ctx, args[0]) is None and meant:
            ctx.fail(f"No such command {args[0]!r}. Did you mean {meant}?")
        return super().resolve_command(ctx, args)


def example(text: str) -> str:
    """An epilog that shows how the command is used, lines kept as they are."""
    return f"\b\nExample:\n{text}"


@contextmanager
def told() -> Iterator[None]:
    """Faults of the user's files end the command with a sentence each and exit code 1, no traceback."""
    try:
        yield
    except Faults as faults:
        for problem in faults.problems:
            click.echo(str(problem), err=True)
        count = len(faults.problems)
        click.echo(f"{count} fault{'s' if count > 1 else ''}.", err=True)
        sys.exit(1)
    except OSError as error:
        place = f"{error.filename}: " if error.filename else ""
        click.echo(f"{place}{error.strerror or error}.", err=True)
        sys.exit(1)


@click.group(
    cls=Commands,
    context_settings={"help_option_names": ["-h", "--help"]},
    epilog=example("  shotbook check\n  shotbook build"),
)
@click.version_option(package_name="shotbook")
def main() -> None:
    """Read soft-plastic bait molds from their STL files and publish how to shoot them."""


@main.command(
    epilog=example(
        "  shotbook new reed-minnow half-a.stl half-b.stl\n  shotbook new grub a.stl b.stl --cavities 4"
    )
)
@click.argument("slug")
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
@MOLDS
@click.option(
    "--cavities", type=click.IntRange(1, 64), help="How many baits one shot makes; found out if left out."
)
def new(slug: str, files: tuple[Path, ...], molds: Path, cavities: int | None) -> None:
    """Start a mold: copy its STL FILES into the folder SLUG and write a mold.yaml with all they tell.

    What the files cannot tell is asked in comments. SLUG becomes part of the mold's address.
    """
    from builder import draft, materials

    with told():
        click.echo("Reading the files; this takes some seconds.", err=True)
        made = draft.write(molds / slug, files, cavities, materials.load())
    file = molds / slug / "mold.yaml"
    if made.question:
        click.echo(f"{file} is written, but the reading is not sure yet: {made.question}.")
    else:
        click.echo(f"{file} is written. Answer the lines with ? in it, then: shotbook check {slug}")


@main.command(epilog=example("  shotbook measure reed-minnow\n  shotbook measure --json > numbers.json"))
@NAMES
@MOLDS
@STORE
@LANGUAGE
@click.option("--json", "as_json", is_flag=True, help="Print JSON for other programs instead of a table.")
def measure(molds_named: tuple[str, ...], molds: Path, store: Path, language: str, as_json: bool) -> None:
    """Print what the files of a mold hold: volumes, weights, sizes, sprue, vents, bolts, amounts, times.

    MOLD is a name in the molds folder or a folder of its own; without one, every mold is read.
    """
    from builder import report

    with told():
        texts, read = _texts(language), list[dict[str, object]]()

        def tell(numbers: Numbers) -> None:
            mold, measured, advice = numbers
            if as_json:
                read.append(report.data(mold, measured, advice))
            else:
                click.echo(report.table(mold, measured, advice, texts))

        _numbers(_folders(molds_named, molds), store, tell)
        if as_json:
            click.echo(json.dumps({"molds": read}, ensure_ascii=False, indent=1))


@main.command(epilog=example("  shotbook check\n  shotbook check reed-minnow --strict"))
@NAMES
@MOLDS
@STORE
@LANGUAGE
@click.option("--strict", is_flag=True, help="Exit with 1 also when a mold has a finding marked STOP.")
def check(molds_named: tuple[str, ...], molds: Path, store: Path, language: str, strict: bool) -> None:
    """Check every mold and print what will go wrong, the gravest first: STOP, Warning, Note.

    Exits with 1 when a mold has a fault in its mold.yaml or its files. All molds are checked, whatever
    is wrong with one of them.
    """
    from builder import report

    with told():
        texts = _texts(language)
        stops: list[object] = []

        def tell(numbers: Numbers) -> None:
            mold, measured, advice = numbers
            found = [*advice.findings, *advice.windows[0].findings, *measured.findings]
            sentences = report.findings(found, texts) or [texts.say("cli.sound")]
            click.echo("\n  ".join([f"{mold.title} ({mold.slug})", *sentences]))
            stops.extend(finding for finding in found if finding.level == "stop")

        _numbers(_folders(molds_named, molds), store, tell)
    if strict and stops:
        sys.exit(1)


@main.command(epilog=example("  shotbook build\n  shotbook build --out /tmp/site"))
@CONFIG
@click.option(
    "--out", type=click.Path(path_type=Path), help="Folder of the site, instead of MkDocs' own site_dir."
)
def build(config: Path, out: Path | None) -> None:
    """Build the whole site and put it in place of the old one, which stays untouched when anything fails."""
    from builder import plugin

    with told(), _progress("Reading molds") as progress:
        place = plugin.build_site(_existing(config), out, progress)
    click.echo(f"The site is in {place}; open {place / 'index.html'}.")


@main.command(epilog=example("  shotbook serve\n  shotbook serve --address 0.0.0.0:8000"))
@CONFIG
@click.option("--address", default="127.0.0.1:8000", show_default=True, help="Address and port to serve at.")
def serve(config: Path, address: str) -> None:
    """Serve the site on this machine and build it again whenever a page, a mold.yaml or an STL changes."""
    import logging

    from builder import plugin

    logging.basicConfig(level=logging.INFO, format="%(message)s")
    with told():
        plugin.serve(_existing(config), address)


@main.command(epilog=example("  shotbook pages --out /tmp/pages"))
@MOLDS
@LANGUAGE
@click.option(
    "--out", type=click.Path(path_type=Path), required=True, help="Folder to write, replaced as a whole."
)
@STORE
def pages(molds: Path, language: str, out: Path, store: Path) -> None:
    """Write the generated pages as Markdown, with pictures and files, for another site generator."""
    from builder import catalogue, disk, site
    from builder.store import Store

    with told(), _progress("Reading molds") as progress:
        _folders((), molds)
        generated = site.generate(catalogue.build_all(molds, Store(store), progress), language)
        disk.mend_swap(out)
        with disk.making_beside(out) as folder:
            for uri, thing in generated.items():
                file = folder / "pages" / uri
                file.parent.mkdir(parents=True, exist_ok=True)
                file.write_bytes(thing.read_bytes() if isinstance(thing, Path) else thing.encode())
            disk.swap_in(folder / "pages", out)
    click.echo(f"{len(generated)} files are in {out}.")


@main.command(epilog=example("  shotbook schema > mold.schema.json"))
def schema() -> None:
    """Print the JSON Schema of mold.yaml, with which an editor completes and checks it as you type."""
    from builder import materials, spec

    with told():
        click.echo(json.dumps(spec.schema(materials.load()), ensure_ascii=False, indent=1))


def _folders(named: tuple[str, ...], molds: Path) -> list[Path]:
    """The folders of the molds named, or of all; Faults for each name that is none."""
    if named:
        return gather(partial(_named, name, molds) for name in named)
    if not molds.is_dir():
        what, remedy = (
            "there is no such folder",
            "run this where your molds folder is, or name it with --molds",
        )
        raise fault(Where(file=str(molds)), what, "a folder that holds one folder for each mold", remedy)
    folders = [file.parent for file in sorted(molds.glob("*/mold.yaml"))]
    if not folders:
        remedy = "start one with: shotbook new my-first-mold half-a.stl half-b.stl"
        raise fault(
            Where(file=str(molds)), "there is no mold here", "a folder with a mold.yaml in it", remedy
        )
    return folders


def _named(name: str, molds: Path) -> Path:
    for folder in (molds / name, Path(name)):
        if (folder / "mold.yaml").exists():
            return folder
    there = sorted(file.parent.name for file in molds.glob("*/mold.yaml"))
    what = "this folder has no mold.yaml" if Path(name).is_dir() else "there is no mold of this name"
    expected = f"one of {', '.join(there)}" if there else "a folder with a mold.yaml in it"
    raise fault(Where(file=name), what, expected, did_you_mean(name, there))


def _numbers(folders: list[Path], store: Path, tell: Callable[[Numbers], object]) -> None:
    """Tell spec, measurement and advice of each mold as they come; Faults of all of them together."""
    from builder import materials
    from builder.store import Store

    tables, kept = materials.load(), Store(store)
    gather(partial(lambda folder: tell(_read(folder, tables, kept)), folder) for folder in folders)


def _read(folder: Path, tables: Tables, store: Store) -> Numbers:
    from builder import advice, build
    from builder.model import Advice, Measurement

    draft = build.look(folder, tables)
    mold = build.without_prose(draft.mold)
    measured, _ = store.keep(
        "measure",
        draft.keys.measure,
        Measurement,
        lambda _: build.read(mold, build.contents_of(draft)).measurement,
    )
    advised, _ = store.keep(
        "advice", draft.keys.advice, Advice, lambda _: advice.advise(mold, measured, tables)
    )
    return draft.mold, measured, advised


def _texts(language: str) -> Any:  # noqa: ANN401 - Texts, imported late
    from builder import site

    return site.texts(language)


def _existing(config: Path) -> Path:
    """The configuration, which must be there."""
    if not config.is_file():
        remedy = "run this where the configuration is, or name it with --config"
        raise fault(
            Where(file=str(config)), "there is no such file", "the MkDocs configuration of the site", remedy
        )
    return config


@contextmanager
def _progress(label: str) -> Iterator[Callable[[int, int, str], None]]:
    """A bar on the terminal that moves with each mold; silent when the output is no terminal."""
    shown: dict[str, Any] = {}

    def move(done: int, total: int, slug: str) -> None:
        if "bar" not in shown:
            shown["bar"] = click.progressbar(
                length=total,
                label=label,
                file=sys.stderr,
                hidden=not sys.stderr.isatty(),
                item_show_func=lambda item: item or "",
            )
        shown["bar"].update(done - shown["bar"].pos, slug)

    try:
        yield move
    finally:
        if "bar" in shown:
            shown["bar"].update(shown["bar"].length - shown["bar"].pos)
            shown["bar"].render_finish()
