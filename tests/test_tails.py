"""Tails that go on behind the flat end of a body are bait, not vents."""

from __future__ import annotations

import pytest

from tests.shapes import box, rod, union
from tests.test_strangers import halves, measured, nothing, volumes


@pytest.mark.parametrize("vented", [True, False])
def test_twin_tails_behind_a_flat_end_that_is_seen_through_the_sprue_are_bait(vented: bool) -> None:
    """Two tails of 2.2 x 6 mm go out of the flat end at x = 14; a vent of 0.2 x 2 mm at each tip."""
    body = rod((-30.0, 0.0, 0.0), (0.0, 0.0, 0.0), 5.0, 8.0) + rod(
        (-0.1, 0.0, 0.0), (14.0, 0.0, 0.0), 8.0, 4.5
    )
    tails = union(box((10.0, y - 1.1, -3.0), (40.0, y + 1.1, 3.0)) for y in (-2.0, 2.0))
    feed = rod((-46.0, 0.0, 0.0), (-29.0, 0.0, 0.0), 5.5, 3.2)
    vents = union(box((39.0, y - 1.0, 0.0), (47.0, y + 1.0, 0.2)) for y in (-2.0, 2.0))
    mold = box((-45.0, -20.0, -14.0), (46.0, 20.0, 14.0))
    upper = vents if vented else nothing()
    found = measured(halves(mold, body + tails + feed, upper=upper, lower=nothing()))
    assert volumes(found) == pytest.approx([(body + tails).volume() / 1000], rel=4e-3)
    assert found.baits[0].length_mm == pytest.approx(70.0, abs=0.5)
    assert len(found.vents) == (2 if vented else 0)
