"""Flow paths drawn by hand: sprue, runner, gate, body, thin trunk, tail; every section is known."""

from __future__ import annotations

import math
from collections.abc import Sequence

from builder.model import (
    Bait,
    Bolt,
    EyeSocket,
    FlowPath,
    Gate,
    Measurement,
    Runner,
    Sprue,
    Station,
    Vent,
    Wall,
)

Section = tuple[float, float, float]
"""Area mm², inscribed thickness mm, perimeter mm, of one millimetre of path."""


def rod(diameter_mm: float) -> Section:
    return math.pi * diameter_mm**2 / 4, diameter_mm, math.pi * diameter_mm


def slit(thickness_mm: float, width_mm: float) -> Section:
    return thickness_mm * width_mm, thickness_mm, 2 * (thickness_mm + width_mm)


def stations(sections: Sequence[Section], gate: int, cavities: int) -> tuple[Station, ...]:
    """One station a millimetre; before the first third of the feed all cavities lie beyond."""
    volumes = [area * 1e-3 for area, _, _ in sections]
    fork = gate // 2
    found = []
    for index, (area, thickness, perimeter) in enumerate(sections):
        beyond = sum(volumes[index:]) - volumes[index] / 2
        if index < fork:
            beyond += (cavities - 1) * sum(volumes[fork:])
        found.append(
            Station(
                s_mm=float(index),
                at_mm=(float(index), 0.0, 0.0),
                area_mm2=area,
                thickness_mm=thickness,
                perimeter_mm=perimeter,
                beyond_ml=beyond,
            )
        )
    return tuple(found)


def minnow_sections(trunk_mm: float, trunk_width_mm: float = 5.0, gate_mm: float = 4.0) -> list[Section]:
    """30 mm of feed, a 70 mm body of 14 mm, a 12 mm trunk, an 18 mm tail of 1.6 mL."""
    body = [rod(14.0 * math.sqrt(math.sin(math.pi * (0.06 + 0.88 * (i + 0.5) / 70)))) for i in range(70)]
    feed = [*[rod(8.0)] * 12, *[rod(5.2)] * 12, *[rod(gate_mm)] * 6]
    return [*feed, *body, *[slit(trunk_mm, trunk_width_mm)] * 12, *[slit(4.0, 22.0)] * 18]


GATE = 30


def minnow_path(
    trunk_mm: float, *, cavities: int = 2, bait: str = "1", vented: bool = True, gate_mm: float = 4.0
) -> FlowPath:
    found = stations(minnow_sections(trunk_mm, gate_mm=gate_mm), GATE, cavities)
    return FlowPath(name="tail", bait=bait, stations=found, gate_index=GATE, vented=vented)


def minnow_measurement(
    trunk_mm: float, *, vents: int = 1, vented: bool = True, gate_mm: float = 4.0
) -> Measurement:
    """Two minnows; `vents` for each tail."""
    sections = minnow_sections(trunk_mm)
    volume = sum(area for area, _, _ in sections[GATE:]) * 1e-3
    area, thickness, perimeter = rod(gate_mm)
    baits = []
    for name, y in (("1", -19.0), ("2", 19.0)):
        gate = Gate(
            at_mm=(0.0, y, 0.0),
            normal=(1.0, 0.0, 0.0),
            area_mm2=area,
            thickness_mm=thickness,
            perimeter_mm=perimeter,
        )
        path = minnow_path(trunk_mm, bait=name, vented=vented, gate_mm=gate_mm)
        baits.append(
            Bait(
                name=name,
                volume_ml=volume,
                area_mm2=5000.0,
                length_mm=100.0,
                height_mm=22.0,
                width_mm=14.0,
                projected_mm2=1400.0,
                at_mm=(50.0, y, 0.0),
                gates=(gate,),
                sockets=(
                    EyeSocket(at_mm=(11.0, y, 5.0), normal=(0.0, 0.0, 1.0), diameter_mm=5.0, depth_mm=0.9),
                ),
                paths=(path,),
                thinnest=path.stations[GATE + 75],
                thinnest_feeds="tail",
            )
        )
    vent = [
        Vent(
            at_mm=(100.0, y, 0.0),
            depth_mm=0.2,
            width_mm=3.0,
            length_mm=14.0,
            volume_ml=0.01,
            bait=name,
        )
        for name, y in (("1", -19.0), ("2", 19.0))
        for _ in range(vents)
    ]
    bolts = [
        Bolt(at_mm=(x, y, 0.0), direction=(0.0, 0.0, 1.0), diameter_mm=5.5, length_mm=34.0)
        for x in (-30.0, 10.0, 46.0, 106.0)
        for y in (-39.0, 0.0, 39.0)
    ]
    wall = Wall(
        kind="back", thickness_mm=10.0, from_mm=(0.0, 0.0, 7.0), to_mm=(0.0, 0.0, 17.0), names=("a", "1")
    )
    return Measurement(
        slug="minnow",
        kind="injection",
        size_mm=(150.0, 94.0, 34.0),
        parts=(),
        baits=tuple(baits),
        sprue=Sprue(
            mouth_mm=(-38.0, 0.0, 0.0),
            direction=(1.0, 0.0, 0.0),
            mouth_diameter_mm=10.0,
            volume_ml=1.2,
            modulus_mm=2.0,
        ),
        runner=Runner(volume_ml=1.0, modulus_mm=1.3),
        vents=tuple(vent),
        bolts=tuple(bolts),
        pins=(),
        walls=(wall,),
        projected_mm2=3000.0,
        parting_mm2=10000.0,
        volume_share=0.003,
        length_error_mm=0.05,
        pitch_mm=0.4,
    )
