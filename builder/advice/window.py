"""The shooting window of every plastisol in every mold material, with its sure and likely parts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from builder.advice import bottlenecks, gates, heating, paths, planner, samples
from builder.advice.paths import Way
from builder.advice.samples import Constants, Pair
from builder.model import (
    Figure,
    Measurement,
    NoRest,
    Origin,
    PathVerdict,
    ShotTimes,
    Sourced,
    Stands,
    Window,
    WindowPlot,
)
from builder.physics import bolted, flow
from builder.physics.heat import Array

LIKELY, SURE = 0.5, 0.95
_AS_GOOD = 0.05
"""Temperatures that suit nearly as many samples as the best count as good as it."""
_DRAWN_K = 20.0
"""The drawing reaches at least so far below the plastisol's limit."""
_METAL_W_MK = 10.0
"""A wall that conducts better than this is metal."""
_RATES_ML_S = np.geomspace(1.5, 80.0, 14)


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """Where to shoot one pair; `shoot_c` is None when the window is empty, `trial_c` the hottest try then."""

    shoot_c: float | None
    trial_c: float
    sure_c: tuple[float, float] | None
    likely_c: tuple[float, float] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Context:
    """What all windows of a mold are computed from; arrays are (pairs, samples) unless told otherwise."""

    measurement: Measurement
    stands: Stands
    pairs: tuple[Pair, ...]
    practice: Mapping[str, Sourced]
    constants: Constants
    ways: tuple[Way, ...]
    """The worst path first."""
    rows: flow.Rows | None
    """The sections that can decide; None where no path is known."""
    fill_c: Array
    mold_limit_c: Array
    points: tuple[Point, ...]
    hot: heating.Heating
    body: heating.Body
    parting: bolted.Parting | None
    """Where the halves part most; None without bolts."""
    gate_later: Array
    """How many times later the gates set, for the bait has streamed through them."""
    times: heating.Times
    """By the shot's number, each pair at its point."""

    def own(self, index: int = 0) -> Constants:
        """The constants of one pair, (1, samples)."""
        return {name: values[[index]] for name, values in self.constants.items()}


def make_context(
    measurement: Measurement,
    pairs: Sequence[Pair],
    practice: Mapping[str, Sourced],
    stands: Stands = "sprue_up",
) -> Context:
    """Solve all pairs at once."""
    constants = samples.draw(pairs, practice)
    centre = samples.central(pairs, practice)
    found = paths.worst_first(paths.flow_paths(measurement, stands), centre)
    rows = paths.deciding(found, centre) if found else None
    fill = paths.fill_limit_c(rows, constants) if rows else constants["set"] + constants["on_the_way"]
    thick = heating.body(measurement, practice)
    hot = heating.heating(thick, constants)
    mold_limit = heating.mold_limit_c(hot)
    points = tuple(
        point(fill[row], mold_limit[row], pair.plastisol.values["shoot"], limit_c(pair))
        for row, pair in enumerate(pairs)
    )
    shot_c = np.array([[where.trial_c] for where in points]) + np.zeros_like(hot.some["room"])
    return Context(
        measurement=measurement,
        stands=stands,
        pairs=tuple(pairs),
        practice=practice,
        constants=constants,
        ways=found,
        rows=rows,
        fill_c=fill,
        mold_limit_c=mold_limit,
        points=points,
        hot=hot,
        body=thick,
        parting=bolted.parting(measurement),
        gate_later=gates.later(measurement, constants, [where.trial_c for where in points]),
        times=heating.times(hot, shot_c),
    )


def fill_limits(
    measurement: Measurement,
    pairs: Sequence[Pair],
    practice: Mapping[str, Sourced],
    count: int,
    stands: Stands = "sprue_up",
) -> Array | None:
    """Fill limits alone, from as many samples as asked, (pairs, count); None without known paths."""
    found = paths.flow_paths(measurement, stands)
    if not found:
        return None
    rows = paths.deciding(found, samples.central(pairs, practice))
    return paths.fill_limit_c(rows, samples.draw(pairs, practice, count))


def limit_c(pair: Pair) -> float:
    """The plastisol's limit; no temperature to shoot at is above it."""
    return pair.plastisol.values["limit"].low


def point(fill: Array, mold_limit: Array, trade: Sourced, never_above_c: float) -> Point:
    """Where to shoot: the one place that makes a temperature to shoot at, all of them within the limit.

    The coolest temperature that surely fills and that the mold stands, from the trade's low end on, below
    which plastisol does not fuse. Where none is sure, the coolest of those that suit most samples; where
    none suits half of them, the window is empty.
    """
    coldest, top = trade.low, np.minimum(mold_limit, never_above_c)
    tried = np.arange(np.ceil(coldest), np.floor(never_above_c) + 1)
    good = np.mean((fill <= tried[:, None]) & (tried[:, None] <= top), axis=1)
    if not tried.size or good.max() < LIKELY:
        return Point(shoot_c=None, trial_c=never_above_c, sure_c=None, likely_c=None)
    sure = _between(fill, top, SURE, coldest)
    if sure is None:
        aim = float(tried[good >= good.max() - _AS_GOOD][0])
    else:
        aim = float(np.ceil(sure[0])) if np.ceil(sure[0]) <= sure[1] else sure[0]
    likely = _between(fill, top, LIKELY, coldest) or (aim, aim)
    return Point(shoot_c=aim, trial_c=aim, sure_c=sure, likely_c=(min(likely[0], aim), max(likely[1], aim)))


def _between(fill: Array, top: Array, share: float, coldest: float) -> tuple[float, float] | None:
    """Range of temperatures in which that share of the samples fills and stays within mold and plastisol.

    Never below what the trade shoots: plastisol that cold is not fused.
    """
    low = max(float(np.percentile(fill, 100 * share)), coldest)
    high = float(np.percentile(top, 100 * (1 - share)))
    return (low, high) if low <= high else None


def window(context: Context, index: int, *, whole: bool) -> Window:
    """The window of one pair; `whole` for the mold's own, with every path and the data of its drawing."""
    where, pair, constants = context.points[index], context.pairs[index], context.own(index)
    shoot = _shoot(where)
    limit = samples.exact(limit_c(pair), "c", "advice.because.plastisol_limit", _limit_origin(pair))
    softens = _below(context.mold_limit_c[index], limit.value, "advice.because.mold_limit")
    rows = shot_times(context.times, index, _block(context, pair))
    hold = samples.figure(hold_s(context, index, where.trial_c), "s", "advice.because.hold")
    baits, handling = len(context.measurement.baits), context.practice["handling"]
    return Window(
        plastisol=pair.plastisol.id,
        mold_material=pair.mold.id,
        fill_c=_below(context.fill_c[index], limit.value, "advice.because.fill_limit"),
        mold_limit_c=softens,
        plastisol_limit_c=limit,
        shoot_c=shoot,
        trial_c=shoot or samples.exact(where.trial_c, "c", "advice.because.hottest"),
        sure_c=where.sure_c,
        likely_c=where.likely_c,
        hold_s=hold,
        cool_s=rows[0].open_s,
        cold_s=rows[0].cold_s,
        rest_s=rows[-1].rest_s,
        no_rest=_no_rest(context, index, rows),
        times=rows,
        plans=planner.plans(rows, hold, handling, baits, whole=whole) if shoot else (),
        paths=verdicts(
            context, constants, where.trial_c, every=whole, cold_c=pair.plastisol.values["shoot"].low
        ),
        findings=(),
        plot=_plot(context, constants, softens, limit, shoot) if whole else None,
    )


def _limit_origin(pair: Pair) -> Origin:
    """Declared where the maker's data sheet allows less than the trade does."""
    return "declared" if pair.plastisol.values["limit"].grade == "vendor" else "common practice"


def _below(values: Array, never_above_c: float, because: str) -> Figure | None:
    """A limit as a figure within the plastisol's limit; None where most samples lie at it or beyond."""
    found = samples.figure(np.minimum(values, never_above_c), "c", because)
    return found if found.value < never_above_c else None


def _block(context: Context, pair: Pair) -> Sourced:
    """Ratio between the times of a real block and those of the round wall that the times assume."""
    is_metal = pair.mold.values["conductivity"].value > _METAL_W_MK
    return context.practice["block_metal" if is_metal else "block"]


def _widened(found: list[Figure], block: Sourced) -> list[Figure]:
    """Times from the second shot on with the range that the block's shape leaves open as well."""
    first, *later = found
    return [
        first,
        *(replace(one, low=max(first.low, one.low * block.low), high=one.high * block.high) for one in later),
    ]


def shot_times(found: heating.Times, index: int, block: Sourced) -> tuple[ShotTimes, ...]:
    """The times of one pair as figures, the steady row last."""
    columns = zip(
        (*heating.SHOWN, 0),
        _widened(samples.each_figure(found.open_s[:, index], "s", "advice.because.cool"), block),
        _widened(samples.each_figure(found.hurried_s[:, index], "s", "advice.because.hurried"), block),
        _widened(samples.each_figure(found.cold_s[:, index], "s", "advice.because.cold"), block),
        (rest_figure(rests) for rests in found.rest_s[:, index]),
        strict=True,
    )
    return tuple(
        ShotTimes(shot=number, open_s=opened, hurried_s=hurried, cold_s=cold, rest_s=rest)
        for number, opened, hurried, cold, rest in columns
    )


def rest_figure(rests: Array) -> Figure | None:
    """A rest from samples, of which some may be infinite; None where most are.

    One that is shorter than rests are told apart is none at all.
    """
    helped = rests[np.isfinite(rests)]
    if 2 * helped.size <= rests.size:
        return None
    advised = float(heating.advised_s(rests))
    if advised == 0:
        return samples.exact(0.0, "s", "advice.because.rest")
    return samples.figure(helped, "s", "advice.because.rest", value=advised)


def _no_rest(context: Context, index: int, rows: Sequence[ShotTimes]) -> NoRest:
    """Why no rest is advised, where none is."""
    if rows[-1].rest_s is not None:
        return ""
    return "first_shot" if np.mean(context.times.hopeless[index]) >= LIKELY else "over_an_hour"


def _shoot(where: Point) -> Figure | None:
    """The recommended point with its likely range."""
    if where.shoot_c is None or where.likely_c is None:
        return None
    low, high = where.likely_c
    return Figure(
        value=where.shoot_c,
        low=low,
        high=high,
        unit="c",
        because="advice.because.shoot",
        origin="computed",
    )


def hold_s(context: Context, index: int, shot_c: float) -> Array:
    """Seconds until the slowest gate of a pair sets, warmed by what streamed through it, (samples,).

    In an open mold, until its thickest section does.
    """
    sizes = gates.sizes(context.measurement) or [(context.body.thickness_mm, context.body.flatness)]
    return np.asarray(set_s(context.own(index), shot_c, sizes)[0] * context.gate_later[index])


def set_s(constants: Constants, shot_c: float, sizes: Sequence[tuple[float, float]]) -> Array:
    """Seconds until the slowest section (thickness in mm, flatness) sets, of the constants' shape."""
    shot = paths.shot(constants, np.full_like(constants["room"], shot_c))
    thickness_mm, flat = np.array(list(dict.fromkeys(sizes))).T
    return np.asarray(flow.set_times_s(thickness_mm, flat, shot).max(axis=-1))


def verdicts(
    context: Context, constants: Constants, shot_c: float, *, every: bool, cold_c: float | None = None
) -> tuple[PathVerdict, ...]:
    """A verdict for each path at a temperature, the worst first; only the worst unless `every` is true."""
    mold = bottlenecks.Asked(
        measurement=context.measurement, stands=context.stands, constants=constants, every=every
    )
    return bottlenecks.verdicts(mold, context.ways, shot_c, shot_c if cold_c is None else cold_c)


def _plot(
    context: Context, constants: Constants, softens: Figure | None, limit: Figure, shoot: Figure | None
) -> WindowPlot | None:
    """The window of the mold's own pair over the injection time, up to the plastisol's limit."""
    if context.rows is None:
        return None
    total = max(way.path.stations[0].beyond_ml for way in context.ways)
    rates = _RATES_ML_S[::-1]
    wide = {name: values[..., None, :] for name, values in constants.items()}
    fill = paths.fill_limit_c(context.rows, wide, injection=rates[:, None])[0]
    low, middle, high = np.minimum(np.percentile(fill, [5, 50, 95], axis=-1), limit.value)
    by_hand = total / constants["injection"]
    return WindowPlot(
        injection_s=tuple(float(total / rate) for rate in rates),
        fill_low_c=tuple(map(float, low)),
        fill_c=tuple(map(float, middle)),
        fill_high_c=tuple(map(float, high)),
        mold_limit_c=softens,
        plastisol_limit_c=limit,
        lowest_c=float(np.floor(min(140.0, low.min(), limit.value - _DRAWN_K) / 10) * 10),
        highest_c=limit.value,
        shoot_c=shoot,
        shoot_s=samples.figure(by_hand, "s", "advice.because.fill_time"),
    )
