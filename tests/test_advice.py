"""Advice on a minnow whose numbers are known: amounts, window, what decides, what may go wrong, the log."""

from __future__ import annotations

import itertools
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import yaml

import builder
from builder import materials, texts
from builder.advice import advise, findings, heating, logbook, paths, samples, trouble, window
from builder.advice.samples import Pair
from builder.advice.window import Ground
from builder.model import (
    Advice,
    Declared,
    EyeSocket,
    Figure,
    Hints,
    Measurement,
    MoldSpec,
    ShotLog,
    Window,
)
from builder.problems import Faults
from tests.paths_for_flow import minnow_measurement

TABLES = materials.load()
SHORT_MM, FULL_MM = 0.8, 2.4
"""Trunks below and above the critical thickness at 157 °C."""


def spec(
    plastisol: str = "medium",
    mold_material: str = "pla",
    *,
    hints: Hints | None = None,
    declared: Declared | None = None,
    shots: tuple[ShotLog, ...] = (),
) -> MoldSpec:
    return MoldSpec(
        slug="minnow",
        folder=Path("molds/minnow"),
        title="Minnow",
        kind="injection",
        parts=(),
        cavities=2,
        plastisol=plastisol,
        mold_material=mold_material,
        units="mm",
        hints=hints or Hints(),
        declared=declared or Declared(),
        shots=shots,
    )


def pair(plastisol: str = "medium", mold_material: str = "pla") -> Pair:
    return Pair(
        plastisol=next(entry for entry in TABLES.plastisols if entry.id == plastisol),
        mold=next(entry for entry in TABLES.mold_materials if entry.id == mold_material),
    )


def ground(measurement: Measurement, plastisol: str = "medium", mold_material: str = "pla") -> Ground:
    return window.ground(measurement, [pair(plastisol, mold_material)], TABLES.practice)


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
    assert [amounts.plastisol for amounts in full.amounts] == ["medium", "soft", "hard", "salted"]
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
    advice = advise(spec(), mold, TABLES)
    assert (advice.eye_mm.value if advice.eye_mm else None) == eye_mm
    assert not advice.eye_suggested
    assert ("findings.no_eye" in {f.code for f in advice.findings}) == (eye_mm is None)


def test_without_a_socket_the_eye_is_a_suggestion_and_a_declared_one_is_not() -> None:
    mold = minnow_measurement(FULL_MM)
    bare = replace(mold, baits=tuple(replace(bait, sockets=()) for bait in mold.baits))
    suggested = advise(spec(), bare, TABLES)
    assert suggested.eye_suggested
    assert suggested.eye_mm is not None
    assert suggested.eye_mm.origin == "common practice"
    told = advise(spec(hints=Hints(eye_mm=7.0)), bare, TABLES)
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


def figures_of(advice: Advice) -> list[tuple[str, Figure]]:
    own = [(f"{w.plastisol}/{w.mold_material} {n}", getattr(w, n)) for w in advice.windows for n in TIMES]
    return [*advice.figures.items(), *own]


TIMES = ("fill_c", "mold_limit_c", "plastisol_limit_c", "hold_s", "cool_s", "rest_s")


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
            assert w.likely_c[0] - 1 <= w.shoot_c.value <= w.likely_c[1] + 1


def test_the_sure_part_lies_inside_the_likely_part(full: Advice) -> None:
    sure = [w for w in full.windows if w.sure_c is not None]
    assert sure
    for w in sure:
        assert w.likely_c is not None
        assert w.sure_c is not None
        assert w.likely_c[0] <= w.sure_c[0] <= w.sure_c[1] <= w.likely_c[1]


def test_the_thin_trunk_comes_out_short_at_157_and_is_named_and_the_wide_one_comes_out_full() -> None:
    thin, wide = (ground(minnow_measurement(mm)) for mm in (SHORT_MM, FULL_MM))
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
    thin = ground(minnow_measurement(SHORT_MM))
    needed = window.verdicts(thin, thin.constants, 165.0, every=True)[0].needed_mm
    assert needed is not None
    mended = ground(minnow_measurement(needed.value))
    judged = window.verdicts(mended, mended.constants, 165.0, every=True)[0]
    assert judged.margin.value == pytest.approx(1.5, rel=0.04)


def test_more_vents_change_neither_margin_nor_verdict_nor_window() -> None:
    one, five = (advise(spec(), minnow_measurement(SHORT_MM, vents=n), TABLES) for n in (1, 5))
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


def test_hotter_fills_sooner_in_plastic_than_in_aluminium_and_soft_before_hard(full: Advice) -> None:
    fill = {(w.plastisol, w.mold_material): w.fill_c.value for w in full.windows}
    for plastisol in ("soft", "medium", "hard", "salted"):
        assert fill[plastisol, "pla"] < fill[plastisol, "aluminium"]
    for mold_material in ("pla", "petg", "pc", "aluminium"):
        assert fill["soft", mold_material] < fill["medium", mold_material] < fill["hard", mold_material]


def test_the_mold_limit_rises_with_the_deflection_temperature(full: Advice) -> None:
    limit = {w.mold_material: w.mold_limit_c.value for w in full.windows if w.plastisol == "medium"}
    assert limit["pla"] < limit["petg"] < limit["abs"] < limit["pc"]
    assert limit["aluminium"] == heating.HARD_C


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
    by_name = {s.constant: s for s in full.sensitivity}
    assert by_name["viscosity"].fill_at_low_c < by_name["viscosity"].fill_at_high_c
    assert by_name["pressure"].fill_at_low_c > by_name["pressure"].fill_at_high_c
    assert by_name["injection"].fill_at_low_c > by_name["injection"].fill_at_high_c


def test_sixty_samples_give_the_limits_of_a_thousand() -> None:
    mold = minnow_measurement(1.5)
    few = ground(mold).fill_c[0]
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
    slow = advise(spec(declared=Declared(injection_ml_s=2.0)), minnow_measurement(FULL_MM), TABLES)
    fast = advise(spec(declared=Declared(injection_ml_s=30.0)), minnow_measurement(FULL_MM), TABLES)
    assert slow.windows[0].fill_c.value > fast.windows[0].fill_c.value
    assert slow.figures["fill_time"].value == pytest.approx(15 * fast.figures["fill_time"].value)


def test_advice_is_the_same_every_time() -> None:
    mold = minnow_measurement(1.5)
    assert advise(spec(), mold, TABLES) == advise(spec(), mold, TABLES)


# -- what may go wrong -----------------------------------------------------------------------------


def test_ten_hot_shots_in_pla_without_rest_flash_and_with_the_advised_rest_they_do_not() -> None:
    known = ground(minnow_measurement(FULL_MM))
    own: Window = window.window(known, 0, whole=False)
    hurried = findings.of_row(known, 165.0, shots=10, rest_s=0.0)
    assert [f.level for f in hurried] == ["warn"]
    assert hurried[0].code.startswith("findings.flash")
    rested = window.window(known, 0, whole=False).rest_s.value
    assert 60 < rested < 3600
    assert findings.of_row(known, 165.0, shots=10, rest_s=rested) == ()
    assert own.rest_s.value == rested


def test_what_pla_does_not_stand_aluminium_does() -> None:
    known = ground(minnow_measurement(FULL_MM), mold_material="aluminium")
    assert findings.of_row(known, 177.0, shots=10, rest_s=0.0) == ()
    assert window.window(known, 0, whole=False).rest_s.value == 0.0


def test_a_shot_softens_more_of_the_wall_the_hotter_the_oftener_and_the_sooner_it_comes() -> None:
    known = ground(minnow_measurement(FULL_MM))

    def softened(shot_c: float, shots: int, rest_s: float) -> float:
        row = trouble.repeated(known, 0, shot_c, shots=shots, rest_s=rest_s)
        return float(np.mean(row.softened))

    assert softened(157.0, 1, 0.0) < softened(177.0, 1, 0.0)
    assert softened(165.0, 1, 0.0) < softened(165.0, 4, 0.0) < softened(165.0, 10, 0.0)
    assert softened(165.0, 10, 1200.0) < softened(165.0, 10, 300.0) < softened(165.0, 10, 0.0)


def test_a_sprue_that_holds_too_little_runs_dry_and_one_that_sets_first_is_named() -> None:
    mold = minnow_measurement(FULL_MM)
    assert mold.sprue is not None
    empty = replace(
        mold,
        sprue=replace(mold.sprue, volume_ml=0.001, modulus_mm=0.3),
        runner=replace(mold.runner, volume_ml=0.0),
    )
    codes = {f.code for f in advise(spec(), empty, TABLES).findings}
    assert {"findings.dry_sprue", "findings.feed_sets_first"} <= codes
    sound = {f.code for f in advise(spec(), mold, TABLES).findings}
    assert not {"findings.dry_sprue", "findings.feed_sets_first"} & sound


def test_an_extremity_without_a_vent_is_named_and_tiny_vents_let_air_decide() -> None:
    closed = advise(spec(), minnow_measurement(FULL_MM, vents=0, vented=False), TABLES)
    named = [f for f in closed.findings if f.code == "findings.no_vent"]
    assert {f.values["bait"] for f in named} == {"1", "2"}
    mold = minnow_measurement(FULL_MM)
    pinholes = replace(mold, vents=tuple(replace(v, depth_mm=0.01, width_mm=0.5) for v in mold.vents))
    assert "findings.air_decides" in {f.code for f in advise(spec(), pinholes, TABLES).findings}
    assert "findings.air_decides" not in {f.code for f in advise(spec(), mold, TABLES).findings}


def test_the_next_bolt_goes_to_the_plastic_farthest_from_the_others() -> None:
    mold = minnow_measurement(FULL_MM)
    far = replace(mold, bolts=tuple(bolt for bolt in mold.bolts if bolt.at_mm[0] < 0))
    known = ground(far)
    spot = trouble.unsupported(known)
    assert spot is not None
    assert spot[0][0] > 100
    near, wide = (trouble.repeated(ground(m), 0, 165.0, shots=1).gap_mm for m in (mold, far))
    assert near is not None
    assert wide is not None
    assert (wide > near).all()


def test_troubles_are_ranked_by_this_molds_own_chances(short: Advice, full: Advice) -> None:
    for advice in (short, full):
        chances = [t.chance.value for t in advice.troubles]
        assert chances == sorted(chances, reverse=True)
        codes = {t.code.rpartition(".")[2] for t in advice.troubles}
        assert codes == {"short", "flash", "dent", "bubbles", "warp", "scorch"}
    rank = [next(i for i, t in enumerate(a.troubles) if t.code.endswith(".short")) for a in (short, full)]
    chance = [next(t.chance.value for t in a.troubles if t.code.endswith(".short")) for a in (short, full)]
    assert chance[0] > chance[1]
    assert rank[0] <= rank[1]


def open_pour() -> Measurement:
    mold = minnow_measurement(FULL_MM)
    baits = tuple(replace(bait, gates=(), paths=()) for bait in mold.baits)
    runner = replace(mold.runner, volume_ml=0.0)
    return replace(mold, kind="open pour", sprue=None, runner=runner, baits=baits, vents=(), bolts=())


def test_an_open_mold_is_poured_without_paths_gates_or_flash() -> None:
    advice = advise(spec(), open_pour(), TABLES)
    own = advice.windows[0]
    assert own.shoot_c is not None
    assert own.paths == ()
    assert own.plot is None
    assert 0 < own.hold_s.value < own.cool_s.value
    assert advice.sensitivity == ()
    assert {t.code.rpartition(".")[2] for t in advice.troubles} == {"warp", "scorch", "bubbles"}
    told = {f.code for f in advice.findings}
    assert not any(code.startswith(("findings.flash", "findings.no_bolts", "findings.dry")) for code in told)
    assert not {"clamp_force", "fill_time", "gap"} & advice.figures.keys()


def entries(language: str) -> dict[str, str]:
    text = (Path(builder.__file__).parent / "texts" / f"{language}.yaml").read_text(encoding="utf-8")
    return dict(texts.flatten(yaml.safe_load(text)))


def variants() -> list[Advice]:
    thin, wide = minnow_measurement(SHORT_MM), minnow_measurement(FULL_MM)
    assert wide.sprue is not None
    sprue, runner = replace(wide.sprue, volume_ml=0.001, modulus_mm=0.3), replace(wide.runner, volume_ml=0.0)
    starved = replace(wide, sprue=sprue, runner=runner)
    pinholes = replace(wide, vents=tuple(replace(v, depth_mm=0.01, width_mm=0.5) for v in wide.vents))
    drains = replace(wide, vents=tuple(replace(v, depth_mm=0.5, length_mm=3.0) for v in wide.vents))
    unbolted = replace(wide, bolts=())
    gaping = replace(wide, bolts=wide.bolts[:1])
    small = EyeSocket(at_mm=(0.0, 0.0, 0.0), normal=(0.0, 0.0, 1.0), diameter_mm=2.0, depth_mm=1.0)
    eyeless = replace(wide, baits=tuple(replace(bait, sockets=(small,)) for bait in wide.baits))
    paper = replace(wide, walls=(replace(wide.walls[0], thickness_mm=2.0),))
    unvented = minnow_measurement(1.4, vents=0, vented=False)
    molds = (thin, wide, starved, pinholes, drains, unbolted, gaping, eyeless, paper, unvented, open_pour())
    hottest = advise(spec("soft", "aluminium"), thin, TABLES)
    return [hottest, *(advise(spec(), mold, TABLES) for mold in molds)]


def test_everything_that_can_be_said_has_its_sentence_in_both_languages() -> None:
    said: set[str] = set()
    every = variants()
    for language in ("en", "de"):
        words = texts.Texts(language=language, entries=entries(language))
        for advice in every:
            for finding in (*advice.findings, *(f for w in advice.windows for f in w.findings)):
                assert words.tell(finding)
                said.add(finding.code)
            for t in advice.troubles:
                assert words.say(t.code, **t.values)
                assert words.say(f"{t.code}_cure", **t.values)
            for name, figure in figures_of(advice):
                assert words.entries[figure.because], name
    sentences = {key for key in entries("en") if key.startswith("findings.") and ".trouble." not in key}
    assert sentences - said == {"findings.flash", "findings.flash_gap", "findings.warp"}, (
        "said without advice"
    )


# -- the log ---------------------------------------------------------------------------------------


def shot(shot_c: float, outcome: str, **more: object) -> ShotLog:
    return ShotLog(
        date="2026-03-01",
        plastisol="medium",
        shot_c=shot_c,
        mold_material="petg",
        outcome=outcome,  # type: ignore[arg-type]
        **more,  # type: ignore[arg-type]
    )


def test_logged_shots_stand_beside_the_prediction() -> None:
    shots = (shot(157.0, "short"), shot(157.0, "full"), shot(160.0, "bubbles"))
    compared = advise(spec(shots=shots), minnow_measurement(SHORT_MM), TABLES).shots
    assert [c.expected for c in compared] == ["short"] * 3
    assert [c.agrees for c in compared] == [True, False, False]
    assert compared[0].chance.value > 0.9
    tally = logbook.agreement(compared)
    assert (tally.shots, tally.agreed) == (2, 1)
    assert tally.by_outcome == {"short": (1, 1), "full": (0, 1)}
    assert tally.share is not None
    assert tally.share.low < 0.5 < tally.share.high


def test_no_shots_no_agreement_and_nothing_to_fit() -> None:
    assert logbook.agreement(()).share is None
    assert logbook.fit([spec()], [minnow_measurement(1.5)], TABLES) == ()


def test_the_log_moves_the_viscosity_to_where_it_explains_the_shots() -> None:
    """A true mold with thick or thin plastisol shoots short or full; the fit must find out which."""
    mold = minnow_measurement(1.5)
    table = pair().plastisol.values["viscosity"]
    for truth, side in ((8.0, 1), (1.5, -1)):
        fitted = {f.constant: f for f in logbook.fit([spec(shots=true_log(mold, truth))], [mold], TABLES)}
        found = fitted["medium.viscosity"]
        assert side * (found.suggested.value - table.value) > 0
        assert found.suggested.low <= truth <= found.suggested.high
        assert found.suggested.high - found.suggested.low < table.high - table.low
        assert found.shots == 12


def true_log(mold: Measurement, viscosity: float) -> tuple[ShotLog, ...]:
    """Twelve shots of a mold whose constants are the table's but for the viscosity."""
    constants = samples.central([pair("medium", "petg")], TABLES.practice)
    rows = paths.deciding(paths.ways(mold), constants)
    fill = float(paths.fill_limit_c(rows, constants, viscosity=np.array([[viscosity]]))[0, 0])
    tried = np.linspace(130.0, 180.0, 12)
    return tuple(shot(float(t), "full" if t > fill else "short") for t in tried)
