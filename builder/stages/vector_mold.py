"""A small fixed mold, built from plain numbers: what libraries make of it tells their versions apart.

Two halves of 84 x 40 x 14 mm on an uneven grid: a bait whose floor is curved, its gate, a feed from outside,
and four bolt holes. Its corners are bent so that not every facet lies along an axis.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from itertools import pairwise, product
from pathlib import Path

Point = tuple[float, float, float]
Facet = tuple[Point, Point, Point]

SPEC = """\
title: Vector
parts: [a.stl, b.stl]
cavities: 1
plastisol: soft
mold_material: petg
version: "1"
"""
_X: tuple[float, ...] = (-42.0, -36.0, -34.5, -33.0, -30.0, -27.0, -24.0, -21.0, -15.0, -9.0, -3.0)
_X += tuple(-x for x in reversed(_X))
_Y: tuple[float, ...] = (-20.0, -16.0, -14.5, -13.0, -9.0, -6.0, -3.0, -1.5)
_Y += tuple(-y for y in reversed(_Y))
_Z = (-14.0, -9.0, -6.0, -3.0, 0.0)
_BOLT, _BOLT_MM = (34.5, 14.5), 1.5
"""Place of a bolt's axis in one quarter, and its radius."""
_SIDES = (
    ((1, 0, 0), ((1, 0, 0), (1, 1, 0), (1, 1, 1), (1, 0, 1))),
    ((-1, 0, 0), ((0, 0, 0), (0, 0, 1), (0, 1, 1), (0, 1, 0))),
    ((0, 1, 0), ((0, 1, 0), (0, 1, 1), (1, 1, 1), (1, 1, 0))),
    ((0, -1, 0), ((0, 0, 0), (1, 0, 0), (1, 0, 1), (0, 0, 1))),
    ((0, 0, 1), ((0, 0, 1), (1, 0, 1), (1, 1, 1), (0, 1, 1))),
    ((0, 0, -1), ((0, 0, 0), (0, 1, 0), (1, 1, 0), (1, 0, 0))),
)
"""The sides of a cell: where its neighbour is, and its corners seen from outside, against the clock."""


def write(folder: Path) -> None:
    """Write mold.yaml and both halves, as binary STL, into the folder."""
    (folder / "mold.yaml").write_text(SPEC, encoding="utf-8")
    lower = list(_facets())
    upper = [tuple((x, -y, -z) for x, y, z in facet) for facet in lower]
    for name, facets in (("a.stl", lower), ("b.stl", upper)):
        rows = (struct.pack("<12fH", 0, 0, 0, *one, *two, *three, 0) for one, two, three in facets)
        (folder / name).write_bytes(b" " * 80 + struct.pack("<I", len(facets)) + b"".join(rows))


def _facets() -> Iterator[Facet]:
    """The lower half: the sides of its full cells that have no full neighbour, two facets each."""
    columns, rows, layers = (range(len(axis) - 1) for axis in (_X, _Y, _Z))
    cells = list(product(columns, rows, layers))
    full = {cell for cell in cells if not _hollow(*_middle(cell))}
    for i, j, k in sorted(full):
        for (a, b, c), corners in _SIDES:
            if (i + a, j + b, k + c) not in full:
                one, two, three, four = (_bent(_X[i + u], _Y[j + v], _Z[k + w]) for u, v, w in corners)
                yield one, two, three
                yield one, three, four


def _middle(cell: tuple[int, int, int]) -> Point:
    x, y, z = (sum(list(pairwise(axis))[at]) / 2 for axis, at in zip((_X, _Y, _Z), cell, strict=True))
    return x, y, z


def _hollow(x: float, y: float, z: float) -> bool:
    """Whether a cell's middle lies in the bait, the feed, the gate or a bolt hole."""
    bait = abs(x) < 21 and abs(y) < 6 and z > -6
    feed = x < -30 and abs(y) < 3 and z > -6
    gate = -30 < x < -21 and abs(y) < 1.5 and z > -3
    return bait or feed or gate or max(abs(abs(x) - _BOLT[0]), abs(abs(y) - _BOLT[1])) < _BOLT_MM


def _bent(x: float, y: float, z: float) -> Point:
    """Where a corner of the grid lies: the bait's floor is curved, a bolt hole has eight sides."""
    if abs(x) < 21 and abs(y) < 6.5 and -9 < z < 0:
        return x, y, z * (1 - (x / 60) ** 2 - (y / 30) ** 2)
    dx, dy = abs(x) - _BOLT[0], abs(y) - _BOLT[1]
    if abs(dx) == _BOLT_MM == abs(dy):
        share = 0.5**0.5
        return (_moved(x, dx * (share - 1)), _moved(y, dy * (share - 1)), z)
    return x, y, z


def _moved(value: float, further: float) -> float:
    """A coordinate moved outwards, on its own side of the middle."""
    return value + further if value > 0 else value - further
