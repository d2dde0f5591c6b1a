"""The gate before the mesh library, vouching, and what is done with solids; all inputs are made here."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from manifold3d import CrossSection, FillRule, Manifold
from numpy.typing import NDArray

from builder import mesh
from builder.base.problems import Faults
from builder.model import Solid
from tests.shapes_files import ascii_stl, binary_stl, triangles

Array = NDArray[np.float64]


def a_box() -> Manifold:
    return Manifold.cube((60.0, 40.0, 20.0))


def a_ball() -> Manifold:
    return Manifold.sphere(20.0, 64)


def read(data: bytes) -> Solid:
    return mesh.read(data, "part.stl", "mm")[0]


def sentence(data: bytes) -> str:
    with pytest.raises(Faults) as raised:
        mesh.read(data, "part.stl", "mm")
    (problem,) = raised.value.problems
    return str(problem)


def with_count(data: bytes, count: int) -> bytes:
    return data[:80] + count.to_bytes(4, "little") + data[84:]


CORNERS = triangles(a_ball())
WHOLE = binary_stl(CORNERS)
BROKEN = {
    "empty": (b"", "the file is empty"),
    "git lfs pointer": (b"version https://git-lfs.github.com/spec/v1\nsize 9\n", "Git LFS pointer"),
    "web page": (b"\n<!DOCTYPE html><html></html>", "a web page"),
    "zip archive": (b"PK\x03\x04" + bytes(200), "a zip archive"),
    "header only": (WHOLE[:60], "ends after 60 bytes"),
    "cut off": (WHOLE[:2000], f"cut off after 2000 bytes (38 facets); expected {len(WHOLE)} bytes"),
    "cut off, begins as text": (binary_stl(CORNERS, b"solid of a cad")[:2000], "cut off after 2000 bytes"),
    "longer than it says": (with_count(WHOLE, len(CORNERS) - 3), "expected"),
    "no facets": (with_count(WHOLE[:84], 0), "holds no facets"),
    "cut off text": (ascii_stl(CORNERS)[:5000], "the text of the file is cut off"),
    "word for a number": (ascii_stl(triangles(a_box())).replace(b"60", b"sixty"), "a corner is not a number"),
    "not a number": (binary_stl(np.where(CORNERS > 19.9, np.nan, CORNERS)), "not a number (NaN or infinite)"),
    "beyond the bed": (binary_stl(CORNERS * 1e7), "from the origin"),
    "inside out": (binary_stl(CORNERS[:, ::-1]), "the mesh is inside out"),
    "half flipped": (binary_stl(np.r_[CORNERS[:9, ::-1], CORNERS[9:]]), "against their neighbours"),
    "twice in the file": (binary_stl(np.concatenate([CORNERS, CORNERS])), "the part lies in the file twice"),
    "flat": (binary_stl(np.concatenate([CORNERS[:9], CORNERS[:9, ::-1]])), "encloses no volume"),
}  # fmt: skip


@pytest.mark.parametrize(("data", "told"), BROKEN.values(), ids=BROKEN.keys())
def test_a_broken_file_is_refused_with_one_sentence_that_names_it(data: bytes, told: str) -> None:
    said = sentence(data)
    assert told in said
    assert said.startswith("part.stl: ")


def test_a_hole_is_told_with_its_place_and_its_width() -> None:
    corners = triangles(Manifold.cylinder(10.0, 5.0, 5.0, 64).translate((100.0, 50.0, 0.0)))
    lid = (corners[:, :, 2] > 9.99).all(axis=1)
    said = sentence(binary_stl(corners[~lid]))
    assert "the mesh has a hole (64 open edges)" in said
    assert "10.00 across" in said
    assert "(100.00, 50.00, 10.00)" in said


def test_text_and_binary_give_the_same_solid() -> None:
    one, two = read(WHOLE), read(ascii_stl(CORNERS))
    assert np.array_equal(one.vertices[one.faces], two.vertices[two.faces])


def test_poles_without_area_and_single_doubled_facets_are_dropped_and_said() -> None:
    pole = np.repeat(CORNERS[:5, :1], 3, axis=1)
    solid, vouch = mesh.read(binary_stl(np.concatenate([CORNERS, pole, CORNERS[7:9]])), "part.stl", "mm")
    assert mesh.volume_mm3(solid) == pytest.approx(a_ball().volume(), rel=1e-6)
    assert vouch.dropped == 7
    assert [note.code for note in vouch.notes] == ["reading.dropped"]


def test_overlapping_bodies_are_counted_once_and_said() -> None:
    corners = np.concatenate([triangles(a_box()), triangles(a_box().translate((30.0, 0.0, 0.0)))])
    solid, vouch = mesh.read(binary_stl(corners), "part.stl", "mm")
    assert mesh.volume_mm3(solid) == pytest.approx(90 * 40 * 20)
    assert (vouch.overlapping_bodies, vouch.notes[0].code) == (2, "reading.overlap")


def test_a_hollow_stays_hollow() -> None:
    corners = np.concatenate(
        [triangles(a_box()), triangles(Manifold.sphere(8.0, 32).translate((30.0, 20.0, 10.0)))[:, ::-1]]
    )
    hollow = Manifold.sphere(8.0, 32).volume()
    assert mesh.volume_mm3(read(binary_stl(corners))) == pytest.approx(a_box().volume() - hollow, rel=1e-6)


def test_each_facet_rounded_on_its_own_still_closes() -> None:
    jitter = np.random.default_rng(1).uniform(-2e-5, 2e-5, CORNERS.shape)
    assert mesh.volume_mm3(read(binary_stl(CORNERS + jitter))) == pytest.approx(a_ball().volume(), rel=1e-4)


@pytest.mark.parametrize(("units", "scale"), [("mm", 1.0), ("cm", 10.0), ("m", 1000.0), ("inch", 25.4)])
def test_units_scale_lengths_as_the_international_yard_agreement_has_it(units: str, scale: float) -> None:
    solid, vouch = mesh.read(binary_stl(triangles(a_box()) / scale), "part.stl", units)  # type: ignore[arg-type]
    assert vouch.size_mm == pytest.approx((60.0, 40.0, 20.0), rel=1e-6)
    assert mesh.volume_mm3(solid) == pytest.approx(48000.0, rel=1e-6)


def test_a_section_of_a_cylinder_is_its_ellipse() -> None:
    """Against the closed form: a plane at an angle t to a cylinder cuts an ellipse of area pi r^2 / cos t."""
    rod = mesh.solid(Manifold.cylinder(80.0, 6.0, 6.0, 720, center=True), "rod")
    tilt = math.radians(35.0)
    section = mesh.section(rod, (0.0, 0.0, 0.0), (math.sin(tilt), 0.0, math.cos(tilt)))
    assert section.polygons.area == pytest.approx(math.pi * 36 / math.cos(tilt), rel=1e-4)
    diameter, centre = mesh.inscribed(section.polygons.geoms[0])
    assert diameter == pytest.approx(12.0, abs=5e-3)
    assert section.lift(centre) == pytest.approx(np.zeros(3), abs=1e-2)


def test_a_section_through_a_pipe_has_its_bore() -> None:
    pipe = Manifold.cylinder(50.0, 10.0, 10.0, 360) - Manifold.cylinder(50.0, 7.0, 7.0, 360)
    section = mesh.section(mesh.solid(pipe, "pipe"), (0.0, 0.0, 25.0), (0.0, 0.0, 1.0))
    assert len(section.polygons.geoms[0].interiors) == 1
    assert mesh.inscribed(section.polygons.geoms[0])[0] == pytest.approx(3.0, abs=1e-2)


def test_the_circle_in_a_slit_that_rounding_tapers_is_not_followed_along_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A slit of 0.5 mm, 120 mm long, whose sides come together by 1e-11 mm."""
    left, right = 1.204304e-05, 0.50001204304
    one, two = (
        [(left + 1e-11, 59.9989), (right + 1e-11, 59.9989)],
        [(right + 1e-11, 55.5546), (right, -59.999)],
    )
    slit = shapely.Polygon([*one, *two, (left - 1e-11, -59.999), (left, -55.3833)])
    asked: list[object] = []
    real = shapely.distance

    def distance(rim: shapely.Geometry, points: Array) -> Array:
        asked.append(points)
        return np.asarray(real(rim, points))

    monkeypatch.setattr(shapely, "distance", distance)
    assert mesh.inscribed(slit)[0] == pytest.approx(0.5, abs=1e-3)
    assert len(asked) < 200


def test_a_section_agrees_with_shapely_on_an_extruded_polygon() -> None:
    star = shapely.Polygon([(0, 0), (30, 4), (22, 12), (28, 30), (12, 18), (2, 26)])
    body = mesh.prism(mesh.rings(star), -5.0, 5.0)
    section = mesh.section(mesh.solid(body, "star"), (0.0, 0.0, 1.0), (0.0, 0.0, 1.0))
    back = shapely.transform(section.polygons, lambda points: section.lift(points)[:, :2])
    assert back.symmetric_difference(star).area < 1e-9


SQUARE = [(0, 0), (10, 0), (10, 10)]
FOLDED = {
    "over an edge": [*SQUARE, (5, 10), (5, 10.5), (4, 10.2), (5.2, 9.9), (5.2, 11), (4, 10.4), (0, 10)],
    "back and forth": [
        *SQUARE, (6, 10), (6, 10.2), (4, 10.5), (6.1, 10.1), (6.2, 9.9), (6.3, 10.3), (4, 10.5), (0, 10)
    ],
}  # fmt: skip


@pytest.mark.parametrize("ring", FOLDED.values(), ids=FOLDED.keys())
def test_a_section_whose_outline_folds_over_itself_keeps_all_its_area(
    ring: list[tuple[float, float]],
) -> None:
    """Against another library, which fills what an outline runs round in its own sense."""
    count, flat = len(ring), np.array(ring, float)
    one = np.arange(count)
    two = (one + 1) % count
    wall = Solid(
        name="wall",
        vertices=np.concatenate([np.c_[flat, np.zeros(count)], np.c_[flat, np.ones(count)]]),
        faces=np.concatenate([np.c_[one, two, two + count], np.c_[one, two + count, one + count]]).astype(
            np.int32
        ),
    )
    section = mesh.section(wall, (0.0, 0.0, 0.5), (0.0, 0.0, 1.0))
    assert section.polygons.area == pytest.approx(CrossSection([ring], FillRule.Positive).area(), rel=1e-6)
    assert mesh.inscribed(section.polygons.geoms[0])[0] == pytest.approx(10.0, rel=0.002)


def test_outlines_that_a_box_cut_open_do_not_hide_the_ones_that_close() -> None:
    rod, bar = (
        Manifold.cylinder(20.0, 3.0, 3.0, 64),
        Manifold.cube((5.0, 5.0, 20.0)).translate((10.0, 0.0, 0.0)),
    )
    whole = mesh.solid(rod + bar, "both")
    left = (whole.vertices[whole.faces].mean(axis=1) @ [1.0, 0.0, 0.0]) < 14.0
    torn = Solid(name="torn", vertices=whole.vertices, faces=whole.faces[left])
    section = mesh.section(torn, (0.0, 0.0, 10.0), (0.0, 0.0, 1.0))
    assert section.polygons.area == pytest.approx(rod.volume() / 20.0, rel=1e-6)
