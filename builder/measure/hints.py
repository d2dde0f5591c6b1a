"""What the maker told in mold.yaml, beside what was read: vents, the sprue's direction, bolts and pins."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from builder import mesh
from builder.measure.cavity.classify import Named
from builder.measure.cavity.void import Mouth, Piece, holds
from builder.measure.questions import needs_hint
from builder.model import Finding, MoldSpec, Reading

ALIKE_SHARE = 0.03
"""Holes of one drill, and pins of one kind, differ less than this in width."""
NEAR_MM = 5.0
"""A hinted point this near to a mouth's middle, or within the mouth's own width, means that mouth."""


def vented(spec: MoldSpec, shot: Sequence[tuple[Piece, Mouth, int]]) -> list[tuple[Piece, Mouth, int]]:
    """Each shot piece with its sprue and, where vents are hinted, no other mouths than theirs."""
    if not spec.hints.vents_at_mm:
        return list(shot)
    mouths = [mouth for piece, _, _ in shot for mouth in piece.mouths]
    vents = [_nearest(spec, mouths, point) for point in spec.hints.vents_at_mm]
    return [
        (
            replace(piece, mouths=tuple(mouth for mouth in piece.mouths if mouth is sprue or mouth in vents)),
            sprue,
            n,
        )
        for piece, sprue, n in shot
    ]


def _nearest(spec: MoldSpec, mouths: Sequence[Mouth], point: Sequence[float]) -> Mouth:
    """The mouth that a hinted point means; Faults when none is near."""
    mouth = min(mouths, key=lambda one: _off(one, point))
    if _off(mouth, point) > max(NEAR_MM, float(np.sqrt(mouth.area_mm2))):
        place = ", ".join(f"{value + 0.0:.1f}" for value in mouth.at)
        what = f"nothing opens to the outside at {list(point)}"
        raise needs_hint(
            spec, "hints.vents_at_mm", what, "the mouth of a vent", f"the nearest one is at [{place}]"
        )
    return mouth


def _off(mouth: Mouth, point: Sequence[float]) -> float:
    return float(np.linalg.norm(mouth.at - np.array(point)))


def useless(spec: MoldSpec, hollows: Sequence[Piece], empty: Sequence[Piece]) -> list[Finding]:
    """A warning for each point that is told to be ignored, and lies in nothing that counts as plastic."""
    found = []
    for point in spec.hints.ignore_at_mm:
        there = np.array(point)
        if not any(holds(piece, there) for piece in hollows) or any(holds(one, there) for one in empty):
            place = ", ".join(f"{value + 0.0:g}" for value in point)
            found.append(Finding(level="warn", code="reading.told_nothing", values={"place": place}))
    return found


def believed(told: int | None, widths_mm: Sequence[float]) -> list[int]:
    """Which of several like things the maker means, who tells how many there are: those of one width.

    All of them where he tells nothing, or where not just one width has so many.

    >>> believed(2, [5.5, 3.0, 5.51, 8.0, 8.0, 8.0])
    [0, 2]
    >>> believed(0, [5.5, 3.0])
    []
    >>> believed(4, [5.5, 5.5, 5.5])
    [0, 1, 2]
    """
    every = list(range(len(widths_mm)))
    if told is None or told >= len(every):
        return every
    alike = {
        tuple(k for k in every if abs(widths_mm[k] / width - 1) < ALIKE_SHARE) for width in widths_mm if told
    }
    fitting = [group for group in alike if len(group) == told]
    return [] if told == 0 else list(fitting[0]) if len(fitting) == 1 else every


def chosen(name: str, told: int | None, found: int, kept: int) -> list[Finding]:
    """What to say where the maker's count was believed."""
    if kept == found:
        return []
    values = {"told": str(told), "found": str(found)}
    return [Finding(level="note", code=f"reading.chosen_{name}", values=values)]


def with_told_bolts(spec: MoldSpec, named: Named) -> tuple[Named, list[Finding]]:
    """The bolt holes that the maker means who tells their number, the others as recesses; what to say."""
    kept = believed(spec.hints.bolts, [bolt.diameter_mm for bolt in named.bolts])
    return named.keeping(kept), chosen("bolts", spec.hints.bolts, len(named.bolts), len(kept))


def applied(spec: MoldSpec, reading: Reading) -> Reading:
    """The reading with the hinted direction of the sprue, and with a warning for each count that differs."""
    measured, hints = reading.measurement, spec.hints
    sprue = measured.sprue
    if sprue and hints.sprue_direction:
        direction = np.array(hints.sprue_direction)
        sprue = replace(sprue, direction=mesh.vec(direction / np.linalg.norm(direction)))
    counts = (("bolts", hints.bolts, len(measured.bolts)), ("pins", hints.pins, len(measured.pins)))
    differing = tuple(
        Finding(level="warn", code=f"reading.told_{name}", values={"told": str(told), "found": str(found)})
        for name, told, found in counts
        if told is not None and told != found
    )
    findings = (*measured.findings, *differing)
    return replace(reading, measurement=replace(measured, sprue=sprue, findings=findings))
