"""Plant each fault in a copy of the package, run the tests of the numbers, and count the faults unnoticed.

python -m tests.mutants              all of them
python -m tests.mutants bench.js     those in files whose name holds this
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterable
from pathlib import Path

from tests.mutants import Mutant, everything
from tests.small_site import ROOT

COPIED = ("builder", "tests", "site_src", "mkdocs.yml", "pyproject.toml")
FAST, BROWSER = "tests/numbers", "tests/browser/test_unasked.py"
LOOKED_AT = {
    "bench.js": "bench",
    "bench.md.jinja": "bench",
    "card.js": "card",
    "compare.js": "comparison",
    "catalogue.js": "catalogue",
    "figures.js": "bench",
}
"""Which of the browser's tests look at what a script does, by the script's name; all where none is named."""
ENVIRONMENT = {**os.environ, "PYTHONDONTWRITEBYTECODE": "1"}


def run(root: Path, *choice: str) -> bool:
    """Whether the tests pass in this copy."""
    command = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", *choice]
    done = subprocess.run(command, cwd=root, env=ENVIRONMENT, capture_output=True, text=True, check=False)
    if done.returncode not in (0, 1):
        raise RuntimeError(f"the tests did not run: {done.stdout[-2000:]}{done.stderr[-2000:]}")
    return done.returncode == 0


def survives(one: Mutant, root: Path) -> bool:
    """Whether no test notices the fault; a script's are looked for in a browser, others without one first."""
    name = one.file.rpartition("/")[2]
    chosen = ("-k", LOOKED_AT[name]) if name in LOOKED_AT else ()
    file = root / one.file
    sound = file.read_text(encoding="utf-8")
    file.write_text(one.planted(root), encoding="utf-8")
    try:
        return (one.scripted or run(root, FAST)) and run(root, BROWSER, *chosen)
    finally:
        file.write_text(sound, encoding="utf-8")


def count(faults: Iterable[Mutant], root: Path) -> int:
    """Try each fault and tell what becomes of it; how many go unnoticed."""
    left, tried, start = 0, 0, time.monotonic()
    for one in faults:
        unnoticed = survives(one, root)
        left, tried = left + unnoticed, tried + 1
        print(f"{'UNNOTICED' if unnoticed else 'noticed  '} {one.file}: {one.breaks}", flush=True)
    print(f"{tried} faults, {left} unnoticed, {time.monotonic() - start:.0f} s")
    return left


def main(names: list[str]) -> int:
    """0 when every fault is noticed and the tests pass without one."""
    faults = [one for one in everything() if not names or any(name in one.file for name in names)]
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        for name in COPIED:
            source = ROOT / name
            ignored = shutil.ignore_patterns("__pycache__")
            (
                shutil.copytree(source, root / name, ignore=ignored)
                if source.is_dir()
                else shutil.copy(source, root)
            )
        if not run(root, FAST):
            sys.exit("the tests fail without a fault; mend that first")
        return 1 if count(faults, root) else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
