"""The most memory that a hostile mold takes, each in a process of its own: told as read or refused, MB and s.

python -m tests.bench.bench_memory [PART OF A NAME]
"""

from __future__ import annotations

import io
import multiprocessing
import resource
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from multiprocessing.connection import Connection
from pathlib import Path

import numpy as np
from PIL import Image

from builder import build, pictures, stages
from builder.base.problems import Faults
from builder.spec import material_tables
from tests import small_mold
from tests.shapes_demo import stl_files
from tests.shapes_files import binary_stl
from tests.test_versions import draft

STICK = "cavities: 1\nplastisol: soft\nunits: inch\n"


def written(folder: Path, keys: str, files: dict[str, bytes]) -> None:
    folder.mkdir(parents=True)
    for name, data in files.items():
        (folder / name).write_bytes(data)
    (folder / "mold.yaml").write_text(f"title: x\n{keys}", encoding="utf-8")


def read(folder: Path) -> None:
    draft = build.load_draft(folder, material_tables.load())
    build.read(stages.without_prose(draft.mold), build.contents_of(draft))


def stick(folder: Path, keys: str, place: str = "") -> None:
    """The demo stick worm's halves, the second one placed elsewhere, or the plastic parted on a fine grid."""
    files = dict(zip(("a.stl", "b.stl"), stl_files("pond-stick").values(), strict=True))
    second = f"{{file: b.stl, {place}}}" if place else "b.stl"
    written(folder, f"{STICK}parts: [a.stl, {second}]\n{keys}", files)
    read(folder)


def ball(count: int) -> bytes:
    """A sphere of about so many facets."""
    rows = int((count / 2) ** 0.5)
    around = np.linspace(0, 2 * np.pi, rows + 1)
    down = np.linspace(0, np.pi, rows + 1)
    points = np.stack(
        [
            30 * np.outer(np.sin(down), np.cos(around)),
            30 * np.outer(np.sin(down), np.sin(around)),
            30 * np.outer(np.cos(down), np.ones(rows + 1)),
        ],
        axis=2,
    ).astype(np.float32)
    points[:, -1] = points[:, 0]
    points[0], points[-1] = (0, 0, 30), (0, 0, -30)
    one, two, three, four = points[:-1, :-1], points[1:, :-1], points[1:, 1:], points[:-1, 1:]
    facets = np.concatenate(
        [np.stack(side, axis=2).reshape(-1, 3, 3) for side in ((one, two, three), (one, three, four))]
    )
    flat = (facets[:, 0] == facets[:, 1]).all(1) | (facets[:, 1] == facets[:, 2]).all(1)
    flat |= (facets[:, 0] == facets[:, 2]).all(1)
    return binary_stl(facets[~flat])


def bait(folder: Path, data: bytes) -> None:
    keys = "cavities: 1\nplastisol: soft\nparts: [{file: a.stl, role: bait}]\n"
    written(folder, keys, {"a.stl": data})
    read(folder)


def crowd(folder: Path, count: int) -> None:
    """Open corners that lie near each other."""
    corners = np.random.default_rng(1).uniform(0, 1e-5, (count, 3, 3))
    corners[0] += 100.0
    bait(folder, binary_stl(corners))


def photo(folder: Path, width: int, height: int) -> None:
    out = io.BytesIO()
    Image.new("L", (width, height)).save(out, "PNG")
    made = folder / "out"
    made.mkdir(parents=True)
    pictures.photos(replace(draft(folder, "1"), photos=("a.png",)), [out.getvalue()], made)


def padded(folder: Path, size: int) -> None:
    data = small_mold.stl()
    written(folder, "kind: open pour\ncavities: 1\nplastisol: soft\nparts: [a.stl]\n", {"a.stl": data})
    with (folder / "a.stl").open("r+b") as file:
        file.truncate(size)
    read(folder)


CASES: dict[str, Callable[[Path], None]] = {
    "nothing hostile: the stick worm": lambda place: stick(place, ""),
    "halves 1 m apart across": lambda place: stick(place, "", "placing: {move_mm: [1000, 0, 0]}"),
    "halves 1 m apart along the opening": lambda place: stick(place, "", "placing: {move_mm: [0, 0, 1000]}"),
    "halves 100 m apart": lambda place: stick(place, "", "placing: {move_mm: [100000, 0, 0]}"),
    "pitch_mm: 0.05": lambda place: stick(place, "hints: {pitch_mm: 0.05}\n"),
    "pitch_mm: 0.095": lambda place: stick(place, "hints: {pitch_mm: 0.095}\n"),
    "3,000 open corners in 10 nm": lambda place: crowd(place, 1000),
    "12,000 open corners in 10 nm": lambda place: crowd(place, 4000),
    "600,000 open corners in 10 nm": lambda place: crowd(place, 200_000),
    "STL of 244 MB": lambda place: padded(place, 244_000_000),
    "STL of 10 GB": lambda place: padded(place, 10_000_000_000),
    "ball of 2,000,000 facets, 100 MB": lambda place: bait(place, ball(1_990_000)),
    "ball of 4,000,000 facets, 200 MB": lambda place: bait(place, ball(4_000_000)),
    "photo of 99 megapixels": lambda place: photo(place, 11_000, 9_000),
    "photo of 400 megapixels": lambda place: photo(place, 20_000, 20_000),
}


def one(name: str, place: Path, said: Connection) -> None:
    """Read it in this process, and tell what became of it, the memory in MB before and at most, and the s."""
    material_tables.load()
    before, start = _peak_mb(), time.process_time()
    try:
        CASES[name](place)
        found = "read"
    except Faults as faults:
        found = str(faults.problems[0]).removeprefix(str(place))
    said.send((found, before, _peak_mb(), time.process_time() - start))


def _peak_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000


def measured(name: str) -> tuple[str, float, float, float]:
    """What became of the case, the memory of an idle process and at most (MB), and processor time (s)."""
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe(duplex=False)
    with tempfile.TemporaryDirectory() as folder:
        process = context.Process(target=one, args=(name, Path(folder) / "molds" / "mold", theirs))
        process.start()
        theirs.close()
        try:
            found: tuple[str, float, float, float] = ours.recv()
        except EOFError:
            found = ("the process died", 0.0, float("inf"), float("inf"))
        process.join()
    return found


def main() -> None:
    wanted = sys.argv[1] if len(sys.argv) > 1 else ""
    for name in CASES:
        if wanted in name:
            found, before, peak, seconds = measured(name)
            print(
                f"{name:38} {peak:6.0f} MB (idle {before:.0f})  {seconds:5.1f} s  {found[:150]}", flush=True
            )


if __name__ == "__main__":
    main()
