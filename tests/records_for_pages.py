"""An invented mold as the pages get it, made without files: for tests of pages, site and scripts."""

from __future__ import annotations

import itertools
from pathlib import Path

from builder.model import (
    Advice,
    Amounts,
    Bait,
    BatchRow,
    Bolt,
    Download,
    EyeSocket,
    Figure,
    Finding,
    FlowPath,
    Gate,
    Measurement,
    MoldRecord,
    MoldSpec,
    Origin,
    PartMeasure,
    PartSpec,
    PathVerdict,
    Picture,
    Pin,
    Runner,
    Sprue,
    Station,
    Unit,
    Vent,
    Vouch,
    Wall,
    Window,
    WindowPlot,
)

PLASTISOLS = ("soft", "medium", "hard", "salted")
MATERIALS = ("pla", "petg", "abs", "asa", "pc", "resin", "heat-resin", "aluminium")


def figure(value: float, unit: Unit, spread: float = 0.08, origin: Origin = "computed") -> Figure:
    return Figure(
        value=value,
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


def bait(name: str, volume_ml: float, length_mm: float) -> Bait:
    return Bait(
        name=name,
        volume_ml=volume_ml,
        area_mm2=3000.0,
        length_mm=length_mm,
        height_mm=24.0,
        width_mm=11.0,
        projected_mm2=1800.0,
        at_mm=(60.0, 10.0, 0.0),
        gates=(Gate(at_mm=(5, 10, 0), normal=(1, 0, 0), area_mm2=12.0, thickness_mm=3.0, perimeter_mm=13.0),),
        sockets=(EyeSocket(at_mm=(12, 12, 4), normal=(0, 0, 1), diameter_mm=5.0, depth_mm=0.8),),
        hook_slot=False,
        paths=(way(name),),
        thinnest=station(88.0, 1.5),
        thinnest_feeds="tail",
    )


def way(bait: str) -> FlowPath:
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
    return FlowPath(
        name="tail", bait=bait, stations=tuple(station(*t) for t in thick), gate_index=2, vented=True
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


def part(name: str, file: str) -> PartMeasure:
    return PartMeasure(
        name=name,
        file=file,
        role="half",
        size_mm=(150.0, 90.0, 18.0),
        volume_ml=143.2,
        area_mm2=40_000.0,
        print_turn_deg=(180.0, 0.0, 0.0),
        bed_mm=(150.0, 90.0),
        height_mm=18.0,
        overhang_mm2=120.0,
        smallest_feature_mm=0.8,
        smallest_gap_mm=0.4,
        flatness_mm=0.02,
        vouch=vouch(file),
    )


def plot() -> WindowPlot:
    times = tuple(0.5 * 1.4**n for n in range(10))
    return WindowPlot(
        injection_s=times,
        fill_low_c=tuple(128 + 3.4 * t for t in times),
        fill_c=tuple(134 + 5 * t for t in times),
        fill_high_c=tuple(140 + 8 * t for t in times),
        mold_limit_c=figure(172, "c", 0.03),
        plastisol_limit_c=figure(182, "c", 0.03, "common practice"),
        lowest_c=120.0,
        highest_c=200.0,
        shoot_c=figure(161, "c", 0.03),
        shoot_s=figure(2.4, "s", 0.5),
    )


def window(plastisol: str, material: str, works: bool) -> Window:
    shift = 3.0 * PLASTISOLS.index(plastisol) + 4.0 * MATERIALS.index(material)
    return Window(
        plastisol=plastisol,
        mold_material=material,
        fill_c=figure(150 + shift, "c"),
        mold_limit_c=figure(160 + 2 * shift, "c"),
        plastisol_limit_c=figure(182, "c", 0.03, "common practice"),
        shoot_c=figure(158 + shift, "c", 0.03) if works else None,
        sure_c=(154 + shift, 162 + shift) if works else None,
        likely_c=(150 + shift, 168 + shift) if works else None,
        hold_s=figure(38 + shift, "s", 0.3),
        cool_s=figure(240 + shift, "s", 0.3),
        rest_s=figure(300 + 5 * shift, "s", 0.4),
        paths=(
            PathVerdict(
                path="tail",
                bait="bait 1",
                margin=figure(1.4 if works else 0.7, "count", 0.3),
                deciding=station(88.0, 1.5),
                needed_mm=None if works else figure(2.0, "mm", 0.2),
            ),
        ),
        plot=plot() if (plastisol, material) == ("medium", "pla") else None,
        findings=()
        if works
        else (Finding(level="stop", code="test.short", values={"wall": figure(1.5, "mm")}),),
    )


def amounts(plastisol: str) -> Amounts:
    shift = PLASTISOLS.index(plastisol)
    return Amounts(
        plastisol=plastisol,
        bait_g=(figure(8.4 + shift, "g"), figure(8.4 + shift, "g")),
        shot_ml=figure(24.4, "ml"),
        shot_g=figure(24.0 + shift, "g"),
        batch=tuple(
            BatchRow(
                baits=n,
                shots=-(-n // 2),
                heat_ml=figure(24.4 * -(-n // 2) * 1.1, "ml"),
                heat_g=figure((24.0 + shift) * -(-n // 2) * 1.1, "g"),
            )
            for n in range(1, 51)
        ),
    )


def advice() -> Advice:
    pairs = sorted(itertools.product(PLASTISOLS, MATERIALS), key=lambda pair: pair != ("medium", "pla"))
    return Advice(
        figures={
            "bait_length": figure(104.0, "mm", 0.001, "measured"),
            "bait_volume": figure(8.5, "ml", 0.005, "measured"),
        },
        amounts=tuple(amounts(p) for p in sorted(PLASTISOLS, key=lambda p: p != "medium")),
        windows=tuple(window(p, m, works=m != "resin") for p, m in pairs),
        findings=(
            Finding(level="warn", code="test.thin", values={"wall": figure(1.2, "mm"), "where": "tail"}),
        ),
        eye_mm=figure(5.0, "mm", 0.0, "measured"),
        eye_suggested=False,
    )


def measurement(slug: str) -> Measurement:
    return Measurement(
        slug=slug,
        kind="injection",
        size_mm=(150.0, 90.0, 36.0),
        parts=(part("first half", "a.stl"), part("second half", "b.stl")),
        baits=(bait("bait 1", 8.5, 104.0), bait("bait 2", 8.5, 104.0)),
        sprue=Sprue(
            mouth_mm=(0, 0, 0), direction=(1, 0, 0), mouth_diameter_mm=12.0, volume_ml=4.0, modulus_mm=2.0
        ),
        runner=Runner(volume_ml=3.2, modulus_mm=1.6),
        vents=(
            Vent(at_mm=(140, 10, 0), depth_mm=0.3, width_mm=3, length_mm=8, volume_ml=0.01, bait="bait 1"),
        ),
        bolts=tuple(
            Bolt(at_mm=(x, y, 0), direction=(0, 0, 1), diameter_mm=5.4, length_mm=36.0)
            for x in (10.0, 140.0)
            for y in (-40.0, 40.0)
        ),
        pins=(Pin(at_mm=(20, 30, 0), direction=(0, 0, 1), diameter_mm=5, length_mm=6, clearance_mm=0.2),),
        walls=(
            Wall(
                kind="outside",
                thickness_mm=6.1,
                from_mm=(0, 0, 0),
                to_mm=(6, 0, 0),
                names=("bait 1", "outside"),
            ),
        ),
        projected_mm2=4200.0,
        parting_mm2=9000.0,
        volume_share=0.001,
        length_error_mm=0.02,
        pitch_mm=0.4,
        findings=(Finding(level="note", code="test.note"),),
    )


def mold(
    slug: str = "test-minnow", folder: Path = Path("molds"), title: str = "Test minnow <& co>"
) -> MoldRecord:
    parts = tuple(PartSpec(file=f, path=folder / slug / f, role="half", name=f) for f in ("a.stl", "b.stl"))
    return MoldRecord(
        spec=MoldSpec(
            slug=slug,
            folder=folder / slug,
            title=title,
            kind="injection",
            parts=parts,
            cavities=2,
            plastisol="medium",
            mold_material="pla",
            units="mm",
            summary="A slim minnow with a wide tail; *not* bold & not <b>.",
            bait_type="minnow",
            target=("perch", "zander"),
            author="The test bench",
        ),
        measurement=measurement(slug),
        advice=advice(),
        pictures=(
            Picture(
                name="open",
                files={400: "open-400.webp", 1200: "open-1200.webp"},
                width_px=1200,
                height_px=800,
                alt=Finding(level="note", code="test.note"),
            ),
        ),
        assets=folder / slug,
        downloads=tuple(
            Download(name=p.file, path=p.path, size_bytes=1_284_084, sha256="ab" * 32) for p in parts
        ),
    )


SENTENCES = {
    "test.because": "Taken from the test.",
    "test.short": "The trunk is only {wall}; it will not fill.",
    "test.thin": "The wall at the {where} is {wall}.",
    "test.note": "Nothing to do.",
}
