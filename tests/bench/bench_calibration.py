"""How often the stated range of a bait's volume holds the volume of the shape that the maker drew.

`python -m tests.bench.bench_calibration`: each drawn bait is meshed coarser and coarser; its truth is the
same drawing at a chord of 0.005 mm. A range that holds all and is several times too wide is no use either,
so the table prints how much of its range each shape needs: the median should be near 1.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from functools import partial

import numpy as np
from manifold3d import Manifold

from builder import mesh
from builder.measure.features.records import faceting
from tests.cad_molds.baits import BAITS
from tests.cad_molds.by_hand import snake
from tests.cad_molds.hand_drawings import craw


def _drawn(name: str, chord: float) -> Manifold:
    """A bait of the catalogue."""
    return BAITS[name](chord).body


FISH = (
    (3, 0, 0, 3),
    (14, 0, 0, 6.5),
    (34, 0, 0, 6),
    (60, 0, 0, 2.6),
    (68, 0, 0, 1.5),
    (72, 0, 0, 1.5),
    (80, 0, 0, 4.6),
)
GRUB = ((4, 0, 0, 4), (12, 0, 0, 6), (30, 0, 0, 5.5), (38, 0, 0, 4.2))
SHAPES: dict[str, Callable[[float], Manifold]] = {
    **{name: partial(_drawn, name) for name in BAITS},
    "craw by hand": lambda chord: craw(chord)[0],
    "fish by hand": lambda chord: snake(FISH, chord),
    "grub by hand": lambda chord: snake(GRUB, chord),
}
"""Each bait of the catalogue and some that were drawn by hand, by the chord of its facets."""
FINE_MM = 0.005
CHORDS_MM = (0.02, 0.05, 0.1, 0.2, 0.5)


def needed(name: str, chords: Sequence[float]) -> list[tuple[float, float, float]]:
    """For each chord: the chord, the loss against the fine drawing, the stated range (both shares)."""
    truth = SHAPES[name](FINE_MM).volume()
    found = []
    for chord in chords:
        body = SHAPES[name](chord)
        stated, _ = faceting(mesh.solid(body, name))
        found.append((chord, abs(truth - body.volume()) / body.volume(), stated))
    return found


def main(arguments: Sequence[str] | None = None) -> None:
    """Print a row for each bait and chord, then how many ranges hold."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0] if __doc__ else None)
    parser.add_argument("--baits", nargs="+", default=list(SHAPES), help="which of the drawn baits")
    chosen = parser.parse_args(arguments)
    print(f"{'bait':22s} chord mm    lost   stated  lost/stated")
    shares = []
    for name in chosen.baits:
        for chord, lost, stated in needed(name, CHORDS_MM):
            shares.append(lost / stated)
            print(f"{name:22s} {chord:8.2f} {lost:7.2%} {stated:8.2%} {lost / stated:12.2f}", flush=True)
    held = float(np.mean(np.array(shares) <= 1.0))
    print(f"\n{len(shares)} meshes: {held:.1%} held; a shape needs {np.median(shares):.2f} of its range")


if __name__ == "__main__":
    main()
