"""All windows of one mold, timed: `python -m tests.bench.bench_window`. The goal is 1.5 s on two cores.

The machine is gauged by sorting four million numbers, so that the ratio compares between machines.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from builder.advice.advise import advise
from builder.spec import material_tables
from tests.advised_minnow import spec
from tests.paths_for_flow import minnow_measurement

GOAL_S = 1.5


def timed(work: Callable[[], object], runs: int) -> tuple[float, float]:
    """Median wall and processor seconds of some runs."""
    walls, cpus = [], []
    for _ in range(runs):
        wall, cpu = time.perf_counter(), time.process_time()
        work()
        walls.append(time.perf_counter() - wall)
        cpus.append(time.process_time() - cpu)
    return statistics.median(walls), statistics.median(cpus)


def main() -> None:
    """Print how long all windows of the two-cavity minnow take."""
    tables, mold = material_tables.load(), minnow_measurement(1.5)
    pairs = len(tables.plastisols) * len(tables.mold_materials)
    first, _ = timed(lambda: advise(spec(), mold, tables), 1)
    wall, cpu = timed(lambda: advise(spec(), mold, tables), 5)
    crowded = replace(mold, baits=tuple(replace(bait, paths=bait.paths * 12) for bait in mold.baits))
    many, _ = timed(lambda: advise(spec(), crowded, tables), 3)
    numbers = np.cos(np.arange(4e6))
    gauge, _ = timed(lambda: np.sort(numbers), 5)
    print(f"{pairs} windows: first {first:.2f} s, then {wall:.2f} s wall, {cpu:.2f} s processor")
    print(f"with {12 * len(mold.baits)} flow paths instead of {len(mold.baits)}: {many:.2f} s wall")
    print(f"goal {GOAL_S} s: {wall / GOAL_S:.2f} of it; {wall / gauge:.1f} × sorting four million numbers")


if __name__ == "__main__":
    main()
