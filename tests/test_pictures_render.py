"""Pixels against geometry that is known in closed form."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import trimesh
from numpy.typing import NDArray

from builder.model import Solid
from builder.pictures.render import edges, palette, rays
from builder.pictures.render.camera import Camera, Frame, fit, look
from builder.pictures.render.scene import Body, Place, Ruling, inlay, lay
from builder.pictures.render.shading import render
from builder.pictures.render.shape import shape

UPRIGHT = look(0, 90)
Pixels = NDArray[np.uint8]


def solid(mesh: trimesh.Trimesh) -> Solid:
    return Solid(
        name="test", vertices=np.asarray(mesh.vertices, dtype=np.float64), faces=mesh.faces.astype(np.int32)
    )


def from_above(width_px: int, height_px: int, mm_per_px: float) -> Camera:
    right, up, toward = UPRIGHT
    return Camera(
        centre_mm=(0.0, 0.0, 0.0),
        right=right,
        up=up,
        toward=toward,
        mm_per_px=mm_per_px,
        width_px=width_px,
        height_px=height_px,
    )


def drawn(mesh: trimesh.Trimesh, camera: Camera) -> Pixels:
    return render(lay([Body(shape=shape(solid(mesh)), colour="#c08040")]), camera)


def coverage(pixels: Pixels) -> float:
    """Covered area in px: the alpha channel adds up parts of pixels."""
    return float(pixels[..., 3].sum()) / 255


@pytest.fixture(scope="module")
def ball() -> Pixels:
    return drawn(trimesh.creation.icosphere(subdivisions=5, radius=20), from_above(240, 200, 0.25))


def test_a_sphere_is_a_disc_of_its_radius(ball: Pixels) -> None:
    assert coverage(ball) == pytest.approx(math.pi * 80**2, rel=2e-3)


def test_the_edge_of_a_sphere_lies_within_a_pixel_of_its_circle(ball: Pixels) -> None:
    rows, columns = np.mgrid[0:200, 0:240] + 0.5
    away = np.hypot(columns - 120, rows - 100)
    assert (ball[..., 3][away < 79] == 255).all()
    assert (ball[..., 3][away > 81] == 0).all()


def test_an_edge_along_the_pixels_is_drawn_in_fifths_of_a_pixel() -> None:
    for fifths in range(6):
        right = 10 + (fifths - 0.01) * 0.05  # a hundredth of a fifth before the next ray
        for turn in (np.s_[...], np.s_[..., [1, 0, 2]]):
            corners = np.array([[-9.9, -9.9, -1.0], [right, 9.9, 0]])[turn]
            camera = from_above(100, 100, 0.25)
            alpha = drawn(trimesh.creation.box(bounds=corners), camera)[..., 3]
            column, row = camera.project(np.array([[10.01, 0.01, 0.0]])[turn])[0].astype(int)
            assert abs(int(alpha[row, column]) - 51 * fifths) <= 1


def test_a_lying_cylinder_is_a_rectangle_of_length_and_diameter() -> None:
    cylinder = trimesh.creation.cylinder(radius=6, height=40, sections=96)
    cylinder.apply_transform(np.array([[0, 0, 1, 0], [0, 1, 0, 0], [-1, 0, 0, 0], [0, 0, 0, 1]]))
    alpha = drawn(cylinder, from_above(200, 100, 0.25))[..., 3]
    rows, columns = np.flatnonzero(alpha.max(axis=1) > 127), np.flatnonzero(alpha.max(axis=0) > 127)
    assert (columns[0], columns[-1] + 1) == (20, 180)
    assert (rows[0], rows[-1] + 1) == (26, 74)


@pytest.mark.parametrize(("azimuth", "elevation"), [(0, 90), (-20, 52), (40, 10), (200, -35)])
def test_small_balls_are_seen_where_their_centres_project_to(azimuth: float, elevation: float) -> None:
    centres = np.array([[-30.0, 5, 2], [12, -18, 9], [25, 14, -6]])
    for centre in centres:
        corners = np.concatenate([centres - 4, centres + 4])
        camera = fit(corners, look(azimuth, elevation), Frame(width_px=300, tallest_px=240))
        ball = trimesh.creation.icosphere(subdivisions=2, radius=1.5)
        ball.apply_translation(centre)
        alpha = drawn(ball, camera)[..., 3].astype(np.float64)
        rows, columns = np.mgrid[0 : alpha.shape[0], 0 : alpha.shape[1]] + 0.5
        seen = np.array([(columns * alpha).sum(), (rows * alpha).sum()]) / alpha.sum()
        assert np.abs(seen - camera.project(centre[None])[0]).max() < 0.5


def test_the_camera_shows_everything_within_its_margins_and_touches_them() -> None:
    points = np.array([[-50.0, -20, -15], [50, 20, 15], [50, -20, 15], [-50, 20, -15]])
    camera = fit(points, look(-20, 52), Frame(width_px=600, tallest_px=500, margins_px=(80, 30, 10, 20)))
    x, y = camera.project(points).T
    assert (x.min(), x.max()) == pytest.approx((80, 590))
    assert y.min() >= 30 - 1e-6
    assert y.max() <= camera.height_px - 20 + 1e-6


def test_drawing_twice_gives_the_same_bytes(ball: Pixels) -> None:
    again = drawn(trimesh.creation.icosphere(subdivisions=5, radius=20), from_above(240, 200, 0.25))
    assert np.array_equal(ball, again)


def test_a_plate_faces_the_viewer_in_one_even_colour() -> None:
    pixels = drawn(trimesh.creation.box((30, 20, 2)), from_above(160, 120, 0.25))
    inner = pixels[25:95, 25:135].reshape(-1, 4)
    assert np.ptp(inner.astype(int), axis=0).max() <= 1


def test_a_hollow_is_darker_than_the_face_around_it() -> None:
    floor = trimesh.creation.box(bounds=[[-20, -20, -10], [20, 20, -8]])
    well = trimesh.creation.box(bounds=[[-20, -20, -9], [20, 20, 10]]).difference(
        trimesh.creation.cylinder(radius=5, height=30, sections=48)
    )
    block = well.union(floor)
    pixels = drawn(block, from_above(200, 200, 0.25)).astype(int)
    assert pixels[100, 100, :3].sum() < 0.75 * pixels[100, 40, :3].sum()


def test_skin_that_touches_plastic_takes_its_tint_and_no_other_skin_does() -> None:
    plastic = trimesh.creation.cylinder(radius=5, height=8, sections=64)
    block = trimesh.creation.box(bounds=[[-20, -20, -20], [20, 20, 0]])
    half = trimesh.boolean.difference([block, plastic], engine="manifold")
    filled = trimesh.boolean.intersection([block, plastic], engine="manifold")
    body = Body(shape=shape(solid(half)), colour="#808080", inlay=inlay([(solid(filled), "#00ff00")]))
    pixels = render(lay([body]), from_above(200, 200, 0.25)).astype(int)
    rows, columns = np.mgrid[0:200, 0:200] + 0.5
    away = np.hypot(columns - 100, rows - 100)
    green = pixels[..., 1] - pixels[..., 0]
    assert (green[away < 17] > 60).all()
    assert (np.abs(green[(away > 23) & (pixels[..., 3] == 255)]) < 6).all()


def test_a_body_is_seen_where_its_place_puts_it() -> None:
    ball = shape(solid(trimesh.creation.icosphere(subdivisions=3, radius=4)))
    quarter = np.array([[0.0, -1, 0], [1, 0, 0], [0, 0, 1]])
    place = Place(turn=quarter, shift_mm=(10.0, -5.0, 3.0))
    pixels = render(lay([Body(shape=ball, colour="#808080", place=place)]), from_above(200, 200, 0.25))
    rows, columns = np.nonzero(pixels[..., 3] > 127)
    assert (columns.mean() + 0.5, rows.mean() + 0.5) == pytest.approx((140, 120), abs=0.2)
    point = np.array([[1, 2, 3]], dtype=np.float32)
    assert place.back(place.put(point.astype(np.float64)).astype(np.float32)) == pytest.approx(point)


def test_normals_are_round_over_a_sphere_and_sharp_at_a_box() -> None:
    sphere = trimesh.creation.icosphere(subdivisions=4, radius=10)
    outward = np.asarray(sphere.vertices)[sphere.faces] / 10
    assert np.abs(shape(solid(sphere)).normals - outward).max() < 0.01
    box = trimesh.creation.box((3, 2, 1))
    assert shape(solid(box)).normals == pytest.approx(np.repeat(box.face_normals[:, None], 3, axis=1))


def test_the_slow_caster_finds_what_the_fast_one_finds() -> None:
    mesh = trimesh.creation.icosphere(subdivisions=2, radius=10)
    vertices, faces = mesh.vertices.astype(np.float32), mesh.faces.astype(np.int32)
    rng = np.random.default_rng(5)
    origins = np.column_stack([rng.uniform(-11, 11, (400, 2)), np.full(400, 30)]).astype(np.float32)
    down = np.tile(np.array([0, 0, -1], dtype=np.float32), (400, 1))
    fast, slow = rays.FastCaster(vertices, faces), rays.SlowCaster(vertices, faces)
    ours, own = fast.first(origins, down), slow.first(origins, down)
    hit = ours.face >= 0
    assert 200 < hit.sum() < 400
    assert np.array_equal(own.face, ours.face)
    assert own.distance[hit] == pytest.approx(ours.distance[hit], abs=1e-3)
    assert np.abs(own.u[hit] - ours.u[hit]).max() < 1e-3
    assert np.array_equal(own.behind(down), ours.behind(down))
    assert np.array_equal(slow.blocked(origins, down, 25.0), fast.blocked(origins, down, 25.0))


def test_who_asks_for_the_same_triangles_gets_the_same_caster_while_it_is_in_use() -> None:
    vertices, faces = np.eye(3, dtype=np.float32), np.array([[0, 1, 2]], dtype=np.int32)
    one = rays.caster(vertices, faces)
    assert rays.caster(vertices.copy(), faces.copy()) is one
    assert rays.caster(2 * vertices, faces) is not one
    assert rays.caster(vertices, faces[:, ::-1]) is not one


def test_colours_go_to_light_and_back() -> None:
    for colour in (palette.HALF, palette.BAIT, "#000000", "#ffffff"):
        back = palette.srgb(palette.linear(colour)) * 255
        assert "#" + "".join(f"{round(float(c)):02x}" for c in back) == colour


def test_a_rod_thinner_than_a_pixel_is_seen_along_its_whole_length() -> None:
    along = np.array([[-4.0, -16, -8], [4, 16, 8]])
    bar = trimesh.creation.cylinder(radius=0.1, segment=along, sections=24)
    camera = from_above(240, 200, 0.25)
    alpha = drawn(bar, camera)[..., 3]
    ends = camera.project(along)
    steps = np.linspace(ends[0], ends[1], 400)[8:-8]
    for column, row in steps.astype(int):
        assert alpha[row - 1 : row + 2, column - 1 : column + 2].max() > 40


def test_a_part_of_a_view_shows_what_the_whole_view_shows_there() -> None:
    camera = from_above(240, 200, 0.25)
    part = camera.cropped(30, 50, 130, 90)
    assert (part.width_px, part.height_px) == (100, 40)
    points = np.random.default_rng(3).uniform(-20, 20, (50, 3))
    assert camera.project(points) - [30, 50] == pytest.approx(part.project(points), abs=1e-9)


def test_nothing_is_drawn_in_the_margins() -> None:
    plate = lay([Body(shape=shape(solid(trimesh.creation.box((80, 60, 2)))), colour="#c08040")])
    alpha = render(plate, from_above(160, 120, 0.25), (10, 20, 30, 40))[..., 3]
    assert (alpha[20:80, 10:130] == 255).all()
    assert alpha.sum() == 255 * 60 * 120


def test_a_face_with_all_of_the_scene_behind_it_is_lit_as_if_alone() -> None:
    box = trimesh.creation.box((40, 40, 10))
    scene = lay([Body(shape=shape(solid(box)), colour="#808080")])
    camera = from_above(160, 160, 0.25)
    higher = replace(scene, vertices=scene.vertices + np.array([0, 0, 1]))  # no face is outermost
    traced = render(higher, camera)
    assert np.array_equal(render(scene, camera), traced)


def test_lines_on_a_face_lie_as_far_apart_and_are_as_wide_as_told() -> None:
    ruling = Ruling(
        point=np.array([0, 0, 1.0]),
        normal=np.array([0, 0, 1.0]),
        across=(np.array([1.0, 0, 0]),),
        apart_mm=10.0,
        half_mm=0.75,
        colour="#000000",
    )
    plate = Body(
        shape=shape(solid(trimesh.creation.box((60, 40, 2)))), colour="#ffffff", relief=0.0, ruling=ruling
    )
    camera = from_above(280, 200, 0.25)
    row = render(lay([plate]), camera)[100, :, 0].astype(int)
    columns = np.arange(280) + 0.5
    off = np.abs(((columns - 140) * 0.25 + 5) % 10 - 5)
    inside = np.abs(columns - 140) < 115
    assert (row[inside & (off < 0.6)] == 0).all()
    assert (row[inside & (off > 0.9)] == 255).all()


def test_an_edge_between_flat_facets_of_one_plane_is_no_edge() -> None:
    box = shape(solid(trimesh.creation.box((3, 2, 1))))
    assert len(box.edges) == 12
    assert len(np.unique(box.surface)) == 6
    ball = shape(solid(trimesh.creation.icosphere(subdivisions=3)))
    assert len(ball.edges) == 3 * len(ball.faces) / 2
    assert len(np.unique(ball.surface)) == 1


def test_an_open_edge_is_an_edge_of_one_triangle() -> None:
    sheet = Solid(name="sheet", vertices=np.eye(3), faces=np.array([[0, 1, 2]], dtype=np.int32))
    assert sorted(shape(sheet).edges.tolist()) == [[0, 1, 0, 0], [1, 2, 0, 0], [2, 0, 0, 0]]


def test_what_is_told_of_blocks_can_be_changed_pixel_by_pixel() -> None:
    fine = edges.of_blocks(np.array([[1, 2], [3, 4]]), (7, 6))
    fine.reshape(-1)[8] = 9
    assert fine[1].tolist() == [1, 1, 9, 1, 2, 2]
    assert (fine[:, 5].tolist(), fine[6].tolist()) == ([2, 2, 2, 2, 4, 4, 4], [3, 3, 3, 3, 4, 4])
