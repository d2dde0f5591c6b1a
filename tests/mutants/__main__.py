"""Plant each fault in a copy of the package, run the tests of the numbers, and count the faults unnoticed.

python -m tests.mutants              all of them
python -m tests.mutants bench.js     those in files whose name holds this
python -m tests.mutants --quick      without a browser: those that only a browser can see are left out
python -m tests.mutants --part 2/3   the second third of them, to share the work
"""

from __future__ import annotations

import argparse
import contextlib
import importlib
import io
import itertools
import os
import shutil
import sys
import tempfile
import time
from collections.abc import Iterable
from pathlib import Path

import pytest

from tests.mutants import Mutant, everything
from tests.small_site import ROOT

COPIED = ("builder", "tests", "site_src", "mkdocs.yml", "pyproject.toml")
FAST, BROWSER = "tests/numbers", "tests/browser/test_unasked.py"
LOOKED_AT = {
    "bench.js": "bench",
    "batch.js": "bench",
    "timers.js": "bench",
    "bench.md.jinja": "bench",
    "card.js": "card",
    "compare.js": "comparison",
    "catalogue.js": "catalogue",
    "finding.js": "catalogue",
    "figures.js": "bench",
}
"""Which of the browser's tests look at what a script does, by the script's name; all where none is named."""
FIRST = {
    "builder/templates/card": "test_texts.py",
    "builder/templates": "test_pages.py",
    "builder/site/pages": "test_pages.py",
    "builder/release": "test_texts.py",
    "builder/cli": "test_texts.py",
    "builder/history": "test_texts.py",
    "builder/base/figures.py": "test_texts.py",
    "builder/site/page_data.py": "test_data.py",
    "builder/site/data_tables.py": "test_data.py",
    "builder/site/plots.py": "test_data.py",
}
"""Where a fault most likely shows, so that this is looked at before the rest."""
MOMENTS = itertools.count(2_000_000_000)
"""Each change of a file has a time of its own, so that what was compiled before is not taken for it."""
PRELOADED = (
    "builder.cli",
    "builder.plugin",
    "builder.pictures",
    "tests.conftest",
    "tests.numbers.test_texts",
)
"""Imported once for what they import in turn; a copy's own modules are imported anew for each fault."""


def run(root: Path, *choice: str, anew: bool = False) -> bool:
    """Whether the tests pass in this copy, in a process forked from this one, which has loaded everything.

    `anew` imports the copy's modules again, for a fault in one of them.
    """
    told = root / "told.txt"
    child = os.fork()
    if child == 0:
        with told.open("w") as output:
            os.dup2(output.fileno(), 1)
            os.dup2(output.fileno(), 2)
            if anew:
                forget()
            os._exit(tested(*choice))
    code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    if code not in (0, 1):
        raise RuntimeError(f"the tests did not run: {told.read_text(encoding='utf-8')[-3000:]}")
    return code == 0


def tested(*choice: str) -> int:
    """Run the tests; pytest's exit code."""
    return int(pytest.main(["-x", "-q", "-p", "xdist.plugin", "-n", "0", "-p", "no:cacheprovider", *choice]))


def forget() -> None:
    """Let the copy's modules be imported again."""
    for name in [one for one in sys.modules if one.partition(".")[0] in ("builder", "tests")]:
        del sys.modules[name]


def settle(root: Path) -> None:
    """Import everything from the copy, and pytest with it, so that a forked process has it at once."""
    forget()
    os.chdir(root)
    sys.path.insert(0, str(root))
    sys.pycache_prefix = str(root / "compiled")
    os.environ["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"
    with contextlib.redirect_stdout(io.StringIO()):
        assert tested("--collect-only", FAST, BROWSER) == 0
    for name in PRELOADED:
        assert str(importlib.import_module(name).__file__).startswith(str(root)), f"{name} is not the copy's"


def survives(one: Mutant, root: Path, *, quick: bool = False) -> bool:
    """Whether no test notices the fault; a script's are looked for in a browser, others without one first.

    `quick` leaves the browser out.
    """
    name = one.file.rpartition("/")[2]
    chosen = ("-k", LOOKED_AT[name]) if name in LOOKED_AT else ()
    file = root / one.file
    sound = file.read_text(encoding="utf-8")
    file.write_text(one.planted(root), encoding="utf-8")
    os.utime(file, (next(MOMENTS),) * 2)
    anew = one.file.endswith(".py")
    first = next((f"{FAST}/{test}" for start, test in FIRST.items() if one.file.startswith(start)), FAST)
    try:
        unseen = one.scripted or (run(root, first, anew=anew) and run(root, FAST, anew=anew))
        return unseen and (quick or run(root, BROWSER, *chosen, anew=anew))
    finally:
        file.write_text(sound, encoding="utf-8")
        os.utime(file, (next(MOMENTS),) * 2)


def count(faults: Iterable[Mutant], root: Path, *, quick: bool = False) -> int:
    """Try each fault and tell what becomes of it; how many go unnoticed."""
    left, tried, start = 0, 0, time.monotonic()
    for one in faults:
        unnoticed = survives(one, root, quick=quick)
        left, tried = left + unnoticed, tried + 1
        print(f"{'UNNOTICED' if unnoticed else 'noticed  '} {one.file}: {one.breaks}", flush=True)
    print(f"{tried} faults, {left} unnoticed, {time.monotonic() - start:.0f} s")
    return left


def main(arguments: list[str]) -> int:
    """0 when every fault is noticed and the tests pass without one."""
    asked = argparse.ArgumentParser(prog="python -m tests.mutants")
    asked.add_argument("names", nargs="*")
    asked.add_argument("--quick", action="store_true")
    asked.add_argument("--part", default="1/1")
    told = asked.parse_args(arguments)
    part, parts = map(int, told.part.split("/"))
    faults = [one for one in everything() if not told.names or any(name in one.file for name in told.names)]
    faults = [one for one in faults if not (told.quick and one.scripted)][part - 1 :: parts]
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
        settle(root)
        if not run(root, FAST):
            sys.exit("the tests fail without a fault; mend that first")
        return 1 if count(faults, root, quick=told.quick) else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
