"""Runs jobs in this process, on the cores of this machine, or on a Dask cluster, with equal results.

An engine takes a function and its arguments, and gives the results in the order of the arguments. Function,
arguments and results must be fit to be sent: a module's own function, bytes and plain values.
"""

from __future__ import annotations

import math
import multiprocessing
import multiprocessing.connection
import os
import signal
import threading
import traceback
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass
from itertools import chain, islice
from multiprocessing.context import SpawnProcess
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol, TypeAlias, TypeVar

from builder.base.problems import Faults, Problem, Where

if TYPE_CHECKING:
    Line: TypeAlias = multiprocessing.connection.Connection[Any, Any]

Job = TypeVar("Job")
Result = TypeVar("Result")

MOST = 256
"""Processes on one machine, however many are asked for."""
WORKER_MB = 700
"""Free memory that each process must find: more than reading and drawing a mold usually takes."""
GROUP = Path("/sys/fs/cgroup")
"""Where Linux tells the bounds that a container sets."""
AHEAD = 2
"""Jobs kept waiting for each worker; more would only hold their files in memory."""


@dataclass(frozen=True, slots=True)
class Lost:
    """In place of a result: the process ended before it answered, stopped by the system or by a crash."""


class Engine(Protocol):
    """Runs a function on each job and yields the results in order."""

    @property
    def count(self) -> int:
        """How many jobs run at a time, as far as that is known."""

    def __call__(self, work: Callable[[Job], Result], jobs: Iterable[Job]) -> Iterator[Result | Lost]:
        """The result of each job, in order."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Hand:
    """A process and this end of its pipe."""

    process: SpawnProcess
    line: Line


class _Future(Protocol):
    """The part of a future that process pools and Dask share."""

    def result(self) -> object:
        """Wait for the result."""


def choose(workers: int = 0, cluster: str = "") -> Engine:
    """A Dask cluster if an address is given, else this number of processes; below 1 as many as fit here."""
    if cluster:
        return on_cluster(cluster)
    count = min(workers if workers > 0 else fitting(os.cpu_count() or 1, free_mb()), MOST)
    return here if count == 1 else on_cores(count)


def fitting(cores: int, free_mb: float) -> int:
    """Processes that this many cores and this much free memory carry.

    >>> fitting(8, 16000), fitting(8, 2200), fitting(8, 100)
    (8, 3, 1)
    """
    return max(1, min(cores, int(free_mb // WORKER_MB)))


def free_mb() -> float:
    """Memory that programs may still take, MB: what Linux and its control groups say, elsewhere no bound."""
    free = [math.inf]
    with suppress(OSError, ValueError):
        lines = (line.split() for line in Path("/proc/meminfo").read_text().splitlines())
        free += [int(line[1]) / 1024 for line in lines if line[0] == "MemAvailable:"]
    with suppress(OSError, ValueError):
        most, used = (int((GROUP / f"memory.{name}").read_text()) for name in ("max", "current"))
        free.append((most - used) / 1024**2)
    return min(free)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Here:
    """One after the other, in this process."""

    count: int = 1

    def __call__(self, work: Callable[[Job], Result], jobs: Iterable[Job]) -> Iterator[Result | Lost]:
        return map(work, jobs)


here = _Here()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cores:
    """Processes on this machine; started when there is a second job, gone after the last."""

    count: int

    def __call__(self, work: Callable[[Job], Result], jobs: Iterable[Job]) -> Iterator[Result | Lost]:
        rest = iter(jobs)
        first = list(islice(rest, 2))
        if len(first) < 2:
            yield from here(work, first)
            return
        crew, threads = _Crew(work), ThreadPoolExecutor(self.count)
        try:
            yield from _in_order(
                lambda job: threads.submit(crew.ask, job), chain(first, rest), self.count * AHEAD
            )
        finally:
            threads.shutdown(wait=False, cancel_futures=True)
            crew.end()
            threads.shutdown()


def local(engine: Engine) -> Engine:
    """The engine if it works on this machine; for a cluster, what fits here."""
    return choose() if isinstance(engine, _Cluster) else engine


def on_cores(count: int) -> Engine:
    """Up to `count` processes on this machine; a single job runs in this one, which starts at once."""
    return _Cores(count=count)


class _Crew:
    """Processes of this machine, each with a pipe and with one job at a time.

    No semaphore and no socket with a name: whoever kills the run leaves nothing of it behind.
    """

    def __init__(self, work: Callable[[Any], Any]) -> None:
        self._work = work
        self._idle: list[_Hand] = []
        self._all: list[_Hand] = []
        self._starting = threading.Lock()
        self._ended = False

    def ask(self, job: object) -> object:
        """What the work makes of the job, or what it raises; Lost when its process ends first."""
        try:
            hand = self._idle.pop()
        except IndexError:
            hand = self._start()
        try:
            hand.line.send(job)
            done, told = hand.line.recv()
        except (EOFError, ConnectionError):
            hand.process.join()
            return Lost()
        self._idle.append(hand)
        if not done:
            raise told
        return told

    def end(self) -> None:
        """Kill them all: those that are idle have nothing to lose, and what the others make is not wanted."""
        with self._starting:
            self._ended = True
            for hand in self._all:
                hand.process.kill()
        for hand in self._all:
            hand.process.join()

    def _start(self) -> _Hand:
        context = multiprocessing.get_context("spawn")
        with self._starting:
            if self._ended:
                raise EOFError
            ours, theirs = context.Pipe()
            process = context.Process(target=_serve, args=(self._work, theirs), daemon=True)
            process.start()
            theirs.close()
            hand = _Hand(process=process, line=ours)
            self._all.append(hand)
        return hand


def _serve(work: Callable[[Any], Any], line: Line) -> None:
    """Answer jobs until the process that started this one is gone or closes the line."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the one that started it is told, and ends it
    end_with_parent()
    while True:
        try:
            job = line.recv()
        except (EOFError, ConnectionError):
            return
        try:
            line.send((True, work(job)))
        except Exception as error:  # noqa: BLE001 - raised again where the result is asked for
            error.add_note(traceback.format_exc())
            line.send((False, error))


def end_with_parent() -> None:
    """Let this worker end when the process that started it was killed; what it was writing is swept later."""
    parent = multiprocessing.parent_process()

    def watch() -> None:
        multiprocessing.connection.wait([parent.sentinel] if parent else [])
        os._exit(1)

    if parent is not None:
        threading.Thread(target=watch, daemon=True).start()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cluster:
    """A Dask cluster; it says how many workers it has when it is reached."""

    address: str
    count: int = 1

    def __call__(self, work: Callable[[Job], Result], jobs: Iterable[Job]) -> Iterator[Result | Lost]:
        with _client(self.address) as client:
            count = len(client.scheduler_info()["workers"])
            yield from _in_order(lambda job: client.submit(work, job, pure=False), jobs, count * AHEAD)


def on_cluster(address: str) -> Engine:
    """The Dask cluster whose scheduler is at `address`; its workers need this package, not these folders."""
    return _Cluster(address=address)


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


def _in_order(submit: Callable[[Job], _Future], jobs: Iterable[Job], ahead: int) -> Iterator[Result | Lost]:
    """Results in the order of the jobs, never more than `ahead` of them under way."""
    waiting: deque[_Future] = deque()
    for job in jobs:
        waiting.append(submit(job))
        if len(waiting) >= ahead:
            yield waiting.popleft().result()  # type: ignore[misc]
    while waiting:
        yield waiting.popleft().result()  # type: ignore[misc]
