"""The gap between the halves: a plate on its bolts against published tables and against finite elements."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from builder.model import Bolt, Tables
from builder.physics import bolted, clamping, plate
from tests import judge_plate, paddle_tail

Point = tuple[float, float]
SIDE = 100.0


def even(wide: float, high: float, each: int = 30) -> list[tuple[float, float, float]]:
    """An even load on the whole plate."""
    at = (np.arange(each) + 0.5) / each - 0.5
    return [(float(x * wide), float(y * high), wide * high / each**2) for x in at for y in at]


def rim(wide: float, high: float, each: int = 13) -> list[Point]:
    """Supports all round."""
    at = np.linspace(-0.5, 0.5, each)
    found = [(float(t * wide), s * high / 2) for t in at for s in (-1, 1)]
    found += [(s * wide / 2, float(t * high)) for t in at for s in (-1, 1)]
    return list(dict.fromkeys(found))


@pytest.mark.parametrize(("ratio", "known"), [(1.0, 0.00406), (1.2, 0.00564), (1.5, 0.00772), (2.0, 0.01013)])
def test_a_plate_supported_all_round_sinks_as_the_table_says(ratio: float, known: float) -> None:
    """Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed., table 8, ν = 0.3."""
    high = SIDE * ratio
    found = plate.lift_mm4((SIDE, high), rim(SIDE, high), even(SIDE, high), [(0.0, 0.0)], 0.3)
    assert found[0] / SIDE**4 == pytest.approx(known, rel=0.01)


def test_a_square_plate_on_its_corners_sinks_as_published() -> None:
    """Timoshenko & Woinowsky-Krieger, 2nd ed., §49: 0.0257 q a⁴/D (recalled), ν = 0.25."""
    corners = [(x, y) for x in (-SIDE / 2, SIDE / 2) for y in (-SIDE / 2, SIDE / 2)]
    found = plate.lift_mm4((SIDE, SIDE), corners, even(SIDE, SIDE), [(0.0, 0.0)], 0.25)
    assert found[0] / SIDE**4 == pytest.approx(0.0257, rel=0.01)


def test_a_narrow_strip_between_two_pairs_of_bolts_bends_as_a_beam() -> None:
    """5 q L⁴/(384 E I): a strip is free to curl across, so its stiffness is E t³/12, D (1 − ν²)."""
    length, wide, poisson = 200.0, 5.0, 0.36
    ends = [(x, y) for x in (-length / 2, length / 2) for y in (-wide / 2, wide / 2)]
    found = plate.lift_mm4((length, wide), ends, even(length, wide), [(0.0, 0.0)], poisson)
    assert found[0] == pytest.approx(5 * length**4 / 384 / (1 - poisson**2), rel=0.01)


EDGE_BOLTS = [(x, y) for x in (-81.0, -27.0, 27.0, 81.0) for y in (-40.0, 40.0)]
CORNERS = [(x, y) for x in (-65.0, 65.0) for y in (-36.0, 36.0)]
PLATES = {
    "eight bolts at the edge": ((180.0, 96.0), EDGE_BOLTS, (60, 48)),
    "four bolts in the corners": ((150.0, 90.0), CORNERS, (60, 50)),
    "six bolts, two in the middle": ((150.0, 90.0), [*CORNERS, (0.0, -36.0), (0.0, 36.0)], (60, 50)),
    "three bolts": ((100.0, 80.0), [(-40.0, -30.0), (40.0, -30.0), (0.0, 30.0)], (50, 40)),
}
"""Size, bolts, and a mesh that has a corner at each bolt."""


@pytest.mark.slow
@pytest.mark.parametrize("name", PLATES)
def test_the_lift_is_that_of_finite_elements_within_10_percent(name: str) -> None:
    size, bolts, cells = PLATES[name]
    long = size[0] * 0.35
    load = [(float(x), s * 19.0, 60.0) for x in np.linspace(-long, long, 25) for s in (-1, 1)]
    places = [(0.0, 0.0), (0.0, 19.0), (long, 19.0), (-long / 2, -19.0)]
    judged = judge_plate.lift(size, bolts, load, places, poisson=plate.POISSON, cells=cells)
    assert plate.lift_mm4(size, bolts, load, places) == pytest.approx(
        judged, rel=0.1, abs=0.03 * judged.max()
    )


@pytest.mark.slow
@pytest.mark.parametrize("name", PLATES)
def test_halves_that_touch_at_the_rim_lift_by_the_share_in_the_table(name: str, tables: Tables) -> None:
    size, bolts, cells = PLATES[name]
    long = size[0] * 0.35
    load = [(float(x), s * 19.0, 60.0) for x in np.linspace(-long, long, 25) for s in (-1, 1)]
    places = [(0.0, 0.0), (0.0, 19.0), (long, 19.0)]
    poisson = plate.POISSON
    touching = judge_plate.lift(size, bolts, load, places, poisson=poisson, cells=cells, touching=True)
    share = tables.practice["rim"]
    assert share.low < touching.max() / plate.lift_mm4(size, bolts, load, places).max() < share.high


@pytest.mark.slow
def test_the_finite_elements_agree_with_the_same_table() -> None:
    """Timoshenko & Woinowsky-Krieger, table 8: 0.00406 q a⁴/D for the square plate."""
    cells = (20, 20)
    bolts = rim(SIDE, SIDE, 21)
    found = judge_plate.lift((SIDE, SIDE), bolts, even(SIDE, SIDE), [(0.0, 0.0)], poisson=0.3, cells=cells)
    assert found[0] / SIDE**4 == pytest.approx(0.00406, rel=0.02)


def bolt(x: float, y: float) -> Bolt:
    return Bolt(at_mm=(x, y, 0.0), direction=(0.0, 0.0, 1.0), diameter_mm=5.5, length_mm=36.0)


def test_bolts_at_the_edge_leave_the_middle_free() -> None:
    """An audit of such a mold with a plate of its own had five times the gap that a slab on a grid has."""
    outline = (180.0, 94.0, 36.0)
    mold = replace(paddle_tail.measurement(2.0), size_mm=outline)
    edge = [(x + 62.0, y) for x, y in EDGE_BOLTS]
    found = bolted.parting(replace(mold, bolts=tuple(bolt(*at) for at in edge)))
    both = [*edge, (35.0, 0.0), (90.0, 0.0)]
    middle = bolted.parting(replace(mold, bolts=tuple(bolt(*at) for at in both)))
    assert found is not None
    assert middle is not None
    plastic = [one.at_mm[:2] for bait in mold.baits for one in bait.paths[0].stations]
    reach = clamping.farthest([(x, y) for x, y in plastic], edge)[1]
    slab = clamping.panel_mm4(mold.projected_mm2 / outline[0] / outline[1], reach)
    assert found.lift_mm4 > 3 * slab
    assert middle.lift_mm4 < 0.7 * found.lift_mm4


def test_without_bolts_nothing_is_said_and_bolts_in_a_line_are_reckoned_by_their_reach() -> None:
    mold = replace(paddle_tail.measurement(2.0), bolts=())
    assert bolted.parting(mold) is None
    line = bolted.parting(replace(mold, bolts=(bolt(0.0, 0.0), bolt(60.0, 0.0))))
    far = bolted.parting(replace(mold, bolts=(bolt(0.0, 0.0), bolt(20.0, 0.0))))
    assert line is not None
    assert far is not None
    assert 0 < line.lift_mm4 < far.lift_mm4
