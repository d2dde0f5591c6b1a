"""Writes a first mold.yaml from STL files: found values are filled in, open questions are comments."""

from __future__ import annotations

import json
import re
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from builder import measure, mesh
from builder.base import contained, disk, figures, limits, units
from builder.base.problems import Faults, Where, ended
from builder.cli import guesses
from builder.measure.cavity.unfed import UNFED
from builder.measure.mistaken import BLOCKY
from builder.measure.open_pour import OTHER_FACE
from builder.model import (
    Figure,
    Kind,
    LengthUnit,
    Measurement,
    MoldMaterial,
    MoldSpec,
    PartSpec,
    Plastisol,
    Role,
    Tables,
)
from builder.spec import mold_file
from builder.spec.types import fault, gather
from builder.spec.yaml_reader import shorten

COUNTS = (8, 6, 5, 4, 3, 2, 1)
"""Numbers of cavities to try where the maker names none; the first that gives like baits is taken."""
FILLS_SHARE = 0.2
"""A bait that is given beside its mold may differ by this from the cavity, as another version does."""
_ASKED_BY_COUNT = ("cavities", "hints.gates", "hints.ignore_at_mm")
"""What the reading asks for when only the number of cavities may be wrong."""
_LIKELY_UNITS: tuple[LengthUnit, ...] = ("mm", "inch", "cm", "m")


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """A mold as read from its files; `question` is the reading's open question, '' when there is none.

    `longest_mm` is the longest side of any file, in the unit that is taken; `asked` the key that answers.
    """

    mold: MoldSpec
    originals: tuple[str, ...]
    longest_mm: float
    measured: Measurement | None = None
    question: str = ""
    asked: str = ""


def write(place: Path, files: Sequence[Path], cavities: int | None, tables: Tables) -> Draft:
    """Make the folder `place` with copies of the files and a mold.yaml; Faults leave nothing behind.

    In a folder that is there already, with its STL files but without a mold.yaml, only that is written.
    """
    mold_file.check_slug(place)
    if place.is_dir() and not (place / mold_file.FILE).exists():
        return _complete(place, files or sorted(place.glob("*.[sS][tT][lL]")), cavities, tables)
    if place.exists():
        raise fault(
            Where(file=str(place)), "there is a mold of this name already", remedy="choose another name"
        )
    if not files:
        raise fault(Where(file=str(place)), "no STL file is named", "one or more", "name them after the slug")
    with disk.making_beside(place) as folder:
        made = folder / place.name
        made.mkdir()
        names = gather(partial(_copy, file, made) for file in files)
        found = _read(made, names, tuple(file.name for file in files), cavities)
        written = f"{_schema_line(place)}{text(found, tables)}"
        (made / mold_file.FILE).write_text(written, encoding="utf-8", newline="\n")
        mold_file.load(made, tables)
        if not disk.put_new(made, place):
            raise fault(
                Where(file=str(place)), "there is something here already", remedy="choose another name"
            )
    return found


def _schema_line(place: Path) -> str:
    """The line by which editors complete and check the file, where the schema lies beside the molds."""
    there = (place.parent.parent / "mold.schema.json").is_file()
    return "# yaml-language-server: $schema=../../mold.schema.json\n" if there else ""


def _complete(place: Path, files: Sequence[Path], cavities: int | None, tables: Tables) -> Draft:
    """The mold.yaml for the files that lie in the folder."""
    if not files:
        raise fault(
            Where(file=str(place)), "there is no STL file in this folder", remedy="put the parts here"
        )
    for file in files:
        if file.parent.resolve() != place.resolve():
            remedy = f"copy it into {place}, or choose another name"
            raise fault(
                Where(file=str(file)), f"{place} is there already, and this file is not in it", "", remedy
            )
    gather(partial(_sound, file) for file in files)
    names = [file.name for file in files]
    found = _read(place, names, tuple(names), cavities)
    disk.write_atomically(place / mold_file.FILE, f"{_schema_line(place)}{text(found, tables)}".encode())
    try:
        mold_file.load(place, tables)
    except Faults:
        (place / mold_file.FILE).unlink()
        raise
    return found


def text(draft: Draft, tables: Tables) -> str:
    """The mold.yaml of a draft: filled keys, questions as comments, the keys that people add most."""
    mold = draft.mold
    lines = [
        "# Written from the STL files. A line with ? wants your answer; take the # off a line that you need.",
        f"title: {_plain(mold.title)}  # ? its name",
        "parts:",
        *(f"  - {_part(part, old)}" for part, old in zip(mold.parts, draft.originals, strict=True)),
        f"cavities: {mold.cavities}  # ? how many baits one shot makes",
        f"plastisol: medium  # ? {_either(tables.plastisols)}",
        f"mold_material: pla  # ? {_either(tables.mold_materials)}",
        f"kind: {mold.kind}  # ? injection (closed and shot) or open pour",
        f"units: {mold.units}  # ? {_extent(draft)}; if that is wrong: mm, cm, m or inch",
        "",
        *_comments(_found(draft)),
        "",
        "# summary: One or two sentences for the catalogue.",
        "# bait_type: paddle-tail minnow",
        "# target: [perch, pike]",
        "# hook: 4/0 wide gap",
        "# bolts: 4 × M5 × 40 with wing nuts",
        "# author: Your name",
        "# licence: CC-BY-4.0",
        "# The page The mold file explains every key.",
    ]
    return "\n".join(lines) + "\n"


def _copy(file: Path, folder: Path) -> str:
    """Copy a file under a URL-safe name and return the name."""
    data = _sound(file)
    name = f"{mold_file.addressable(file.stem) or 'part'}{file.suffix.lower()}"
    if (folder / name).exists():
        what = f"another file would be called {name} too"
        raise fault(Where(file=str(file)), what, remedy="rename one of them")
    (folder / name).write_bytes(data)
    return name


def _sound(file: Path) -> bytes:
    """The bytes of an STL or 3MF file that holds a sound mesh."""
    if file.suffix.lower() not in (".stl", ".3mf"):
        what, expected = "the name is not that of an STL or 3MF file", "a name that ends in .stl or .3mf"
        raise fault(Where(file=str(file)), what, expected, "export the part as STL from your CAD")
    data = contained.read(file.parent, file.name, limits.STL_BYTES)
    mesh.read(data, str(file), "mm")
    return data


def _read(folder: Path, names: Sequence[str], originals: tuple[str, ...], cavities: int | None) -> Draft:
    """Read the files with the likeliest unit, roles and number of baits."""
    contents = tuple(contained.read(folder, name, limits.STL_BYTES) for name in names)
    boxes = [mesh.read(data, name, "mm")[1].size_mm for data, name in zip(contents, names, strict=True)]
    longest = max(max(box) for box in boxes)
    unit = _likely_unit(longest)
    drafts: list[Draft] = []
    for guess in guesses.castings(boxes, guesses.Files(contents=contents, names=names, unit=unit)):
        if drafts and not drafts[0].asked.endswith(guess.after):
            continue
        mold = _mold(folder, names, guess.kind, guess.roles, unit)
        draft = Draft(mold=mold, originals=originals, longest_mm=longest * mesh.MM[unit])
        drafts.append(_try_counts(draft, contents, cavities))
        if drafts[-1].measured and _fills(drafts[-1].measured) and not _is_block(drafts[-1].measured):
            return replace(drafts[-1], question=drafts[0].question if "bait" in guess.roles else "")
        if guess.stays and "\nparts: [" in drafts[-1].question:
            return drafts[-1]  # lines that were tried
        if drafts[-1].asked.startswith("hints."):
            # the parts lie as they should, only the plastic is not clear
            return drafts[-1 if guess.stays else 0]
    return drafts[0]


def _try_counts(draft: Draft, contents: tuple[bytes, ...], cavities: int | None) -> Draft:
    """The draft with the first number of cavities that gives like baits, or any baits, or what is asked.

    Pockets or letters in the underside may be alike as well: those count only where no larger hollows open.
    """
    counts = (cavities,) if cavities else COUNTS
    unlike: Draft | None = None
    doubtful: Draft | None = None
    try:
        solids = [
            mesh.read(data, part.file, draft.mold.units)
            for data, part in zip(contents, draft.mold.parts, strict=True)
        ]
        for count, found in measure.measure_counts(draft.mold, solids, counts):
            draft = replace(draft, mold=replace(draft.mold, cavities=count))
            if isinstance(found, Faults):
                draft = _asking(draft, found)
                if draft.asked not in _ASKED_BY_COUNT:
                    break
            else:
                draft = replace(draft, measured=found.measurement, question="", asked="")
                beside = any(one.code == OTHER_FACE for one in found.measurement.findings)
                if cavities or (len(figures.kinds(found.measurement)) == 1 and not beside):
                    return draft
                if beside:
                    doubtful = doubtful or draft
                else:
                    unlike = unlike or draft
    except Faults as faults:
        draft = _asking(draft, faults)
    if draft.asked not in _ASKED_BY_COUNT:
        draft = replace(draft, mold=replace(draft.mold, cavities=cavities or 1))
    return unlike or doubtful or draft


def _asking(draft: Draft, faults: Faults) -> Draft:
    """The draft with the first thing that the reading asks."""
    problem = faults.problems[0]
    question = "; ".join(filter(None, (problem.what, problem.remedy)))
    return replace(draft, measured=None, question=question, asked=problem.where.key)


def _fills(measured: Measurement) -> bool:
    """False if a part that is taken for the bait has not the volume of any cavity: it is a core, then."""
    given = [one.volume_ml for one in measured.parts if one.role == "bait"]
    found = [bait.volume_ml for bait in measured.baits]
    return all(min(abs(one / bait - 1) for bait in found) < FILLS_SHARE for one in given)


def _is_block(measured: Measurement) -> bool:
    """True where a file that is taken for a bait, without a mold, looks like a part of a mold."""
    return measured.sprue is None and any(one.code == BLOCKY for one in measured.findings)


def _likely_unit(longest: float) -> LengthUnit:
    """The first unit in which the longest side is a mold's; mm if none is, or for a micro bait."""
    if measure.MICRO_MM <= longest <= measure.MOLD_MM[0]:
        return "mm"
    return next(_fitting_units(longest), "mm")


def _fitting_units(longest: float) -> Iterator[LengthUnit]:
    """Units in which the longest side of all files is a mold's, the likeliest first."""
    low, high = measure.MOLD_MM
    return (unit for unit in _LIKELY_UNITS if low <= longest * mesh.MM[unit] <= high)


def _mold(
    folder: Path, names: Sequence[str], kind: Kind, roles: Sequence[Role], unit: LengthUnit
) -> MoldSpec:
    parts = tuple(
        PartSpec(file=name, path=folder / name, role=role, name=Path(name).stem.replace("-", " "))
        for name, role in zip(names, roles, strict=True)
    )
    return MoldSpec(
        slug=folder.name,
        folder=folder,
        title=folder.name.replace("-", " ").capitalize(),
        kind=kind,
        parts=parts,
        cavities=1,
        plastisol="medium",
        mold_material="pla",
        units=unit,
        line_of={"units": 1},  # the draft tells the unit, so that it is not asked again
    )


def _part(part: PartSpec, original: str) -> str:
    """A part as a line of the list, with the question of its role where that is a guess."""
    renamed = f"  # was {shorten(original)}" if original != part.file else ""
    file = (
        part.file
        if re.fullmatch(r"[A-Za-z0-9._-]+", part.file)
        else json.dumps(part.file, ensure_ascii=False)
    )
    if part.role in ("half", "open"):
        return file + renamed
    ask = "" if renamed else "  #"
    return f"{{file: {file}, role: {part.role}}}{renamed}{ask} ? half, core, plug, blade or bait"


def _extent(draft: Draft) -> str:
    """The mold's size, and what its longest side would be in other units that a mold may be drawn in."""
    mm = draft.longest_mm / mesh.MM[draft.mold.units]
    others = [
        f"{mm * mesh.MM[unit]:.0f} mm if drawn in {unit}"
        for unit in _fitting_units(mm)
        if unit != draft.mold.units
    ]
    size = f"the longest side is {draft.longest_mm:.0f} mm"
    if draft.measured:
        size = f"the mold is {' × '.join(f'{side:.0f}' for side in draft.measured.size_mm)} mm"
    return f"{size} ({', '.join(others)})" if others else size


def _found(draft: Draft) -> Iterator[str]:
    """Sentences about the result of the reading, or its question."""
    measured = draft.measured
    if measured is None:
        yield ended(f"? The reading is not sure yet: {draft.question}")
        return
    if len(figures.kinds(measured)) > 1:
        yield "? The baits are of several sizes: is their number right?"
    if draft.question:
        taken = next(part.file for part in draft.mold.parts if part.role == "bait")
        yield ended(f"? {taken} is taken for the bait itself. If it is not: {draft.question}")
    yield "Found in the files:"
    read = figures.measured(measured)
    for index, bait in enumerate(measured.baits):
        sockets = f", {len(bait.sockets)} eye sockets" if bait.sockets else ""
        volume, length = (_say(read[f"bait.{index}.{name}"]) for name in ("volume", "length"))
        yield f"- bait {bait.name}: {volume}, {length} long{sockets}"
    if measured.sprue:
        yield f"- a sprue of {_say(read['sprue.mouth'])} at its mouth"
    holes = {round(bolt.diameter_mm, 1): read[f"bolt.{k}.hole"] for k, bolt in enumerate(measured.bolts)}
    told = "".join(f", {_say(holes[size])}" for size in sorted(holes))
    yield f"- bolt holes: {len(measured.bolts)}{told}"
    yield f"- locating pins: {len(measured.pins)}; vents: {len(measured.vents)}"
    yield from _unfed(measured)
    yield "? If one of these is wrong, put it right with a hint, such as hints: {bolts: 4, eye_mm: 5}"


def _unfed(measured: Measurement) -> Iterator[str]:
    """A sentence on hollows that get no plastic."""
    for one in measured.findings:
        count, volume = one.values.get("count"), one.values.get("volume")
        if one.code == UNFED and isinstance(count, Figure) and isinstance(volume, Figure):
            yield (
                f"? Hollows between the halves that get no plastic: {count.value:.0f}, of {_say(volume)} "
                "together. If they are parts of a bait, let them reach into it in the CAD; if they are "
                "baits, cut gates to them"
            )


def _say(figure: Figure) -> str:
    return units.plain(figure).replace("\u00a0", " ")


def _comments(sentences: Iterator[str]) -> Iterator[str]:
    """Sentences as comment lines of at most 110 characters."""
    for text in sentences:
        sentence, *lines = text.split("\n")
        yield from textwrap.wrap(sentence, 110, initial_indent="# ", subsequent_indent="#   ")
        yield from (f"# {line}" for line in lines)  # a hint works when its # is taken off


def _either(entries: Sequence[Plastisol | MoldMaterial]) -> str:
    """The ids of a table's entries as a choice: `soft, medium or hard`."""
    *others, last = (entry.id for entry in entries)
    return f"{', '.join(others)} or {last}"


def _plain(words: str) -> str:
    """Text as YAML, in quotes unless it is letters and blanks that nobody reads as something else."""
    safe = re.fullmatch(r"[A-Za-z][a-z]* [A-Za-z0-9 ]*[a-z0-9]", words)
    return words if safe else json.dumps(words, ensure_ascii=False)
