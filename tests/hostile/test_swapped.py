"""What was checked is what is published: a file that is exchanged in between ends the build."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from builder.base import contained
from builder.base.contained import Checked
from builder.base.problems import Faults

SECRET = b"a key of the keeper"


@pytest.fixture
def checked(tmp_path: Path) -> Checked:
    (tmp_path / "secret").write_bytes(SECRET)
    folder = tmp_path / "mold"
    (folder / "stl").mkdir(parents=True)
    (folder / "stl" / "a.stl").write_bytes(b"solid a")
    return contained.check(folder, "stl/a.stl", 100)


def swap_file(checked: Checked) -> None:
    file = checked.folder / checked.file
    file.unlink()
    file.symlink_to(checked.folder.parent / "secret")


def swap_folder(checked: Checked) -> None:
    (checked.folder / "stl").rename(checked.folder / "old")
    elsewhere = checked.folder.parent / "elsewhere"
    elsewhere.mkdir()
    (elsewhere / "a.stl").write_bytes(SECRET)
    (checked.folder / "stl").symlink_to(elsewhere)


def overwrite(checked: Checked) -> None:
    (checked.folder / checked.file).write_bytes(b"solid b")


def append(checked: Checked) -> None:
    (checked.folder / checked.file).write_bytes(b"solid a" + b"x" * 1000)


def link_twice(checked: Checked) -> None:
    os.link(checked.folder.parent / "secret", checked.folder / "hard")
    (checked.folder / "hard").replace(checked.folder / checked.file)


@pytest.mark.parametrize("swap", [swap_file, swap_folder, overwrite, append, link_twice])
def test_a_file_exchanged_after_it_was_checked_is_not_published(
    checked: Checked, swap: Callable[[Checked], None], tmp_path: Path
) -> None:
    swap(checked)
    out = tmp_path / "out"
    with pytest.raises(Faults):
        checked.copy_to(out)
    assert not out.exists()
    with pytest.raises(Faults):
        checked.read()


@pytest.mark.parametrize(
    "name", ["../secret", "/etc/hostname", "stl/../../secret", "", ".", "stl", "a\0b", "x" * 5000]
)
def test_a_name_that_leads_elsewhere_opens_nothing(checked: Checked, name: str) -> None:
    with pytest.raises(Faults):
        contained.read(checked.folder, name, 1000)


def test_where_the_system_has_no_handles_of_folders_links_are_refused_too(
    checked: Checked, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(contained, "_BELOW", False)
    assert checked.read() == b"solid a"
    swap_file(checked)
    with pytest.raises(Faults, match="this is a link"):
        contained.read(checked.folder, "stl/a.stl", 100)
    swap_folder(checked)
    with pytest.raises(Faults, match="link"):
        contained.read(checked.folder, "stl/a.stl", 100)


def test_a_file_of_ten_gigabytes_is_refused_by_its_size_alone(tmp_path: Path) -> None:
    with (tmp_path / "a.stl").open("wb") as file:
        file.truncate(10_000_000_000)
    for look in (contained.check, contained.read):
        with pytest.raises(Faults) as found:
            look(tmp_path, "a.stl", 100_000_000)
        assert "this file has 10000000000 bytes; expected at most 100000000" in str(found.value)


def test_a_device_a_socket_and_a_pipe_are_no_files(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(Faults, match="this is a pipe"):
        contained.read(tmp_path, "pipe", 10)
    with pytest.raises(Faults, match="this is a device"):
        contained.read(Path("/dev"), "null", 10)
