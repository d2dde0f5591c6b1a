"""What must hold between the numbers of one shooting window, whatever they are."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass
from functools import cache
from itertools import pairwise
from typing import Any

from builder.advice import heating, trouble
from builder.model import Advice, Figure, Finding, Measurement, Sourced, Trouble, Window

_SAME = 1e-6
_ROUNDING = 0.03
"""A verdict and a thickness looked up between tried ones agree within this share."""
_WOBBLE = 0.02
"""A long shot into a hot thin wall lets it cool more than the next one needs: times overshoot by less."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleInput:
    """The numbers that the rules compare."""

    advice: Advice
    measurement: Measurement
    practice: Mapping[str, Sourced]
    coldest_c: Mapping[str, float]
    """By plastisol, the coldest that is fused."""
    limit_c: Mapping[str, float]
    """By plastisol, what no temperature may pass."""


def figures_of(value: object, name: str = "") -> Iterator[tuple[str, Figure]]:
    """Every figure inside a record, with its path of field names."""
    if isinstance(value, Figure):
        yield name, value
    elif isinstance(value, str | float | int | None):
        return
    elif isinstance(value, Mapping):
        for key, item in value.items():
            yield from figures_of(item, f"{name}.{key}")
    elif isinstance(value, tuple | list):
        for number, item in enumerate(value):
            yield from figures_of(item, f"{name}.{number}")
    elif is_dataclass(value) and not isinstance(value, type):
        for field in _names(type(value)):
            yield from figures_of(getattr(value, field), f"{name}.{field}")


@cache
def _names(kind: type[Any]) -> tuple[str, ...]:
    """The fields of a record."""
    return tuple(field.name for field in fields(kind))


Said = Iterator[str]


def _sentences(window: Window) -> tuple[Finding | Trouble, ...]:
    return (*window.findings, *window.troubles)


# -- the window: temperatures ----------------------------------------------------------------------


def _limit_is_one_sided(w: Window, told: RuleInput) -> Said:
    limit = w.plastisol_limit_c
    if not limit.low == limit.value == limit.high:
        yield f"the plastisol's limit is a range, {limit.low:.1f}–{limit.high:.1f} °C"
    if limit.value > told.limit_c[w.plastisol]:
        yield f"the limit is {limit.value:.1f} °C, known is {told.limit_c[w.plastisol]:.1f} °C"


def _nothing_above_the_limit(w: Window, _: RuleInput) -> Said:
    limit = w.plastisol_limit_c.value + _SAME
    for name, figure in figures_of(w):
        if figure.unit == "c" and figure.high > limit:
            yield f"{name} reaches {figure.high:.1f} °C, the limit is {limit:.1f} °C"
    for name, ends in (("sure_c", w.sure_c), ("likely_c", w.likely_c)):
        if ends and ends[1] > limit:
            yield f"{name} reaches {ends[1]:.1f} °C, the limit is {limit:.1f} °C"


def _drawing_ends_at_the_limit(w: Window, _: RuleInput) -> Said:
    if w.plot is None:
        return
    highest = max(*w.plot.fill_low_c, *w.plot.fill_c, *w.plot.fill_high_c, w.plot.highest_c)
    if highest > w.plastisol_limit_c.value + _SAME:
        yield f"the drawing reaches {highest:.1f} °C"


def _sure_is_inside_likely(w: Window, _: RuleInput) -> Said:
    if w.sure_c is None:
        return
    if w.likely_c is None or not w.likely_c[0] <= w.sure_c[0] <= w.sure_c[1] <= w.likely_c[1]:
        yield f"sure {w.sure_c} lies outside likely {w.likely_c}"


def _point_is_inside_sure(w: Window, _: RuleInput) -> Said:
    inside = w.sure_c or w.likely_c
    if w.shoot_c and inside and not inside[0] - _SAME <= w.shoot_c.value <= inside[1] + _SAME:
        yield f"the point {w.shoot_c.value:.1f} °C lies outside {inside}"


def _range_is_the_likely_one(w: Window, _: RuleInput) -> Said:
    if w.shoot_c and w.likely_c != (w.shoot_c.low, w.shoot_c.high):
        yield f"the range told, {w.shoot_c.low:.1f}–{w.shoot_c.high:.1f} °C, is not {w.likely_c}"


def _point_is_fused(w: Window, told: RuleInput) -> Said:
    coldest = told.coldest_c[w.plastisol]
    if w.shoot_c and w.shoot_c.low < coldest - _SAME:
        yield f"shot from {w.shoot_c.low:.1f} °C, but fused only from {coldest:.1f} °C"


def _shut_means_stop(w: Window, _: RuleInput) -> Said:
    stops = [finding.code for finding in w.findings if finding.level == "stop"]
    if w.shoot_c is not None and (stops or w.likely_c is None):
        yield f"there is a temperature to shoot at, and yet {stops or 'no range'}"
    if w.shoot_c is None and (w.likely_c or w.sure_c or not any("window_empty" in code for code in stops)):
        yield "there is no temperature to shoot at, and no finding says so"


def _limits_told_are_limits(w: Window, _: RuleInput) -> Said:
    for name, figure in (("too cold below", w.fill_c), ("softens above", w.mold_limit_c)):
        if figure is not None and figure.value >= w.plastisol_limit_c.value:
            yield f"{name} {figure.value:.1f} °C, where the plastisol scorches already"


def _findings_hold_for_the_trial(w: Window, _: RuleInput) -> Said:
    if w.shoot_c is not None and w.trial_c.value != w.shoot_c.value:
        yield f"tried at {w.trial_c.value:.1f} °C, shot at {w.shoot_c.value:.1f} °C"
    for finding in w.findings:
        shot = finding.values.get("shot")
        if isinstance(shot, Figure) and abs(shot.value - w.trial_c.value) > _SAME:
            yield f"{finding.code} is told for {shot.value:.1f} °C, tried is {w.trial_c.value:.1f} °C"


def _nobody_is_told_to_pass_the_limit(w: Window, _: RuleInput) -> Said:
    at_the_top = w.trial_c.value > w.plastisol_limit_c.value - trouble.ROOM_K
    codes = {one.code for one in _sentences(w)}
    hotter = codes & {"findings.may_be_short", "findings.may_be_short_gate", "findings.trouble.short"}
    if at_the_top and hotter:
        yield f"{sorted(hotter)} says to shoot hotter than {w.trial_c.value:.1f} °C"


# -- the window: sections --------------------------------------------------------------------------


def _make_it_agrees_with_the_verdict(w: Window, _: RuleInput) -> Said:
    for finding in w.findings:
        values = [finding.values.get(name) for name in ("thickness", "critical", "needed", "margin")]
        if not all(isinstance(value, Figure) for value in values):
            continue
        thickness, critical, needed, margin = (v.value for v in values if isinstance(v, Figure))
        if margin < 1 - _ROUNDING and thickness > critical * (1 + _ROUNDING):
            yield f"short at {thickness:.2f} mm, but it fills from {critical:.2f} mm"
        if margin > 1 + _ROUNDING and thickness < critical * (1 - _ROUNDING):
            yield f"fills at {thickness:.2f} mm, but only from {critical:.2f} mm"
        if needed < max(critical, thickness) * (1 - _ROUNDING):
            yield f"make it at least {needed:.2f} mm: it is {thickness:.2f}, critical {critical:.2f} mm"


def _thick_enough_is_sound(w: Window, _: RuleInput) -> Said:
    for verdict in w.paths:
        if verdict.needed_mm is not None and verdict.margin.value >= 1.5:
            yield f"{verdict.path} has a margin of {verdict.margin.value:.2f} and is to be made thicker"


# -- the window: wall and halves -------------------------------------------------------------------


def _flash_names_a_gap_that_flashes(w: Window, told: RuleInput) -> Said:
    least = told.practice["flash_gap"].value
    for finding in w.findings:
        gap, from_mm = finding.values.get("gap"), finding.values.get("flashes")
        if isinstance(gap, Figure) and (
            gap.value <= least or not isinstance(from_mm, Figure) or from_mm.value != least
        ):
            yield f"{finding.code} tells a gap of {gap.value:.3f} mm, {least:.3f} mm is needed"


def _no_bolt_against_softening(w: Window, _: RuleInput) -> Said:
    for finding in w.findings:
        of_wall = finding.code.startswith(("findings.flash", "findings.warp", "findings.mold_softens"))
        has_gap = "gap" in finding.values
        if of_wall and (finding.at_mm is not None or finding.code.endswith("_gap")) and not has_gap:
            yield f"{finding.code} asks for a bolt against a wall that softens"


def _soft_wall_is_told_when_soft(w: Window, told: RuleInput) -> Said:
    most = told.practice["soft_share"].value
    for finding in w.findings:
        soft = finding.values.get("softened")
        if isinstance(soft, Figure) and soft.value <= most and "gap" not in finding.values:
            yield f"{finding.code} is told although {soft.value:.2f} of the wall may soften"


def _first_shot_softens_above_the_molds_limit(w: Window, _: RuleInput) -> Said:
    if any(finding.code == "findings.mold_softens" for finding in w.findings) and (
        w.mold_limit_c is None or w.mold_limit_c.value > w.trial_c.value
    ):
        yield f"the first shot at {w.trial_c.value:.1f} °C softens a mold that softens only above"


# -- the window: times -----------------------------------------------------------------------------


def _rest_is_none_or_long_enough(w: Window, _: RuleInput) -> Said:
    for row in w.times:
        rest = row.rest_s
        if rest is None:
            continue
        none = rest.low == rest.value == rest.high == 0
        if not none and rest.value < heating.RESOLUTION_S:
            yield f"a rest of {rest.value:.0f} s after shot {row.shot}, shorter than is told apart"
        if rest.high > heating.RESTS_S[-1]:
            yield f"a rest up to {rest.high:.0f} s, which is only where the search ends"


def _no_rest_has_its_reason(w: Window, _: RuleInput) -> Said:
    if (w.rest_s is None) != bool(w.no_rest):
        yield f"rest {w.rest_s}, reason {w.no_rest!r}"


def _headline_times_are_those_of_the_table(w: Window, _: RuleInput) -> Said:
    first, last = w.times[0], w.times[-1]
    if (first.shot, last.shot) != (1, 0):
        yield "the table does not go from the first shot to the steady one"
    if (w.cool_s, w.cold_s, w.rest_s) != (first.open_s, first.cold_s, last.rest_s):
        yield "the times at the top are not those of the table"


def _each_shot_takes_longer(w: Window, _: RuleInput) -> Said:
    for before, after in pairwise(w.times):
        for side in ("low", "value", "high"):
            one, two = getattr(before.hurried_s, side), getattr(after.hurried_s, side)
            if two < one * (1 - _WOBBLE):
                yield f"without rest shot {after.shot} opens after {two:.2f} s, the one before {one:.2f} s"


def _a_rest_never_costs_time_in_the_mold(w: Window, _: RuleInput) -> Said:
    rested = any(row.rest_s and row.rest_s.value for row in w.times)
    for row in w.times:
        if row.open_s.value > row.hurried_s.value * (1 + _WOBBLE):
            yield f"shot {row.shot} opens later with a rest than without"
        if not rested and row.open_s.value < row.hurried_s.value * (1 - 1e-4):
            yield f"no rest is advised, but shot {row.shot} opens sooner than without a rest"


def _cold_comes_after_firm(w: Window, _: RuleInput) -> Said:
    for row in w.times:
        if row.cold_s.value < row.open_s.value or row.cold_s.low < row.open_s.low:
            yield f"shot {row.shot} is cold all through before it keeps its shape"


def _rest_in_sentences_is_the_rest(w: Window, _: RuleInput) -> Said:
    for sentence in _sentences(w):
        rest = sentence.values.get("rest")
        if rest is not None and (rest != w.rest_s or not (w.rest_s and w.rest_s.value)):
            yield f"{sentence.code} tells another rest than the window"


def _more_molds_are_never_slower(w: Window, _: RuleInput) -> Said:
    for one, more in pairwise(w.plans):
        if more.baits_per_h.value < one.baits_per_h.value - _SAME:
            yield f"{more.molds} molds give fewer baits an hour than {one.molds}"
    if w.plans and (w.shoot_c is None or w.rest_s is None):
        yield "there is a plan for a mold that is not to be shot in a row"


WindowRule = Callable[[Window, RuleInput], Iterable[str]]
WINDOW_RULES: Mapping[str, WindowRule] = {
    rule.__name__.strip("_"): rule
    for rule in (
        _limit_is_one_sided,
        _nothing_above_the_limit,
        _drawing_ends_at_the_limit,
        _sure_is_inside_likely,
        _point_is_inside_sure,
        _range_is_the_likely_one,
        _point_is_fused,
        _shut_means_stop,
        _limits_told_are_limits,
        _findings_hold_for_the_trial,
        _nobody_is_told_to_pass_the_limit,
        _make_it_agrees_with_the_verdict,
        _thick_enough_is_sound,
        _flash_names_a_gap_that_flashes,
        _no_bolt_against_softening,
        _soft_wall_is_told_when_soft,
        _first_shot_softens_above_the_molds_limit,
        _rest_is_none_or_long_enough,
        _no_rest_has_its_reason,
        _headline_times_are_those_of_the_table,
        _each_shot_takes_longer,
        _a_rest_never_costs_time_in_the_mold,
        _cold_comes_after_firm,
        _rest_in_sentences_is_the_rest,
        _more_molds_are_never_slower,
    )
}
