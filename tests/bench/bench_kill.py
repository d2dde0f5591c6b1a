"""200 runs killed at random moments, half of them releases and half builds.

python -m tests.bench.bench_kill [COUNT] [SEED]
"""

from __future__ import annotations

import sys
import tempfile
from functools import partial
from pathlib import Path

from tests import killing


def main() -> None:
    given = [int(text) for text in sys.argv[1:]]
    count, seed = (*given, *(200, 1)[len(given) :])
    with tempfile.TemporaryDirectory() as folder:
        store = Path(folder) / "store"
        releases = partial(killing.releases, cold_every=10)
        for name, trial in (("release", releases), ("build", killing.builds)):
            killer = trial(Path(folder) / name, store, count // 2, seed)
            print(f"{name}: {killer.kills} killed at random moments of a run of", end=" ")
            print(f"{killer.whole_run_s:.1f} s. Tree, site, locks, zips and store were whole each time.")


if __name__ == "__main__":
    main()
