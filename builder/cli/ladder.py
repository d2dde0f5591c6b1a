"""The flow ladder: the command that makes one, and what `shotbook fit` does with its readings."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from builder.base.problems import Where
from builder.cli.common import LANGUAGE, example, main, reporting_faults, texts_in
from builder.spec.types import fault

if TYPE_CHECKING:
    from collections.abc import Sequence

    from builder.advice.ladder_log import Logged
    from builder.base.texts import Texts
    from builder.model import Ladder, LadderFit, LadderReadings, Tables

READINGS = "readings.yaml"
_GAPS_MM = (2.0, 2.5, 3.0, 3.5, 4.0, 4.5)
_WIDTH_MM, _WELL_MM, _HEAD_MM = 18.0, 40.0, 80.0
_FIRST_LINE = "# From a flow ladder, by shotbook fit."
_RIM_MM, _SHORTEST_MM, _LONGEST_MM = 8.0, 40.0, 120.0


@main.command(
    short_help="Make a mold that measures your plastic.",
    epilog=example("  shotbook ladder my-ladder\n  shotbook ladder my-ladder --bed 256 --layer 0.25"),
)
@click.argument("folder", type=click.Path(path_type=Path))
@click.option(
    "--bed", default=220.0, show_default=True, help="Smaller side of the printer's bed, in mm; 140 or more."
)
@click.option(
    "--nozzle",
    type=click.FloatRange(0.1, 2.0),
    default=0.4,
    show_default=True,
    help="The printer's nozzle, in mm.",
)
@click.option(
    "--layer",
    type=click.FloatRange(0.05, 0.5),
    default=0.2,
    show_default=True,
    help="Layer height, in mm; channels are whole layers deep.",
)
@click.option("--material", default="pla", show_default=True, help="Material it is printed from.")
@LANGUAGE
def ladder(folder: Path, *, bed: float, nozzle: float, layer: float, material: str, language: str) -> None:
    """Make a flow ladder in FOLDER: three parts to print, and readings.yaml to fill in.

    Six channels of different thickness start at one well. How far each one fills at a known temperature
    gives the plastic's viscosity and set temperature: shotbook fit FOLDER/readings.yaml. The page Know your
    plastic explains how to print, fill and read it. It makes no baits, so it does not go into the catalogue.
    """
    from builder.base import disk, figures
    from builder.mesh import flow_ladder
    from builder.release import formats

    with reporting_faults():
        made = _sized(bed, layer)
        if folder.exists():
            raise fault(
                Where(file=str(folder)), "there is something here already", remedy="choose another name"
            )
        with disk.making_beside(folder) as place:
            whole = place / folder.name
            whole.mkdir()
            for name, solid in flow_ladder.parts(made, nozzle).items():
                (whole / f"{name}.stl").write_bytes(formats.stl(solid))
            (whole / READINGS).write_text(blank(made, material), encoding="utf-8", newline="\n")
            if not disk.put_new(whole, folder):
                raise fault(Where(file=str(folder)), "there is something here already")
        size = figures.declared(flow_ladder.outside_mm(made), "mm")
        click.echo(texts_in(language).say("cli.ladder.made", folder=str(folder), size=size))


def _sized(bed_mm: float, layer_mm: float) -> Ladder:
    """The ladder for a bed: as long as fits, its channels whole layers deep."""
    from builder.model import Ladder

    length = (bed_mm - 4.0 - _WELL_MM) / 2 - _RIM_MM
    if length < _SHORTEST_MM:
        least = 2 * (_SHORTEST_MM + _RIM_MM) + _WELL_MM + 4.0
        what = f"a bed of {bed_mm:g} mm is too small for a flow ladder"
        raise fault(Where(file="--bed"), what, f"{least:g} mm or more")
    return Ladder(
        gaps_mm=tuple(round(round(gap / layer_mm) * layer_mm, 3) for gap in _GAPS_MM),
        width_mm=_WIDTH_MM,
        length_mm=min(5.0 * (length // 5.0), _LONGEST_MM),
        well_mm=_WELL_MM,
        head_mm=_HEAD_MM,
    )


def blank(ladder: Ladder, material: str) -> str:
    """A file of readings for a ladder, to be filled in."""
    gaps = ", ".join(f"{gap:g}" for gap in ladder.gaps_mm)
    empty = ", ".join("read" for _ in ladder.gaps_mm)
    shots = [
        f"  - {{well_c: read, mold_c: read, reached_mm: [{empty}]}}  # {hint}"
        for hint in (
            "as hot as you shoot, 165-170 °C",
            "the same once more",
            "about 145 °C",
            "about 15 °C (27 °F) above where it stopped in the cup",
        )
    ]
    return "\n".join(
        (
            "# What you read in the flow ladder: a number for each word read. Then: shotbook fit THIS FILE",
            "# Heat to the full temperature first, once; for the cooler fillings let the cup cool.",
            "plastisol: my-blend  # the name of the file that comes of it: plastisols/my-blend.yaml",
            "name: My blend  # what pages call it",
            "like: medium  # soft, medium, hard or salted: gives all that the ladder does not tell",
            f"mold_material: {material}",
            "ladder:  # as it was made; if you measured other gaps on the print, write them here",
            f"  gaps_mm: [{gaps}]",
            f"  width_mm: {ladder.width_mm:g}",
            f"  length_mm: {ladder.length_mm:g}",
            f"  well_mm: {ladder.well_mm:g}",
            f"  head_mm: {ladder.head_mm:g}  # from the face between base and lid up to the mark",
            "shots:  # the thinnest channel first: one pit at its end; write full for a channel filled whole",
            *shots,
            "# stopped_c: 105  # where the plastic stopped flowing in the cup while it cooled",
            "",
        )
    )


def fit_readings(
    file: Path, molds: Path, language: str, logged: Sequence[Logged] = (), *, write: bool
) -> None:
    """Print what readings tell of a plastisol; with `write`, put it beside the molds as a file of its own.

    Shots of that plastisol in the logs of `logged` molds count along.
    """
    from builder.advice import ladder as stage
    from builder.base import disk
    from builder.spec import ladder_file, material_tables, own_tables

    tables = material_tables.load(molds)
    readings = ladder_file.load(file, tables)
    found = stage.fit(readings, tables, logged)
    texts = texts_in(language, tables)
    click.echo("\n".join(told(readings, found, texts)))
    place = molds.parent / own_tables.PLASTISOLS / f"{readings.id}.yaml"
    text = own_file(readings, found, tables)
    if not write:
        click.echo(texts.say("cli.ladder.not_written", file=str(place)))
        return
    if place.is_symlink() or (place.exists() and not _ours(place)):
        remedy = "remove it first, or name the plastisol differently in the readings"
        raise fault(Where(file=str(place)), "there is a plastisol of this name already", remedy=remedy)
    place.parent.mkdir(exist_ok=True)
    disk.write_atomically(place, text.encode())
    click.echo(texts.say("cli.ladder.written", file=str(place), plastisol=readings.id))


def _ours(place: Path) -> bool:
    """Whether a plastisol's file came from a flow ladder, so that a newer fit may take its place."""
    return place.is_file() and place.read_bytes().startswith(_FIRST_LINE.encode())


def told(readings: LadderReadings, found: LadderFit, texts: Texts) -> list[str]:
    """What a fit says, as lines for the terminal."""
    from builder.base import figures

    lines = [
        texts.say("cli.ladder.viscosity", now=found.viscosity, before=found.before["viscosity"]),
        texts.say("cli.ladder.set", now=found.set_c, before=found.before["set"]),
    ]
    if found.logged:
        lines.append(texts.say("cli.ladder.logged", shots=found.logged))
    for number, (shot, expected) in enumerate(zip(readings.shots, found.expected_mm, strict=True), 1):
        well = figures.declared(shot.well_c, "c")
        _, at = found.at_shot[number - 1]
        lines.append(texts.say("cli.ladder.shot", number=number, well=well, viscosity=at))
        for rung, (read, likely) in enumerate(zip(shot.reached_mm, expected, strict=True), 1):
            room = 3.0 + 0.1 * likely.value
            if not likely.low - room <= read <= likely.high + room:
                values = {"read": figures.declared(read, "mm"), "likely": likely}
                lines.append(texts.say("cli.ladder.odd", channel=rung, **values))
    coldest, hottest = (pick(shot.well_c for shot in readings.shots) for pick in (min, max))
    if hottest - coldest < 20.0:
        lines.append(texts.say("cli.ladder.one_temperature"))
    return lines


def own_file(readings: LadderReadings, found: LadderFit, tables: Tables) -> str:
    """The plastisol's file; it is read back by the same rules as any other."""
    from builder.spec.yaml_reader import quoted

    shots = ", ".join(f"{shot.well_c:g}" for shot in readings.shots)
    cup = f", stopped in the cup at {readings.stopped_c:g} °C" if readings.stopped_c is not None else ""
    log = f"; {found.logged} logged shots" if found.logged else ""
    source = (
        f"Flow ladder of {readings.mold_material}, filled at {shots} °C{cup}{log}; "
        "read, and fitted by Shotbook"
    )
    shoot = next(one for one in tables.plastisols if one.id == readings.like).values["shoot"]
    lines = [
        f"{_FIRST_LINE} Each range is a triangle's whose middle 90 % was found.",
        f"name: {quoted(readings.name)}",
        f"like: {readings.like}",
        f"sources: {{ladder: {quoted(source)}}}",
    ]
    for name, value in found.values.items():
        high = min(value.high, shoot.low - 1.0) if name == "set" else value.high
        lines.append(
            f"{name}: {{value: {value.value:g}, low: {value.low:g}, high: {high:g}, unit: {value.unit}, "
            f"source: ladder, grade: measured}}"
        )
    return "\n".join(lines) + "\n"
