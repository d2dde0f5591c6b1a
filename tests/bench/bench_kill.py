"""200 runs killed at random moments: releases, builds, withdrawals, and two of them at once.

python -m tests.bench.bench_kill [COUNT] [SEED]
"""

from __future__ import annotations

import multiprocessing.util
import os
import sys
import tempfile
from collections.abc import Callable
from functools import partial
from pathlib import Path

from tests import killing


def main() -> None:
    given = [int(text) for text in sys.argv[1:]]
    count, seed = (*given, *(200, 1)[len(given) :])
    with tempfile.TemporaryDirectory() as folder:
        store, scratch = Path(folder) / "store", Path(folder) / "tmp"
        scratch.mkdir()
        multiprocessing.util.get_temp_dir()  # what starts the runs has its own folder elsewhere
        os.environ["TMPDIR"] = tempfile.tempdir = str(scratch)
        releases = partial(killing.releases, cold_every=10)
        trials: dict[str, Callable[[Path, Path, int, int], killing.Killer]] = {
            "withdraw": killing.withdrawals,
            "two at once": partial(killing.pairs, cold_every=5),
            "release": releases,
            "build": killing.builds,
        }
        for name, trial in trials.items():
            killer = trial(Path(folder) / name, store, count // len(trials), seed)
            print(f"{name}: {killer.kills} killed at random moments of a run of", end=" ")
            print(
                f"{killer.whole_run_s:.1f} s. Tree, site, locks, record and store were whole each time;",
                end=" ",
            )
            print("no process was left.", flush=True)
        left = [path.name for path in scratch.iterdir()]
        print(f"Temporary folders left: {left or 'none'}.")


if __name__ == "__main__":
    main()
