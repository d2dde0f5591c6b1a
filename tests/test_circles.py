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


def turn(radius: float, count: int = 90) -> np.ndarray:
    """Points round a circle, counter-clockwise."""
    spin = 2 * math.pi * np.arange(count) / count
    return radius * np.column_stack([np.cos(spin), np.sin(spin)])


def test_an_outline_that_crosses_itself_by_rounding_is_untied_and_as_long_as_drawn() -> None:
    """A tube's inner outline runs some way back and forth again, aside by rounding: no slit is left there."""
    inner = turn(4.2)[::-1]
    back = inner[20:40][::-1] + np.random.default_rng(5).normal(0.0, 2e-7, (20, 2))
    crossing = np.concatenate([inner[:40], back[1:], inner[21:]])
    assert not shapely.Polygon(crossing).is_valid
    drawn = shapely.Polygon(turn(6.5), [inner])
    areas = outlines.within([turn(6.5), crossing])
    assert areas is not None
    (found,) = areas
    assert found.area == pytest.approx(drawn.area, abs=1e-4)
    assert found.length == pytest.approx(drawn.length, abs=1e-4)
    assert mesh.inscribed(found, 1e-4)[0] == pytest.approx(mesh.inscribed(drawn, 1e-4)[0], abs=5e-4)


@pytest.mark.parametrize(
    "crossing",
    [
        pytest.param(np.array([(0.0, 0.0), (4.0, 4.0), (4.0, 0.0), (0.0, 3.0)]), id="a bow"),
        pytest.param(np.concatenate([turn(4.2), turn(3.0)]), id="twice round"),
    ],
)
def test_an_outline_that_crosses_itself_by_more_than_rounding_is_not_untied(crossing: np.ndarray) -> None:
    """Its areas would count by halves, or twice: it is for the way that counts how often it runs round."""
    assert outlines.within([crossing]) is None
