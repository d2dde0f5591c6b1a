"""How often the stated range of a bait's volume holds the volume of the shape that the maker drew.

`python -m tests.bench.bench_calibration`: each drawn bait is meshed coarser and coarser; its truth is the
same drawing at a chord of 0.005 mm. A range that holds all and is several times too wide is no use either,
so the table prints how much of its range each shape needs: the median should be near 1.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence

import numpy as np

from builder import mesh
from builder.measure.features.records import faceting
from tests.cad_molds.baits import BAITS

FINE_MM = 0.005
CHORDS_MM = (0.02, 0.05, 0.1, 0.2, 0.5)


def needed(name: str, chords: Sequence[float]) -> list[tuple[float, float, float]]:
    """For each chord: the chord, the loss against the fine drawing, the stated range (both shares)."""
    truth = BAITS[name](FINE_MM).body.volume()
    found = []
    for chord in chords:
        body = BAITS[name](chord).body
        stated, _ = faceting(mesh.solid(body, name))
        found.append((chord, abs(truth - body.volume()) / body.volume(), stated))
    return found


def main(arguments: Sequence[str] | None = None) -> None:
    """Print a row for each bait and chord, then how many ranges hold."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0] if __doc__ else None)
    parser.add_argument("--baits", nargs="+", default=list(BAITS), help="which of the drawn baits")
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
