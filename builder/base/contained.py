"""Files of a folder that strangers filled: opened below it, no link followed, asked through their handle.

What is checked and what is used are one thing: the kind and the size are asked of the open handle, and a
`Checked` file is read again only as the bytes of its digest.
"""

from __future__ import annotations

import errno
import hashlib
import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import islice
from pathlib import Path, PurePosixPath
from typing import BinaryIO

from builder.base import disk
from builder.base.problems import Faults, Problem, Where

_CHUNK = 1 << 20
_MOST_FILES = 2000
_DEEPEST = 8
_LITTER = {".ds_store", "thumbs.db", "ehthumbs.db", "desktop.ini"}
_BELOW = os.open in os.supports_dir_fd and hasattr(os, "O_NOFOLLOW")
_FLAGS = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_BINARY", 0)
_LINK = "this is a link, and links are not followed"
_KINDS = (
    (stat.S_ISDIR, "this is a folder"),
    (stat.S_ISLNK, _LINK),
    (stat.S_ISFIFO, "this is a pipe, not a file"),
    (stat.S_ISSOCK, "this is a socket, not a file"),
    (stat.S_ISCHR, "this is a device, not a file"),
    (stat.S_ISBLK, "this is a device, not a file"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """A file that was looked at: where it lies below a folder, and the SHA-256 that vouches for its bytes."""

    folder: Path
    file: str
    size_bytes: int
    sha256: str

    @property
    def name(self) -> str:
        """The last part of its path."""
        return PurePosixPath(self.file).name

    def read(self) -> bytes:
        """Its bytes; Faults when they are no longer those that were looked at."""
        with opened(self.folder, self.file, self.size_bytes) as handle:
            data = handle.read(self.size_bytes + 1)
        self._vouch(hashlib.sha256(data))
        return data

    def copy_to(self, place: Path) -> None:
        """Write its bytes to `place`; Faults, and no file there, when they are no longer the same."""
        try:
            with opened(self.folder, self.file, self.size_bytes) as handle, place.open("wb") as out:
                self._vouch(_digest(handle, self.size_bytes, out))
        except Faults:
            place.unlink(missing_ok=True)
            raise

    def _vouch(self, found: hashlib._Hash) -> None:
        if found.hexdigest() != self.sha256:
            raise _fault(self.folder / self.file, "this file changed while it was read", "", "run it again")


def read(folder: Path, file: str, most_bytes: int) -> bytes:
    """The bytes of a regular file below the folder; Faults when it is none or has more than `most_bytes`."""
    with opened(folder, file, most_bytes) as handle:
        data = handle.read(most_bytes + 1)
    if len(data) > most_bytes:
        raise _too_long(folder / file, len(data), most_bytes)
    return data


def check(folder: Path, file: str, most_bytes: int) -> Checked:
    """The file with its size and digest, for who uses it later; Faults as `read` has them."""
    with opened(folder, file, most_bytes) as handle:
        found = _digest(handle, most_bytes)
        size = handle.tell()
    if size > most_bytes:
        raise _too_long(folder / file, size, most_bytes)
    return Checked(folder=folder, file=file, size_bytes=size, sha256=found.hexdigest())


@contextmanager
def opened(folder: Path, file: str, most_bytes: int) -> Iterator[BinaryIO]:
    """The file open for reading, after its kind and size were asked of the handle itself.

    `folder` is the keeper's word and may be reached by a link; nothing below it may be.
    """
    path = folder / file
    try:
        handle = os.fdopen(_open(folder, PurePosixPath(file).parts), "rb")
    except (OSError, ValueError) as error:
        raise _unopened(path, error) from None
    with handle:
        about = os.fstat(handle.fileno())
        if not stat.S_ISREG(about.st_mode):
            raise _fault(path, _kind(about.st_mode), "a file")
        if about.st_size > most_bytes:
            raise _too_long(path, about.st_size, most_bytes)
        try:
            yield handle
        except OSError as error:
            if error.errno in disk.FULL:  # of the place that its bytes are copied to
                raise
            raise _unopened(path, error) from None


def files(folder: Path) -> tuple[str, ...]:
    """The paths of all regular files below the folder, by name, without what systems leave lying about.

    Faults for anything that is neither file nor folder, and for more than there can be.
    """
    found: list[str] = []
    problems: list[Problem] = []
    waiting = [PurePosixPath()]
    while waiting:
        here = waiting.pop()
        try:
            with os.scandir(folder / here) as listed:
                entries = sorted(islice(listed, _MOST_FILES + 1), key=lambda entry: entry.name)
        except OSError as error:
            raise _unopened(folder / here, error) from None
        for entry in entries:
            mode = entry.stat(follow_symlinks=False).st_mode
            if stat.S_ISDIR(mode):
                waiting.append(here / entry.name)
            elif stat.S_ISREG(mode):
                found += [] if is_litter(entry.name) else [(here / entry.name).as_posix()]
            else:
                problems.extend(_fault(folder / here / entry.name, _kind(mode), "a file").problems)
        if len(found) + len(waiting) > _MOST_FILES or len(here.parts) > _DEEPEST:
            what = "this folder holds more than a mold can need"
            raise _fault(folder, what, f"at most {_MOST_FILES} files, {_DEEPEST} folders deep")
    if problems:
        raise Faults(problems)
    return tuple(sorted(found))


def is_litter(name: str) -> bool:
    """True for the name of a file that a system writes into any folder that somebody looks at.

    >>> [is_litter(name) for name in (".DS_Store", "Thumbs.db", "desktop.ini", "._half.stl", "half.stl")]
    [True, True, True, True, False]
    """
    return name.casefold() in _LITTER or name.startswith("._")


def is_file(folder: Path, file: str) -> bool:
    """True when a regular file lies there, reached without a link."""
    try:
        with opened(folder, file, 1 << 62):
            return True
    except Faults:
        return False


def is_folder(path: Path) -> bool:
    """True for a folder that is no link."""
    try:
        return stat.S_ISDIR(os.lstat(path).st_mode)
    except (OSError, ValueError):
        return False


def exists(path: Path) -> bool:
    """True when anything has this name, a broken link too."""
    return os.path.lexists(path)


def _open(folder: Path, parts: tuple[str, ...]) -> int:
    """A handle of the file: each folder is opened in the one before, so that no name is asked for twice."""
    if not parts or any(part in ("..", "/") for part in parts) or PurePosixPath(*parts).is_absolute():
        raise OSError(errno.EINVAL, "it does not lie below its folder")
    if not _BELOW:
        return _open_by_path(folder, parts)
    here = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        for part in parts[:-1]:
            deeper = os.open(part, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW | os.O_CLOEXEC, dir_fd=here)
            os.close(here)
            here = deeper
        return os.open(parts[-1], _FLAGS | os.O_NOFOLLOW, dir_fd=here)
    finally:
        os.close(here)


def _open_by_path(folder: Path, parts: tuple[str, ...]) -> int:
    """The same where the system has no handles of folders (Windows): looked at before and after.

    A link that is put in and taken away again between the two looks is found by the file's number.
    """
    path = folder
    for part in parts:
        path = path / part
        if path.is_symlink() or getattr(path, "is_junction", bool)():
            raise OSError(errno.ELOOP, _LINK)
    before = path.lstat()
    if not stat.S_ISREG(before.st_mode):
        raise OSError(errno.EINVAL, _kind(before.st_mode))
    handle = os.open(path, _FLAGS)
    after = os.fstat(handle)
    if (before.st_dev, before.st_ino) != (after.st_dev, after.st_ino):
        os.close(handle)
        raise OSError(errno.ELOOP, _LINK)
    return handle


def _digest(handle: BinaryIO, most_bytes: int, out: BinaryIO | None = None) -> hashlib._Hash:
    """SHA-256 of the file, which may grow meanwhile; of one byte more than allowed at most."""
    found = hashlib.sha256()
    left = most_bytes + 1
    while left and (chunk := handle.read(min(left, _CHUNK))):
        left -= len(chunk)
        found.update(chunk)
        if out is not None:
            out.write(chunk)
    return found


def _kind(mode: int) -> str:
    return next((words for is_it, words in _KINDS if is_it(mode)), "this is not a file")


def _unopened(path: Path, error: OSError | ValueError) -> Faults:
    """Why it could not be opened, in words; what stands there is looked at only to name it."""
    if isinstance(error, FileNotFoundError):
        return _fault(path, "this file does not exist")
    try:
        mode = os.lstat(path).st_mode
        if not stat.S_ISREG(mode):
            remedy = "put the file itself here" if stat.S_ISLNK(mode) else ""
            return _fault(path, _kind(mode), "a file", remedy)
        if isinstance(error, OSError) and error.errno in (errno.ENOTDIR, errno.ELOOP):
            return _fault(
                path, "a folder on the way to this file is a link", "", "put the folder itself here"
            )
    except (OSError, ValueError):
        pass
    return _fault(path, f"this file cannot be read: {getattr(error, 'strerror', None) or error}")


def _too_long(path: Path, size: int, most: int) -> Faults:
    return _fault(path, f"this file has {size} bytes", f"at most {most}")


def _fault(path: Path, what: str, expected: str = "", remedy: str = "") -> Faults:
    return Faults([Problem(where=Where(file=shown(path)), what=what, expected=expected, remedy=remedy)])


def shown(path: Path | str) -> str:
    """A path fit for a sentence: bytes that are no text and control characters as question marks."""
    text = str(path).encode("utf-8", "replace").decode()
    return "".join(char if char.isprintable() else "?" for char in text)
