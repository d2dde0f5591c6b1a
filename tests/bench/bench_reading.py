"""Time and peak memory of a whole reading, against merely loading the same files.

`python -m tests.bench.bench_reading`; goals: 100k triangles within 3 s and 600 MB, 1M within 12 s and 2 GB.
Each step runs in a process of its own, so that its peak memory is its own.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

from manifold3d import Manifold

from builder import mesh
from builder.measure import measure
from builder.mesh.stl import triangles as corners_of
from builder.spec import mold_file
from tests.shapes_demo import reed_minnow
from tests.shapes_files import binary_stl, on_the_bed, triangles

SIZES = (17_000, 100_000, 1_000_000)
GOALS = {100_000: (3.0, 600), 1_000_000: (12.0, 2000)}
STEPS = ("parse", "load", "read")


def refined(solid: Manifold, count: int) -> Manifold:
    """The solid cut into about that many facets."""
    edge = 20.0
    while solid.refine_to_length(edge).num_tri() < count and solid.num_tri() < count:
        edge *= 0.9
    return solid.refine_to_length(edge) if solid.num_tri() < count else solid


def write_mold(folder: Path, count: int) -> None:
    """The demo minnow in so many triangles, as a mold's folder."""
    folder.mkdir()
    for name, part in zip("ab", on_the_bed(reed_minnow()), strict=True):
        (folder / f"{name}.stl").write_bytes(binary_stl(triangles(refined(part, count // 2))))
    (folder / "mold.yaml").write_text("title: Bench\nparts: [a.stl, b.stl]\ncavities: 2\nplastisol: medium\n")


def step(folder: Path, what: str) -> None:
    """One step in this process: prints triangles, seconds and megabytes."""
    made = mold_file.load(folder)
    start = time.perf_counter()
    contents = [part.path.read_bytes() for part in made.parts]
    count = sum((len(content) - 84) // 50 for content in contents)
    if what == "parse":
        for content in contents:
            corners_of(content, "bench.stl")
    else:
        solids = [mesh.read(content, "bench.stl", "mm") for content in contents]
        if what == "read":
            measure(made, solids)
    seconds = time.perf_counter() - start
    print(count, seconds, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)


def run(folder: Path, what: str) -> tuple[int, float, float]:
    """The step in a fresh process: triangles, seconds, peak megabytes."""
    command = [sys.executable, "-m", __spec__.name, "--step", what, "--folder", str(folder)]
    out = subprocess.run(command, check=True, capture_output=True, text=True).stdout.split()
    return int(out[0]), float(out[1]), float(out[2])


def main(arguments: Sequence[str] | None = None) -> None:
    """Print a row for each size."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--step", choices=STEPS)
    parser.add_argument("--folder", type=Path)
    parser.add_argument("--sizes", type=int, nargs="+", default=SIZES)
    chosen = parser.parse_args(arguments)
    if chosen.step:
        step(chosen.folder, chosen.step)
        return
    print("triangles   parse s   load s   read s   read/load   peak MB: load   read   goal")
    with TemporaryDirectory() as folder:
        for size in chosen.sizes:
            here = Path(folder) / f"bench-{size}"
            write_mold(here, size)
            count, parse_s, _ = run(here, "parse")
            _, load_s, load_mb = run(here, "load")
            _, read_s, read_mb = run(here, "read")
            goal = "{} s, {} MB".format(*GOALS[size]) if size in GOALS else ""
            figures = f"{count:9d} {parse_s:9.2f} {load_s:8.2f} {read_s:8.2f} {read_s / load_s:11.1f}"
            print(f"{figures} {load_mb:15.0f} {read_mb:6.0f}   {goal}", flush=True)


if __name__ == "__main__":
    main()
