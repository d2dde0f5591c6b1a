"""Growth: building catalogues of many molds beside bare MkDocs, and workers against one.

    python -m tests.bench.bench_build [--versions COUNT] [MOLDS ...]

The molds are copies of the demo molds in turn, as if each had been read and drawn; what that costs is told by
bench_reading and bench_pictures. Bare MkDocs builds the same pages and files, with the same theme.
Each row is one whole command: seconds of wall clock and of processor time, the peak memory of its first
process and of its largest worker, and its ratio to bare MkDocs. With versions, each mold is a copy of the
demo mold that has some, and has so many. An exponent of 1 means that ten times the molds take ten times as
long.
"""

from __future__ import annotations

import argparse
import math
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import yaml
from mkdocs.config import load_config

from builder import build, stages
from builder.base import workers
from builder.base.store import RECORD, SEAL, SUMS, Store, sha256
from builder.model import Tables
from builder.site import batch, catalogue, offline, site_map
from builder.site.place import Place
from builder.spec import material_tables
from tests import small_mold, small_site
from tests.bench import versions_by_hand

ROOT = Path(__file__).parent.parent.parent
RELEASED = ROOT / "molds" / "reed-minnow" / "versions" / "2"
DEMOS = sorted(file.parent for file in (ROOT / "molds").glob("*/mold.yaml"))
OURS = "from builder import plugin; plugin.build_site('mkdocs.yml', None, lambda *_: None)"
BARE = "from mkdocs import config; from mkdocs.commands import build; build.build(config.load_config())"
PEAK = (
    "import resource as r; told = open('/proc/self/status').readlines();"
    "peak = next(line.split()[1] for line in told if 'VmHWM' in line);"
    "print(peak, r.getrusage(r.RUSAGE_CHILDREN).ru_maxrss)"
)
"""What Linux says of the most memory that a process held, and the largest of its own, in kB."""
ADDRESS = "https://example.org/"
COUNTS = (10, 100)
STAGES = ("measure", "advice", "pictures", "cards")


@dataclass(frozen=True, slots=True, kw_only=True)
class Took:
    """What a command took."""

    wall_s: float
    cpu_s: float
    peak_mb: float
    worker_mb: float


def main() -> None:
    asked = argparse.ArgumentParser()
    asked.add_argument("--versions", type=int, default=0)
    asked.add_argument("molds", type=int, nargs="*", default=COUNTS)
    counts, versions = (told := asked.parse_args()).molds, told.versions
    grown: list[dict[str, Took]] = []
    for count in counts:
        with tempfile.TemporaryDirectory() as folder:
            grown.append(growth(Path(folder), count, versions))
    for (few, before), (many, after) in pairwise(zip(counts, grown, strict=True)):
        print(f"from {few} to {many} molds, exponents of processor time and of memory:")
        for name in after:
            cpu = exponent(before[name].cpu_s, after[name].cpu_s, few, many)
            print(
                f"  {name:24} {cpu:.2f} {exponent(before[name].peak_mb, after[name].peak_mb, few, many):.2f}"
            )
    if tuple(counts) == COUNTS and not versions:
        on_workers()


def exponent(before: float, after: float, few: int, many: int) -> float:
    """How steeply it grows: the slope between two points of a plot with logarithmic axes."""
    return math.log(after / before) / math.log(many / few)


def growth(root: Path, count: int, versions: int = 0) -> dict[str, Took]:
    """Print and return what each kind of build of so many molds takes."""
    ours = root / "ours"
    ours.mkdir(parents=True)
    settings = small_site.configure(ours, site_url=ADDRESS)
    said = settings.read_text(encoding="utf-8")
    settings.write_text(said.replace("workers: 1", "workers: 0"), encoding="utf-8")  # all cores, as usual
    store = Store(ours / ".shotbook")
    clones(ours / "molds", store, count, DEMOS if not versions else [RELEASED.parent.parent])
    for folder in (ours / "molds").iterdir() if versions else ():
        versions_by_hand.give(folder, RELEASED, versions, material_tables.load())
    took = {"every page written once": run(ours, OURS)}
    took["nothing changed"] = fastest(ours, OURS)
    pages = as_plain_project(root / "bare", ours / "molds", Store(store.folder))
    bare = fastest(root / "bare", BARE)
    changed = sorted((ours / "molds").iterdir())[count // 2] / "mold.yaml"
    told = changed.read_text(encoding="utf-8").replace("\nsummary: ", "\nsummary: Another one. ")
    changed.write_text(told, encoding="utf-8")
    took["one summary changed"] = run(ours, OURS)
    shutil.rmtree(changed.parent)
    small_mold.write(ours / "molds", changed.parent.name)
    took["one mold is another one"] = run(ours, OURS)
    site, kept = (
        sum(file.stat().st_size for file in (ours / name).rglob("*") if file.is_file()) / 1e6
        for name in ("site", ".shotbook")
    )
    print(
        f"{count} molds of {versions} versions, {pages} pages, {site:.0f} MB of site, {kept:.0f} MB of store:"
    )
    for name, one in {"bare MkDocs": bare, **took}.items():
        ratio = f"{one.wall_s / bare.wall_s:.2f} / {one.cpu_s / bare.cpu_s:.2f}"
        print(
            f"  {name:24} {one.wall_s:7.2f} / {one.cpu_s:.2f} s, {one.peak_mb:.0f} + {one.worker_mb:.0f} MB, "
            f"ratio {ratio}",
            flush=True,
        )
    return {"bare MkDocs": bare, **took}


def fastest(folder: Path, code: str) -> Took:
    """The one of three runs that took the least processor time."""
    return min((run(folder, code) for _ in range(3)), key=lambda one: one.cpu_s)


def clones(molds: Path, store: Store, count: int, demos: Sequence[Path] = DEMOS) -> None:
    """So many copies of the demo molds in turn, as if each had been read and drawn."""
    tables, theirs = material_tables.load(), Store(ROOT / ".shotbook")
    kept = [results(demo, tables, theirs) for demo in demos]
    for number in range(count):
        folder, demo = molds / f"mold-{number:04}", demos[number % len(demos)]
        shutil.copytree(demo, folder, ignore=shutil.ignore_patterns("versions"))
        keys = build.load_draft(folder, tables, store=store).keys
        slug = folder.name.encode(), demo.name.encode()
        found = kept[number % len(demos)]
        for stage in STAGES[:2]:
            store.take(renamed(found[stage], f"{stage}/{getattr(keys, stage)}", *slug))
        store.take(renamed(found["pictures"], f"pictures/{stages.pictures_key(keys, store)}", *slug))
        title = yaml.safe_load((folder / "mold.yaml").read_text(encoding="utf-8"))["title"]
        store.take(renamed(found["cards"], f"cards/{build.card_key(title, keys, store)}", *slug))


def results(demo: Path, tables: Tables, store: Store) -> dict[str, dict[str, bytes]]:
    """The files of each stage of a demo mold, by name in its entry."""
    record = build.build_mold(demo, tables, store)
    keys = build.load_draft(demo, tables, store=store).keys
    places = {
        "measure": store.place("measure", keys.measure),
        "advice": store.place("advice", keys.advice),
        "pictures": record.assets,
        "cards": record.card_assets,
    }
    return {
        stage: {file.name: file.read_bytes() for file in place.iterdir() if file.name not in (SUMS, SEAL)}
        for stage, place in places.items()
    }


def renamed(files: dict[str, bytes], entry: str, slug: bytes, old: bytes) -> dict[str, bytes]:
    """The files as an entry of a store, its record naming another mold."""
    told = {**files, RECORD: files[RECORD].replace(b'"' + old + b'"', b'"' + slug + b'"')}
    sums = "".join(f"{sha256(told[name])}  {name}\n" for name in sorted(told)).encode()
    return {f"{entry}/{name}": data for name, data in {**told, SUMS: sums}.items()}


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
        offline.written(thing, place)
    return sum(uri.endswith(".md") for uri in generated)


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


def run(folder: Path, code: str) -> Took:
    """What a Python command takes in the folder, its own processes with it."""
    env = {**os.environ, "NO_MKDOCS_2_WARNING": "1", "PYTHONPATH": str(ROOT)}
    start = time.monotonic()
    before = os.times()
    done = subprocess.run(
        [sys.executable, "-c", f"{code}\n{PEAK}"], cwd=folder, env=env, check=True, stdout=subprocess.PIPE
    )
    wall_s, after = time.monotonic() - start, os.times()
    cpu_s = sum(after[2:4]) - sum(before[2:4])
    peak_mb, worker_mb = (int(word) / 1024 for word in done.stdout.split()[-2:])
    return Took(wall_s=wall_s, cpu_s=cpu_s, peak_mb=peak_mb, worker_mb=worker_mb)


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
