"""The size of a bait in the parting plane: its longest extent, and its height, not across a diagonal."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from builder.measure.features.records import plan_size
from builder.model import Solid


def outline(points: list[tuple[float, float]], turn_deg: float) -> Solid:
    """Only the corners count."""
    turn = np.deg2rad(turn_deg)
    at = np.array(points) @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    corners = np.vstack([np.column_stack([at, np.full(len(at), z)]) for z in (-5.0, 5.0)])
    return Solid(name="bait", vertices=corners, faces=np.array([[0, 1, 2]], dtype=np.int32))


@given(turn_deg=st.floats(0.0, 180.0), long=st.floats(40.0, 150.0), high=st.floats(8.0, 30.0))
def test_a_block_is_as_high_as_its_short_side_however_it_lies(
    turn_deg: float, long: float, high: float
) -> None:
    corners = [(0.0, 0.0), (long, 0.0), (long, high), (0.0, high)]
    length, height = plan_size(outline(corners, turn_deg))
    assert length == pytest.approx(np.hypot(long, high))
    assert height == pytest.approx(high)


def test_a_minnow_whose_tail_droops_is_no_higher_than_its_body() -> None:
    """A body 22 mm high and a tail whose corner lies below it: across the diagonal it would be 24.6 mm."""
    body = [(0.0, 0.0), (20.0, 11.0), (80.0, 11.0), (127.0, -9.0), (80.0, -11.0), (20.0, -11.0)]
    assert plan_size(outline(body, 0.0))[1] < 22.5
