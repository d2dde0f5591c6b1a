"""The record of all releases and withdrawals, at the top of the catalogue: `molds/releases.json`.

Each entry holds the digest of the entry before it, so that none can be taken out of the middle. It names
the lock of a version and, once it is withdrawn, its withdrawal: what is no longer in its folder is found.
What was cut off at the end is found by the last digest, which `shotbook verify` tells.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from builder.base import contained, disk, serialize
from builder.base.problems import Faults, Problem, Where
from builder.base.store import sha256
from builder.spec import json_reader, record_keys, versions
from builder.spec.schema import Key, ListOf, Table
from builder.spec.types import Scope

FILE = "releases.json"


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A release, or the withdrawal of one: the digests of its files then."""

    slug: str
    version: str
    lock: str
    withdrawn: str = ""
    """SHA-256 of withdrawn.json; empty while it is offered."""
    previous: str = ""
    """SHA-256 of the entry before; empty for the first."""


ENTRY = Table("an entry", record_keys.KEPT_KEYS, Kept)
_ENTRIES = ListOf(ENTRY, most=15_000)
_RECORD = Table(FILE, (Key("releases", _ENTRIES, "", "", required=True),), dict)


def load(molds: Path) -> tuple[Kept, ...]:
    """The entries, oldest first, none without the file; Faults when one does not follow the one before it."""
    file = molds / FILE
    if not contained.exists(file):
        return ()
    data = contained.read(molds, FILE, json_reader.MAX_BYTES)
    entries: tuple[Kept, ...] = _RECORD.read(json_reader.read_json(data, contained.shown(file)), Scope())[
        "releases"
    ]
    before = ""
    for number, entry in enumerate(entries):
        if entry.previous != before:
            what = f"entry {number} does not follow the entry before it: one was changed or taken out"
            where = Where(file=contained.shown(file), key=f"releases[{number}]")
            raise Faults([Problem(where=where, what=what, remedy="fetch the file from where it is kept")])
        before = digest(entry)
    return entries


def digest(entry: Kept) -> str:
    """SHA-256 of an entry, which the next one holds."""
    return sha256(json.dumps(serialize.to_json(entry), sort_keys=True).encode())


def newest(entries: Sequence[Kept]) -> dict[tuple[str, str], Kept]:
    """What is told last of each version, by slug and version."""
    return {(entry.slug, entry.version): entry for entry in entries}


def removed(molds: Path, entries: Sequence[Kept]) -> Iterator[tuple[str, Problem]]:
    """A slug and a problem for each version or withdrawal on record that is no longer there."""
    moved = renamed(molds)
    for entry in newest(entries).values():
        slug = entry.slug if (molds / entry.slug).exists() else moved.get(entry.slug, entry.slug)
        place = molds / slug / versions.FOLDER / entry.version
        now = _now(place, entry)
        if not now.lock:
            yield (
                entry.slug,
                _problem(place, f"version {entry.version} of {entry.slug} was released and is gone"),
            )
        elif now.lock != entry.lock:
            yield (
                entry.slug,
                _problem(place / versions.LOCK, "this is not the lock of the version that was released"),
            )
        if entry.withdrawn and now.lock and now.withdrawn != entry.withdrawn:
            what = f"version {entry.version} of {entry.slug} was withdrawn, and this file is gone or changed"
            yield entry.slug, _problem(place / versions.WITHDRAWN, what)


def renamed(molds: Path) -> dict[str, str]:
    """The folder that each mold is in now, by the names that it had before."""
    folders = (file.parent for file in sorted(molds.glob("*/mold.yaml")))
    return {old: folder.name for folder in folders for old in versions.names(folder)[1:]}


def unrecorded(molds: Path, folder: Path, entries: Sequence[Kept]) -> tuple[Kept, ...]:
    """Versions and withdrawals in a mold's folder that are not on record, to be put there."""
    known = newest(entries)
    found = []
    for place in versions.places(folder):
        told = (known.get((name, place.name)) for name in versions.names(folder))
        entry = next(filter(None, told), None)
        now = _now(molds / folder.name / versions.FOLDER / place.name, entry or _none(folder, place))
        if now.lock and (entry is None or (entry.withdrawn == "" and now.withdrawn)):
            found.append(now)
    return tuple(found)


def record(molds: Path, folder: Path) -> int:
    """Put on record what is released or withdrawn in a mold's folder; how many entries are new."""
    with disk.locked(molds):
        entries = list(load(molds))
        fresh = unrecorded(molds, folder, entries)
        for entry in fresh:
            before = digest(entries[-1]) if entries else ""
            entries.append(replace(entry, previous=before))
        if fresh:
            told = {"releases": [serialize.to_json(entry) for entry in entries]}
            disk.write_atomically(molds / FILE, (json.dumps(told, indent=1, sort_keys=True) + "\n").encode())
    return len(fresh)


def _none(folder: Path, place: Path) -> Kept:
    return Kept(slug=folder.name, version=place.name, lock="")


def _now(place: Path, entry: Kept) -> Kept:
    """The entry as the version's folder has it now; no lock where there is no version."""
    sums = {}
    for name in (versions.LOCK, versions.WITHDRAWN):
        inside = all(contained.is_folder(one) for one in (place.parent.parent, place.parent, place))
        there = inside and contained.exists(place / name)
        sums[name] = contained.check(place, name, json_reader.MAX_BYTES).sha256 if there else ""
    return replace(entry, lock=sums[versions.LOCK], withdrawn=sums[versions.WITHDRAWN])


def _problem(place: Path, what: str) -> Problem:
    remedy = "fetch it from where the catalogue is kept"
    return Problem(
        where=Where(file=contained.shown(place)), what=what, expected="what was released", remedy=remedy
    )
