"""What a maker should know or change before printing: findings with their numbers, the worst first."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

import numpy as np

from builder.advice import heating, paths, samples, trouble
from builder.advice.samples import Constants
from builder.advice.trouble import Feeding, Repeated, Shooting
from builder.advice.window import Context
from builder.base import figures
from builder.model import Figure, Finding, Level, Measurement, PathVerdict, Station, Vec3, Window
from builder.physics import flow

_HOTTER_K = 8.0
"""So much hotter is what the advice on a hotter shot is told for, the limit permitting."""
FAR_BEYOND, FARTHEST_MM = 10.0, 300.0
"""How much farther than the vent is long a way is no longer told: it says nothing but that it runs out."""
_EVEN_SHARE = 0.95
"""A feed whose volume over surface is this near to a gate's sets with it: facets and short ends differ so."""
_ORDER = {"stop": 0, "warn": 1, "note": 2}
Values = Mapping[str, Figure | str]


def worst_first(found: Iterable[Finding]) -> tuple[Finding, ...]:
    """Stops, then warnings, then notes."""
    return tuple(sorted(found, key=lambda finding: _ORDER[finding.level]))


def of_window(own: Window, fused: Figure, mold: Measurement) -> tuple[Finding, ...]:
    """Findings of one window: places that come short, an empty window; told for `own.trial_c`.

    Plastisol colder than `fused` is not fused.
    """
    found = list(_short(own, mold))
    if own.shoot_c is None:
        found.append(_empty(own, fused))
    return worst_first(found)


def _empty(own: Window, fused: Figure) -> Finding:
    """Why no temperature is likely to work: too cold to fill, too hot for the mold, or both."""
    values: dict[str, Figure | str] = {
        "limit": own.plastisol_limit_c,
        "plastisol": own.plastisol,
        "mold_material": own.mold_material,
    }
    if fused.value > own.plastisol_limit_c.value:
        return Finding(level="stop", code="findings.window_empty_limit", values=values)
    code, values["fused"] = "window_empty", fused
    if own.fill_c is not None:
        values["fill"] = own.fill_c
        code += "_fills"
    if own.mold_limit_c is not None:
        values["softens"] = own.mold_limit_c
        code += "_softens"
    return Finding(level="stop", code=f"findings.{code}", values=values)


def _short(own: Window, mold: Measurement) -> Iterator[Finding]:
    """One finding for each place that may come short; like cavities have the same place once."""
    seen: list[Station] = []
    for verdict in own.paths:
        place = verdict.deciding
        if verdict.margin.low < 1 and not any(_alike(place, other) for other in seen):
            seen.append(place)
            yield from _short_at(verdict, own, mold)
            yield from _hesitates(verdict, own, mold)


def _alike(one: Station, other: Station) -> bool:
    """The same place of two like cavities, as far as they are measured."""
    near = abs(one.s_mm - other.s_mm) < 4.0
    return near and abs(one.thickness_mm - other.thickness_mm) < 0.05 * one.thickness_mm


def may_go_hotter(own: Window) -> bool:
    """Whether there is room between where it is shot and the plastisol's limit."""
    return own.trial_c.value <= own.plastisol_limit_c.value - trouble.ROOM_K


def _short_at(verdict: PathVerdict, own: Window, mold: Measurement) -> Iterator[Finding]:
    """The finding that a path may come short; where no temperature suits, with the odds at both ends."""
    certain = own.shoot_c is None and verdict.margin.value < 1
    values = _at(verdict, own, mold) | {"margin": verdict.margin}
    at, odds = verdict.deciding.at_mm, verdict.odds
    if verdict.critical_mm is not None and verdict.needed_mm is not None and (certain or own.shoot_c):
        values |= {"critical": verdict.critical_mm, "needed": verdict.needed_mm}
        code = "short" if certain else "may_be_short" if may_go_hotter(own) else "may_be_short_at_the_top"
        level: Level = "stop" if certain else "warn"
        yield Finding(level=level, code=_told(code, verdict, mold), values=values, at_mm=at)
    elif not _has_both(verdict, own):
        values |= {"chance": _alone(odds[-1].short), "sure": odds[-1].sure_mm}
        yield Finding(level="warn", code=_told("seldom_short", verdict, mold), values=values, at_mm=at)
    if _has_both(verdict, own):
        code = _told("bottleneck", verdict, mold)
        yield Finding(level="warn", code=code, values=_odds(verdict, own, mold), at_mm=at)


def _told(code: str, verdict: PathVerdict, mold: Measurement) -> str:
    """The finding of a path's deciding section: the gate is called so, where the way from it is nothing."""
    at_gate = figures.station(verdict.deciding, mold)["way"].low <= 0
    return f"findings.{code}{'_gate' if at_gate else ''}"


def _has_both(verdict: PathVerdict, own: Window) -> bool:
    """Whether the finding tells the odds at the coldest and the hottest: where no temperature suits."""
    return own.shoot_c is None and len(verdict.odds) > 1


def _at(verdict: PathVerdict, own: Window, mold: Measurement) -> dict[str, Figure | str]:
    """The values of a finding that name the path, its deciding section and the temperature."""
    place = figures.station(verdict.deciding, mold)
    return {
        "path": verdict.path,
        "bait": verdict.bait,
        "shot": _alone(own.trial_c),
        "from_gate": place["way"],
        "thickness": place["thickness"],
    }


def _odds(verdict: PathVerdict, own: Window, mold: Measurement) -> dict[str, Figure | str]:
    """How often the path comes short at the coldest and at the hottest, and how thick fills nearly always."""
    cold, hot = verdict.odds
    return _at(verdict, own, mold) | {
        "cold": cold.shot_c,
        "cold_chance": _alone(cold.short),
        "cold_sure": cold.sure_mm,
        "chance": _alone(hot.short),
        "sure": hot.sure_mm,
    }


def _hesitates(verdict: PathVerdict, own: Window, mold: Measurement) -> Iterator[Finding]:
    """The front stands in the deciding section while a wider place fills, and how the mold better stands."""
    if verdict.waits_s is None:
        return
    at, values = verdict.deciding.at_mm, _at(verdict, own, mold) | {"wait": verdict.waits_s}
    if _has_both(verdict, own):
        yield Finding(level="warn", code=_told("waits", verdict, mold), values=values, at_mm=at)
    elif verdict.critical_mm is not None and verdict.needed_mm is not None:
        values |= {"critical": verdict.critical_mm, "needed": verdict.needed_mm}
        yield Finding(level="warn", code=_told("hesitates", verdict, mold), values=values, at_mm=at)
    if better := verdict.better:
        values = {
            "path": verdict.path,
            "margin": _alone(verdict.margin),
            "better": better.margin,
            "critical": better.critical_mm,
        }
        yield Finding(level="note", code=f"findings.stand_{better.stands}", values=values, at_mm=at)


def of_mold(context: Context, *, eye_fits: bool) -> tuple[Finding, ...]:
    """Findings that hold whatever is shot and whatever the mold is made of: feed, air, bolts, eyes."""
    mold = context.measurement
    found = [*_of_air(context, context.own()), *_of_feed(mold)]
    told = any(finding.code == "reading.told_bolts" for finding in mold.findings)
    if mold.kind == "injection" and not mold.bolts and not told:
        found.append(Finding(level="note", code="findings.no_bolts"))
    if not eye_fits:
        found.append(Finding(level="note", code="findings.no_eye"))
    return worst_first(found)


def of_pair(context: Context, index: int, own: Window, shot: Shooting) -> tuple[Finding, ...]:
    """Findings of one plastisol in one mold material that no other place tells: wall, halves, feeding, vents.

    They hold at `own.trial_c`.
    """
    found = [
        *(_of_first_shot(context, own, shot) or _of_shots(context, own, shot)),
        *_of_rest(context, index, own),
        *_of_vents(context, context.own(index), shot.shot_c),
        *_of_hotter(context, index, own),
    ]
    if context.measurement.sprue is not None:
        found += _of_feeding(context, shot.fed)
    return worst_first(found)


def _of_shots(context: Context, own: Window, shot: Shooting) -> tuple[Finding, ...]:
    advised = own.rest_s if own.rest_s is not None and own.rest_s.value > 0 else None
    return of_row(context, shot.row, shot.shot_c, shots=heating.SHOTS, rest_s=0.0, advised=advised)


def _of_rest(context: Context, index: int, own: Window) -> Iterator[Finding]:
    """A warning where no rest helps with some samples of the constants, although one is advised."""
    helpless = float(np.mean(~np.isfinite(context.times.rest_s[-1, index])))
    if own.rest_s is not None and own.shoot_c is not None and helpless > 0:
        chance = samples.exact(helpless, "share", "advice.because.chance")
        yield Finding(level="note", code="findings.rest_may_not_help", values={"chance": chance})


def _of_hotter(context: Context, index: int, own: Window) -> Iterator[Finding]:
    """What a hotter shot buys and costs, where there is room to the limit."""
    if own.shoot_c is None or not may_go_hotter(own):
        return
    hotter = min(own.shoot_c.value + _HOTTER_K, own.plastisol_limit_c.value)
    one = heating.only(context.hot, index)
    longer = heating.first_open_s(one, np.full_like(one.some["room"], hotter))
    values: dict[str, Figure | str] = {
        "shot": _alone(own.shoot_c),
        "hotter": samples.exact(hotter, "c", "advice.because.shoot"),
        "open": _alone(own.cool_s),
        "longer": _alone(samples.figure(longer, "s", "advice.because.cool")),
    }
    code = "findings.hotter_open"
    if own.paths:
        worst = own.paths[0]
        way = next(w for w in context.ways if (w.path.name, w.path.bait) == (worst.path, worst.bait))
        constants = context.own(index)
        margins = flow.fill_margins(way.rows, paths.shot(constants, np.full_like(constants["room"], hotter)))
        more = samples.figure(margins[0].min(axis=-1), "count", "advice.because.margin")
        ample = worst.needed_mm is None and worst.margin.low >= 1
        values |= {} if ample else {"margin": _alone(worst.margin), "more": _alone(more)}
        code = "findings.hotter_idle" if ample else "findings.hotter"
    yield Finding(level="note", code=code, values=values)


def _alone(figure: Figure) -> Figure:
    """The figure without its range, for a sentence that tells the range itself."""
    return replace(figure, low=figure.value, high=figure.value)


def _of_first_shot(context: Context, own: Window, shot: Shooting) -> tuple[Finding, ...]:
    """A finding where the first shot already softens too much of the wall, or parts the halves too wide."""
    first = shot.first
    values: dict[str, Figure | str] = {"shot": _alone(own.trial_c)}
    share = _softened(first)
    softens = own.mold_limit_c is not None and own.mold_limit_c.value <= own.trial_c.value
    if softens and share.value > context.practice["soft_share"].value:
        values["softened"] = share
        return (Finding(level="warn", code="findings.mold_softens", values=values),)
    gap = trouble.wide_gap(context, first)
    if gap is not None:
        values |= {"gap": gap, "flashes": _flashes_from(context)}
        return (Finding(level="warn", code="findings.halves_part", values=values, at_mm=first.at_mm),)
    return ()


def _flashes_from(context: Context) -> Figure:
    least = context.practice["flash_gap"].value
    return samples.exact(least, "mm", "advice.because.flash_gap", "common practice")


def of_row(
    context: Context, row: Repeated, shot_c: float, *, shots: int, rest_s: float, advised: Figure | None
) -> tuple[Finding, ...]:
    """Whether so many shots in a row with such a rest make this mold flash or warp.

    What most samples say: a wall too soft, halves too far apart, or both.
    """
    softened, gap = _softened(row), trouble.wide_gap(context, row)
    if np.mean(row.flashes) < 0.5:
        return ()
    if softened.value <= context.practice["soft_share"].value and gap is None:
        return ()
    values: dict[str, Figure | str] = {
        "shots": figures.exact(shots, "count", "advice.because.shots_in_a_row", "declared"),
        "shot": figures.exact(shot_c, "c", "advice.because.shoot"),
        "softened": softened,
        "pause": figures.exact(rest_s, "s", "advice.because.rest", "declared"),
    }
    code = "findings.flash" if context.measurement.kind == "injection" else "findings.warp"
    if advised is not None:
        values["rest"] = advised
        code += "_rest"
    if gap is not None:
        values |= {"gap": gap, "flashes": _flashes_from(context)}
        code += "_gap"
    return (Finding(level="warn", code=code, values=values, at_mm=row.at_mm if gap else None),)


def _softened(row: Repeated) -> Figure:
    return samples.figure(row.softened, "share", "advice.because.softened")


def _of_feed(mold: Measurement) -> Iterator[Finding]:
    """A finding where a sprue or a runner sets before the gates that it feeds."""
    gates = [g for bait in mold.baits for g in bait.gates]
    thickest = max((g.area_mm2 / g.perimeter_mm for g in gates), default=0.0)
    feed = [mold.sprue.modulus_mm] if mold.sprue else []
    feed += [mold.runner.modulus_mm] if mold.sprue and mold.runner.volume_ml > 0 else []
    if feed and min(feed) < _EVEN_SHARE * thickest:
        values: Values = {
            "feed": figures.exact(min(feed), "mm", "advice.because.modulus", "measured"),
            "gate": figures.exact(thickest, "mm", "advice.because.modulus", "measured"),
        }
        yield Finding(level="warn", code="findings.feed_sets_first", values=values)


def _of_feeding(context: Context, fed: Feeding) -> Iterator[Finding]:
    """Findings where a sprue runs dry, or a gate sets long before the body."""
    needed = samples.figure(fed.needed_ml, "ml", "advice.because.feed_needed")
    if needed.high > fed.there_ml:
        level: Level = "warn" if needed.value > fed.there_ml else "note"
        there = figures.exact(fed.there_ml, "ml", "advice.because.feed", "measured")
        yield Finding(level=level, code="findings.dry_sprue", values={"needed": needed, "there": there})
    unfed = samples.figure(fed.unfed_share, "share", "advice.because.shrink")
    if unfed.value > context.practice["dent"].value:
        body = samples.figure(fed.body_s, "s", "advice.because.set_time")
        values: Values = {"unfed": unfed, "gate": trouble.gate_figure(fed), "body": body}
        yield Finding(level="note", code="findings.gate_sets_first", values=values)


def _of_air(context: Context, constants: Constants) -> Iterator[Finding]:
    """Findings on extremities without a vent, and on vents that are too small for the air."""
    if context.measurement.kind != "injection":
        return
    for bait, name, at in _unvented(context):
        values: Values = {"path": name, "bait": bait}
        yield Finding(level="note", code="findings.no_vent", values=values, at_mm=at)
    pressure = trouble.air_pressure_mpa(context, constants)
    if pressure is None:
        return
    held = samples.figure(pressure, "mpa", "advice.because.vent_pressure")
    push = samples.figure(constants["pressure"][0], "mpa", "advice.because.push")
    if held.value > context.practice["air_share"].value * push.value:
        yield Finding(level="warn", code="findings.air_decides", values={"air": held, "push": push})


def _unvented(context: Context) -> Iterator[tuple[str, str, Vec3]]:
    for bait in context.measurement.baits:
        for path in bait.paths:
            if not path.vented and path.stations:
                yield bait.name, path.name, path.stations[-1].at_mm


def _of_vents(context: Context, constants: Constants, shot_c: float) -> Iterator[Finding]:
    """Findings on vents that plastisol runs out of; like vents are told once."""
    shot = paths.shot(constants, np.full_like(constants["room"], shot_c))
    read = figures.measured(context.measurement)
    seen: set[tuple[float, float]] = set()
    for index, vent in enumerate(context.measurement.vents):
        like = (round(vent.depth_mm, 2), round(vent.length_mm, 1))
        if vent.ends != "outside" or like in seen:
            continue
        seen.add(like)
        reach = flow.vent_reach_mm(
            vent.depth_mm,
            pressure_mpa=shot.pressure_mpa,
            viscosity=shot.viscosity_pa_s,
            inside=shot.inside,
            wall=shot.wall,
            share=shot.share,
        )
        creeps = samples.figure(reach, "mm", "advice.because.vent_reach")
        if creeps.value > vent.length_mm:
            far = creeps.value > FAR_BEYOND * vent.length_mm or creeps.value > FARTHEST_MM
            values: dict[str, Figure | str] = {
                "length": read[f"vent.{index}.length"],
                "depth": read[f"vent.{index}.depth"],
            }
            if not far:
                values["reach"] = creeps
            code = "findings.vent_runs" if far else "findings.vent_leaks"
            yield Finding(level="note", code=code, values=values, at_mm=vent.at_mm)
