"""Advice on a minnow whose numbers are context: what may go wrong, and what the log of shots says."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import yaml

import builder
from builder.advice import logbook, paths, samples, trouble, window
from builder.base import texts
from builder.model import Advice, Declared, EyeSocket, Measurement, ShotLog, Tables, Trouble
from tests.advised_minnow import (
    FEW,
    FULL_MM,
    OWN,
    SHORT_MM,
    TABLES,
    figures_of,
    make_context,
    pair,
    row_findings,
    spec,
)
from tests.paths_for_flow import minnow_measurement
from tests.readings import advised as advise


@pytest.fixture(scope="module")
def short() -> Advice:
    return advise(spec(), minnow_measurement(SHORT_MM), TABLES)


@pytest.fixture(scope="module")
def full() -> Advice:
    return advise(spec(), minnow_measurement(FULL_MM), TABLES)


def codes(advice: Advice) -> set[str]:
    """What is found of the mold, whatever is shot, and with its own pair."""
    return {finding.code for finding in (*advice.findings, *advice.windows[0].findings)}


def kind(trouble: Trouble) -> str:
    """What it is, whatever its cure."""
    return (
        trouble.code.rpartition(".")[2]
        .removesuffix("_anyway")
        .removesuffix("_at_the_top")
        .removesuffix("_at_once")
    )


# -- what may go wrong -----------------------------------------------------------------------------


def test_ten_hot_shots_in_pla_without_rest_flash_and_with_the_advised_rest_they_do_not() -> None:
    context = make_context(minnow_measurement(FULL_MM))
    own, shot_c = window.window(context, 0, whole=False), context.points[0].trial_c
    hurried = row_findings(context, shot_c, shots=10, rest_s=0.0)
    assert [f.level for f in hurried] == ["warn"]
    assert hurried[0].code.startswith("findings.flash")
    assert own.rest_s is not None
    assert 60 < own.rest_s.value < 3600
    assert row_findings(context, shot_c, shots=10, rest_s=own.rest_s.value) == ()


def test_what_pla_does_not_stand_aluminium_does() -> None:
    context = make_context(minnow_measurement(FULL_MM), mold_material="aluminium")
    assert row_findings(context, 177.0, shots=10, rest_s=0.0) == ()
    rest = window.window(context, 0, whole=False).rest_s
    assert rest is not None
    assert rest.value == rest.high == 0.0


def test_a_shot_softens_more_of_the_wall_the_hotter_the_oftener_and_the_sooner_it_comes() -> None:
    context = make_context(minnow_measurement(FULL_MM))

    def softened(shot_c: float, shots: int, rest_s: float) -> float:
        row = trouble.repeated(context, 0, shot_c, shots=shots, rest_s=rest_s)
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
    assert {"findings.dry_sprue", "findings.feed_sets_first"} <= codes(advise(spec(), empty, OWN))
    assert not {"findings.dry_sprue", "findings.feed_sets_first"} & codes(advise(spec(), mold, OWN))


def test_an_extremity_without_a_vent_is_named_and_tiny_vents_let_air_decide() -> None:
    closed = advise(spec(), minnow_measurement(FULL_MM, vents=0, vented=False), OWN)
    named = [f for f in closed.findings if f.code == "findings.no_vent"]
    assert {f.values["bait"] for f in named} == {"1", "2"}
    mold = minnow_measurement(FULL_MM)
    pinholes = replace(mold, vents=tuple(replace(v, depth_mm=0.01, width_mm=0.5) for v in mold.vents))
    assert "findings.air_decides" in {f.code for f in advise(spec(), pinholes, OWN).findings}
    assert "findings.air_decides" not in {f.code for f in advise(spec(), mold, OWN).findings}


def test_the_next_bolt_goes_to_where_the_halves_part_most() -> None:
    mold = minnow_measurement(FULL_MM)
    far = replace(mold, bolts=tuple(bolt for bolt in mold.bolts if bolt.at_mm[0] < 0))
    context = make_context(far)
    assert context.parting is not None
    assert context.parting.at_mm[0] > 100
    near, wide = (trouble.repeated(make_context(m), 0, 165.0, shots=1).gap_mm for m in (mold, far))
    assert near is not None
    assert wide is not None
    assert (wide > near).all()


def test_halves_that_part_in_the_first_shot_are_not_sent_to_rest() -> None:
    mold = minnow_measurement(FULL_MM)
    few = replace(mold, bolts=tuple(bolt for bolt in mold.bolts if bolt.at_mm[0] < 0))
    for measured, bolted in ((few, False), (mold, True)):
        for own in advise(spec(), measured, TABLES).windows:
            parts = "findings.halves_part" in {f.code for f in own.findings}
            (flash,) = (t for t in own.troubles if kind(t) == "flash")
            assert (flash.code == "findings.trouble.flash_at_once") == parts, own.mold_material
            assert parts == ("rest" not in flash.values and flash.chance.value > 0.5 and not bolted)


def test_in_aluminium_the_wall_neither_softens_nor_warps_as_it_does_in_pla(full: Advice) -> None:
    chance = {
        (w.mold_material, kind(t)): t.chance.value
        for w in full.windows
        for t in w.troubles
        if w.plastisol == "soft"
    }
    assert chance["aluminium", "flash"] < chance["pla", "flash"]
    assert chance["aluminium", "warp"] == 0.0
    said = {w.mold_material: {f.code for f in w.findings} for w in full.windows if w.plastisol == "soft"}
    assert any(code.startswith("findings.flash") for code in said["pla"])
    assert not any(code.startswith("findings.flash") for code in said["aluminium"])


def test_troubles_are_ranked_by_this_molds_own_chances(short: Advice, full: Advice) -> None:
    for advice in (short, full):
        for own in advice.windows:
            chances = [t.chance.value for t in own.troubles]
            assert chances == sorted(chances, reverse=True)
            kinds = {kind(t) for t in own.troubles}
            assert kinds == {"short", "flash", "dent", "bubbles", "warp", "scorch"}
    listed = [advice.windows[0].troubles for advice in (short, full)]
    rank = [next(i for i, t in enumerate(own) if kind(t) == "short") for own in listed]
    chance = [next(t.chance.value for t in own if kind(t) == "short") for own in listed]
    assert chance[0] > chance[1]
    assert rank[0] <= rank[1]


def open_pour() -> Measurement:
    mold = minnow_measurement(FULL_MM)
    baits = tuple(replace(bait, gates=(), paths=()) for bait in mold.baits)
    runner = replace(mold.runner, volume_ml=0.0)
    return replace(mold, kind="open pour", sprue=None, runner=runner, baits=baits, vents=(), bolts=())


def test_an_open_mold_is_poured_without_paths_gates_or_flash() -> None:
    advice = advise(spec(), open_pour(), OWN)
    own = advice.windows[0]
    assert own.shoot_c is not None
    assert own.paths == ()
    assert own.plot is None
    assert 0 < own.hold_s.value < own.cool_s.value
    assert advice.sensitivity == ()
    assert {kind(t) for t in own.troubles} == {"warp", "scorch", "bubbles"}
    told = codes(advice)
    assert not any(code.startswith(("findings.flash", "findings.no_bolts", "findings.dry")) for code in told)
    assert not {"clamp_force", "fill_time", "gap"} & advice.figures.keys()


def entries(language: str) -> dict[str, str]:
    text = (Path(builder.__file__).parent / "texts" / f"{language}.yaml").read_text(encoding="utf-8")
    return dict(texts.flatten(yaml.safe_load(text)))


def variants(tables: Tables) -> list[Advice]:
    thin, wide = minnow_measurement(SHORT_MM), minnow_measurement(FULL_MM)
    assert wide.sprue is not None
    sprue, runner = replace(wide.sprue, volume_ml=0.001, modulus_mm=0.3), replace(wide.runner, volume_ml=0.0)
    starved = replace(wide, sprue=sprue, runner=runner)
    pinholes = replace(wide, vents=tuple(replace(v, depth_mm=0.01, width_mm=0.5) for v in wide.vents))
    drains = replace(wide, vents=tuple(replace(v, depth_mm=0.5, length_mm=3.0) for v in wide.vents))
    gutters = replace(wide, vents=tuple(replace(v, depth_mm=1.0, length_mm=1.0) for v in wide.vents))
    unbolted = replace(wide, bolts=())
    gaping = replace(wide, bolts=wide.bolts[:1])
    small = EyeSocket(at_mm=(0.0, 0.0, 0.0), normal=(0.0, 0.0, 1.0), diameter_mm=2.0, depth_mm=1.0)
    eyeless = replace(wide, baits=tuple(replace(bait, sockets=(small,)) for bait in wide.baits))
    paper = replace(wide, walls=(replace(wide.walls[0], thickness_mm=2.0),))
    unvented = minnow_measurement(1.4, vents=0, vented=False)
    hottest = advise(spec("soft", "aluminium"), thin, tables)
    sparse = replace(wide, bolts=tuple(bolt for bolt in wide.bolts if bolt.at_mm[1] != 0))
    soft = replace(thin, walls=paper.walls)
    molds = (thin, wide, starved, pinholes, drains, unbolted, gaping, eyeless, paper, unvented, open_pour())
    careful = advise(spec(declared=Declared(limit_c=150.0)), wide, tables)
    filling = advise(spec(declared=Declared(limit_c=155.0)), minnow_measurement(1.1), tables)
    narrow = minnow_measurement(1.0)
    slight = replace(wide, walls=(replace(wide.walls[0], thickness_mm=7.0),))
    limber = replace(wide, size_mm=(*wide.size_mm[:2], 0.8 * wide.size_mm[2]))
    more = (*molds, gutters, sparse, soft, narrow, slight, limber)
    return [hottest, careful, filling, *(advise(spec(), mold, tables) for mold in more)]


@pytest.mark.slow
@pytest.mark.parametrize("tables", [FEW, TABLES], ids=["few", "all"])
def test_everything_that_can_be_said_has_its_sentence_in_both_languages(tables: Tables) -> None:
    said: set[str] = set()
    every = variants(tables)
    for language in ("en", "de"):
        words = texts.Texts(language=language, entries=entries(language))
        for advice in every:
            for finding in (*advice.findings, *(f for w in advice.windows for f in w.findings)):
                assert words.finding(finding)
                said.add(finding.code)
                if (at_gate := f"{finding.code}_gate") in words.entries:
                    assert words.say(at_gate, **finding.values)
                    said.add(at_gate)
            for t in (t for w in advice.windows for t in w.troubles):
                assert words.say(t.code, **t.values)
                assert words.say(f"{t.code}_cure", **t.values)
            for name, figure in figures_of(advice):
                assert words.entries[figure.because], name
    sentences = {key for key in entries("en") if key.startswith("findings.") and ".trouble." not in key}
    poured = {key for key in sentences if key.endswith("_pour")}
    assert {key.removesuffix("_pour") for key in poured} <= sentences
    sentences -= poured  # the same findings, in the words of a mold that is poured
    without_advice = {"findings.flash", "findings.flash_gap", "findings.warp"}
    of_other_pairs = {"findings.window_empty_fills"} if tables is FEW else set()
    assert sentences - said - of_other_pairs == without_advice


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
    compared = advise(spec(shots=shots), minnow_measurement(SHORT_MM), FEW).shots
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
    table = pair().plastisol.values["viscosity"]
    for truth, side, trunk_mm in ((10.0, 1, 1.0), (1.5, -1, 1.0)):
        mold = minnow_measurement(trunk_mm)
        fitted = {f.constant: f for f in logbook.fit([spec(shots=true_log(mold, truth))], [mold], TABLES)}
        found = fitted["medium.viscosity"]
        assert side * (found.suggested.value - table.value) > 0
        assert found.suggested.low <= truth <= found.suggested.high
        assert found.suggested.high - found.suggested.low < table.high - table.low
        assert found.shots == 12


def true_log(mold: Measurement, viscosity: float) -> tuple[ShotLog, ...]:
    """Twelve shots of a mold whose constants are the table's but for the viscosity."""
    constants = samples.central([pair("medium", "petg")], TABLES.practice)
    rows = paths.deciding(paths.flow_paths(mold, "sprue_up"), constants)
    fill = float(paths.fill_limit_c(rows, constants, viscosity=np.array([[viscosity]]))[0, 0])
    tried = np.linspace(130.0, 180.0, 12)
    return tuple(shot(float(t), "full" if t > fill else "short") for t in tried)
