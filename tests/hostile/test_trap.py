"""A stranger's repository full of traps is built, and every call of the system is looked at."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests import killing, small_mold, small_site
from tests.hostile import released

pytestmark = pytest.mark.skipif(shutil.which("strace") is None, reason="strace shows what was touched")
CHANGES = (
    "rename",
    "unlink",
    "rmdir",
    "mkdir",
    "link",
    "symlink",
    "truncate",
    "chmod",
    "chown",
    "mknod",
    "utime",
)


@pytest.fixture
def repository(tmp_path: Path, kept: Path) -> Path:
    """A catalogue with a sound mold and, beside it, a home that nobody has invited us to."""
    home = tmp_path / "home"
    (home / ".ssh").mkdir(parents=True)
    (home / ".ssh" / "key.stl").write_bytes(small_mold.stl())
    (home / "thesis.txt").write_text("years of work")
    root = tmp_path / "repository"
    killing.release_now(small_mold.write(root / "molds"), kept)
    small_site.configure(root, root / ".shotbook")
    return root


def traced(
    root: Path, module: str = "builder"
) -> tuple[subprocess.CompletedProcess[str], list[tuple[str, str]]]:
    """Run the module's build there; how it ended, and each call with a path below the repository's folder."""
    log = root.parent / "calls.txt"
    here = [sys.executable, "-m", module, "build"]
    watch = ["strace", "-f", "-qq", "-s", "500", "-e", "trace=%file,ftruncate", "-o", str(log)]
    env = {**os.environ, "HOME": str(root.parent / "home"), "PYTHONPATH": str(small_site.ROOT)}
    done = subprocess.run(
        [*watch, *here], cwd=root, capture_output=True, text=True, check=False, env=env, timeout=900
    )
    calls = re.findall(r'(\w+)\((?:[^"\n]*")([^"\n]*)"[^\n]*', log.read_text(errors="replace"))
    return done, [(name, path) for name, path in calls]


def touched(calls: list[tuple[str, str]], place: Path) -> list[tuple[str, str]]:
    """Calls that open, change or delete something at or below a place; looking at a name is none."""
    looks = ("stat", "readlink", "access", "getcwd", "chdir", "newfstatat", "lstat", "statx")
    return [
        (name, path)
        for name, path in calls
        if not name.startswith(looks) and (path == str(place) or path.startswith(f"{place}/"))
    ]


def everything(folder: Path) -> dict[str, bytes]:
    return {str(path): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.mark.slow
def test_of_a_sound_repository_nothing_outside_is_touched(repository: Path) -> None:
    done, calls = traced(repository, "tests.coarse")
    assert done.returncode == 0, done.stderr
    assert (repository / "site" / "molds" / "small-bar.html").exists()
    assert touched(calls, repository.parent / "home") == []
    known = (str(repository), "/dev/", "/proc/", "/tmp", str(Path(sys.prefix)), str(small_site.ROOT))
    changed = [(name, path) for name, path in calls if name.startswith(CHANGES) and os.path.isabs(path)]  # noqa: PTH117
    assert [pair for pair in changed if not pair[1].startswith(known)] == []


def spring_links(root: Path) -> None:
    mold = root / "molds" / "small-bar"
    (mold / "block.stl").unlink()
    (mold / "block.stl").symlink_to(root.parent / "home" / ".ssh" / "key.stl")


def spring_folder(root: Path) -> None:
    (root / "molds" / "other").symlink_to(root.parent / "home")
    (root.parent / "home" / "mold.yaml").write_text("title: x\n")


def spring_lock(root: Path) -> None:
    place = root / "molds" / "small-bar" / "versions" / "1"
    elsewhere = str(root.parent / "home" / ".ssh" / "key.stl")
    released.rewrite(place, lambda told: told["downloads"][0].update(path=elsewhere, name="../../../x.stl"))


def spring_site(root: Path) -> None:
    small_site.configure(root, root / ".shotbook", site_dir="../home")


def spring_site_link(root: Path) -> None:
    (root / "site").symlink_to(root.parent / "home")


def spring_site_molds(root: Path) -> None:
    small_site.configure(root, root / ".shotbook", site_dir="molds")


TRAPS = (
    spring_links,
    spring_folder,  # the sound mold is read and drawn first
    spring_lock,
    spring_site,
    spring_site_link,
    spring_site_molds,
)


@pytest.mark.slow
@pytest.mark.parametrize("trap", TRAPS)
def test_a_trap_is_told_and_nothing_outside_is_touched(
    repository: Path, trap: Callable[[Path], None]
) -> None:
    trap(repository)
    home, molds = everything(repository.parent / "home"), everything(repository / "molds")
    done, calls = traced(repository, "tests.coarse" if trap is spring_folder else "builder")
    assert done.returncode == 1
    assert "Traceback" not in done.stderr
    assert re.search(r"fault|expected", done.stderr)
    assert touched(calls, repository.parent / "home") == []
    assert everything(repository.parent / "home") == home
    assert everything(repository / "molds") == molds
    assert not (repository.parent / "x.stl").exists()
