"""What walls and printed parts have to say: thin walls, overhangs, small features, uneven faces, pins."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from builder.model import Figure, Finding, Level, Measurement, PartMeasure, Pin, Sourced, Unit, Vec3, Wall

Practice = Mapping[str, Sourced]
_LINES = 2.0
"""A feature narrower than two beads of the nozzle is one bead or none (common practice, no source)."""


def of_parts(measurement: Measurement, practice: Practice) -> tuple[Finding, ...]:
    """Findings on walls, printed parts and pins, in this order; empty for a bait alone."""
    printed = [part for part in measurement.parts if part.role != "bait"]
    return (
        *(found for wall in measurement.walls for found in _of_wall(wall, practice)),
        *(found for part in printed for found in _of_part(part, practice)),
        *(found for pin in measurement.pins for found in _of_pin(pin, practice)),
    )


def _of_wall(wall: Wall, practice: Practice) -> Iterator[Finding]:
    """A wall thinner than hand-tight bolts and hand pressure want."""
    least = practice["thin_wall"]
    if wall.thickness_mm >= least.value:
        return
    one, other = wall.names
    yield Finding(
        level="warn" if wall.thickness_mm < least.low else "note",
        code=f"parts.wall_{wall.kind}",
        values={
            "wall": _measured(wall.thickness_mm, "mm", "parts.because.wall"),
            "bait": one,
            "other": other.removeprefix("bolt "),
            "least": _common(least),
        },
        at_mm=_middle(wall.from_mm, wall.to_mm),
    )


def _of_part(part: PartMeasure, practice: Practice) -> Iterator[Finding]:
    """Overhang, thin features, narrow gaps and an uneven parting face of one printed part."""
    nozzle, gap = practice["nozzle"], practice["flash_gap"]
    feature, narrow, uneven = part.smallest_feature_mm, part.smallest_gap_mm, part.flatness_mm
    if part.overhang_mm2 > practice["overhang"].value:
        area = _measured(part.overhang_mm2, "mm2", "parts.because.overhang")
        yield _of("note", "overhang", part=part.name, area=area)
    if feature is not None and feature < _LINES * nozzle.value:
        found = _measured(feature, "mm", "parts.because.feature")
        yield _of("warn", "thin_feature", part=part.name, feature=found, nozzle=_common(nozzle))
    if narrow is not None and narrow < nozzle.value:
        found = _measured(narrow, "mm", "parts.because.gap")
        yield _of("note", "narrow_gap", part=part.name, gap=found, nozzle=_common(nozzle))
    if uneven is not None and uneven > gap.value:
        found = _measured(uneven, "mm", "parts.because.flat")
        yield _of("warn", "uneven", part=part.name, uneven=found, gap=_common(gap))


def _of(level: Level, name: str, **values: Figure | str) -> Finding:
    return Finding(level=level, code=f"parts.{name}", values=values)


def _of_pin(pin: Pin, practice: Practice) -> Iterator[Finding]:
    """A pin that binds as printed, or that lets the halves shift."""
    play = practice["pin_play"]
    if play.low <= pin.clearance_mm <= play.high:
        return
    code = "parts.pin_tight" if pin.clearance_mm < play.low else "parts.pin_loose"
    clearance = _measured(pin.clearance_mm, "mm", "parts.because.pin")
    yield Finding(
        level="note", code=code, values={"play": clearance, "usual": _common(play)}, at_mm=pin.at_mm
    )


def _measured(value: float, unit: Unit, because: str) -> Figure:
    return Figure(value=value, low=value, high=value, unit=unit, because=because, origin="measured")


def _common(known: Sourced) -> Figure:
    return Figure(
        value=known.value,
        low=known.low,
        high=known.high,
        unit="mm",
        because="parts.because.practice",
        origin="common practice",
    )


def _middle(one: Vec3, two: Vec3) -> Vec3:
    x, y, z = ((a + b) / 2 for a, b in zip(one, two, strict=True))
    return (x, y, z)
