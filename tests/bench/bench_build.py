"""The demo catalogue and one of many molds against bare MkDocs, one changed mold, and workers against one.

    python -m tests.bench.bench_build [MOLDS]

The many molds are copies of a demo mold; the store is filled for them by hand, so that nothing is drawn 200
times. Seconds are the fastest of three runs of whole commands (one run when cold), wall clock and processor.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import yaml
from mkdocs.config import load_config

from builder import build, stages
from builder.base import workers
from builder.base.contained import Checked
from builder.base.store import Store, canonical
from builder.model import Advice, Measurement, MoldRecord, Picture, Tables
from builder.site import batch, catalogue, site_map
from builder.site.place import Place
from builder.spec import material_tables
from tests import small_mold, small_site

ROOT = Path(__file__).parent.parent.parent
DEMO = ROOT / "molds" / "pond-stick"
OURS = "from builder import plugin; plugin.build_site('mkdocs.yml', None, lambda *_: None)"
BARE = "from mkdocs import config; from mkdocs.commands import build; build.build(config.load_config())"
ADDRESS = "https://example.org/"

Seconds = tuple[float, float]


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    with tempfile.TemporaryDirectory() as folder:
        demo_against_bare(Path(folder) / "demo")
        against_bare(Path(folder) / "many", count)
    on_workers()


def demo_against_bare(root: Path) -> None:
    """The demo catalogue from nothing and again, beside bare MkDocs on the same pages."""
    ours = root / "ours"
    ours.mkdir(parents=True)
    small_site.configure(ours, site_url=ADDRESS)
    shutil.copytree(ROOT / "molds", ours / "molds")
    cold = run(ours, OURS)
    compare(root, cold)


def against_bare(root: Path, count: int) -> None:
    """First and repeated build of so many molds, and one of them changed, beside bare MkDocs."""
    ours = root / "ours"
    ours.mkdir(parents=True)
    small_site.configure(ours, site_url=ADDRESS)
    store = Store(ours / ".shotbook")
    clones(ours / "molds", store, count)
    compare(root, run(ours, OURS))
    one_changed(ours / "molds", Store(store.folder))


def compare(root: Path, first: Seconds) -> None:
    """Print the first and the repeated build beside bare MkDocs on the same pages and files."""
    ours, plain = root / "ours", root / "bare"
    again = min(run(ours, OURS) for _ in range(3))
    pages = as_plain_project(plain, ours / "molds", Store(ours / ".shotbook"))
    bare = min(run(plain, BARE) for _ in range(3))
    print(f"{len(list((ours / 'molds').iterdir()))} molds, {pages} pages, seconds of wall clock / processor:")
    for name, seconds in (("bare MkDocs", bare), ("first build", first), ("repeated", again)):
        ratio = f"{seconds[0] / bare[0]:.2f} / {seconds[1] / bare[1]:.2f}"
        print(f"  {name:12} {seconds[0]:6.2f} / {seconds[1]:.2f}, ratio {ratio}", flush=True)


def clones(molds: Path, store: Store, count: int, demos: Sequence[Path] = (DEMO,)) -> None:
    """So many copies of the demo molds in turn, as if each had been read and drawn."""
    tables = material_tables.load()
    kept = [build.build_mold(demo, tables, Store(ROOT / ".shotbook")) for demo in demos]
    for number in range(count):
        folder, demo = molds / f"mold-{number:03}", demos[number % len(demos)]
        shutil.copytree(demo, folder, ignore=shutil.ignore_patterns("versions"))
        put(store, folder, tables, kept[number % len(demos)])


def put(store: Store, folder: Path, tables: Tables, kept: MoldRecord) -> None:
    """Keep the record's parts for another mold."""
    keys = build.load_draft(folder, tables).keys
    measured = replace(kept.measurement, slug=folder.name)

    def advised(place: Path) -> Advice:
        found = stages.deciding(stages.verdict_of(kept.advice))
        (place / stages.DECIDING).write_bytes(canonical(found))
        return kept.advice

    def drawn(place: Path) -> tuple[Picture, ...]:
        left = shutil.ignore_patterns("record.json", "SHA256SUMS")
        shutil.copytree(kept.assets, place, ignore=left, dirs_exist_ok=True)
        return kept.pictures

    store.keep("measure", keys.measure, Measurement, lambda _: measured)
    store.keep("advice", keys.advice, Advice, advised)
    store.keep("pictures", stages.pictures_key(keys, store), tuple[Picture, ...], drawn)


def as_plain_project(root: Path, molds: Path, store: Store) -> int:
    """The same pages and files as a project of MkDocs alone; how many pages."""
    root.mkdir()
    file = small_site.configure(root, site_url=ADDRESS, strict=False)
    config = yaml.safe_load(file.read_text(encoding="utf-8"))
    config |= {"plugins": []}
    file.write_text(yaml.safe_dump(config), encoding="utf-8")
    config["extra"] = {"shotbook": site_map.shell("en", load_config(str(file)).theme.dirs)}
    file.write_text(yaml.safe_dump(config), encoding="utf-8")
    generated = site_map.generate(
        catalogue.build_all(molds, store), "en", Place(root=ADDRESS), config["site_name"]
    )
    for uri, thing in generated.items():
        place = root / "site_src" / uri
        place.parent.mkdir(parents=True, exist_ok=True)
        if isinstance(thing, Checked):
            thing.copy_to(place)
        else:
            place.write_bytes(thing.read_bytes() if isinstance(thing, Path) else thing.encode())
    return sum(uri.endswith(".md") for uri in generated)


def one_changed(molds: Path, store: Store) -> None:
    """What is read and drawn again when one mold of all changes."""
    changed = sorted(molds.iterdir())[7]
    shutil.rmtree(changed)
    small_mold.write(molds, changed.name)
    told: list[str] = []
    batch.build_molds(molds, material_tables.load(), store, lambda _done, _total, slug: told.append(slug))
    print(f"  one changed: read {told}, made {dict(store.misses)}")


def on_workers() -> None:
    """Eight small molds, read and drawn on one and two processes and on a local cluster."""
    tables = material_tables.load()
    seconds: dict[str, float] = {}
    made: dict[str, dict[str, bytes]] = {}
    with tempfile.TemporaryDirectory() as folder, local_cluster() as cluster:
        molds = Path(folder) / "molds"
        for number in range(8):
            small_mold.write(molds, f"bar-{number}", depth=6.0 + number / 4)
        places = {"1 worker": workers.on_cores(1), "2 workers": workers.on_cores(2)}
        if cluster:
            places["a local Dask cluster of 2"] = workers.on_cluster(cluster)
        for name, engine in places.items():
            store = Store(Path(folder) / name)
            start = time.monotonic()
            batch.build_molds(molds, tables, store, engine=engine)
            seconds[name], made[name] = time.monotonic() - start, store.files()
    print("8 molds read and drawn on:")
    for name, took in seconds.items():
        bytes_told = "same bytes" if made[name] == made["1 worker"] else "OTHER BYTES"
        print(f"  {name}: {took:.1f} s, {seconds['1 worker'] / took:.2f} x, {bytes_told}")


def run(folder: Path, code: str) -> Seconds:
    """Wall clock and processor seconds of a Python command in the folder."""
    env = {**os.environ, "NO_MKDOCS_2_WARNING": "1", "PYTHONPATH": str(ROOT)}
    start, before = time.monotonic(), os.times()
    subprocess.run([sys.executable, "-c", code], cwd=folder, env=env, check=True)
    after = os.times()
    used = after.children_user + after.children_system - before.children_user - before.children_system
    return time.monotonic() - start, used


@contextmanager
def local_cluster() -> Iterator[str]:
    """The address of a Dask cluster on this machine; empty without the cluster extra."""
    try:
        from distributed import LocalCluster
    except ImportError:
        yield ""
        return
    with LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None, host="127.0.0.1") as cluster:
        yield cluster.scheduler_address


if __name__ == "__main__":
    main()
