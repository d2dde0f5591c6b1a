"""The trade's story as a flow path: a paddle-tail of 127 mm, a wide tail behind a thin trunk.

Two cavities of 19.3 mL, 16 mm thick; a gate of 5 mm; a trunk 12 mm long and 5 mm tall that feeds 1.17 mL.
"""

from __future__ import annotations

import math
from dataclasses import replace

from builder.model import FlowPath, Measurement
from tests.paths_for_flow import Section, minnow_measurement, rod, slit, stations

GATE = 30
BODY_ML, TAIL_ML, TRUNK_MM = 18.0, 1.17, 12


def oval(thickness_mm: float, width_mm: float) -> Section:
    one, two = thickness_mm / 2, width_mm / 2
    root = math.sqrt((3 * one + two) * (one + 3 * two))
    return math.pi * one * two, thickness_mm, math.pi * (3 * (one + two) - root)


def sections(trunk_mm: float) -> list[Section]:
    """Feed of 30 mm, body of 95 mm, trunk of 12 mm, tail of 20 mm."""
    feed = [*[rod(9.0)] * 12, *[rod(6.5)] * 12, *[rod(5.0)] * 6]
    shape = [math.sqrt(math.sin(math.pi * (0.06 + 0.88 * (i + 0.5) / 95))) for i in range(95)]
    wide = BODY_ML * 1e3 / sum(math.pi / 4 * 16.0 * s**2 for s in shape)
    body = [oval(16.0 * s, wide * s) for s in shape]
    tail = slit(3.0, TAIL_ML * 1e3 / 20 / 3.0)
    return [*feed, *body, *[slit(*sorted((trunk_mm, 5.0)))] * TRUNK_MM, *[tail] * 20]


def path(trunk_mm: float, bait: str = "1") -> FlowPath:
    found = stations(sections(trunk_mm), GATE, 2)
    return FlowPath(name="tail", bait=bait, stations=found, gate_index=GATE, vented=True)


def measurement(trunk_mm: float, *, vents: int = 1, gate_mm: float = 5.0) -> Measurement:
    """The mold as it is measured, its sprue at the head of the path."""
    volume = sum(area for area, _, _ in sections(trunk_mm)[GATE:]) * 1e-3
    mold = minnow_measurement(trunk_mm, vents=vents, gate_mm=gate_mm)
    baits = tuple(
        replace(
            bait,
            volume_ml=volume,
            length_mm=127.0,
            height_mm=20.0,
            width_mm=16.0,
            paths=(path(trunk_mm, bait.name),),
            thinnest=path(trunk_mm).stations[GATE + 95 + 5],
        )
        for bait in mold.baits
    )
    return replace(mold, slug="paddle", baits=baits, projected_mm2=4600.0)
