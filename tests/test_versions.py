"""What was released cannot change silently."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from builder.base.problems import Faults
from builder.base.store import Store, sha256
from builder.model import Download, Figure, MoldSpec, PartSpec, Version
from builder.spec import json_reader, record_keys, versions
from tests.hostile import released

STL = b"solid test\nendsolid test\n"


def frozen(slug: str, number: int, stl: bytes = STL) -> Version:
    volume = Figure(
        value=8.5, low=8.4, high=8.6, unit="ml", because="release.because.measured", origin="measured"
    )
    return Version(
        slug=slug,
        version=str(number),
        order=number,
        date="2026-03-01",
        title="Test minnow",
        summary="",
        author="",
        licence="CC0-1.0",
        notes=f"Note {number}",
        figures={"bait_volume": volume},
        changes=(),
        pictures=(),
        assets=Path("pictures"),
        downloads=(
            Download(name="a.stl", path=Path(slug) / "a.stl", size_bytes=len(stl), sha256=sha256(stl)),
        ),
    )


def release(mold: Path, number: int, stl: bytes = STL) -> Path:
    new = mold / "versions" / f".{number}"
    (new / mold.name).mkdir(parents=True)
    (new / "pictures").mkdir()
    (new / mold.name / "mold.yaml").write_text("title: Test minnow\n")
    (new / mold.name / "a.stl").write_bytes(stl)
    (new / "pictures" / "open.webp").write_bytes(b"RIFF")
    versions.freeze(new, frozen(mold.name, number, stl), {"shotbook": "0.1.0"}, {"plastisols": "00"})
    return new.rename(mold / "versions" / str(number))


def draft(mold: Path, version: str) -> MoldSpec:
    return MoldSpec(
        slug=mold.name,
        folder=mold,
        title="Test minnow",
        kind="open pour",
        parts=(PartSpec(file="a.stl", path=mold / "a.stl", role="open", name="a"),),
        cavities=1,
        plastisol="soft",
        mold_material="pla",
        units="mm",
        version=version,
    )


@pytest.fixture
def mold(tmp_path: Path) -> Path:
    folder = tmp_path / "test-minnow"
    for number in (1, 2):
        release(folder, number)
    return folder


def test_versions_come_newest_first_with_their_files_where_they_lie(mold: Path) -> None:
    newest, first = versions.load(mold)
    assert (newest.version, first.version) == ("2", "1")
    assert newest.assets == mold / "versions" / "2" / "pictures"
    assert newest.downloads[0].path.read_bytes() == STL
    assert newest.figures["bait_volume"].value == 8.5


def test_a_mold_without_releases_has_no_versions(tmp_path: Path) -> None:
    assert versions.load(tmp_path) == ()


def test_one_flipped_bit_anywhere_is_found_in_its_file(mold: Path) -> None:
    files = [file for file in mold.rglob("*") if file.is_file()]
    assert len(files) == 10
    for file in files:
        data = file.read_bytes()
        for place in range(0, len(data), max(1, len(data) // 40)):
            flipped = bytearray(data)
            flipped[place] ^= 1 << place % 8
            file.write_bytes(flipped)
            with pytest.raises(Faults) as found:
                versions.load(mold)
            assert any(str(file) in str(problem) for problem in found.value.problems)
        file.write_bytes(data)
    assert versions.verify(mold) == ()


def test_a_file_more_or_less_is_found(mold: Path) -> None:
    (mold / "versions" / "1" / "more.txt").touch()
    (mold / "versions" / "2" / "pictures" / "open.webp").unlink()
    more, less = versions.verify(mold)
    assert "more.txt: this file was not released with version 1" in str(more)
    assert "open.webp: this file of the frozen version 2 is missing" in str(less)


def test_an_older_version_rewritten_with_a_fresh_lock_is_found_by_the_next_lock(mold: Path) -> None:
    shutil.rmtree(mold / "versions" / "1")
    other = mold.parent / "other" / mold.name
    release(other, 1, stl=b"solid other\nendsolid other\n")
    (other / "versions" / "1").rename(mold / "versions" / "1")
    (problem,) = versions.verify(mold)
    assert "version 2 does not follow the version before it" in str(problem)


def test_a_removed_older_version_is_found(mold: Path) -> None:
    shutil.rmtree(mold / "versions" / "1")
    (problem,) = versions.verify(mold)
    assert "version 2 does not follow the version before it" in str(problem)


def test_a_renamed_version_folder_is_found(mold: Path) -> None:
    (mold / "versions" / "2").rename(mold / "versions" / "3")
    (problem,) = versions.verify(mold)
    assert "this folder holds version 2 of test-minnow" in str(problem)


def test_what_a_killed_release_left_is_no_version(mold: Path) -> None:
    (mold / "versions" / ".release.0011.part").mkdir()
    assert len(versions.load(mold)) == 2


def test_a_withdrawn_version_stays_listed_with_its_reason_and_offers_no_files(mold: Path) -> None:
    note = versions.Withdrawal(reason="The sprue points at the hand.", date="2026-04-01")
    (mold / "versions" / "1" / versions.WITHDRAWN).write_bytes(versions.seal(note))
    newest, first = versions.load(mold)
    assert (newest.withdrawn, len(newest.downloads)) == ("", 1)
    assert (first.withdrawn, first.downloads) == ("The sprue points at the hand.", ())


def test_a_draft_with_the_released_files_is_the_newest_version(mold: Path) -> None:
    known = versions.load(mold)
    assert versions.check_draft(draft(mold, "2"), [sha256(STL)], known) is True
    assert versions.check_draft(draft(mold, "3"), [sha256(STL)], known) is False


def test_a_changed_file_under_a_released_version_is_refused_by_name(mold: Path) -> None:
    with pytest.raises(Faults) as found:
        versions.check_draft(draft(mold, "2"), [sha256(STL + b"\n")], versions.load(mold))
    (problem,) = found.value.problems
    assert str(problem).startswith(
        f"{mold / 'a.stl'}: this file is not the one that was released as version 2"
    )


def test_the_number_of_an_older_version_makes_no_draft(mold: Path) -> None:
    with pytest.raises(Faults) as found:
        versions.check_draft(draft(mold, "1"), [sha256(STL)], versions.load(mold))
    (problem,) = found.value.problems
    assert str(problem) == (
        f"{mold / 'mold.yaml'}, key version: this is version 1, but 2 is released already; "
        "expected 2, or a version after it; write the new version."
    )


def test_with_a_store_what_a_version_tells_is_read_once_and_told_the_same(
    mold: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store = Store(tmp_path / "store")
    first = versions.read(mold, store)
    assert first == versions.read(mold)
    assert store.misses["versions"] == 2
    monkeypatch.setattr(json_reader, "check_json", None)
    monkeypatch.setattr(record_keys, "VERSION", None)
    assert versions.read(mold, store) == first


def test_with_a_store_a_version_that_was_written_anew_is_read_anew(mold: Path, tmp_path: Path) -> None:
    store = Store(tmp_path / "store")
    versions.read(mold, store)
    released.rewrite(mold / "versions" / "2", lambda told: told.update(title="Another minnow"))
    assert [one.title for one in versions.read(mold, store).versions] == ["Another minnow", "Test minnow"]
    (mold / "versions" / "2" / "version.json").write_text("{}")
    with pytest.raises(Faults, match="has changed"):
        versions.read(mold, store)
