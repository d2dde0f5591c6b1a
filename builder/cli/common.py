"""Shared by all commands: the group, common options, fault messages, selection of molds."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from io import TextIOWrapper
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from builder.base.contained import shown
from builder.base.problems import Faults, Where
from builder.spec.types import did_you_mean, fault, gather, nearest

if TYPE_CHECKING:
    from builder.model import Tables

MOLDS = click.option(
    "--molds",
    type=click.Path(path_type=Path),
    default=Path("molds"),
    show_default=True,
    help="Folder that holds one folder for each mold.",
)
LANGUAGE = click.option(
    "--language",
    type=click.Choice(sorted(file.stem for file in (Path(__file__).parent.parent / "texts").glob("*.yaml"))),
    default="en",
    show_default=True,
    envvar="SHOTBOOK_LANGUAGE",
    help="Language of the output; SHOTBOOK_LANGUAGE sets it for all commands.",
)
STORE = click.option(
    "--store",
    type=click.Path(path_type=Path),
    default=Path(".shotbook"),
    show_default=True,
    help="Folder of kept results; safe to delete.",
)
NAMES = click.argument("named", metavar="[MOLD]...", nargs=-1)


class Commands(click.Group):
    """The commands in the order in which they are used; a misspelled one gets a suggestion."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 - click passes it
        """Their names as they were registered."""
        return list(self.commands)

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
def reporting_faults() -> Iterator[None]:
    """Faults of the user's files end the command with a sentence each and exit code 1, no traceback."""
    try:
        yield
    except Faults as faults:
        for problem in faults.problems:
            click.echo(str(problem), err=True)
        count = len(faults.problems)
        click.echo(f"{count} fault{'s' if count > 1 else ''}.", err=True)
        sys.exit(1)
    except BrokenPipeError:
        raise  # the reader of our output has seen enough; click ends quietly
    except OSError as error:
        place = f"{shown(error.filename)}: " if error.filename else ""
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
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            # A letter that the terminal has not is no reason to end; what is piped is UTF-8 on every system.
            asked = stream.isatty() or "PYTHONIOENCODING" in os.environ
            stream.reconfigure(encoding=None if asked else "utf-8", errors="backslashreplace")


def folders(named: tuple[str, ...], molds: Path) -> list[Path]:
    """The folders of the molds named, or of all; Faults for each name that is none."""
    if named:
        return gather(partial(_named, name, molds) for name in named)
    if not molds.is_dir():
        expected = "a folder that holds one folder for each mold"
        remedy = "run this where your molds folder is, or name it with --molds"
        raise fault(Where(file=str(molds)), "there is no such folder", expected, remedy)
    folders = [file.parent for file in sorted(molds.glob("*/mold.yaml"))]
    if not folders:
        remedy = "start one with: shotbook new my-first-mold half-a.stl half-b.stl"
        expected = "a folder with a mold.yaml in it"
        raise fault(Where(file=str(molds)), "there is no mold here", expected, remedy)
    return folders


def _named(name: str, molds: Path) -> Path:
    given = Path(name).parent if Path(name).name == "mold.yaml" else Path(name)
    for folder in (molds / name, given):
        if (folder / "mold.yaml").exists():
            return folder
    there = sorted(file.parent.name for file in molds.glob("*/mold.yaml"))
    what = "this folder has no mold.yaml" if Path(name).is_dir() else "there is no mold of this name"
    expected = f"one of {', '.join(there)}" if there else "a folder with a mold.yaml in it"
    raise fault(Where(file=name), what, expected, did_you_mean(name, there))


def say(language: str, sentence: str, *, err: bool = False, **values: str | int) -> None:
    """Print a sentence of the commands, on the error stream where it is no answer."""
    click.echo(texts_in(language).say(f"cli.said.{sentence}", **values), err=err)


def texts_in(language: str, tables: Tables | None = None) -> Any:  # noqa: ANN401 - Texts, imported late
    """The sentences of a language, with the names that the keeper gave in the tables."""
    from builder.site import site_map

    texts = site_map.texts(language)
    return texts.with_own(tables) if tables else texts


@contextmanager
def progress_bar(label: str) -> Iterator[Callable[[int, int, str], None]]:
    """A bar on the terminal: molds done of all, and which run now; silent when the output is no terminal."""
    shown: dict[str, Any] = {}

    def move(done: int, total: int, slug: str) -> None:
        if "bar" not in shown:
            shown["bar"] = click.progressbar(
                length=total,
                label=label,
                file=sys.stderr,
                show_pos=True,
                hidden=not sys.stderr.isatty(),
                item_show_func=lambda item: item or "",
            )
        shown["bar"].update(done - shown["bar"].pos, slug)

    try:
        yield move
        if "bar" in shown:
            shown["bar"].update(shown["bar"].length - shown["bar"].pos)
    finally:
        if "bar" in shown:
            shown["bar"].render_finish()
