"""Hostile files by chance, the same ones each time; `python -m tests.bench.fuzz` makes others for hours."""

from __future__ import annotations

import os
import random
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from builder.base.problems import Faults, Problem, Where
from tests.bench import fuzz
from tests.hostile import mutants

FILES = {"stl": 12, "yaml": 250, "lock": 120, "photo": 80}
Trial = Callable[[random.Random, Path], None]


@pytest.mark.slow
@pytest.mark.parametrize("kind", FILES)
def test_no_file_made_by_chance_is_anything_but_read_or_refused(
    kind: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert fuzz.fuzz(kind, 600, 1, FILES[kind]) == 0, capsys.readouterr().out
    assert f"{kind}: {FILES[kind]} files from seed 1: " in capsys.readouterr().out


def broken(_: random.Random, __: Path) -> None:
    raise IndexError


def refused(_: random.Random, __: Path) -> None:
    raise Faults([Problem(where=Where(file="a.stl"), what="it is none")])


def fine(_: random.Random, __: Path) -> None:
    pass


@pytest.mark.parametrize(("made", "found"), [(broken, "!traceback"), (refused, "refused"), (fine, "read")])
def test_a_trial_tells_a_traceback_from_a_fault(
    made: Trial, found: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(mutants.KINDS, "stl", made)
    assert fuzz.trial("stl", 1, tmp_path) == found


ESCAPES = {
    "a file": "open(os.path.join(out, 'a'), 'w')",
    "a file through a link": "os.symlink(out, 'link'); open('link/a', 'w')",
    "a folder": "os.mkdir(os.path.join(out, 'a'))",
    "a link": "os.symlink('x', os.path.join(out, 'a'))",
    "a file moved away": "open('a', 'w').close(); os.rename('a', os.path.join(out, 'a'))",
    "a file removed": "os.remove(os.path.join(out, 'there'))",
    "a file below a handle": "os.remove('there', dir_fd=os.open(out, os.O_RDONLY))",
    "a program": "import subprocess; subprocess.run(['true'])",
}


@pytest.mark.slow
@pytest.mark.parametrize("code", ESCAPES.values(), ids=ESCAPES)
def test_the_fuzzer_sees_whatever_leaves_the_folder_of_a_trial(code: str, tmp_path: Path) -> None:
    assert noted(code, tmp_path) != []


def test_the_fuzzer_lets_a_trial_do_what_it_likes_in_its_own_folder(tmp_path: Path) -> None:
    inside = "open('a', 'w').close(); os.mkdir('b'); os.rename('a', 'b/a'); os.remove('b/a')"
    assert noted(f"{inside}; open('/etc/hostname')", tmp_path) == []


def noted(code: str, tmp_path: Path) -> list[str]:
    """What the fuzzer notes while the code runs in a folder of its own, beside another."""
    for name in ("mine", "out"):
        (tmp_path / name).mkdir()
    (tmp_path / "out" / "there").write_text("")
    program = (
        "import os, sys; from tests.bench import fuzz; sys.dont_write_bytecode = True\n"
        f"out = {str(tmp_path / 'out')!r}; mine = {os.path.realpath(tmp_path / 'mine')!r}; seen = []\n"
        "os.chdir(mine); sys.addaudithook(lambda event, args: fuzz._note(event, args, mine, seen))\n"
        f"{code}\nnoted = list(seen); print(*noted, sep='\\n')"
    )
    root = Path(fuzz.__file__).parent.parent.parent
    told = subprocess.run(
        [sys.executable, "-c", program], cwd=root, capture_output=True, text=True, check=True
    )
    return told.stdout.split()
