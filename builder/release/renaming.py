"""Renames a mold: its folder, the names that it had, who asked for it. What was released stays untouched."""

from __future__ import annotations

import re
from pathlib import Path

from builder.base import contained, disk
from builder.base.problems import Where
from builder.spec import mold_file, versions
from builder.spec.types import fault

_LINE = re.compile(r"^renamed_from:.*(?:\n[ -].*)*\n?", re.M)


def rename(folder: Path, new: str) -> Path:
    """Give the mold in `folder` another name, and return its folder; Faults when the name cannot be had."""
    place = folder.parent / new
    mold_file.check_slug(place)
    if contained.exists(place):
        raise fault(
            Where(file=str(place)), "there is something of this name already", remedy="choose another name"
        )
    old = [name for name in versions.names(folder) if name != new]
    with disk.locked(folder.parent):
        file = folder / mold_file.FILE
        text = file.read_text(encoding="utf-8")
        disk.write_atomically(file, remembering(text, old).encode())
        folder.rename(place)
        asked = folder.parent / "requests.yaml"
        if asked.is_file():
            said = re.sub(rf"(\bmold: *){re.escape(folder.name)}\b", rf"\g<1>{new}", asked.read_text("utf-8"))
            disk.write_atomically(asked, said.encode())
    return place


def remembering(text: str, old: list[str]) -> str:
    """The text of a mold.yaml with the names that it had before.

    >>> remembering("title: A\\n", ["a-b"])
    'title: A\\nrenamed_from: [a-b]\\n'
    >>> remembering("renamed_from: [x]\\ntitle: A\\n", ["a-b", "x"])
    'renamed_from: [a-b, x]\\ntitle: A\\n'
    """
    line = f"renamed_from: [{', '.join(old)}]\n"
    if _LINE.search(text):
        return _LINE.sub(line, text, count=1)
    return f"{text}{'' if text.endswith(chr(10)) else chr(10)}{line}"
