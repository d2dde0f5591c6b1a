"""A mold that is closed on a curved parting is as large as drawn, however the parting is tilted."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from manifold3d import CrossSection, Manifold

from builder import mesh
from builder.measure.closing import assemble
from builder.model import MoldSpec, PartSpec, Solid
from tests.shapes import box

SIZE_MM = (120.0, 50.0, 30.0)
BAIT = Manifold.sphere(1.0, 48).scale((45.0, 12.0, 8.0)).translate((5.0, 0.0, 0.0))
BLOCK = box((-60.0, -25.0, -15.0), (60.0, 25.0, 15.0)) - BAIT
DEEP_MM = 40.0
SPEC = MoldSpec(
    slug="curved",
    folder=Path("curved"),
    title="Curved",
    kind="injection",
    parts=tuple(
        PartSpec(file=f"{name}.stl", path=Path(f"{name}.stl"), role="half", name=name) for name in ("a", "b")
    ),
    cavities=1,
    plastisol="medium",
    mold_material="pla",
    units="mm",
)

PARTINGS = {
    "a wave whose mean is tilted": lambda x: 4.0 * np.sin(x / 16.0 + 0.7),
    "a bow off the middle": lambda x: 6.0 * (x / 60.0 - 0.3) ** 2,
    "a kink": lambda x: 0.14 * (10.0 - np.abs(x - 10.0)),
    "a bow of a tenth": lambda x: 0.1 * (x / 60.0 - 0.2) ** 2,
}


def _halves(parting: str) -> tuple[Solid, Solid]:
    """The block cut along a curve over x, drawn with 48 facets."""
    x = np.linspace(-61.0, 61.0, 49)
    curve = np.column_stack([x, PARTINGS[parting](x)])
    under = np.vstack([[(-61.0, -DEEP_MM), (61.0, -DEEP_MM)], curve[::-1]])
    lower = Manifold.extrude(CrossSection([under]), 2 * DEEP_MM)
    below = lower.translate((0.0, 0.0, -DEEP_MM)).rotate((90.0, 0.0, 0.0))
    return mesh.solid(BLOCK ^ below, "a"), mesh.solid(BLOCK - below, "b")


def _on_its_back(upper: Solid) -> Solid:
    """The upper half turned over about x, as it is laid for printing, and set beside the lower."""
    over = np.diag([1.0, -1.0, -1.0])
    return replace(upper, vertices=upper.vertices @ over + np.array([0.0, 70.0, -3.0]))


def test_a_mold_whose_parting_has_a_kink_is_read_as_it_lies_closed() -> None:
    """Two planes that meet at x = 10: more than half of the contact lies in one of them."""
    lower, upper = _halves("a kink")
    laid, said = assemble.closed(SPEC, [lower, upper])
    assert [finding.code for finding in said] == [assemble.CONTOURED]
    low, high = mesh.box(mesh.hull([mesh.body(solid) for solid in laid]))
    assert high - low == pytest.approx(SIZE_MM, abs=0.01)


@pytest.mark.parametrize("printed", [False, True])
@pytest.mark.parametrize(
    "parting", ["a wave whose mean is tilted", "a bow off the middle", "a bow of a tenth"]
)
def test_a_mold_with_a_curved_parting_is_as_large_as_drawn(parting: str, printed: bool) -> None:
    lower, upper = _halves(parting)
    laid, _ = assemble.closed(SPEC, [lower, _on_its_back(upper) if printed else upper])
    low, high = mesh.box(mesh.hull([mesh.body(solid) for solid in laid]))
    assert high - low == pytest.approx(SIZE_MM, abs=0.01)
