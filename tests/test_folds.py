"""Halves whose parting is folded from planes, laid for printing, close as they were drawn."""

from __future__ import annotations

import numpy as np
import pytest
import yaml
from manifold3d import CrossSection, Manifold
from numpy.typing import NDArray

from builder import mesh
from builder.base.problems import Faults
from builder.measure.closing import assemble
from builder.model import Placing, Solid
from tests.shapes import box, channel, rod
from tests.test_strangers import Parts, measured, spec_of, volumes

Array = NDArray[np.float64]
Fold = list[tuple[float, float]]

BOLTS = ((-58.0, 15.0), (58.0, -15.0), (-58.0, -15.0), (58.0, 15.0))
PINS = ((-20.0, 15.0), (20.0, -15.0))
APART_MM = 0.02


def roof(degrees: float, ridge: float = 0.0) -> Fold:
    """Two planes that fall away from a ridge."""
    fall = float(np.tan(np.radians(degrees)))
    return [(-80.0, -fall * (80.0 + ridge)), (ridge, 0.0), (80.0, -fall * (80.0 - ridge))]


def tray(degrees: float, first: float, last: float) -> Fold:
    """A plane between two that fall away."""
    fall = float(np.tan(np.radians(degrees)))
    return [(-80.0, -fall * (80.0 + first)), (first, 0.0), (last, 0.0), (80.0, -fall * (80.0 - last))]


FOLDS: dict[str, tuple[Fold, str]] = {
    "a roof of 4 degrees": (roof(4.0), "x"),
    "a roof of 8 degrees": (roof(8.0), "x"),
    "a roof of 15 degrees": (roof(15.0), "x"),
    "a roof off the middle": (roof(8.0, 25.0), "x"),
    "a roof far off the middle": (roof(8.0, 45.0), "x"),
    "three planes": (tray(8.0, -20.0, 30.0), "x"),
    "three even planes": (tray(8.0, -24.0, 24.0), "x"),
    "a ridge along the long side": (roof(8.0), "y"),
    "a ridge of 4 degrees along the long side": (roof(4.0), "y"),
    "a ridge of 15 degrees along the long side": (roof(15.0), "y"),
    "a ridge along the long side off the middle": (roof(8.0, 6.0), "y"),
}


def under(fold: Fold, along: str) -> Manifold:
    """Everything under a surface that is folded at the places (place, height) along x or y."""
    rim = [(fold[0][0], -90.0), (fold[-1][0], -90.0), *reversed(fold)]
    body = Manifold.extrude(CrossSection([rim]), 300.0).translate((0.0, 0.0, -150.0)).rotate((90.0, 0.0, 0.0))
    return body if along == "x" else body.rotate((0.0, 0.0, 90.0))


def height(fold: Fold, along: str, x: float, y: float = 0.0) -> float:
    """Where the parting is at a place."""
    places, heights = zip(*fold, strict=True)
    return float(np.interp(x if along == "x" else y, places, heights))


def plastic(fold: Fold, along: str) -> tuple[Manifold, Manifold]:
    """A bait that follows the parting, and a sprue to the end of the block."""
    xs = [-40.0, *(x for x, _ in fold[1:-1] if along == "x" and abs(x) < 40.0), 42.0]
    bait = channel([(x, 0.0, height(fold, along, x)) for x in xs], 6.0)
    start, end = ((x, 0.0, height(fold, along, x)) for x in (-72.0, -44.0))
    return bait, rod(start, end, 3.2, 1.5)


def drawn(fold: Fold, along: str) -> tuple[Manifold, Manifold]:
    """The two halves as they lie closed."""
    low, high = -14.0 + min(height(fold, along, x) for x in (-70.0, 70.0)), 14.0
    block = box((-70.0, -22.0, low - 4.0), (70.0, 22.0, high)) - sum(plastic(fold, along), Manifold())
    for x, y in BOLTS:
        block -= rod((x, y, low - 9.0), (x, y, high + 9.0), 2.5)
    below = under(fold, along)
    lower, upper = block ^ below, block - below
    for x, y in PINS:
        foot = height(fold, along, x, y) - 3.0
        lower += rod((x, y, foot), (x, y, foot + 8.0), 2.5)
        upper -= rod((x, y, foot), (x, y, foot + 8.5), 2.6)
    return lower, upper


def printed(lower: Manifold, upper: Manifold, turned: float = 0.0) -> Parts:
    """Both halves on their backs beside each other."""
    over = upper.rotate((180.0, 0.0, turned)).translate((0.0, 160.0, 3.0))
    return [("half-a", "half", lower), ("half-b", "half", over)]


def apart(lower: Solid, upper: Solid) -> Array:
    """The distances between the first vertices of two halves."""
    return np.asarray(
        np.linalg.norm(lower.vertices[:200, None, :] - upper.vertices[None, :200, :], axis=2),
        dtype=np.float64,
    )


def solids(parts: Parts) -> list[Solid]:
    return [mesh.solid(body, name) for name, _, body in parts]


@pytest.mark.parametrize("turned", [0.0, 37.0])
@pytest.mark.parametrize("name", FOLDS)
def test_halves_with_a_folded_parting_laid_for_printing_close_as_they_were_drawn(
    name: str, turned: float
) -> None:
    lower, upper = drawn(*FOLDS[name])
    parts = printed(lower, upper, turned)
    laid, said = assemble.closed(spec_of(parts), solids(parts))
    assert [finding.code for finding in said] == [assemble.CONTOURED]
    assert apart(laid[0], laid[1]) == pytest.approx(
        apart(mesh.solid(lower, "a"), mesh.solid(upper, "b")), abs=APART_MM
    )
    low, high = mesh.box(mesh.hull([mesh.body(solid) for solid in laid]))
    one, other = mesh.box(lower + upper)
    assert high - low == pytest.approx(other - one, abs=APART_MM)


@pytest.mark.slow
@pytest.mark.parametrize("name", FOLDS)
def test_a_mold_with_a_folded_parting_laid_for_printing_is_read_right(name: str) -> None:
    bait, sprue = plastic(*FOLDS[name])
    lower, upper = drawn(*FOLDS[name])
    found = measured(printed(lower, upper))
    assert volumes(found) == pytest.approx([bait.volume() / 1000], rel=3e-3)
    assert found.sprue
    within = (sprue - bait) ^ box((-70.0, -90.0, -90.0), (70.0, 90.0, 90.0))
    assert found.sprue.volume_ml == pytest.approx(within.volume() / 1000, rel=0.02)
    assert (len(found.bolts), len(found.pins)) == (4, 2)


def covered() -> tuple[Parts, Manifold]:
    """All of the cavity in the lower half, the upper one a cover that is poured through and fits two ways."""
    fold, along = FOLDS["a roof of 8 degrees"]
    bait, below = plastic(fold, along)[0], under(fold, along)
    block = box((-70.0, -22.0, -32.0), (70.0, 22.0, 14.0)) - rod(
        (-20.0, 0.0, 15.0), (-20.0, 0.0, -4.0), 4.0, 2.0
    )
    for x, y in BOLTS:
        block -= rod((x, y, -40.0), (x, y, 20.0), 2.5)
    return printed((block - bait) ^ below, block - below), bait ^ below


@pytest.mark.slow
def test_each_line_for_a_cover_on_a_fold_reads_the_mold() -> None:
    parts, bait = covered()
    with pytest.raises(Faults, match=r"fit together in 2 ways, and their partings do not tell") as caught:
        measured(parts)
    lines = [line for line in str(caught.value).splitlines() if line.startswith("parts: ")]
    assert len(lines) == 2
    for line in lines:
        told = [Placing(**part["placing"]) for part in yaml.safe_load(line.rstrip("."))["parts"]]
        assert volumes(measured(parts, placings=told)) == pytest.approx([bait.volume() / 1000], rel=3e-3)


@pytest.mark.parametrize("other", ["a roof of 4 degrees", "a roof of 15 degrees", "three even planes"])
def test_halves_of_two_folds_are_not_laid_back_on_back_nor_called_covers(other: str) -> None:
    parts = printed(drawn(*FOLDS["a roof of 8 degrees"])[0], drawn(*FOLDS[other])[1])
    with pytest.raises(Faults, match=r"export both as they lie in the closed mold") as caught:
        assemble.closed(spec_of(parts), solids(parts))
    assert "cover" not in str(caught.value)
