"""Invented molds as the pages get them, made without files: for tests of pages, site and scripts.

No two of a mold's measures are alike, so that a test sees when one stands where another belongs.
"""

from __future__ import annotations

import itertools
from dataclasses import replace
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
    Plan,
    Runner,
    Sensitivity,
    ShotCompared,
    ShotLog,
    ShotTimes,
    Sprue,
    Station,
    Trouble,
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


def plot() -> WindowPlot:
    times = tuple(0.5 * 1.4**n for n in range(10))
    return WindowPlot(
        injection_s=times,
        fill_low_c=tuple(min(128 + 3.4 * t, 181.0) for t in times),
        fill_c=tuple(min(134 + 5 * t, 181.0) for t in times),
        fill_high_c=tuple(min(140 + 8 * t, 181.0) for t in times),
        mold_limit_c=figure(172, "c", 0.03),
        plastisol_limit_c=figure(181, "c", 0.0, "common practice"),
        lowest_c=120.0,
        highest_c=181.0,
        shoot_c=figure(161, "c", 0.03),
        shoot_s=figure(2.4, "s", 0.5),
    )


def shot_times(shift: float) -> tuple[ShotTimes, ...]:
    """Times of six shots, no two alike; the first needs no rest after it."""
    return tuple(
        ShotTimes(
            shot=shot,
            open_s=figure(243 + 11 * shift + 13.1 * row, "s", 0.35),
            hurried_s=figure(243.7 + 11 * shift + 41.3 * row, "s", 0.35),
            cold_s=figure(977 + 23 * shift + 61.7 * row, "s", 0.3),
            rest_s=figure(391 + 17 * shift - 3.7 * (5 - row), "s", 0.4) if row else figure(0.0, "s"),
        )
        for row, shot in enumerate((1, 2, 3, 5, 10, 0))
    )


def plans(shift: float, whole: bool) -> tuple[Plan, ...]:
    """One to four molds in turn."""
    return tuple(
        Plan(
            molds=molds,
            baits_per_h=figure(7.3 + 5.9 * molds + shift / 9, "count", 0.2),
            total_s=tuple(
                (baits, figure(baits * 340.0 / (molds + 0.7), "s", 0.2)) for baits in (12, 24, 50) if whole
            ),
            busy_from=5,
        )
        for molds in (1, 2, 3, 4)
    )


def window(plastisol: str, material: str, works: bool) -> Window:
    p, m = PLASTISOLS.index(plastisol), MATERIALS.index(material)
    shift = 1.7 * p + 6.8 * m
    times, own = shot_times(shift), (plastisol, material) == ("medium", "pla")
    shoot = figure(141 + shift / 2, "c", 0.03) if works else None
    limit = figure(181 + 1.3 * p, "c", 0.0, "common practice")
    return Window(
        plastisol=plastisol,
        mold_material=material,
        fill_c=figure(121 + shift / 2, "c", 0.04) if material != "pc" else None,
        mold_limit_c=figure(161.5 + 0.2 * shift, "c", 0.06) if material != "aluminium" else None,
        plastisol_limit_c=limit,
        shoot_c=shoot,
        trial_c=shoot or limit,
        sure_c=(137 + shift / 2, 145 + shift / 2) if works else None,
        likely_c=(133 + shift / 2, 151 + shift / 2) if works else None,
        hold_s=figure(14.3 + 1.7 * shift, "s", 0.3),
        cool_s=times[0].open_s,
        cold_s=times[0].cold_s,
        rest_s=times[-1].rest_s if material != "petg" else None,
        no_rest="" if material != "petg" else "over_an_hour",
        times=times,
        plans=plans(shift, own) if works else (),
        paths=(
            PathVerdict(
                path="1a",
                bait="bait 1",
                margin=figure((1.4 if works else 0.7) + shift / 50, "count", 0.3),
                deciding=station(88.3, 1.52),
                needed_mm=None if works else figure(2.03 + shift / 40, "mm", 0.2),
            ),
            PathVerdict(
                path="2b",
                bait="bait 2",
                margin=figure(0.93 + shift / 45, "count", 0.25),
                deciding=station(-6.2, 1.27),
                needed_mm=figure(1.71 + shift / 30, "mm", 0.15),
            ),
        ),
        plot=plot() if own else None,
        findings=(
            Finding(level="note", code="test.near", values={"gap": figure(0.37 + shift / 70, "mm")}),
            *(
                ()
                if works
                else (
                    Finding(
                        level="stop", code="test.short", values={"wall": figure(1.53 + shift / 60, "mm")}
                    ),
                )
            ),
        ),
        troubles=(
            Trouble(
                code="test.dent",
                chance=figure(0.31 + shift / 200, "share", 0.2),
                values={"push": figure(17.2 + 1.9 * shift, "s", 0.3)},
            ),
            Trouble(
                code="test.warp",
                chance=figure(0.13 + shift / 300, "share", 0.2),
                values={"soft": figure(0.22 + shift / 250, "share", 0.2)},
            ),
        ),
    )


def amounts(plastisol: str, cavities: int = 2) -> Amounts:
    shift = PLASTISOLS.index(plastisol)
    one_ml, shot_g = 26.9 + 0.9 * shift, 24.1 + 1.6 * shift
    one_g = shot_g * 1.12
    return Amounts(
        plastisol=plastisol,
        bait_g=tuple(figure(grams + 0.31 * shift, "g") for grams in (8.32, 5.64)[:cavities]),
        bait_ml=tuple(figure(ml + 0.17 * shift, "ml") for ml in (8.07, 5.41)[:cavities]),
        density_g_ml=figure(1.03 + 0.01 * shift, "g_ml", 0.03, "common practice"),
        shot_ml=figure(23.6 + 0.7 * shift, "ml"),
        shot_g=figure(shot_g, "g"),
        batch=tuple(
            BatchRow(
                baits=n,
                shots=-(-n // cavities),
                heat_ml=figure(one_ml * -(-n // cavities), "ml"),
                heat_g=figure(one_g * -(-n // cavities), "g", 0.11),
            )
            for n in range(1, 51)
        ),
    )


def advice(
    own: tuple[str, str] = ("medium", "pla"), shut: tuple[str, ...] = ("resin",), cavities: int = 2
) -> Advice:
    """Everything said of a mold whose own pair is `own`; in the materials `shut` nothing works."""
    pairs = sorted(
        itertools.product(PLASTISOLS, MATERIALS), key=lambda pair: (pair[0] != own[0], pair != own)
    )
    return Advice(
        figures={
            "bait_length": figure(104.0, "mm", 0.001, "measured"),
            "bait_volume": figure(8.07, "ml", 0.005),
            "cavity_volume": figure(8.5, "ml", 0.006, "measured"),
            "shrink": replace(figure(0.062, "share", 0.3), because="test.because_shrink"),
            "clamp_force": replace(figure(412.0, "n", 0.3), because="test.because_force"),
            "thinnest": replace(figure(1.27, "mm", 0.02, "measured"), because="test.because_thinnest"),
        },
        amounts=tuple(amounts(p, cavities) for p in sorted(PLASTISOLS, key=lambda p: p != own[0])),
        windows=tuple(window(p, m, works=m not in shut) for p, m in pairs),
        findings=(
            Finding(level="warn", code="test.thin", values={"wall": figure(1.16, "mm"), "where": "tail"}),
        ),
        eye_mm=figure(5.2, "mm", 0.0, "measured"),
        eye_suggested=False,
        sensitivity=(
            Sensitivity(
                constant="density",
                unit="g_ml",
                low=0.93,
                high=1.04,
                fill_at_low_c=117.3,
                fill_at_high_c=126.2,
                swing_k=8.9,
            ),
            Sensitivity(
                constant="conductivity",
                unit="w_mk",
                low=0.11,
                high=0.19,
                fill_at_low_c=124.4,
                fill_at_high_c=119.1,
                swing_k=5.3,
            ),
        ),
        shots=(
            ShotCompared(
                shot=ShotLog(
                    date="2026-02-03",
                    plastisol="medium",
                    shot_c=158.0,
                    mold_material="pla",
                    in_a_row=3,
                    outcome="short",
                    short_at="tail",
                    note="Cold room",
                ),
                expected="full",
                chance=figure(0.64, "share", 0.0),
                agrees=False,
            ),
        ),
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


def mold(
    slug: str = "test-minnow", folder: Path = Path("molds"), title: str = "Test minnow <& co>"
) -> MoldRecord:
    names = ("a.stl", "b.stl")
    parts = tuple(PartSpec(file=f, path=folder / slug / f, role="half", name=f) for f in names)
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
            Download(name=p.file, path=p.path, size_bytes=size, sha256=sha * 32)
            for p, size, sha in zip(parts, (1_284_084, 973_284), ("ab", "c7"), strict=True)
        ),
    )


REASONED = ("shoot_c", "fill_c", "mold_limit_c", "plastisol_limit_c", "hold_s", "cool_s", "cold_s", "rest_s")
"""Figures of a window that a page tells the reason of."""
SENTENCES = {
    "test.because": "Taken from the test.",
    "test.short": "The trunk is only {wall}; it will not fill.",
    "test.thin": "The wall at the {where} is {wall}.",
    "test.note": "Nothing to do.",
    "test.near": "The halves part by {gap} there.",
    "test.face": "The parting face is uneven by {uneven}.",
    "test.dent": "The bait has a dent",
    "test.dent_cure": "Keep pushing for {push} and top it up.",
    "test.warp": "The mold warps",
    "test.warp_cure": "A shot softens {soft} of the wall; cool it longer.",
    "test.picture": "The bait alone, {length} long and {width} wide; vents: {vents}.",
    "test.because_shrink": "Shrunk in the test.",
    "test.because_force": "Pressed in the test.",
    "test.because_thinnest": "Thinned in the test.",
    "test.because_bait_length": "Lengthened in the test.",
    "test.because_bait_volume": "Filled in the test.",
    "test.because_cavity_volume": "Hollowed in the test.",
    "test.because_clamp_force": "Clamped in the test.",
    **{f"test.because_{name}": f"Told of {name} in the test." for name in REASONED},
    "test.label": "Widest there",
}
