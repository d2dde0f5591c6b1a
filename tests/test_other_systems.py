"""What Windows and macOS lack is used only behind a question, and the program works without it.

No such system runs these tests. The list has what Python's documentation marks "Availability: Unix", from
memory; the second test takes them all away, which is a simulation, and builds a site.
"""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

import builder
from builder.base import disk
from builder.cli import main
from tests import small_mold, small_site

ROOT = Path(builder.__file__).parent
MISSING = {
    "os": {
        "fork",
        "forkpty",
        "getuid",
        "geteuid",
        "getgid",
        "getpgid",
        "killpg",
        "mkfifo",
        "setsid",
        "wait3",
        "wait4",
        "statvfs",
        "chown",
        "lchown",
        "fchmod",
        "fchown",
        "O_NOFOLLOW",
        "O_DIRECTORY",
        "O_CLOEXEC",
        "O_NONBLOCK",
        "O_NOCTTY",
        "sched_getaffinity",
        "posix_fallocate",
        "posix_fadvise",
        "sendfile",
        "symlink",
        "uname",
    },
    "signal": {"SIGKILL", "SIGHUP", "SIGUSR1", "SIGALRM", "alarm", "setitimer", "pthread_sigmask"},
    "time": {"clock_gettime", "tzset"},
}
"""Names of a module that are missing on Windows, or that a plain user may not use there."""
UNIX = {"fcntl", "grp", "pwd", "pty", "resource", "termios", "tty", "syslog", "posix", "readline"}
"""Modules that are missing on Windows."""
GUARDED = {
    ("base.contained", "_open"): "_BELOW asks for handles of folders first",
    ("base.disk", "import fcntl"): "an ImportError leaves it out",
    ("base.disk", "_lock"): "it ends where there is no fcntl",
    ("base.disk", "_user"): "hasattr asks first",
}
"""Where such a name stands nevertheless, and what keeps it from being used where it is missing."""


def uses() -> Iterator[tuple[str, str]]:
    """Module and function of each use of what is missing elsewhere."""
    for path in sorted(ROOT.rglob("*.py")):
        module = ".".join(path.relative_to(ROOT).with_suffix("").parts)
        tree = ast.parse(path.read_text(encoding="utf-8"))
        functions = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]
        for node in ast.walk(tree):
            if isinstance(node, ast.Import) and (found := {alias.name for alias in node.names} & UNIX):
                yield module, f"import {min(found)}"
            if (
                isinstance(node, ast.Attribute)
                and isinstance(node.value, ast.Name)
                and node.attr in MISSING.get(node.value.id, ())
            ):
                inside = (f.name for f in functions if f.lineno <= node.lineno <= (f.end_lineno or 0))
                yield module, next(inside, f"line {node.lineno}")


@pytest.mark.slow
def test_no_call_that_other_systems_lack_is_used_without_a_question() -> None:
    assert set(uses()) <= set(GUARDED)


@pytest.mark.slow
def test_a_site_is_built_and_verified_without_any_of_them(tmp_path: Path, kept: Path) -> None:
    small_mold.write(tmp_path / "molds")
    config = small_site.configure(tmp_path, kept)
    code = f"""
import sys, os, signal, subprocess, time, multiprocessing, mkdocs.commands.build, material, numpy, tempfile
import click, shutil
shutil._USE_CP_SENDFILE = False  # as Python itself decides there
for module, names in {MISSING!r}.items():
    for name in names:
        if hasattr(sys.modules[module], name) and name not in ("O_CLOEXEC", "sched_getaffinity"):
            delattr(sys.modules[module], name)
for module in {UNIX!r}:
    sys.modules[module] = None
os.supports_dir_fd = set()
from pathlib import Path
from builder import plugin
from builder.base import contained, disk
assert disk.fcntl is None and not contained._BELOW
plugin.build_site(Path({str(config)!r}), None, lambda *_: None)
"""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "site" / "molds" / "small-bar.html").is_file()


def test_what_is_piped_is_utf_8_whatever_the_system_says(tmp_path: Path) -> None:
    folder = small_mold.write(tmp_path / "mölds")
    (folder / "mold.yaml").write_text("title: Größe\n", encoding="utf-8")
    code = (
        "import sys, io; "
        "sys.stdout = io.TextIOWrapper(sys.stdout.buffer, encoding='cp1252'); "
        "sys.stderr = io.TextIOWrapper(sys.stderr.buffer, encoding='ascii'); "
        "from builder.cli import main; main(['check', '--molds', 'mölds'])"
    )
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONIOENCODING"}
    root = str(Path(builder.__file__).parent.parent)
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=tmp_path,
        env=environment | {"PYTHONPATH": root},
        capture_output=True,
        check=False,
    )
    assert done.returncode == 1
    assert "mölds/small-bar/mold.yaml" in (done.stdout + done.stderr).decode("utf-8")


@pytest.mark.slow
def test_that_a_system_has_no_locks_is_said(
    tmp_path: Path, kept: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    small_mold.write(tmp_path / "molds")
    config = small_site.configure(tmp_path, kept)
    monkeypatch.setattr(disk, "LOCKS", False)
    done = CliRunner().invoke(main, ["build", "--config", str(config), "--language", "de"])
    assert done.exit_code == 0, done.output
    assert "Dieses System hat keine Sperren" in done.stderr
    assert "Die Website liegt in" in done.stdout
