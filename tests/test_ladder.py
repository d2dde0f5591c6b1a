"""The flow ladder: parts to print, readings that are read strictly, a fit that finds hidden constants."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Literal

import numpy as np
import pytest
from click.testing import CliRunner

from builder import mesh
from builder.advice import ladder, samples
from builder.base.problems import Faults
from builder.cli import main
from builder.mesh import flow_ladder, solids
from builder.model import LadderReadings, LadderShot, Measurement, MoldSpec, ShotLog, Solid
from builder.spec import ladder_file, material_tables
from tests import shot_ladders
from tests.advised_minnow import spec
from tests.paths_for_flow import minnow_measurement
from tests.shot_ladders import LADDER

TABLES = material_tables.load()
FOUND = """
plastisol: pier-blend
name: Pier blend
like: medium
mold_material: pla
ladder: {gaps_mm: [2, 2.6, 3, 3.6, 4, 4.6], width_mm: 18, length_mm: 80, well_mm: 40, head_mm: 80}
shots:
  - {well_c: 170, mold_c: 22, reached_mm: [14, 24, 32, 45, 55, full]}
  - {well_c: 145, mold_c: 22, reached_mm: [9, 15, 21, 30, 36, 48]}
  - {well_f: 257, mold_f: 72, reached_mm: [5, 8, 11, 15, 19, 25]}
stopped_c: 103
"""


def readings(*shots: LadderShot, stopped_c: float | None = None) -> LadderReadings:
    return LadderReadings(
        id="pier-blend",
        name="Pier blend",
        like="medium",
        mold_material="pla",
        ladder=LADDER,
        shots=shots,
        stopped_c=stopped_c,
    )


def shot(well_c: float, *reached_mm: float) -> LadderShot:
    return LadderShot(well_c=well_c, mold_c=22.0, reached_mm=reached_mm)


HOT = shot(170.0, 14.0, 24.0, 32.0, 45.0, 55.0, 73.0)
MILD = shot(145.0, 9.0, 15.0, 21.0, 30.0, 36.0, 48.0)
COOL = shot(125.0, 5.0, 8.0, 11.0, 15.0, 19.0, 25.0)


def run(*args: str) -> tuple[int, str]:
    result = CliRunner().invoke(main, list(args))
    return result.exit_code, result.output


# -- the parts -------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def parts() -> dict[str, Solid]:
    return flow_ladder.parts(LADDER, 0.4)


def test_the_parts_are_sound_and_lie_on_a_bed_of_220_mm(tmp_path: Path) -> None:
    assert run("ladder", str(tmp_path / "mine"))[0] == 0
    for name in ("base", "lid", "ring"):
        solid, vouch = mesh.read((tmp_path / "mine" / f"{name}.stl").read_bytes(), name, "mm")
        assert (vouch.dropped, vouch.overlapping_bodies, vouch.notes) == (0, 0, ())
        assert max(np.ptp(solid.vertices, axis=0)[:2]) <= 216.01


def test_each_channel_is_as_deep_and_as_wide_as_told_all_along(parts: dict[str, Solid]) -> None:
    base = solids.body(parts["base"])

    def is_solid(point: np.ndarray) -> bool:
        return bool((solids.ball(0.02).translate(tuple(point.tolist())) ^ base).volume() > 0)

    for number, gap in enumerate(LADDER.gaps_mm):
        angle = np.radians(60.0 * number)
        along = np.array([np.cos(angle), np.sin(angle), 0.0])
        across, down = np.array([-along[1], along[0], 0.0]), np.array([0.0, 0.0, -1.0])
        for place, side in ((30.0, 8.9), (60.0, -8.9), (95.0, 0.0)):
            here = place * along + side * across
            assert not is_solid(here + (gap - 0.05) * down), (number, place)
            assert is_solid(here + (gap + 0.05) * down), (number, place)
        assert is_solid(60.0 * along + 9.1 * across + down), number
        assert not is_solid(99.5 * along + down), number
        assert is_solid(100.5 * along + down), number


def test_the_ring_shuts_every_mouth_and_has_play_in_the_well(parts: dict[str, Solid]) -> None:
    base, lid, ring = (solids.body(parts[name]) for name in ("base", "lid", "ring"))
    assert solids.volume_ml(ring ^ (base + lid)) < 1e-6
    low, high = solids.box(ring)
    assert low[2] == pytest.approx(-max(LADDER.gaps_mm))
    assert high[2] > LADDER.head_mm + 30
    assert high[0] == pytest.approx(LADDER.well_mm / 2 - 0.25, abs=0.02)


def test_halves_do_not_overlap_and_marks_do_not_open_into_a_channel(parts: dict[str, Solid]) -> None:
    base, lid = solids.body(parts["base"]), solids.body(parts["lid"])
    assert solids.volume_ml(base ^ lid) < 1e-6
    room = solids.box(base)
    assert room[1][2] == pytest.approx(0.0)
    for number in range(6):
        for ticks in flow_ladder._ticks(LADDER):
            assert solids.box(ticks)[0][1] >= LADDER.width_mm / 2 + 1.4, number


@pytest.mark.parametrize(("bed", "length"), [("140", 40.0), ("180", 60.0), ("220", 80.0), ("400", 120.0)])
def test_it_is_as_long_as_the_bed_allows_and_its_channels_are_whole_layers(
    tmp_path: Path, bed: str, length: float
) -> None:
    folder = tmp_path / "mine"
    assert run("ladder", str(folder), "--bed", bed, "--layer", "0.25")[0] == 0
    text = (folder / "readings.yaml").read_text()
    assert f"length_mm: {length:g}" in text
    assert "gaps_mm: [2, 2.5, 3, 3.5, 4, 4.5]" in text


def test_a_bed_that_is_too_small_and_a_folder_that_is_there_are_refused(tmp_path: Path) -> None:
    code, told = run("ladder", str(tmp_path / "mine"), "--bed", "120")
    assert code == 1
    assert "too small for a flow ladder; expected 140 mm or more" in told
    assert not (tmp_path / "mine").exists()
    code, told = run("ladder", str(tmp_path))
    assert code == 1
    assert "there is something here already" in told


# -- the readings ----------------------------------------------------------------------------------


def test_a_blank_file_asks_for_every_number(tmp_path: Path) -> None:
    run("ladder", str(tmp_path / "mine"))
    code, told = run("fit", str(tmp_path / "mine" / "readings.yaml"), "--molds", str(tmp_path / "molds"))
    assert code == 1
    assert told.count('this is the text "read"') == 4 * 8
    assert "readings.yaml:14:" in told


def test_readings_are_read_in_both_units_and_full_is_the_length(tmp_path: Path) -> None:
    file = tmp_path / "readings.yaml"
    file.write_text(FOUND, encoding="utf-8")
    found = ladder_file.load(file, TABLES)
    assert found.ladder == LADDER
    assert found.shots[0].reached_mm[-1] == 80.0
    assert found.shots[2].well_c == pytest.approx(125.0)
    assert found.stopped_c == 103.0


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        (
            "[9, 15, 21, 30, 36, 48]",
            "[9, 15]",
            "2 lengths are given; expected one for each of the 6 channels",
        ),
        ("55, full", "55, 81", "81 mm is more than a channel's length of 80 mm"),
        ("55, full", "55, most", 'this is the text "most"'),
        ("well_c: 145", "well_c: 20", "20 is out of range"),
        ("mold_c: 22, reached_mm: [9", "mold_c: 100, reached_mm: [9", ""),
        ("pier-blend", "medium", "medium is a name of the builder's own table"),
        ("like: medium", "like: mud", "mud is not known"),
        ("mold_material: pla", "mold_material: mud", "mud is not known"),
    ],
)
def test_readings_that_cannot_be_are_refused(tmp_path: Path, old: str, new: str, told: str) -> None:
    file = tmp_path / "readings.yaml"
    file.write_text(FOUND.replace(old, new), encoding="utf-8")
    if not told:
        assert ladder_file.load(file, TABLES).shots[1].mold_c == 100.0
        return
    with pytest.raises(Faults) as caught:
        ladder_file.load(file, TABLES)
    assert told in str(caught.value)


# -- the fit ---------------------------------------------------------------------------------------


@pytest.mark.slow
def test_of_fifty_hidden_plastics_the_ranges_hold_the_truth_and_are_three_times_narrower() -> None:
    """Filled by the judge of `judge_creep`, read to 1 mm, instruments that err: four times, and the cup."""
    plastics = shot_ladders.hidden(50, seed=3)
    found = [ladder.fit(read, TABLES) for read in shot_ladders.shot(plastics, seed=4)]
    viscosity = [
        f.viscosity.low <= true <= f.viscosity.high for f, true in zip(found, plastics.viscosity, strict=True)
    ]
    set_c = [f.set_c.low <= true <= f.set_c.high for f, true in zip(found, plastics.set_c, strict=True)]
    assert 0.8 <= np.mean(viscosity) <= 1.0
    assert 0.8 <= np.mean(set_c) <= 1.0
    narrower = [min(f.narrower.values()) for f in found]
    assert np.mean([one >= 3.0 for one in narrower]) >= 0.9
    assert min(narrower) >= 2.8
    assert np.median([f.narrower["viscosity"] for f in found]) >= 3.2
    assert np.median([f.narrower["set"] for f in found]) >= 3.5
    assert (
        abs(np.mean([np.log(f.viscosity.value / v) for f, v in zip(found, plastics.viscosity, strict=True)]))
        < 0.1
    )
    assert abs(np.mean([f.set_c.value - s for f, s in zip(found, plastics.set_c, strict=True)])) < 1.5


def test_one_filling_tells_viscosity_and_set_temperature_only_together() -> None:
    """A thinner plastic that sets earlier fills as far as a thicker one that sets later."""
    one = ladder.fit(readings(HOT), TABLES)
    assert one.narrower["viscosity"] > 1.6
    assert one.narrower["set"] < 1.5
    assert [at for at, _ in one.at_shot] == [170.0]
    early, late = (ladder.fit(readings(HOT, stopped_c=at), TABLES) for at in (96.0, 120.0))
    assert early.set_c.value < late.set_c.value
    assert early.viscosity.value > late.viscosity.value


def test_a_cooler_filling_and_the_cup_tell_where_it_sets() -> None:
    one, three = (ladder.fit(readings(*shots), TABLES) for shots in ((HOT,), (HOT, MILD, COOL)))
    cup = ladder.fit(readings(HOT, MILD, COOL, stopped_c=103.0), TABLES)
    assert one.narrower["set"] < three.narrower["set"] < cup.narrower["set"]
    assert cup.set_c.low < 103.0 < cup.set_c.high + 4.0


def test_thicker_plastic_fills_less_and_is_found_thicker() -> None:
    thin = ladder.fit(readings(HOT, COOL), TABLES)
    halved = (replace(one, reached_mm=tuple(x / 1.5 for x in one.reached_mm)) for one in (HOT, COOL))
    thick = ladder.fit(readings(*halved), TABLES)
    assert thick.viscosity.value > 1.7 * thin.viscosity.value


def test_one_wrong_reading_among_eighteen_moves_little() -> None:
    right = ladder.fit(readings(HOT, MILD, COOL), TABLES)
    slip = replace(COOL, reached_mm=(*COOL.reached_mm[:-1], 52.0))
    wrong = ladder.fit(readings(HOT, MILD, slip), TABLES)
    assert abs(wrong.set_c.value - right.set_c.value) < 3.0
    assert wrong.viscosity.value == pytest.approx(right.viscosity.value, rel=0.15)


def logged(
    outcome: Literal["full", "short"], *shot_c: float, plastisol: str = "pier-blend"
) -> tuple[MoldSpec, Measurement]:
    """A minnow with a thin tail, and its log."""
    shots = tuple(
        ShotLog(date="2026-03-01", plastisol=plastisol, shot_c=at, mold_material="petg", outcome=outcome)
        for at in shot_c
    )
    return spec(shots=shots), minnow_measurement(1.2)


@pytest.mark.slow
def test_logged_shots_of_the_same_plastic_count_along_and_pull_where_they_should() -> None:
    alone = ladder.fit(readings(HOT), TABLES)
    full = ladder.fit(readings(HOT), TABLES, [logged("full", 146.0, 148.0, 150.0)])
    short = ladder.fit(readings(HOT), TABLES, [logged("short", 168.0, 170.0, 172.0)])
    assert (alone.logged, full.logged, short.logged) == (0, 3, 3)
    assert full.set_c.value < alone.set_c.value < short.set_c.value
    assert short.set_c.high - short.set_c.low < alone.set_c.high - alone.set_c.low
    assert ladder.fit(readings(HOT), TABLES, [logged("short", 150.0, plastisol="medium")]).logged == 0


def test_the_same_readings_give_the_same_answer() -> None:
    assert ladder.fit(readings(HOT, COOL), TABLES) == ladder.fit(readings(HOT, COOL), TABLES)


@pytest.mark.slow
def test_what_is_written_is_a_plastisol_that_every_page_can_use(tmp_path: Path) -> None:
    file, molds = tmp_path / "readings.yaml", tmp_path / "molds"
    molds.mkdir()
    file.write_text(FOUND, encoding="utf-8")
    code, told = run("fit", str(file), "--molds", str(molds))
    assert code == 0
    assert "Nothing was written" in told
    assert not (tmp_path / "plastisols").exists()
    code, told = run("fit", str(file), "--molds", str(molds), "--write")
    assert (code, "pier-blend.yaml is written" in told) == (0, True)
    own = material_tables.load(molds).plastisols[-1]
    assert (own.id, own.name) == ("pier-blend", "Pier blend")
    assert {n for n, v in own.values.items() if v.grade == "measured"} == {"viscosity", "set"}
    fitted = ladder.fit(ladder_file.load(file, TABLES), TABLES)
    even = (np.arange(4000) + 0.5) / 4000
    for name, figure, logs in (("viscosity", fitted.viscosity, True), ("set", fitted.set_c, False)):
        low, high = np.percentile(samples.spread(own.values[name], even, logs), [5, 95])
        assert (low, high) == pytest.approx((figure.low, figure.high), rel=0.05)
    place = tmp_path / "plastisols" / "pier-blend.yaml"
    assert run("fit", str(file), "--molds", str(molds), "--write")[0] == 0, "a newer fit takes its place"
    place.write_text("name: Pier blend\nlike: medium\n", encoding="utf-8")
    code, told = run("fit", str(file), "--molds", str(molds), "--write")
    assert (code, "a plastisol of this name already" in told) == (1, True)


def test_a_reading_that_fits_no_other_is_named(tmp_path: Path) -> None:
    file = tmp_path / "readings.yaml"
    file.write_text(FOUND.replace("15, 19, 25", "15, 19, 52"), encoding="utf-8")
    told = run("fit", str(file), "--molds", str(tmp_path / "molds"))[1]
    assert told.count("Read it again") == 1
    assert "Channel 6 filled 52.0" in told
