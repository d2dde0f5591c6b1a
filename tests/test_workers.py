"""One interface, three places: the same results in the same order."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from pickle import PicklingError

import pytest

from builder.base import workers
from builder.base.store import sha256
from tests import asleep, killing

ROOT = Path(__file__).parent.parent

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


def test_a_worker_that_the_system_stops_costs_its_own_job_only() -> None:
    answers = list(workers.on_cores(2)(asleep.ended_by, [b"", b"kill", b"", b"kill", b""]))
    assert answers == [b"", workers.Lost(), b"", workers.Lost(), b""]


def test_a_result_that_cannot_be_sent_is_told_and_the_worker_goes_on() -> None:
    results = workers.on_cores(1)(asleep.unsendable, [b"one", b"two"])
    with pytest.raises((AttributeError, TypeError, PicklingError)):
        next(results)


def test_workers_leave_no_folder_no_socket_and_no_semaphore(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What has a name outlives whoever is killed: queues of multiprocessing and its server of forks do."""
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    code = "from tests import asleep; from builder.base import workers\n"
    code += "assert list(workers.on_cores(2)(asleep.named, [b'1', b'2', b'3'])) == [b''] * 3"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


def test_whoever_stops_asking_leaves_no_worker(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SHOTBOOK_KILLS", "stops asking")
    before = killing.family()
    results = workers.on_cores(2)(asleep.ended_by, iter([b"", b"sleep", b"sleep", b"sleep"]))
    assert next(results) == b""
    assert len(killing.family() - before) >= 2
    results.close()  # type: ignore[attr-defined]
    assert not [pid for pid in killing.family() - before if "spawn_main" in killing.command(pid)]


def test_the_engine_follows_from_workers_and_address(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(workers, "free_mb", lambda: 1e6)
    assert workers.choose(1) is workers.here
    assert workers.choose().count == os.cpu_count()
    assert workers.choose(3).count == 3


def test_no_more_processes_run_than_the_free_memory_carries(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "cpu_count", lambda: 64)
    monkeypatch.setattr(workers, "free_mb", lambda: 5.5 * workers.WORKER_MB)
    assert workers.choose().count == 5
    monkeypatch.setattr(workers, "free_mb", lambda: 0.0)
    assert workers.choose() is workers.here


def test_a_container_bounds_the_free_memory(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(workers, "GROUP", tmp_path)
    whole = workers.free_mb()
    (tmp_path / "memory.max").write_text("max\n")
    (tmp_path / "memory.current").write_text("1000000\n")
    assert workers.free_mb() == pytest.approx(whole, rel=0.5)
    (tmp_path / "memory.max").write_text(f"{1_000_000 + 7 * 1024**2}\n")
    assert workers.free_mb() == 7


def test_a_single_job_starts_no_process() -> None:
    assert list(workers.on_cores(2)(process, [b""])) == [os.getpid()]


@pytest.mark.slow
def test_two_jobs_have_processes_of_their_own() -> None:
    assert os.getpid() not in list(workers.on_cores(2)(process, [b"", b""]))


def process(_: bytes) -> int:
    return os.getpid()
