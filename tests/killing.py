"""Runs killed at a random moment, and what must hold afterwards."""

from __future__ import annotations

import multiprocessing
import os
import random
import shutil
import signal
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from functools import partial
from operator import itemgetter
from pathlib import Path

from builder import plugin
from builder.base.store import Store, is_intact, sums
from builder.release import freeze
from builder.site import site_map
from builder.spec import material_tables, versions
from builder.spec import releases as on_record
from tests import (
    coarse,  # noqa: F401 - processes that are forked from this module draw coarsely too
    small_mold,
    small_site,
)

DAY = "2026-03-01"


def killed(work: Callable[[], None], after_s: float) -> bool:
    """Run `work` in a process of its own and kill -9 it after so long; False when it was done before."""
    return all_killed((work, after_s)) == 1


def all_killed(*works: tuple[Callable[[], None], float]) -> int:
    """Run each work in a process of its own, all at once, and kill -9 each after its time; how many were.

    The processes are forked from one that has imported everything, so that the time is the work's own.
    None of them may leave a process behind.
    """
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["tests.killing"])
    warm = context.Process(target=int)
    warm.start()
    warm.join()
    before, start = family(), time.monotonic()
    processes = [context.Process(target=work) for work, _ in works]
    for process in processes:
        process.start()
    moments = [after_s for _, after_s in works]
    for after_s, process in sorted(zip(moments, processes, strict=True), key=itemgetter(0)):
        process.join(max(start + after_s - time.monotonic(), 0.0))
        process.kill()
    for process in processes:
        process.join()
        assert process.exitcode in (0, -signal.SIGKILL), f"it failed by itself: {process.exitcode}"
    end = time.monotonic() + 10
    while left := family() - before:
        assert time.monotonic() < end, f"processes are left: {left}"
        time.sleep(0.02)
    return sum(process.exitcode != 0 for process in processes)


def family() -> set[int]:
    """The processes that this one has started, and those that they have; a word that they inherit tells."""
    word = f"SHOTBOOK_KILLS={os.environ.setdefault('SHOTBOOK_KILLS', str(os.getpid()))}".encode()
    found = set()
    for about in Path("/proc").glob("[0-9]*/environ"):
        with suppress(OSError):
            if word in about.read_bytes().split(b"\0"):
                found.add(int(about.parent.name))
    return found


def command(pid: int) -> str:
    """The command that a process was started with; none when it is gone."""
    with suppress(OSError):
        return Path(f"/proc/{pid}/cmdline").read_bytes().replace(b"\0", b" ").decode()
    return ""


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
    mold = drafted(root, store)
    run = partial(release_now, mold, store)
    before = sums(mold)
    killer = Killer(seed)
    killer.timed(run)
    after, cold_s = sums(mold), killer.whole_run_s

    def reset(*, cold: bool) -> None:
        start_again(root)
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
        assert_whole(mold, store)
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


def drafted(root: Path, store: Path) -> Path:
    """A mold with version 1 released and version 2 drawn; `start_again` comes back to it."""
    mold = small_mold.write(root / "molds")
    release_now(mold, store)
    small_mold.write(root / "molds", depth=7.0, version="2")
    shutil.copytree(root / "molds", root / "before")
    return mold


def start_again(root: Path) -> None:
    shutil.rmtree(root / "molds")
    shutil.copytree(root / "before", root / "molds")


def assert_whole(mold: Path, store: Path) -> None:
    """Verify is clean, the record of releases misses nothing, and every entry of the store is whole."""
    assert versions.verify(mold) == ()
    assert list(on_record.removed(mold.parent, on_record.load(mold.parent))) == []
    assert sound(store)


def withdrawals(root: Path, store: Path, count: int, seed: int) -> Killer:
    """Withdraw version 1 of a mold `count` times from the same start, each time killed at a random moment."""
    mold = drafted(root, store)
    before = sums(mold)
    run = partial(withdraw_now, mold)
    killer = Killer(seed)
    killer.timed(run)
    after = sums(mold)
    for _ in range(count):
        killer.strike(run, partial(start_again, root))
        assert tree(mold) in (before, after), "the tree is neither the one before nor the one after"
        assert_whole(mold, store)
        if tree(mold) == before:
            run()
        assert_recorded(mold)
        assert tree(mold) == after
    return killer


def assert_recorded(mold: Path) -> None:
    """What a killed run did without putting it on record can be put there."""
    on_record.record(mold.parent, mold)
    assert on_record.unrecorded(mold.parent, mold, on_record.load(mold.parent)) == ()
    assert list(on_record.removed(mold.parent, on_record.load(mold.parent))) == []


def pairs(root: Path, store: Path, count: int, seed: int, cold_every: int = 1) -> Killer:
    """Two of build, release and withdraw at once, killed at random moments, until `count` were killed.

    Pages are made anew each time; pictures and measurements each `cold_every`th time.
    """
    mold, config = drafted(root, store), small_site.configure(root, store)
    text = config.read_text(encoding="utf-8").replace("molds: molds", "molds: molds\n    workers: 2")
    config.write_text(text, encoding="utf-8")
    runs = {
        "build": partial(build_now, config),
        "release": partial(release_now, mold, store),
        "withdraw": partial(withdraw_now, mold),
    }
    killer, trees, sites, times = Killer(seed), set(), set(), {}
    for order in ((), ("release",), ("withdraw",), ("release", "withdraw"), ("withdraw", "release")):
        start_again(root)
        for name in (*order, "build"):
            killer.timed(runs[name])
            times[name] = killer.whole_run_s
        trees.add(tree(mold))
        sites.add(sums(root / "site"))
    turn = 0
    while killer.kills < count:
        start_again(root)
        turn += 1
        for stage in ("pages", *(("pictures", "measure") if turn % cold_every == 0 else ())):
            shutil.rmtree(store / stage, ignore_errors=True)
        both = [killer.rng.choice(tuple(runs)) for _ in range(2)]
        works = [(runs[name], killer.rng.uniform(0, 1.5 * times[name])) for name in both]
        if both in (["withdraw", "withdraw"], ["release", "release"]):
            continue  # the second of them is refused, and says so
        killer.kills += all_killed(*works)
        assert tree(mold) in trees, f"{both}: the tree is none of those that whole runs leave"
        assert sums(root / "site") in sites, f"{both}: the site is none of those that whole runs leave"
        assert_whole(mold, store)
        assert_recorded(mold)
        runs["build"]()
        assert sums(root / "site") in sites
    litter = {path.name for path in root.iterdir()} - {"mkdocs.yml", "molds", "site", "site_src", "before"}
    assert litter == set()
    return killer


def withdraw_now(mold: Path) -> None:
    freeze.withdraw(mold, "1", "Opens under pressure.", DAY)


def release_now(mold: Path, store: Path) -> None:
    order = freeze.Order(notes="What changed.", date=DAY, texts=site_map.texts("en"))
    freeze.release(mold, order, material_tables.load(), Store(store))


def build_now(config: Path) -> None:
    plugin.build_site(config, None, lambda *_: None)


def tree(folder: Path) -> str:
    """The sums of everything but what a killed run left under a hidden name."""
    return "".join(line for line in sums(folder).splitlines(keepends=True) if ".part/" not in line)


def sound(store: Path) -> bool:
    """True when every entry of the store is whole; what `check` draws of open edges beside them is none."""
    entries = (
        entry for entry in store.glob("*/[!.]*") if entry.is_dir() and entry.parent.name != "open-edges"
    )
    return all(map(is_intact, entries))
