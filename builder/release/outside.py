"""Zips of released versions may lie elsewhere: the catalogue keeps their digests, and tells the address."""

from __future__ import annotations

import shutil
from pathlib import Path

from builder.base import contained, disk, links
from builder.base.problems import Faults, Problem, Where
from builder.base.store import file_digest
from builder.spec import versions


def move(folder: Path, to: Path, address: str) -> tuple[str, ...]:
    """Move the zips of a mold's versions into the folder `to`, which is served at `address`; their names.

    Each is copied and compared before the one here goes. Faults when a version has changed, when the address
    is none, or when another file of the name lies there.
    """
    released = versions.load(folder)
    root = address.rstrip("/")
    if not links.is_web(f"{root}/x.zip"):
        what = f"{address} is not an address"
        raise _fault(to, what, "an address such as https://files.example.org/molds")
    to.mkdir(parents=True, exist_ok=True)
    moved = []
    for version in released:
        place = folder / versions.FOLDER / version.version
        for name in sorted(versions.unseal(versions.Lock, place / versions.LOCK).files):
            if name.endswith(".zip") and contained.exists(place / name):
                _one(place, name, to, f"{root}/{name}")
                moved.append(name)
    return tuple(moved)


def _one(place: Path, name: str, to: Path, address: str) -> None:
    digest = file_digest(place / name)
    there = to / name
    if not there.exists():
        with disk.making_beside(there) as beside:
            shutil.copyfile(place / name, beside / name)
            (beside / name).replace(there)
    if file_digest(there) != digest:
        raise _fault(
            there, "another file of this name lies there", f"nothing, or the one with SHA-256 {digest}"
        )
    note = versions.Outside(files={name: address})
    disk.write_atomically(place / versions.OUTSIDE, versions.seal(note), beside=place)
    (place / name).unlink()


def _fault(file: Path, what: str, expected: str) -> Faults:
    return Faults([Problem(where=Where(file=str(file)), what=what, expected=expected)])
