"""What is said when the reading is not sure: one problem that names the key of mold.yaml to add."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence

from builder.base import limits
from builder.base.problems import Faults, Problem, Where
from builder.measure.flow_tree import voxels
from builder.model import Hints, MoldSpec, Solid

FRAME = (
    "places are in the closed mold's frame: its origin is the middle of the parting face, x runs along the "
    "long side, z points out of the first half"
)
"""What to say wherever places are offered: hints speak of this frame."""
LINE = "hints: {"
INSTEAD = "; each line holds the hints of mold.yaml too: write it in their place:"


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
    offered = with_told(spec.hints, remedy)
    return Faults([Problem(where=where, what=what, expected=expected, remedy=offered)])


def with_told(hints: Hints, remedy: str) -> str:
    """The remedy, its offered lines with the hints that are told already: a key may be in mold.yaml but once.

    >>> print(with_told(Hints(bolts=4), "write it:\\nhints: {sprue_at_mm: [1.00, 0.00, 0.00]}  # wide"))
    write it; each line holds the hints of mold.yaml too: write it in their place:
    hints: {bolts: 4, sprue_at_mm: [1.00, 0.00, 0.00]}  # wide
    """
    told = dict(_told(hints))
    first, *lines = remedy.split("\n")
    if not told or not any(line.startswith(LINE) for line in lines):
        return remedy
    merged = [_merged(told, line) if line.startswith(LINE) else line for line in lines]
    return "\n".join([f"{first.removesuffix(':')}{INSTEAD}", *merged])


def _merged(told: dict[str, str], line: str) -> str:
    """An offered line with what is told; points to ignore are added to those that are told."""
    name, value = line.removeprefix(LINE).split(": ", 1)
    before = {key: text for key, text in told.items() if key != name}
    if name == "ignore_at_mm" and name in told:
        value = f"{told[name].removesuffix(']')}, {value.removeprefix('[')}"
    return LINE + "".join(f"{key}: {text}, " for key, text in before.items()) + f"{name}: {value}"


def _told(known: Hints) -> Iterator[tuple[str, str]]:
    """Each hint that is told, as mold.yaml has it."""
    for name in ("sprue_at_mm", "sprue_direction"):
        if (point := getattr(known, name)) is not None:
            yield name, _point(point)
    if gates := known.gates_at_mm:
        faces = (f"{{at_mm: {_point(at)}, normal: {_point(normal)}}}" for at, normal in gates)
        yield "gates", f"[{', '.join(faces)}]"
    for name in ("vents_at_mm", "ignore_at_mm"):
        if points := getattr(known, name):
            yield name, f"[{', '.join(map(_point, points))}]"
    for name in ("bolts", "pins", "eye_mm", "pitch_mm"):
        if (number := getattr(known, name)) is not None:
            yield name, f"{number:g}"


def _point(point: Sequence[float]) -> str:
    """A point or a direction as mold.yaml has it."""
    return f"[{', '.join(f'{value:.6g}' for value in point)}]"


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
