"""Readings and advice that tests share: made once for the same input, however many tests ask for them.

They are kept by content in the store that `shotbook build` uses, under keys that cover the sources of the
stage: a changed line of it makes everything anew. Of two processes that want the same, one waits.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TypeVar

from builder import build, stages
from builder.advice import advise
from builder.base import disk
from builder.base.store import Store, canonical, digest_of, sha256, stage_version
from builder.model import Advice, Measurement, MoldSpec, Tables

Made = TypeVar("Made")

STORE = Store(Path(__file__).parent.parent / ".shotbook")
STAGE = "tests"


def measured(spec: MoldSpec, contents: Sequence[bytes]) -> Measurement:
    """The measurement of these STL files, in the order of the spec's parts; Faults pass through."""
    key = digest_of(stage_version("measure"), stages.spec_digest(spec), *map(sha256, contents))
    return _shared(key, Measurement, lambda: build.read(spec, contents).measurement)


def advised(spec: MoldSpec, measurement: Measurement, tables: Tables) -> Advice:
    """The advice for this measurement; Faults pass through."""
    given = (stages.spec_digest(spec), sha256(canonical(measurement)), build.tables_digest(tables))
    key = digest_of(stage_version("advice"), *given)
    return _shared(key, Advice, lambda: advise.advise(spec, measurement, tables))


def _shared(key: str, kind: type[Made], make: Callable[[], Made]) -> Made:
    lock = STORE.place(STAGE, f".{key}.lock")
    lock.mkdir(parents=True, exist_ok=True)
    with disk.locked(lock):
        return STORE.keep(STAGE, key, kind, lambda _: make())[0]
