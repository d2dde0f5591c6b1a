"""What must not matter to a reading: pose, facet order, welding, mirroring; and what scale must do."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from builder import build
from builder.model import Measurement
from tests.readings import measured
from tests.shapes import Mold
from tests.shapes_demo import DEMOS
from tests.shapes_files import binary_stl, triangles
from tests.test_measure import spec_of

Corners = NDArray[np.float64]

POND: Mold = DEMOS["pond-stick"].make()
PARTS = tuple(triangles(part) for _, part in POND.parts)
FEW = settings(
    max_examples=4,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)


def read(parts: tuple[Corners, ...]) -> Measurement:
    return measured(spec_of(POND, 1), [binary_stl(part) for part in parts])


@cache
def plain() -> Measurement:
    return read(PARTS)


def assert_same(found: Measurement, scale: float = 1.0, volume_share: float = 1e-4) -> None:
    """The same baits, feed, holes and thickness, lengths times `scale`."""
    told = plain()
    assert [b.volume_ml for b in found.baits] == pytest.approx(
        [b.volume_ml * scale**3 for b in told.baits], rel=volume_share
    )
    assert [b.name for b in found.baits] == [b.name for b in told.baits]
    assert [p.name for b in found.baits for p in b.paths] == [p.name for b in told.baits for p in b.paths]
    assert [b.gates[0].thickness_mm for b in found.baits] == pytest.approx(
        [b.gates[0].thickness_mm * scale for b in told.baits], rel=0.01
    )
    assert sorted(b.diameter_mm for b in found.bolts) == pytest.approx(
        sorted(b.diameter_mm * scale for b in told.bolts), rel=1e-3
    )
    assert (len(found.pins), len(found.vents)) == (len(told.pins), len(told.vents))


def turned(corners: Corners, quaternion: tuple[float, ...], move: tuple[float, ...]) -> Corners:
    w, x, y, z = np.array(quaternion) / np.linalg.norm(quaternion)
    turn = np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
            [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
            [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
        ]
    )
    return np.asarray(corners @ turn.T + np.array(move))


AXES = st.tuples(*[st.floats(-1, 1)] * 4).filter(lambda q: float(np.linalg.norm(q)) > 0.3)
MOVES = st.tuples(*[st.floats(-200, 200)] * 3)


@pytest.mark.slow
@FEW
@given(first=AXES, second=AXES, move=MOVES)
def test_turning_and_moving_each_part_changes_nothing(
    first: tuple[float, ...], second: tuple[float, ...], move: tuple[float, ...]
) -> None:
    assert_same(read((turned(PARTS[0], first, move), turned(PARTS[1], second, move[::-1]))))


CHANGES: dict[str, Callable[[Corners], Corners]] = {
    "facets in another order": lambda part: part[np.random.default_rng(3).permutation(len(part))],
    "each facet begun at another corner": lambda part: np.roll(part, 1, axis=1),
    "corners rounded one by one": lambda part: (
        part + np.random.default_rng(4).uniform(-1e-5, 1e-5, part.shape)
    ),
    "mirrored": lambda part: (part * [1.0, -1.0, 1.0])[:, ::-1],
}


@pytest.mark.slow
@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES.keys())
def test_how_the_file_tells_the_same_shape_changes_nothing(change: Callable[[Corners], Corners]) -> None:
    found = read((change(PARTS[0]), change(PARTS[1])))
    assert_same(found)
    assert not found.findings


@pytest.mark.parametrize("scale", [pytest.param(0.6, marks=pytest.mark.slow), 1.7])
def test_scale_changes_volumes_by_its_cube_and_thickness_by_itself(scale: float) -> None:
    assert_same(read((PARTS[0] * scale, PARTS[1] * scale)), scale, volume_share=1e-3)


@pytest.mark.slow
def test_the_same_files_give_the_same_measurement_to_the_last_digit() -> None:
    contents = [binary_stl(part) for part in PARTS]
    assert build.read(spec_of(POND, 1), contents).measurement == plain()


@pytest.mark.slow
def test_the_order_of_the_halves_changes_no_volume() -> None:
    spec = spec_of(replace(POND, parts=POND.parts[::-1]), 1)
    assert_same(measured(spec, [binary_stl(part) for part in PARTS[::-1]]))
