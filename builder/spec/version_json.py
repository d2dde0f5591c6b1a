"""What the files of a frozen version tell of it: its version.json, beside the numbers of its record.json."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from builder.base import contained
from builder.base.contained import Checked
from builder.base.problems import Faults, Problem, Where
from builder.base.store import Store, digest_of, stage_version
from builder.model import Version
from builder.spec import earlier, json_reader, record_keys
from builder.spec.types import Scope


def read(version: Checked, record: Checked | None, named: tuple[str, str], store: Store | None) -> Version:
    """The version as its files tell it; Faults unless both are sound and the record is about it.

    `named` is its slug and number. With a store the files are read once, and again when they have changed.
    """
    if store is None:
        return _read(version, record, named)
    key = digest_of(stage_version("spec"), *named, version.sha256, record.sha256 if record else "")
    return store.keep("versions", key, Version, lambda _: _read(version, record, named))[0]


def _read(version: Checked, record: Checked | None, named: tuple[str, str]) -> Version:
    node = json_reader.read_json(version.read(), contained.shown(_path(version)))
    told: Version = record_keys.VERSION.read(node, Scope())
    numbers = _numbers(record, named) if record else {}
    if not isinstance(node.value, dict) or "stop" not in node.value:
        told = earlier.completed(told, numbers)
    return told


def _numbers(record: Checked, named: tuple[str, str]) -> dict[str, Any]:
    """The published numbers; Faults unless they are plain JSON about this version."""
    found = json_reader.check_json(record.read(), contained.shown(_path(record)))
    if isinstance(found, dict) and (found.get("slug"), found.get("version")) == named:
        return found
    slug, number = named
    raise Faults([problem(_path(record), f"this file does not tell of version {number} of {slug}")])


def problem(file: Path, what: str) -> Problem:
    """What is wrong with a file of a frozen version."""
    return Problem(
        where=Where(file=contained.shown(file)),
        what=what,
        expected="the file as it was released",
        remedy="fetch it from where the catalogue is kept, or release a new version",
    )


def _path(file: Checked) -> Path:
    return file.folder / file.file
