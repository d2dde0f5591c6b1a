"""Atomic writes: new files and folders are made beside their place and renamed into it."""

from __future__ import annotations

import ctypes
import errno
import glob
import os
import secrets
import shutil
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

try:
    import fcntl
except ImportError:  # Windows: litter of a killed run is then left for the user to delete
    fcntl = None  # type: ignore[assignment]

LOCKS = fcntl is not None
"""Whether this system has locks that we know: two runs at once then leave each other's work alone."""
SITE_MARK = ".shotbook-site"
"""A file that says of a folder that we wrote it."""
SUMS = "SHA256SUMS"
FULL = frozenset({errno.ENOSPC, errno.EDQUOT, errno.EROFS})
"""Errors of the place that is written to, not of what is written or read."""
_RENAME_EXCHANGE = 2
_AT_FDCWD = -100


def write_atomically(path: Path, data: bytes, beside: Path | None = None) -> None:
    """Write `data` to `path` atomically: a reader sees the old bytes or the new, never a mixture.

    It is written beside `path`, or beside another one where nothing may lie about when the run is killed.
    """
    with making_beside(beside or path) as folder:
        new = folder / path.name
        new.write_bytes(data)
        _sync(new)
        new.replace(path)
    _sync(path.parent)


@contextmanager
def making_beside(place: Path) -> Iterator[Path]:
    """Context of an empty temporary folder beside `place`; folders left by killed runs are deleted first.

    A living run holds a lock on its folder, so that two runs at once leave each other's alone.
    An OSError of a full or read-only disk names the place.
    """
    with _told_of(place.parent):
        place.parent.mkdir(parents=True, exist_ok=True)
        _sweep(place)
        folder, lock = _new_locked(place)
    try:
        with _told_of(place.parent):
            yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)
        if lock is not None:
            os.close(lock)


@contextmanager
def scratch() -> Iterator[Path]:
    """Context of an empty folder among the system's temporary ones; killed runs' are deleted first."""
    with making_beside(Path(tempfile.gettempdir()) / f"shotbook-{_user()}") as folder:
        yield folder


def own_folder(place: Path) -> Path:
    """A real folder of that name in a folder that we may delete; a link or a file in its place goes."""
    if place.is_symlink() or place.is_file():
        place.unlink()
    place.mkdir(parents=True, exist_ok=True)
    return place


@contextmanager
def _told_of(place: Path) -> Iterator[None]:
    """An OSError that a full disk raises names no file, or the one that is copied: name the full folder."""
    try:
        yield
    except OSError as error:
        below = str(error.filename or "").startswith(str(place))
        if error.errno in FULL and not below:
            raise OSError(error.errno, error.strerror, str(place)) from None
        raise


def _user() -> str:
    """A word for who runs this, so that two users of one machine do not sweep each other's folders."""
    return str(os.getuid()) if hasattr(os, "getuid") else "user"


def put_new(folder: Path, place: Path, *, lasting: bool = True) -> bool:
    """Rename `folder` to `place` unless something is there already; True when it is now ours.

    `lasting` waits until the disk has it; what can be told from its sums and made again need not wait.
    """
    if lasting:
        sync_tree(folder)
    try:
        folder.rename(place)
    except OSError as error:
        if error.errno not in (errno.EEXIST, errno.ENOTEMPTY, errno.ENOTDIR) and not place.exists():
            raise
        return False
    if lasting:
        _sync(place.parent)
    return True


def swap_in(folder: Path, place: Path) -> None:
    """Replace the folder `place` by `folder` atomically: a reader finds the old one or the new one.

    Where the system cannot exchange two names in one step, the old folder is moved aside first;
    a run killed between the two steps is mended by `mend_swap`.
    """
    if not place.exists():
        folder.rename(place)
    elif not _exchange(folder, place):
        aside = _aside(place)
        _drop(aside)
        place.rename(aside)
        folder.rename(place)
        shutil.rmtree(aside)


@contextmanager
def replacing(place: Path) -> Iterator[Path]:
    """Context of a new folder, which replaces `place` when the block ends without an error."""
    mend_swap(place)
    with making_beside(place) as beside:
        folder = beside / place.name
        yield folder
        swap_in(folder, place)


def mend_swap(place: Path) -> None:
    """Repair a swap that was killed between its two steps: restore the old folder, or delete it."""
    aside = _aside(place)
    if aside.is_dir() and not aside.is_symlink() and not place.exists():
        aside.rename(place)
    _drop(aside)


@contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Context that only one process at a time enters for the same folder; others wait."""
    lock = _lock(folder, wait=True)
    try:
        yield
    finally:
        if lock is not None:
            os.close(lock)


def sync_tree(folder: Path) -> None:
    """Flush every file of the folder, and the folder, to the disk."""
    for path in sorted(folder.rglob("*")):
        _sync(path)
    _sync(folder)


def _aside(place: Path) -> Path:
    return place.with_name(f".{place.name}.old")


def _drop(aside: Path) -> None:
    """Delete what a swap moved aside: a folder that we wrote, and nothing else that has its name."""
    if not aside.is_symlink() and any((aside / name).is_file() for name in (SITE_MARK, SUMS)):
        shutil.rmtree(aside, ignore_errors=True)


def _exchange(one: Path, other: Path) -> bool:
    """Swap two names in one step (renameat2, Linux); False where the system or the disk cannot."""
    if sys.platform != "linux":
        return False
    rename = getattr(ctypes.CDLL(None, use_errno=True), "renameat2", None)
    paths = (_AT_FDCWD, os.fsencode(one), _AT_FDCWD, os.fsencode(other))
    return rename is not None and rename(*paths, _RENAME_EXCHANGE) == 0


def _sweep(place: Path) -> None:
    """Delete folders beside `place` whose run is dead, which is when nobody holds their lock."""
    for litter in sorted(place.parent.glob(f".{glob.escape(place.name)}.*.part")):
        lock = _lock(litter, wait=False)
        if lock is not None:
            shutil.rmtree(litter, ignore_errors=True)
            os.close(lock)


def _new_locked(place: Path) -> tuple[Path, int | None]:
    """Make a folder and take its lock; again, if another run's sweep came between the two."""
    while True:
        folder = place.with_name(f".{place.name}.{secrets.token_hex(6)}.part")
        folder.mkdir()
        lock = _lock(folder, wait=True)
        if folder.exists():
            return folder, lock
        if lock is not None:
            os.close(lock)


def _lock(folder: Path, *, wait: bool) -> int | None:
    """Lock the folder until the handle is closed; None when another run has it or there are no locks."""
    if fcntl is None:
        return None
    try:
        handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | (0 if wait else os.O_NOFOLLOW))
    except (FileNotFoundError, NotADirectoryError):
        return None
    except OSError:
        if wait:
            raise
        return None  # a link, or another user's
    try:
        fcntl.flock(handle, fcntl.LOCK_EX if wait else fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(handle)
        return None
    return handle


def _sync(path: Path) -> None:
    if os.name == "nt":
        return
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
