"""The one place where an exception that nobody foresaw becomes a fault of the mold that it rose at."""

from __future__ import annotations

import re
import traceback
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from builder.base import disk
from builder.base.contained import shown
from builder.base.problems import Faults, Problem, Where

REMEDY = "the other molds are read all the same; please report it"


@contextmanager
def one_mold(folder: Path, kept: Path | None = None) -> Iterator[None]:
    """Let Faults pass; turn any other exception into a fault of this mold, its traceback under `kept`.

    Without `kept` the traceback is a note of the Faults (`__notes__`), for who can write it.
    """
    try:
        yield
    except Faults as faults:
        raise keep(faults, folder, kept) from None
    except OSError as error:
        if error.errno in disk.FULL:  # the machine's fault, and told as such
            raise
        raise _unforeseen(folder, error, kept) from None
    except MemoryError:
        raise Faults([_problem(folder, "reading this mold needs more memory than there is")]) from None
    except Exception as error:  # noqa: BLE001 - whatever it is, the other molds are read on
        raise _unforeseen(folder, error, kept) from None


def lost(folder: Path) -> Problem:
    """The fault of a mold whose process ended before it answered, stopped for want of memory."""
    what = "the process that read this mold ended, stopped by the system, most likely because memory ran out"
    return _problem(folder, what, f"try it with fewer workers; {REMEDY}")


def _unforeseen(folder: Path, error: Exception, kept: Path | None) -> Faults:
    """The fault of the mold, with the traceback of the exception that is being handled."""
    what = f"an unexpected error occurred while this mold was read ({type(error).__name__})"
    unforeseen = Faults([_problem(folder, what, REMEDY)])
    unforeseen.add_note(traceback.format_exc())
    return keep(unforeseen, folder, kept)


def keep(faults: Faults, folder: Path, kept: Path | None) -> Faults:
    """The faults, with the traceback that they carry, if any, written to a file that they name."""
    notes = getattr(faults, "__notes__", ())
    if not notes or kept is None:
        return faults
    file = kept / f"{re.sub(r'[^A-Za-z0-9_-]', '_', folder.name)[:60]}.txt"
    try:
        disk.own_folder(kept)
        disk.write_atomically(file, "\n".join(notes).encode("utf-8", "backslashreplace"))
    except OSError:
        return faults
    return Faults(
        Problem(where=problem.where, what=problem.what, remedy=f"{problem.remedy}, with the file {file}")
        for problem in faults.problems
    )


def _problem(folder: Path, what: str, remedy: str = "") -> Problem:
    return Problem(where=Where(file=shown(folder)), what=what, remedy=remedy)
