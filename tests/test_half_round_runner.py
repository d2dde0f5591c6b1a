"""A round sprue before a half-round runner: the flat end of its other half looks out through its mouth."""

from __future__ import annotations

import math

import pytest
import shapely
from manifold3d import Manifold

from builder.measure.cavity import lids
from tests.shapes import ball, box
from tests.test_strangers import halves, measured, nothing, volumes

BLOCK = box((-66.0, -28.0, -14.0), (70.0, 28.0, 14.0))


def along_x(start: float, end: float, radii: tuple[float, float], sides: int) -> Manifold:
    made = Manifold.cylinder(end - start, *radii, sides)
    return made.rotate((0.0, 90.0, 0.0)).translate((start, 0.0, 0.0))


@pytest.mark.slow
@pytest.mark.parametrize("turn_deg", [0.0, 3.0, 90.0])
def test_a_cone_before_a_half_round_runner_is_sprue_and_not_the_outside(turn_deg: float) -> None:
    """The cone, 11 mm to 6 mm wide, lies in both halves, the runner behind it in the lower one."""
    bait = ball((0.0, 0.0, 0.0), 1.0).scale((35.0, 12.0, 9.0))
    cone = along_x(-67.0, -58.0, (5.5, 3.0), 44)
    runner = along_x(-60.0, -44.0, (3.0, 3.0), 40) ^ box((-70.0, -9.0, -9.0), (0.0, 9.0, 0.0))
    tab = box((-46.0, -2.5, -1.2), (-30.0, 2.5, 0.0))
    feed = (cone + runner + tab - bait) ^ BLOCK
    mold = [
        (name, role, half.rotate((0.0, 0.0, turn_deg)))
        for name, role, half in halves(BLOCK, bait + feed, upper=nothing(), lower=nothing())
    ]
    found = measured(mold)
    assert found.sprue
    assert found.runner
    assert found.sprue.mouth_diameter_mm == pytest.approx(2 * (5.5 - 2.5 / 9), rel=0.01)
    assert found.sprue.volume_ml + found.runner.volume_ml == pytest.approx(feed.volume() / 1000, rel=0.02)
    assert volumes(found) == pytest.approx([bait.volume() / 1000], rel=3e-3)


def test_a_region_without_its_notches_reaches_no_farther_than_its_hull() -> None:
    """A half disc of 14 mm2 with two hairs on, as where circles of 40 and of 44 sides nearly meet."""
    arc = [(3.0 * math.sin(k * math.pi / 20), 3.0 * math.cos(k * math.pi / 20)) for k in range(1, 20)]
    top = [(0.0, 2.999925), (-0.449026, 2.964664), (-0.426945, 2.969468), (0.0, 2.999932), (0.0, 3.0)]
    low = [(0.0, -3.0), (-0.426945, -2.969461), (-0.449026, -2.964658), (0.0, -2.999918)]
    region = shapely.Polygon([*top, *arc, *low])
    assert region.is_valid
    assert region.area == pytest.approx(14.1, abs=0.1)
    assert lids._filled(region).area == pytest.approx(region.area, rel=0.1)
