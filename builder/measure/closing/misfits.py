"""Halves that close only so-so because one was scaled, or because both files hold the same half."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import permutations

import numpy as np

from builder import mesh
from builder.measure.closing import covering
from builder.measure.closing.matching import Closing, Face
from builder.measure.questions import needs_hint
from builder.model import MoldSpec, Solid

LEAST_SCALE, EVEN_SCALE = 0.004, 0.002
"""A half was scaled where both sides of its face differ from the other's by more than the first share, and by
the same factor but for the second."""
UNITS = tuple(permutations(mesh.MM.values(), 2))
LONGEST_MM = 600.0
"""No line is offered that makes a half longer."""
UNIT_SHARE = 0.01
"""A half is read in the wrong unit where it is so nearly as many times larger as that is."""
SAME_SHARE = 1e-6
"""Halves whose volume and surface differ by less are one half, filed twice."""


def refuse(spec: MoldSpec, way: Closing, solids: Sequence[Solid], first: int, second: int) -> None:
    """Raise where a half was scaled, or where the same half is filed twice and fits only its mirror image."""
    one, two = spec.parts[first].file, spec.parts[second].file
    scale = _scale(way.first, way.second)
    if scale is not None and not way.as_filed:
        what = f"{two} is {abs(scale - 1):.1%} {'larger' if scale > 1 else 'smaller'} than {one}"
        remedy = "one of them was scaled: export both at the same scale"
        raise needs_hint(spec, f"parts[{second}].file", what, f"a half of {one}'s size", remedy)
    if way.mirrored and _is_same(solids[first], solids[second]):
        what = f"{one} and {two} hold the same half, which fits only its own mirror image"
        raise needs_hint(spec, f"parts[{second}].file", what, "the other half", "export the other half too")


def refuse_units(spec: MoldSpec, ones: Sequence[Face], twos: Sequence[Face], first: int, second: int) -> None:
    """Raise where one half is as many times larger than the other as one unit is than another."""
    if not ones or not twos:
        return
    one, two = (max(faces, key=lambda face: float(face.polygon.area)) for faces in (ones, twos))
    times = _scale(one, two)
    if times is None or not any(abs(times * a / b - 1) < UNIT_SHARE for a, b in UNITS):
        return
    lines = [
        line
        for index, larger, like in ((second, times, one), (first, 1 / times, two))
        if max(_sides(like)) < LONGEST_MM
        for line in _in_units(spec, index, larger)
    ]
    ratio = f"{max(times, 1 / times):.3g} times {'larger' if times > 1 else 'smaller'}"
    mine, theirs = spec.parts[first].file, spec.parts[second].file
    what = f"{theirs} is {ratio} than {mine}, as if one of them was exported in another unit"
    told = f", or replace parts with this:{''.join(lines)}" if lines else ""
    remedy = f"export both in one unit{told}"
    raise needs_hint(spec, f"parts[{second}].units", what, "halves of one size", remedy)


def _in_units(spec: MoldSpec, index: int, larger: float) -> Iterator[str]:
    """The line with another unit for a part that is so many times as large as it should be."""
    mine = mesh.MM[spec.parts[index].units or spec.units]
    for unit, mm in mesh.MM.items():
        if abs(mm / mine * larger - 1) < UNIT_SHARE:
            parts = [replace(part, units=unit) if k == index else part for k, part in enumerate(spec.parts)]
            yield f"\n{covering.parts_line(parts)}"


def _scale(one: Face, two: Face) -> float | None:
    """How many times as large the second face's outline is, both ways alike; None if it is not."""
    sizes = [_sides(face) for face in (one, two)]
    ratio = np.array(sizes[1]) / np.array(sizes[0])
    even = abs(ratio[0] / ratio[1] - 1) < EVEN_SCALE
    return float(ratio.mean()) if even and np.abs(ratio - 1).min() > LEAST_SCALE else None


def _sides(face: Face) -> list[float]:
    """The sides of a face's outline, the shorter first."""
    low_x, low_y, high_x, high_y = face.polygon.bounds
    return sorted((high_x - low_x, high_y - low_y))


def _is_same(one: Solid, two: Solid) -> bool:
    """True for two solids of one volume and one surface."""
    volumes, areas = ([size(half) for half in (one, two)] for size in (mesh.volume_mm3, mesh.area_mm2))
    return all(abs(first / second - 1) < SAME_SHARE for first, second in (volumes, areas))
