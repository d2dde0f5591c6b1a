"""What a picture costs for about 20 000, 500 000 and a million triangles: CPU seconds and memory.

`python -m tests.bench.bench_pictures` prints one line a picture and one for the whole set. Each mold is
drawn in a process of its own, so that the peak of memory is its own.

`python -m tests.bench.bench_pictures rays` tells what fewer rays cost: how far the shade is off that of 100
rays a block, and the share of a pixel that the rays of an edge pixel tell off what an edge covers of it.
"""

from __future__ import annotations

import pickle
import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from builder.pictures import picture_set, social, viewer_data
from builder.pictures.render import light, refined
from builder.pictures.views import shapes
from tests.picture_mold import reading

T = TypeVar("T")
ROUND = {"20k": 84, "500k": 500, "1M": 740}
"""Facets round the bait for about so many triangles in parts and plastic together."""


def timed(make: Callable[[], T]) -> tuple[T, float]:
    """What was made, and the CPU seconds that it took."""
    start = time.process_time()
    made = make()
    return made, time.process_time() - start


def peak_mb() -> float:
    """Of this process since it began (Linux); getrusage would tell the parent's as well."""
    return int(re.findall(r"VmHWM:\s+(\d+) kB", Path("/proc/self/status").read_text())[0]) / 1000


def run(name: str) -> None:
    read = pickle.loads(Path(sys.argv[2]).read_bytes())
    solids = (*read.geometry.parts, *read.geometry.baits, read.geometry.runner, *read.geometry.vents)
    print(f"{name}: {sum(len(solid.faces) for solid in solids)} triangles")
    print(f"  {'before':12} {peak_mb():7.0f} MB")
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        ready, cost = timed(lambda: shapes.mold_shapes(read))
        total = cost
        print(f"  {'shapes':12} {cost:6.2f} s")
        for make in picture_set.MAKERS:
            view = make(ready)
            if view is not None:
                picture, cost = timed(lambda view=view: picture_set.drawn(view, folder))  # type: ignore[misc]
                sizes = [(folder / file).stat().st_size / 1000 for file in picture.files.values()]
                total += cost
                print(f"  {picture.name:12} {cost:6.2f} s {peak_mb():6.0f} MB {max(sizes):6.0f} kB")
        turn, cost = timed(lambda: viewer_data.write(ready, folder, "bench"))
        total += cost
        told = (
            f"{turn.size_bytes / 1000:.0f} kB, {turn.triangles} triangles, {turn.error_mm:.3f} mm"
            if turn
            else "-"
        )
        print(f"  {'look round':12} {cost:6.2f} s {told}")
        first = picture_set.MAKERS[0](ready)
        assert first is not None
        image = picture_set.rendered(first)
        _, cost = timed(lambda: social.social(ready, first, *image, folder))
        total += cost
        print(f"  {'social':12} {cost:6.2f} s")
        print(f"  {'whole set':12} {total:6.2f} s {peak_mb():6.0f} MB")


def rays() -> None:
    """Print the errors of the shade for some counts of rays, and those of edges for two patterns."""
    ready = shapes.mold_shapes(reading())
    views = [view for make in picture_set.MAKERS if (view := make(ready)) is not None]

    def shaded(count: int) -> list[NDArray[np.float64]]:
        vars(light)["SKY_RAYS"] = count
        return [np.asarray(picture_set.rendered(view)[0]).astype(np.float64) for view in views]

    usual = light.SKY_RAYS
    best = shaded(100)
    for count in (6, 9, usual, 16):
        drawn = zip(views, shaded(count), best, strict=True)
        off = {v.name: float(np.sqrt(((a - b)[a[..., 3] > 0] ** 2).mean())) for v, a, b in drawn}
        print(f"{count:3} rays a block, levels of 255:", *(f"{name} {one:.2f}" for name, one in off.items()))
    five = np.array(refined.SPOTS) / refined.FIFTHS
    third = (np.arange(3) - 1) / 3
    nine = np.stack(np.meshgrid(third, third), axis=-1).reshape(-1, 2)
    for name, spots in (("five", five), ("nine in a square", nine)):
        upright, any_way = edge_error(spots, np.zeros(1)), edge_error(spots, np.linspace(0, np.pi, 90))
        print(f"{name} rays: upright edges off by {upright:.3f} of a pixel, any edges {any_way:.3f}")


def edge_error(spots: NDArray[np.float64], turns: NDArray[np.float64]) -> float:
    """Root mean square of what rays at `spots` (n, 2) tell of edges at these angles, less the truth."""
    fine = (np.arange(64) + 0.5) / 64 - 0.5
    everywhere = np.stack(np.meshgrid(fine, fine), axis=-1).reshape(-1, 2)
    ways = np.stack([np.cos(turns), np.sin(turns)])
    places = np.linspace(-0.7, 0.7, 57)[:, None, None]
    told, true = (((some @ ways)[None] > places).mean(axis=1) for some in (spots, everywhere))
    return float(np.sqrt(((told - true) ** 2).mean()))


def main() -> None:
    with tempfile.TemporaryDirectory() as place:
        for name, around in ROUND.items():
            made = Path(place) / name
            made.write_bytes(pickle.dumps(reading(around=around)))
            subprocess.run([sys.executable, "-m", "tests.bench.bench_pictures", name, str(made)], check=True)


if __name__ == "__main__":
    if sys.argv[1:] == ["rays"]:
        rays()
    else:
        run(sys.argv[1]) if len(sys.argv) > 1 else main()
