"""Reads STL bytes into triangles, or raises Faults with one sentence about the file."""

from __future__ import annotations

import re
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from builder.base import limits
from builder.base.problems import Faults, Problem, Where

_COARSER = "export it with a coarser chord (0.02 mm is plenty)"
HEADER = 84
FACET = 50
LARGEST = 1e6
"""Coordinates beyond this (in the file's own unit) are no mold."""

_LAST = 4096
"""Bytes at the end in which a text STL says that it ends."""
_AT_ONCE = 100_000
_FACET_TYPE = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
_VERTEX = re.compile(rb"\bvertex\s+(\S+)\s+(\S+)\s+(\S+)", re.I)


def triangles(data: bytes, file: str) -> NDArray[np.float32]:
    """Corners (n, 3, 3) of an STL file's facets, in the file's own unit; n > 0 and all finite.

    Binary or ASCII is decided by the size (84 bytes of header and 50 a facet), never by the word
    `solid`, which many binary files begin with.
    """
    _refuse_other_kinds(data, file)
    count = int.from_bytes(data[80:HEADER], "little")
    if len(data) >= HEADER and len(data) == HEADER + FACET * count:
        corners = np.frombuffer(data, _FACET_TYPE, offset=HEADER)["corners"]
    elif _looks_ascii(data):
        corners = _ascii(data, file)
    else:
        raise fault(file, *_wrong_length(data, count))
    refuse_many_facets(len(corners), file)
    if not len(corners):
        raise fault(file, "the file holds no facets", "a mesh", "export the part again")
    _refuse_wild_numbers(corners, file)
    return np.array(corners, np.float32)


def fault(file: str, what: str, expected: str = "", remedy: str = "") -> Faults:
    """The one problem of a mesh file, ready to raise."""
    return Faults([Problem(where=Where(file=file), what=what, expected=expected, remedy=remedy)])


def _refuse_other_kinds(data: bytes, file: str) -> None:
    """Raise for files that are not STL at all, each by its own name."""
    if not data:
        raise fault(file, "the file is empty", "an STL mesh", "export or copy the part again")
    if len(data) > limits.STL_BYTES:
        raise fault(file, f"the file has {len(data)} bytes", f"at most {limits.STL_BYTES}", _COARSER)
    start = data[:512].lstrip().lower()
    if start.startswith(b"version https://git-lfs"):
        pointer = "the file is a Git LFS pointer, not the mesh itself"
        raise fault(file, pointer, "the STL mesh", "run `git lfs pull`")
    if start.startswith((b"<!doctype", b"<html", b"<?xml", b"<head")):
        raise fault(file, "the file is a web page", "the STL mesh", "download the file itself again")
    if start.startswith(b"pk\x03\x04"):
        raise fault(
            file, "the file is a zip archive (perhaps a 3MF)", "an STL mesh", "unpack it, or name a 3MF .3mf"
        )


def _looks_ascii(data: bytes) -> bool:
    """True for text that begins as an ASCII STL does."""
    start = data[:1024].lstrip().lower()
    return start.startswith(b"solid") and b"\x00" not in data[:1024]


def _wrong_length(data: bytes, count: int) -> tuple[str, str, str]:
    """The fault of a binary file whose length and facet count disagree."""
    if len(data) < HEADER:
        return f"the file ends after {len(data)} bytes", "an STL mesh", "export or copy the part again"
    have, need = (
        (len(data) - HEADER) / FACET,
        f"{HEADER + FACET * count} bytes for the {count} facets it announces",
    )
    if have < count:
        return (
            f"the file is cut off after {len(data)} bytes ({have:.0f} facets)",
            need,
            "copy or download it again",
        )
    return f"the file has {len(data)} bytes", need, "export the part again as STL"


def _ascii(data: bytes, file: str) -> NDArray[np.float64]:
    """Corners of an ASCII STL; every facet must be complete and the last line `endsolid`."""
    facets = sum(1 for _ in re.finditer(rb"\bendfacet\b", data, re.I))
    refuse_many_facets(facets, file)
    opened = sum(1 for _ in re.finditer(rb"\bfacet\s+normal\b", data, re.I))
    found = sum(1 for _ in _VERTEX.finditer(data))
    last = data[-_LAST:].rstrip().rpartition(b"\n")[2]
    whole = re.match(rb"\s*endsolid\b", last, re.I) is not None
    if not whole or opened != facets or found != 3 * facets:
        told = f"{opened} facets begun, {facets} ended, {found} corners"
        what = f"the text of the file is cut off or damaged ({told})"
        raise fault(file, what, "three corners a facet and `endsolid` at the end", "copy or export it again")
    try:
        return _numbers(data, found).reshape(-1, 3, 3)
    except ValueError as error:
        raise fault(
            file, f"a corner is not a number ({error})", "three numbers after `vertex`", "export it again"
        ) from None


def _numbers(data: bytes, count: int) -> NDArray[np.float64]:
    """The three numbers (count, 3) of each corner, taken some at a time, for text is larger than numbers."""
    numbers = np.empty((count, 3))
    places = _VERTEX.finditer(data)
    for start in range(0, count, _AT_ONCE):
        some = [place.groups() for place in islice(places, _AT_ONCE)]
        numbers[start : start + len(some)] = np.array(some, "S64").astype(np.float64)
    return numbers


def refuse_many_facets(count: int, file: str) -> None:
    """Raise for more facets than a mesh is read with."""
    if count > limits.FACETS:
        raise fault(file, f"there are {count} facets", f"at most {limits.FACETS}", _COARSER)


def _refuse_wild_numbers(corners: NDArray[np.floating], file: str) -> None:
    """Raise for NaN, infinite and absurdly large coordinates."""
    bad = ~np.isfinite(corners).all(axis=(1, 2))
    if bad.any():
        what = f"{bad.sum()} of {len(corners)} facets have a corner that is not a number (NaN or infinite)"
        raise fault(file, what, "finite coordinates", "repair the mesh or export it again")
    if np.abs(corners).max() > LARGEST:
        what = f"a corner lies {np.abs(corners).max():.3g} from the origin"
        raise fault(file, what, f"less than {LARGEST:.0g}", "move the part to the origin and export it again")
