"""Tails that go on behind the flat end of a body are bait, not vents."""

from __future__ import annotations

import pytest
from manifold3d import CrossSection, Manifold

from tests.shapes import ball, box, rod, union
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


def test_two_mirrored_skirts_head_to_head_are_told_the_same_of_their_waist() -> None:
    """Bodies 12 mm thick with a web of 2 mm and eleven strips of 1.2 x 1.0 mm, fed from between: no waist."""
    middle = rod((12.0, 0.0, 0.0), (30.0, 0.0, 0.0), 6.0)
    body = union([middle, ball((12.0, 0.0, 0.0), 6.0), ball((30.0, 0.0, 0.0), 6.0)])
    outline = CrossSection([[(30.0, -4.0), (36.0, -10.7), (36.0, 10.7), (30.0, 4.0)]])
    web = Manifold.extrude(outline, 2.0).translate((0.0, 0.0, -1.0))
    rows = [2.0 * k - 10.0 for k in range(11)]
    skirt = union([body, web, *(box((33.0, y - 0.6, -0.5), (66.0, y + 0.6, 0.5)) for y in rows)])
    feed = rod((-7.0, 0.0, 0.0), (7.0, 0.0, 0.0), 1.5) + rod((0.0, 26.0, 0.0), (0.0, 0.0, 0.0), 4.0, 1.6)
    mold = box((-75.0, -25.0, -12.0), (75.0, 25.0, 12.0))
    plastic = skirt + skirt.mirror((1.0, 0.0, 0.0)) + feed
    found = measured(halves(mold, plastic, upper=nothing(), lower=nothing()), cavities=2)
    assert len(found.baits) == 2
    assert [bait.thinnest for bait in found.baits] == [None, None]
