"""A small mold with releases, and its records rewritten as somebody would who knows their format."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from builder.base.store import file_digest, sha256
from builder.spec import versions

Change = Callable[[dict[str, Any]], object]


def write_json(value: object) -> bytes:
    return (json.dumps(value, ensure_ascii=False, indent=1, sort_keys=True) + "\n").encode(
        "utf-8", "surrogatepass"
    )


def relock(place: Path, change: Change = lambda _: None) -> None:
    """Lock the version anew over what lies in its folder, as if it had always been so."""
    file = place / versions.LOCK
    lock = json.loads(file.read_bytes())["sealed"]
    there = {path.relative_to(place).as_posix(): path for path in place.rglob("*") if path.is_file()}
    lock["files"] = {
        name: file_digest(path)
        for name, path in there.items()
        if name not in (versions.LOCK, versions.WITHDRAWN)
    }
    change(lock)
    file.write_bytes(write_json({"sealed": lock, "sha256": sha256(write_json(lock))}))


def rewrite(place: Path, change: Change) -> None:
    """Change version.json and lock it anew."""
    file = place / versions.VERSION
    told = json.loads(file.read_bytes())
    change(told)
    file.write_bytes(write_json(told))
    relock(place)


def sealed(value: object) -> bytes:
    return write_json({"sealed": value, "sha256": sha256(write_json(value))})
