"""A whole mold from its files, cold: seconds of the processor to read, advise, draw and keep it.

    python -m tests.bench.bench_mold             the demo molds and one of 100 000 triangles
    python -m tests.bench.bench_mold --many 150  so many unlike molds on all cores: wall clock and memory,
                                                 each as a ratio to what it was or may be

Each mold runs in a process of its own on one thread. Two more figures put its seconds in relation: loading
its STL files with trimesh, and a plain render, which casts one ray through each pixel of each picture with
embreex and shades nothing.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import resource
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import trimesh
from numpy.typing import NDArray

from builder import build, pictures
from builder.advice import advise
from builder.base import workers
from builder.base.store import Store
from builder.pictures import picture_set
from builder.pictures.render import rays
from builder.pictures.render.camera import Camera
from builder.pictures.render.scene import Scene, cast
from builder.site import batch
from builder.spec import material_tables, mold_file
from builder.stages import vectors
from tests.bench import bench_reading
from tests.shapes_files import binary_stl

MOLDS = Path(__file__).parent.parent.parent / "molds"
LARGE = 100_000
STAGES: tuple[tuple[Any, str], ...] = ((build, "read"), (advise, "advise"), (pictures, "draw"))
SCALES = (0.92, 1.12)
"""Unlike molds are demo molds of a size between these, each of another."""
OTHER = "keep"
TESTED = ("measure", "advice", "pictures")
"""Stages with a test vector, which a store works out once for each set of libraries: told apart here."""
BEFORE_S = 38 * 60 / 150
"""A mold of a first build on one core before all this work."""
ALLOWED_MB = 1500
LOOKED_S = 0.2
"""Memory is looked at so often."""


def timed(owner: object, name: str, seconds: dict[str, float]) -> None:
    """Count the processor's seconds that a function takes from now on."""
    made = getattr(owner, name)

    def counted(*given: Any, **named: Any) -> Any:  # noqa: ANN401 - as the function that it stands for
        start = time.process_time()
        try:
            return made(*given, **named)
        finally:
            seconds[name] = seconds.get(name, 0.0) + time.process_time() - start

    setattr(owner, name, counted)


def whole(folder: Path) -> None:
    """Print a row for one mold, built into an empty store in this process."""
    seconds: dict[str, float] = {}
    views: list[tuple[Scene, Camera]] = []
    tested = cost_once(lambda: [vectors.vector(stage) for stage in TESTED])
    for owner, name in STAGES:
        timed(owner, name, seconds)
    keep_views(views)
    tables = material_tables.load()
    with tempfile.TemporaryDirectory() as place:
        start = time.process_time()
        build.build_mold(folder, tables, Store(Path(place)))
        total = time.process_time() - start
    seconds[OTHER] = total - sum(seconds.values())
    files = [part.path for part in mold_file.load(folder, tables).parts]
    load = cost(lambda: [trimesh.load_mesh(file) for file in files])
    plain = sum(cost(lambda view=view: plain_render(*view)) for view in views)  # type: ignore[misc]
    count = sum((file.stat().st_size - 84) // 50 for file in files)
    stages = " ".join(f"{name} {seconds[name]:5.2f}" for name in (*(name for _, name in STAGES), OTHER))
    print(
        f"{folder.name:18} {count:7} triangles  whole {total:5.2f} s = {stages}  "
        f"load {load:.3f} s, whole {total / load:4.0f} x  "
        f"plain render {plain:.2f} s, drawing {seconds['draw'] / plain:.1f} x, whole {total / plain:.1f} x  "
        f"(test vectors {tested:.1f} s once)",
        flush=True,
    )


def cost_once(make: Callable[[], object]) -> float:
    """Seconds of the processor."""
    start = time.process_time()
    make()
    return time.process_time() - start


def cost(make: Callable[[], object]) -> float:
    """Seconds of the processor, the least of two."""
    spent = []
    for _ in range(2):
        spent.append(cost_once(make))
    return min(spent)


def keep_views(views: list[tuple[Scene, Camera]]) -> None:
    """Keep the scene and the camera of each picture that is drawn from now on."""
    drawn = vars(picture_set)["render"]

    def kept(scene: Scene, camera: Camera, margins_px: tuple[int, int, int, int]) -> NDArray[np.uint8]:
        views.append((scene, camera))
        return np.asarray(drawn(scene, camera, margins_px))

    vars(picture_set)["render"] = kept


def plain_render(scene: Scene, camera: Camera) -> None:
    """Build the ray library's scene and cast one ray through each pixel."""
    rays.caster(scene.vertices.astype(np.float32), scene.faces)
    across = np.arange(camera.width_px, dtype=np.float32) + np.float32(0.5)
    step = max(1, (1 << 14) // camera.width_px)
    for top in range(0, camera.height_px, step):
        down = np.arange(top, min(top + step, camera.height_px), dtype=np.float32) + np.float32(0.5)
        cast(scene, camera, np.tile(across, len(down)), np.repeat(down, len(across)))


def many(count: int) -> None:
    """Read and draw so many unlike molds on all cores, cold; print wall clock, processor and memory."""
    tables = material_tables.load()
    with tempfile.TemporaryDirectory() as place:
        molds = Path(place) / "molds"
        for number in range(count):
            unlike(molds / f"mold-{number:03}", number, count)
        engine = workers.choose()
        start = time.monotonic()
        with Peak() as peak:
            batch.build_molds(molds, tables, Store(Path(place) / "store"), engine=engine)
        wall = time.monotonic() - start
    child, own = (resource.getrusage(who) for who in (resource.RUSAGE_CHILDREN, resource.RUSAGE_SELF))
    used = child.ru_utime + child.ru_stime + own.ru_utime + own.ru_stime
    each, busy, most = wall / count, used / count, peak.most_mb
    print(f"{count} unlike molds on {engine.count} workers: {wall:.0f} s, {each:.2f} s a mold,", end=" ")
    print(f"{BEFORE_S / each:.1f} x as fast as before; {busy:.2f} s of the processor a mold,", end=" ")
    print(f"{BEFORE_S / busy:.1f} x; {most:.0f} MB in all, {most / ALLOWED_MB:.2f} x what may be")


class Peak:
    """The most memory (MB) that this process and all that it started held at one time, while it is open."""

    def __init__(self) -> None:
        """Nothing is looked at yet."""
        self.most_mb = 0.0
        self._done = threading.Event()
        self._looking = threading.Thread(target=self._look, daemon=True)

    def __enter__(self) -> Peak:
        """Begin to look."""
        self._looking.start()
        return self

    def __exit__(self, *_: object) -> None:
        """Stop."""
        self._done.set()
        self._looking.join()

    def _look(self) -> None:
        while not self._done.wait(LOOKED_S):
            self.most_mb = max(self.most_mb, sum(map(held_mb, family(os.getpid()))))


def family(parent: int) -> Iterator[int]:
    """A process and all that it started (Linux)."""
    yield parent
    with contextlib.suppress(OSError):
        for task in Path(f"/proc/{parent}/task").iterdir():
            for child in (task / "children").read_text().split():
                yield from family(int(child))


def held_mb(process: int) -> float:
    """Memory of a process (MB), what it shares with others counted in part (Linux)."""
    with contextlib.suppress(OSError):
        lines = Path(f"/proc/{process}/smaps_rollup").read_text().splitlines()
        return sum(int(line.split()[1]) for line in lines if line.startswith("Pss:")) / 1000
    return 0.0


def unlike(folder: Path, number: int, count: int) -> None:
    """A demo mold of another size, without its versions."""
    demos = sorted(path for path in MOLDS.iterdir() if path.is_dir())
    demo = demos[number % len(demos)]
    shutil.copytree(demo, folder, ignore=shutil.ignore_patterns("versions"))
    low, high = SCALES
    for file in folder.glob("*.stl"):
        drawn = trimesh.load_mesh(file)
        file.write_bytes(binary_stl(np.asarray(drawn.triangles) * (low + (high - low) * number / count)))
    (folder / "mold.yaml").write_text("\n".join(shortest(folder, number)), encoding="utf-8")


def shortest(folder: Path, number: int) -> Iterator[str]:
    """The lines of a spec that says only what a reading needs."""
    spec = mold_file.load(folder)
    yield f"title: Bench {number}"
    yield f"kind: {spec.kind}"
    yield f"units: {spec.units}"
    yield f"parts: [{', '.join(part.file for part in spec.parts)}]"
    yield f"cavities: {spec.cavities}"
    yield f"plastisol: {spec.plastisol}"
    yield f"mold_material: {spec.mold_material}"


def bench(arguments: Sequence[str] | None = None) -> None:
    """Print a row for each mold, each from a process of its own."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--mold", type=Path)
    parser.add_argument("--many", type=int)
    given = parser.parse_args(arguments)
    if given.mold:
        whole(given.mold)
    elif given.many:
        many(given.many)
    else:
        with tempfile.TemporaryDirectory() as place:
            large = Path(place) / "100k"
            bench_reading.write_mold(large, LARGE)
            demos = sorted(path for path in MOLDS.iterdir() if path.is_dir())
            for folder in (*demos, large):
                command = [sys.executable, "-m", "tests.bench.bench_mold", "--mold", str(folder)]
                subprocess.run(command, check=True, env={**os.environ, "OMP_NUM_THREADS": "1"})


if __name__ == "__main__":
    bench()
