"""How often the range that a page states holds the truth of the drawing, and how much of it was needed.

`python -m tests.bench.bench_ranges --kept FILE` reads every mold of `tests.random_molds` and
`tests.cad_molds` that FILE has no line of, adds a line to it for each, and prints the table; `--write`
keeps it in DEVELOPERS.md. Two processes read at once with `--part 1/2` and `--part 2/2`.

Truth is the same drawing with facets so fine that they no longer count: a range tells how far the shape
that the maker drew lies from what was read, and his mesh is but one picture of it. The baits of
`bench_calibration`, meshed alone, are counted as a generator of their own.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from builder.base import figures, serialize
from builder.model import Figure, Measurement, MoldSpec
from tests import random_molds
from tests.bench import bench_calibration
from tests.bench.truths import Known, Span, finer, of_drawn, of_random
from tests.cad_molds import by_hand
from tests.cad_molds.catalogue import BY_NAME
from tests.cad_molds.hand_drawings import DRAWINGS
from tests.cad_molds.molds import draw
from tests.cad_molds.reader_door import read_folder
from tests.cad_molds.run import attempt
from tests.shapes_random import random_case

TABLE = Path(__file__).parents[2] / "DEVELOPERS.md"
MARKS = ("<!-- ranges -->\n", "<!-- /ranges -->")
SEEDS = 206

FINE_MM, FINEST_MM = 0.01, 0.004
WIDE = 0.1
"""Where even nine in ten need less than this share of their range, it is told as far too wide."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One stated range and the truth."""

    generator: str
    mold: str
    quantity: str
    truth: Span
    value: float
    low: float
    high: float

    @property
    def used(self) -> float:
        """The share of its range that the value needs to reach the truth: above 1 the range does not hold."""
        nearest = min(max(self.value, self.truth[0]), self.truth[1])
        off = abs(nearest - self.value)
        half = self.high - self.value if nearest > self.value else self.value - self.low
        return 0.0 if off < 1e-9 else off / max(half, 1e-9)


# -- what is told --------------------------------------------------------------------------------------


def told(m: Measurement) -> dict[str, list[Figure]]:
    """The figures that pages show, by quantity; those of baits in order of the baits' volume."""
    its = figures.measured(m)
    order = sorted(range(len(m.baits)), key=lambda k: m.baits[k].volume_ml)
    of_bait = {
        "volume": "bait volume",
        "length": "bait length",
        "height": "bait height",
        "width": "bait width",
    }
    found = {name: [its[f"bait.{k}.{key}"] for k in order] for key, name in of_bait.items()}
    for key, name in (("thinnest.thickness", "thinnest trunk"), ("socket", "eye socket")):
        found[name] = [its[f"bait.{k}.{key}"] for k in order if f"bait.{k}.{key}" in its]
    found["sprue and runner"] = [its["waste"]] if "waste" in its else []
    found["sprue, runner and vents"] = [its["feed"]] if m.sprue else []
    things = (
        ("bolt.{}.hole", "bolt hole", len(m.bolts)),
        ("pin.{}.diameter", "pin", len(m.pins)),
        ("pin.{}.clearance", "play of a pin", len(m.pins)),
        ("vent.{}.depth", "vent depth", len(m.vents)),
    )
    for key, name, count in things:
        found[name] = [its[key.format(k)] for k in range(count) if key.format(k) in its]
    found["bolt hole"].sort(key=lambda one: one.value)
    found["mold size"] = sorted((its[f"size.{axis}"] for axis in "xyz"), key=lambda one: one.value)
    return found


def rows(generator: str, mold: str, known: Known, m: Measurement) -> list[Row]:
    """The stated ranges beside the truths, where as many things were read as were drawn."""
    return [
        Row(
            generator=generator,
            mold=mold,
            quantity=name,
            truth=(truth[0], truth[1]),
            value=figure.value,
            low=figure.low,
            high=figure.high,
        )
        for name, seen in told(m).items()
        if len(seen) == len(known.get(name, ()))
        for truth, figure in zip(known.get(name, ()), seen, strict=True)
    ]


# -- reading -------------------------------------------------------------------------------------------


class Keeping:
    """A reader that keeps what it read last."""

    last: Measurement | None = None

    def random(self, spec: MoldSpec, contents: Sequence[bytes]) -> Measurement:
        """The measurement of these files."""
        self.last = random_molds.read_now(spec, contents)
        return self.last

    def folder(self, folder: Path) -> Measurement:
        """The measurement of the mold in a folder."""
        self.last = read_folder(folder)
        return self.last


def read_random(seed: int) -> tuple[str, Known, Measurement | None]:
    """How a random mold came out, its truths, and what was read."""
    keeping = Keeping()
    kind = random_molds.outcome(random_case(seed), keeping.random).kind
    with finer():
        return kind, of_random(random_case(seed)), keeping.last


def read_drawn(name: str) -> tuple[str, Known, Measurement | None]:
    """How a mold of the catalogue, or one drawn by hand, came out, its truths, and what was read."""
    keeping = Keeping()
    if name in DRAWINGS:
        kind = attempt(by_hand.finished(name, DRAWINGS[name]), keeping.folder).kind
        with finer():
            case = by_hand.finished(name, DRAWINGS[name])
        return kind, of_drawn(case, case.truths), keeping.last
    recipe = BY_NAME[name]
    case = draw(recipe)
    kind = attempt(case, keeping.folder).kind
    chord = max(FINEST_MM, min(FINE_MM, recipe.chord / 4))
    truths = draw(replace(recipe, chord=chord)).truths
    return kind, of_drawn(case, truths, one_kind=" + " not in recipe.bait), keeping.last


def generator(mold: str) -> str:
    """Which generator drew a mold."""
    return "random" if mold.startswith("random-") else "drawn by hand" if mold in DRAWINGS else "catalogue"


def alone() -> Iterator[Row]:
    """Baits meshed alone, by their facets only."""
    for name in bench_calibration.SHAPES:
        for chord, lost, stated in bench_calibration.needed(name, bench_calibration.CHORDS_MM):
            yield Row(
                generator="baits alone",
                mold=f"{name} {chord}",
                quantity="bait volume",
                truth=(1.0 + lost, 1.0 + lost),
                value=1.0,
                low=1.0 - stated,
                high=1.0 + stated,
            )


def _in_turn() -> Iterator[str]:
    """Molds of all generators, so that half of them already tells of each."""
    kinds = (list(BY_NAME), list(DRAWINGS), [f"random-{seed}" for seed in range(SEEDS)])
    placed = [((k + 0.5) / len(kind), name) for kind in kinds for k, name in enumerate(kind)]
    return (name for _, name in sorted(placed))


MOLDS = tuple(_in_turn())


def read(mold: str) -> dict[str, object]:
    """What came of a mold, as a line of the kept file."""
    number = mold.removeprefix("random-")
    kind, known, measured = read_random(int(number)) if number != mold else read_drawn(mold)
    return {"mold": mold, "kind": kind, "known": known, "measured": serialize.to_json(measured)}


def kept_rows(lines: Sequence[str]) -> list[Row]:
    """The rows of a kept file: what was read is kept, so that a changed range is judged anew."""
    found = [json.loads(line) for line in lines]
    return [
        row
        for one in found
        if one["measured"] is not None
        for row in rows(
            generator(one["mold"]),
            one["mold"],
            one["known"],
            serialize.from_json(Measurement, one["measured"]),
        )
    ]


# -- table ---------------------------------------------------------------------------------------------


def counted(every: Sequence[Row]) -> list[dict[str, object]]:
    """A line for each generator and quantity: ranges, those that hold, shares that were needed."""
    groups: dict[tuple[str, str], list[Row]] = {}
    for row in every:
        groups.setdefault((row.generator, row.quantity), []).append(row)
    lines = []
    for (generator, quantity), mine in groups.items():
        used = np.array([row.used for row in mine])
        lines.append(
            {
                "generator": generator,
                "quantity": quantity,
                "ranges": len(mine),
                "held": int((used <= 1.0).sum()),
                "median": round(float(np.median(used)), 2),
                "nine_in_ten": round(float(np.quantile(used, 0.9)), 2),
                "worst": round(float(used.max()), 2),
            }
        )
    return lines


def printed(lines: Sequence[dict[str, object]]) -> str:
    """The table as text."""
    head = f"{'generator':14s} {'quantity':24s} ranges   held  median   90 %  worst"
    made = [head]
    for one in lines:
        wide = "  far too wide" if float(str(one["nine_in_ten"])) < WIDE else ""
        made.append(
            f"{one['generator']:14s} {one['quantity']:24s} {one['ranges']:6d} {one['held']:6d} "
            f"{one['median']:7.2f} {one['nine_in_ten']:6.2f} {one['worst']:6.2f}{wide}"
        )
    return "\n".join(made)


def written(lines: Sequence[dict[str, object]], every: Sequence[Row]) -> str:
    """The table in Markdown, with how many molds of each generator it holds."""
    molds = {
        one.generator: len({row.mold for row in every if row.generator == one.generator}) for one in every
    }
    names = [f"{name} ({count})" for name, count in molds.items()]
    head = "| drawn by | quantity | ranges | held | median | 90 % | worst |\n|---|---|--:|--:|--:|--:|--:|\n"
    rows = "".join(f"| {' | '.join(str(value) for value in one.values())} |\n" for one in lines)
    return f"\nMolds, or meshes of baits alone: {', '.join(names)}.\n\n{head}{rows}\n"


def main(arguments: Sequence[str] | None = None) -> None:
    """Read what is not kept yet, then print the table and every range that does not hold."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--kept", type=Path, required=True, help="where each mold's ranges are kept")
    parser.add_argument("--part", default="1/1", help="read only this part of the molds, as 1/2")
    parser.add_argument("--most", type=int, default=len(MOLDS), help="read so many at most")
    parser.add_argument("--write", action="store_true", help="keep the table")
    chosen = parser.parse_args(arguments)
    kept: Path = chosen.kept
    done = {json.loads(line)["mold"] for line in kept.read_text().splitlines()} if kept.exists() else set()
    part, parts = map(int, chosen.part.split("/"))
    for mold in [mold for mold in MOLDS[part - 1 :: parts] if mold not in done][: chosen.most]:
        one = read(mold)
        with kept.open("a") as file:
            file.write(json.dumps(one) + "\n")
        print(f"{mold}: {one['kind']}", flush=True)
    every = [*alone(), *kept_rows(kept.read_text().splitlines())]
    for row in every:
        if row.used > 1.0:
            print(
                f"{row.mold}: {row.quantity} {row.value:.4f} [{row.low:.4f}-{row.high:.4f}], true {row.truth}"
            )
    lines = counted(every)
    print(printed(lines))
    if chosen.write:
        before, _, rest = TABLE.read_text(encoding="utf-8").partition(MARKS[0])
        after = rest.partition(MARKS[1])[2]
        made = f"{before}{MARKS[0]}{written(lines, every)}{MARKS[1]}{after}"
        TABLE.write_text(made, encoding="utf-8")


if __name__ == "__main__":
    main()
