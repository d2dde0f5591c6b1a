"""A worker that never ends by itself: `python -m tests.asleep` starts two of them."""

from __future__ import annotations

import time

from builder.base import disk, workers


def sleep(job: bytes) -> bytes:
    """Hold a temporary folder for ten minutes."""
    with disk.scratch():
        time.sleep(600)
    return job


if __name__ == "__main__":
    from tests import asleep  # noqa: PLW0406 - what is sent to a worker has a module that it can import

    list(workers.on_cores(2)(asleep.sleep, [b"one", b"two"]))
