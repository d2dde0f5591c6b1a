"""The feed as it cools: faces where it is cut from mouth, runner and baits touch no mold."""

from __future__ import annotations

import pytest

from builder.advice import advise
from builder.spec import material_tables
from tests.shapes import ball, box, rod, union
from tests.test_strangers import halves, measured, nothing, spec_of

BLOCK = box((-62.0, -24.0, -14.0), (62.0, 24.0, 14.0))


@pytest.mark.slow
def test_two_short_round_runners_as_thick_as_their_gates_do_not_set_before_them() -> None:
    """A sprue from the side, a ball of 6 mm, and to each side a round runner of 3 mm up to the bait."""
    baits = union(
        ball((0.0, 0.0, 0.0), 1.0).scale((22.0, 9.0, 9.0)).translate((x, 0.0, 0.0)) for x in (-33.0, 33.0)
    )
    sprue = rod((0.0, -25.0, 0.0), (0.0, 0.0, 0.0), 5.0, 3.0) + ball((0.0, 0.0, 0.0), 3.0)
    feed = sprue + rod((-13.0, 0.0, 0.0), (13.0, 0.0, 0.0), 1.5)
    parts = halves(BLOCK, baits + (feed - baits ^ BLOCK), upper=nothing(), lower=nothing())
    found = measured(parts, cavities=2)
    assert found.runner.modulus_mm == pytest.approx(0.75, rel=0.05)  # of a long round rod: a quarter of it
    advice = advise.advise(spec_of(parts, cavities=2), found, material_tables.load())
    assert "findings.feed_sets_first" not in [finding.code for finding in advice.findings]
