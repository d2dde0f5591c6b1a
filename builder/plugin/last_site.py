"""The site as the last build left it: a file that has not changed is linked from there, not written again.

The old site is deleted when the new one stands, so that no file has two names for long. A file is taken
only if nobody has touched it since it was written: its inode, size and time of change are noted in the
store, under the store's seal, with what its bytes were made from.
"""

from __future__ import annotations

import json
import os
import stat
from contextlib import suppress
from pathlib import Path
from typing import Any

from builder.base.store import Store, digest_of

Noted = tuple[str, int, int, int]
"""What a file's bytes were made from; its inode, its size in bytes, its time of change in ns."""


class LastSite:
    """A site's folder, and what is known of the files in it."""

    def __init__(self, place: Path, store: Store) -> None:
        """The site that is to be replaced at `place`; what is noted of it, where this store has noted it."""
        self._place, self._store = place, store
        self._note = digest_of(str(place))
        self._known: dict[str, list[Any]] = {}
        self._found: dict[str, Noted] = {}
        with suppress(ValueError):
            self._known = dict(json.loads(store.note(self._note) or "{}"))

    def link(self, uri: str, made_from: str | Path, place: Path) -> bool:
        """Give the last site's file of this address the name `place` too; False when it is not the same.

        `made_from` is the digest of its bytes, or its path, which says what it holds if it lies in the store.
        """
        told, known = self._told(made_from), self._known.get(uri)
        try:
            if known is None or known != list(_noted(told, self._place / uri)):
                return False
            os.link(self._place / uri, place)
        except OSError:  # it is gone, or the disk knows no second names
            return False
        self._found[uri] = tuple(known)
        return True

    def wrote(self, uri: str, made_from: str | Path, place: Path) -> None:
        """Note a file of the new site."""
        if told := self._told(made_from):
            self._found[uri] = _noted(told, place)

    def keep(self) -> None:
        """Keep what was noted for the next build."""
        self._store.put_note(self._note, json.dumps(self._found).encode())

    def _told(self, made_from: str | Path) -> str:
        """What a file is made from, as it is noted; empty where that may change under the same name."""
        if isinstance(made_from, str):
            return made_from
        inside = made_from.is_relative_to(self._store.folder)
        return made_from.relative_to(self._store.folder).as_posix() if inside else ""


def _noted(told: str, file: Path) -> Noted:
    """What tells that a file is still the same; OSError when it is no file."""
    about = file.lstat()
    if not stat.S_ISREG(about.st_mode):
        raise OSError("no file")
    return told, about.st_ino, about.st_size, about.st_mtime_ns
