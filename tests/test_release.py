"""A release is there whole or not at all, the same bytes everywhere, and says what it did to the bait."""

from __future__ import annotations

import io
import json
import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import numpy as np
import pytest
import trimesh

from builder import build
from builder.base.problems import Faults
from builder.base.store import Store, sums
from builder.model import Tables
from builder.release import freeze
from builder.site import site_map
from builder.spec import versions
from tests import killing, small_mold

pytestmark = pytest.mark.slow
"""Two versions are read, drawn and compared first."""
ORDER = freeze.Order(
    notes="Shallower.",
    date="2026-03-02",
    texts=site_map.texts("en"),
    address="https://example.org/molds/x.html",
)


@pytest.fixture(scope="module")
def released(tmp_path_factory: pytest.TempPathFactory, tables: Tables, kept: Path) -> Path:
    """A mold with version 1, 8 mm deep, and version 2, 7 mm deep."""
    molds = tmp_path_factory.mktemp("molds")
    killing.release_now(small_mold.write(molds), kept)
    folder = small_mold.write(molds, depth=7.0, version="2")
    freeze.release(folder, ORDER, tables, Store(kept))
    return folder


@pytest.fixture
def mold(released: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(released, tmp_path / released.name))


def unzipped(folder: Path) -> zipfile.ZipFile:
    newest = versions.load(folder)[0]
    return zipfile.ZipFile(newest.downloads[0].path)


def test_a_version_tells_its_numbers_and_what_changed(released: Path) -> None:
    newest, first = versions.load(released)
    changes = {change.name: change for change in newest.changes}
    volume = changes["bait_volume"]
    assert volume.before
    assert volume.after
    assert volume.before.value == pytest.approx(small_mold.poured(8.0).volume() / 1000, rel=0.005)
    assert volume.after.value == pytest.approx(small_mold.poured(7.0).volume() / 1000, rel=0.005)
    assert {"bait_weight", "shot", "print_volume"} <= set(changes)
    assert "bait_length" not in changes
    assert (newest.notes, first.changes) == ("Shallower.", ())


def test_what_was_added_and_removed_is_drawn_with_its_volume(released: Path) -> None:
    newest, first = versions.load(released)
    (picture,) = [one for one in newest.pictures if one.name == "changed"]
    added, removed = picture.alt.values["added"], picture.alt.values["removed"]
    assert not isinstance(added, str)
    assert not isinstance(removed, str)
    difference = (small_mold.poured(8.0) - small_mold.poured(7.0)).volume() / 1000
    assert added.value == pytest.approx(difference, rel=0.01)
    assert removed.value == 0
    assert [(label.name, label.figure) for label in picture.labels] == [("pictures.label.added", added)]
    assert all((newest.assets / name).exists() for name in picture.files.values())
    assert "changed" not in {one.name for one in first.pictures}


def test_the_zip_holds_the_files_as_drawn_and_laid_flat_with_licence_card_and_sums(released: Path) -> None:
    archive = unzipped(released)
    root = "small-bar-2/"
    names = {name.removeprefix(root) for name in archive.namelist()}
    assert {"README.txt", "LICENCE.txt", "SHA256SUMS", "CHANGES.md", "shot-card.html", "record.json"} <= names
    assert {"as-designed/mold.yaml", "as-designed/block.3mf", "to-print/block.3mf"} <= names
    assert archive.read(f"{root}as-designed/block.stl") == small_mold.stl(7.0)
    assert archive.read(f"{root}LICENCE.txt").startswith(b"SPDX-License-Identifier: CC-BY-4.0")
    card = archive.read(f"{root}shot-card.html").decode()
    assert "../" not in card
    assert "data:image/svg+xml" in card
    flat = trimesh.load_mesh(io.BytesIO(archive.read(f"{root}to-print/block.stl")), file_type="stl")
    drawn = small_mold.drawn(7.0).parts[0][1].volume()
    assert flat.volume == pytest.approx(drawn, rel=1e-6)
    np.testing.assert_allclose(flat.bounds[0][2], 0.0, atol=1e-5)


def test_the_zips_3mf_has_mm_and_the_stls_volume(released: Path) -> None:
    archive = unzipped(released)
    for name in ("as-designed", "to-print"):
        scene = trimesh.load_scene(io.BytesIO(archive.read(f"small-bar-2/{name}/block.3mf")), file_type="3mf")
        (body,) = scene.geometry.values()
        assert scene.units == "millimeter"
        assert body.volume == pytest.approx(small_mold.drawn(7.0).parts[0][1].volume(), rel=1e-6)


def test_the_text_to_post_has_both_units_the_change_and_the_safety_line(released: Path) -> None:
    place = released / "versions" / "2"
    for name in ("post.txt", "post.md"):
        text = (place / name).read_text(encoding="utf-8")
        assert all(word in text for word in ("mm", "oz", "mL", "fl oz", "Shallower.", ORDER.address))
        assert "Hot plastisol burns" in text
    assert "Shallower." in (place / "CHANGES.md").read_text(encoding="utf-8")


def test_the_lock_names_what_made_the_version(released: Path) -> None:
    lock = versions.unseal(versions.Lock, released / "versions" / "2" / versions.LOCK)
    assert {"shotbook", "stage measure", "numpy", "manifold3d"} <= set(lock.tools)
    assert len(lock.tables["tables"]) == 64
    assert "small-bar/block.stl" in lock.files


def test_the_same_mold_gives_the_same_bytes_in_another_folder_zone_locale_and_umask(
    released: Path, tmp_path: Path, kept: Path
) -> None:
    code = (
        "import os, sys; os.umask(0o077); from pathlib import Path\n"
        "from builder.base.store import Store; from builder.release import freeze\n"
        "from builder.spec import material_tables\n"
        "from tests import killing, small_mold, test_release\n"
        "molds, kept = Path(sys.argv[1]), Path(sys.argv[2])\n"
        "killing.release_now(small_mold.write(molds), kept)\n"
        "folder = small_mold.write(molds, depth=7.0, version='2')\n"
        "freeze.release(folder, test_release.ORDER, material_tables.load(), Store(kept))"
    )
    env = {**os.environ, "TZ": "Pacific/Kiritimati", "LC_ALL": "de_DE.UTF-8", "PYTHONHASHSEED": "7"}
    there = tmp_path / "other place ü"
    subprocess.run([sys.executable, "-c", code, there, kept], env=env, check=True)
    assert sums(there / released.name) == sums(released)


def test_a_released_version_is_not_released_again(mold: Path, tables: Tables, store: Store) -> None:
    before = sums(mold)
    with pytest.raises(Faults, match="version 2 is not newer than 2, which is released"):
        freeze.release(mold, ORDER, tables, store)
    assert sums(mold) == before


def test_a_release_says_what_changed(tmp_path: Path, tables: Tables, store: Store) -> None:
    folder = small_mold.write(tmp_path)
    with pytest.raises(Faults, match="nothing is said about this version"):
        freeze.release(folder, freeze.Order(notes=" ", date="2026-03-02", texts=ORDER.texts), tables, store)
    assert not (folder / "versions").exists() or not versions.places(folder)


def test_a_changed_file_under_a_released_version_is_refused(mold: Path, tables: Tables, store: Store) -> None:
    (mold / "block.stl").write_bytes(small_mold.stl(6.0))
    with pytest.raises(Faults, match="is not the one that was released as version 2"):
        build.build_mold(mold, tables, store)


@pytest.mark.parametrize(
    "name", ["small-bar/block.stl", "small-bar-2.zip", "lock.json", "pictures/changed-600.webp"]
)
def test_one_flipped_bit_in_a_frozen_file_stops_the_build(
    mold: Path, tables: Tables, store: Store, name: str
) -> None:
    file = mold / "versions" / "2" / name
    data = bytearray(file.read_bytes())
    data[len(data) // 2] ^= 4
    file.write_bytes(data)
    with pytest.raises(Faults) as found:
        build.build_mold(mold, tables, store)
    assert str(file) in str(found.value)


def test_a_withdrawn_version_offers_nothing_and_neither_does_its_page(
    mold: Path, tables: Tables, store: Store
) -> None:
    assert build.build_mold(mold, tables, store).downloads
    freeze.withdraw(mold, "2", "The bar is too hot.", "2026-03-03")
    assert versions.verify(mold) == ()
    record = build.build_mold(mold, tables, store)
    assert record.downloads == ()
    assert [version.withdrawn for version in record.versions] == ["The bar is too hot.", ""]
    assert [bool(version.downloads) for version in record.versions] == [False, True]


def test_only_a_released_version_can_be_withdrawn_and_only_with_a_reason(mold: Path) -> None:
    with pytest.raises(Faults, match=r"version 3 of small-bar is not released; expected one of: 1, 2"):
        freeze.withdraw(mold, "3", "Why not", "2026-03-03")
    with pytest.raises(Faults, match="no reason is given"):
        freeze.withdraw(mold, "2", "", "2026-03-03")


def test_a_release_killed_at_any_moment_leaves_the_tree_before_or_after(tmp_path: Path, kept: Path) -> None:
    killing.releases(tmp_path, kept, count=4, seed=1)


def test_the_record_of_a_version_is_json_without_a_path_of_this_machine(released: Path) -> None:
    text = (released / "versions" / "2" / "record.json").read_text(encoding="utf-8")
    assert json.loads(text)["slug"] == "small-bar"
    assert str(released.parent) not in "".join(
        file.read_text(encoding="utf-8") for file in (released / "versions" / "2").glob("*.json")
    )
