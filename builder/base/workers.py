"""Runs jobs in this process, on the cores of this machine, or on a Dask cluster, with equal results.

An engine takes a function and its arguments, and gives the results in the order of the arguments. Function,
arguments and results must be fit to be sent: a module's own function, bytes and plain values.
"""

from __future__ import annotations

import multiprocessing
import multiprocessing.connection
import os
import threading
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from multiprocessing.context import BaseContext
from typing import Any, Protocol, TypeVar

from builder.base.problems import Faults, Problem, Where

Job = TypeVar("Job")
Result = TypeVar("Result")

MOST = 256
"""Processes on one machine, however many are asked for; a number below 1 asks for one on each core."""
AHEAD = 2
"""Jobs kept waiting for each worker; more would only hold their files in memory."""


class Engine(Protocol):
    """Runs a function on each job and yields the results in order."""

    def __call__(self, work: Callable[[Job], Result], jobs: Iterable[Job]) -> Iterator[Result]:
        """The result of each job, in order."""


class _Future(Protocol):
    """The part of a future that process pools and Dask share."""

    def result(self) -> object:
        """Wait for the result."""


def choose(workers: int = 1, cluster: str = "") -> Engine:
    """A Dask cluster if an address is given, else this number of processes (0: one for each core)."""
    if cluster:
        return on_cluster(cluster)
    count = min(workers if workers > 0 else os.cpu_count() or 1, MOST)
    return here if count == 1 else on_cores(count)


def here(work: Callable[[Job], Result], jobs: Iterable[Job]) -> Iterator[Result]:
    """One after the other, in this process."""
    return map(work, jobs)


def on_cores(count: int) -> Engine:
    """Up to `count` processes on this machine; started when there is a first job, gone after the last."""

    def run(work: Callable[[Job], Result], jobs: Iterable[Job]) -> Iterator[Result]:
        with ProcessPoolExecutor(count, _context(work.__module__), end_with_parent) as pool:
            yield from _in_order(lambda job: pool.submit(work, job), jobs, count * AHEAD)

    return run


def end_with_parent() -> None:
    """Let this worker end when the process that started it was killed; what it was writing is swept later."""
    parent = multiprocessing.parent_process()

    def watch() -> None:
        multiprocessing.connection.wait([parent.sentinel] if parent else [])
        os._exit(1)

    if parent is not None:
        threading.Thread(target=watch, daemon=True).start()


def on_cluster(address: str) -> Engine:
    """The Dask cluster whose scheduler is at `address`; its workers need this package, not these folders."""

    def run(work: Callable[[Job], Result], jobs: Iterable[Job]) -> Iterator[Result]:
        with _client(address) as client:
            count = len(client.scheduler_info()["workers"])
            yield from _in_order(lambda job: client.submit(work, job, pure=False), jobs, count * AHEAD)

    return run


def _client(address: str) -> Any:  # noqa: ANN401 - the library's own class
    """The cluster at this address; Faults when there is none, or nothing to reach it with."""
    try:
        from distributed import Client

        return Client(address, set_as_default=False)
    except (ImportError, OSError, ValueError) as error:
        where = Where(file="mkdocs.yml", key="plugins.shotbook.cluster")
        what = f"the cluster {address[:80]!r} cannot be reached ({type(error).__name__})"
        expected = "the address of a Dask scheduler, such as tcp://host:8786"
        raise Faults([Problem(where=where, what=what, expected=expected)]) from None


def _in_order(submit: Callable[[Job], _Future], jobs: Iterable[Job], ahead: int) -> Iterator[Result]:
    """Results in the order of the jobs, never more than `ahead` of them under way."""
    waiting: deque[_Future] = deque()
    for job in jobs:
        waiting.append(submit(job))
        if len(waiting) >= ahead:
            yield waiting.popleft().result()  # type: ignore[misc]
    while waiting:
        yield waiting.popleft().result()  # type: ignore[misc]


def _context(module: str) -> BaseContext:
    """Processes forked from one that has imported the module already, where the system can."""
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload([module])
    return context
