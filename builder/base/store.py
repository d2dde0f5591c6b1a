"""Content-addressed store of stage results; safe to delete, safe under two builds at once.

An entry is a folder `STAGE/KEY` with the record as JSON, the files that the stage wrote,
SHA256SUMS over all of it, and a seal. The key is a digest of everything that the result depends on: there
is nothing to expire, and what no longer matches its sums is made again.

The seal says that this store made the entry. It is a keyed digest (HMAC, RFC 2104) of the entry's name and
sums. Its key is a file of random bytes in the store together with the moment at which the system made that
file here, which nobody can choose: a store that came with a stranger's files has another one, so none of
its entries is believed. A host that puts its store back from a cache gives the key itself, as a secret in
the environment variable `SHOTBOOK_STORE_KEY`.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import os
import re
import secrets
import shutil
from collections import Counter
from collections.abc import Callable, Mapping
from functools import cache, cached_property, partial
from importlib import metadata
from pathlib import Path
from typing import TypeVar

import builder
from builder.base import contained, disk, serialize
from builder.base.problems import Faults, Problem, Where

T = TypeVar("T")

RECORD = "record.json"
SUMS = disk.SUMS
SEAL = "SEAL"
SECRET = ".secret/key"
NOTES = ".notes"
KEY_VARIABLE = "SHOTBOOK_STORE_KEY"
_MOST_SUMS_BYTES = 1_000_000
_MOST_NOTED_BYTES = 1_000_000_000
_IMPORT = re.compile(r"^[ \t]*from (builder[\w.]*) import (?:\(([^)]*)\)|(.*))", re.M)
_OUTSIDE = re.compile(r"^[ \t]*(?:from ([\w.]+) import|import ([^#\n]+))", re.M)
_REMARK = re.compile(r"#.*")
LIBRARIES = ("numpy", "scipy", "trimesh", "manifold3d", "shapely", "embreex", "pillow")
"""Libraries whose version may change a result's bytes."""
_MODULES = {"PIL": "pillow"}
"""Names that a library is imported by, where they differ from its own."""


class Store:
    """A folder of results. `hits` and `misses` count lookups by stage."""

    def __init__(self, folder: Path) -> None:
        """Keep results under `folder`, which is made when the first result is.

        Faults when it is a link, which may have come with a stranger's files, to anything but a store.
        """
        what = remedy = ""
        if folder.is_symlink() and not contained.is_file(folder, SECRET):
            what, remedy = "this is a link to a folder that is not a store", "name the folder itself"
        elif folder.exists() and not folder.is_dir():
            what, remedy = "this is not a folder", "remove it, or name another folder for the store"
        if what:
            raise Faults([Problem(where=Where(file=contained.shown(folder)), what=what, remedy=remedy)])
        self.folder = folder
        self.hits: Counter[str] = Counter()
        self.misses: Counter[str] = Counter()
        self.known: dict[str, str] = {}
        """Test vectors that this store was asked for, by key."""

    def keep(self, stage: str, key: str, kind: type[T], make: Callable[[Path], T]) -> tuple[T, Path]:
        """The record under this key and the folder of its files; `make(folder)` runs when it is not there.

        `make` writes its files, if any, into the folder it is given and returns the record. What it
        raises passes through, and nothing is kept.
        """
        place = self.place(stage, key)
        if self.has(stage, key):
            self.hits[stage] += 1
        else:
            self.misses[stage] += 1
            self._put(place, lambda folder: seal(folder, make(folder)))
        return serialize.from_json(kind, json.loads((place / RECORD).read_bytes())), place

    def has(self, stage: str, key: str) -> bool:
        """True when there is a sound result under this key, and this store has made it."""
        place = self.place(stage, key)
        try:
            told = contained.read(place, SUMS, _MOST_SUMS_BYTES)
            sealed = contained.read(place, SEAL, _MOST_SUMS_BYTES)
        except Faults:
            return False
        return hmac.compare_digest(sealed, self._seal_of(place, told)) and is_intact(place)

    @cached_property
    def secret(self) -> bytes:
        """What this store seals with: the environment's key, else its own, made when first asked for."""
        if given := os.environ.get(KEY_VARIABLE):
            return given.encode()
        try:
            return _secret(self.folder)
        except Faults:
            return _new_secret(self.folder)

    def _seal_of(self, place: Path, told: bytes) -> bytes:
        """The seal of an entry with these sums."""
        name = f"{place.parent.name}/{place.name}\n".encode()
        return hmac.new(self.secret, name + told, "sha256").hexdigest().encode()

    def place(self, stage: str, key: str) -> Path:
        """The folder of the result under this key, which may not exist yet."""
        return self.folder / stage / key

    def sizes(self) -> dict[str, tuple[int, int]]:
        """Number of entries and bytes of each stage, by name."""
        return {stage.name: _size(stage) for stage in sorted(self.folder.glob("[!.]*/"))}

    def trim(self, most_bytes: int) -> int:
        """Delete entries, those first that were made longest ago, until the rest fits; the bytes deleted.

        What is deleted is only made anew when it is wanted, so that the order matters for time alone.
        """
        entries = list(self.folder.glob("[!.]*/[!.]*"))
        entries.sort(key=lambda entry: entry.stat().st_mtime_ns)
        sizes = [_size(entry)[1] for entry in entries]
        left, gone = sum(sizes), 0
        for entry, size in zip(entries, sizes, strict=True):
            if left - gone <= most_bytes:
                break
            shutil.rmtree(entry) if entry.is_dir() else entry.unlink()
            gone += size
        return gone

    def files(self) -> dict[str, bytes]:
        """Every file of every entry by its name in the store, without the seals, which hold here alone."""
        return self._files("[!.]*/[!.]*/**/*")

    def files_of(self, stage: str, key: str) -> dict[str, bytes]:
        """Every file of one entry, as `files` gives those of all."""
        return self._files(f"{stage}/{key}/**/*")

    def _files(self, pattern: str) -> dict[str, bytes]:
        found = (path for path in sorted(self.folder.glob(pattern)) if path.is_file() and path.name != SEAL)
        return {path.relative_to(self.folder).as_posix(): path.read_bytes() for path in found}

    def keys(self, stage: str, start: str) -> list[str]:
        """Keys of a stage's entries that begin so, sound or not."""
        return sorted(entry.name for entry in self.folder.glob(f"{stage}/{start}*"))

    def take(self, files: Mapping[str, bytes]) -> None:
        """Import the `files` of another store; entries that exist here stay."""
        entries: dict[tuple[str, str], dict[str, bytes]] = {}
        for name, data in files.items():
            stage, key, rest = name.split("/", 2)
            entries.setdefault((stage, key), {})[rest] = data
        for (stage, key), found in entries.items():
            if not self.has(stage, key):
                self.misses[stage] += 1
                self._put(self.place(stage, key), partial(_write_all, found))

    def put_note(self, name: str, data: bytes) -> None:
        """Keep what a build wants to tell the next one, under a name; what was there before goes."""
        place = disk.own_folder(self.folder / NOTES) / name
        with disk.making_beside(place) as folder:
            (folder / name).write_bytes(self._seal_of(place, data) + b"\n" + data)
            (folder / name).replace(place)

    def note(self, name: str) -> bytes:
        """What an earlier build has told under this name; nothing when another store than this one has it."""
        try:
            told = contained.read(self.folder, f"{NOTES}/{name}", _MOST_NOTED_BYTES)
        except Faults:
            return b""
        sealed, _, data = told.partition(b"\n")
        return data if hmac.compare_digest(sealed, self._seal_of(self.folder / NOTES / name, data)) else b""

    def _put(self, place: Path, write: Callable[[Path], None]) -> None:
        disk.own_folder(place.parent)
        with disk.making_beside(place.with_name("entry")) as folder:
            write(folder)
            (folder / SEAL).write_bytes(self._seal_of(place, (folder / SUMS).read_bytes()))
            if not disk.put_new(folder, place, lasting=False) and not self.has(place.parent.name, place.name):
                disk.swap_in(folder, place)


def _size(place: Path) -> tuple[int, int]:
    """Entries right below a folder, and the bytes of all files below it; of a file, its own."""
    if place.is_file():
        return 1, place.stat().st_size
    files = (file for file in place.rglob("*") if file.is_file())
    return sum(1 for _ in place.iterdir()), sum(file.stat().st_size for file in files)


def _write_all(files: Mapping[str, bytes], folder: Path) -> None:
    for name, data in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(data)


def seal(folder: Path, record: object) -> None:
    """Write the record and the sums over everything in the folder."""
    (folder / RECORD).write_bytes(canonical(record))
    (folder / SUMS).write_text(sums(folder), encoding="utf-8", newline="\n")


def is_intact(folder: Path) -> bool:
    """True when the checksums of the folder match its files, and no file is missing or extra."""
    try:
        return contained.read(folder, SUMS, _MOST_SUMS_BYTES) == sums(folder).encode()
    except (Faults, OSError):
        return False


def _new_secret(folder: Path) -> bytes:
    """A new secret, or the one that another build has put there meanwhile."""
    place = (folder / SECRET).parent
    with disk.making_beside(place) as beside:
        made = beside / "made"
        made.mkdir()
        (made / Path(SECRET).name).write_bytes(secrets.token_bytes(32))
        if not disk.put_new(made, place):
            try:
                return _secret(folder)
            except Faults:  # what is there is none
                disk.own_folder(place)
                shutil.rmtree(place)
                disk.put_new(made, place)
    return _secret(folder)


def _secret(folder: Path) -> bytes:
    """The random bytes with the moment, in ns, at which the system put them here."""
    with contained.opened(folder, SECRET, 64) as handle:
        found = handle.read(64)
        return found + os.fstat(handle.fileno()).st_ctime_ns.to_bytes(16, "big")


def sums(folder: Path) -> str:
    """A line `digest  name` for each file in the folder but the sums, by name (`sha256sum -c` reads it)."""
    files = sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())
    return "".join(f"{file_digest(folder / name)}  {name}\n" for name in files if name not in (SUMS, SEAL))


def file_digest(path: Path) -> str:
    """SHA-256 of a file, in hex."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def sha256(data: bytes) -> str:
    """SHA-256 of bytes, in hex."""
    return hashlib.sha256(data).hexdigest()


def digest_of(*parts: str) -> str:
    """SHA-256 of the parts, in hex; each part is preceded by its length.

    >>> digest_of("ab", "c") == digest_of("a", "bc")
    False
    """
    whole_of_it = hashlib.sha256()
    for part in parts:
        data = part.encode()
        whole_of_it.update(len(data).to_bytes(8, "big") + data)
    return whole_of_it.hexdigest()


def canonical(record: object) -> bytes:
    """A record as JSON bytes: equal records give equal bytes."""
    text = json.dumps(serialize.to_json(record), ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return text.encode()


@cache
def stage_version(stage: str, *folders: str) -> str:
    """Digest of a stage's sources, of all modules of this package that they import, and of their libraries.

    `stage` is a folder of the package; `folders` are those whose files the stage reads beside its sources.
    A library that none of these sources imports may change as it likes.
    """
    versions = [f"{name} {library_version(name)}" for name in libraries_of(stage)]
    return digest_of(sources_version(stage, *folders), *versions)


@cache
def sources_version(stage: str, *folders: str) -> str:
    """Digest of a stage's sources alone, as `stage_version` has them."""
    root = Path(builder.__file__).parent
    read = [file for name in folders for file in sorted((root / name).iterdir())]
    return digest_of(*(file_digest(file) for file in [*_reached(stage), *read]))


@cache
def libraries_of(stage: str) -> tuple[str, ...]:
    """Those of LIBRARIES that a stage's sources, and the modules of this package they import, import."""
    names = {_MODULES.get(name, name) for file in _reached(stage) for name in _outside(file)}
    return tuple(name for name in LIBRARIES if name in names)


@cache
def _reached(stage: str) -> tuple[Path, ...]:
    """The sources of a stage, and of all modules of this package that they import, by path."""
    root = Path(builder.__file__).parent
    files: set[Path] = set()
    fresh = set((root / stage).rglob("*.py"))
    while fresh:
        files |= fresh
        fresh = {
            source for file in fresh for name in _imports(file) for source in _sources(root, name)
        } - files
    return tuple(sorted(files))


@cache
def _sources(root: Path, name: str) -> tuple[Path, ...]:
    """The files that importing the dotted `name` runs: the module, and each package round it."""
    parts = name.split(".")[1:]
    places = [root.joinpath(*parts[:depth]) for depth in range(1, len(parts) + 1)]
    found = (file for place in places for file in (place / "__init__.py", place.with_suffix(".py")))
    return tuple(file for file in found if file.is_file())


@cache
def _imports(file: Path) -> frozenset[str]:
    """Dotted names that a source file imports from this package: modules, or names in a module.

    Found by their text: to parse each file of the package takes a third of a second at every start.
    """
    found = _IMPORT.findall(file.read_text(encoding="utf-8"))
    listed = ((module, _REMARK.sub("", inside or line)) for module, inside, line in found)
    return frozenset(
        f"{module}.{name.split()[0]}" for module, names in listed for name in names.split(",") if name.strip()
    )


@cache
def _outside(file: Path) -> frozenset[str]:
    """First names of the modules that a source file imports from elsewhere."""
    found = _OUTSIDE.findall(file.read_text(encoding="utf-8"))
    named = (name for of, listed in found for name in (of, *listed.split(",")))
    return frozenset(name.split()[0].split(".")[0] for name in named if name.strip())


@cache
def library_version(library: str) -> str:
    """The installed version of a library, or `absent`."""
    try:
        return metadata.version(library)
    except metadata.PackageNotFoundError:
        return "absent"
