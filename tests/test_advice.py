"""Advice on a minnow whose numbers are context: amounts, window, what decides."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

from builder.advice import advise as advising
from builder.advice import findings, samples, window
from builder.base import figures
from builder.base.problems import Faults
from builder.model import Advice, Declared, EyeSocket, Figure, FlowPath, Hints
from tests.advised_minnow import FEW, FULL_MM, OWN, SHORT_MM, TABLES, figures_of, make_context, pair, spec
from tests.paths_for_flow import minnow_measurement
from tests.readings import advised as advise


@pytest.fixture(scope="module")
def short() -> Advice:
    return advise(spec(), minnow_measurement(SHORT_MM), TABLES)


@pytest.fixture(scope="module")
def full() -> Advice:
    return advise(spec(), minnow_measurement(FULL_MM), TABLES)


# -- amounts ---------------------------------------------------------------------------------------


def test_a_bait_weighs_its_volume_at_a_density_between_hot_and_cold(full: Advice) -> None:
    mold = minnow_measurement(FULL_MM)
    density = pair().plastisol.values["density"]
    for bait, weight in zip(mold.baits, full.amounts[0].bait_g, strict=True):
        assert weight.low < weight.value < weight.high
        assert 0.88 * density.low < weight.low / bait.volume_ml
        assert weight.high / bait.volume_ml < density.high


def test_a_shot_holds_baits_feed_and_spare(full: Advice) -> None:
    mold = minnow_measurement(FULL_MM)
    parts = sum(b.volume_ml for b in mold.baits) + 1.2 + 1.0 + sum(v.volume_ml for v in mold.vents)
    spare = TABLES.practice["spare"]
    shot = full.amounts[0].shot_ml
    assert parts * (1 + spare.low) < shot.value < parts * (1 + spare.high) * 1.1
    assert shot.low < shot.value < shot.high


def test_the_batch_counts_whole_shots_and_grows_with_them(full: Advice) -> None:
    batch = full.amounts[0].batch
    assert [row.baits for row in batch] == list(range(1, 51))
    assert [row.shots for row in batch] == [(n + 1) // 2 for n in range(1, 51)]
    for row in batch:
        assert row.heat_g.value == pytest.approx(row.shots * batch[0].heat_g.value)
        assert row.heat_ml.value == pytest.approx(row.shots * batch[0].heat_ml.value)


def test_every_plastisol_has_its_amounts_and_a_declared_density_replaces_the_table(full: Advice) -> None:
    others = [entry.id for entry in TABLES.plastisols if entry.id != "medium"]
    assert [amounts.plastisol for amounts in full.amounts] == ["medium", *others]
    declared = advise(spec(declared=Declared(density_g_ml=1.30)), minnow_measurement(FULL_MM), TABLES)
    ratio = declared.amounts[0].bait_g[0].value / full.amounts[0].bait_g[0].value
    assert ratio == pytest.approx(1.30 / 1.04, rel=0.02)
    assert declared.amounts[1] == full.amounts[1]


SOCKETS = [(5.0, 5.0), (4.97, 5.0), (4.9, 4.0), (11.0, 10.0), (12.5, 12.0), (2.5, None)]


@pytest.mark.parametrize(("socket_mm", "eye_mm"), SOCKETS)
def test_the_eye_is_the_largest_common_size_that_fits_the_socket(
    socket_mm: float, eye_mm: float | None
) -> None:
    mold = minnow_measurement(FULL_MM)
    socket = EyeSocket(at_mm=(0.0, 0.0, 0.0), normal=(0.0, 0.0, 1.0), diameter_mm=socket_mm, depth_mm=1.0)
    mold = replace(mold, baits=tuple(replace(bait, sockets=(socket,)) for bait in mold.baits))
    advice = advise(spec(), mold, OWN)
    assert (advice.eye_mm.value if advice.eye_mm else None) == eye_mm
    assert not advice.eye_suggested
    assert ("findings.no_eye" in {f.code for f in advice.findings}) == (eye_mm is None)


def test_without_a_socket_the_eye_is_a_suggestion_and_a_declared_one_is_not() -> None:
    mold = minnow_measurement(FULL_MM)
    bare = replace(mold, baits=tuple(replace(bait, sockets=()) for bait in mold.baits))
    suggested = advise(spec(), bare, OWN)
    assert suggested.eye_suggested
    assert suggested.eye_mm is not None
    assert suggested.eye_mm.origin == "common practice"
    told = advise(spec(hints=Hints(eye_mm=7.0)), bare, OWN)
    assert told.eye_mm is not None
    assert (told.eye_mm.value, told.eye_mm.origin, told.eye_suggested) == (7.0, "declared", False)


def test_a_plastisol_that_no_table_has_is_told_with_its_key() -> None:
    with pytest.raises(Faults, match=r"key plastisol: plastisol jelly is in no table; expected one of soft"):
        advise(spec(plastisol="jelly"), minnow_measurement(FULL_MM), TABLES)


# -- the window ------------------------------------------------------------------------------------


def test_there_is_a_window_for_every_pair_the_molds_own_first(full: Advice) -> None:
    named = [(w.plastisol, w.mold_material) for w in full.windows]
    every = itertools.product([p.id for p in TABLES.plastisols], [m.id for m in TABLES.mold_materials])
    assert named[0] == ("medium", "pla")
    assert sorted(named) == sorted(every)


def test_every_figure_lies_in_its_range_and_is_a_plain_number(full: Advice, short: Advice) -> None:
    for name, figure in (*figures_of(full), *figures_of(short)):
        assert type(figure.value) is float, name
        assert 0 <= figure.low <= figure.value <= figure.high < float("inf"), name


def test_the_recommended_point_lies_in_the_trades_range_and_in_the_likely_part(
    short: Advice, full: Advice
) -> None:
    for w in (*short.windows, *full.windows):
        assert (w.shoot_c is None) == (w.likely_c is None)
        if w.shoot_c is not None and w.likely_c is not None:
            assert 154 <= w.shoot_c.value <= 177
            assert w.likely_c[0] <= w.shoot_c.value <= w.likely_c[1]


def test_the_point_is_the_coolest_that_surely_fills_from_where_plastisol_is_fused() -> None:
    trade = pair().plastisol.values["shoot"]
    none = np.full(61, 400.0)
    for fills_c, wanted_c in ((120.0, 154.0), (160.3, 161.0), (172.0, 172.0)):
        where = window.point(np.full(61, fills_c), none, trade, 177.0)
        assert where.shoot_c == where.trial_c == wanted_c
        assert where.sure_c == (max(fills_c, 154.0), 177.0)
    assert window.point(np.full(61, 177.5), none, trade, 177.0).shoot_c is None
    assert window.point(np.full(61, 120.0), none, trade, 150.0).shoot_c is None, "not fused below the limit"
    assert window.point(np.full(61, 120.0), np.full(61, 150.0), trade, 177.0).shoot_c is None, "mold softens"


def test_a_data_sheet_that_allows_less_moves_every_temperature_of_its_plastisol_below_it() -> None:
    declared = advise(spec(declared=Declared(limit_c=160.0)), minnow_measurement(FULL_MM), FEW)
    for w in declared.windows:
        limit = 160.0 if w.plastisol == "medium" else 177.0
        assert w.plastisol_limit_c.low == w.plastisol_limit_c.value == w.plastisol_limit_c.high == limit
        assert w.shoot_c is None or w.shoot_c.high <= limit
    higher = advise(spec(declared=Declared(limit_c=190.0)), minnow_measurement(FULL_MM), OWN)
    assert higher.windows[0].plastisol_limit_c.value == 177.0


def test_the_sure_part_lies_inside_the_likely_part(full: Advice) -> None:
    sure = [w for w in full.windows if w.sure_c is not None]
    assert sure
    for w in sure:
        assert w.likely_c is not None
        assert w.sure_c is not None
        assert w.likely_c[0] <= w.sure_c[0] <= w.sure_c[1] <= w.likely_c[1]


def test_the_thin_trunk_comes_out_short_at_157_and_is_named_and_the_wide_one_comes_out_full() -> None:
    thin, wide = (make_context(minnow_measurement(mm)) for mm in (SHORT_MM, FULL_MM))
    (bad, *_), (good, *_) = (window.verdicts(g, g.constants, 157.0, every=True) for g in (thin, wide))
    assert bad.margin.value < 1
    assert bad.deciding.thickness_mm == SHORT_MM
    assert bad.critical_mm is not None
    assert bad.needed_mm is not None
    assert SHORT_MM < bad.critical_mm.low < bad.critical_mm.value < bad.needed_mm.value
    assert good.margin.low > 1
    assert good.deciding.thickness_mm > SHORT_MM
    assert bad.critical_mm.high < FULL_MM


def test_a_trunk_made_as_thick_as_needed_has_the_margin_it_was_made_for() -> None:
    thin = make_context(minnow_measurement(SHORT_MM))
    needed = window.verdicts(thin, thin.constants, 165.0, every=True)[0].needed_mm
    assert needed is not None
    mended = make_context(minnow_measurement(needed.value))
    judged = window.verdicts(mended, mended.constants, 165.0, every=True)[0]
    assert judged.margin.value == pytest.approx(1.5, rel=0.04)


def test_a_film_at_the_very_tip_that_nobody_misses_decides_nothing() -> None:
    mold = minnow_measurement(FULL_MM)

    def with_film(path: FlowPath) -> FlowPath:
        last = path.stations[-1]
        film = [
            replace(
                last, s_mm=last.s_mm + n, thickness_mm=0.2, area_mm2=0.1, perimeter_mm=1.0, beyond_ml=1e-4
            )
            for n in (1.0, 2.0)
        ]
        return replace(path, stations=(*path.stations, *film))

    baits = tuple(replace(b, paths=tuple(with_film(path) for path in b.paths)) for b in mold.baits)
    plain, filmed = (advise(spec(), one, OWN).windows[0] for one in (mold, replace(mold, baits=baits)))
    assert filmed.fill_c == plain.fill_c
    assert [v.margin for v in filmed.paths] == [v.margin for v in plain.paths]


def test_more_vents_change_neither_margin_nor_verdict_nor_window() -> None:
    one, five = (advise(spec(), minnow_measurement(SHORT_MM, vents=n), FEW) for n in (1, 5))
    assert five.windows[0].paths == one.windows[0].paths
    assert [w.fill_c for w in five.windows] == [w.fill_c for w in one.windows]
    assert [w.shoot_c for w in five.windows] == [w.shoot_c for w in one.windows]


def test_a_short_mold_says_which_section_to_change_and_to_what(short: Advice) -> None:
    hard = next(w for w in short.windows if (w.plastisol, w.mold_material) == ("hard", "pla"))
    assert hard.shoot_c is None
    codes = [f.code for f in hard.findings]
    assert codes[0] == "findings.short"
    assert "findings.window_empty" in codes
    values = hard.findings[0].values
    assert isinstance(values["needed"], Figure)
    assert values["needed"].value > SHORT_MM
    assert values["path"] == "tail"
    assert hard.findings[0].at_mm == hard.paths[0].deciding.at_mm


@pytest.mark.parametrize(("s_mm", "code"), [(0.0, "short_gate"), (-0.3, "short_gate"), (9.0, "short")])
def test_a_section_that_is_the_gate_is_called_so_and_no_way_of_nothing_is_told(
    short: Advice, s_mm: float, code: str
) -> None:
    mold = minnow_measurement(SHORT_MM)
    assert mold.pitch_mm == 0.4
    hard = next(w for w in short.windows if (w.plastisol, w.mold_material) == ("hard", "pla"))
    paths = [replace(one, deciding=replace(one.deciding, s_mm=s_mm)) for one in hard.paths]
    fused = figures.exact(150.0, "c", "advice.because.fused", "common practice")
    told = findings.of_window(replace(hard, paths=tuple(paths)), fused, mold)
    assert told[0].code == f"findings.{code}"


def test_hotter_fills_sooner_in_plastic_than_in_aluminium_and_soft_before_hard(full: Advice) -> None:
    fill = {(w.plastisol, w.mold_material): w.fill_c.value for w in full.windows if w.fill_c}
    for plastisol in ("soft", "medium", "hard", "salted"):
        assert fill[plastisol, "pla"] < fill[plastisol, "aluminium"]
    for mold_material in ("pla", "petg", "pc", "aluminium"):
        assert fill["soft", mold_material] < fill["medium", mold_material] < fill["hard", mold_material]


def test_the_mold_limit_rises_with_the_deflection_temperature(full: Advice) -> None:
    context = window.make_context(
        minnow_measurement(FULL_MM), [pair("medium", m.id) for m in TABLES.mold_materials], TABLES.practice
    )
    middle = [float(np.median(row)) for row in context.mold_limit_c]
    limit = dict(zip([m.id for m in TABLES.mold_materials], middle, strict=True))
    assert limit["pla"] < limit["petg"] < limit["abs"] < limit["pc"] < limit["aluminium"]
    told = {w.mold_material: w.mold_limit_c for w in full.windows if w.plastisol == "medium"}
    assert {name for name, figure in told.items() if figure is not None} == {
        name for name, value in limit.items() if value < 177
    }


def test_the_drawn_fill_limit_rises_with_the_injection_time(full: Advice) -> None:
    plot = full.windows[0].plot
    assert plot is not None
    assert list(plot.injection_s) == sorted(plot.injection_s)
    for row in (plot.fill_low_c, plot.fill_c, plot.fill_high_c):
        assert all(b >= a - 1e-9 for a, b in itertools.pairwise(row))
    for low, middle, high in zip(plot.fill_low_c, plot.fill_c, plot.fill_high_c, strict=True):
        assert low <= middle <= high
    assert plot.injection_s[0] < plot.shoot_s.value < plot.injection_s[-1]
    assert all(w.plot is None for w in full.windows[1:])


def test_the_sensitivity_names_viscosity_set_temperature_and_pressure_first(full: Advice) -> None:
    swings = [s.swing_k for s in full.sensitivity]
    assert swings == sorted(swings, reverse=True)
    assert {s.constant for s in full.sensitivity[:3]} == {"viscosity", "set", "pressure"}
    fill_c = {s.constant: (s.fill_at_low_c, s.fill_at_high_c) for s in full.sensitivity}
    rises = {
        name: low is not None and high is not None and low < high for name, (low, high) in fill_c.items()
    }
    assert all(None not in fill_c[name] for name in ("viscosity", "pressure", "injection"))
    assert [rises[name] for name in ("viscosity", "pressure", "injection")] == [True, False, False]


def test_sixty_samples_give_the_limits_of_a_thousand() -> None:
    mold = minnow_measurement(1.5)
    few = make_context(mold).fill_c[0]
    many = window.fill_limits(mold, [pair()], TABLES.practice, 997)
    assert many is not None
    assert np.percentile(few, [5, 50, 95]) == pytest.approx(np.percentile(many[0], [5, 50, 95]), abs=4.0)


def test_each_constant_falls_once_into_each_slice_and_hardly_follows_another() -> None:
    drawn = samples.quantiles(samples.NAMES)
    table = np.stack(list(drawn.values()))
    slices = (np.sort(table, axis=1) * samples.SAMPLES).astype(int)
    assert (slices == np.arange(samples.SAMPLES)).all()
    others = np.corrcoef(table) - np.eye(len(table))
    assert np.abs(others).max() < 0.15


def test_declared_injection_and_pressure_are_used() -> None:
    slow = advise(spec(declared=Declared(injection_ml_s=2.0)), minnow_measurement(FULL_MM), OWN)
    fast = advise(spec(declared=Declared(injection_ml_s=30.0)), minnow_measurement(FULL_MM), OWN)
    slowly, fastly = slow.windows[0].fill_c, fast.windows[0].fill_c
    assert fastly is not None
    assert slowly is None or slowly.value > fastly.value
    assert slow.figures["fill_time"].value == pytest.approx(15 * fast.figures["fill_time"].value)


@pytest.mark.slow
def test_advice_is_the_same_every_time() -> None:
    mold = minnow_measurement(1.5)
    first, second = (advising.advise(spec(), mold, TABLES) for _ in range(2))
    assert first == second
