"""Invented advice for tests of pages: no two of its numbers are alike."""

from __future__ import annotations

import itertools
from dataclasses import replace

from builder.model import (
    Advice,
    Amounts,
    BatchRow,
    Finding,
    Finished,
    PathVerdict,
    Plan,
    Sensitivity,
    ShotCompared,
    ShotLog,
    ShotTimes,
    Trouble,
    Window,
    WindowPlot,
)
from tests.measurement_for_pages import figure, station

PLASTISOLS = ("soft", "medium", "hard", "salted")
MATERIALS = ("pla", "petg", "abs", "asa", "pc", "resin", "heat-resin", "aluminium")


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
        finished=tuple(cold_bait(bait, shift) for bait in range(cavities)),
        hand={
            "cup": figure(63.7 + 4.4 * shift, "s", 0.3),
            "salt_sinks": figure(1.43 + 0.17 * shift, "mm", 0.6),
            "flake_sinks": figure(0.37 + 0.06 * shift, "mm", 0.6),
            "injector_cold": figure(13.2 + 0.7 * shift, "k", 0.3),
            "injector_warm": figure(7.6 + 0.4 * shift, "k", 0.3),
        },
        salted=plastisol == PLASTISOLS[-1],
    )


def cold_bait(bait: int, shift: int) -> Finished:
    """It sinks in fresh water, and floats in the sea."""
    sinks = figure(0.273 + 0.04 * shift - 0.09 * bait, "g")
    return Finished(
        length_mm=figure(101.3 - 0.3 * shift - 16.7 * bait, "mm", 0.004),
        volume_ml=figure(8.23 - 0.06 * shift - 2.71 * bait, "ml", 0.02),
        lift_fresh_g=replace(sinks, value=-sinks.value, low=-sinks.high, high=-sinks.low),
        lift_sea_g=figure(0.156 + 0.03 * shift - 0.02 * bait, "g"),
        carries_fresh_g=figure(0.047 + 0.02 * shift + 0.01 * bait, "g"),
        carries_sea_g=figure(0.191 + 0.05 * shift + 0.03 * bait, "g"),
        jig_fresh_g=figure(6.43 + 0.11 * shift - 0.07 * bait, "g"),
        jig_sea_g=figure(6.02 + 0.13 * shift - 0.06 * bait, "g"),
        salt_g=figure(9.17 + 0.37 * shift - 2.9 * bait, "g"),
        salt_fresh_g=replace(sinks, value=-2.3 * sinks.value, low=-2.5 * sinks.high, high=-2.1 * sinks.low),
        salt_sea_g=replace(sinks, value=-1.7 * sinks.value, low=-1.8 * sinks.high, high=-1.6 * sinks.low),
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
            "gap": replace(figure(0.047, "mm", 0.6), because="test.because_gap"),
            "cup": replace(figure(63.7, "s", 0.3), because="test.because_cup"),
            "flake_sinks": replace(figure(0.37, "mm", 0.6), because="test.because_flake_sinks"),
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
