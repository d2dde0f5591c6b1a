"""Whole or not at all."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from builder.base import disk


def test_a_file_is_replaced_and_nothing_is_left_beside_it(tmp_path: Path) -> None:
    place = tmp_path / "a.json"
    disk.write_atomically(place, b"old")
    disk.write_atomically(place, b"new")
    assert place.read_bytes() == b"new"
    assert list(tmp_path.iterdir()) == [place]


def test_a_failure_while_making_leaves_the_old_file_and_no_litter(tmp_path: Path) -> None:
    place = tmp_path / "site"
    place.mkdir()
    with pytest.raises(FileNotFoundError), disk.making_beside(place) as folder:
        (folder / "half").write_text("x")
        raise FileNotFoundError
    assert list(tmp_path.iterdir()) == [place]


def test_litter_of_a_killed_run_is_swept_and_a_living_runs_folder_is_left(tmp_path: Path) -> None:
    code = (
        "import sys, time; from pathlib import Path; from builder.base import disk\n"
        "with disk.making_beside(Path(sys.argv[1])) as folder:\n"
        "    print(folder, flush=True); time.sleep(60)"
    )
    runs = [
        subprocess.Popen([sys.executable, "-c", code, tmp_path / "site"], stdout=subprocess.PIPE, text=True)
        for _ in range(2)
    ]
    folders = [Path(run.stdout.readline().strip()) for run in runs if run.stdout]
    runs[0].send_signal(signal.SIGKILL)
    runs[0].wait()
    with disk.making_beside(tmp_path / "site") as ours:
        assert sorted(tmp_path.iterdir()) == sorted([folders[1], ours])
    runs[1].kill()
    for run in runs:
        run.communicate()


def test_of_two_that_put_the_same_place_the_first_stays(tmp_path: Path) -> None:
    for text, first in (("one", True), ("two", False)):
        with disk.making_beside(tmp_path / "entry") as folder:
            (folder / "text").write_text(text)
            assert disk.put_new(folder, tmp_path / "place") is first
    assert (tmp_path / "place" / "text").read_text() == "one"
    assert [path.name for path in tmp_path.iterdir()] == ["place"]


@pytest.mark.parametrize("one_step", [True, False], ids=["exchange", "two renames"])
def test_a_finished_folder_takes_the_place_of_the_old_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, one_step: bool
) -> None:
    if not one_step:
        monkeypatch.setattr(disk, "_exchange", lambda *_: False)
    site = tmp_path / "site"
    for text in ("one", "two"):
        with disk.making_beside(site) as folder:
            (folder / text).write_text(text)
            disk.swap_in(folder, site)
        assert [path.name for path in site.iterdir()] == [text]
        assert list(tmp_path.iterdir()) == [site]


@pytest.mark.slow
def test_a_reader_never_misses_the_folder_while_it_is_exchanged(tmp_path: Path) -> None:
    if sys.platform != "linux":
        pytest.skip("one-step exchange is Linux's renameat2")
    site = tmp_path / "site"
    site.mkdir()
    (site / "0").touch()
    code = (
        "import sys; from pathlib import Path; from builder.base import disk\n"
        "site = Path(sys.argv[1])\n"
        "for n in range(200):\n"
        "    with disk.making_beside(site) as folder:\n"
        "        (folder / str(n)).touch(); disk.swap_in(folder, site)"
    )
    with subprocess.Popen([sys.executable, "-c", code, site]) as writer:
        seen = [site.is_dir()]
        while writer.poll() is None:
            seen.append(site.is_dir())
            time.sleep(0.0002)
    assert all(seen)


@pytest.mark.parametrize("killed_after_first_rename", [True, False])
def test_a_swap_killed_half_way_is_mended(tmp_path: Path, killed_after_first_rename: bool) -> None:
    site, aside = tmp_path / "site", tmp_path / ".site.old"
    aside.mkdir()
    (aside / "old").touch()
    (aside / disk.SITE_MARK).touch()
    if not killed_after_first_rename:
        site.mkdir()
        (site / "new").touch()
    disk.mend_swap(site)
    assert ["old" if killed_after_first_rename else "new"] == [path.name for path in site.glob("[!.]*")]
    assert not aside.exists()
