"""What a file asks of the machine is bounded before it is read, and the bound is told as the value is."""

from __future__ import annotations

import time
import tracemalloc
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest

from builder import build, mesh
from builder.base import limits
from builder.base.problems import Faults
from builder.measure.flow_tree import voxels
from builder.measure.flow_tree.tree import grow
from builder.measure.questions import refuse_fine_grid
from builder.model import Solid, Tables
from builder.spec import mold_file, yaml_reader
from tests import small_mold
from tests.shapes_files import binary_stl
from tests.test_versions import draft

TETRAHEDRON = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]])
CORNERS = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]])


@contextmanager
def soon() -> Iterator[None]:
    """Fail what takes longer than any machine needs for work that does not grow with the square."""
    start = time.process_time()
    yield
    assert time.process_time() - start < 20, "this grows with the square of the length"


def crowd(count: int, spread: float) -> bytes:
    """So many separate triangles whose corners lie within `spread`, and one far away."""
    rng = np.random.default_rng(1)
    corners = rng.uniform(0, spread, (count, 3, 3))
    corners[0] += 100.0
    return binary_stl(corners)


def test_more_bytes_facets_or_bodies_than_a_part_can_have_are_refused(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(limits, "STL_BYTES", 1000)
    with pytest.raises(Faults, match=r"the file has 1001 bytes; expected at most 1000;"):
        mesh.triangles(b"x" * 1001, "a.stl")
    monkeypatch.setattr(limits, "STL_BYTES", 10_000)
    monkeypatch.setattr(limits, "FACETS", 11)
    with pytest.raises(Faults, match=r"there are 12 facets; expected at most 11;"):
        mesh.triangles(binary_stl(np.zeros((12, 3, 3))), "a.stl")
    text = b"solid\n" + b"facet normal 0 0 0\nvertex 0 0 0\nvertex 0 0 0\nvertex 0 0 0\nendfacet\n" * 12
    with pytest.raises(Faults, match=r"there are 12 facets; expected at most 11;"):
        mesh.triangles(text + b"endsolid\n", "a.stl")


def test_more_bodies_than_a_part_can_have_are_refused_at_once() -> None:
    many = np.concatenate([CORNERS[TETRAHEDRON] + [3.0 * k, 0, 0] for k in range(limits.BODIES + 1)])
    with soon(), pytest.raises(Faults, match=r"falls into 501 separate bodies; expected at most 500;"):
        mesh.read(binary_stl(many), "a.stl", "mm")


@pytest.mark.parametrize("spread", [1e-5, 1e-4, 4e-4])
@pytest.mark.parametrize("count", [4000, pytest.param(100_000, marks=pytest.mark.slow)])
def test_open_corners_that_crowd_together_are_refused_before_they_are_paired(
    count: int, spread: float
) -> None:
    """Also where they crowd at just the distance that is asked, so that counting them is long."""
    said = r"corners at open edges crowd together in (at least )?\d+ pairs; expected at most|no volume"
    with soon(), pytest.raises(Faults, match=said):
        mesh.read(crowd(count, spread), "a.stl", "mm")


def test_all_parts_of_a_mold_together_are_bounded(
    tmp_path: Path, tables: Tables, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = small_mold.write(tmp_path)
    size = (folder / "block.stl").stat().st_size
    monkeypatch.setattr(limits, "MOLD_BYTES", size - 1)
    with pytest.raises(
        Faults, match=rf"key parts: the STL files together have {size} bytes; .* {size - 1}\."
    ):
        build.load_draft(folder, tables)


def test_a_grid_finer_than_there_is_memory_for_is_refused_with_the_pitch_that_will_do(tmp_path: Path) -> None:
    corners = np.array([[0.0, 0, 0], [200, 0, 0], [0, 100, 0], [0, 0, 40]])
    solid = Solid(name="plastic", vertices=corners, faces=TETRAHEDRON.astype(np.int32))
    with pytest.raises(Faults) as found:
        refuse_fine_grid(draft(tmp_path, "1"), solid, 0.05)
    said = str(found.value)
    assert "a grid of 0.05 mm has 6451308864 cells; expected at most 25000000" in said
    enough = float(said.rpartition("pitch_mm: ")[2].partition("}")[0])
    refuse_fine_grid(draft(tmp_path, "1"), solid, enough)
    with pytest.raises(Faults):
        refuse_fine_grid(draft(tmp_path, "1"), solid, enough - 0.05)


def test_the_tree_of_a_full_grid_takes_no_more_memory_than_its_limit_reckons_with() -> None:
    """Whole plastic: no cell but the rim is empty. 25 million cells of 45 bytes are 1.1 GB."""
    inside = np.pad(np.ones((60, 60, 60), np.bool_), 2)
    grid = voxels.Grid(inside=inside, origin=np.zeros(3), pitch_mm=1.0)
    seeds = np.flatnonzero(inside)[:1]
    tracemalloc.start()
    try:
        grow(grid, seeds)
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert peak / inside.size * limits.CELLS < 1.3e9


@pytest.mark.parametrize(
    "data",
    [
        b"solid x\n" + b"endsolid" + b" " * 3_000_000 + b"x",
        b"solid x\n" + (b"endsolid" + b" " * 500 + b"\n") * 5_000 + b"x",
        b"solid x\n" + b"vertex" + b" " * 3_000_000,
        b"solid x\n" + b"vertex " * 400_000,
        b"solid x\n" + b"facet " + b"\n" * 3_000_000,
        b"solid x\n" + b"vertex 1 " + b"a" * 3_000_000,
    ],
    ids=["spaces", "ends", "vertex", "vertices", "lines", "word"],
)
def test_text_that_repeats_itself_takes_no_longer_than_its_length(data: bytes) -> None:
    with soon(), pytest.raises(Faults):
        mesh.triangles(data, "a.stl")


@pytest.mark.parametrize(
    "text", ["1_" * 190_000 + "x", "0" * 380_000 + "x", "1:" * 190_000, "1" * 380_000 + "e"]
)
def test_a_long_word_like_a_number_is_read_at_once(text: str) -> None:
    with soon():
        try:
            yaml_reader.read_plain(f"a: {text}", "f.yaml")
        except Faults as faults:
            assert len(faults.problems) == 1


def test_a_mold_file_of_ten_thousand_wrong_keys_is_told_at_once(tmp_path: Path) -> None:
    folder = small_mold.write(tmp_path, more="\n".join(f"cavitys{k}: 1" for k in range(10_000)))
    with soon(), pytest.raises(Faults) as found:
        mold_file.load(folder)
    assert len(found.value.problems) <= 100


def test_a_direction_that_vanishes_has_no_direction(tmp_path: Path) -> None:
    folder = small_mold.write(tmp_path, more="hints: {sprue_direction: [1e-300, 0, 0]}")
    with pytest.raises(Faults, match=r"key hints.sprue_direction: a direction of length 0"):
        mold_file.load(folder)
