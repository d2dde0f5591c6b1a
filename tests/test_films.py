"""Films, grooves and facets do not change a bait's sizes, or their ranges tell of them."""

from __future__ import annotations

import numpy as np
import pytest
from manifold3d import Manifold

from builder import mesh
from builder.base import figures
from builder.measure.features.sizes import spanned
from tests.shapes import ball, box, rod
from tests.test_strangers import halves, measured


def egg() -> Manifold:
    """60 mm long, 28 mm high, 22 mm wide."""
    return ball((0.0, 0.0, 0.0), 1.0).scale((30.0, 14.0, 11.0))


def sizes(bait: Manifold) -> tuple[float, float, float]:
    """Length, height and width, mm."""
    corners = spanned(bait).corners
    plan = mesh.plan_box(mesh.solid(bait, "bait"), corners)
    return plan.length_mm, plan.height_mm, float(np.ptp(corners[:, 2]))


def films() -> dict[str, Manifold]:
    """What rounding leaves where parts meet, out to 30 mm and more."""
    over, under = (box((-12.0, -30.0, z), (10.0, 0.0, z + 1e-5)) for z in (0.8, -0.8))
    wire, hole = (rod((19.0, 0.0, 0.0), (50.0, 0.0, 0.0), radius) for radius in (1.499, 1.5))
    return {
        "over a blade": over,
        "over and under it": over + under,
        "play of 0.1 mm beside it": Manifold.hull_points(
            [(x, y, z) for x, y in ((10.0, 0.0), (10.0, -28.0), (10.1, -28.0)) for z in (-0.8, 0.8)]
        ),
        "beside it": box((5.0, -30.0, -0.8), (5.0 + 1e-5, 0.0, 0.8)),
        "in a split": box((5.0, -30.0, -0.8), (5.01, 30.0, 30.0)),
        "round a wire": hole - wire,
        "at a parting": box((0.0, -25.0, 0.0), (45.0, 25.0, 1e-4)),
    }


@pytest.mark.parametrize("turn_deg", [0.0, 30.0])
@pytest.mark.parametrize("film", list(films()))
def test_a_film_where_parts_meet_is_no_size_of_a_bait(film: str, turn_deg: float) -> None:
    """Also beside a hook slot, where facets reach from the film into the bait."""
    slotted = egg() - box((-12.0, -40.0, -0.8), (10.0, -4.0, 0.8))
    bait = (slotted + films()[film]).rotate((0.0, 0.0, turn_deg))
    length, height, width = sizes(slotted.rotate((0.0, 0.0, turn_deg)))
    assert sizes(bait) == pytest.approx((length, height, width), abs=0.03)


def test_thin_ends_of_a_bait_are_no_films() -> None:
    """A wedge of 8 degrees that ends in an edge, and a tail of 0.8 mm that ends in a point."""
    root = [(0.0, y, z) for y in (-5.0, 5.0) for z in (-2.8, 2.8)]
    wedge = Manifold.hull_points([*root, (40.0, -5.0, 0.0), (40.0, 5.0, 0.0)])
    assert sizes(wedge)[0] == pytest.approx(40.0)
    needle = egg() + rod((25.0, 0.0, 0.0), (50.0, 0.0, 0.0), 0.4, 0.0)
    assert sizes(needle)[0] == pytest.approx(80.0, abs=0.01)


def grooves() -> dict[str, Manifold]:
    """Vents of 2.4 mm by 0.2 mm that do not reach the outside; a pin of 5 mm in a hole of 5.3 mm."""

    def sleeve(x: float) -> Manifold:
        return rod((x, 0.0, 0.0), (x, 0.0, 4.3), 2.65) - rod((x, 0.0, -1.0), (x, 0.0, 4.0), 2.5)

    return {
        "at the tail": box((25.0, -1.2, 0.0), (45.0, 1.2, 0.2)),
        "at the back": box((-1.2, 10.0, 0.0), (1.2, 25.0, 0.2)),
        "across a pin's hole": box((25.0, -1.2, 0.0), (46.0, 1.2, 0.2)) + sleeve(38.0),
        "into a pin's hole": box((25.0, -1.2, 0.0), (38.0, 1.2, 0.2)) + sleeve(40.0),
    }


@pytest.mark.parametrize("turn_deg", [0.0, 30.0])
@pytest.mark.parametrize("groove", list(grooves()))
def test_a_vent_that_ends_blind_is_no_size_of_a_bait(groove: str, turn_deg: float) -> None:
    length, height, width = sizes(egg())
    bait = (egg() + grooves()[groove]).rotate((0.0, 0.0, turn_deg))
    found = sizes(bait)
    assert len(spanned(bait).blind) == 1
    assert found == pytest.approx((length, height, width), abs=0.1)


@pytest.mark.parametrize("sides", [8, 12, 24, 48])
def test_ranges_across_a_bait_hold_what_facets_lose_on_both_sides(sides: int) -> None:
    """A round bait of 12 mm, 60 mm long, whose flats lie above and below or at both sides."""
    round_one = (
        Manifold.cylinder(60.0, 6.0, 6.0, sides).rotate((0.0, 90.0, 0.0)).rotate((180.0 / sides, 0.0, 0.0))
    )
    its = figures.measured(measured([("bait", "bait", round_one)]))
    for side in ("height", "width"):
        figure = its[f"bait.0.{side}"]
        assert figure.value == pytest.approx(12.0 * np.cos(np.pi / sides), abs=1e-4)
        assert figure.high == pytest.approx(12.0, abs=2e-3)
        assert figure.high >= 12.0 - 1e-5


def test_a_gate_in_the_belly_makes_the_height_unsure_and_one_at_the_nose_the_length() -> None:
    """The gates are 3 mm wide; where along the way one is cut is known to a twentieth of that."""

    def off(feed: Manifold, side: str) -> float:
        mold = halves(
            box((-40.0, -25.0, -15.0), (40.0, 25.0, 15.0)), egg() + feed, upper=Manifold(), lower=Manifold()
        )
        found = measured(mold)
        figure = figures.measured(found)[f"bait.0.{side}"]
        assert found.baits[0].gates[0].thickness_mm == pytest.approx(3.0, abs=0.3)
        return figure.high - figure.value - 2.0 * found.length_error_mm

    belly = rod((0.0, -26.0, 0.0), (0.0, -17.0, 0.0), 4.0, 1.5) + rod(
        (0.0, -18.0, 0.0), (0.0, -9.0, 0.0), 1.5
    )
    nose = rod((-41.0, 0.0, 0.0), (-32.0, 0.0, 0.0), 4.0, 1.5) + rod(
        (-33.0, 0.0, 0.0), (-25.0, 0.0, 0.0), 1.5
    )
    assert off(belly, "height") == pytest.approx(0.15, abs=0.02)
    assert off(nose, "height") == pytest.approx(0.0, abs=1e-9)
