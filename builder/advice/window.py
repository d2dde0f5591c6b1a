"""The shooting window of every plastisol in every mold material, with its sure and likely parts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from builder import flow
from builder.advice import heating, paths, samples
from builder.advice.paths import Way
from builder.advice.samples import Constants, Pair
from builder.heat import Array
from builder.model import (
    Figure,
    Measurement,
    PathVerdict,
    Sensitivity,
    Sourced,
    Window,
    WindowPlot,
)

LIKELY, SURE = 0.5, 0.95
_MARGINS = np.array([1.0, 1.5])
_THICKER = np.geomspace(0.4, 5.0, 15)
"""Thicknesses of a deciding section, as multiples of its own, at which its margin is looked up."""
_RATES_ML_S = np.geomspace(1.5, 80.0, 14)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """What all windows of a mold stand on; arrays of shape (pairs, samples)."""

    measurement: Measurement
    pairs: tuple[Pair, ...]
    practice: Mapping[str, Sourced]
    constants: Constants
    ways: tuple[Way, ...]
    rows: flow.Rows | None
    """The sections that can decide; None where nothing is known of the paths."""
    fill_c: Array
    mold_limit_c: Array
    limit_c: Array
    hot: heating.Heating
    body: heating.Body


def ground(measurement: Measurement, pairs: Sequence[Pair], practice: Mapping[str, Sourced]) -> Ground:
    """Solve all pairs at once."""
    constants = samples.draw(pairs, practice)
    found = paths.ways(measurement)
    rows = paths.deciding(found, samples.central(pairs, practice)) if found else None
    fill = paths.fill_limit_c(rows, constants) if rows else constants["set"] + constants["on_the_way"]
    thick = heating.body(measurement, practice)
    hot = heating.heating(thick, constants)
    return Ground(
        measurement=measurement,
        pairs=tuple(pairs),
        practice=practice,
        constants=constants,
        ways=found,
        rows=rows,
        fill_c=fill,
        mold_limit_c=heating.mold_limit_c(hot),
        limit_c=constants["limit"],
        hot=hot,
        body=thick,
    )


def fill_limits(
    measurement: Measurement, pairs: Sequence[Pair], practice: Mapping[str, Sourced], count: int
) -> Array | None:
    """Fill limits alone, from as many samples as asked, (pairs, count); None without known paths."""
    found = paths.ways(measurement)
    if not found:
        return None
    rows = paths.deciding(found, samples.central(pairs, practice))
    return paths.fill_limit_c(rows, samples.draw(pairs, practice, count))


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """Where to shoot one pair; `shoot_c` is None when the window is empty, `trial_c` the hottest try then."""

    shoot_c: float | None
    trial_c: float
    sure_c: tuple[float, float] | None
    likely_c: tuple[float, float] | None


def point(known: Ground, index: int) -> Point:
    """The recommended temperature: within the trade's range, where most samples fill and nothing suffers."""
    fill = known.fill_c[index]
    top = np.minimum(known.mold_limit_c[index], known.limit_c[index])
    trade = known.pairs[index].plastisol.values["shoot"]
    tried = np.arange(np.ceil(trade.low), np.floor(trade.high) + 1)
    good = np.mean((fill <= tried[:, None]) & (tried[:, None] <= top), axis=1)
    best = tried[good >= good.max() - 0.05]
    middle = float(best[len(best) // 2])
    return Point(
        shoot_c=middle if good.max() >= LIKELY else None,
        trial_c=middle if good.max() >= LIKELY else trade.high,
        sure_c=_between(np.percentile(fill, 100 * SURE), np.percentile(top, 100 * (1 - SURE))),
        likely_c=_between(np.percentile(fill, 100 * LIKELY), np.percentile(top, 100 * LIKELY)),
    )


def _between(low: np.floating, high: np.floating) -> tuple[float, float] | None:
    return (float(low), float(high)) if low <= high else None


def window(known: Ground, index: int, *, whole: bool) -> Window:
    """The window of one pair; `whole` for the mold's own, with every path and the data of its drawing."""
    where = point(known, index)
    constants = {name: values[[index]] for name, values in known.constants.items()}
    likely = where.likely_c or (where.trial_c, where.trial_c)
    shoot = where.shoot_c and Figure(
        value=where.shoot_c,
        low=min(where.shoot_c, likely[0]),
        high=max(where.shoot_c, min(likely[1], known.pairs[index].plastisol.values["limit"].high)),
        unit="c",
        because="advice.because.shoot",
        origin="computed",
    )
    limits = (
        samples.figure(known.fill_c[index], "c", "advice.because.fill_limit"),
        samples.figure(known.mold_limit_c[index], "c", "advice.because.mold_limit"),
        _known(known.pairs[index].plastisol.values["limit"], "advice.because.plastisol_limit"),
    )
    return Window(
        plastisol=known.pairs[index].plastisol.id,
        mold_material=known.pairs[index].mold.id,
        fill_c=limits[0],
        mold_limit_c=limits[1],
        plastisol_limit_c=limits[2],
        shoot_c=shoot or None,
        sure_c=where.sure_c,
        likely_c=where.likely_c,
        **_times(known, index, where.trial_c, constants),
        paths=verdicts(known, constants, where.trial_c, every=whole),
        findings=(),
        plot=_plot(known, constants, limits, shoot or None) if whole else None,
    )


def _known(value: Sourced, because: str) -> Figure:
    return Figure(
        value=value.value,
        low=value.low,
        high=value.high,
        unit=value.unit,
        because=because,
        origin="common practice",
    )


def _times(known: Ground, index: int, shot_c: float, constants: Constants) -> dict[str, Figure]:
    """Hold, cooling and rest of one pair at one temperature."""
    one = heating.only(known.hot, index)
    temperature = np.full_like(one.some["room"], shot_c)
    return {
        "hold_s": samples.figure(hold_s(known, constants, shot_c), "s", "advice.because.hold"),
        "cool_s": samples.figure(heating.cool_s(one, temperature), "s", "advice.because.cool"),
        "rest_s": samples.figure(heating.rest_s(one, temperature), "s", "advice.because.rest"),
    }


def hold_s(known: Ground, constants: Constants, shot_c: float) -> Array:
    """Seconds until the slowest gate sets; in an open mold, until its thickest section does."""
    gates = [gate for bait in known.measurement.baits for gate in bait.gates]
    sizes = [(g.thickness_mm, 4 * g.area_mm2 / (g.perimeter_mm * g.thickness_mm) - 1) for g in gates]
    sizes = sizes or [(known.body.thickness_mm, known.body.flatness)]
    return np.asarray(np.max([set_s(constants, shot_c, *size) for size in sizes], axis=0))


def set_s(constants: Constants, shot_c: float, thickness_mm: float, flatness: float) -> Array:
    """Seconds until the middle of one section sets, of the constants' shape."""
    ones = np.ones(1)
    asked = flow.Rows(
        thickness_mm=thickness_mm * ones,
        flatness=np.clip(flatness * ones, 0.0, 1.0),
        needs_ml=ones,
        share=ones,
        stays=ones,
        skins=ones,
    )
    shot = paths.shot(constants, np.full_like(constants["room"], shot_c))
    return flow.set_and_skin(asked, shot)[0][..., 0]


def verdicts(known: Ground, constants: Constants, shot_c: float, *, every: bool) -> tuple[PathVerdict, ...]:
    """What each path does at a temperature, worst first; only the worst path unless `every` is asked for."""
    shot = paths.shot(constants, np.full_like(constants["room"], shot_c))
    judged = [(way, flow.fill_margins(way.rows, shot)[0]) for way in known.ways]
    judged.sort(key=lambda item: float(np.median(item[1].min(axis=-1))))
    return tuple(_verdict(way, margins, shot) for way, margins in judged[: None if every else 1])


def _verdict(way: Way, margins: Array, shot: flow.Shot) -> PathVerdict:
    """One path: its margin, the section that decides, the thickness that it needs."""
    margin = samples.figure(margins.min(axis=-1), "count", "advice.because.margin")
    section = int(np.argmin(np.median(margins, axis=0)))
    critical, needed = thicknesses(way, section, shot)
    return PathVerdict(
        path=way.path.name,
        bait=way.path.bait,
        margin=margin,
        deciding=way.path.stations[way.sections.station[section]],
        needed_mm=None if margin.value >= _MARGINS[1] else needed,
        critical_mm=critical,
    )


def thicknesses(way: Way, section: int, shot: flow.Shot) -> tuple[Figure, Figure]:
    """Thickness of the place around a section at which its own margin is 1, and 1.5."""
    run = flow.thin_run(way.sections, section)
    tried = way.sections.thickness_mm[section] * _THICKER
    lowest = [
        flow.fill_margins(flow.rows(flow.resized(way.sections, run, x)).pick(run), shot)[0].min(axis=-1)
        for x in tried
    ]
    rising = np.maximum.accumulate(np.log(np.maximum(np.array(lowest), 1e-12)), axis=0)
    found = [
        np.exp([np.interp(np.log(margin), column, np.log(tried)) for column in rising.T])
        for margin in _MARGINS
    ]
    return (
        samples.figure(found[0], "mm", "advice.because.critical"),
        samples.figure(found[1], "mm", "advice.because.needed"),
    )


def _plot(
    known: Ground, constants: Constants, limits: tuple[Figure, Figure, Figure], shoot: Figure | None
) -> WindowPlot | None:
    """The window of the mold's own pair over the injection time."""
    if known.rows is None:
        return None
    total = max(way.path.stations[0].beyond_ml for way in known.ways)
    rates = _RATES_ML_S[::-1]
    wide = {name: values[..., None, :] for name, values in constants.items()}
    fill = paths.fill_limit_c(known.rows, wide, injection=rates[:, None])[0]
    low, middle, high = np.percentile(fill, [5, 50, 95], axis=-1)
    by_hand = total / constants["injection"]
    return WindowPlot(
        injection_s=tuple(float(total / rate) for rate in rates),
        fill_low_c=tuple(map(float, low)),
        fill_c=tuple(map(float, middle)),
        fill_high_c=tuple(map(float, high)),
        mold_limit_c=limits[1],
        plastisol_limit_c=limits[2],
        lowest_c=float(np.floor(min(140.0, low.min()) / 10) * 10),
        highest_c=200.0,
        shoot_c=shoot,
        shoot_s=samples.figure(by_hand, "s", "advice.because.fill_time"),
    )


def sensitivity(known: Ground) -> tuple[Sensitivity, ...]:
    """How far the fill limit moves with each constant from low to high, all others at their best guess."""
    if known.rows is None:
        return ()
    pair = known.pairs[0]
    centre = samples.central([pair], known.practice)
    ranges = {name: samples.known(pair, known.practice, name) for name in centre}
    moved = {name: np.repeat(values, 2 * len(centre), axis=1) for name, values in centre.items()}
    for column, name in enumerate(centre):
        moved[name][0, 2 * column : 2 * column + 2] = ranges[name].low, ranges[name].high
    fill = paths.fill_limit_c(known.rows, moved)[0]
    found = [
        Sensitivity(
            constant=name,
            unit=ranges[name].unit,
            low=ranges[name].low,
            high=ranges[name].high,
            fill_at_low_c=float(fill[2 * column]),
            fill_at_high_c=float(fill[2 * column + 1]),
            swing_k=float(abs(fill[2 * column + 1] - fill[2 * column])),
        )
        for column, name in enumerate(centre)
    ]
    return tuple(sorted((s for s in found if s.swing_k > 0.05), key=lambda s: -s.swing_k))
