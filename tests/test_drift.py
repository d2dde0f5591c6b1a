"""What a new Shotbook or table reads differently in a released version is told; all else is silence."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from builder import build
from builder.base import units
from builder.base.store import Store
from builder.cli import main
from builder.history import drift
from builder.model import Drift, Figure, Tables
from builder.site import site_map
from builder.site.catalogue import Catalogue
from builder.spec import material_tables, versions
from tests import killing, small_mold
from tests.changed_tables import changed

pytestmark = pytest.mark.slow  # a released version is read and drawn first

Verify = Callable[[Tables], str]
SILENT = "Released versions checked: 1. All files are unchanged.\n"


@pytest.fixture(scope="module")
def released(tmp_path_factory: pytest.TempPathFactory, kept: Path) -> Path:
    folder = small_mold.write(tmp_path_factory.mktemp("molds"))
    killing.release_now(folder, kept)
    return folder


@pytest.fixture
def mold(released: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(released, tmp_path / released.name))


@pytest.fixture(scope="module")
def heavier(tables: Tables) -> Tables:
    """Tables in which soft plastisol is denser than before."""
    return changed(tables, "soft", "density", 1.3)


def drift_of(mold: Path, tables: Tables, store: Store) -> Drift:
    return drift.of(mold, versions.load(mold)[0], tables, store)


def pages(mold: Path, tables: Tables, store: Store) -> dict[str, str]:
    record = build.build_mold(mold, tables, store)
    made = site_map.generate(Catalogue(molds=(record,), tables=tables, colours={}, store=store))
    return {uri: text for uri, text in made.items() if isinstance(text, str)}


@pytest.fixture
def verify(mold: Path, kept: Path, monkeypatch: pytest.MonkeyPatch) -> Verify:
    def run(tables: Tables) -> str:
        monkeypatch.setattr(material_tables, "load", lambda *_: tables)
        done = CliRunner().invoke(main, ["verify", "--molds", str(mold.parent), "--store", str(kept)])
        assert done.exit_code == 0, done.output
        return done.stdout

    return run


def test_an_unchanged_version_reads_nothing_anew_and_tells_nothing(
    mold: Path, tables: Tables, tmp_path: Path
) -> None:
    empty = Store(tmp_path / "store")
    assert not drift_of(mold, tables, empty)
    assert not empty.misses


def test_an_unchanged_version_is_passed_over_in_silence(
    mold: Path, tables: Tables, store: Store, verify: Verify
) -> None:
    told = verify(tables)
    assert told.startswith(SILENT)
    assert "was released on" not in told
    made = pages(mold, tables, store)
    assert 'id="drift"' not in made["molds/small-bar/v1.md"]
    assert "reads differently today" not in made["molds/small-bar.md"]


def test_a_changed_table_tells_which_number_from_what_to_what_and_since_when(
    mold: Path, tables: Tables, heavier: Tables, store: Store, verify: Verify
) -> None:
    then = versions.load(mold)[0].figures["bait_weight"]
    now = build.build_mold(mold, heavier, store).advice.amounts[0].bait_g[0]
    assert now.value == pytest.approx(then.value * 1.3 / 1.02, rel=0.01)
    told = verify(heavier)
    assert told.startswith(SILENT)
    for needed in (
        "small-bar: Version 1 was released on 2026-03-01 by Shotbook",
        f"tables {build.tables_digest(tables)[:8]}",
        f"tables {build.tables_digest(heavier)[:8]}",
        "What has changed since: the values of soft plastisol.",
        units.plain(then).replace("\u00a0", " "),
        units.plain(now).replace("\u00a0", " "),
    ):
        assert needed in told
    made = pages(mold, heavier, store)
    page = made["molds/small-bar/v1.md"].partition('<h2 id="drift">')[2].partition("<h2")[0]
    row = re.search(r"<tr><th scope=\"row\">Bait weight</th>(.*?)</tr>", page)
    assert row is not None
    assert re.findall(r'<var title="computed">(.*?)</var>', row[1]) == [units.line(then), units.line(now)]
    assert "Version 1 was released on 2026-03-01 by Shotbook" in page
    assert "the values of soft plastisol" in page
    assert "Reads differently today." in made["molds/small-bar.md"]
    assert "Cavity length" not in page


def test_a_version_that_nothing_works_for_today_begins_with_that(
    mold: Path, tables: Tables, store: Store
) -> None:
    colder = changed(tables, "soft", "limit", 150.0, 0.002)
    found = drift_of(mold, colder, store)
    assert found.stop is not None
    assert [one.after for one in found.changes if one.name == "shoot"] == [None]
    page = pages(mold, colder, store)["molds/small-bar/v1.md"]
    assert page.index("By today") < page.index("<h1>")


def test_a_table_that_the_mold_does_not_follow_changes_nothing(
    mold: Path, tables: Tables, store: Store
) -> None:
    assert not drift_of(mold, changed(tables, "salted", "density", 2.0), store)


def test_a_new_way_to_compute_is_named_as_the_cause(
    mold: Path, heavier: Tables, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    newer = {**build.tools(), "stage advice": "0" * 64, "numpy": "99.0"}
    monkeypatch.setattr(build, "tools", lambda: newer)
    found = drift_of(mold, heavier, store)
    assert found.causes == ("plastisol soft", "advice", "libraries")


def test_another_tool_that_reads_the_same_numbers_is_passed_over_in_silence(
    mold: Path, tables: Tables, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    tools = json.loads((mold / "versions" / "1" / "lock.json").read_bytes())["sealed"]["tools"]
    monkeypatch.setattr(build, "tools", lambda: {**tools, "numpy": "99.0"})
    assert not drift_of(mold, tables, store)


def test_files_that_cannot_be_read_any_more_are_told_with_the_reason(
    mold: Path, heavier: Tables, store: Store
) -> None:
    strict = replace(heavier, plastisols=heavier.plastisols[1:])
    found = drift_of(mold, strict, store)
    assert found
    assert "soft" in found.unread


def figure(value: float) -> Figure:
    return Figure(value=value, low=value, high=value, unit="g", because="", origin="computed")


def test_a_last_digit_that_the_machine_moves_is_no_drift() -> None:
    near = (figure(10.05 - 1e-9), figure(10.05 + 1e-9))
    assert units.plain(near[0]) != units.plain(near[1])
    assert not list(drift.drifted({"a": near[0]}, {"a": near[1]}))
    assert list(drift.drifted({"a": figure(10.0)}, {"a": figure(10.1)}))


def test_a_change_below_what_is_shown_is_no_drift() -> None:
    assert not list(drift.drifted({"a": figure(10.001)}, {"a": figure(10.002)}))


def test_a_number_that_nobody_had_is_no_drift_but_a_number_that_is_gone_is() -> None:
    one = figure(10.0)
    assert not list(drift.drifted({}, {"new": one}))
    assert [c.name for c in drift.drifted({"gone": one}, {})] == ["gone"]
    assert [c.name for c in drift.drifted({}, {"shoot": one})] == ["shoot"]


def test_pages_name_the_shotbook_and_the_tables_that_made_their_numbers(
    mold: Path, tables: Tables, store: Store
) -> None:
    shotbook, digest = build.tools()["shotbook"], build.tables_digest(tables)[:8]
    said = f"Worked out by Shotbook {shotbook} with tables {digest}."
    made = pages(mold, tables, store)
    assert said in made["molds/small-bar.md"]
    assert said in made["molds/small-bar/v1.md"]
    assert said in made["materials.md"]
