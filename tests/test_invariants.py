"""No two numbers of a mold contradict each other: demo molds, random molds, all pairs. Each rule can fail."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from builder import build, stages
from builder.advice import invariants, samples
from builder.advice.advise import advise, rule_input
from builder.advice.invariants import RULES, broken
from builder.advice.samples import Pair
from builder.advice.window_invariants import WINDOW_RULES, RuleInput, figures_of
from builder.base.problems import Faults
from builder.model import Advice, Figure, Finding, Measurement, MoldSpec, Tables, Window
from builder.spec import material_tables
from tests import readings
from tests.advised_minnow import FULL_MM, SHORT_MM, spec
from tests.paths_for_flow import minnow_measurement
from tests.random_measurements import random_mold

TABLES = material_tables.load()
DEMOS = ("flatback-crawler", "pond-stick", "quad-grub", "reed-minnow")
MOLDS = Path(__file__).parent.parent / "molds"


def told(wanted: MoldSpec, mold: Measurement, tables: Tables = TABLES) -> RuleInput:
    """A mold's advice with what the rules need; advise itself raises where a rule is broken."""
    advice = readings.advised(wanted, mold, tables) if tables is TABLES else advise(wanted, mold, tables)
    practice = samples.with_declared(tables.practice, wanted.declared)
    plastisols = [
        samples.with_own(p, wanted.declared) if p.id == wanted.plastisol else p for p in tables.plastisols
    ]
    pairs = [Pair(plastisol=samples.limited(p), mold=tables.mold_materials[0]) for p in plastisols]
    return rule_input(advice, mold, pairs, practice)


def demo(slug: str) -> tuple[MoldSpec, Measurement]:
    draft = build.load_draft(MOLDS / slug, TABLES)
    return draft.mold, readings.measured(stages.without_prose(draft.mold), build.contents_of(draft))


@pytest.mark.parametrize(
    "slug", [DEMOS[0], *(pytest.param(slug, marks=pytest.mark.slow) for slug in DEMOS[1:])]
)
def test_the_numbers_of_a_demo_mold_agree_in_all_32_pairs(slug: str) -> None:
    found = told(*demo(slug))
    assert len(found.advice.windows) == 32
    assert broken(found) == ()


@pytest.mark.parametrize("number", range(0, 200, 40))
def test_the_numbers_of_a_random_mold_agree_in_all_32_pairs(number: int) -> None:
    found = told(*random_mold(number))
    assert len(found.advice.windows) == 32
    assert broken(found) == ()


@pytest.mark.parametrize(
    "ten", [pytest.param(ten, marks=pytest.mark.slow if ten >= 3 else ()) for ten in range(20)]
)
def test_the_numbers_of_200_random_molds_agree(ten: int) -> None:
    for number in range(10 * ten, 10 * ten + 10):
        wanted, mold = random_mold(number)
        assert broken(told(wanted, mold, few(wanted, number))) == (), f"random mold {number}"


def few(wanted: MoldSpec, number: int) -> Tables:
    """The mold's own plastisol and mold material and another of each: all 32 pairs would take too long."""
    draw = random.Random(-number)
    plastisols = {wanted.plastisol, draw.choice(TABLES.plastisols).id}
    molds = {wanted.mold_material, draw.choice(TABLES.mold_materials).id}
    return replace(
        TABLES,
        plastisols=tuple(p for p in TABLES.plastisols if p.id in plastisols),
        mold_materials=tuple(m for m in TABLES.mold_materials if m.id in molds),
    )


# -- each rule can fail ----------------------------------------------------------------------------


@cache
def sound() -> RuleInput:
    return told(spec(), minnow_measurement(FULL_MM))


@cache
def thin() -> RuleInput:
    return told(spec("hard"), minnow_measurement(SHORT_MM))


def changed(found: RuleInput, index: int, **changes: Any) -> RuleInput:  # noqa: ANN401 - fields of several types
    """The same with one window changed."""
    windows = list(found.advice.windows)
    windows[index] = replace(windows[index], **changes)
    return replace(found, advice=replace(found.advice, windows=tuple(windows)))


def of(found: RuleInput, wanted: Callable[[Window], object]) -> tuple[int, Window]:
    """The first window that is as wanted."""
    return next((index, w) for index, w in enumerate(found.advice.windows) if wanted(w))


def figure(value: float, unit: Any = "c") -> Figure:  # noqa: ANN401
    return Figure(value=value, low=value, high=value, unit=unit, because="x", origin="computed")


def own() -> Window:
    return sound().advice.windows[0]


def row(number: int, **changes: Any) -> RuleInput:  # noqa: ANN401
    times = list(own().times)
    times[number] = replace(times[number], **changes)
    return changed(sound(), 0, times=tuple(times))


def saying(found: RuleInput, index: int, code: str, **values: Figure | str) -> RuleInput:
    finding = Finding(level="warn", code=code, values=values)
    return changed(found, index, findings=(finding,))


def amounts(**changes: Any) -> RuleInput:  # noqa: ANN401
    one, *others = sound().advice.amounts
    return replace(sound(), advice=replace(sound().advice, amounts=(replace(one, **changes), *others)))


def advice(**changes: Any) -> RuleInput:  # noqa: ANN401
    return replace(sound(), advice=replace(sound().advice, **changes))


def scaled(one: Figure, by: float) -> Figure:
    return replace(one, value=one.value * by, low=one.low * by, high=one.high * by)


def shut() -> tuple[int, Window]:
    return of(thin(), lambda w: w.shoot_c is None)


def short() -> RuleInput:
    """A place that is short is told to be thick enough already."""
    index, window = of(thin(), lambda w: any(f.code == "findings.short" for f in w.findings))
    finding = next(f for f in window.findings if f.code == "findings.short")
    return changed(
        thin(), index, findings=(replace(finding, values={**finding.values, "needed": figure(0.5, "mm")}),)
    )


def plan() -> RuleInput:
    plans = own().plans
    return changed(sound(), 0, plans=(plans[0], replace(plans[1], baits_per_h=figure(0.1, "count"))))


def batch() -> RuleInput:
    rows = list(sound().advice.amounts[0].batch)
    rows[7] = replace(rows[7], shots=rows[7].shots + 1)
    return amounts(batch=tuple(rows))


def light() -> RuleInput:
    rows = list(sound().advice.amounts[0].batch)
    rows[0] = replace(rows[0], heat_ml=scaled(rows[0].heat_ml, 1.3))
    return amounts(batch=tuple(rows), shot_ml=figure(1e3, "ml"))


def drawn() -> RuleInput:
    plot = own().plot
    assert plot is not None
    return changed(sound(), 0, plot=replace(plot, highest_c=200.0))


def sensitive() -> RuleInput:
    first, *others = sound().advice.sensitivity
    return advice(sensitivity=(replace(first, fill_at_high_c=205.0), *others))


def improbable() -> RuleInput:
    trouble, *others = own().troubles
    return changed(sound(), 0, troubles=(replace(trouble, chance=figure(1.2, "share")), *others))


def thick() -> RuleInput:
    verdict, *others = own().paths
    bad = replace(verdict, margin=figure(2.0, "count"), needed_mm=figure(3.0, "mm"))
    return changed(sound(), 0, paths=(bad, *others))


PLANTED: dict[str, Callable[[], RuleInput]] = {
    "limit_is_one_sided": lambda: changed(sound(), 0, plastisol_limit_c=replace(figure(177), high=190.0)),
    "nothing_above_the_limit": lambda: changed(sound(), 0, sure_c=(154.0, 183.0)),
    "drawing_ends_at_the_limit": drawn,
    "sure_is_inside_likely": lambda: changed(sound(), 0, likely_c=(160.0, 161.0)),
    "point_is_inside_sure": lambda: changed(sound(), 0, sure_c=(165.0, 170.0), shoot_c=figure(158.0)),
    "range_is_the_likely_one": lambda: changed(sound(), 0, likely_c=(150.0, 176.0)),
    "point_is_fused": lambda: changed(sound(), 0, shoot_c=figure(149.0)),
    "shut_means_stop": lambda: changed(thin(), shut()[0], findings=()),
    "limits_told_are_limits": lambda: changed(sound(), 0, mold_limit_c=figure(222.0)),
    "findings_hold_for_the_trial": lambda: saying(sound(), 0, "findings.mold_softens", shot=figure(177.0)),
    "nobody_is_told_to_pass_the_limit": lambda: saying(thin(), shut()[0], "findings.may_be_short"),
    "make_it_agrees_with_the_verdict": short,
    "thick_enough_is_sound": thick,
    "flash_names_a_gap_that_flashes": lambda: saying(
        sound(), 0, "findings.flash_gap", gap=figure(0.03, "mm"), flashes=figure(0.08, "mm")
    ),
    "no_bolt_against_softening": lambda: saying(sound(), 0, "findings.flash_rest_gap"),
    "soft_wall_is_told_when_soft": lambda: saying(
        sound(), 0, "findings.mold_softens", softened=figure(0.2, "share")
    ),
    "first_shot_softens_above_the_molds_limit": lambda: changed(
        saying(sound(), 0, "findings.mold_softens"), 0, mold_limit_c=None
    ),
    "rest_is_none_or_long_enough": lambda: row(1, rest_s=replace(figure(27.0, "s"), low=0.0, high=135.0)),
    "no_rest_has_its_reason": lambda: changed(sound(), 0, rest_s=None),
    "headline_times_are_those_of_the_table": lambda: changed(sound(), 0, cool_s=figure(1.0, "s")),
    "each_shot_takes_longer": lambda: row(4, hurried_s=scaled(own().times[3].hurried_s, 0.5)),
    "a_rest_never_costs_time_in_the_mold": lambda: row(2, open_s=scaled(own().times[2].hurried_s, 2.0)),
    "cold_comes_after_firm": lambda: row(0, cold_s=scaled(own().times[0].open_s, 0.9)),
    "rest_in_sentences_is_the_rest": lambda: saying(
        sound(), 0, "findings.flash_rest", rest=figure(27.0, "s")
    ),
    "more_molds_are_never_slower": plan,
    "figures_are_in_their_range": lambda: changed(sound(), 0, hold_s=replace(own().hold_s, high=0.0)),
    "chances_are_shares": improbable,
    "headlines_are_the_windows": lambda: changed(sound(), 0, hold_s=scaled(own().hold_s, 2.0)),
    "weight_is_volume_times_density": lambda: amounts(
        bait_g=tuple(scaled(one, 0.9) for one in sound().advice.amounts[0].bait_g)
    ),
    "a_cold_bait_is_smaller_than_its_cavity": lambda: amounts(
        bait_ml=tuple(figure(bait.volume_ml, "ml") for bait in sound().measurement.baits)
    ),
    "hot_is_more_than_cold": lambda: amounts(shot_ml=sound().advice.amounts[0].batch[0].heat_ml),
    "the_batch_is_whole_shots": batch,
    "grams_are_one_density": light,
    "sensitivity_stays_below_the_limit": sensitive,
}


@pytest.mark.slow
def test_there_is_a_planted_fault_for_each_of_the_34_rules() -> None:
    assert PLANTED.keys() == RULES.keys() | WINDOW_RULES.keys()
    assert len(PLANTED) == 34
    assert broken(sound()) == broken(thin()) == ()


@pytest.mark.parametrize("rule", PLANTED)
def test_each_rule_tells_its_planted_fault(rule: str) -> None:
    found = broken(PLANTED[rule]())
    assert rule in {one.rule for one in found}
    assert all(one.what for one in found)


def test_a_contradiction_stops_the_build_as_a_fault_of_ours(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(invariants, "WINDOW_RULES", {"planted": lambda *_: ["two numbers differ"]})
    with pytest.raises(
        Faults, match=r"contradict each other \(planted\): medium in pla: two numbers differ"
    ) as one:
        advise(spec(), minnow_measurement(FULL_MM), TABLES)
    assert "this is a fault of Shotbook, not of your mold: please report this line" in str(one.value)


def test_nothing_of_an_advice_is_looked_at_without_its_figures() -> None:
    """The rule on ranges sees every figure that there is: no field is forgotten."""

    def count(value: Advice) -> int:
        return repr(value).count("Figure(value=")

    names = [name for name, _ in figures_of(sound().advice)]
    assert len(names) == len(set(names)) == count(sound().advice)
