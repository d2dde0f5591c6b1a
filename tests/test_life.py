"""A released mold's life: renamed, previewed, cloned elsewhere; what was frozen never changes."""

from __future__ import annotations

import hashlib
import shutil
import subprocess
import zipfile
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from builder import build
from builder.base.problems import Faults
from builder.base.store import Store, sums
from builder.cli import main
from builder.model import Tables
from builder.release import bundle, freeze, renaming
from builder.site import catalogue, print_view, site_map
from builder.spec import mold_file, versions
from tests import killing, small_mold

ROOT = Path(__file__).parent.parent
LITTER = (".DS_Store", "Thumbs.db", "desktop.ini", "._mold.yaml")


def run(*args: str) -> Result:
    done = CliRunner().invoke(main, args)
    assert not done.exception or isinstance(done.exception, SystemExit), done.exception
    return done


def strew(folder: Path) -> None:
    """What the file managers of three systems leave in every folder that they show."""
    for place in [folder, *(one for one in folder.rglob("*") if one.is_dir())]:
        for name in LITTER:
            (place / name).write_bytes(b"\0\5\26\7")


@pytest.mark.slow
def test_a_mold_renamed_after_its_release_is_verified_leads_on_and_is_released_again(
    tmp_path: Path, kept: Path, tables: Tables
) -> None:
    molds, store = tmp_path / "molds", Store(kept)
    killing.release_now(small_mold.write(molds), kept)
    before = sums(molds / "small-bar" / "versions")
    done = run("rename", "small-bar", "thin-bar", "--molds", str(molds))
    assert done.exit_code == 0, done.output
    place = molds / "thin-bar"
    assert sums(place / "versions") == before
    assert not (molds / "small-bar").exists()
    assert "All files are unchanged." in run("verify", "--molds", str(molds), "--store", str(kept)).output
    made = site_map.generate(catalogue.build_all(molds, store))
    assert 'url=thin-bar.html"' in str(made["molds/small-bar.html"])
    assert 'url=../thin-bar/v1.html"' in str(made["molds/small-bar/v1.html"])
    assert "molds/thin-bar/v1/small-bar-1.zip" in made
    small_mold.write(molds, "thin-bar", depth=7.0, version="2", more="renamed_from: [small-bar]\n")
    order = freeze.Order(notes="Shallower.", date="2026-03-02", texts=site_map.texts("en"))
    freeze.release(place, order, tables, store)
    done = run("verify", "--molds", str(molds), "--store", str(kept))
    assert "versions checked: 2. All files are unchanged." in done.output
    assert "not on record" not in done.output
    (place / "mold.yaml").write_text((place / "mold.yaml").read_text().replace("renamed_from", "# was"))
    assert run("verify", "--molds", str(molds), "--store", str(kept)).exit_code == 1


def test_a_name_that_is_taken_or_cannot_be_part_of_an_address_is_refused(tmp_path: Path) -> None:
    folder = small_mold.write(tmp_path)
    small_mold.write(tmp_path, "other-bar")
    for name in ("other-bar", "Thin Bar"):
        with pytest.raises(Faults):
            renaming.rename(folder, name)
    assert (folder / "mold.yaml").read_text().count("renamed_from") == 0


@pytest.mark.slow
def test_what_would_be_frozen_can_be_looked_at_and_freezes_nothing(tmp_path: Path, kept: Path) -> None:
    folder = small_mold.write(tmp_path / "molds")
    out = tmp_path / "look"
    options = ["--molds", str(tmp_path / "molds"), "--store", str(kept), "--notes", "First."]
    done = run("release", "small-bar", *options, "--preview", str(out))
    assert done.exit_code == 0, done.output
    assert {"CHANGES.md", "shot-card.html", "small-bar-1.zip", "version.json"} <= {
        file.name for file in out.iterdir()
    }
    assert not (folder / "versions").exists()
    assert not (tmp_path / "molds" / "releases.json").exists()


def test_what_systems_leave_lying_about_changes_no_version(tmp_path: Path) -> None:
    """The demo's released mold, copied and strewn with the files of three systems."""
    shutil.copytree(ROOT / "molds", tmp_path / "molds")
    strew(tmp_path / "molds")
    folder = tmp_path / "molds" / "reed-minnow"
    assert versions.verify(folder) == ()
    (folder / "versions" / "2" / "other.txt").write_text("stranger")
    assert [problem.what for problem in versions.verify(folder)] == [
        "this file was not released with version 2"
    ]


def test_a_clone_with_other_line_ends_has_every_frozen_file_as_it_was(tmp_path: Path) -> None:
    shop = tmp_path / "shop"
    shutil.copytree(ROOT / "molds", shop / "molds")
    (shop / ".gitattributes").write_bytes((ROOT / ".gitattributes").read_bytes())
    (shop / "notes.txt").write_bytes(b"one\ntwo\n")
    git = ["git", "-c", "user.name=a", "-c", "user.email=a@example.org", "-c", "commit.gpgsign=false"]
    for command in (["init", "-q"], ["add", "-A"], ["commit", "-qm", "molds"]):
        subprocess.run([*git, *command], cwd=shop, check=True, capture_output=True)
    clone = tmp_path / "clone"
    made = ["git", "clone", "-q", "-c", "core.autocrlf=true", "-c", "core.eol=crlf", str(shop), str(clone)]
    subprocess.run(made, check=True, capture_output=True)
    assert (clone / "notes.txt").read_bytes() == b"one\r\ntwo\r\n"
    assert versions.verify(clone / "molds" / "reed-minnow") == ()
    assert sums(clone / "molds" / "reed-minnow" / "versions") == sums(
        ROOT / "molds" / "reed-minnow" / "versions"
    )


def test_two_parts_whose_names_differ_in_case_alone_are_refused(tmp_path: Path) -> None:
    folder = tmp_path / "two"
    folder.mkdir()
    for name in ("a.stl", "A.stl"):
        (folder / name).write_bytes(b"solid")
    (folder / "mold.yaml").write_text("title: T\nparts: [a.stl, A.stl]\ncavities: 1\nplastisol: soft\n")
    with pytest.raises(Faults, match=r"two parts have the file A\.stl"):
        mold_file.load(folder)


def test_a_photo_in_the_format_of_a_phone_is_refused_with_what_to_do(tmp_path: Path) -> None:
    folder = small_mold.write(tmp_path, more="photos: [a.heic]\n")
    (folder / "a.heic").write_bytes(b"x")
    with pytest.raises(Faults, match="save or share the photo as JPEG"):
        mold_file.load(folder)


def test_what_all_molds_share_stands_in_one_file_and_is_frozen_with_each(tmp_path: Path) -> None:
    folder = small_mold.write(tmp_path, more="author: Ida\n")
    text = (folder / "mold.yaml").read_text().replace("plastisol: soft\n", "")
    (folder / "mold.yaml").write_text(text)
    shared = "plastisol: hard\nauthor: Everybody\nlicence: CC0-1.0\nbed_mm: [60, 200, 250]\n"
    (tmp_path / "defaults.yaml").write_text(shared)
    mold = mold_file.load(folder)
    assert mold.maker.bed_mm == (60.0, 200.0, 250.0)
    assert (mold.plastisol, mold.author, mold.licence) == ("hard", "Ida", "CC0-1.0")
    whole = bundle.own_files(mold)["small-bar/mold.yaml"].decode()
    assert whole.splitlines()[-3:] == ['plastisol: "hard"', 'licence: "CC0-1.0"', "bed_mm: [60, 200, 250]"]
    (tmp_path / "defaults.yaml").write_text("cavities: 4\n")
    with pytest.raises(Faults, match="cavities cannot be shared by all molds"):
        mold_file.load(folder)


@pytest.mark.slow
def test_a_zip_that_lies_elsewhere_is_linked_there_and_known_by_its_digest(
    tmp_path: Path, kept: Path
) -> None:
    molds, away = tmp_path / "molds", tmp_path / "away"
    place = small_mold.write(molds) / "versions" / "1"
    killing.release_now(place.parent.parent, kept)
    told = ("--molds", str(molds))
    zipped = (place / "small-bar-1.zip").read_bytes()
    moved = run("zips", *told, "--to", str(away), "--address", "https://files.example.org/baits/")
    assert "to https://files.example.org/baits/small-bar-1.zip." in moved.output
    assert not (place / "small-bar-1.zip").exists()
    assert (away / "small-bar-1.zip").read_bytes() == zipped
    assert run("verify", *told, "--store", str(kept)).exit_code == 0
    made = site_map.generate(catalogue.build_all(molds, Store(kept)))
    assert "molds/small-bar/v1/small-bar-1.zip" not in made
    assert "molds/small-bar/v1/block.stl" in made
    link = 'href="https://files.example.org/baits/small-bar-1.zip"'
    digest = hashlib.sha256(zipped).hexdigest()
    assert link in str(made["molds/small-bar.md"])
    assert link in str(made["molds/small-bar/v1.md"])
    assert digest in str(made["molds/small-bar/v1.md"])
    again = run("zips", *told, "--to", str(away), "--address", "https://files.example.org/baits")
    assert (again.exit_code, again.output) == (0, "")
    (place / "small-bar-1.zip").write_bytes(zipped[:-1])
    assert run("verify", *told, "--store", str(kept)).exit_code == 1
    (place / "small-bar-1.zip").write_bytes(zipped)
    (place / "outside.json").unlink()
    assert run("verify", *told, "--store", str(kept)).exit_code == 0


@pytest.mark.slow
def test_nothing_but_a_zip_may_lie_elsewhere_and_only_at_an_address(tmp_path: Path, kept: Path) -> None:
    molds = tmp_path / "molds"
    place = small_mold.write(molds) / "versions" / "1"
    killing.release_now(place.parent.parent, kept)
    refused = run("zips", "--molds", str(molds), "--to", str(tmp_path / "away"), "--address", "ftp://x")
    assert "ftp://x is not an address" in refused.output
    assert (place / "small-bar-1.zip").exists()
    for files in (
        {"small-bar/block.stl": "https://example.org/a"},
        {"small-bar-1.zip": "javascript:alert(1)"},
    ):
        (place / "outside.json").write_bytes(versions.seal(versions.Outside(files=files)))
        assert versions.verify(molds / "small-bar"), files


@pytest.mark.slow
def test_a_file_that_the_mold_was_drawn_in_is_offered_frozen_and_not_read(
    tmp_path: Path, kept: Path, tables: Tables
) -> None:
    molds, store = tmp_path / "molds", Store(kept)
    folder = small_mold.write(molds, more="sources: [bar.step, rough/bar.dxf]\n")
    (folder / "rough").mkdir()
    (folder / "bar.step").write_bytes(b"ISO-10303-21; not really")
    (folder / "rough" / "bar.dxf").write_bytes(b"0\nEOF\n")
    (record,) = catalogue.build_all(molds, store).molds
    assert [one.name for one in record.downloads] == ["block.stl", "bar.step", "rough/bar.dxf"]
    made = site_map.generate(catalogue.build_all(molds, store))
    assert {"molds/small-bar/bar.step", "molds/small-bar/rough/bar.dxf"} <= set(made)
    assert "what it was drawn in; no number is read from it" in str(made["molds/small-bar.md"])
    killing.release_now(folder, kept)
    place = folder / "versions" / "1"
    assert (place / "small-bar" / "bar.step").read_bytes() == b"ISO-10303-21; not really"
    with zipfile.ZipFile(place / "small-bar-1.zip") as archive:
        assert "small-bar-1/as-designed/rough/bar.dxf" in archive.namelist()
    assert not versions.verify(folder)
    freeze.withdraw(folder, "1", "Opens under pressure.", "2026-03-02")
    (gone,) = catalogue.build_all(molds, store).molds
    assert gone.downloads == ()
    assert not [uri for uri in site_map.generate(catalogue.build_all(molds, store)) if uri.endswith(".step")]
    (folder / "BAR.step").write_bytes(b"the same name on many systems")
    small_mold.write(molds, depth=7.0, version="2", more="sources: [bar.step, BAR.step]\n")
    with pytest.raises(Faults, match="two sources have the same name"):
        build.load_draft(folder, tables)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("bed", "told"),
    [
        ("[60, 200, 250]", "takes every part."),
        ("[60, 60, 250]", "does not take: block."),
        ("[200, 200, 20]", "takes every part."),
    ],
)
def test_a_part_that_the_makers_printer_does_not_take_is_told(
    tmp_path: Path, kept: Path, tables: Tables, bed: str, told: str
) -> None:
    """The block is 70 by 32 by 14 mm."""
    folder = small_mold.write(tmp_path, more=f"bed_mm: {bed}\n")
    record = build.build_mold(folder, tables, Store(kept))
    rows = dict(print_view.rows(record, site_map.texts("en"), tables))
    assert rows["page.print.own_bed"][-1] == told
