"""Many small baits on one runner: gates at its dead end, and gates that a coarse grid does not show."""

from __future__ import annotations

import pytest
from manifold3d import Manifold

from tests.shapes import ball, box, rod, union
from tests.test_strangers import halves, measured, nothing, volumes

BLOCK = box((-35.0, -45.0, -10.0), (35.0, 45.0, 10.0))
EGGS = [ball((side * 7.7, y, 0.0), 5.0) for y in (-25.0, -5.0, 15.0) for side in (-1.0, 1.0)]


def channels(end_mm: float, gate_mm: float) -> Manifold:
    """A trunk of 2.4 mm from y = 38 to its end, gates on both sides of it."""
    gates = [
        rod((side * 3.0, y, 0.0), (0.0, y, 0.0), gate_mm / 2) for y in (-25.0, -5.0, 15.0) for side in (-1, 1)
    ]
    return rod((0.0, 38.0, 0.0), (0.0, end_mm, 0.0), 1.2) + union(gates)


def tray(feed: Manifold) -> tuple[list[float], float, float]:
    """What six eggs of 10 mm hold as read, and the feed as read and as drawn, mL."""
    eggs = union(EGGS)
    sprue = rod((0.0, 46.0, 0.0), (0.0, 37.0, 0.0), 3.5, 1.8)
    drawn = ((feed + sprue) ^ BLOCK) - eggs
    found = measured(halves(BLOCK, eggs + drawn, upper=nothing(), lower=nothing()), cavities=6)
    assert found.sprue is not None
    assert found.runner is not None
    return volumes(found), found.sprue.volume_ml + found.runner.volume_ml, drawn.volume() / 1000


@pytest.mark.slow
def test_baits_at_the_dead_end_of_a_runner_have_a_gate_each() -> None:
    held, feed_ml, drawn_ml = tray(channels(-25.0, 1.8))
    assert held == pytest.approx([EGGS[0].volume() / 1000] * 6, rel=6e-3)
    assert feed_ml == pytest.approx(drawn_ml, rel=0.02)


@pytest.mark.slow
def test_gates_cut_half_round_in_one_half_are_found_on_a_finer_grid() -> None:
    lower = box((-35.0, -45.0, -10.0), (35.0, 45.0, 0.0))
    held, feed_ml, drawn_ml = tray(channels(-33.0, 1.8) ^ lower)
    assert held == pytest.approx([EGGS[0].volume() / 1000] * 6, rel=6e-3)
    assert feed_ml == pytest.approx(drawn_ml, rel=0.02)
