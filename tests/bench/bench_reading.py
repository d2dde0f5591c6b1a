"""Seconds of processor and clock, and peak memory, of loading, reading and starting a mold.

`python -m tests.bench.bench_reading`; goals: `new` in 10 s up to 100k triangles, 1.5 GB at 1M of any kind.
Each step runs in a process of its own, start included, so that its peak memory is its own.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import resource
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from manifold3d import Manifold

from builder import mesh
from builder.base.problems import Faults
from builder.cli import main
from builder.measure import measure
from builder.spec import mold_file
from tests.shapes_demo import reed_minnow
from tests.shapes_files import binary_stl, on_the_bed

SIZES = (17_000, 100_000, 400_000, 1_000_000)
NOISES_MM = (0.0, 0.001, 0.02)
"""None; what is taken for rounding; what is refused as rough."""
STEPS = ("load", "read", "new")


def refined(solid: Manifold, count: int) -> Manifold:
    """The solid cut into about that many facets."""
    edge = 20.0
    while solid.refine_to_length(edge).num_tri() < count and solid.num_tri() < count:
        edge *= 0.9
    return solid.refine_to_length(edge) if solid.num_tri() < count else solid


def write_mold(folder: Path, count: int, noise_mm: float = 0.0) -> None:
    """The demo minnow in so many triangles, as a mold's folder; each vertex moved at random if noisy."""
    folder.mkdir()
    rng = np.random.default_rng(1)
    for name, part in zip("ab", on_the_bed(reed_minnow()), strict=True):
        drawn = mesh.solid(refined(part, count // 2), name)
        moved = drawn.vertices + rng.normal(0.0, noise_mm, drawn.vertices.shape)
        (folder / f"{name}.stl").write_bytes(binary_stl(moved[drawn.faces]))
    (folder / "mold.yaml").write_text("title: Bench\nparts: [a.stl, b.stl]\ncavities: 2\nplastisol: medium\n")


def step(folder: Path, what: str) -> None:
    """One step in this process: prints triangles, seconds of the processor, megabytes, what came of it."""
    made = mold_file.load(folder)
    count = sum((part.path.stat().st_size - 84) // 50 for part in made.parts)
    came = "read"
    try:
        if what == "new":
            with contextlib.redirect_stdout(io.StringIO()):
                main.main(
                    ["new", "bench", *(str(p.path) for p in made.parts), "--molds", str(folder / "molds")],
                    standalone_mode=False,
                )
        else:
            solids = [mesh.read(part.path.read_bytes(), part.file, "mm") for part in made.parts]
            if what == "read":
                measure(made, solids)
    except Faults as faults:
        came = faults.problems[0].what
    used = resource.getrusage(resource.RUSAGE_SELF)
    print(count, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024, came)


def run(folder: Path, what: str) -> tuple[int, float, float, str, float]:
    """The step in a fresh process: triangles, processor s, peak megabytes, what came of it, wall clock s."""
    begun = time.perf_counter()
    command = [sys.executable, "-m", __spec__.name, "--step", what, "--folder", str(folder)]
    out = subprocess.run(command, check=True, capture_output=True, text=True).stdout.split(maxsplit=3)
    return int(out[0]), float(out[1]), float(out[2]), out[3].strip(), time.perf_counter() - begun


def bench(arguments: Sequence[str] | None = None) -> None:
    """Print a row for each size and noise."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--step", choices=STEPS)
    parser.add_argument("--folder", type=Path)
    parser.add_argument("--sizes", type=int, nargs="+", default=SIZES)
    parser.add_argument("--noises", type=float, nargs="+", default=NOISES_MM)
    chosen = parser.parse_args(arguments)
    if chosen.step:
        step(chosen.folder, chosen.step)
        return
    print("noise mm  triangles  load s (clock)  read s (clock)  new s (clock)  MB: load  read    new   came")
    with TemporaryDirectory() as folder:
        for number, (noise, size) in enumerate((n, s) for n in chosen.noises for s in chosen.sizes):
            here = Path(folder) / f"bench-{number}"
            write_mold(here, size, noise)
            rows = [run(here, what) for what in STEPS]
            seconds = " ".join(f"{row[1]:6.1f} ({row[4]:5.1f})" for row in rows)
            peaks = " ".join(f"{row[2]:6.0f}" for row in rows)
            print(f"{noise:8.3f} {rows[0][0]:10d} {seconds}        {peaks}   {rows[1][3]}", flush=True)


if __name__ == "__main__":
    bench()
