"""A build computes what is missing, once; what a stage does not depend on leaves its result alone."""

from __future__ import annotations

import os
import shutil
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from builder import build, pictures, stages
from builder.base import workers
from builder.base.problems import Faults
from builder.base.store import Store, canonical
from builder.model import Deciding, Picture, Reading, Station, Tables
from builder.pictures import picture_set
from builder.site import batch
from tests import coarse, small_mold


def keys(folder: Path, tables: Tables) -> stages.Keys:
    return build.load_draft(folder, tables).keys


def test_a_record_is_read_once_and_then_found(tmp_path: Path, tables: Tables, store: Store) -> None:
    folder = small_mold.write(tmp_path)
    first = build.build_mold(folder, tables, store)
    again = Store(store.folder)
    assert build.build_mold(folder, tables, again) == first
    assert again.misses == Counter()
    assert first.measurement.baits[0].volume_ml == pytest.approx(
        small_mold.poured().volume() / 1000, rel=0.005
    )
    assert all(first.place_of(name).stat().st_size for p in first.pictures for name in p.files.values())


def test_place_layout_and_time_of_a_mold_do_not_matter(tmp_path: Path, tables: Tables) -> None:
    here = small_mold.write(tmp_path / "here")
    there = small_mold.write(tmp_path / "with spaces ünd accents")
    os.utime(there / "block.stl", (0, 0))
    lines = (there / "mold.yaml").read_text().splitlines()
    (there / "mold.yaml").write_text("\n\n# turned over\n" + "\n".join(reversed(lines)) + "\n")
    assert keys(here, tables) == keys(there, tables)


def test_prose_leaves_every_stage_alone(tmp_path: Path, tables: Tables) -> None:
    plain = small_mold.write(tmp_path / "a")
    told = small_mold.write(
        tmp_path / "b", version="3", more="summary: A bar.\nauthor: Nobody\nlicence: MIT\n"
    )
    assert keys(plain, tables) == keys(told, tables)


@pytest.mark.parametrize(
    "more", ["mold_material: petg\n", "hints: {eye_mm: 4}\n", "shots: []\n", "declared: {room_c: 5}\n"]
)
def test_what_the_stages_use_is_in_their_keys(tmp_path: Path, tables: Tables, more: str) -> None:
    before = keys(small_mold.write(tmp_path / "a"), tables)
    after = keys(small_mold.write(tmp_path / "b", more=more), tables)
    assert (before.advice == after.advice) == (more == "shots: []\n")
    assert before.drawn == after.drawn


def test_one_bit_of_an_stl_is_in_every_key(tmp_path: Path, tables: Tables) -> None:
    folder = small_mold.write(tmp_path)
    before = keys(folder, tables)
    data = bytearray((folder / "block.stl").read_bytes())
    data[-3] ^= 1
    (folder / "block.stl").write_bytes(data)
    after = keys(folder, tables)
    assert before.measure != after.measure
    assert before.advice != after.advice
    assert before.drawn != after.drawn


def test_a_tables_value_is_in_the_advices_key_and_not_in_the_measurements(
    tmp_path: Path, tables: Tables
) -> None:
    folder = small_mold.write(tmp_path)
    name, value = next(iter(tables.practice.items()))
    other = replace(tables, practice={**tables.practice, name: replace(value, value=value.value * 1.01)})
    before, after = keys(folder, tables), keys(folder, other)
    assert before.measure == after.measure
    assert before.advice != after.advice


def test_all_molds_are_tried_and_the_faults_of_all_are_told(
    tmp_path: Path, tables: Tables, store: Store
) -> None:
    small_mold.write(tmp_path)
    (small_mold.write(tmp_path, "broken-mesh") / "block.stl").write_bytes(small_mold.stl()[:-7])
    (small_mold.write(tmp_path, "broken-spec") / "mold.yaml").write_text("title: x\n")
    small_mold.write(tmp_path, "broken-shape", more="hints: {bolts: many}\n")
    with pytest.raises(Faults) as found:
        batch.build_molds(tmp_path, tables, store)
    told = " ".join(str(problem) for problem in found.value.problems)
    assert [name for name in ("broken-mesh", "broken-shape", "broken-spec") if name in told] == [
        "broken-mesh",
        "broken-shape",
        "broken-spec",
    ]
    assert "small-bar" not in told


def test_a_file_that_changes_while_it_is_read_is_refused(tmp_path: Path, tables: Tables) -> None:
    folder = small_mold.write(tmp_path)
    draft = build.load_draft(folder, tables)
    (folder / "block.stl").write_bytes(small_mold.stl(depth=7.0))
    with pytest.raises(Faults, match="changed while it was read"):
        build.finish(draft, tables, Store(tmp_path / "store"))


@pytest.mark.slow
def test_a_worker_without_these_folders_makes_the_same_bytes(
    tmp_path: Path, tables: Tables, store: Store
) -> None:
    folder = small_mold.write(tmp_path)
    draft = build.load_draft(folder, tables)
    build.finish(draft, tables, store)
    job = batch.job_of(draft, canonical(tables), Store(tmp_path / "empty"))
    shutil.rmtree(folder)
    assert str(tmp_path).encode() not in job.mold
    answer, again = workers.on_cores(1)(coarse.work, [job, job])  # a single job would run here
    assert again == answer
    assert not isinstance(answer, workers.Lost)
    assert sorted(name.partition("/")[0] for name in answer.files if name.endswith("record.json")) == [
        "advice",
        "cards",
        "measure",
        "pictures",
    ]
    assert {name: (store.folder / name).read_bytes() for name in answer.files} == answer.files


def test_a_mold_whose_worker_was_stopped_is_told_and_the_others_are_read(
    tmp_path: Path, tables: Tables
) -> None:
    class Stopped:
        count = 1

        def __call__(self, work: Callable[[Any], Any], jobs: Iterable[Any]) -> Iterator[Any]:
            yield workers.Lost()
            yield from map(work, list(jobs)[1:])

    for slug in ("small-bar", "tall-bar"):
        small_mold.write(tmp_path, slug)
    read = batch.read_missing(
        [build.load_draft(tmp_path / slug, tables) for slug in ("small-bar", "tall-bar")],
        tables,
        Store(tmp_path / "store"),
        lambda *_: None,
        Stopped(),
    )
    ((slug, (problem,)),) = read.items()
    assert slug == "small-bar"
    assert "stopped by the system, most likely because memory ran out" in problem.what
    assert "with fewer workers" in problem.remedy


def test_a_worker_of_another_version_is_told_apart(
    tmp_path: Path, tables: Tables, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = small_mold.write(tmp_path)
    draft = build.load_draft(folder, tables)
    build.finish(draft, tables, store)
    files = {f"{stage}/{'0' * 64}/record.json": b"{}" for stage in ("measure", "advice", "pictures")}
    monkeypatch.setattr(batch, "work", lambda _: batch.Answer(files, b""))
    with pytest.raises(Faults, match="another version of the builder"):
        batch.build_molds(tmp_path, tables, Store(tmp_path / "empty"))


@pytest.mark.slow
def test_one_changed_mold_is_the_only_one_that_is_read(tmp_path: Path, tables: Tables) -> None:
    store = Store(tmp_path / "store")
    small_mold.write(tmp_path)
    batch.build_molds(tmp_path, tables, store)
    small_mold.write(tmp_path, "another-bar")
    told: list[tuple[int, int, str]] = []
    counted = Store(store.folder)
    shutil.rmtree(store.place("measure", keys(tmp_path / "another-bar", tables).measure), ignore_errors=True)
    batch.build_molds(tmp_path, tables, counted, lambda *step: told.append(step))
    assert told == [(0, 1, "another-bar")]
    assert set(counted.misses) == {"measure"} | set(counted.misses) & {"advice", "pictures", "cards"}


WORDS = {
    "title": ("title: Small bar", "title: Smaller bar"),
    "summary": ("", "summary: A bar for testing."),
    "author": ("", "author: Nobody"),
    "contact": ("", "contact: https://example.org/ask"),
    "colour": (
        "",
        "colours: [{name: Moss, ingredients: [{what: green, amount_per_100_ml: 2, unit: drops}]}]",
    ),
    "shot": (
        "",
        "shots: [{date: 2026-01-02, plastisol: soft, shot_c: 160, mold_material: petg, outcome: full}]",
    ),
}


@pytest.mark.slow
def test_changed_words_draw_no_picture_and_measure_nothing(
    tmp_path: Path, tables: Tables, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = small_mold.write(tmp_path)
    (before,) = batch.build_molds(tmp_path, tables, Store(tmp_path / "store"))
    spec = (folder / "mold.yaml").read_text()
    rendered: list[object] = []
    for drawing in ("render", "social"):
        monkeypatch.setattr(picture_set, drawing, lambda *given: rendered.append(given))
    made = {}
    for word, (old, new) in WORDS.items():
        (folder / "mold.yaml").write_text(spec.replace(old, new) if old else f"{spec}\n{new}\n")
        counted = Store(tmp_path / "store")
        (after,) = batch.build_molds(tmp_path, tables, counted)
        assert after.spec != before.spec
        assert after.assets == before.assets
        assert all(picture.alt.values["title"] == after.spec.title for picture in after.pictures)
        made[word] = sorted(counted.misses)
    assert {word: missed for word, missed in made.items() if missed} == {
        "title": ["cards"],
        "shot": ["advice"],
    }
    assert rendered == []


@pytest.mark.slow
def test_another_section_that_decides_draws_anew_without_measuring(
    tmp_path: Path, tables: Tables, monkeypatch: pytest.MonkeyPatch
) -> None:
    small_mold.write(tmp_path)
    (before,) = batch.build_molds(tmp_path, tables, Store(tmp_path / "store"))
    station = Station(s_mm=1, at_mm=(1, 0, -1), area_mm2=9, thickness_mm=3, perimeter_mm=12, beyond_ml=2)
    elsewhere = Deciding(bait="1", path="1a", station=station)
    shown: list[Deciding | None] = []

    def draw(slug: str, reading: Reading, found: Deciding | None, folder: Path) -> tuple[Picture, ...]:
        shown.append(found)
        return coarse.draw(slug, reading, None, folder)

    monkeypatch.setattr(stages, "deciding", lambda _: elsewhere)
    monkeypatch.setattr(pictures, "draw", draw)
    small_mold.write(tmp_path, more="declared: {room_c: 5}")
    counted = Store(tmp_path / "store")
    (after,) = batch.build_molds(tmp_path, tables, counted)
    assert sorted(counted.misses) == ["advice", "cards", "pictures"]
    assert after.assets != before.assets
    assert shown == [elsewhere]
