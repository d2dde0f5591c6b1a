"""Halves that close only so-so because one was scaled, or because both files hold the same half."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from builder import mesh
from builder.measure.closing.matching import Closing, Face
from builder.measure.questions import needs_hint
from builder.model import MoldSpec, Solid

LEAST_SCALE, EVEN_SCALE = 0.004, 0.002
"""A half was scaled where both sides of its face differ from the other's by more than the first share, and by
the same factor but for the second."""
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


def _scale(one: Face, two: Face) -> float | None:
    """How many times as large the second face's outline is, both ways alike; None if it is not."""
    sizes = []
    for face in (one, two):
        low_x, low_y, high_x, high_y = face.polygon.bounds
        sizes.append(sorted((high_x - low_x, high_y - low_y)))
    ratio = np.array(sizes[1]) / np.array(sizes[0])
    even = abs(ratio[0] / ratio[1] - 1) < EVEN_SCALE
    return float(ratio.mean()) if even and np.abs(ratio - 1).min() > LEAST_SCALE else None


def _is_same(one: Solid, two: Solid) -> bool:
    """True for two solids of one volume and one surface."""
    volumes, areas = ([size(half) for half in (one, two)] for size in (mesh.volume_mm3, mesh.area_mm2))
    return all(abs(first / second - 1) < SAME_SHARE for first, second in (volumes, areas))
