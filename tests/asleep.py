"""Work that goes wrong; `python -m tests.asleep` starts two workers that never end by themselves."""

from __future__ import annotations

import os
import signal
import tempfile
import time
from pathlib import Path

from builder.base import disk, workers


def sleep(job: bytes) -> bytes:
    """Hold a temporary folder for ten minutes."""
    with disk.scratch():
        time.sleep(600)
    return job


def ended_by(job: bytes) -> bytes:
    """End as the system ends what takes too much memory, or sleep, as the job says."""
    if job == b"kill":
        os.kill(os.getpid(), signal.SIGKILL)
    return sleep(job) if job == b"sleep" else job


def unsendable(_: bytes) -> object:
    """Give what no process can send."""
    return lambda: None


def named(_: bytes) -> bytes:
    """What stands in the folder for temporary files, and the memory with a name of the process that asks."""
    maps = Path(f"/proc/{os.getppid()}/maps")
    lines = maps.read_text().splitlines() if maps.exists() else []
    return "\n".join(
        [
            *(path.name for path in Path(tempfile.gettempdir()).iterdir()),
            *(one for one in lines if "/dev/shm" in one),
        ]
    ).encode()


if __name__ == "__main__":
    from tests import asleep  # noqa: PLW0406 - what is sent to a worker has a module that it can import

    list(workers.on_cores(2)(asleep.sleep, [b"one", b"two"]))
