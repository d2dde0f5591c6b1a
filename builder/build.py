"""One mold: the stages called in order. Nothing is computed twice for the same files, spec and tables.

Stages are imported where they run, so that a build that finds everything in the store starts at once.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cache, partial
from pathlib import Path

from builder.base import contained, disk, limits, serialize
from builder.base.contained import Checked
from builder.base.problems import Faults, Problem, Where
from builder.base.store import LIBRARIES, Store, canonical, digest_of, library_version, sha256, stage_version
from builder.model import (
    CARD,
    Advice,
    Deciding,
    Declared,
    Download,
    Figure,
    FromMaker,
    Hints,
    MadeBy,
    Measurement,
    MoldRecord,
    MoldSpec,
    PartSpec,
    PathVerdict,
    Picture,
    Reading,
    Tables,
    Version,
)
from builder.spec import mold_file, versions
from builder.spec.types import gather

Contents = tuple[bytes, ...]
"""Bytes of a mold's files, in the order of its parts."""
DECIDING = "deciding.json"
"""File beside the advice: what pictures take from it."""
_MOST_DECIDING_BYTES = 10_000
DECIDING_CUT = "pictures.alt.cut_deciding"
_HALF = 32


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """A mold folder before its meshes are read: checked spec, files, released versions, store keys."""

    mold: MoldSpec
    files: tuple[Download, ...]
    photos: tuple[Checked, ...]
    versions: tuple[Version, ...]
    frozen: Mapping[str, Download]
    """The files of the versions, by path below the mold's folder."""
    released: bool
    withdrawn: Version | None
    """The withdrawn version whose files exactly these are."""
    keys: Keys
    made_by: MadeBy


@dataclass(frozen=True, slots=True, kw_only=True)
class Keys:
    """Store keys of a mold's stage results: each covers what its stage is given, and nothing else."""

    measure: str
    advice: str
    drawn: str
    """How the keys of its pictures begin; the rest says which section decides (pictures_key)."""


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
    return finish(load_draft(folder, tables), tables, store)


def load_draft(folder: Path, tables: Tables, tables_sum: str = "") -> Draft:
    """Load and check a mold's spec, files and released versions; raises Faults.

    `tables_sum` is the tables' digest, for whoever looks at many molds.
    """
    mold = mold_file.load(folder, tables)
    files = tuple(gather(partial(download, mold, part) for part in mold.parts))
    refuse_heavy(mold, files)
    digests = [file.sha256 for file in files]
    frozen = versions.read(folder)
    tables_sum = tables_sum or tables_digest(tables)
    return Draft(
        mold=mold,
        files=files,
        photos=tuple(gather(partial(_photo, folder, name) for name in mold.photos)),
        versions=frozen.versions,
        frozen={path: offered_as(path, checked) for path, checked in frozen.files.items()},
        released=versions.check_draft(mold, digests, frozen.versions),
        withdrawn=versions.withdrawn_as(digests, frozen),
        keys=keys_of(mold, digests, tables_sum),
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
    mold: MoldSpec, contents: Callable[[], Contents], keys: Keys, tables: Tables, store: Store
) -> Made:
    """Measure, advise, draw. `contents` is called, and the meshes are read, only if the store lacks any."""
    reading = cache(lambda: read(mold, contents()))
    measured, advised = judge(mold, reading, keys, tables, store)
    drawn, assets = draw(mold, reading, keys, store)
    return Made(
        measurement=measured,
        advice=advised,
        pictures=described(drawn, mold.title, verdict_of(advised)),
        assets=assets,
        card_assets=card(mold.title, keys, store),
    )


def draw(
    mold: MoldSpec, reading: Callable[[], Reading], keys: Keys, store: Store
) -> tuple[tuple[Picture, ...], Path]:
    """The pictures, still without title and margin (described), and their folder.

    `reading` is called only if the store lacks them; the advice must be in the store.
    """
    key = pictures_key(keys, store)

    def make(folder: Path) -> tuple[Picture, ...]:
        from builder import pictures

        told = json.loads(_told_deciding(keys, store))
        found = serialize.from_json(Deciding, told) if told else None
        return pictures.draw(mold.slug, reading(), found, folder)

    return store.keep("pictures", key, tuple[Picture, ...], make)


def judge(
    mold: MoldSpec, reading: Callable[[], Reading], keys: Keys, tables: Tables, store: Store
) -> tuple[Measurement, Advice]:
    """Measure and advise. `reading` is called only if the store lacks the measurement."""
    from builder import advice

    measured, _ = store.keep("measure", keys.measure, Measurement, lambda _: reading().measurement)

    def advise(folder: Path) -> Advice:
        made = advice.advise(for_advice(mold), measured, tables)
        (folder / DECIDING).write_bytes(canonical(deciding(verdict_of(made))))
        return made

    return measured, store.keep("advice", keys.advice, Advice, advise)[0]


def verdict_of(advice: Advice) -> PathVerdict | None:
    """What is said of the path that fills last, by the advice for the mold's own pair."""
    paths = advice.windows[0].paths if advice.windows else ()
    return min(paths, key=lambda path: path.margin.value, default=None)


def deciding(verdict: PathVerdict | None) -> Deciding | None:
    """What pictures show of a verdict: where it is, not how near."""
    if verdict is None:
        return None
    return Deciding(bait=verdict.bait, path=verdict.path, station=verdict.deciding)


def pictures_key(keys: Keys, store: Store) -> str:
    """Store key of the pictures; Faults when the store has no advice under its key."""
    return keys.drawn + sha256(_told_deciding(keys, store))[:_HALF]


def _told_deciding(keys: Keys, store: Store) -> bytes:
    return contained.read(store.place("advice", keys.advice), DECIDING, _MOST_DECIDING_BYTES)


def described(
    drawn: Iterable[Picture], title: str, verdict: PathVerdict | None = None
) -> tuple[Picture, ...]:
    """The pictures with what was left out of their descriptions when they were drawn: title and margin."""
    shown = []
    for picture in drawn:
        values: dict[str, Figure | str] = {"title": title, **picture.alt.values}
        if verdict is not None and picture.alt.code == DECIDING_CUT:
            values["margin"] = verdict.margin
        shown.append(replace(picture, alt=replace(picture.alt, values=values)))
    return tuple(shown)


def card(title: str, keys: Keys, store: Store) -> Path:
    """The folder of the picture for links: the title is written over the mold as it was drawn."""
    drawn = pictures_key(keys, store)

    def write(folder: Path) -> str:
        from builder import pictures

        made, place = store.keep("pictures", drawn, tuple[Picture, ...], _lacking)
        return pictures.write_card(next(one for one in made if one.name == CARD), place, title, folder)

    return store.keep("cards", digest_of(stage_version("pictures"), drawn, title), str, write)[1]


def _lacking(_: Path) -> tuple[Picture, ...]:
    raise LookupError("the pictures are drawn before their card")


def keys_of(mold: MoldSpec, digests: Sequence[str], tables_sum: str) -> Keys:
    """The keys: each covers its stage's sources and what it is given; `digests` are the parts' SHA-256.

    Whether the unit is told counts as well: a mold of an unusual size is only read when it is.
    """
    told = str("units" in mold.line_of)
    measured = digest_of(stage_version("measure"), spec_digest(for_reading(mold)), told, *digests)
    advised = digest_of(stage_version("advice"), measured, spec_digest(for_advice(mold)), tables_sum)
    drawn = digest_of(stage_version("pictures"), measured)[:_HALF]
    return Keys(measure=measured, advice=advised, drawn=drawn)


def photos(draft: Draft, store: Store) -> tuple[tuple[Picture, ...], Path]:
    """The maker's photos made fit for the page, and their folder; Faults when one is no picture."""
    if not draft.photos:
        return (), Path()
    from builder import pictures

    def make(place: Path) -> tuple[Picture, ...]:
        return pictures.photos(draft.mold, (photo.read() for photo in draft.photos), place)

    made, place = store.keep("photos", photos_key(draft), tuple[Picture, ...], make)
    return described(made, draft.mold.title), place


def photos_key(draft: Draft) -> str:
    """Store key of the photos: their bytes, and the code that converts them."""
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
    return measure.measure(for_reading(mold), solids)


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
                corners = mesh.triangles(content, part.file).astype(float) * mesh.MM[units]
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


def spec_digest(mold: MoldSpec) -> str:
    """Digest of the spec; the place of the checkout and the layout of mold.yaml do not matter."""
    parts = tuple(replace(part, path=Path(part.file)) for part in mold.parts)
    return sha256(canonical(replace(mold, folder=Path(mold.slug), parts=parts, line_of={})))


def for_reading(mold: MoldSpec) -> MoldSpec:
    """What the reading is given of the spec, so that nothing else can change it."""
    shape = replace(without_prose(mold), title="", plastisol="", mold_material="", bait_type="", hook="")
    shape = replace(shape, bolts="", stands="sprue_up", colours=(), declared=Declared(), shots=())
    return replace(shape, hints=replace(mold.hints, eye_mm=None))


def for_advice(mold: MoldSpec) -> MoldSpec:
    """What the advice is given of the spec; the mold's shape comes with its measurement."""
    told = replace(without_prose(mold), title="", parts=(), cavities=0, bait_type="", hook="", bolts="")
    return replace(told, colours=(), hints=Hints(eye_mm=mold.hints.eye_mm))


def without_prose(mold: MoldSpec) -> MoldSpec:
    """The spec without the texts that only pages show, so that rewording one recomputes nothing."""
    told = replace(mold, summary="", target=(), licence="", author="", version="", renamed_from=())
    return replace(told, photos=(), maker=FromMaker())


def public_downloads(draft: Draft) -> tuple[Download, ...]:
    """The files that a visitor may take: none when exactly these were withdrawn."""
    return () if draft.withdrawn else draft.files


def download(mold: MoldSpec, part: PartSpec) -> Download:
    """A part's STL file as a visitor takes it."""
    return offered_as(part.file, contained.check(mold.folder, part.file, limits.STL_BYTES))


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
