"""Released versions as they lie in a mold's folder: frozen files, their lock, what is told about them.

`molds/SLUG/versions/VERSION/` holds the mold's own files in a folder SLUG, what was made from them,
`version.json` (a Version) and `lock.json` (a Lock) with the digest of every other file. Each lock also
holds the digest of the lock before it, so that the newest vouches for all. Withdrawing adds
`withdrawn.json` and changes nothing else.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypeVar

from builder.base import serialize
from builder.base.problems import Faults, Problem, Where
from builder.base.store import file_digest, sha256
from builder.model import MadeBy, MoldSpec, Version
from builder.spec import earlier

Sealed = TypeVar("Sealed", "Lock", "Withdrawal")

FOLDER = "versions"
LOCK = "lock.json"
VERSION = "version.json"
WITHDRAWN = "withdrawn.json"


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


def load(folder: Path) -> tuple[Version, ...]:
    """The released versions of the mold in `folder`, the newest first; Faults when anything has changed."""
    problems = verify(folder)
    if problems:
        raise Faults(problems)
    versions = [_offered(place) for place in places(folder)]
    return tuple(sorted(versions, key=lambda version: version.order, reverse=True))


def places(folder: Path) -> tuple[Path, ...]:
    """The folders of a mold's versions, by name; what a killed run left is not among them."""
    found = (folder / FOLDER).glob("[!.]*")
    return tuple(sorted(place for place in found if place.is_dir()))


def verify(folder: Path) -> tuple[Problem, ...]:
    """Everything that differs from what was frozen: files, locks, and their order."""
    problems: list[Problem] = []
    locks: list[tuple[Path, Lock]] = []
    for place in places(folder):
        try:
            lock = unseal(Lock, place / LOCK)
            locks.append((place, lock))
            problems.extend(_differences(place, lock))
        except Faults as faults:
            problems.extend(faults.problems)
    return (*problems, *(() if problems else _broken_order(locks)))


def check_draft(mold: MoldSpec, digests: Sequence[str], versions: Sequence[Version]) -> bool:
    """True when the mold's files are those of its newest version; Faults when they claim to be and are not.

    `digests` are the SHA-256 of its parts' files. Prose, photos and shot logs may change after a release.
    """
    frozen = [version for version in versions if version.version == mold.version]
    if not frozen:
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
        if lock.files.get(f"{mold.slug}/{part.file}") != digest
    ]
    if changed:
        raise Faults(changed)
    return frozen[0] == versions[0]


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
        files={file.relative_to(folder).as_posix(): file_digest(file) for file in _files(folder)},
    )
    (folder / LOCK).write_bytes(seal(lock))


def seal(record: Lock | Withdrawal) -> bytes:
    """The record as JSON text that holds its own digest; equal records give equal bytes."""
    told = serialize.to_json(record)
    return _text({"sealed": told, "sha256": sha256(_text(told))})


def unseal(kind: type[Sealed], file: Path) -> Sealed:
    """The record of a sealed file; Faults when a single bit of it differs."""
    try:
        data = file.read_bytes()
        record = serialize.from_json(kind, json.loads(data)["sealed"])
        if seal(record) == data:
            return record
    except FileNotFoundError:
        raise _fault(file, "this file of a frozen version is missing") from None
    except (ValueError, KeyError, TypeError):
        pass
    raise _fault(file, "this file of a frozen version has changed")


def _files(folder: Path) -> list[Path]:
    return sorted(file for file in folder.rglob("*") if file.is_file())


def _newest_lock(versions: Path) -> str:
    """SHA-256 of the newest lock in a mold's folder of versions; empty when there is none."""
    locks = [place / LOCK for place in places(versions.parent)]
    newest = max(locks, key=lambda file: unseal(Lock, file).order, default=None)
    return file_digest(newest) if newest else ""


def _text(value: object) -> bytes:
    return (json.dumps(value, ensure_ascii=False, indent=1, sort_keys=True) + "\n").encode()


def _fault(file: Path, what: str) -> Faults:
    return Faults([_problem(file, what)])


def _problem(file: Path, what: str) -> Problem:
    return Problem(
        where=Where(file=str(file)),
        what=what,
        expected="the file as it was released",
        remedy="fetch it from where the catalogue is kept, or release a new version",
    )


def _differences(place: Path, lock: Lock) -> Iterator[Problem]:
    """A problem for each file that was changed, is missing, or was added."""
    there = {file.relative_to(place).as_posix() for file in _files(place)}
    for name, sum_then in lock.files.items():
        if name not in there:
            yield _problem(place / name, f"this file of the frozen version {lock.version} is missing")
        elif (sum_now := file_digest(place / name)) != sum_then:
            told = f"SHA-256 {sum_now[:12]}… instead of {sum_then[:12]}…"
            yield _problem(
                place / name, f"this file of the frozen version {lock.version} has changed ({told})"
            )
    for name in sorted(there - {*lock.files, LOCK, WITHDRAWN}):
        yield _problem(place / name, f"this file was not released with version {lock.version}")
    if (place.parent.parent.name, place.name) != (lock.slug, lock.version):
        yield _problem(place, f"this folder holds version {lock.version} of {lock.slug}")


def _broken_order(locks: Sequence[tuple[Path, Lock]]) -> Iterator[Problem]:
    """A problem where a lock does not follow the one before it."""
    before = ""
    for order, (place, lock) in enumerate(sorted(locks, key=lambda pair: pair[1].order), 1):
        if (lock.order, lock.previous) != (order, before):
            yield _problem(place / LOCK, f"version {lock.version} does not follow the version before it")
        before = file_digest(place / LOCK)


def _offered(place: Path) -> Version:
    """The version with its files where they lie; without files if it was withdrawn."""
    data = json.loads((place / VERSION).read_bytes())
    told = serialize.from_json(Version, earlier.completed(data, place))
    lock = unseal(Lock, place / LOCK)
    withdrawn = place / WITHDRAWN
    note = unseal(Withdrawal, withdrawn) if withdrawn.exists() else None
    files = () if note else told.downloads
    return replace(
        told,
        assets=place / told.assets,
        downloads=tuple(replace(file, path=place / file.path) for file in files),
        withdrawn=note.reason if note else "",
        withdrawn_on=note.date if note else "",
        recalled=tuple(file.sha256 for file in told.downloads) if note else (),
        made_by=MadeBy(shotbook=lock.tools.get("shotbook", ""), tables=lock.tables.get("tables", "")),
    )
