"""What a Dask cluster costs a mold, and from when on it pays: workers that only wait stand for real ones.

    python -m tests.bench.bench_cluster [MOLDS [WORKERS ...]]

Each job carries the files of a demo mold, each answer what reading and drawing it makes. Between the two a
worker waits, as long as a mold takes a core. What is left of the time is what the host and the network cost.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from distributed import LocalCluster

from builder import build
from builder.base import workers
from builder.base.store import RECORD, Store, canonical
from builder.site import batch
from builder.spec import material_tables
from tests.bench.bench_build import DEMOS, ROOT, renamed, results

MOLD_S = 5.0
"""Seconds of a core to read, advise on and draw a mold (tests/bench/bench_mold.py)."""
WAIT_S = 1.0
"""Seconds that a worker waits for each mold here: a shorter wait shows the same cost sooner."""
COUNTS = (2, 8, 16)


@dataclass(frozen=True, slots=True)
class Waiting:
    """A job as it is sent, and how many the answer is of all."""

    job: batch.Job
    number: int


def answered(waiting: Waiting) -> batch.Answer:
    """A mold's results after a while; they stand under a key of their own."""
    time.sleep(WAIT_S)
    files = {name: data for name, data in waiting.job.known.items() if not name.endswith("/SEAL")}
    made: dict[str, bytes] = {}
    for entry in {name.rsplit("/", 1)[0] for name in files}:
        told = {n.rsplit("/", 1)[1]: data for n, data in files.items() if n.startswith(f"{entry}/")}
        made |= renamed(told, f"{entry}{waiting.number:06}", b"\0", b"\0")
    return batch.Answer(made, b"")


def jobs(count: int) -> Iterator[Waiting]:
    """So many jobs with the files of the demo molds in turn; the results are sent along to be sent back."""
    tables, store = material_tables.load(), Store(ROOT / ".shotbook")
    ready = []
    for demo in DEMOS:
        results(demo, tables, store)
        draft = build.load_draft(demo, tables, store=store)
        job = batch.job_of(draft, canonical(tables), store)
        drawn = store.files_of("pictures", job.drawn[0])
        ready.append(
            batch.Job(mold=job.mold, contents=job.contents, tables=job.tables, known={**job.known, **drawn})
        )
    yield from (Waiting(ready[number % len(ready)], number) for number in range(count))


def took(count: int, hands: int) -> tuple[float, float, float]:
    """Seconds to reach the cluster, seconds for all molds, and the host's processor time for them."""
    with (
        tempfile.TemporaryDirectory() as folder,
        LocalCluster(
            n_workers=hands, threads_per_worker=1, dashboard_address=None, host="127.0.0.1"
        ) as there,
    ):
        ready = list(jobs(count))
        start, store = time.monotonic(), Store(Path(folder))
        engine = workers.on_cluster(there.scheduler_address)
        for _ in engine(answered, ready[:1]):
            pass
        reached, cpu = time.monotonic(), time.process_time()
        for answer in engine(answered, ready):
            assert isinstance(answer, batch.Answer)
            assert any(name.endswith(RECORD) for name in answer.files)
            store.take(answer.files)
        return reached - start - WAIT_S, time.monotonic() - reached, time.process_time() - cpu


def main() -> None:
    count, *hands = [int(word) for word in sys.argv[1:]] or [1000]
    for number in hands or COUNTS:
        start_s, wall_s, cpu_s = took(count, number)
        lost_s = (wall_s - count * WAIT_S / number) * number / count
        full = 1 + MOLD_S / (cpu_s / count)
        spared = MOLD_S - (MOLD_S + lost_s) / number
        pays = max(1, round(start_s / spared + 0.5))
        print(
            f"{count} molds, {number} workers: {start_s:.1f} s to reach them, {wall_s:.0f} s for all. A mold "
            f"costs the host {1000 * cpu_s / count:.0f} ms, and a worker {1000 * lost_s:.0f} ms beside its "
            f"wait. At {MOLD_S:g} s a mold it pays from {pays} molds on against one process; the host keeps "
            f"up to {full:.0f} workers busy.",
            flush=True,
        )


if __name__ == "__main__":
    main()
