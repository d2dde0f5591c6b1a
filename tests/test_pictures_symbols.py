"""Bolts, axes and cuts against volumes and places that are known in closed form."""

from __future__ import annotations

import math

import numpy as np
import pytest

from builder import mesh
from builder.pictures.views.symbols import axis, behind, rod, split_by_volume


def test_a_cone_split_by_volume_is_cut_where_the_closed_form_says() -> None:
    cone = mesh.body(rod(np.zeros(3), np.array([0, 0, 12.0]), 6.0, sides=64)).warp(
        lambda p: (p[0] * (1 - p[2] / 12), p[1] * (1 - p[2] / 12), p[2])
    )
    solid = mesh.solid(cone, "cone")
    whole = mesh.volume_mm3(solid)
    for share in (0.02, 0.3, 0.875, 0.99):
        first, rest = split_by_volume(solid, np.zeros(3), np.array([0, 0, 1.0]), share * whole)
        assert rest is not None
        assert mesh.volume_mm3(first) == pytest.approx(share * whole, rel=1e-5)
        assert first.vertices[:, 2].max() == pytest.approx(12 * (1 - (1 - share) ** (1 / 3)), rel=1e-5)


def test_an_axis_is_a_chain_line_from_its_start_to_its_end() -> None:
    start, end = np.array([1.0, 2, 3]), np.array([1.0, 2, 63])
    made = axis(start, end, 0.1)
    low, high = made.vertices[:, 2].reshape(-1, 2, 8).mean(axis=2).T
    assert low[0] == pytest.approx(3)
    assert 63 - 1.5 < high[-1] <= 63
    assert (high - low)[:-1] == pytest.approx(np.resize([4.5, 1.2], len(low) - 1))
    assert low[1:] - high[:-1] == pytest.approx(1.5)
    assert np.hypot(*(made.vertices[:, :2] - start[:2]).T) == pytest.approx(0.1)
    assert mesh.body(made).volume() == pytest.approx(
        8 * 0.01 * math.sin(math.pi / 4) / 2 * (high - low).sum()
    )


def test_a_cylinder_cut_square_leaves_a_disc_and_cut_along_a_rectangle() -> None:
    cylinder = rod(np.array([-20.0, 0, 0]), np.array([20.0, 0, 0]), 5.0, sides=96)
    for normal, area in (((1.0, 0, 0), math.pi * 25), ((0.0, 0, 1), 400.0)):
        half = behind(mesh.body(cylinder), np.zeros(3), np.array(normal))
        assert half is not None
        face = np.abs(half.vertices[half.faces] @ np.array(normal)).max(axis=1) < 1e-9
        a, b, c = (half.vertices[half.faces[face, corner]] for corner in range(3))
        assert np.linalg.norm(np.cross(b - a, c - a), axis=1).sum() / 2 == pytest.approx(area, rel=2e-3)


def test_a_rod_is_a_closed_prism_of_its_length_and_width() -> None:
    for way in np.array([[0, 0, 9.0], [0, -7, 0], [3, 0, 0], [1, 2, -3]]):
        start = np.array([4.0, 5, 6])
        made = rod(start, start + way, 2.0, sides=6)
        solid = mesh.body(made)
        assert solid.volume() == pytest.approx(6 * math.sqrt(3) * np.linalg.norm(way))
        reach = (made.vertices - start) @ way / np.linalg.norm(way)
        assert (reach.min(), reach.max()) == pytest.approx((0, np.linalg.norm(way)))
