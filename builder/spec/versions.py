"""Released versions as they lie in a mold's folder: frozen files, their lock, what is told about them.

`molds/SLUG/versions/VERSION/` holds the mold's own files in a folder SLUG, what was made from them,
`version.json` (a Version) and `lock.json` (a Lock) with the digest of every other file. Each lock also
holds the digest of the lock before it, so that the newest vouches for all. Withdrawing adds
`withdrawn.json` and changes nothing else.

Nothing of it is believed: whoever sends a mold may send a folder `versions` with it. A record passes through
its table in `record_keys`, and every file that it names must be one that its lock vouches for.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import TypeVar

from builder.base import contained, serialize
from builder.base.contained import Checked
from builder.base.problems import Faults, Problem, Where
from builder.base.store import Store, file_digest, sha256
from builder.model import MadeBy, MoldSpec, Version
from builder.spec import json_reader, record_keys, version_json
from builder.spec.types import Scope, gather
from builder.spec.version_json import problem
from builder.spec.yaml_reader import read_file, read_yaml

Sealed = TypeVar("Sealed", "Lock", "Withdrawal", "Outside")

FOLDER = "versions"
LOCK = "lock.json"
VERSION = "version.json"
WITHDRAWN = "withdrawn.json"
OUTSIDE = "outside.json"
RECORD = "record.json"
MOST_BYTES = 500_000_000
"""No file of a version is larger: its zip holds each mesh four times."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lock:
    """What a version was made of and by; `files` and `tables` are SHA-256 by name."""

    format: int = 1
    slug: str
    version: str
    order: int
    previous: str
    """SHA-256 of the lock of the version before; empty for the first."""
    date: str
    tools: Mapping[str, str]
    tables: Mapping[str, str]
    files: Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Withdrawal:
    """Why and when a version was withdrawn."""

    reason: str
    date: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Outside:
    """Where files of a version lie that its folder does not hold; its lock has their digests all the same."""

    files: Mapping[str, str]
    """Address by name."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Released:
    """The versions of a mold, the newest first, and each of their files as it was looked at."""

    versions: tuple[Version, ...] = ()
    files: Mapping[str, Checked] = field(default_factory=dict)
    """By path below the mold's folder."""


_TABLES = {
    Lock: record_keys.sealed("a lock", record_keys.LOCK_KEYS, Lock),
    Withdrawal: record_keys.sealed("a withdrawal", record_keys.WITHDRAWAL_KEYS, Withdrawal),
    Outside: record_keys.sealed("a list of files elsewhere", record_keys.OUTSIDE_KEYS, Outside),
}


def load(folder: Path) -> tuple[Version, ...]:
    """The released versions of the mold in `folder`, the newest first; Faults when anything has changed."""
    return read(folder).versions


def read(folder: Path, store: Store | None = None) -> Released:
    """The same with their files; Faults with everything that differs from what was frozen.

    The store has what a version's files tell, so that it is read once; that they are unchanged is looked at.
    """
    strays = tuple(_strays(folder))
    try:
        found = gather(partial(_read_one, folder, store, place) for place in places(folder))
    except Faults as faults:
        raise Faults((*strays, *faults.problems)) from None
    problems = (*strays, *_broken_order([lock for lock, _, _ in found]))
    if problems:
        raise Faults(problems)
    newest_first = sorted((version for _, version, _ in found), key=lambda one: one.order, reverse=True)
    files = {path: checked for _, _, checks in found for path, checked in checks.items()}
    return Released(versions=tuple(newest_first), files=files)


def places(folder: Path) -> tuple[Path, ...]:
    """The folders of a mold's versions, by name; what a killed run left is not among them."""
    if not contained.is_folder(folder / FOLDER):
        return ()
    found = (place for place in (folder / FOLDER).iterdir() if not place.name.startswith("."))
    return tuple(sorted(place for place in found if contained.is_folder(place)))


def names(folder: Path) -> tuple[str, ...]:
    """The name of a mold's folder, and those that its mold.yaml says it had before.

    A mold.yaml that cannot be read tells none; its faults are told where it is read for itself.
    """
    try:
        text = read_file(folder / "mold.yaml")
        if "renamed_from" not in text and "\\" not in text:  # no other spelling of the key has no backslash
            return (folder.resolve().name,)
        root = read_yaml(text, "mold.yaml")
    except (Faults, OSError):
        return (folder.resolve().name,)
    told = root.value.get("renamed_from") if isinstance(root.value, dict) else None
    listed = told.value if told and isinstance(told.value, tuple) else (told,)
    return (folder.resolve().name, *(node.text for node in listed if node and node.text))


def frozen_mold(place: Path) -> Path:
    """The folder of the mold's own files in a version's folder: it has the name that the mold had then."""
    return place / unseal(Lock, place / LOCK).slug


def verify(folder: Path) -> tuple[Problem, ...]:
    """Everything that differs from what was frozen: files, locks, and their order."""
    try:
        read(folder)
    except Faults as faults:
        return faults.problems
    return ()


def check_draft(mold: MoldSpec, digests: Sequence[str], versions: Sequence[Version]) -> bool:
    """True when the mold's files are those of its newest version; Faults when they claim to be and are not.

    `digests` are the SHA-256 of its parts' files. Prose, photos and shot logs may change after a release.
    """
    if not versions:
        return False
    newest = versions[0].version
    if _number(mold.version) < _number(newest):
        what = f"this is version {mold.version}, but {newest} is released already"
        where = Where(file=str(mold.folder / "mold.yaml"), line=mold.line_of.get("version"), key="version")
        expected = f"{newest}, or a version after it"
        raise Faults([Problem(where=where, what=what, expected=expected, remedy="write the new version")])
    if mold.version != newest:
        return False
    place = mold.folder / FOLDER / mold.version
    lock = unseal(Lock, place / LOCK)
    changed = [
        Problem(
            where=Where(file=str(part.path)),
            what=f"this file is not the one that was released as version {mold.version}",
            expected="the released file, or a new version",
            remedy=f"write another version in {mold.slug}/mold.yaml, or copy the file back from {place}",
        )
        for part, digest in zip(mold.parts, digests, strict=True)
        if lock.files.get(f"{lock.slug}/{part.file}") != digest
    ]
    if changed:
        raise Faults(changed)
    return True


def withdrawn_as(digests: Sequence[str], released: Released) -> Version | None:
    """The withdrawn version whose files these are; None when they are another version's too, or of none.

    A new number in mold.yaml does not make other files of them.
    """
    found = [
        version
        for version in released.versions
        if set(digests) == _meshes(released.files, f"{FOLDER}/{version.version}/")
    ]
    return found[0] if found and all(version.withdrawn for version in found) else None


def _meshes(files: Mapping[str, Checked], under: str) -> set[str]:
    """Digests of a version's parts: its STL files, and each 3MF that is not one of them once more."""
    names = {path for path in files if path.startswith(under) and path.lower().endswith((".stl", ".3mf"))}
    stl = {path[:-4].lower() for path in names if path.lower().endswith(".stl")}
    return {
        files[path].sha256 for path in names if path.lower().endswith(".stl") or path[:-4].lower() not in stl
    }


def freeze(folder: Path, version: Version, tools: Mapping[str, str], tables: Mapping[str, str]) -> None:
    """Write version.json and lock.json over everything in `folder`, which is about to become the version's.

    `version.assets` and the paths of its downloads are relative to the folder.
    """
    (folder / VERSION).write_bytes(_text(serialize.to_json(version)))
    lock = Lock(
        slug=version.slug,
        version=version.version,
        order=version.order,
        previous=_newest_lock(folder.parent),
        date=version.date,
        tools=tools,
        tables=tables,
        files={file: file_digest(folder / file) for file in contained.files(folder)},
    )
    (folder / LOCK).write_bytes(seal(lock))


def seal(record: Lock | Withdrawal | Outside) -> bytes:
    """The record as JSON text that holds its own digest; equal records give equal bytes."""
    told = serialize.to_json(record)
    return _text({"sealed": told, "sha256": sha256(_text(told))})


def unseal(kind: type[Sealed], file: Path) -> Sealed:
    """The record of a sealed file; Faults when a single bit of it differs."""
    if not contained.exists(file):
        raise _fault(file, "this file of a frozen version is missing")
    data = contained.read(file.parent, file.name, json_reader.MAX_BYTES)
    node = json_reader.read_json(data, contained.shown(file))
    record: Sealed = _TABLES[kind].read(node, Scope())["sealed"]
    if seal(record) != data:
        raise _fault(file, "this file of a frozen version has changed")
    return record


def outside(place: Path) -> Mapping[str, str]:
    """Address by name of the files that a version's folder need not hold."""
    return unseal(Outside, place / OUTSIDE).files if contained.exists(place / OUTSIDE) else {}


def _read_one(
    folder: Path, store: Store | None, place: Path
) -> tuple[tuple[Path, Lock], Version, Mapping[str, Checked]]:
    """A version's lock, what is told about it, and its files by path below the mold's folder."""
    lock = unseal(Lock, place / LOCK)
    checks = _checked(folder, place, lock)
    version = replace(_told(place, lock, checks, store), slug=folder.resolve().name)
    here = place.relative_to(folder).as_posix()
    under = {
        f"{here}/{name}": replace(one, folder=folder, file=f"{here}/{name}") for name, one in checks.items()
    }
    return (place, lock), version, under


def _checked(folder: Path, place: Path, lock: Lock) -> dict[str, Checked]:
    """The files of a version, each as its lock has it; Faults for what was changed, is missing, was added."""
    there, elsewhere = set(contained.files(place)), outside(place)
    checks: dict[str, Checked] = {}
    problems: list[Problem] = []
    for name, sum_then in lock.files.items():
        if name not in there and name in elsewhere:
            continue
        if name not in there:
            problems.append(
                problem(place / name, f"this file of the frozen version {lock.version} is missing")
            )
            continue
        checks[name] = contained.check(place, name, MOST_BYTES)
        if (sum_now := checks[name].sha256) != sum_then:
            told = f"SHA-256 {sum_now[:12]}… instead of {sum_then[:12]}…"
            what = f"this file of the frozen version {lock.version} has changed ({told})"
            problems.append(problem(place / name, what))
    problems += [
        problem(place / name, f"this file was not released with version {lock.version}")
        for name in sorted(there - {*lock.files, LOCK, WITHDRAWN, OUTSIDE})
    ]
    if lock.slug not in names(folder) or place.name != lock.version:
        problems.append(problem(place, f"this folder holds version {lock.version} of {lock.slug}"))
    if problems:
        raise Faults(problems)
    return checks


def _told(place: Path, lock: Lock, checks: Mapping[str, Checked], store: Store | None) -> Version:
    """The version with its files where they lie; without files if it was withdrawn."""
    if VERSION not in checks:
        raise _fault(place / VERSION, f"this file of the frozen version {lock.version} is missing")
    told = version_json.read(checks[VERSION], checks.get(RECORD), (lock.slug, lock.version), store)
    if problems := tuple(_unvouched(place, lock, checks, told)):
        raise Faults(problems)
    withdrawn = place / WITHDRAWN
    note = unseal(Withdrawal, withdrawn) if contained.exists(withdrawn) else None
    files, elsewhere = () if note else told.downloads, outside(place)
    return replace(
        told,
        assets=place / told.assets,
        downloads=tuple(
            replace(file, path=place / file.path, address=elsewhere.get(file.path.as_posix(), ""))
            for file in files
        ),
        withdrawn=note.reason if note else "",
        withdrawn_on=note.date if note else "",
        recalled=tuple(file.sha256 for file in told.downloads) if note else (),
        made_by=MadeBy(shotbook=lock.tools.get("shotbook", ""), tables=lock.tables.get("tables", "")),
    )


def _unvouched(place: Path, lock: Lock, checks: Mapping[str, Checked], told: Version) -> Iterator[Problem]:
    """A problem for everything that version.json says and its lock does not vouch for."""
    if (told.slug, told.version, told.order, told.date) != (lock.slug, lock.version, lock.order, lock.date):
        yield problem(place / VERSION, "its slug, version, order or date differs from its lock")
    names: set[str] = set()
    for file in told.downloads:
        name = file.path.as_posix()
        found, away = checks.get(name), lock.files.get(name) == file.sha256 and name in outside(place)
        if not away and (found is None or (found.sha256, found.size_bytes) != (file.sha256, file.size_bytes)):
            yield problem(place / VERSION, f"the file {file.path.as_posix()} is not listed in its lock")
        if file.name != file.path.name or file.name.lower() in names:
            yield problem(place / VERSION, f"the name {file.name} is not its file's, or is there twice")
        names.add(file.name.lower())
    for picture in told.pictures:
        for name in picture.files.values():
            if f"{record_keys.PICTURES}/{name}" not in checks:
                yield problem(place / VERSION, f"the picture {name} is not listed in its lock")


def _strays(folder: Path) -> Iterator[Problem]:
    """A problem for what stands in the place of a version, or of all, and is none."""
    place = folder / FOLDER
    if not contained.exists(place):
        return
    if not contained.is_folder(place):
        yield from _fault(place, "this is not a folder, or is a link").problems
        return
    for entry in sorted(place.iterdir()):
        if entry.name.startswith(".") or contained.is_litter(entry.name):
            continue
        if not contained.is_folder(entry):
            yield problem(entry, "this is not a version's folder, or is a link")
        elif not re.fullmatch(record_keys.VERSION_NUMBER, entry.name):
            yield problem(entry, "this folder's name is not a version")


def _newest_lock(versions: Path) -> str:
    """SHA-256 of the newest lock in a mold's folder of versions; empty when there is none."""
    locks = [place / LOCK for place in places(versions.parent)]
    newest = max(locks, key=lambda file: unseal(Lock, file).order, default=None)
    return file_digest(newest) if newest else ""


def _text(value: object) -> bytes:
    return (json.dumps(value, ensure_ascii=False, indent=1, sort_keys=True) + "\n").encode()


def _number(version: str) -> tuple[int, ...]:
    return tuple(int(part) for part in version.split("."))


def _fault(file: Path, what: str) -> Faults:
    return Faults([problem(file, what)])


def _broken_order(locks: Sequence[tuple[Path, Lock]]) -> Iterator[Problem]:
    """A problem where a lock does not follow the one before it."""
    before = ""
    for order, (place, lock) in enumerate(sorted(locks, key=lambda pair: pair[1].order), 1):
        if (lock.order, lock.previous) != (order, before):
            yield problem(place / LOCK, f"version {lock.version} does not follow the version before it")
        before = sha256(seal(lock))
