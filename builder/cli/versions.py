"""Commands about versions: release, diff, verify, withdraw."""

from __future__ import annotations

from datetime import date
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from builder.base import site_folder
from builder.base.problems import Faults, Where
from builder.cli.common import (
    LANGUAGE,
    MOLDS,
    NAMES,
    STORE,
    example,
    folders,
    main,
    reporting_faults,
    say,
    texts_in,
)
from builder.spec.types import did_you_mean, fault, gather

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from builder.model import Figure, Version

DATE = click.option(
    "--date",
    "day",
    type=click.DateTime(["%Y-%m-%d"]),
    metavar="YYYY-MM-DD",
    default=date.today().isoformat,
    show_default="today",
    help="Day of the release or the withdrawal.",
)


@main.command(
    short_help="Freeze a mold as a version.",
    epilog=example('  shotbook release reed-minnow --notes "Tail trunk widened to 2.6 mm"'),
)
@click.argument("mold")
@MOLDS
@STORE
@LANGUAGE
@DATE
@click.option("--notes", required=True, help="What changed, in your words.")
@click.option("--address", default="", help="Where the mold is published, for the text to post.")
@click.option(
    "--despite",
    default="",
    metavar="REASON",
    help="Why you release a mold that must not be shot; shown wherever the mold is shown.",
)
@click.option(
    "--preview",
    type=click.Path(path_type=Path),
    help="Write what would be frozen to this folder, and freeze nothing.",
)
def release(
    *,
    mold: str,
    molds: Path,
    store: Path,
    language: str,
    day: object,
    notes: str,
    address: str,
    despite: str,
    preview: Path | None,
) -> None:
    """Check MOLD and freeze it as the version that its mold.yaml names: files, numbers, pictures, zip, lock.

    What is released never changes again. For a change, write a new version in mold.yaml and release that.
    A mold that no temperature fills without harming it is refused, unless --despite says why you release it.
    """
    from builder.base.store import Store
    from builder.cli import report
    from builder.release import freeze as stage
    from builder.spec import material_tables

    with reporting_faults():
        (folder,) = folders((mold,), molds)
        tables = material_tables.load(molds)
        texts = texts_in(language, tables)
        order = stage.Order(
            notes=notes, date=f"{day:%Y-%m-%d}", texts=texts, address=address, despite=despite
        )
        say(language, "freezing", err=True)
        if preview:
            really = site_folder.refuse(preview, (molds, store, Path.cwd()))
            stage.preview(folder, order, tables, Store(store), really)
            say(language, "preview", place=str(preview))
            return
        made = stage.release(folder, order, tables, Store(store))
        place = str(folder / "versions" / made.version)
        say(language, "released", version=made.version, slug=made.slug, place=place)
        if made.changes:
            click.echo(report.changed(made.changes, texts.of_kind(made.kind)))


@main.command(
    short_help="Show what changed between two versions.",
    epilog=example("  shotbook diff reed-minnow 1 2\n  shotbook diff reed-minnow 2"),
)
@click.argument("mold")
@click.argument("before")
@click.argument("after", required=False)
@MOLDS
@STORE
@LANGUAGE
def diff(*, mold: str, before: str, after: str | None, molds: Path, store: Path, language: str) -> None:
    """Print the numbers of MOLD that differ between version BEFORE and version AFTER.

    Without AFTER, the mold as it lies in its folder is compared.
    """
    from builder.cli import report
    from builder.history import compare
    from builder.spec import versions

    with reporting_faults():
        (folder,) = folders((mold,), molds)
        released = versions.load(folder)
        older = _version(folder, released, before)
        newer = _version(folder, released, after).figures if after else _draft_numbers(folder, molds, store)
        changes = compare.changes(compare.without_hold(older, older.kind).figures, newer)
        texts = texts_in(language).of_kind(older.kind)
        click.echo(report.changed(changes, texts) if changes else texts.say("cli.same"))


@main.command(short_help="Check that nothing released has changed.", epilog=example("  shotbook verify"))
@NAMES
@MOLDS
@STORE
@LANGUAGE
@click.option("--adopt", is_flag=True, help="Put versions that came from elsewhere on the record.")
def verify(named: tuple[str, ...], molds: Path, store: Path, language: str, *, adopt: bool) -> None:
    """Check that every released version is as it was: its files by their lock, and the locks by the record.

    The record is releases.json in the molds folder. It shows when a version or a withdrawal was removed.

    Numbers that Shotbook or its tables would give differently today are listed too: which ones, old and new
    value, and since when. They are no fault; the frozen files are unchanged.
    """
    from builder.base.store import Store
    from builder.cli import report
    from builder.history import drift
    from builder.spec import material_tables, releases, versions

    def check(folder: Path) -> tuple[Path, tuple[Version, ...]]:
        if problems := versions.verify(folder):
            raise Faults(problems)
        return folder, versions.load(folder)

    def compare() -> None:
        if problems := [problem for _, problem in releases.removed(molds, releases.load(molds))]:
            raise Faults(problems)

    def tell_unrecorded(meant: Iterable[Path]) -> None:
        for folder in meant:
            if adopt:
                releases.record(molds, folder)
            for entry in releases.unrecorded(molds, folder, releases.load(molds)):
                say(language, "unrecorded", slug=entry.slug, version=entry.version)
        if kept := releases.load(molds):
            say(language, "record", digest=releases.digest(kept[-1]))

    with reporting_faults():
        meant = folders(named, molds)
        checks: list[Callable[[], tuple[Path, tuple[Version, ...]] | None]] = [
            *(partial(check, folder) for folder in meant),
            compare,
        ]
        found = [one for one in gather(checks) if one is not None]
        count = sum(len(released) for _, released in found)
        say(language, "verified", count=count)
        tell_unrecorded(meant)
        tables, kept = material_tables.load(molds), Store(store)
        texts = texts_in(language, tables)
        for folder, released in found:
            for version in released:
                if drifted := drift.of(folder, version, tables, kept):
                    click.echo(report.drifted(version, drifted, texts))


@main.command(
    short_help="Stop offering a version that is dangerous.",
    epilog=example('  shotbook withdraw reed-minnow 1 --reason "Opens under pressure at the sprue"'),
)
@click.argument("mold")
@click.argument("version")
@MOLDS
@LANGUAGE
@DATE
@click.option("--reason", required=True, help="Why it is dangerous; shown on its page.")
def withdraw(*, mold: str, version: str, molds: Path, language: str, day: object, reason: str) -> None:
    """Withdraw VERSION of MOLD: it stays listed with the reason, but its files are no longer offered."""
    from builder.release import freeze as stage
    from builder.spec import versions

    with reporting_faults():
        (folder,) = folders((mold,), molds)
        stage.withdraw(folder, version, reason, f"{day:%Y-%m-%d}")
        say(language, "withdrawn", version=version, slug=folder.name)
        for address in versions.outside(folder / versions.FOLDER / version).values():
            say(language, "withdrawn_away", address=address)


@main.command(
    short_help="Give a mold another name.", epilog=example("  shotbook rename river-minnow reed-minnow")
)
@click.argument("old")
@click.argument("new")
@MOLDS
@LANGUAGE
def rename(old: str, new: str, molds: Path, language: str) -> None:
    """Give the mold OLD the folder and address NEW. Releases stay, and old addresses lead to the new one.

    The line renamed_from in its mold.yaml keeps the old name; do not delete it.
    """
    from builder.release import renaming

    with reporting_faults():
        (folder,) = folders((old,), molds)
        renaming.rename(folder, new)
    say(language, "renamed", old=old, new=new)


@main.command(
    short_help="Keep the zips of released versions elsewhere.",
    epilog=example("  shotbook zips reed-minnow --to ../zips --address https://files.example.org/molds"),
)
@NAMES
@MOLDS
@LANGUAGE
@click.option("--to", type=click.Path(path_type=Path), required=True, help="Folder to move the zips to.")
@click.option("--address", required=True, help="Address that folder will have on the web.")
def zips(*, named: tuple[str, ...], molds: Path, language: str, to: Path, address: str) -> None:
    """Move the zips of released versions to another folder, which a host for large files then serves.

    Pages link to that address, with size and digest; verify checks a zip by its digest. To bring one back,
    put it where it was and delete outside.json beside it.
    """
    from builder.release import outside

    with reporting_faults():
        for folder in folders(named, molds):
            for name in outside.move(folder, to, address):
                say(language, "moved", name=name, place=str(to), address=f"{address.rstrip('/')}/{name}")


def _version(folder: Path, released: tuple[Version, ...], name: str) -> Version:
    for version in released:
        if version.version == name:
            return version
    known = [version.version for version in released]
    expected = f"one of {', '.join(known)}" if known else "a released version; this mold has none yet"
    raise fault(
        Where(file=str(folder)), f"version {name} is not released", expected, did_you_mean(name, known)
    )


def _draft_numbers(folder: Path, molds: Path, store: Path) -> Mapping[str, Figure]:
    from builder import build
    from builder.base.store import Store
    from builder.history import compare
    from builder.spec import material_tables

    record = build.build_mold(folder, material_tables.load(molds), Store(store))
    return compare.numbers(record.measurement, record.advice)
