"""What was released or withdrawn cannot be taken away unseen, nor given back under another number."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from builder import build
from builder.base.problems import Faults
from builder.base.store import Store, sha256
from builder.cli import main
from builder.model import Tables
from builder.release import freeze
from builder.site import batch
from builder.spec import releases, versions
from tests import small_mold
from tests.hostile import released
from tests.test_versions import STL, release

SLUG = "test-minnow"


@pytest.fixture
def molds(tmp_path: Path) -> Path:
    """Versions 1 and 2 of a mold, the first withdrawn, all of it on record."""
    folder = tmp_path / "molds" / SLUG
    for number in (1, 2):
        release(folder, number)
        releases.record(folder.parent, folder)
    freeze.withdraw(folder, "1", "It bursts.", "2026-04-01")
    (folder / "mold.yaml").touch()
    return folder.parent


def verify(molds: Path) -> tuple[int, str]:
    done = CliRunner().invoke(main, ["verify", "--molds", str(molds)])
    return done.exit_code, done.output


def place(molds: Path, version: str) -> Path:
    return molds / SLUG / "versions" / version


def test_what_is_whole_is_verified_and_the_last_digest_is_told(molds: Path) -> None:
    code, said = verify(molds)
    assert code == 0
    last = releases.digest(releases.load(molds)[-1])
    assert f"The record of releases ends with {last}" in said
    assert [entry.withdrawn != "" for entry in releases.load(molds)] == [False, False, True]


def test_a_removed_withdrawal_is_found(molds: Path) -> None:
    (place(molds, "1") / versions.WITHDRAWN).unlink()
    code, said = verify(molds)
    assert code == 1
    assert "version 1 of test-minnow was withdrawn, and this file is gone or changed" in said


def test_another_reason_in_the_place_of_a_withdrawal_is_found(molds: Path) -> None:
    note = versions.Withdrawal(reason="A typing error.", date="2026-04-01")
    (place(molds, "1") / versions.WITHDRAWN).write_bytes(versions.seal(note))
    assert verify(molds)[0] == 1


def test_a_removed_newest_version_is_found(molds: Path) -> None:
    shutil.rmtree(place(molds, "2"))
    code, said = verify(molds)
    assert code == 1
    assert "version 2 of test-minnow was released and is gone" in said


def test_a_newest_version_made_anew_is_found(molds: Path) -> None:
    released.relock(place(molds, "2"), lambda lock: lock.update(tools={}))
    code, said = verify(molds)
    assert code == 1
    assert "this is not the lock of the version that was released" in said


def test_a_mold_taken_away_with_its_versions_is_found(molds: Path) -> None:
    shutil.copytree(molds / SLUG, molds / "other")
    shutil.rmtree(molds / "other" / "versions")
    shutil.rmtree(molds / SLUG)
    code, said = verify(molds)
    assert code == 1
    assert "version 2 of test-minnow was released and is gone" in said


@pytest.mark.parametrize("index", [0, 1])
def test_an_entry_taken_out_of_the_record_is_found(molds: Path, index: int) -> None:
    file = molds / releases.FILE
    told = json.loads(file.read_bytes())
    del told["releases"][index]
    file.write_text(json.dumps(told))
    code, said = verify(molds)
    assert code == 1
    assert "does not follow the entry before it" in said


@pytest.mark.parametrize("slug", ["../../x", "/etc", "a/b", "A"])
def test_a_record_that_names_a_folder_elsewhere_is_refused(molds: Path, slug: str) -> None:
    file = molds / releases.FILE
    told = json.loads(file.read_bytes())
    told["releases"][0]["slug"] = slug
    file.write_text(json.dumps(told))
    assert "key releases[0].slug" in verify(molds)[1]


def test_versions_from_elsewhere_are_told_until_they_are_adopted(molds: Path) -> None:
    (molds / releases.FILE).unlink()
    code, said = verify(molds)
    assert (code, said.count("is not on record")) == (0, 2)
    CliRunner().invoke(main, ["verify", "--adopt", "--molds", str(molds)])
    code, said = verify(molds)
    assert (code, said.count("is not on record")) == (0, 0)
    (place(molds, "1") / versions.WITHDRAWN).unlink()
    assert verify(molds)[0] == 1


def test_nothing_is_built_of_a_mold_whose_withdrawal_was_removed(
    molds: Path, tables: Tables, tmp_path: Path
) -> None:
    (place(molds, "1") / versions.WITHDRAWN).unlink()
    with pytest.raises(Faults, match="was withdrawn, and this file is gone"):
        batch.build_molds(molds, tables, Store(tmp_path / "store"))


def test_the_same_meshes_under_a_new_number_stay_withdrawn(molds: Path) -> None:
    found = versions.read(molds / SLUG)
    both = Path(molds / SLUG)
    assert versions.withdrawn_as([sha256(STL)], found) is None  # version 2 still offers them
    freeze.withdraw(both, "2", "It bursts too.", "2026-04-02")
    again = versions.read(both)
    told = versions.withdrawn_as([sha256(STL)], again)
    assert told is not None
    assert told.withdrawn == "It bursts too."
    assert versions.withdrawn_as([sha256(STL + b"\n")], again) is None


def test_a_withdrawn_mold_offers_nothing_when_only_its_number_is_changed(
    tmp_path: Path, kept: Path, tables: Tables
) -> None:
    folder = small_mold.write(tmp_path / "molds")
    mold = build.load_draft(folder, tables)
    assert build.public_downloads(mold)
    small = released_small(folder, tables, Store(kept))
    freeze.withdraw(small, "1", "It bursts.", "2026-04-01")
    small_mold.write(tmp_path / "molds", version="2")
    again = build.load_draft(folder, tables)
    assert again.withdrawn is not None
    assert (again.released, again.withdrawn.withdrawn, build.public_downloads(again)) == (
        False,
        "It bursts.",
        (),
    )
    small_mold.write(tmp_path / "molds", version="2", depth=7.0)
    assert build.public_downloads(build.load_draft(folder, tables))


def released_small(folder: Path, tables: Tables, store: Store) -> Path:
    from builder.site import site_map

    order = freeze.Order(notes="First.", date="2026-03-01", texts=site_map.texts("en"))
    freeze.release(folder, order, tables, store)
    return folder


def test_a_release_into_a_link_is_refused(molds: Path, tmp_path: Path) -> None:
    shutil.move(molds / SLUG / "versions", tmp_path / "elsewhere")
    (molds / SLUG / "versions").symlink_to(tmp_path / "elsewhere")
    before = sorted(path.name for path in (tmp_path / "elsewhere").rglob("*"))
    with pytest.raises(Faults, match="is a link"):
        freeze.withdraw(molds / SLUG, "2", "x", "2026-04-01")
    assert sorted(path.name for path in (tmp_path / "elsewhere").rglob("*")) == before
