"""Commands that read molds: new, measure, check, fit."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from builder.base.contained import shown
from builder.base.problems import Faults, Problem, ended
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
from builder.spec.types import gather

if TYPE_CHECKING:
    from builder.base.store import Store
    from builder.build import Draft
    from builder.model import Advice, Measurement, MoldSpec, Tables

    Numbers = tuple[MoldSpec, Measurement, Advice]


@main.command(
    short_help="Start a mold from its STL files.",
    epilog=example(
        "  shotbook new reed-minnow half-a.stl half-b.stl\n  shotbook new grub a.stl b.stl --cavities 4"
    ),
)
@click.argument("slug")
@click.argument("files", nargs=-1, type=click.Path(path_type=Path))
@MOLDS
@click.option(
    "--cavities",
    type=click.IntRange(1, 64),
    help="How many baits one shot makes; counted in the files if left out.",
)
@LANGUAGE
def new(*, slug: str, files: tuple[Path, ...], molds: Path, cavities: int | None, language: str) -> None:
    """Start a mold: copy its STL FILES into the folder SLUG, read them, and write a mold.yaml.

    Comments in it ask for what the files do not show. SLUG becomes part of the mold's address. If the folder
    already holds the STL files but no mold.yaml, leave FILES out; then only mold.yaml is written.
    """
    from builder.cli import scaffold
    from builder.spec import material_tables, mold_file

    with reporting_faults():
        place = mold_file.check_name(slug, molds)
        say(language, "reading", err=True)
        made = scaffold.write(place, files, cavities, material_tables.load(molds))
    file = molds / slug / "mold.yaml"
    if made.question:
        say(language, "unsure", file=str(file), question=ended(str(made.question)))
    else:
        say(language, "new", file=str(file), slug=slug)


@main.command(
    short_help="Print the numbers of a mold.",
    epilog=example("  shotbook measure reed-minnow\n  shotbook measure --json > numbers.json"),
)
@NAMES
@MOLDS
@STORE
@LANGUAGE
@click.option("--json", "as_json", is_flag=True, help="Print JSON for other programs instead of a table.")
def measure(named: tuple[str, ...], molds: Path, store: Path, language: str, as_json: bool) -> None:
    """Print what is measured and computed of a mold: volumes, weights, sprue, vents, bolts, amounts, times.

    MOLD is a name in the molds folder or a folder of its own; without one, every mold is read.
    """
    from builder.cli import report
    from builder.spec import material_tables

    with reporting_faults():
        tables, read = material_tables.load(molds), list[dict[str, object]]()
        texts = texts_in(language, tables)

        def tell(numbers: Numbers) -> None:
            mold, measured, advice = numbers
            if as_json:
                read.append(report.data(mold, measured, advice))
            else:
                click.echo(report.table(mold, measured, advice, report.placed(texts, measured)))

        _numbers(folders(named, molds), tables, store, tell)
        if as_json:
            click.echo(json.dumps({"molds": read}, ensure_ascii=False, indent=1))


@main.command(
    short_help="Say what will go wrong with a mold.",
    epilog=example("  shotbook check\n  shotbook check reed-minnow --strict"),
)
@NAMES
@MOLDS
@STORE
@LANGUAGE
@click.option("--strict", is_flag=True, help="Exit with 1 when a mold has a finding marked STOP, too.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON for other programs, including faults.")
@click.option("--quiet", is_flag=True, help="Print only molds that have a finding marked STOP.")
def check(
    *,
    named: tuple[str, ...],
    molds: Path,
    store: Path,
    language: str,
    strict: bool,
    as_json: bool,
    quiet: bool,
) -> None:
    """Check every mold and print what will go wrong, the worst first: STOP, Warning, Note.

    Exits with 1 when a mold has a fault in its mold.yaml or its files. A fault in one mold does not keep the
    others from being checked.
    """
    from builder.cli import report
    from builder.spec import material_tables, mold_file

    with reporting_faults():
        tables = material_tables.load(molds)
        texts = texts_in(language, tables)
        stops: list[object] = []
        read: list[dict[str, object]] = []

        def tell(numbers: Numbers) -> None:
            mold, measured, advice = numbers
            found = [*advice.findings, *advice.windows[0].findings, *measured.findings]
            grave = [finding for finding in found if finding.level == "stop"]
            stops.extend(grave)
            here = report.placed(texts.of_kind(mold.kind), measured)
            if as_json:
                read.append(report.checked(mold, found, here))
            elif grave or not quiet:
                sentences = report.findings(found, here) or [here.say("cli.sound")]
                click.echo("\n  ".join([f"{mold.title} ({mold.slug})", *sentences]))

        show = partial(_shown, store / "open-edges")
        try:
            _numbers(folders(named, molds), tables, store, tell, show, with_photos=True)
        except Faults as faults:
            if not as_json:
                raise
            click.echo(json.dumps(report.check_data(read, faults.problems), ensure_ascii=False, indent=1))
            sys.exit(1)
        if as_json:
            click.echo(json.dumps(report.check_data(read, ()), ensure_ascii=False, indent=1))
        for folder in () if named or as_json or quiet else sorted(molds.glob("[!.]*/")):
            if not (folder / "mold.yaml").exists():
                name = mold_file.addressable(folder.name) or "my-mold"  # a line to be pasted into a shell
                click.echo(texts.say("cli.no_file", folder=shown(folder), slug=name))
    if strict and stops:
        sys.exit(1)


@main.command(
    short_help="Compare logged shots with the prediction, or read a flow ladder.",
    epilog=example("  shotbook fit reed-minnow\n  shotbook fit my-ladder/readings.yaml reed-minnow --write"),
)
@NAMES
@MOLDS
@STORE
@LANGUAGE
@click.option("--write", is_flag=True, help="Write the plastisol of a flow ladder beside the molds.")
def fit(named: tuple[str, ...], molds: Path, store: Path, language: str, *, write: bool) -> None:
    """Compare the logged shots with the prediction, and suggest constants that would explain them better.

    Shots are logged under shots: in each mold.yaml. A constant is suggested only where the log narrows it.
    With the readings of a flow ladder in place of a MOLD, print the viscosity and the set temperature of
    that plastic, with their ranges. Name MOLDs too, and their logged shots of that plastic count as well.
    """
    from builder.cli.ladder import fit_readings

    files = [Path(name) for name in named if is_readings(name)]
    named = tuple(name for name in named if not is_readings(name))
    if files and not named:
        with reporting_faults():
            gather(partial(fit_readings, file, molds, language, write=write) for file in files)
        return
    from builder.advice import logbook
    from builder.cli import report
    from builder.spec import material_tables

    with reporting_faults():
        tables = material_tables.load(molds)
        read: list[Numbers] = []
        _numbers(folders(named, molds), tables, store, read.append)
        logged = [(one[0], one[1]) for one in read]
        gather(partial(fit_readings, file, molds, language, logged, write=write) for file in files)
        found = logbook.fit([one[0] for one in read], [one[1] for one in read], tables)
        agreement = logbook.agreement([shot for one in read for shot in one[2].shots])
        click.echo(report.fitted(found, agreement, texts_in(language, tables)))


def is_readings(name: str) -> bool:
    """Whether an argument names a file of readings, not a mold."""
    return name.endswith((".yaml", ".yml")) and Path(name).name != "mold.yaml"


def _numbers(
    folders: list[Path],
    tables: Tables,
    store: Path,
    tell: Callable[[Numbers], object],
    explain: Callable[[Draft, Problem], Problem] = lambda _, problem: problem,
    *,
    with_photos: bool = False,
) -> None:
    """Yield spec, measurement and advice of each mold; raises the Faults of all of them at the end.

    `explain` may add to a problem of a mold whose files cannot be read. A build needs the photos too.
    """
    from builder import build
    from builder.base import guard
    from builder.base.store import Store

    kept = Store(store)

    def one(folder: Path) -> None:
        with guard.one_mold(folder, store / "faults"):
            draft = build.load_draft(folder, tables, store=kept)
            looks: list[Callable[[], object]] = [lambda: tell(_read(draft, tables, kept))]
            looks += [lambda: build.photos(draft, kept)] if with_photos else []
            try:
                gather(looks)
            except Faults as faults:
                raise Faults(explain(draft, problem) for problem in faults.problems) from None

    gather(partial(one, folder) for folder in folders)


def _shown(folder: Path, draft: Draft, problem: Problem) -> Problem:
    """The problem; for an open mesh with the path of a picture of its open edges."""
    from builder import build

    slug, _, file = problem.where.file.rpartition("/")
    drawn = build.draw_open_edges(draft, folder / slug) if slug == draft.mold.slug else {}
    if file not in drawn:
        return problem
    return replace(problem, remedy=f"{problem.remedy}, and see the open edges in {drawn[file]}")


def _read(draft: Draft, tables: Tables, store: Store) -> Numbers:
    from builder import build

    mold = draft.mold
    measured, advised = build.judge(
        mold, lambda: build.read(mold, build.contents_of(draft)), draft.keys, tables, store
    )
    return mold, measured, advised
