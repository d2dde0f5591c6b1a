"""What the README promises is true: its commands run and print what it shows."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from builder.base.store import Store

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
SET_UP = re.findall(r"^(python3 -m venv \.venv && .*)$", README, re.M)
SHOWN = [
    tuple(block.split("\n", 1))
    for block in re.findall(r"^```console\n\$ (shotbook .*?)```$", README, re.M | re.S)
]


@pytest.fixture(scope="module")
def clone(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of what a visitor clones, so that no command here touches the tree.

    Only the store is shared: what is kept there by content is found, and what a command makes is kept.
    """
    folder = tmp_path_factory.mktemp("clone") / "mold shop é"
    folder.mkdir()
    for name in ("molds", "site_src", "builder", "mkdocs.yml"):
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(source, folder / name)
    assert Store(ROOT / ".shotbook").secret  # a link is followed only to what is a store
    (folder / ".shotbook").symlink_to(ROOT / ".shotbook", target_is_directory=True)
    return folder


def test_two_commands_do_all_the_set_up_and_ci_runs_them_word_for_word() -> None:
    ci = (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()
    assert len(SET_UP) == 2
    assert all(line in ci for line in SET_UP)


def test_the_readme_opens_with_the_job_in_one_paragraph_and_is_short() -> None:
    title, blank, job, after = README.split("\n", 3)
    assert title == "# Shotbook"
    assert blank == ""
    assert len(job.split()) > 40
    assert after.startswith("\n")
    assert len(README.splitlines()) <= 150


@pytest.mark.slow
@pytest.mark.parametrize(("command", "shown"), SHOWN, ids=[command for command, _ in SHOWN])
def test_the_commands_shown_print_what_is_shown(command: str, shown: str, clone: Path) -> None:
    words = [sys.executable, "-m", "builder", *shlex.split(command)[1:]]
    done = subprocess.run(
        words,
        cwd=clone,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
        env={**os.environ, "COLUMNS": "110", "PYTHONIOENCODING": "utf-8"},
    )
    printed = " ".join((done.stdout + done.stderr).split())
    for line in filter(None, shown.splitlines()):
        pattern = ".*".join(re.escape(" ".join(part.split())) for part in line.split("…"))
        assert re.search(pattern, printed), f"{command} does not print: {line}\n{printed}"
