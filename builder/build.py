"""One mold: the stages called in order. Nothing is computed twice for the same files, spec and tables.

Stages are imported where they run, so that a build that finds everything in the store starts at once.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import cache, partial
from pathlib import Path

from builder import stages
from builder.base import contained, disk, limits, serialize
from builder.base.contained import Checked
from builder.base.problems import Faults, Problem, Where
from builder.base.store import LIBRARIES, Store, canonical, digest_of, library_version, sha256, stage_version
from builder.model import (
    CARD,
    Advice,
    Deciding,
    Download,
    MadeBy,
    Measurement,
    MoldRecord,
    MoldSpec,
    PartSpec,
    Picture,
    Reading,
    Tables,
    Version,
)
from builder.spec import mold_file, versions
from builder.spec.types import gather
from builder.stages import vectors

Contents = tuple[bytes, ...]
"""Bytes of a mold's files, in the order of its parts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """A mold folder before its meshes are read: checked spec, files, released versions, store keys."""

    mold: MoldSpec
    files: tuple[Download, ...]
    sources: tuple[Download, ...]
    photos: tuple[Checked, ...]
    versions: tuple[Version, ...]
    frozen: Mapping[str, Download]
    """The files of the versions, by path below the mold's folder."""
    released: bool
    withdrawn: Version | None
    """The withdrawn version whose files exactly these are."""
    keys: stages.Keys
    made_by: MadeBy


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """The results of all stages for one mold; `assets` and `card_assets` are the folders of the pictures."""

    measurement: Measurement
    advice: Advice
    pictures: tuple[Picture, ...]
    assets: Path
    card_assets: Path


def build_mold(folder: Path, tables: Tables, store: Store) -> MoldRecord:
    """Everything the pages need of the mold in `folder`; Faults when it cannot be read for sure."""
    return finish(load_draft(folder, tables, store=store), tables, store)


def load_draft(folder: Path, tables: Tables, tables_sum: str = "", store: Store | None = None) -> Draft:
    """Load and check a mold's spec, files and released versions; raises Faults.

    `tables_sum` is the tables' digest, for whoever looks at many molds. The store has the test vectors that
    the keys depend on; without one they are worked out.
    """
    mold = mold_file.load(folder, tables)
    files = tuple(gather(partial(download, mold, part) for part in mold.parts))
    refuse_heavy(mold, files)
    digests = [file.sha256 for file in files]
    frozen = versions.read(folder, store)
    tables_sum = tables_sum or tables_digest(tables)
    return Draft(
        mold=mold,
        files=files,
        sources=sources(mold),
        photos=tuple(gather(partial(_photo, folder, name) for name in mold.photos)),
        versions=frozen.versions,
        frozen={path: offered_as(path, checked) for path, checked in frozen.files.items()},
        released=versions.check_draft(mold, digests, frozen.versions),
        withdrawn=versions.withdrawn_as(digests, frozen),
        keys=stages.keys_of(mold, digests, tables_sum, store),
        made_by=made_by(tables_sum),
    )


def finish(draft: Draft, tables: Tables, store: Store) -> MoldRecord:
    """Run the stages for a draft, or take their results from the store, and make the mold's record."""
    made = run_stages(draft.mold, lambda: contents_of(draft), draft.keys, tables, store)
    shots, shot_assets = photos(draft, store)
    return MoldRecord(
        spec=draft.mold,
        measurement=made.measurement,
        advice=made.advice,
        pictures=made.pictures,
        assets=made.assets,
        card_assets=made.card_assets,
        downloads=public_downloads(draft),
        photos=shots,
        photo_assets=shot_assets,
        versions=draft.versions,
        released=draft.released,
        made_by=draft.made_by,
        withdrawn=draft.withdrawn,
        files=draft.frozen,
    )


def run_stages(
    mold: MoldSpec, contents: Callable[[], Contents], keys: stages.Keys, tables: Tables, store: Store
) -> Made:
    """Measure, advise, draw. `contents` is called, and the meshes are read, only if the store lacks any."""
    reading = cache(lambda: read(mold, contents()))
    measured, advised = judge(mold, reading, keys, tables, store)
    drawn, assets = draw(mold, reading, keys, store)
    return Made(
        measurement=measured,
        advice=advised,
        pictures=stages.described(drawn, mold.title, stages.verdict_of(advised)),
        assets=assets,
        card_assets=card(mold.title, keys, store),
    )


def draw(
    mold: MoldSpec, reading: Callable[[], Reading], keys: stages.Keys, store: Store
) -> tuple[tuple[Picture, ...], Path]:
    """The pictures, still without title and margin (described), and their folder.

    `reading` is called only if the store lacks them; the advice must be in the store.
    """
    key = stages.pictures_key(keys, store)

    def make(folder: Path) -> tuple[Picture, ...]:
        from builder import pictures

        told = json.loads(stages.told_deciding(keys, store))
        found = serialize.from_json(Deciding, told) if told else None
        return pictures.draw(mold.slug, reading(), found, folder)

    return store.keep("pictures", key, tuple[Picture, ...], make)


def judge(
    mold: MoldSpec, reading: Callable[[], Reading], keys: stages.Keys, tables: Tables, store: Store
) -> tuple[Measurement, Advice]:
    """Measure and advise. `reading` is called only if the store lacks the measurement."""
    measured, _ = store.keep("measure", keys.measure, Measurement, lambda _: reading().measurement)

    def make(folder: Path) -> Advice:
        from builder.advice.advise import advise

        made = advise(stages.for_advice(mold), measured, tables)
        (folder / stages.DECIDING).write_bytes(canonical(stages.deciding(stages.verdict_of(made))))
        return made

    return measured, store.keep("advice", keys.advice, Advice, make)[0]


def card(title: str, keys: stages.Keys, store: Store) -> Path:
    """The folder of the picture for links: the title is written over the mold as it was drawn."""
    drawn = stages.pictures_key(keys, store)

    def write(folder: Path) -> str:
        from builder import pictures

        made, place = store.keep("pictures", drawn, tuple[Picture, ...], _lacking)
        return pictures.write_card(next(one for one in made if one.name == CARD), place, title, folder)

    return store.keep("cards", card_key(title, keys, store), str, write)[1]


def card_key(title: str, keys: stages.Keys, store: Store) -> str:
    """Store key of the picture for links; the advice must be in the store."""
    return digest_of(vectors.version("pictures", store), stages.pictures_key(keys, store), title)


def _lacking(_: Path) -> tuple[Picture, ...]:
    raise LookupError("the pictures are drawn before their card")


def photos(draft: Draft, store: Store) -> tuple[tuple[Picture, ...], Path]:
    """The maker's photos made fit for the page, and their folder; Faults when one is no picture."""
    if not draft.photos:
        return (), Path()
    from builder import pictures

    def make(place: Path) -> tuple[Picture, ...]:
        return pictures.photos(draft.mold, (photo.read() for photo in draft.photos), place)

    made, place = store.keep("photos", photos_key(draft), tuple[Picture, ...], make)
    return stages.described(made, draft.mold.title), place


def photos_key(draft: Draft) -> str:
    """Store key of the photos: their bytes, and the code that converts them, with all its libraries."""
    return digest_of(stage_version("pictures"), *(photo.sha256 for photo in draft.photos))


def tables_digest(tables: Tables) -> str:
    """SHA-256 of every value of the tables."""
    return sha256(canonical(tables))


def tables_digests(tables: Tables) -> dict[str, str]:
    """SHA-256 of all tables together, and of each that a mold's numbers may follow, by name."""
    entries = {
        **{f"plastisol {one.id}": one for one in tables.plastisols},
        **{f"material {one.id}": one for one in tables.mold_materials},
        "practice": tables.practice,
        "eyes": tables.eyes_mm,
    }
    digests = {name: sha256(canonical(entry)) for name, entry in entries.items()}
    return {"tables": tables_digest(tables), **digests}


def tools() -> Mapping[str, str]:
    """Versions of what makes the numbers and pictures: the builder, its stages, the libraries."""
    stages = {f"stage {stage}": stage_version(stage) for stage in ("measure", "advice", "pictures")}
    libraries = {name: library_version(name) for name in LIBRARIES}
    return {"shotbook": library_version("shotbook"), **stages, **libraries}


def made_by(tables_sum: str) -> MadeBy:
    """This Shotbook with tables of that digest."""
    return MadeBy(shotbook=library_version("shotbook"), tables=tables_sum)


def read(mold: MoldSpec, contents: Iterable[bytes]) -> Reading:
    """The mold's STL files, closed and measured; Faults of all files together when one is not a solid."""
    from builder import measure, mesh

    solids = []
    problems: list[Problem] = []
    for part, content in zip(mold.parts, contents, strict=True):
        file = f"{mold.slug}/{part.file}"
        try:
            solids.append(mesh.read(content, file, part.units or mold.units))
            mesh.refuse_many_facets(
                sum(vouch.triangles for _, vouch in solids), f"{file} and those before it"
            )
        except Faults as faults:
            problems.extend(faults.problems)
    if problems:
        raise Faults(problems)
    return measure.measure(stages.for_reading(mold), solids)


def draw_open_edges(draft: Draft, folder: Path) -> dict[str, Path]:
    """The picture of each part whose mesh is refused and open, by file: open edges in colour."""
    from builder import mesh, pictures

    drawn: dict[str, Path] = {}
    disk.own_folder(folder.parent)
    if contained.is_folder(folder):
        shutil.rmtree(folder)
    disk.own_folder(folder)
    for part, content in zip(draft.mold.parts, contents_of(draft), strict=True):
        units = part.units or draft.mold.units
        try:
            mesh.read(content, part.file, units)
        except Faults:
            with suppress(Faults):  # what holds no triangles cannot be drawn, and is told as a fault already
                points, mm = mesh.drawn(content, part.file, units)
                corners = points.astype(float) * mm
                name = f"{Path(part.file).stem}-open-edges"
                if picture := pictures.draw_open_edges(corners, part.file, folder, name):
                    drawn[part.file] = folder / picture.files[max(picture.files)]
    return drawn


def contents_of(draft: Draft) -> Contents:
    """The bytes of the mold's files; raises Faults when one changed since the draft was loaded."""
    return tuple(checked(draft.mold, file).read() for file in draft.files)


def part_contents(mold: MoldSpec) -> Contents:
    """The bytes of the mold's STL files as they lie now, for a spec that was loaded without a draft."""
    return tuple(contained.read(mold.folder, part.file, limits.STL_BYTES) for part in mold.parts)


def checked(mold: MoldSpec, file: Download) -> Checked:
    """A file of the mold's folder as it was looked at, to be read as exactly that."""
    below = file.path.relative_to(mold.folder).as_posix()
    return Checked(folder=mold.folder, file=below, size_bytes=file.size_bytes, sha256=file.sha256)


def public_downloads(draft: Draft) -> tuple[Download, ...]:
    """The files that a visitor may take: none when exactly these were withdrawn."""
    return () if draft.withdrawn else (*draft.files, *draft.sources)


def download(mold: MoldSpec, part: PartSpec) -> Download:
    """A part's STL file as a visitor takes it."""
    return offered_as(part.file, contained.check(mold.folder, part.file, limits.STL_BYTES))


def sources(mold: MoldSpec) -> tuple[Download, ...]:
    """The files that the mold was drawn in, as a visitor takes them; nobody reads them here."""
    names = mold.maker.sources
    if len({name.casefold() for name in names}) < len(names):  # many systems take a.step and A.STEP for one
        where = Where(file=str(mold.folder / "mold.yaml"), line=mold.line_of.get("sources"), key="sources")
        raise Faults([Problem(where=where, what="two sources have the same name", remedy="list each once")])
    return tuple(gather(partial(_source, mold.folder, name) for name in names))


def _source(folder: Path, name: str) -> Download:
    return offered_as(name, contained.check(folder, name, limits.SOURCE_BYTES))


def refuse_heavy(mold: MoldSpec, files: Sequence[Download]) -> None:
    """Raise Faults when a mold's files together are more than one machine can be asked to read."""
    total = sum(file.size_bytes for file in files)
    if total > limits.MOLD_BYTES:
        where = Where(file=str(mold.folder / "mold.yaml"), line=mold.line_of.get("parts"), key="parts")
        what = f"the STL files together have {total} bytes"
        raise Faults([Problem(where=where, what=what, expected=f"at most {limits.MOLD_BYTES}")])


def _photo(folder: Path, name: str) -> Checked:
    return contained.check(folder, name, limits.PHOTO_BYTES)


def offered_as(name: str, file: Checked) -> Download:
    """A file that was looked at, under the name that it is offered by."""
    path = file.folder / file.file
    return Download(name=name, path=path, size_bytes=file.size_bytes, sha256=file.sha256)
