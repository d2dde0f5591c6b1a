"""Halves are let down on each other only where they have no flat face but their backs, however they curl."""

from __future__ import annotations

import numpy as np
import pytest
from manifold3d import Manifold

from builder import mesh
from builder.measure.closing import dropping, matching
from builder.model import Solid
from tests.shapes import box

LONG_MM, WIDE_MM, HIGH_MM = 100.0, 50.0, 15.0
POCKET = box((-20.0, -15.0, HIGH_MM - 8.0), (20.0, 15.0, HIGH_MM + 1.0))
FINE_MM = 6.0


def _half(curl_mm: float, arch_mm: float = 0.0) -> Solid:
    """A half with its back at z = 0: all of it bowed along x by the curl, its upper face by the arch too."""
    drawn = box((-LONG_MM / 2, -WIDE_MM / 2, 0.0), (LONG_MM / 2, WIDE_MM / 2, HIGH_MM)) - POCKET

    def bow(points: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> object:
        along = (2.0 * points[:, 0] / LONG_MM) ** 2
        points[:, 2] += along * (curl_mm + arch_mm * points[:, 2] / HIGH_MM)
        return points

    bent: Manifold = drawn.refine_to_length(FINE_MM).warp_batch(bow)
    return mesh.solid(bent, "half")


def _backs(half: Solid) -> tuple[matching.Face, matching.Face] | None:
    faces = matching.parting_faces(half)
    return dropping.backs(half, half, faces, faces)


@pytest.mark.parametrize("curl_mm", [0.0, 0.02, 0.05, 0.08])
def test_a_parting_face_that_curls_with_the_print_is_no_curved_parting(curl_mm: float) -> None:
    assert _backs(_half(curl_mm)) is None


def test_a_half_that_is_arched_all_over_has_only_its_back() -> None:
    backs = _backs(_half(0.0, arch_mm=8.0))
    assert backs is not None
    assert backs[0].polygon.area == pytest.approx(LONG_MM * WIDE_MM, rel=1e-3)
