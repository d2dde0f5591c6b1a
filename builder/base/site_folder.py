"""Whether a folder may be replaced as a whole: only one that we wrote, never one that holds anything else."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable
from pathlib import Path

from builder.base import contained, disk
from builder.base.problems import Faults, Problem, Where

MARKER = disk.SITE_MARK
_SAID = b"This folder is written by shotbook and replaced as a whole: keep nothing of your own here.\n"


def refuse(place: Path, sources: Iterable[Path], given: Path | None = None) -> Path:
    """Where the folder really lies, so that a link to it stays a link; Faults when it may not be replaced.

    `given` is what to call it, where that is not its path.
    `sources` are the files and folders that the build reads or keeps: none of them may lie in it.
    """
    real = Path(os.path.realpath(place))
    if why := _why_not(real, [Path(os.path.realpath(source)) for source in sources]):
        expected = f"a new or empty folder, or one that this command wrote before and left {MARKER} in"
        problem = Problem(where=Where(file=contained.shown(given or place)), what=why, expected=expected)
        raise Faults([problem])
    return real


def mark(folder: Path) -> None:
    """Say in the folder that we wrote it."""
    (folder / MARKER).write_bytes(_SAID)


def _why_not(place: Path, sources: Iterable[Path]) -> str:
    """Why the folder may not be replaced; '' when it may."""
    home = Path(os.path.realpath(Path.home()))
    held = next((one for one in sources if one == place or place in one.parents), None)
    if place in (home, *home.parents):
        return "this is a home folder, or holds one"
    if held is not None:
        return f"it holds {contained.shown(held)}, which the site is made from"
    return _not_ours(place)


def _not_ours(place: Path) -> str:
    """Why the folder is none of ours; asked last, for it looks inside."""
    rules = (
        (contained.exists(place / ".git"), "this is a repository"),
        (place.exists() and not place.is_dir(), "this is not a folder"),
        (_is_mount(place), "this is a mount, which nothing can replace; name a folder inside it"),
        (_holds_others(place), "other files are there, which would be lost"),
    )
    return next((why for applies, why in rules if applies), "")


def _is_mount(place: Path) -> bool:
    """True for a mount, also for one that shows another folder of the same disk, which Linux alone tells."""
    if os.path.ismount(place):
        return True
    try:
        lines = (
            Path("/proc/self/mountinfo").read_text(encoding="utf-8", errors="surrogateescape").splitlines()
        )
    except OSError:
        return False
    points = (line.split(" ")[4] for line in lines)
    return str(place) in {re.sub(r"\\([0-7]{3})", lambda code: chr(int(code[1], 8)), one) for one in points}


def _holds_others(place: Path) -> bool:
    return place.is_dir() and any(place.iterdir()) and not contained.is_file(place, MARKER)
