"""Runs killed at a random moment, and what must hold afterwards."""

from __future__ import annotations

import multiprocessing
import os
import random
import shutil
import signal
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

from builder import plugin
from builder.base.store import Store, is_intact, sums
from builder.release import freeze
from builder.site import site_map
from builder.spec import material_tables, versions
from tests import (
    coarse,  # noqa: F401 - processes that are forked from this module draw coarsely too
    small_mold,
    small_site,
)

DAY = "2026-03-01"


def killed(work: Callable[[], None], after_s: float) -> bool:
    """Run `work` in a process of its own and kill -9 it after so long; False when it was done before.

    The process is forked from one that has imported everything, so that the time is the work's own.
    """
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["tests.killing"])
    process = context.Process(target=work)
    process.start()
    process.join(after_s)
    assert process.pid is not None
    if process.is_alive():
        os.kill(process.pid, signal.SIGKILL)
    process.join()
    assert process.exitcode in (0, -signal.SIGKILL), f"it failed by itself: {process.exitcode}"
    return process.exitcode != 0


@dataclass
class Killer:
    """Kills at moments spread over the time that a whole run takes."""

    seed: int
    whole_run_s: float = 1.0
    kills: int = 0
    rng: random.Random = field(init=False)

    def __post_init__(self) -> None:
        self.rng = random.Random(self.seed)

    def timed(self, work: Callable[[], None]) -> None:
        """Run it whole once, for the time it takes."""
        start = time.monotonic()
        assert not killed(work, 600)
        self.whole_run_s = time.monotonic() - start

    def strike(self, work: Callable[[], None], reset: Callable[[], None] = lambda: None) -> None:
        """Kill it once, from the state that `reset` makes; again when it was done before."""
        for _ in range(5):
            reset()
            start = time.monotonic()
            if killed(work, self.rng.uniform(0, self.whole_run_s)):
                self.kills += 1
                return
            self.whole_run_s = time.monotonic() - start
        raise AssertionError("five runs in a row were done before they could be killed")


def releases(root: Path, store: Path, count: int, seed: int, cold_every: int = 0) -> Killer:
    """Release version 2 of a mold `count` times from the same start, each time killed at a random moment.

    Afterwards the tree is the one before or the one after, and the next run gives the one after.
    Every `cold_every`th time the store's pictures are deleted first, so that it is killed while it draws.
    """
    mold = small_mold.write(root / "molds")
    run = partial(release_now, mold, store)
    run()
    small_mold.write(root / "molds", depth=7.0, version="2")
    shutil.copytree(mold, root / "before")
    before = sums(mold)
    killer = Killer(seed)
    killer.timed(run)
    after, cold_s = sums(mold), killer.whole_run_s

    def reset(*, cold: bool) -> None:
        shutil.rmtree(mold)
        shutil.copytree(root / "before", mold)
        if cold:
            shutil.rmtree(store / "pictures", ignore_errors=True)

    reset(cold=False)
    killer.timed(run)
    warm_s = killer.whole_run_s
    for turn in range(1, count + 1):
        cold = cold_every > 0 and turn % cold_every == 0
        killer.whole_run_s = cold_s if cold else warm_s
        killer.strike(run, partial(reset, cold=cold))
        assert tree(mold) in (before, after), "the tree is neither the one before nor the one after"
        assert versions.verify(mold) == ()
        assert sound(store)
        if tree(mold) == before:
            run()
        assert sums(mold) == after, "the next run does not give the same bytes, or leaves litter"
    return killer


def builds(root: Path, store: Path, count: int, seed: int) -> Killer:
    """Build one of two sites in turn, killed at a random moment; the site is always one of the two, whole."""
    small_mold.write(root / "molds")
    small_site.configure(root, store)
    place = root / "site"
    run = partial(build_now, root / "mkdocs.yml")
    killer, known = Killer(seed), {}
    for name in ("one", "two"):
        small_mold.write(root / "molds", more=f"summary: Bar {name}\n")
        killer.timed(run)
        known[name] = sums(place)
    for turn in range(count):
        name = ("one", "two")[turn % 2]
        small_mold.write(root / "molds", more=f"summary: Bar {name}\n")
        for entry in (store / "pages").glob("[!.]*"):
            shutil.rmtree(entry)
        killer.strike(run)
        assert sums(place) in known.values(), "the site is neither the old one nor the new one"
        assert sound(store)
    run()
    assert sums(place) == known[name]
    assert sorted(path.name for path in root.iterdir()) == ["mkdocs.yml", "molds", "site", "site_src"]
    return killer


def release_now(mold: Path, store: Path) -> None:
    order = freeze.Order(notes="What changed.", date=DAY, texts=site_map.texts("en"))
    freeze.release(mold, order, material_tables.load(), Store(store))


def build_now(config: Path) -> None:
    plugin.build_site(config, None, lambda *_: None)


def tree(folder: Path) -> str:
    """The sums of everything but what a killed run left under a hidden name."""
    return "".join(line for line in sums(folder).splitlines(keepends=True) if ".part/" not in line)


def sound(store: Path) -> bool:
    """True when every entry of the store is whole."""
    return all(is_intact(entry) for entry in store.glob("*/[!.]*") if entry.is_dir())
