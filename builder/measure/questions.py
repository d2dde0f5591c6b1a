"""What is said when the reading is not sure: one problem that names the key of mold.yaml to add."""

from __future__ import annotations

import math
from collections.abc import Iterable

from builder.base import limits
from builder.base.problems import Faults, Problem, Where
from builder.measure.flow_tree import voxels
from builder.model import MoldSpec, Solid

FRAME = (
    "places are in the closed mold's frame: its origin is the middle of the parting face, x runs along the "
    "long side, z points out of the first half"
)
"""What to say wherever places are offered: hints speak of this frame."""


def offered(hints: Iterable[tuple[str, str]]) -> str:
    """Hints with what each of them is, each on a line of its own that works when it is pasted into mold.yaml.

    >>> print(offered([("sprue_at_mm: [1.00, 0.00, 0.00]", "8.0 mm wide")]))
    <BLANKLINE>
    hints: {sprue_at_mm: [1.00, 0.00, 0.00]}  # 8.0 mm wide
    """
    return "".join(f"\nhints: {{{hint}}}  # {what}" for hint, what in hints)


def needs_hint(spec: MoldSpec, key: str, what: str, expected: str = "", remedy: str = "") -> Faults:
    """The Faults to raise; `key` is the dotted key that would settle it, or that is wrong."""
    line = next((spec.line_of[part] for part in _outward(key) if part in spec.line_of), None)
    where = Where(file=str(spec.folder / "mold.yaml"), line=line, key=key)
    return Faults([Problem(where=where, what=what, expected=expected, remedy=remedy)])


def refuse_fine_grid(spec: MoldSpec, plastic: Solid, pitch_mm: float) -> None:
    """Raise where the grid on which the plastic is parted would have more cells than there is memory for."""
    count = voxels.cells(plastic, pitch_mm)
    if count > limits.CELLS:
        enough = math.ceil(100 * pitch_mm * (count / limits.CELLS) ** (1 / 3)) / 100
        what = f"a grid of {pitch_mm:g} mm has {count} cells"
        remedy = f"write hints: {{pitch_mm: {enough + 0.01:.2f}}} or more"
        raise needs_hint(spec, "hints.pitch_mm", what, f"at most {limits.CELLS}", remedy)


def _outward(key: str) -> list[str]:
    """A key and the keys round it, innermost first.

    >>> _outward("parts[1].placing")
    ['parts[1].placing', 'parts[1]', 'parts']
    """
    found = [key]
    while "." in key or "[" in key:
        key = key[: max(key.rfind("."), key.rfind("["))]
        found.append(key)
    return found
