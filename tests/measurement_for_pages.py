"""An invented measurement for tests of pages: no two of its numbers are alike."""

from __future__ import annotations

from dataclasses import replace

from builder.model import (
    Bait,
    Bolt,
    EyeSocket,
    Figure,
    Finding,
    FlowPath,
    Gate,
    Measurement,
    Origin,
    PartMeasure,
    Pin,
    Runner,
    Sprue,
    Station,
    Unit,
    Vent,
    Vouch,
    Wall,
)


def figure(value: float, unit: Unit, spread: float = 0.08, origin: Origin = "computed") -> Figure:
    return Figure(
        value=float(value),
        low=value * (1 - spread),
        high=value * (1 + spread),
        unit=unit,
        because="test.because",
        origin=origin,
    )


def station(s_mm: float, thickness_mm: float) -> Station:
    return Station(
        s_mm=s_mm,
        at_mm=(s_mm, 10.0, 0.0),
        area_mm2=thickness_mm * 5.0,
        thickness_mm=thickness_mm,
        perimeter_mm=2 * thickness_mm + 10,
        beyond_ml=1.6,
    )


def gate(x_mm: float, area_mm2: float) -> Gate:
    return Gate(
        at_mm=(x_mm, 10, 0),
        normal=(1, 0, 0),
        area_mm2=area_mm2,
        thickness_mm=area_mm2 / 4.3,
        perimeter_mm=area_mm2 * 1.13,
    )


def baits() -> tuple[Bait, ...]:
    """A long bait with three gates and two eye sockets, and a short one with one of each."""
    long = Bait(
        name="bait 1",
        volume_ml=8.5,
        area_mm2=3011.0,
        length_mm=104.0,
        height_mm=24.0,
        width_mm=11.0,
        projected_mm2=1812.0,
        at_mm=(60.0, 10.0, 0.0),
        gates=(gate(5.1, 12.4), gate(7.3, 9.6), gate(9.4, 6.9)),
        sockets=tuple(
            EyeSocket(at_mm=(12.2, 12.7, z), normal=(0, 0, 1), diameter_mm=4.87, depth_mm=0.83)
            for z in (4.1, -4.2)
        ),
        hook_slot=False,
        paths=(way("1a"),),
        thinnest=station(88.3, 1.52),
        thinnest_feeds="1a",
    )
    return long, replace(
        long,
        name="bait 2",
        volume_ml=5.7,
        area_mm2=2107.0,
        length_mm=83.0,
        height_mm=19.4,
        width_mm=9.3,
        projected_mm2=1318.0,
        gates=(gate(6.6, 7.7),),
        sockets=(EyeSocket(at_mm=(11.2, 9.9, 3), normal=(0, 0, 1), diameter_mm=3.91, depth_mm=0.57),),
        paths=(way("2b"),),
        thinnest=station(61.7, 1.27),
        thinnest_feeds="2b",
    )


def way(name: str) -> FlowPath:
    """From the sprue through a body to a thin trunk and a tail."""
    thick = [
        (0.0, 6.0),
        (10.0, 3.0),
        (14.0, 2.6),
        (40.0, 10.0),
        (80.0, 6.0),
        (96.0, 1.5),
        (104.0, 1.6),
        (118.0, 5.0),
    ]
    bait = f"bait {name[0]}"
    return FlowPath(
        name=name, bait=bait, stations=tuple(station(*t) for t in thick), gate_index=2, vented=True
    )


def vouch(file: str) -> Vouch:
    return Vouch(
        file=file,
        sha256="ab" * 32,
        size_bytes=1_284_084,
        triangles=25_680,
        volume_ml=143.2,
        size_mm=(150.0, 90.0, 18.0),
        dropped=3,
        overlapping_bodies=0,
        self_touching=False,
    )


def part(name: str, file: str, share: float) -> PartMeasure:
    """One half; its measures grow with `share`, no two of them alike."""
    return PartMeasure(
        name=name,
        file=file,
        role="half",
        size_mm=(150.6 * share, 91.2 * share, 17.9 * share),
        volume_ml=143.2 * share,
        area_mm2=40_070.0 * share,
        print_turn_deg=(180.0, 0.0, 0.0),
        bed_mm=(152.3 * share, 93.4 * share),
        height_mm=18.6 * share,
        overhang_mm2=123.0 * share,
        smallest_feature_mm=0.76 * share,
        smallest_gap_mm=0.43 * share,
        flatness_mm=0.071 * share,
        vouch=vouch(file),
    )


def measurement(slug: str) -> Measurement:
    return Measurement(
        slug=slug,
        kind="injection",
        size_mm=(155.2, 95.7, 36.4),
        parts=(part("first half", "a.stl", 1.0), part("second half", "b.stl", 0.87)),
        baits=baits(),
        sprue=Sprue(
            mouth_mm=(0, 0, 0), direction=(1, 0, 0), mouth_diameter_mm=12.1, volume_ml=4.2, modulus_mm=2.04
        ),
        runner=Runner(volume_ml=3.3, modulus_mm=1.61),
        vents=tuple(
            Vent(
                at_mm=(140 + n, 10, 0),
                depth_mm=0.29 + 0.06 * n,
                width_mm=3.1 + n,
                length_mm=8.2 + n,
                volume_ml=0.012 + 0.004 * n,
                bait=f"bait {n % 2 + 1}",
            )
            for n in range(3)
        ),
        bolts=tuple(
            Bolt(at_mm=(x, 40.0, 0), direction=(0, 0, 1), diameter_mm=diameter, length_mm=length)
            for x, diameter, length in ((10.0, 5.4, 36.1), (80.0, 5.4, 36.1), (140.0, 6.7, 33.8))
        ),
        pins=tuple(
            Pin(
                at_mm=(x, 30, 0),
                direction=(0, 0, 1),
                diameter_mm=diameter,
                length_mm=length,
                clearance_mm=slack,
            )
            for x, diameter, length, slack in ((20, 5.05, 6.4, 0.21), (120, 7.15, 7.9, 0.33))
        ),
        walls=(
            Wall(
                kind="outside",
                thickness_mm=6.1,
                from_mm=(0, 0, 0),
                to_mm=(6, 0, 0),
                names=("bait 1", "outside"),
            ),
        ),
        projected_mm2=4203.0,
        parting_mm2=9007.0,
        volume_share=0.0014,
        length_error_mm=0.023,
        pitch_mm=0.41,
        findings=(
            Finding(level="note", code="test.note"),
            Finding(level="note", code="test.face", values={"uneven": figure(0.19, "mm", 0.1, "measured")}),
        ),
    )
