"""One mold: the stages called in order. Nothing is computed twice for the same files, spec and tables.

Stages are imported where they run, so that a build that finds everything in the store starts at once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

from builder.base.problems import Faults, Problem, Where
from builder.base.store import (
    LIBRARIES,
    Store,
    canonical,
    digest_of,
    file_digest,
    library_version,
    sha256,
    stage_version,
)
from builder.model import (
    Advice,
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

Contents = tuple[bytes, ...]
"""Bytes of a mold's files, in the order of its parts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """A mold as it lies in its folder: the spec is checked and the files are there, but not read yet."""

    mold: MoldSpec
    files: tuple[Download, ...]
    versions: tuple[Version, ...]
    released: bool
    keys: Keys
    made_by: MadeBy


@dataclass(frozen=True, slots=True, kw_only=True)
class Keys:
    """Where the store keeps what each stage makes of a mold."""

    measure: str
    advice: str
    pictures: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """What the stages make of a mold; the pictures' files lie in `assets`."""

    measurement: Measurement
    advice: Advice
    pictures: tuple[Picture, ...]
    assets: Path


def build_mold(folder: Path, tables: Tables, store: Store) -> MoldRecord:
    """Everything the pages need of the mold in `folder`; Faults when it cannot be read for sure."""
    return finish(load_draft(folder, tables), tables, store)


def load_draft(folder: Path, tables: Tables, tables_sum: str = "") -> Draft:
    """The mold's spec, files and released versions, checked; Faults with what is wrong with them.

    `tables_sum` is the tables' digest, for whoever looks at many molds.
    """
    mold = mold_file.load(folder, tables)
    files = tuple(download(part) for part in mold.parts)
    digests = [file.sha256 for file in files]
    released = versions.load(folder)
    tables_sum = tables_sum or tables_digest(tables)
    return Draft(
        mold=mold,
        files=files,
        versions=released,
        released=versions.check_draft(mold, digests, released),
        keys=keys_of(without_prose(mold), digests, tables_sum),
        made_by=made_by(tables_sum),
    )


def finish(draft: Draft, tables: Tables, store: Store) -> MoldRecord:
    """The draft with what the stages make of it, from the store where it is there."""
    made = run_stages(without_prose(draft.mold), lambda: contents_of(draft), draft.keys, tables, store)
    shots, shot_assets = photos(draft.mold, store)
    return MoldRecord(
        spec=draft.mold,
        measurement=made.measurement,
        advice=made.advice,
        pictures=made.pictures,
        assets=made.assets,
        downloads=offered(draft),
        photos=shots,
        photo_assets=shot_assets,
        versions=draft.versions,
        released=draft.released,
        made_by=draft.made_by,
        withdrawn=withdrawn_as(draft),
    )


def run_stages(
    mold: MoldSpec, contents: Callable[[], Contents], keys: Keys, tables: Tables, store: Store
) -> Made:
    """Measure, advise, draw. `contents` is called, and the meshes are read, only if the store lacks any."""
    from builder import pictures

    reading = cache(lambda: read(mold, contents()))
    measured, advised = judge(mold, reading, keys, tables, store)
    drawn, assets = store.keep(
        "pictures",
        keys.pictures,
        tuple[Picture, ...],
        lambda folder: pictures.draw(mold, reading(), advised, folder),
    )
    return Made(measurement=measured, advice=advised, pictures=drawn, assets=assets)


def judge(
    mold: MoldSpec, reading: Callable[[], Reading], keys: Keys, tables: Tables, store: Store
) -> tuple[Measurement, Advice]:
    """Measure and advise. `reading` is called only if the store lacks the measurement."""
    from builder import advice

    measured, _ = store.keep("measure", keys.measure, Measurement, lambda _: reading().measurement)
    advised, _ = store.keep("advice", keys.advice, Advice, lambda _: advice.advise(mold, measured, tables))
    return measured, advised


def keys_of(mold: MoldSpec, digests: Sequence[str], tables_sum: str) -> Keys:
    """The keys: each covers its stage's sources and all before it; `digests` are the parts' SHA-256."""
    measured = digest_of(stage_version("measure"), essence(mold), *digests)
    advised = digest_of(stage_version("advice"), measured, tables_sum)
    return Keys(measure=measured, advice=advised, pictures=digest_of(stage_version("pictures"), advised))


def photos(mold: MoldSpec, store: Store) -> tuple[tuple[Picture, ...], Path]:
    """The maker's photos made fit for the page, and their folder; Faults when one is no picture."""
    if not mold.photos:
        return (), Path()
    from builder import pictures

    key = photos_key(mold)
    return store.keep("photos", key, tuple[Picture, ...], lambda place: pictures.photos(mold, place))


def photos_key(mold: MoldSpec) -> str:
    """Digest of the photos, of what they are called, and of what treats them."""
    digests = (file_digest(mold.folder / photo) for photo in mold.photos)
    return digest_of(stage_version("pictures"), mold.title, *digests)


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
        try:
            solids.append(mesh.read(content, f"{mold.slug}/{part.file}", part.units or mold.units))
        except Faults as faults:
            problems.extend(faults.problems)
    if problems:
        raise Faults(problems)
    return measure.measure(mold, solids)


def draw_open_edges(draft: Draft, folder: Path) -> dict[str, Path]:
    """The picture of each part whose mesh is refused and open, by file: open edges in colour."""
    from builder import mesh, pictures

    drawn: dict[str, Path] = {}
    folder.mkdir(parents=True, exist_ok=True)
    for part, content in zip(draft.mold.parts, contents_of(draft), strict=True):
        units = part.units or draft.mold.units
        try:
            mesh.read(content, part.file, units)
        except Faults:
            with suppress(Faults):  # what holds no triangles cannot be drawn, and is told as a fault already
                corners = mesh.triangles(content, part.file).astype(float) * mesh.MM[units]
                name = f"{Path(part.file).stem}-open-edges"
                if picture := pictures.draw_open_edges(corners, part.file, folder, name):
                    drawn[part.file] = folder / picture.files[max(picture.files)]
    return drawn


def contents_of(draft: Draft) -> Contents:
    """The files' bytes; Faults when one is no longer what was looked at."""
    contents = tuple(file.path.read_bytes() for file in draft.files)
    for file, content in zip(draft.files, contents, strict=True):
        if sha256(content) != file.sha256:
            what = "this file changed while it was read"
            raise Faults([Problem(where=Where(file=str(file.path)), what=what, remedy="run it again")])
    return contents


def essence(mold: MoldSpec) -> str:
    """Digest of the spec, the same wherever the checkout lies and however mold.yaml is laid out."""
    parts = tuple(replace(part, path=Path(part.file)) for part in mold.parts)
    return sha256(canonical(replace(mold, folder=Path(mold.slug), parts=parts, line_of={})))


def without_prose(mold: MoldSpec) -> MoldSpec:
    """The spec without what only pages show, so that a reworded summary leaves nothing to recompute."""
    return replace(mold, summary="", target=(), licence="", author="", version="", renamed_from=(), photos=())


def offered(draft: Draft) -> tuple[Download, ...]:
    """The files that a visitor may take: none when these were withdrawn."""
    return () if withdrawn_as(draft) else draft.files


def withdrawn_as(draft: Draft) -> Version | None:
    """The withdrawn version that holds all of the draft's files; None when there is none.

    The digests tell, so that another number in mold.yaml does not offer the same files again.
    """
    sums = {file.sha256 for file in draft.files}
    return next((version for version in draft.versions if sums <= set(version.recalled)), None)


def download(part: PartSpec) -> Download:
    """A part's STL file as a visitor takes it."""
    size = part.path.stat().st_size
    return Download(name=part.file, path=part.path, size_bytes=size, sha256=file_digest(part.path))
