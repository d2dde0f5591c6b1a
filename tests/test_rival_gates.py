"""Which narrow place is the gate: where two would do it is asked, and what is offered works."""

from __future__ import annotations

import re

import pytest
from manifold3d import Manifold

from builder.base.problems import Faults
from builder.model import Hints, Measurement
from tests.shapes import box, loft, rod
from tests.test_strangers import halves, measured, nothing

BLOCK = box((-62.0, -24.0, -14.0), (62.0, 24.0, 14.0))


def fish(fin_mm: float) -> Manifold:
    """A body with a trunk of 4 x 2.2 before its flat tail fin, 16 mm long and 2.6 thick, `fin_mm` high."""
    body = loft([(-44.0, 1.5, 1.5, 0.0), (-24.0, 7.5, 6.5, 0.0), (8.0, 4.5, 4.5, 0.0), (28.0, 2.0, 1.2, 0.0)])
    fin = box((27.5, -2.0, -1.1), (32.0, 2.0, 1.1)) + box((30.0, -fin_mm / 2, -1.3), (46.0, fin_mm / 2, 1.3))
    return body + fin


def shot_through_its_tail(fin_mm: float, hints: Hints | None = None) -> Measurement:
    """The gate is a slot of 4 x 2.4 at the fin, hardly larger than the trunk behind the fin."""
    feed = box((45.0, -2.0, -1.2), (54.0, 2.0, 1.2)) + rod((53.0, 0.0, 0.0), (63.0, 0.0, 0.0), 2.6, 5.0)
    plastic = fish(fin_mm) + (feed - fish(fin_mm) ^ BLOCK)
    return measured(halves(BLOCK, plastic, upper=nothing(), lower=nothing()), hints)


@pytest.mark.slow
def test_a_tail_fin_between_a_trunk_and_a_gate_as_narrow_is_asked_for_and_is_no_sprue() -> None:
    with pytest.raises(Faults, match=r"hints\.gates: it is unclear where runner and bait meet") as asked:
        shot_through_its_tail(20.0)
    offered = re.search(r"at_mm: \[(.*?)\], normal: \[(.*?)\]", str(asked.value))
    assert offered
    at, normal = (tuple(float(one) for one in group.split(",")) for group in offered.groups())
    assert len(at) == len(normal) == 3
    told = shot_through_its_tail(20.0, Hints(gates_at_mm=((at, normal),)))
    assert told.baits[0].volume_ml == pytest.approx(fish(20.0).volume() / 1000, rel=5e-3)
