"""How a part prints, on solids whose answer is plain."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from manifold3d import Manifold

from builder import mesh
from builder.measure.features.printing import flatness_mm, printed
from builder.mesh import turns_deg
from builder.mesh.flat_regions import surface
from builder.model import PartMeasure, PartSpec, Role, Solid
from tests.shapes import box, rod, union
from tests.shapes_demo import flatback_crawler, pond_stick, reed_minnow
from tests.shapes_files import binary_stl, triangles


def measure(shape: Manifold, role: Role = "half") -> PartMeasure:
    solid, vouch = mesh.read(binary_stl(triangles(shape)), "part.stl", "mm")
    part = PartSpec(file="part.stl", path=Path("part.stl"), role=role, name="part")
    return printed(part, solid, mesh.body(solid), vouch)


def turned(angles_deg: tuple[float, float, float]) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """About x, then y, then z."""
    x, y, z = np.radians(angles_deg)
    about_x = np.array([[1, 0, 0], [0, math.cos(x), -math.sin(x)], [0, math.sin(x), math.cos(x)]])
    about_y = np.array([[math.cos(y), 0, math.sin(y)], [0, 1, 0], [-math.sin(y), 0, math.cos(y)]])
    about_z = np.array([[math.cos(z), -math.sin(z), 0], [math.sin(z), math.cos(z), 0], [0, 0, 1]])
    return np.asarray(about_z @ about_y @ about_x)


def test_a_half_lies_on_its_back_with_the_cavity_up_and_nothing_hanging_over() -> None:
    for _, half in reed_minnow().parts:
        found = measure(half)
        assert found.height_mm == pytest.approx(half.bounding_box()[5] - half.bounding_box()[2], abs=1e-3)
        assert found.bed_mm == pytest.approx((165.42, 94.0), abs=0.01)
        assert found.overhang_mm2 == 0


def test_the_upper_half_is_turned_over_and_the_lower_is_left() -> None:
    lower, upper = (measure(half) for _, half in reed_minnow().parts)
    assert turned(lower.print_turn_deg) @ (0, 0, 1) == pytest.approx((0, 0, 1), abs=1e-4)
    assert turned(upper.print_turn_deg) @ (0, 0, 1) == pytest.approx((0, 0, -1), abs=1e-4)


def test_a_half_with_nut_traps_in_a_warped_back_still_lies_on_it() -> None:
    """Standing on an edge, less would hang over; but its layers would cross the cavity."""
    traps = union(box((x, y, 9.0), (x + 12.0, y + 12.0, 15.0)) for x in (5.0, 63.0) for y in (5.0, 33.0))
    half = box((0.0, 0.0, 0.0), (80.0, 50.0, 15.0)) - traps
    found = measure(half.warp(lambda p: (p[0], p[1], p[2] + 2e-5 * p[0] * p[1])))
    assert turned(found.print_turn_deg)[2] == pytest.approx((0, 0, -1), abs=1e-4)
    assert found.overhang_mm2 == pytest.approx(4 * 12.0 * 12.0, rel=0.01)


def test_a_half_with_a_handle_on_its_back_does_not_lie_on_the_handle() -> None:
    half = box((0.0, 0.0, 0.0), (80.0, 50.0, 15.0)) + box((30.0, 20.0, 15.0), (50.0, 30.0, 30.0))
    assert measure(half).overhang_mm2 == 0


def test_an_open_mold_is_printed_as_it_is_poured() -> None:
    found = measure(flatback_crawler().parts[0][1], "open")
    assert turned(found.print_turn_deg) @ (0, 0, 1) == pytest.approx((0, 0, 1), abs=1e-4)
    assert found.overhang_mm2 == 0


@pytest.mark.parametrize("seed", range(4))
def test_the_pose_does_not_depend_on_how_the_part_lies(seed: int) -> None:
    rng = np.random.default_rng(seed)
    half = pond_stick().parts[1][1]
    straight, other = (
        measure(part, "core") for part in (half, half.rotate(tuple(rng.uniform(-180, 180, 3))))
    )
    assert other.bed_mm == pytest.approx(straight.bed_mm, abs=0.01)
    assert other.height_mm == pytest.approx(straight.height_mm, abs=0.01)


@pytest.mark.parametrize(
    "angles", [(10.0, 20.0, 30.0), (180.0, 0.0, 0.0), (0.0, 90.0, 0.0), (-170.0, -90.0, 25.0)]
)
def test_the_turns_give_the_rotation_back(angles: tuple[float, float, float]) -> None:
    assert turned(turns_deg(turned(angles))) == pytest.approx(turned(angles), abs=1e-4)


def test_a_table_hangs_over_by_its_top_unless_it_stands_on_it() -> None:
    legs = union(box((x, y, 0.0), (x + 5, y + 5, 20.0)) for x in (0, 45) for y in (0, 25))
    found = measure(legs + box((0.0, 0.0, 20.0), (50.0, 30.0, 24.0)), "core")
    assert found.overhang_mm2 == 0
    assert turned(found.print_turn_deg) @ (0, 0, 1) == pytest.approx((0, 0, -1), abs=1e-4)


def test_a_ceiling_that_no_pose_avoids_is_counted() -> None:
    """A closed box: whichever way it stands, the inner ceiling hangs over; the least is the smallest face."""
    hollow = box((0.0, 0.0, 0.0), (40.0, 30.0, 20.0)) - box((5.0, 5.0, 5.0), (35.0, 25.0, 15.0))
    assert measure(hollow, "core").overhang_mm2 == pytest.approx(20.0 * 10.0)


@pytest.mark.parametrize(("lean_deg", "hangs"), [(40.0, False), (44.0, False), (46.0, True), (60.0, True)])
def test_45_degrees_from_upright_hang_over_and_less_does_not(lean_deg: float, hangs: bool) -> None:
    """A mushroom with a flared skirt under a rim too narrow to stand on."""
    rise = 10.0 / math.tan(math.radians(lean_deg))
    cone = rod((0, 0, 10.0), (0, 0, 10.0 + rise), 20.0, 30.0)
    foot, tip = rod((0, 0, 0.0), (0, 0, 10.0), 20.0), rod((0, 0, 10.0 + rise), (0, 0, 60.0 + rise), 30.0, 1.0)
    assert (measure(union([foot, cone, tip]), "core").overhang_mm2 > 0) == hangs


def test_the_thinnest_wall_and_the_narrowest_gap_are_found() -> None:
    block = box((0.0, 0.0, 0.0), (60.0, 40.0, 15.0))
    gap = box((10.0, -1.0, 8.0), (11.2, 41.0, 16.0))
    rib = box((30.0, 5.0, 15.0), (30.8, 35.0, 20.0))
    found = measure(block - gap + rib)
    assert found.smallest_feature_mm == pytest.approx(0.8, abs=1e-3)
    assert found.smallest_gap_mm == pytest.approx(1.2, abs=1e-3)


def test_a_plain_block_has_nothing_small() -> None:
    found = measure(box((0.0, 0.0, 0.0), (60.0, 40.0, 15.0)))
    assert (found.smallest_feature_mm, found.smallest_gap_mm) == (None, None)
    assert found.volume_ml == pytest.approx(36.0)
    assert found.area_mm2 == pytest.approx(2 * (60 * 40 + 60 * 15 + 40 * 15))
    assert found.size_mm == pytest.approx((60.0, 40.0, 15.0))


def test_the_parting_face_of_a_true_half_is_flat() -> None:
    for _, half in pond_stick().parts:
        assert measure(half).flatness_mm == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("bow", [0.05, 0.3])
def test_a_bowed_parting_face_is_as_uneven_as_it_is_bowed(bow: float) -> None:
    """z = bow (x / 50)^2 over -50..50: a parabola whose best line is level, so its height is the bow."""
    plate = box((-50.0, -20.0, -12.0), (50.0, 20.0, 0.0)).refine_to_length(2.0)
    bowed = plate.warp_batch(lambda points: points + np.outer(bow * (points[:, 0] / 50) ** 2, [0, 0, 1]))
    assert measure(bowed).flatness_mm == pytest.approx(bow, rel=1e-3)


def test_needles_in_a_wall_do_not_make_the_parting_face_uneven() -> None:
    """Three of them hang together, from four points of the rim down to one in the wall, 0.23 mm deep."""
    rim = [(10.0 + 0.013 * step, 0.0, 0.0) for step in range(4)]
    corners = [
        (x, y, z) for z in (0.0, -10.0) for x, y in ((0.0, 0.0), (20.0, 0.0), (20.0, 20.0), (0.0, 20.0))
    ]
    top = [(0, 8, 3), *((k, k + 1, 3) for k in (8, 9, 10)), (11, 1, 2), (11, 2, 3)]
    front = [
        (0, 12, 8),
        *((k, 12, k + 1) for k in (8, 9, 10)),
        (11, 12, 1),
        (0, 4, 12),
        (4, 5, 12),
        (5, 1, 12),
    ]
    others = [(5, 6, 1), (6, 2, 1), (6, 7, 2), (7, 3, 2), (7, 4, 3), (4, 0, 3), (4, 7, 5), (7, 6, 5)]
    vertices = np.array([*corners, *rim, (7.0, 0.0, -0.23)])
    half = Solid(name="half", vertices=vertices, faces=np.array([*top, *front, *others], np.int32))
    assert mesh.volume_mm3(half) == pytest.approx(4000.0)
    assert flatness_mm(surface(half)) == pytest.approx(0.0, abs=1e-9)


def test_a_core_has_no_parting_face() -> None:
    assert measure(rod((0, 0, -5), (0, 0, 20), 4.0), "core").flatness_mm is None
    assert flatness_mm(surface(mesh.solid(rod((0, 0, 5), (0, 0, 20), 4.0), "rod"))) is None


def test_the_vouch_stays_with_the_part() -> None:
    found = measure(box((0.0, 0.0, 0.0), (60.0, 40.0, 15.0)))
    assert found.vouch.triangles == 12
    assert replace(found, name="other").vouch == found.vouch
