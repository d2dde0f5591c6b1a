"""A file that did not change is taken from the last site; whatever happened to that, the bytes are right."""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from builder import plugin
from builder.base.store import Store
from tests import small_mold, small_site

BLOCK = "molds/small-bar/block.stl"


@pytest.fixture
def site(tmp_path: Path, kept: Path) -> Path:
    """A site of one mold, built once."""
    small_mold.write(tmp_path / "molds")
    return plugin.build_site(small_site.configure(tmp_path, kept), None, lambda *_: None)


def again(site: Path) -> Path:
    return plugin.build_site(site.parent / "mkdocs.yml", None, lambda *_: None)


def files_of(site: Path) -> dict[str, bytes]:
    return {
        file.relative_to(site).as_posix(): file.read_bytes() for file in site.rglob("*") if file.is_file()
    }


def test_files_of_a_mold_stay_the_same_files_on_the_disk_when_nothing_changed(site: Path) -> None:
    asked = (BLOCK, "data/molds/small-bar.json", *(f"molds/small-bar/{f.name}" for f in site.rglob("*.webp")))
    before = {uri: (site / uri).stat() for uri in asked if (site / uri).exists()}
    assert len(before) == 9
    again(site)
    after = {uri: (site / uri).stat() for uri in before}
    assert {uri: (one.st_ino, one.st_mtime_ns) for uri, one in after.items()} == {
        uri: (one.st_ino, one.st_mtime_ns) for uri, one in before.items()
    }
    assert {one.st_nlink for one in after.values()} == {1}  # the old site's names are gone


def test_a_changed_mold_gets_its_new_file(site: Path) -> None:
    old = (site / BLOCK).read_bytes()
    small_mold.write(site.parent / "molds", depth=7.0)
    again(site)
    assert (site / BLOCK).read_bytes() == (site.parent / "molds" / "small-bar" / "block.stl").read_bytes()
    assert (site / BLOCK).read_bytes() != old


def spoiled(file: Path) -> None:
    """Other bytes in the same file, as many as before."""
    file.write_bytes(bytes(file.stat().st_size))


def replaced(file: Path) -> None:
    """Another file in its place, of the same size and time."""
    about, other = file.stat(), file.with_name("other")
    other.write_bytes(bytes(about.st_size))
    os.utime(other, ns=(about.st_atime_ns, about.st_mtime_ns))
    other.replace(file)


def linked(file: Path) -> None:
    """A link to the file, which was moved."""
    file.symlink_to(file.rename(file.parent.parent.parent.parent / "elsewhere"))


@pytest.mark.parametrize("touch", [spoiled, replaced, linked, Path.unlink])
def test_a_file_of_the_last_site_that_somebody_touched_is_written_again(
    site: Path, touch: Callable[[Path], None]
) -> None:
    right = files_of(site)
    touch(site / BLOCK)
    again(site)
    assert files_of(site) == right
    assert not (site / BLOCK).is_symlink()


def test_a_picture_that_was_drawn_anew_is_not_taken_from_the_last_site(site: Path) -> None:
    shutil.rmtree(site.parent / "molds")
    small_mold.write(site.parent / "molds", depth=7.0)
    again(site)
    fresh = plugin.build_site(site.parent / "mkdocs.yml", site.parent / "fresh", lambda *_: None)
    assert files_of(site) == files_of(fresh)


@pytest.mark.parametrize("theirs", [True, False], ids=["their seal", "this store's seal"])
def test_what_another_store_noted_is_not_believed(site: Path, tmp_path: Path, theirs: bool) -> None:
    """A note that came with a stranger's files could name any file of theirs as this mold's."""
    right = (site / BLOCK).read_bytes()
    store = Store(tmp_path / "store")
    small_site.configure(tmp_path, store.folder)
    again(site)
    spoiled(site / BLOCK)
    (name,) = (note.name for note in (store.folder / ".notes").iterdir())
    told, about = json.loads(store.note(name)), (site / BLOCK).stat()
    told[BLOCK][1:] = about.st_ino, about.st_size, about.st_mtime_ns
    store.put_note(name, json.dumps(told).encode())
    if theirs:
        shutil.rmtree(store.folder / ".secret")
    again(site)
    assert ((site / BLOCK).read_bytes() == right) == theirs


def test_where_the_disk_has_no_second_names_every_file_is_written(
    site: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    right, inode = files_of(site), (site / BLOCK).stat().st_ino

    def refuse(*_: object) -> None:
        raise OSError("no second names here")

    monkeypatch.setattr("os.link", refuse)
    again(site)
    assert files_of(site) == right
    assert (site / BLOCK).stat().st_ino != inode
