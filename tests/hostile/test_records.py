"""A mold's own folder `versions` is believed in nothing: whoever sends a mold may have written it."""

from __future__ import annotations

import os
import shutil
from dataclasses import fields
from pathlib import Path
from typing import Any

import pytest

from builder.base.problems import Faults
from builder.model import Figure, Version
from builder.spec import record_keys, releases, versions
from builder.spec.schema import Table
from tests.hostile import released
from tests.test_versions import STL, release

NAME = "a.stl"
SCRIPT = '<image href="x" onerror="alert(1)"/>'
FIGURE = {
    "value": 1,
    "low": 1,
    "high": 1,
    "unit": "ml",
    "because": "release.because.read",
    "origin": "measured",
}
ALT: dict[str, Any] = {"level": "note", "code": "pictures.alt.bait", "values": {}, "at_mm": None}


def picture(**other: object) -> dict[str, Any]:
    about = {"name": "bait", "files": {"480": "bait-480.webp"}, "width_px": 480, "height_px": 300}
    alt = {**ALT, "values": dict.fromkeys(("title", "length", "height", "width"), "x")}
    return {**about, "alt": alt, "overlay_svg": None, "labels": [], "turnable": None, **other}


@pytest.fixture
def mold(tmp_path: Path) -> Path:
    folder = tmp_path / "test-minnow"
    place = release(folder, 1)
    (place / "pictures" / "bait-480.webp").write_bytes(b"RIFF")
    released.relock(place)
    return folder


def told(mold: Path) -> str:
    with pytest.raises(Faults) as found:
        versions.read(mold)
    return str(found.value)


def place(mold: Path) -> Path:
    return mold / "versions" / "1"


def names(table: Table) -> set[str]:
    return {key.name for key in table.keys}


def test_every_field_of_a_record_has_its_key() -> None:
    tables = {Figure: record_keys.FIGURE, Version: record_keys.VERSION, releases.Kept: releases.ENTRY}
    for kind, table in tables.items():
        assert names(table) == {field.name for field in fields(kind)}
    for kind, keys in (
        (versions.Lock, record_keys.LOCK_KEYS),
        (versions.Withdrawal, record_keys.WITHDRAWAL_KEYS),
    ):
        assert {key.name for key in keys} == {field.name for field in fields(kind)}


def test_what_is_rewritten_honestly_is_read(mold: Path) -> None:
    marks = '<path d="M1 2L3 4" fill="none" stroke="currentColor" stroke-width="3"/>'
    released.rewrite(place(mold), lambda told: told.update(pictures=[picture(overlay_svg=marks)]))
    (version,) = versions.load(mold)
    assert version.pictures[0].overlay_svg == marks


@pytest.mark.parametrize(
    "path",
    [
        "/etc/passwd",
        "../../../secret.stl",
        "test-minnow/../../x.stl",
        "C:\\x.stl",
        "test-minnow//a.stl",
        ".a.stl",
    ],
)
def test_a_download_below_no_folder_of_its_version_is_refused(mold: Path, path: str) -> None:
    released.rewrite(place(mold), lambda told: told["downloads"][0].update(path=path))
    assert "key downloads[0].path" in told(mold)


@pytest.mark.parametrize(
    "name",
    [
        "../../index.html",
        "a.html",
        "a.stl\n",
        "b/a.stl",
        ".htaccess",
        "a.svg",
        "-" * 300 + ".stl",
        "nul\0.stl",
    ],
)
def test_a_download_whose_name_is_no_plain_name_of_a_mesh_is_refused(mold: Path, name: str) -> None:
    released.rewrite(place(mold), lambda told: told["downloads"][0].update(name=name))
    assert "key downloads[0].name" in told(mold)


def test_a_download_that_its_lock_does_not_vouch_for_is_refused(mold: Path) -> None:
    released.rewrite(
        place(mold), lambda told: told["downloads"][0].update(path="test-minnow/b.stl", name="b.stl")
    )
    assert "the file test-minnow/b.stl is not listed in its lock" in told(mold)


def test_two_downloads_of_one_name_are_refused(mold: Path) -> None:
    released.rewrite(place(mold), lambda told: told["downloads"].append(told["downloads"][0]))
    assert "is there twice" in told(mold)


@pytest.mark.parametrize("version", ["../1", "1/..", "1.0.0.0", "", "1\n", "01234567"])
def test_a_version_that_is_no_number_is_refused(mold: Path, version: str) -> None:
    released.relock(place(mold), lambda lock: lock.update(version=version))
    assert "key sealed.version" in told(mold)


@pytest.mark.parametrize("name", ["../../x", "/etc/passwd", "a\\b", "", ".git/config"])
def test_a_lock_that_names_a_file_elsewhere_is_refused(mold: Path, name: str) -> None:
    released.relock(place(mold), lambda lock: lock["files"].update({name: "0" * 64}))
    assert "lock.json" in told(mold)
    assert "does not fit here" in told(mold)


@pytest.mark.parametrize(
    "marks",
    [
        SCRIPT,
        "<script>alert(1)</script>",
        '<path d="M0 0" onload="x"/>',
        '<path d="M0 0" style="background:url(//x)"/>',
        '<rect fill="url(//x/y)"/>',
        "<path",
        "text",
        '<g><path d="M0 0"/></g>',
        '<linearGradient id="sb-scale"><path d="M0 0"/></linearGradient>',
        '<linearGradient id="sb-scale">',
        '<circle r="1e999999"/>',
        "<!--",
        "</linearGradient>",
    ],
)
def test_an_overlay_holds_only_the_marks_that_we_draw(mold: Path, marks: str) -> None:
    released.rewrite(place(mold), lambda told: told.update(pictures=[picture(overlay_svg=marks)]))
    assert "key pictures[0].overlay_svg" in told(mold)


@pytest.mark.parametrize(
    ("change", "key"),
    [
        ({"alt": {**ALT, "code": "no.such.sentence"}}, "pictures[0].alt.code"),
        ({"alt": ALT}, "wants height, length, title, width"),
        ({"files": {"480": "../../../../etc/passwd"}}, "pictures[0].files.480"),
        ({"files": {"x": "bait-480.webp"}}, "pictures[0].files.x"),
        (
            {"files": {"480": "other-480.webp"}},
            "the picture other-480.webp is not listed in its lock",
        ),
        ({"turnable": {"file": "x.js"}}, "pictures[0].turnable"),
        ({"width_px": 1e300}, "pictures[0].width_px"),
        (
            {"labels": [{"name": "page.x", "figure": None, "x_px": 0, "y_px": 0, "align": "end"}]},
            "labels[0].name",
        ),
        ({"extra": 1}, "extra is not a key of a picture"),
    ],
)
def test_a_picture_says_only_what_the_builder_says(mold: Path, change: dict[str, Any], key: str) -> None:
    released.rewrite(place(mold), lambda told: told.update(pictures=[picture(**change)]))
    assert key in told(mold)


def test_every_fault_of_a_record_is_told_at_once_with_its_line(mold: Path) -> None:
    def spoil(told: dict[str, Any]) -> None:
        told.update(licence="mine", date="yesterday", assets="/etc", title="x" * 100, order=-1)
        told["figures"] = {"bait_volume": {**FIGURE, "value": 1e300, "unit": "stone"}}

    released.rewrite(place(mold), spoil)
    with pytest.raises(Faults) as found:
        versions.read(mold)
    keys = {problem.where.key for problem in found.value.problems}
    figures = {"figures.bait_volume.value", "figures.bait_volume.unit"}
    assert keys == {"licence", "date", "assets", "title", "order", *figures}
    assert all(problem.where.line for problem in found.value.problems)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "a value is missing here"),
        (b"{" * 100_000, "a key in quotes is missing"),
        (b"[" * 100_000, "nested more than 16 deep"),
        (b'{"a":' * 100_000, "nested more than 16 deep"),
        (b'{"sealed": {}, "sealed": {}}', "this key is given twice"),
        (b'{"order": 1' + b"0" * 5000 + b"}", "is too long"),
        (b'{"order": NaN}', "NaN is no value"),
        (b'{"order": 1e999}', "is too large"),
        (b'{"slug": "\\ud800"}', "half of a character"),
        (b'{"slug": "\xff"}', "this is not UTF-8 text"),
        (b"[" + b"0," * 200_000 + b"0]", "more than 100000 values"),
        (b" " * 5_000_000, "this file has 5000000 bytes"),
        (b'{"slug": "' + b"a" * 30_000 + b'"}', "30000 characters"),
        (b'{"slug": "a\\u0000\\u202e"}', "is not allowed in text"),
        (b"{} {}", "goes on after its end"),
    ],
    ids=lambda value: repr(value)[:24],
)
def test_a_lock_of_any_bytes_is_refused_with_a_sentence(mold: Path, data: bytes, said: str) -> None:
    (place(mold) / versions.LOCK).write_bytes(data)
    assert said in told(mold)


@pytest.mark.parametrize("file", [versions.LOCK, versions.VERSION, versions.WITHDRAWN, "test-minnow/a.stl"])
def test_a_pipe_in_the_place_of_a_file_is_refused_at_once(mold: Path, file: str) -> None:
    (place(mold) / file).unlink(missing_ok=True)
    os.mkfifo(place(mold) / file)
    assert "this is a pipe, not a file" in told(mold)


@pytest.mark.parametrize("file", [versions.LOCK, versions.VERSION, versions.WITHDRAWN, "test-minnow/a.stl"])
def test_a_link_in_the_place_of_a_file_is_refused(mold: Path, file: str, tmp_path: Path) -> None:
    (tmp_path / "secret").write_bytes(STL)
    (place(mold) / file).unlink(missing_ok=True)
    (place(mold) / file).symlink_to(tmp_path / "secret")
    assert "this is a link, and links are not followed" in told(mold)


@pytest.mark.parametrize("what", ["versions", "versions/1", "versions/1/pictures"])
def test_a_link_in_the_place_of_a_folder_is_refused(mold: Path, what: str, tmp_path: Path) -> None:
    shutil.move(mold / what, tmp_path / "elsewhere")
    (mold / what).symlink_to(tmp_path / "elsewhere")
    assert "link" in told(mold)


def test_a_withdrawal_that_is_none_is_refused_not_left_out(mold: Path) -> None:
    (place(mold) / versions.WITHDRAWN).write_bytes(released.sealed({"reason": 7, "date": "x"}))
    assert "key sealed.reason" in told(mold)
    assert "key sealed.date" in told(mold)


@pytest.mark.parametrize(
    "data", [b"[]", b'{"slug": "other", "version": "1"}', b'{"slug": NaN}', b"[" * 50_000]
)
def test_published_numbers_of_another_mold_or_of_none_are_refused(mold: Path, data: bytes) -> None:
    (place(mold) / versions.RECORD).write_bytes(data)
    released.relock(place(mold))
    assert "record.json" in told(mold)


RECORD = '{"slug": "test-minnow", "version": "1", "title": "%s"}'


@pytest.mark.parametrize("title", ["a\u202eb", "a\\u202eb", "a\\ud800b", "a\\u0000b", "a\\rb", "a\x7fb"])
def test_characters_that_steer_are_refused_in_the_published_numbers(mold: Path, title: str) -> None:
    (place(mold) / versions.RECORD).write_text(RECORD % title, encoding="utf-8", newline="")
    released.relock(place(mold))
    assert "record.json:1:50, key title" in told(mold)


@pytest.mark.parametrize("title", ['a \\"b\\" c', "a\\nb", "a\\u00e4b", "a\\\\u202eb", "川"])
def test_other_characters_may_be_in_the_published_numbers(mold: Path, title: str) -> None:
    (place(mold) / versions.RECORD).write_text(RECORD % title, encoding="utf-8", newline="\r\n")
    released.relock(place(mold))
    assert versions.verify(mold) == ()
