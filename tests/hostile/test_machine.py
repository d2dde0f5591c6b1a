"""Faults of the machine: mounts, full and read-only disks, killed runs. Real ones, where we may."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

from builder.base import disk
from builder.base.site_folder import MARKER
from builder.base.store import Store, sums
from builder.cli import main
from tests import killing, small_mold, small_site

pytestmark = pytest.mark.slow
ROOT = Path(__file__).parent.parent.parent
Mount = Callable[..., Path]


@pytest.fixture
def mount(tmp_path: Path) -> Iterator[Mount]:
    """Mounts a small disk of memory, or another folder, and takes it away afterwards."""
    made: list[Path] = []

    def mounted(name: str, *options: str) -> Path:
        place = tmp_path / name
        place.mkdir(exist_ok=True)
        done = subprocess.run(["mount", *options, str(place)], capture_output=True, text=True, check=False)
        if done.returncode:
            pytest.skip(f"nothing can be mounted here: {done.stderr.strip()}")
        made.append(place)
        return place

    if not hasattr(os, "getuid") or os.getuid() != 0:
        pytest.skip("only root mounts")
    yield mounted
    for place in made:
        subprocess.run(["umount", "-l", str(place)], check=True)


def memory(size: str, *more: str) -> tuple[str, ...]:
    return ("-t", "tmpfs", "-o", ",".join((f"size={size}", *more)), "tmpfs")


def run(*words: str) -> tuple[int, str]:
    done = CliRunner().invoke(main, [*words])
    assert not done.exception or isinstance(done.exception, SystemExit), done.exception
    return done.exit_code, done.output


def catalogue(root: Path, store: Path) -> str:
    """A catalogue of one mold in a folder; the path of its configuration."""
    small_mold.write(root / "molds")
    return str(small_site.configure(root, store))


def litter(folder: Path) -> list[str]:
    return [path.name for path in folder.iterdir() if path.name.endswith((".part", ".old"))]


@pytest.mark.parametrize("kind", ["tmpfs", "bind"])
def test_a_site_that_is_a_mount_says_so_and_one_inside_a_mount_is_built_and_replaced(
    tmp_path: Path, kept: Path, mount: Mount, kind: str
) -> None:
    (tmp_path / "elsewhere").mkdir()
    place = mount("disk", *(memory("50m") if kind == "tmpfs" else ("--bind", str(tmp_path / "elsewhere"))))
    config = catalogue(tmp_path / "mine", kept)
    code, said = run("build", "--config", config, "--out", str(place))
    assert code == 1
    assert "this is a mount, which nothing can replace; name a folder inside it" in said
    for _ in range(2):
        code, said = run("build", "--config", config, "--out", str(place / "site"))
        assert code == 0, said
    assert (place / "site" / MARKER).is_file()
    assert litter(place) == []


def test_a_full_disk_is_named_and_the_old_site_stays(tmp_path: Path, kept: Path, mount: Mount) -> None:
    place = mount("disk", *memory("14m"))
    config = catalogue(tmp_path / "mine", kept)
    assert run("build", "--config", config, "--out", str(place / "site"))[0] == 0
    before = sums(place / "site")
    (place / "other").write_bytes(bytes(os.statvfs(place).f_bavail * os.statvfs(place).f_frsize - 300_000))
    code, said = run("build", "--config", config, "--out", str(place / "site"))
    assert code == 1
    assert f"{place}" in said
    assert "No space left on device" in said
    assert sums(place / "site") == before
    assert litter(place) == []


def test_a_store_on_a_full_disk_is_named(tmp_path: Path, mount: Mount) -> None:
    place = mount("disk", *memory("48k"))
    config = catalogue(tmp_path / "mine", place / "store")
    code, said = run("build", "--config", config)
    assert code == 1
    assert f"{place}" in said
    assert "No space left on device" in said
    assert not (tmp_path / "mine" / "site").exists()


def test_a_read_only_disk_is_named(tmp_path: Path, kept: Path, mount: Mount) -> None:
    place = mount("disk", *memory("1m", "ro"))
    config = catalogue(tmp_path / "mine", kept)
    code, said = run("build", "--config", config, "--out", str(place / "site"))
    assert code == 1
    assert f"{place}" in said
    assert "Read-only file system" in said


def test_a_release_on_a_full_disk_leaves_the_mold_as_it_was(kept: Path, mount: Mount) -> None:
    place = mount("disk", *memory("300k"))
    mold = small_mold.write(place)
    before = sums(place)
    call = ("release", "small-bar", "--molds", str(place), "--store", str(kept), "--notes", "First.")
    code, said = run(*call)
    assert code == 1
    assert f"{place}" in said
    assert "No space left on device" in said
    assert sums(place) == before
    assert list((mold / "versions").iterdir()) == []
    assert run("verify", "--molds", str(place), "--store", str(kept))[0] == 0


def test_a_mold_whose_photo_is_copied_to_a_full_disk_is_not_called_unreadable(
    tmp_path: Path, mount: Mount
) -> None:
    from builder.base import contained

    place = mount("disk", *memory("64k"))
    (tmp_path / "mold").mkdir()
    (tmp_path / "mold" / "a.stl").write_bytes(bytes(200_000))
    checked = contained.check(tmp_path / "mold", "a.stl", 1_000_000)
    with pytest.raises(OSError, match="No space left on device"):
        checked.copy_to(place / "a.stl")


def test_a_killed_run_takes_its_workers_along_says_nothing_and_its_folders_go_with_the_next(
    tmp_path: Path, tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    said = tmp_path_factory.mktemp("said") / "stderr.txt"
    monkeypatch.setenv("SHOTBOOK_KILLS", "this test")
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    before = killing.family()
    with (
        said.open("wb") as stderr,
        subprocess.Popen([sys.executable, "-m", "tests.asleep"], cwd=ROOT, stderr=stderr) as run,
    ):
        while len(list(tmp_path.glob(".shotbook-*.part"))) < 2:
            assert run.poll() is None
            time.sleep(0.05)
        started = killing.family() - before
        assert len(started) >= 3  # itself and two workers
        run.send_signal(signal.SIGKILL)
    end = time.monotonic() + 120
    while left := killing.family() - before:
        assert time.monotonic() < end, f"processes are left: {left}"
        time.sleep(0.05)
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    with disk.scratch() as ours:
        assert list(tmp_path.iterdir()) == [ours]
    assert said.read_text() == ""


def test_a_folder_in_the_place_of_a_file_heals_or_is_told(tmp_path: Path, kept: Path) -> None:
    """In the store it heals; in a mold's folder, which is not ours, it is told."""
    mold = small_mold.write(tmp_path / "molds")
    (mold / "block.stl").unlink()
    (mold / "block.stl").mkdir()
    code, said = run("check", "--molds", str(tmp_path / "molds"), "--store", str(kept))
    assert code == 1
    assert "block.stl is a folder; expected the name of a file" in said
    small_mold_again = tmp_path / "again"
    small_mold.write(small_mold_again)
    place = tmp_path / "store" / "measure"
    assert run("check", "--molds", str(small_mold_again), "--store", str(tmp_path / "store"))[0] == 0
    (entry,) = place.iterdir()
    for name in ("record.json", "SHA256SUMS", "SEAL"):
        (entry / name).unlink()
        (entry / name).mkdir()
        assert run("check", "--molds", str(small_mold_again), "--store", str(tmp_path / "store"))[0] == 0
        assert Store(tmp_path / "store").has("measure", entry.name)
    assert litter(place) == []


def test_a_file_in_the_place_of_the_stores_folder_is_told(tmp_path: Path) -> None:
    small_mold.write(tmp_path / "molds")
    (tmp_path / "store").write_text("x")
    code, said = run("check", "--molds", str(tmp_path / "molds"), "--store", str(tmp_path / "store"))
    assert code == 1
    assert f"{tmp_path / 'store'}: this is not a folder; remove it, or name another folder" in said


def test_temporary_folders_of_killed_runs_are_swept_and_others_left(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    with disk.scratch() as first, disk.scratch() as second:
        assert first != second
        assert {first, second} <= set(tmp_path.iterdir())
    assert list(tmp_path.iterdir()) == []
    dead = tmp_path / f"{first.name.rpartition('.part')[0][:-1]}x.part"
    dead.mkdir()
    os.mkfifo(tmp_path / f".{first.name.split('.')[1]}.pipe.part")
    with disk.scratch():
        assert not dead.exists()
