"""A bait that its runner feeds all round, through a disk gate, never counts a part of that runner."""

from __future__ import annotations

import pytest
from manifold3d import CrossSection, Manifold

from builder.base.problems import Faults
from builder.model import Hints, Measurement
from tests.shapes import box, loft, rod, union
from tests.test_rival_gates import first_offered
from tests.test_strangers import halves, measured, nothing, volumes

BAIT = loft([(-34.0, 1.5, 1.5, 0.0), (-20.0, 5.5, 5.5, 0.0), (14.0, 5.0, 5.0, 0.0), (34.0, 1.5, 1.5, 0.0)])


def ring(thick_mm: float) -> Manifold:
    """A ring runner of 5 mm round the bait's middle, fed from the side, and the disk from it to the bait."""
    torus = Manifold.revolve(CrossSection.circle(2.5, 32).translate((11.0, 0.0)), 64).rotate((0.0, 90.0, 0.0))
    disk = rod((-thick_mm / 2, 0.0, 0.0), (thick_mm / 2, 0.0, 0.0), 11.0)
    return torus + disk + rod((0.0, -31.0, 0.0), (0.0, -11.0, 0.0), 5.0, 2.6)


def read(hints: Hints | None = None) -> Measurement:
    block = box((-46.0, -30.0, -18.0), (46.0, 20.0, 18.0))
    return measured(halves(block, BAIT + (ring(0.7) - BAIT ^ block), upper=nothing(), lower=nothing()), hints)


@pytest.mark.slow
def test_a_disk_gate_all_round_is_asked_about_and_the_line_for_the_other_reading_works() -> None:
    with pytest.raises(Faults, match=r"a wide film, 0\.7 mm thick, .*close the film in the CAD") as asked:
        read()
    kept = read(first_offered(asked.value))
    assert volumes(kept)[0] > BAIT.volume() / 1000
    assert f"baits of {volumes(kept)[0]:.2f} ml" in str(asked.value)


PAIR = [rod((-15.0, y, 0.0), (25.0, y, 0.0), 4.0) for y in (-8.0, 8.0)]


WEB = box((-5.0, -8.0, -0.15), (15.0, 8.0, 0.15))


def pair(hints: Hints | None = None) -> Measurement:
    """Two rods on a fork, joined by a web of 0.3 mm that is 20 mm wide, which their maker tears."""
    arms = union(rod((-30.0, 0.0, 0.0), (-14.0, y, 0.0), 1.5) for y in (-8.0, 8.0))
    feed = rod((-41.0, 0.0, 0.0), (-29.0, 0.0, 0.0), 4.0, 2.0) + arms
    block = box((-40.0, -22.0, -12.0), (40.0, 22.0, 12.0))
    plastic = union(PAIR) + feed + WEB
    return measured(halves(block, plastic, upper=nothing(), lower=nothing()), hints)


@pytest.mark.slow
def test_a_pair_that_a_web_joins_is_asked_about_and_the_line_for_one_bait_works() -> None:
    with pytest.raises(Faults, match=r"joins what two gates feed.*leave the film out.*cavities: 2") as asked:
        pair()
    (held,) = volumes(pair(first_offered(asked.value)))
    assert held == pytest.approx((union(PAIR) + WEB).volume() / 1000, rel=1e-2)
    assert f"baits of {held:.2f} ml" in str(asked.value)
