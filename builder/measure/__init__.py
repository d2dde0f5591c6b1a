"""A mold's solids to its Measurement: what it holds, where the plastic flows, what each piece of it is."""

from __future__ import annotations

from collections.abc import Sequence

from builder import mesh
from builder.measure import halves, positives, pouring, told
from builder.measure.asking import ask
from builder.model import LengthUnit, MoldSpec, Reading, Solid, Vouch

SHORTEST_MM = 20.0
LONGEST_MM = 600.0
"""A mold's (or bait's) longest side lies between these; outside, the unit is wrong."""


def measure(spec: MoldSpec, solids: Sequence[tuple[Solid, Vouch]]) -> Reading:
    """Everything read off the solids (in the order of spec.parts), in the closed mold's frame.

    Raises Faults where the reading is not sure, naming the key of mold.yaml that would settle it.
    """
    _refuse_wrong_unit(spec, solids)
    if all(part.role == "bait" for part in spec.parts):
        return positives.read(spec, solids)
    if spec.kind == "open pour":
        return pouring.read(spec, solids)
    return told.as_told(spec, halves.read(spec, solids))


def _refuse_wrong_unit(spec: MoldSpec, solids: Sequence[tuple[Solid, Vouch]]) -> None:
    """Raise where no part has a mold's size, and say what it would be in each unit."""
    index, size = max(
        ((k, max(vouch.size_mm)) for k, (_, vouch) in enumerate(solids)), key=lambda one: one[1]
    )
    if SHORTEST_MM <= size <= LONGEST_MM:
        return
    declared: LengthUnit = spec.parts[index].units or spec.units
    drawn = size / mesh.MM[declared]
    others = ", ".join(
        f"{drawn * mm:.4g} mm if drawn in {unit}" for unit, mm in mesh.MM.items() if unit != declared
    )
    likeliest: tuple[LengthUnit, ...] = ("mm", "inch", "cm", "m")
    fitting = [unit for unit in likeliest if SHORTEST_MM <= drawn * mesh.MM[unit] <= LONGEST_MM]
    what = f"{spec.parts[index].file} is {size:.4g} mm long as drawn in {declared} (it would be {others})"
    remedy = f"write units: {' or '.join(fitting)}" if fitting else "check the file"
    key = f"parts[{index}].units" if spec.parts[index].units else "units"
    raise ask(spec, key, what, f"a longest side of {SHORTEST_MM:.0f} to {LONGEST_MM:.0f} mm", remedy)
