"""The widest circle in a section, and sections whose outline lies double, against shapely and by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from builder import mesh
from builder.mesh import outlines

RING = shapely.Point(0.0, 0.0).buffer(7.0, 60).difference(shapely.Point(0.0, 0.0).buffer(5.5, 60))


def star(seed: int) -> shapely.Polygon:
    """A wide or a narrow shape with 40 random corners."""
    rng = np.random.default_rng(seed)
    spin = 2 * math.pi * np.arange(40) / 40
    reach = rng.uniform(0.5, 9.0, 40)[:, None]
    return shapely.Polygon(np.column_stack([np.cos(spin), np.sin(spin)]) * reach)


@pytest.mark.parametrize(
    ("polygon", "wide_mm"),
    [
        pytest.param(RING, 1.5, id="a ring"),
        pytest.param(RING.difference(shapely.box(0, -1, 9, 1)), 1.5, id="an open ring"),
        pytest.param(
            shapely.box(0, 0, 60, 1.2).difference(shapely.Point(30, 0.6).buffer(0.2)),
            1.2,
            id="a strip with a hole",
        ),
        pytest.param(
            shapely.box(0, 0, 40, 40).difference(shapely.box(1, 1, 39, 39)),
            2 * math.sqrt(2) / (math.sqrt(2) + 1),
            id="a frame, widest in its corners",
        ),
        pytest.param(
            shapely.Point(0, 0).buffer(7, 60).difference(shapely.Point(0.25, 0).buffer(5.5, 60)),
            1.75,
            id="askew",
        ),
    ],
)
def test_the_widest_circle_in_what_is_long_for_its_width_is_as_wide_as_by_hand(
    polygon: shapely.Polygon, wide_mm: float
) -> None:
    found, centre = mesh.inscribed(polygon)
    assert found == pytest.approx(wide_mm, abs=0.002)
    assert polygon.boundary.distance(shapely.Point(centre)) == pytest.approx(found / 2, abs=1e-9)


@pytest.mark.parametrize("seed", range(12))
def test_the_widest_circle_in_a_random_shape_is_that_which_shapely_finds(seed: int) -> None:
    """shapely.maximum_inscribed_circle looks at ever smaller squares, this one at the middle line."""
    shape = star(seed)
    assert shape.length**2 > 60 * shape.area, "long for its width"
    found, _ = mesh.inscribed(shape)
    assert found == pytest.approx(
        2 * shapely.maximum_inscribed_circle(shape, tolerance=1e-4).length, abs=0.002
    )


def test_a_section_whose_outline_lies_double_but_for_rounding_is_cut_and_counted_once() -> None:
    rng = np.random.default_rng(3)
    spin = 2 * math.pi * np.arange(300) / 300
    lines = []
    for radius, way in ((7.0, 1), (7.0, 1), (7.0, -1), (5.0, -1)):
        points = radius * np.column_stack([np.cos(spin), np.sin(spin)]) + rng.normal(0.0, 3e-6, (300, 2))
        lines.append(np.stack([points, np.roll(points, -1, axis=0)], axis=1)[:, ::way])
    found = shapely.area(outlines.around(np.concatenate(lines))).sum()
    assert found == pytest.approx(300 / 2 * math.sin(2 * math.pi / 300) * (49.0 - 25.0), rel=1e-4)
