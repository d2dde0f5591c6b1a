"""Names that other systems keep, or take for one, are refused where they are told."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest
from click.testing import CliRunner

from builder import build
from builder.base.problems import Faults
from builder.base.store import Store
from builder.cli import main
from builder.model import Tables
from builder.site import batch
from builder.spec import mold_file
from tests import small_mold


def loaded(folder: Path, parts: str) -> str:
    """What is said of a mold with these parts; '' when it is taken."""
    keys = ("title: x", "kind: injection", f"parts: {parts}", "cavities: 1", "plastisol: soft")
    (folder / "mold.yaml").write_text("\n".join(keys))
    try:
        mold_file.load(folder)
    except Faults as faults:
        return str(faults)
    return ""


@pytest.mark.parametrize(
    "name", ["con.stl", "AUX.stl", "nul.STL", "prn.x.stl", "com1.stl", "lpt9.stl", "con/a.stl"]
)
def test_a_file_by_a_devices_name_is_refused(tmp_path: Path, name: str) -> None:
    (tmp_path / name).parent.mkdir(exist_ok=True)
    (tmp_path / name).write_bytes(small_mold.stl())
    (tmp_path / "b.stl").write_bytes(small_mold.stl())
    said = loaded(tmp_path, f"[{name}, b.stl]")
    assert f"{name} is a name that some systems keep for a device" in said
    assert "put a word before it, such as part-" in said


@pytest.mark.parametrize("name", ["console.stl", "com.stl", "part-con.stl", "null.stl", "a.con.stl"])
def test_a_name_that_only_begins_or_ends_like_a_devices_is_taken(tmp_path: Path, name: str) -> None:
    folder = tmp_path / "reed"
    folder.mkdir()
    for file in (name, "b.stl"):
        (folder / file).write_bytes(small_mold.stl())
    assert loaded(folder, f"[{name}, b.stl]") == ""


def test_two_files_that_differ_only_by_case_are_refused(tmp_path: Path) -> None:
    for file in ("half.stl", "HALF.stl"):
        (tmp_path / file).write_bytes(small_mold.stl())
    assert "two parts have the file HALF.stl" in loaded(tmp_path, "[half.stl, HALF.stl]")


@pytest.mark.parametrize("claimed", ["reed", "bar", "index", "con"])
def test_a_mold_cannot_take_anothers_address_as_its_old_name(
    tmp_path: Path, tables: Tables, claimed: str
) -> None:
    """The page there would lead to this mold instead of being the other one's."""
    small_mold.write(tmp_path, "reed")
    small_mold.write(tmp_path, "bar", more=f"renamed_from: [{claimed}]")
    found = batch.taken_names(drafts(tmp_path, tables), {"reed", "bar"})
    ((slug, (told,)),) = found.items()
    assert slug == "bar"
    assert str(told) == (
        f"{tmp_path / 'bar' / 'mold.yaml'}:7, key renamed_from: {claimed} is the name of another mold, "
        "or one that no mold can have; take it out of the list."
    )


def test_two_molds_cannot_have_had_one_name(tmp_path: Path, tables: Tables) -> None:
    for slug in ("reed", "bar"):
        small_mold.write(tmp_path, slug, more="renamed_from: [old-bar]")
    assert set(batch.taken_names(drafts(tmp_path, tables), {"reed", "bar"})) == {"reed", "bar"}
    small_mold.write(tmp_path, "bar")
    assert batch.taken_names(drafts(tmp_path, tables), {"reed", "bar"}) == {}


def test_a_build_tells_of_a_claimed_name(
    tmp_path: Path, tables: Tables, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(batch, "read_missing", lambda *_: {})
    small_mold.write(tmp_path, "reed", more="renamed_from: [reed]")
    with pytest.raises(Faults, match="reed is the name of another mold, or one that no mold can have"):
        batch.build_molds(tmp_path, tables, Store(tmp_path / "store"))


def drafts(molds: Path, tables: Tables) -> list[build.Draft]:
    return [build.load_draft(folder, tables) for folder in batch.mold_folders(molds)]


@pytest.mark.parametrize(
    "code",
    [
        0x00,
        0x07,
        0x1B,
        0x0D,
        0x7F,
        0x85,
        0x9B,
        0x2028,
        0x2029,
        0x202E,
        0x2066,
        0xFFFE,
        0xFFFF,
        0xFDD0,
        0x1FFFF,
    ],
)
@pytest.mark.parametrize("key", ["title", "summary", "author", "bait_type", "hook", "bolts"])
def test_no_text_holds_a_character_that_steers_a_terminal_or_turns_the_line(
    tmp_path: Path, key: str, code: int
) -> None:
    folder = small_mold.write(tmp_path)
    text = (folder / "mold.yaml").read_text(encoding="utf-8").replace("title: Small bar\n", "")
    told = {"title": "x", key: f"a{chr(code)}b"}
    lines = "\n".join(f"{name}: {json.dumps(value)}" for name, value in told.items())
    (folder / "mold.yaml").write_text(f"{lines}\n{text}", encoding="utf-8")
    with pytest.raises(
        Faults, match=rf"key {key}: the character U\+{code:04X} is not allowed in text; remove it"
    ):
        mold_file.load(folder)


@pytest.mark.parametrize(
    "name", ["a\x1b[2Jb", "a\nb", "a\u202eb", "a\x9bb", os.fsdecode(b"a\xffb")], ids=ascii
)
def test_a_folders_name_steers_no_terminal(tmp_path: Path, name: str) -> None:
    folder = small_mold.write(tmp_path, name)
    with pytest.raises(Faults) as found:
        mold_file.load(folder)
    (line,) = str(found.value).splitlines()
    assert line.isprintable()
    assert "/a?" in line


def test_a_line_to_be_pasted_holds_nothing_of_a_folders_name_that_a_shell_would_run(tmp_path: Path) -> None:
    small_mold.write(tmp_path)
    (tmp_path / "x;touch y\x1b[2J").mkdir()
    store = tmp_path.parent / "store"
    said = (
        CliRunner()
        .invoke(main, ["check", "--molds", str(tmp_path), "--store", str(store)], color=True)
        .output
    )
    (line,) = (line for line in said.splitlines() if "touch" in line)
    assert line.isprintable()
    assert line.endswith("shotbook new x-touch-y-2j")
