"""Halves that meet on a raised lip round the cavity: the rest of one face lies lower and touches nothing."""

from __future__ import annotations

import numpy as np
import pytest
from manifold3d import CrossSection, Manifold

from builder.model import Measurement
from tests.shapes import ball, box, rod, union
from tests.test_strangers import Parts, measured, volumes

BLOCK = box((-65.0, -24.0, -15.0), (65.0, 24.0, 13.0))
BAIT = union([ball((-34.0, 0.0, 0.0), 6.0), rod((-34.0, 0.0, 0.0), (39.0, 0.0, 0.0), 6.0)]) + ball(
    (39.0, 0.0, 0.0), 6.0
)
FEED = rod((-66.0, 0.0, 0.0), (-39.0, 0.0, 0.0), 3.5, 2.2)
BOLTS = union([rod((x, y, -20.0), (x, y, 20.0), 2.5) for x in (-55.0, 55.0) for y in (-17.0, 17.0)])


def beside(wide_mm: float) -> Manifold:
    """What is cut off down to 3 mm beside z = 0: all but a lip so wide round bait and sprue."""
    half, end = 6.0 + wide_mm, 45.0 + wide_mm
    narrow = 3.5 + wide_mm
    lip = [(-66.0, -narrow), (-40.0, -narrow), (-40.0, -half), (end, -half)]
    lip += [(x, -y) for x, y in lip[::-1]]
    around = Manifold.extrude(CrossSection([np.array(lip)]), 8.0).translate((0.0, 0.0, -4.0))
    return box((-66.0, -25.0, -3.0), (66.0, 25.0, 3.0)) - around


def halves(wide_mm: float, low_mm: float, *, upper: Manifold | None = None) -> Parts:
    """The lower half with a lip, as it is filed; the upper one, flat, beside it on its back."""
    top, bottom = (BLOCK - BAIT - FEED - BOLTS).split_by_plane((0.0, 0.0, 1.0), 0.0)
    bottom -= beside(wide_mm) ^ box((-66.0, -25.0, -low_mm), (66.0, 25.0, 1.0))
    for x in (-15.0, 25.0):
        bottom += rod((x, -17.0, -4.0), (x, -17.0, 5.0), 2.5)
        top -= rod((x, -17.0, -1.0), (x, -17.0, 5.5), 2.6)
    if upper is not None:
        top -= upper
    laid = top.rotate((180.0, 0.0, 0.0)).rotate((0.0, 0.0, 90.0)).translate((20.0, 120.0, 13.0))
    return [("lower", "half", bottom), ("upper", "half", laid)]


def assert_as_drawn(found: Measurement) -> None:
    assert volumes(found) == pytest.approx([BAIT.volume() / 1000], rel=2e-3)
    assert found.baits[0].length_mm == pytest.approx(84.57, abs=0.1)  # its tip lies in the gate
    assert found.sprue is not None
    assert found.sprue.volume_ml == pytest.approx(((FEED - BAIT) ^ BLOCK).volume() / 1000, rel=0.01)
    assert [bolt.diameter_mm for bolt in found.bolts] == pytest.approx([5.0] * 4, rel=0.01)
    assert len(found.pins) == 2


@pytest.mark.parametrize(("wide_mm", "low_mm"), [(2.0, 0.1), (2.0, 0.5), (6.0, 0.8)])
def test_a_flat_half_closes_on_the_lip_of_the_other(wide_mm: float, low_mm: float) -> None:
    """The lower half's face lies as much lower as told, but for a lip of the width told."""
    found = measured(halves(wide_mm, low_mm))
    assert_as_drawn(found)
    assert not found.vents
    assert not {"reading.apart", "reading.curled"} & {finding.code for finding in found.findings}


@pytest.mark.slow
def test_a_slit_that_holds_more_than_the_bait_and_is_as_wide_as_a_sprue_is_not_shot() -> None:
    assert_as_drawn(measured(halves(6.0, 2.8)))


@pytest.mark.parametrize(("wide_mm", "low_mm"), [(2.0, 0.06), (6.0, 0.8)])
@pytest.mark.parametrize("pad", [False, True])
def test_a_vent_that_ends_in_the_slit_beside_a_lip_ends_there(
    wide_mm: float, low_mm: float, pad: bool
) -> None:
    """The vent is 3 mm wide and 0.2 deep; a pad of the lip's height, if any, stands at the edge by a bolt."""
    vent = box((44.0, -1.5, 0.0), (66.0, 1.5, 0.2))
    lower, upper = halves(wide_mm, low_mm, upper=vent)
    if pad:
        lower = (*lower[:2], lower[2] + box((-65.0, -24.0, -3.0), (-20.0, -21.0, 0.0)))
    found = measured([lower, upper])
    assert_as_drawn(found)
    assert [vent.width_mm for vent in found.vents] == pytest.approx([3.0], rel=0.01)
    assert [vent.depth_mm for vent in found.vents] == pytest.approx([0.2], rel=0.02)
    assert found.vents[0].length_mm == pytest.approx(wide_mm, abs=0.3)
