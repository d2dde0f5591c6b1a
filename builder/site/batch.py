"""Builds all molds of a folder; molds missing in the store are read by an engine of workers."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Container, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import _lru_cache_wrapper, cache, partial
from pathlib import Path

from builder import build, stages
from builder.base import contained, disk, guard, serialize, workers
from builder.base.problems import Faults, Problem, Where
from builder.base.store import Store, canonical, digest_of, sha256
from builder.model import MoldRecord, MoldSpec, Tables, Version
from builder.spec import mold_file, releases
from builder.stages import vectors

FAULTS = "faults"
"""Folder of the store for the tracebacks of what nobody foresaw."""

Progress = Callable[[int, int, str], None]
"""Called before each mold that must be read: how many are done, how many there are, its slug."""


@dataclass(frozen=True, slots=True)
class Job:
    """A job for a worker: one mold as bytes, without paths of this machine."""

    mold: bytes
    contents: build.Contents
    tables: bytes
    known: Mapping[str, bytes] = field(default_factory=dict)
    """Store files, by name, of the stages that are done already."""
    drawn: tuple[str, ...] = ()
    """Keys of the pictures that there are of the mold as it is measured."""


@dataclass(frozen=True, slots=True)
class Answer:
    """A worker's answer: new store files by name, or problems."""

    files: Mapping[str, bytes]
    problems: bytes
    traceback: str = ""
    """Where something happened that nobody foresaw."""


class StoredMold(MoldRecord):
    """A mold record that loads measurement, advice and pictures from the store on first access."""

    draft: build.Draft
    _fetched: _lru_cache_wrapper[MoldRecord]

    def __init__(self, draft: build.Draft, tables: Tables, store: Store) -> None:
        """What is known without the store, and what fetches the rest."""
        photos, photo_assets = build.photos(draft, store)
        known = {
            "draft": draft,
            "_fetched": cache(partial(build.finish, draft, tables, store)),
            "spec": draft.mold,
            "assets": store.place("pictures", stages.pictures_key(draft.keys, store)),
            "card_assets": build.card(draft.mold.title, draft.keys, store),
            "downloads": build.public_downloads(draft),
            "photos": photos,
            "photo_assets": photo_assets,
            "versions": draft.versions,
            "released": draft.released,
            "made_by": draft.made_by,
            "withdrawn": draft.withdrawn,
            "files": draft.frozen,
        }
        for name, value in known.items():
            object.__setattr__(self, name, value)

    measurement = property(lambda self: self._fetched().measurement)
    advice = property(lambda self: self._fetched().advice)
    pictures = property(lambda self: self._fetched().pictures)

    def forget(self) -> None:
        """Give back the memory of what was loaded; it is loaded again when it is asked for."""
        self._fetched.cache_clear()


def build_molds(
    molds: Path,
    tables: Tables,
    store: Store,
    progress: Progress = lambda *_: None,
    engine: workers.Engine = workers.here,
) -> tuple[MoldRecord, ...]:
    """Every mold under `molds`, by slug; Faults of all of them together, after all have been tried."""
    problems: dict[str, Sequence[Problem]] = {}
    drafts: list[build.Draft] = []
    tables_sum = build.tables_digest(tables)
    gone = list(releases.removed(molds, releases.load(molds)))
    for folder in mold_folders(molds):
        try:
            with guard.one_mold(folder, store.folder / FAULTS):
                if lost := [problem for slug, problem in gone if slug == folder.name]:
                    raise Faults(lost)
                draft = build.load_draft(mold_folder(folder), tables, tables_sum, store)
                build.photos(draft, store)
                drafts.append(draft)
        except Faults as faults:
            problems[folder.name] = faults.problems
    problems |= taken_names(drafts, {folder.name for folder in mold_folders(molds)})
    problems |= read_missing(drafts, tables, store, progress, engine)
    if problems:
        raise Faults(problem for slug in sorted(problems) for problem in problems[slug])
    return tuple(StoredMold(draft, tables, store) for draft in drafts)


def taken_names(drafts: Sequence[build.Draft], slugs: Container[str]) -> dict[str, Sequence[Problem]]:
    """Problems by slug where a mold claims as its old name what is not its own."""
    claims = Counter(old for draft in drafts for old in set(draft.mold.renamed_from))
    problems: dict[str, Sequence[Problem]] = {}
    for draft in drafts:
        for old in draft.mold.renamed_from:
            if old in slugs or claims[old] > 1 or mold_file.is_reserved(old):
                what = f"{old} is the name of another mold, or one that no mold can have"
                file = str(draft.mold.folder / mold_file.FILE)
                where = Where(file=file, line=draft.mold.line_of.get("renamed_from", 0), key="renamed_from")
                problems[draft.mold.slug] = [
                    Problem(where=where, what=what, remedy="take it out of the list")
                ]
    return problems


def mold_folders(molds: Path) -> tuple[Path, ...]:
    """The folders under `molds` that hold a mold.yaml, by name."""
    return tuple(sorted(file.parent for file in molds.glob("*/mold.yaml")))


def mold_folder(folder: Path) -> Path:
    """The folder; Faults when it is a link, which may lead to files that nobody wants to publish."""
    if contained.is_folder(folder):
        return folder
    what = "this is a link, and links are not followed"
    raise Faults([Problem(where=Where(file=str(folder)), what=what, remedy="put the folder itself here")])


def read_missing(
    drafts: Sequence[build.Draft], tables: Tables, store: Store, progress: Progress, engine: workers.Engine
) -> dict[str, Sequence[Problem]]:
    """Run the stages for the drafts that the store lacks; returns problems by slug."""
    missing = [draft for draft in drafts if not is_stored(draft, store)]
    jobs = (job_of(draft, canonical(tables), store) for draft in missing)
    problems: dict[str, Sequence[Problem]] = {}
    answers = iter(engine(work, jobs)) if missing else iter(())
    for done, draft in enumerate(missing):
        progress(done, len(missing), ", ".join(one.mold.slug for one in missing[done : done + engine.count]))
        answer = next(answers)
        if isinstance(answer, workers.Lost):
            problems[draft.mold.slug] = [guard.lost(draft.mold.folder)]
        elif answer.problems:
            told = Faults(serialize.from_json(tuple[Problem, ...], json.loads(answer.problems)))
            if answer.traceback:
                told.add_note(answer.traceback)
            problems[draft.mold.slug] = guard.keep(told, draft.mold.folder, store.folder / FAULTS).problems
        elif not _is_of(draft, answer):
            problems[draft.mold.slug] = [_other_version(draft)]
        else:
            store.take(answer.files)
    return problems


def is_stored(draft: build.Draft, store: Store) -> bool:
    """True when the store has a sound result of each stage."""
    keys = draft.keys
    if not (store.has("measure", keys.measure) and store.has("advice", keys.advice)):
        return False
    return store.has("pictures", stages.pictures_key(keys, store))


def job_of(draft: build.Draft, tables: bytes, store: Store) -> Job:
    """The draft as it is sent, with what the store has of it."""
    mold = stages.without_prose(draft.mold)
    parts = tuple(replace(part, path=Path(part.file)) for part in mold.parts)
    sent = replace(mold, folder=Path(mold.slug), parts=parts)
    entries = (("measure", draft.keys.measure), ("advice", draft.keys.advice))
    known = [store.files_of(stage, key) for stage, key in entries if store.has(stage, key)]
    return Job(
        mold=canonical(sent),
        contents=build.contents_of(draft),
        tables=tables,
        known={**vectors.files(store), **{name: data for files in known for name, data in files.items()}},
        drawn=tuple(key for key in store.keys("pictures", draft.keys.drawn) if store.has("pictures", key)),
    )


def page_key(draft: build.Draft, about: str) -> str:
    """Digest of everything that a mold's pages depend on; `about` is what they depend on beside it."""
    frozen = (canonical(_unplaced(version)).decode() for version in draft.versions)
    released = str(draft.released)
    shown = (
        draft.keys.advice,
        draft.keys.drawn,
        build.photos_key(draft),
        *(one.sha256 for one in draft.sources),
        stages.spec_digest(draft.mold),
        released,
        draft.withdrawn.version if draft.withdrawn else "",
    )
    return digest_of(about, *shown, *frozen)


def _unplaced(version: Version) -> Version:
    """The version without the path of this checkout."""
    files = tuple(replace(file, path=Path(file.name)) for file in version.downloads)
    return replace(version, assets=Path(), downloads=files)


def work(job: Job) -> Answer:
    """Run the stages of a job in a temporary store."""
    mold = serialize.from_json(MoldSpec, json.loads(job.mold))
    tables = serialize.from_json(Tables, json.loads(job.tables))
    digests = [sha256(content) for content in job.contents]
    with disk.scratch() as folder:
        store = Store(folder)
        store.take(job.known)
        keys = stages.keys_of(mold, digests, sha256(job.tables), store)
        try:
            with guard.one_mold(mold.folder):
                _finish(mold, job, keys, tables, store)
        except Faults as faults:
            return Answer({}, canonical(faults.problems), "\n".join(getattr(faults, "__notes__", ())))
        made = {name: data for name, data in store.files().items() if name not in job.known}
        made = {name: data for name, data in made.items() if not name.startswith(f"{vectors.STAGE}/")}
        return Answer(made, b"")


def _finish(mold: MoldSpec, job: Job, keys: stages.Keys, tables: Tables, store: Store) -> None:
    """Run the stages, the pictures only if nobody has them."""
    reading = cache(lambda: build.read(mold, job.contents))
    build.judge(mold, reading, keys, tables, store)
    if stages.pictures_key(keys, store) not in job.drawn:
        build.draw(mold, reading, keys, store)
        build.card(mold.title, keys, store)


def _is_of(draft: build.Draft, answer: Answer) -> bool:
    """Whether an answer's results stand under the keys of this mold."""
    keys = draft.keys
    ours = {"measure": keys.measure, "advice": keys.advice, "pictures": keys.drawn}
    names = [name.split("/") for name in answer.files]
    return bool(names) and all(key.startswith(ours.get(stage, key)) for stage, key, *_ in names)


def _other_version(draft: build.Draft) -> Problem:
    return Problem(
        where=Where(file=str(draft.mold.folder)),
        what="the worker that read this mold runs another version of the builder",
        remedy="install the same version on every worker of the cluster",
    )
