"""Findings on walls and printed parts: thin walls, overhangs, small features, uneven faces, pins."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from builder.base import figures
from builder.model import Figure, Finding, Level, Measurement, PartMeasure, Pin, Sourced, Vec3, Wall

Practice = Mapping[str, Sourced]
_LINES = 2.0
"""A feature narrower than two beads of the nozzle is one bead or none (common practice, no source)."""
NOTHING_MM = 0.05
"""What is thinner is said in words: it runs out to nothing in a print, and its size tells nobody anything."""


def of_parts(measurement: Measurement, practice: Practice) -> tuple[Finding, ...]:
    """Findings on walls, printed parts and pins, in this order; empty for a bait alone."""
    read = figures.measured(measurement)
    walls, pins = enumerate(measurement.walls), enumerate(measurement.pins)
    printed = [(k, part) for k, part in enumerate(measurement.parts) if part.role != "bait"]
    return (
        *(found for k, wall in walls for found in _of_wall(wall, read[f"wall.{k}"], practice)),
        *(found for k, part in printed for found in _of_part(part, _below(read, f"part.{k}."), practice)),
        *(found for k, pin in pins for found in _of_pin(pin, read.get(f"pin.{k}.clearance"), practice)),
    )


def _below(read: Mapping[str, Figure], place: str) -> dict[str, Figure]:
    """The figures whose keys start with the place, by the rest of their keys."""
    return {key.removeprefix(place): figure for key, figure in read.items() if key.startswith(place)}


def _of_wall(wall: Wall, thickness: Figure, practice: Practice) -> Iterator[Finding]:
    """A finding on a wall that is too thin for hand-tight bolts and hand pressure."""
    least = practice["thin_wall"]
    if wall.thickness_mm >= least.value:
        return
    one, other = wall.names
    if wall.thickness_mm < NOTHING_MM:
        place = _middle(wall.from_mm, wall.to_mm)
        yield Finding(level="warn", code="parts.no_wall", values={"bait": one}, at_mm=place)
        return
    yield Finding(
        level="warn" if wall.thickness_mm < least.low else "note",
        code=f"parts.wall_{wall.kind}",
        values={
            "wall": thickness,
            "bait": one,
            "other": other.removeprefix("bolt "),
            "least": _usual(least),
        },
        at_mm=_middle(wall.from_mm, wall.to_mm),
    )


def _of_part(part: PartMeasure, read: Mapping[str, Figure], practice: Practice) -> Iterator[Finding]:
    """Findings on one printed part: overhang, thin features, narrow gaps, an uneven parting face."""
    nozzle, gap = practice["nozzle"], practice["flash_gap"]
    feature, narrow, uneven = part.smallest_feature_mm, part.smallest_gap_mm, part.flatness_mm
    if part.overhang_mm2 > practice["overhang"].value:
        yield _of("note", "overhang", part=part.name, area=read["overhang"])
    if feature is not None and feature < NOTHING_MM:
        yield _of("warn", "knife_edge", part=part.name)
    elif feature is not None and feature < _LINES * nozzle.value:
        yield _of("warn", "thin_feature", part=part.name, feature=read["feature"], nozzle=_usual(nozzle))
    if narrow is not None and narrow < NOTHING_MM:
        yield _of("note", "touching", part=part.name)
    elif narrow is not None and narrow < nozzle.value:
        yield _of("note", "narrow_gap", part=part.name, gap=read["gap"], nozzle=_usual(nozzle))
    if uneven is not None and uneven > gap.value:
        yield _of("warn", "uneven", part=part.name, uneven=read["flat"], gap=_usual(gap))


def _of(level: Level, name: str, **values: Figure | str) -> Finding:
    return Finding(level=level, code=f"parts.{name}", values=values)


def _of_pin(pin: Pin, clearance: Figure | None, practice: Practice) -> Iterator[Finding]:
    """A pin that binds as printed, or that lets the halves shift; nothing for a loose dowel."""
    play = practice["pin_play"]
    if pin.clearance_mm is None or clearance is None or play.low <= pin.clearance_mm <= play.high:
        return
    code = "parts.pin_tight" if pin.clearance_mm < play.low else "parts.pin_loose"
    yield Finding(level="note", code=code, values={"play": clearance, "usual": _usual(play)}, at_mm=pin.at_mm)


def _usual(known: Sourced) -> Figure:
    return figures.of_table(known, "parts.because.practice")


def _middle(one: Vec3, two: Vec3) -> Vec3:
    x, y, z = ((a + b) / 2 for a, b in zip(one, two, strict=True))
    return (x, y, z)
