"""What decides whether another version of a library makes kept results void: what it makes of a fixed mold.

The key of a result covers the stage's own sources. Of the libraries it covers the stage's test vector: the
digest of what the stage makes of a small mold (vector_mold). It is worked out once for each set of versions,
and kept in the store by those. A library that leaves every byte of it as it was leaves the store as it is.

A vector shows the ways that it takes. Where results go ways of their own, versions stay in the key:

- The geometry kernels (GEOMETRY). What they make of faces that all but touch follows from the input more than
  one mold can show, so that another series of one of them, the first two numbers of its version, counts.
- A library that is not there, such as embreex: without it pictures have fewer pixels.
- Photos: each is decoded as its camera wrote it. Pages: all kinds of libraries have a hand in them. Both are
  made anew quickly, and their keys cover every version (store.stage_version).
"""

from __future__ import annotations

import platform
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

from builder.base import disk
from builder.base.store import (
    Store,
    canonical,
    digest_of,
    libraries_of,
    library_version,
    sha256,
    sources_version,
    stage_version,
    sums,
)
from builder.model import Advice, Deciding, MoldSpec, Reading, Tables
from builder.stages import given, vector_mold

GEOMETRY = ("manifold3d", "shapely")
"""Libraries that cut and join solids and outlines."""
COARSE = 4
"""The vector's pictures have so many times fewer pixels each way."""
STAGE = "vectors"
"""Stage of the store that the vectors are kept under."""


def version(stage: str, store: Store | None = None) -> str:
    """Digest of a stage's sources, and of its libraries as far as they change what it makes.

    Without a store the vector is worked out once in the process.
    """
    counted = (_counted(name, library_version(name)) for name in libraries_of(stage))
    return digest_of(sources_version(stage), vector(stage, store), *counted)


def _counted(library: str, version: str) -> str:
    """What counts of a library beside the vector: whether it is there, of a geometry kernel its series.

    >>> _counted("numpy", "2.1.3"), _counted("shapely", "2.1.2"), _counted("embreex", "absent")
    ('numpy', 'shapely 2.1', 'embreex absent')
    """
    if version == "absent":
        return f"{library} absent"
    return f"{library} {'.'.join(version.split('.')[:2])}" if library in GEOMETRY else library


def vector(stage: str, store: Store | None = None) -> str:
    """The stage's test vector, in hex; the store has it by the versions of all its libraries."""
    key = key_of(stage)
    if store is None:
        return _made(stage, key)
    if key not in store.known:
        store.known[key] = store.keep(STAGE, key, str, lambda _: _made(stage, key))[0]
    return store.known[key]


def key_of(stage: str) -> str:
    """Under which the store has a vector: what it was worked out by, and on what kind of machine."""
    return digest_of(stage, stage_version(stage), platform.python_version(), platform.machine())


def files(store: Store) -> dict[str, bytes]:
    """The store files of the vectors, for a worker: with the same libraries it need not work them out."""
    kept = [(STAGE, key_of(stage)) for stage in _MAKERS]
    found = [store.files_of(*entry) for entry in kept if store.has(*entry)]
    return {name: data for one in found for name, data in one.items()}


@cache
def _made(stage: str, _: str) -> str:
    """The vector, worked out once in a process for each key."""
    return _MAKERS[stage]()


@cache
def _read() -> tuple[MoldSpec, Tables, Reading]:
    """The vector's spec, the builder's own tables, and its reading."""
    from builder import measure, mesh
    from builder.spec import material_tables, mold_file

    with disk.scratch() as scratch:
        folder = scratch / "vector"
        folder.mkdir()
        vector_mold.write(folder)
        tables = material_tables.load()
        mold = replace(mold_file.load(folder, tables), folder=Path("vector"))
        contents = [(folder / part.file).read_bytes() for part in mold.parts]
    solids = [
        mesh.read(content, part.file, part.units or mold.units)
        for part, content in zip(mold.parts, contents, strict=True)
    ]
    return mold, tables, measure.measure(given.for_reading(mold), solids)


@cache
def _advice() -> Advice:
    from builder.advice.advise import advise

    mold, tables, reading = _read()
    return advise(given.for_advice(mold), reading.measurement, tables)


def _measured() -> str:
    return sha256(canonical(_read()[2].measurement))


def _advised() -> str:
    return sha256(canonical(_advice()))


def _drawn() -> str:
    """Of the pictures' records and files, and of the picture for links."""
    from builder import pictures

    mold, _, reading = _read()
    told: Deciding | None = given.deciding(given.verdict_of(_advice()))
    with disk.scratch() as folder:
        made = pictures.draw(mold.slug, reading, told, folder, coarse=COARSE)
        pictures.write_card(made[-1], folder, mold.title, folder)
        return digest_of(canonical(made).decode(), sums(folder))


_MAKERS: dict[str, Callable[[], str]] = {"measure": _measured, "advice": _advised, "pictures": _drawn}
