"""Whether a released version still reads as it did: its files are read again when their readers changed."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from functools import cache
from pathlib import Path

from builder import build, stages
from builder.base.problems import Faults
from builder.base.store import Store, canonical, digest_of, file_digest, sha256, stage_version
from builder.history import compare
from builder.model import Change, Drift, Figure, MoldSpec, Tables, Version
from builder.spec import mold_file, versions

NOISE = 1e-6
"""Relative: so much a number may move with the machine, and with it the last digit that is shown."""
_DRAWN = frozenset({"shotbook", "stage pictures", "pillow", "embreex"})
"""Tools of the lock that change pictures or nothing, never a number."""


def of(folder: Path, version: Version, tables: Tables, store: Store) -> Drift:
    """What reads differently today in a released version of the mold in `folder`, kept in the store.

    Nothing is read when it was released by these tools and tables.
    """
    place = folder / versions.FOLDER / version.version
    lock = versions.unseal(versions.Lock, place / versions.LOCK)
    now = build.tables_digests(tables)
    if lock.tables.get("tables") == now["tables"] and not _changed(lock.tools, build.tools()):
        return Drift()
    tools = canonical(build.tools()).decode()
    key = digest_of(stage_version("history"), tools, file_digest(place / versions.LOCK), now["tables"])
    return store.keep("drift", key, Drift, lambda _: _drift(place, lock, version, tables, store))[0]


def _drift(place: Path, lock: versions.Lock, version: Version, tables: Tables, store: Store) -> Drift:
    now = build.tables_digests(tables)
    today = build.made_by(now["tables"])
    try:
        mold = mold_file.load(place / lock.slug, tables)
        contents = build.part_contents(mold)
        keys = stages.keys_of(mold, [sha256(content) for content in contents], now["tables"], store)
        reading = cache(lambda: build.read(mold, contents))
        measured, advice = build.judge(mold, reading, keys, tables, store)
    except Faults as faults:
        causes = _causes(lock, now, None)
        return Drift(unread=faults.problems[0].what, causes=causes, today=today)
    figures = compare.numbers(measured, advice)
    then = compare.without_hold(version, measured.kind)
    changes = tuple(drifted(then.figures, figures))
    if not changes:
        return Drift()
    return Drift(changes=changes, stop=advice.windows[0].stop, causes=_causes(lock, now, mold), today=today)


def drifted(then: Mapping[str, Figure], now: Mapping[str, Figure]) -> Iterable[Change]:
    """The numbers that a person reads differently now; one that nobody had then is no drift.

    The temperature to shoot at is told even if there was none: what must not be shot then may be now.
    """
    for change in compare.changes(then, now):
        known = change.name in then or change.name == "shoot"
        if known and not _same(change.before, change.after):
            yield change


def _same(before: Figure | None, after: Figure | None) -> bool:
    """Whether two figures differ by no more than the machine may move them."""
    if before is None or after is None:
        return before is after
    pairs = ((before.value, after.value), (before.low, after.low), (before.high, after.high))
    return before.unit == after.unit and all(math.isclose(a, b, rel_tol=NOISE) for a, b in pairs)


def _causes(lock: versions.Lock, now: Mapping[str, str], mold: MoldSpec | None) -> tuple[str, ...]:
    """What is another one now: stages and libraries, and of the tables those that this mold follows.

    A lock that knows the tables only as a whole can only say that they are others.
    """
    followed = {"practice", "eyes"}
    if mold is not None:
        followed |= {f"plastisol {mold.plastisol}", f"material {mold.mold_material}"}
    single = [n for n in lock.tables if n in followed and lock.tables[n] != now.get(n)]
    if not single and not followed & set(lock.tables) and lock.tables.get("tables") != now["tables"]:
        single = ["tables"]
    tools = _changed(lock.tools, build.tools())
    libraries = ["libraries"] if any(not name.startswith("stage ") for name in tools) else []
    stages = [name.removeprefix("stage ") for name in tools if name.startswith("stage ")]
    return (*single, *stages, *libraries)


def _changed(then: Mapping[str, str], now: Mapping[str, str]) -> list[str]:
    """Names of the tools that are others now, of those that a number can follow."""
    return [name for name in now if name not in _DRAWN and then.get(name) != now[name]]
