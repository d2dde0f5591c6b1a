"""Where a bait begins at its gate and ends at its vent, to a few hundredths of a millimetre."""

from __future__ import annotations

import numpy as np
import pytest
from manifold3d import CrossSection, Manifold

from builder import mesh
from builder.base.problems import Faults
from builder.measure.cavity.void import Mouth, Piece
from builder.measure.features import outlets, records, sizes
from builder.measure.flow_tree import split, venting
from builder.mesh import cuts
from builder.model import Solid
from tests.shapes import box, rod
from tests.test_strangers import measured

Array = np.ndarray
X = np.array([1.0, 0.0, 0.0])
SIDES = 48


def _turned(*profile: tuple[float, float]) -> Manifold:
    """Turned about x; the profile is (place along it, radius)."""
    points = [(profile[0][0], 0.0), *profile, (profile[-1][0], 0.0)]
    area = CrossSection([np.array([(radius, x) for x, radius in points])])
    return Manifold.revolve(area, SIDES).rotate((90.0, 0.0, 90.0))


@pytest.mark.parametrize(
    "slope",
    [0.03, 0.08, 0.15, 0.5],
)
@pytest.mark.parametrize("askew", [0.0, 0.08])
def test_a_gate_that_narrows_and_widens_slowly_is_cut_where_it_is_narrowest(
    slope: float, askew: float
) -> None:
    """From 6 mm before to 6 mm behind the narrowest place, 2.4 mm across, and then the bait."""
    wide = 1.2 + 6.0 * slope
    nozzle = _turned((-6.0, wide), (0.0, 1.2), (6.0, wide), (12.0, 6.0), (30.0, 6.0))
    way = np.array([np.cos(askew), np.sin(askew), 0.0])
    mouth = np.array([-6.0, 0.0, 0.0]), -X
    found = cuts.narrowest(mesh.solid(nozzle, "nozzle"), np.array([0.7, 0.1, 0.0]), way, 3.0, mouth)
    assert found is not None
    assert found.at == pytest.approx((0.0, 0.0, 0.0), abs=0.1)


def test_a_land_of_one_width_is_cut_off_up_to_the_bait() -> None:
    nozzle = _turned((-6.0, 2.0), (0.0, 1.2), (4.0, 1.2), (6.0, 6.0), (30.0, 6.0))
    mouth = np.array([-6.0, 0.0, 0.0]), -X
    found = cuts.narrowest(mesh.solid(nozzle, "nozzle"), np.array([1.0, 0.0, 0.0]), X, 3.0, mouth)
    assert found is not None
    assert found.at == pytest.approx((4.0, 0.0, 0.0), abs=0.05)


ENDS = {
    "blunt": Manifold.sphere(1.0, 96).scale((7.0, 5.0, 2.2)).translate((-7.0, 0.0, 0.0)),
    "pointed": _turned((-20.0, 4.0), (-8.0, 4.0), (-0.96, 1.3), (0.0, 0.02)),
    "sharp": _turned((-20.0, 3.0), (-12.0, 3.0), (0.0, 0.02)),
}


@pytest.mark.parametrize("end", sorted(ENDS))
@pytest.mark.parametrize("deep_mm", [0.15, 0.3])
def test_a_bait_is_as_long_as_drawn_whatever_its_vent_takes_off_or_leaves_on(
    end: str, deep_mm: float
) -> None:
    """The bait ends at x = 0, its vent, 4 mm wide, begins 1 mm before that, in the upper half."""
    bait, vent = ENDS[end], box((-1.0, -2.0, 0.0), (12.0, 2.0, deep_mm))
    section = mesh.section(mesh.solid(vent, "vent"), (12.0 - 1e-6, 0.0, deep_mm / 2), X).parts[0]
    mouth = Mouth(
        at=np.array([12.0, 0.0, deep_mm / 2]),
        normal=X,
        polygon=section,
        area_mm2=4.0 * deep_mm,
    )
    plastic = bait + vent
    cut = venting.first_end(mesh.solid(plastic, "plastic"), mouth)
    assert cut is not None
    inner, outer = cuts.apart(plastic, [cut])
    spans = sizes.spanned_between(inner.body, [(outer.body, cut)], (), mesh.solid(plastic, "plastic"))
    record, _ = records.bait("1", inner.body, spans=spans)
    drawn, _ = records.bait("drawn", bait)
    assert record.length_mm == pytest.approx(drawn.length_mm, abs=0.02)
    assert record.height_mm == pytest.approx(drawn.height_mm, abs=0.01)
    assert record.width_mm == pytest.approx(drawn.width_mm, abs=0.01)


def test_a_bait_of_many_vents_is_not_made_of_ever_more_marks() -> None:
    """Twelve vents along one side; a crumb of the bait hangs beside it, as rounding leaves them."""
    bait = box((0.0, 0.0, -4.0), (48.0, 8.0, 4.0)) + box((0.0, -6.0, 0.0), (0.1, -5.9, 0.1))
    vents = []
    for x in range(2, 48, 4):
        vent = box((x - 0.5, 8.0, 0.0), (x + 0.5, 20.0, 0.2))
        cut = cuts.across(mesh.solid(vent, "vent"), np.array([x, 8.001, 0.1]), np.array([0.0, 1.0, 0.0]))
        assert cut is not None
        vents.append((vent, cut))
    left = outlets.without_vents(bait, vents)
    assert len(mesh.pieces(left)) == 2
    assert len(left.to_mesh64().run_original_id) == 1  # each further vent would double them, and the time


def test_a_narrow_place_is_looked_at_once_however_often_the_plastic_is_parted(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A worm of five beads behind a small one; `new` parts it for each number of baits."""
    chain = ((6.0 * k, 5.0 - 3.0 * (k % 2)) for k in range(-2, 8))
    beads = _turned((-40.0, 4.0), (-26.0, 1.8), (-24.5, 2.8), (-19.5, 2.8), (-17.5, 1.8), *chain)
    area = mesh.section(mesh.solid(beads, "beads"), (-40.0 + 1e-6, 0.0, 0.0), X).parts[0]
    mouth = Mouth(at=np.array([-40.0, 0.0, 0.0]), normal=-X, polygon=area, area_mm2=area.area)
    low, high = mesh.box(beads)
    piece = Piece(
        body=beads, mouths=(mouth,), volume_mm3=beads.volume(), area_mm2=1.0, low=low, high=high, marks={}
    )
    made = split.grown(piece, mouth, 0.5)
    asked: list[tuple[float, ...]] = []

    def narrowest(
        solid: Solid, at: Array, normal: Array, reach_mm: float, mouth: tuple[Array, Array]
    ) -> cuts.Cut | None:
        asked.append((*at, *normal))
        return real(solid, at, normal, reach_mm, mouth)

    real = cuts.narrowest
    monkeypatch.setattr(cuts, "narrowest", narrowest)
    for _ in range(2):
        with pytest.raises(split.Unsure):  # the small bead may feed the others
            split.part(made, 1)
    assert len(asked) >= 1
    assert len(asked) == len(set(asked))


@pytest.mark.slow
@pytest.mark.parametrize("ears_mm", [0.0, 14.0])
def test_a_vent_at_the_round_end_of_a_smaller_upper_half_ends_there(ears_mm: float) -> None:
    """The lower half is 2 mm wider; the vent, 3 mm wide and 0.2 deep, is cut into the upper one."""
    bait = Manifold.sphere(1.0, 64).scale((26.0, 9.0, 8.0))
    feed = rod((-41.0, 0.0, 0.0), (-24.0, 0.0, 0.0), 5.5, 2.0)
    vent = box((25.0, -1.5, 0.0), (45.0, 1.5, 0.2))
    lower = box((-40.0, -22.0, -16.0), (40.0, 22.0, 0.0)) + box(
        (-10.0, -22.0 - ears_mm, -16.0), (20.0, 22.0 + ears_mm, 0.0)
    )
    end = Manifold.cylinder(14.0, 20.0, 20.0, 48).translate((20.0, 0.0, 0.0))
    upper = box((-40.0, -20.0, 0.0), (20.0, 20.0, 14.0)) + end
    found = measured([("lower", "half", lower - bait - feed), ("upper", "half", upper - bait - feed - vent)])
    assert found.baits[0].volume_ml == pytest.approx(bait.volume() / 1000, rel=5e-3)
    assert found.size_mm == pytest.approx((80.0, 44.0 + 2 * ears_mm, 30.0), abs=0.01)
    assert [found.vents[0].depth_mm, found.vents[0].width_mm] == pytest.approx([0.2, 3.0], abs=0.03)
    assert len(found.vents) == 1


@pytest.mark.slow
def test_a_sprue_that_goes_on_through_the_rim_of_a_tray_is_asked_for_and_not_cut_short() -> None:
    """The lid drops into a tray with a rim 4 mm high, with 0.2 mm of play, and the sprue passes both."""
    bait = Manifold.sphere(1.0, 64).scale((26.0, 9.0, 8.0))
    feed = rod((-46.0, 0.0, 0.0), (-24.0, 0.0, 0.0), 5.5, 2.0)
    tray = box((-45.0, -25.0, -16.0), (45.0, 25.0, 4.0)) - box((-40.0, -20.0, 0.0), (40.0, 20.0, 5.0))
    lid = box((-39.8, -19.8, 0.0), (39.8, 19.8, 14.0))
    with pytest.raises(Faults):
        measured([("tray", "half", tray - bait - feed), ("lid", "half", lid - bait - feed)])


def test_a_ring_round_a_core_is_cut_at_its_middle_though_bores_in_the_core_lie_nearer() -> None:
    ring = rod((0.0, 0.0, 0.0), (30.0, 0.0, 0.0), 20.0) - rod((-1.0, 0.0, 0.0), (31.0, 0.0, 0.0), 16.0)
    bores = [rod((0.0, y, 0.0), (30.0, y, 0.0), 4.0) for y in (-8.0, 8.0)]
    solid = mesh.solid(Manifold.compose([ring, *bores]), "plastic")
    cut = cuts.across(solid, np.array([15.0, 0.0, 0.0]), X)
    assert cut is not None
    assert cut.polygon.area == pytest.approx(ring.volume() / 30.0, rel=1e-6)
    bore = cuts.across(solid, np.array([15.0, 8.0, 0.0]), X)
    assert bore is not None
    assert bore.polygon.area == pytest.approx(bores[0].volume() / 30.0, rel=1e-6)
