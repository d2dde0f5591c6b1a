"""One interface, three places: the same results in the same order."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest

from builder.base import workers
from builder.base.store import sha256

JOBS = [bytes([n]) * (200_000 // (n + 1)) for n in range(12)]
EXPECTED = [sha256(job) for job in JOBS]


def test_here_is_one_after_the_other_and_lazy() -> None:
    results = workers.here(sha256, iter(JOBS))
    assert next(results) == EXPECTED[0]
    assert list(results) == EXPECTED[1:]


def test_processes_give_the_same_results_in_the_same_order() -> None:
    assert list(workers.on_cores(2)(sha256, JOBS)) == EXPECTED


@pytest.mark.slow
def test_a_cluster_gives_the_same_results_in_the_same_order() -> None:
    distributed = pytest.importorskip("distributed", reason="the cluster extra is not installed")
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address=None, host="127.0.0.1"
    ) as cluster:
        assert list(workers.on_cluster(cluster.scheduler_address)(sha256, JOBS)) == EXPECTED


def test_only_a_few_jobs_are_held_at_a_time() -> None:
    drawn = 0

    def jobs() -> Iterator[bytes]:
        nonlocal drawn
        for job in JOBS:
            drawn += 1
            yield job

    results = workers.on_cores(1)(sha256, jobs())
    assert next(results) == EXPECTED[0]
    assert drawn <= 1 + workers.AHEAD
    assert list(results) == EXPECTED[1:]


def test_what_a_job_raises_arrives_here() -> None:
    with pytest.raises(TypeError):
        list(workers.on_cores(2)(sha256, [b"a", "not bytes"]))  # type: ignore[arg-type]


def test_the_engine_follows_from_workers_and_address() -> None:
    assert workers.choose(1) is workers.here
    assert (workers.choose(0) is workers.here) == (os.cpu_count() == 1)
    assert workers.choose(3) is not workers.here
