"""What the maker told in mold.yaml, beside what was read: vents, the sprue's direction, bolts and pins."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from builder import mesh
from builder.measure.cavity.void import Mouth, Piece, holds
from builder.measure.questions import needs_hint
from builder.model import Finding, MoldSpec, Reading

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
