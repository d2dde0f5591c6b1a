"""A mold's solids to its Measurement: what it holds, where the plastic flows, what each piece of it is."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import partial

from builder import mesh
from builder.base.problems import Faults
from builder.measure import (
    bait_only,
    block_pieces,
    grown,
    halves,
    hints,
    mistaken,
    noise,
    open_pour,
    splitting,
)
from builder.measure.questions import needs_hint
from builder.model import Figure, Finding, LengthUnit, MoldSpec, Reading, Solid, Vouch

MOLD_MM = (40.0, 600.0)
MICRO_MM = 25.0
"""From here to MOLD_MM it may be a micro bait's mold in mm, or a large one in another unit: it is asked."""
BAIT_MM = (15.0, 500.0)
INSISTED_MM = (10.0, 1500.0)
"""The longest side of a mold, or of a bait given alone, lies between these; outside, the unit is wrong.

The last is for a part whose own unit is told.
"""
TINY_ML = 0.1
"""A bait smaller than this is more likely drawn in another unit."""
HEAVY = 20_000
"""Parts of more triangles are read with flat and nearly flat ones joined..."""
LIGHTER_MM = 0.002
"""...which moves no surface farther than this."""

Read = tuple[Solid, Vouch]
piece_roles = block_pieces.roles


def measure(spec: MoldSpec, solids: Sequence[Read]) -> Reading:
    """Everything read off the solids (in the order of spec.parts), in the closed mold's frame.

    Raises Faults where the reading is not sure, naming the key of mold.yaml that would settle it.
    """
    spec, light, said = _ready(spec, solids)
    try:
        return _with(_read(spec, light), said)
    except Faults as faults:
        raise noise.explained(spec, [solid for solid, _ in light], faults) from None


def measure_counts(
    spec: MoldSpec, solids: Sequence[Read], counts: Sequence[int]
) -> Iterator[tuple[int, Reading | Faults]]:
    """What is read with each number of cavities, or the Faults then; a closed mold is closed only once.

    Raises Faults where no number of cavities would help.
    """
    spec, light, said = _ready(spec, solids)
    if spec.kind == "open pour" or all(part.role == "bait" for part in spec.parts):
        for count in counts:
            try:
                yield count, _with(_read(replace(spec, cavities=count), light), said)
            except Faults as faults:
                yield count, faults
        return
    for count, found in halves.read_counts(spec, light, counts):
        if isinstance(found, Faults):
            yield count, noise.explained(spec, [solid for solid, _ in light], found)
        else:
            yield count, _with(hints.applied(spec, found), said)


def _ready(spec: MoldSpec, solids: Sequence[Read]) -> tuple[MoldSpec, list[Read], tuple[Finding, ...]]:
    """The mold and its solids as they are read, and what to say of that; Faults where they cannot be."""
    _refuse_wrong_unit(spec, solids)
    spec, solids, split = splitting.split(spec, solids)
    solids = [(mesh.joined(solid) if vouch.self_touching else solid, vouch) for solid, vouch in solids]
    _refuse_several(spec, solids)
    _refuse_noise(spec, solids)
    mistaken.refuse(spec, solids)
    light = [(mesh.lighter(solid, LIGHTER_MM) if _heavy(solid) else solid, vouch) for solid, vouch in solids]
    block_pieces.refuse(spec, [solid for solid, _ in light], partial(_works, light))
    lone = [k for k, part in enumerate(spec.parts) if part.role == "half"]
    if spec.kind == "injection" and len(lone) == 1:
        grown.refuse(spec, light[lone[0]][0], lone[0], partial(_works, light))
    return spec, light, (*split, *_lightened(spec, solids), *mistaken.said(spec, solids))


def _with(reading: Reading, said: Sequence[Finding]) -> Reading:
    """The reading with what else is to be said."""
    findings = (*reading.measurement.findings, *said, *_tiny(reading))
    return replace(reading, measurement=replace(reading.measurement, findings=findings))


def _read(spec: MoldSpec, solids: Sequence[Read]) -> Reading:
    """The reading of the mold's kind."""
    if all(part.role == "bait" for part in spec.parts):
        return bait_only.read(spec, solids)
    if spec.kind == "open pour":
        return open_pour.read(spec, solids)
    return hints.applied(spec, halves.read(spec, solids))


def _works(solids: Sequence[Read], spec: MoldSpec) -> bool:
    """True if the mold can be read so, perhaps after a hint about its plastic."""
    try:
        spec, solids, _ = splitting.split(spec, solids)
        _read(spec, solids)
    except Faults as faults:
        return all(problem.where.key.startswith("hints.") for problem in faults.problems)
    return True


def _heavy(solid: Solid) -> bool:
    """True for a part of very many triangles."""
    return len(solid.faces) > HEAVY


def _lightened(spec: MoldSpec, solids: Sequence[Read]) -> Iterator[Finding]:
    """What to say of parts that are read with fewer triangles than their files hold."""
    for part, (solid, _) in zip(spec.parts, solids, strict=True):
        if _heavy(solid):
            moved = Figure(
                value=LIGHTER_MM,
                low=0.0,
                high=LIGHTER_MM,
                unit="mm",
                because="reading.lighter",
                origin="computed",
            )
            values: dict[str, Figure | str] = {"file": part.file, "moved": moved}
            yield Finding(level="note", code="reading.lightened", values=values)


def _tiny(reading: Reading) -> Iterator[Finding]:
    """A warning where the smallest bait is so small that the unit is more likely wrong."""
    smallest = min(reading.measurement.baits, key=lambda bait: bait.volume_ml)
    if smallest.volume_ml < TINY_ML:
        yield Finding(level="warn", code="reading.tiny", values={"bait": smallest.name})


def _refuse_several(spec: MoldSpec, solids: Sequence[Read]) -> None:
    """Raise where a file holds several bodies of like size, as parts laid out for the printer are."""
    for index, (solid, _) in enumerate(solids):
        sizes = mesh.shell_volumes_mm3(solid)
        count = int((sizes > splitting.LIKE_SHARE * sizes.max()).sum())
        if count > 1:
            what = f"{spec.parts[index].file} holds {count} separate bodies"
            remedy = "export each of them as a file of its own (or split the file in a slicer) and list all"
            if count == 2 and spec.kind == "open pour":
                remedy = f"if these are the two halves of a closed mold, write kind: injection; else {remedy}"
            raise needs_hint(spec, f"parts[{index}].file", what, "one part of the mold, or one bait", remedy)


def _refuse_noise(spec: MoldSpec, solids: Sequence[Read]) -> None:
    """Raise where a part of very many triangles is rough all over: no face of it is flat enough."""
    for index, (solid, _) in enumerate(solids):
        if spec.parts[index].role != "bait" and _heavy(solid) and noise.is_rough(solid):
            raise noise.refusal(spec, index, solid)


def _refuse_wrong_unit(spec: MoldSpec, solids: Sequence[Read]) -> None:
    """Raise where no part has a mold's size, and say what it would be in each unit."""
    low, high = BAIT_MM if all(part.role == "bait" for part in spec.parts) else MOLD_MM
    index, size = max(
        ((k, max(vouch.size_mm)) for k, (_, vouch) in enumerate(solids)), key=lambda one: one[1]
    )
    insisted = spec.parts[index].units or (spec.units if "units" in spec.line_of else None)
    if low <= size <= high or (insisted and INSISTED_MM[0] <= size <= INSISTED_MM[1]):
        return
    declared: LengthUnit = insisted or spec.units
    drawn = size / mesh.MM[declared]
    others = ", ".join(
        f"{drawn * mm:.4g} mm if drawn in {unit}"
        for unit, mm in mesh.MM.items()
        if unit != declared and INSISTED_MM[0] <= drawn * mm <= INSISTED_MM[1]
    )
    instead = f" (it would be {others})" if others else ""
    likeliest: tuple[LengthUnit, ...] = ("mm", "inch", "cm", "m")
    fitting = [unit for unit in likeliest if low <= drawn * mesh.MM[unit] <= high]
    if MICRO_MM <= size < low and declared not in fitting:
        fitting.insert(0, declared)
    what = f"{spec.parts[index].file} is {size:.4g} mm long as drawn in {declared}{instead}"
    remedy = f"write units: {' or '.join(fitting)}" if fitting else "check the file"
    if INSISTED_MM[0] <= size <= INSISTED_MM[1] and declared not in fitting:
        remedy += f" (if the size is right, write units: {declared})"
    key = f"parts[{index}].units" if spec.parts[index].units else "units"
    raise needs_hint(spec, key, what, f"a longest side of {low:.0f} to {high:.0f} mm", remedy)
