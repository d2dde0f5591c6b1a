"""Starting a mold whose core lies double against its cavities, beside the demo minnow in more triangles.

`python -m tests.bench.bench_tubes`: two tubes on one comb of two core pins, filed closed. Its sections cross
themselves by rounding where the comb touches the halves, and both tubes are as thin all along, so that many
waists are looked at. The goal is 10 s of the processor.
"""

from __future__ import annotations

import shutil
from itertools import pairwise
from pathlib import Path
from tempfile import TemporaryDirectory

from manifold3d import Manifold

from tests.bench import bench_reading
from tests.shapes import ball, box, rod, union
from tests.shapes_files import binary_stl, triangles

GOAL_S = 10.0
ROUNDS = 2
TUBES_MM = (-13.0, 13.0)
"""Where their axes lie."""
PIN_MM, WALL_MM = 4.2, 2.3
PROFILE = ((-30.0, 1.5), (-29.5, 3.0), (-26.0, 5.0), (-18.0, PIN_MM + WALL_MM), (25.0, PIN_MM + WALL_MM))
"""Where a tube is how thick (radius)."""
BOLTS = ((-42.0, 22.0), (27.0, 25.0), (-42.0, -22.0), (27.0, -25.0))


def parts() -> dict[str, Manifold]:
    """The halves and the comb, as the mold is shot."""
    pins = union(
        rod((-18.0, y, 0.0), (42.0, y, 0.0), PIN_MM) + ball((-18.0, y, 0.0), PIN_MM) for y in TUBES_MM
    )
    comb = pins + box((35.0, -22.0, -8.0), (50.0, 22.0, 8.0))
    tubes = union(
        rod((x, y, 0.0), (end, y, 0.0), radius, end_radius)
        for y in TUBES_MM
        for (x, radius), (end, end_radius) in pairwise(PROFILE)
    )
    feed = rod((-51.0, 0.0, 0.0), (-41.0, 0.0, 0.0), 4.0, 2.0) + union(
        rod((-42.0, 0.0, 0.0), (-29.6, y, 0.0), 1.5, 1.1) for y in TUBES_MM
    )
    bolts = union(rod((x, y, -15.0), (x, y, 15.0), 2.5) for x, y in BOLTS)
    block = box((-50.0, -30.0, -14.0), (50.0, 30.0, 14.0)) - union([tubes - pins, feed, bolts, comb])
    upper, lower = block.split_by_plane((0.0, 0.0, 1.0), 0.0)
    return {"a": lower, "b": upper, "comb": comb}


def write_tubes(folder: Path) -> int:
    """The mold's folder; how many triangles it has."""
    folder.mkdir()
    made = parts()
    for name, part in made.items():
        (folder / f"{name}.stl").write_bytes(binary_stl(triangles(part)))
    (folder / "mold.yaml").write_text(
        "title: Bench\nparts: [a.stl, b.stl, {file: comb.stl, role: core}]\ncavities: 2\nplastisol: medium\n"
    )
    return sum(part.num_tri() for part in made.values())


def started(folder: Path) -> tuple[int, float, float, str, float]:
    """The start of a mold that took the least processor time of some."""
    rows = []
    for _ in range(ROUNDS):
        rows.append(bench_reading.run(folder, "new"))
        shutil.rmtree(folder / "molds")
    return min(rows, key=lambda row: row[1])


def bench() -> None:
    """Print what either mold takes, and the ratios."""
    with TemporaryDirectory() as folder:
        tubes, plain = Path(folder) / "tubes", Path(folder) / "plain"
        bench_reading.write_mold(plain, write_tubes(tubes))
        took = {here.name: started(here) for here in (tubes, plain)}
    for name, (count, took_s, peak_mb, _, clock_s) in took.items():
        print(f"{name:6} {count:7d} triangles, new {took_s:5.1f} s ({clock_s:.1f}), {peak_mb:.0f} MB")
    tubes_s, plain_s = took["tubes"][1], took["plain"][1]
    print(f"tubes to plain {tubes_s / plain_s:.2f}, tubes to the goal {tubes_s / GOAL_S:.2f}")


if __name__ == "__main__":
    bench()
