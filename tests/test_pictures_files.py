"""Photos, the social picture, QR codes, open edges and the places of labels."""

from __future__ import annotations

import io
import math
import re
import warnings
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
import segno
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageCms

from builder.base.problems import Faults
from builder.pictures import draw_open_edges, photos
from builder.pictures.open_edges import towards
from builder.pictures.picture_set import rendered
from builder.pictures.social import ascii_only, social, write_card
from builder.pictures.views.callouts import COLUMNS, ROW_PX, arrange, crosses
from builder.pictures.views.plain import open_view
from builder.pictures.views.shapes import mold_shapes
from builder.site.qr import qr_svg
from tests.picture_mold import SPEC, reading

ORIENTATION, MODEL, GPS = 0x0112, 0x0110, 0x8825


def photo(path: Path, width: int = 400, height: int = 300, orientation: int = 6) -> None:
    """Blue on the left half, red on the right, as the sensor saw it; with all that a camera adds."""
    image = Image.new("RGB", (width, height), "red")
    image.paste("blue", (0, 0, width // 2, height))
    exif = Image.Exif()
    exif[ORIENTATION], exif[MODEL] = orientation, "SECRET-CAMERA"
    exif.get_ifd(GPS)[1] = "N"
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    xmp = b"<x:xmpmeta>SECRET-PLACE</x:xmpmeta>"
    image.save(path, "JPEG", exif=exif, icc_profile=profile, comment=b"SECRET-NOTE", xmp=xmp, quality=95)


def test_a_photo_is_turned_upright_and_leaves_everything_but_its_pixels_behind(tmp_path: Path) -> None:
    photo(tmp_path / "me.jpg")
    assert b"SECRET-CAMERA" in (tmp_path / "me.jpg").read_bytes()
    (made,) = photos(replace(SPEC, photos=("me.jpg",)), [(tmp_path / "me.jpg").read_bytes()], tmp_path)
    assert (made.width_px, made.height_px) == (300, 400)
    data = (tmp_path / made.files[300]).read_bytes()
    for secret in (b"SECRET", b"EXIF", b"Exif", b"XMP ", b"ICCP", b"xmpmeta"):
        assert secret not in data
    with Image.open(io.BytesIO(data)) as image:
        top, bottom = (image.convert("RGB").getpixel((150, y)) for y in (50, 350))
    assert isinstance(top, tuple)
    assert isinstance(bottom, tuple)
    assert top[2] > 200  # blue: orientation 6 has the sensor's left side up
    assert top[0] < 60
    assert bottom[0] > 200
    assert bottom[2] < 60


@pytest.mark.parametrize("orientation", range(1, 9))
def test_every_orientation_ends_upright(orientation: int, tmp_path: Path) -> None:
    photo(tmp_path / "me.jpg", orientation=orientation)
    (made,) = photos(replace(SPEC, photos=("me.jpg",)), [(tmp_path / "me.jpg").read_bytes()], tmp_path)
    assert (made.width_px, made.height_px) == ((300, 400) if orientation > 4 else (400, 300))


def test_a_large_photo_is_written_in_widths_for_a_page(tmp_path: Path) -> None:
    photo(tmp_path / "me.jpg", width=2400, height=1600, orientation=1)
    (made,) = photos(replace(SPEC, photos=("me.jpg",)), [(tmp_path / "me.jpg").read_bytes()], tmp_path)
    assert list(made.files) == [480, 800, 1600]
    assert (made.width_px, made.height_px) == (1600, 1067)


@pytest.mark.parametrize(
    "tag", [b"\x12\x01\x03\x00\x01", b"\x12\x01\x02\x00\xff\xff\x00\x00\xff\xff" + bytes(6)]
)
def test_a_damaged_tag_of_a_photo_is_passed_over_without_a_word(tmp_path: Path, tag: bytes) -> None:
    """What the decoders say of it names files of this machine, and none of the maker's."""
    data = io.BytesIO()
    exif = b"Exif\x00\x00II*\x00\x08\x00\x00\x00\x01\x00" + tag
    Image.new("RGB", (64, 48)).save(data, "JPEG", exif=exif)
    with warnings.catch_warnings(record=True) as said:
        warnings.simplefilter("always")
        (picture,) = photos(replace(SPEC, photos=("a.jpg",)), [data.getvalue()], tmp_path)
    assert said == []
    assert (picture.width_px, picture.height_px) == (64, 48)


def test_all_files_that_are_no_photo_are_told_at_once(tmp_path: Path) -> None:
    (tmp_path / "a.jpg").write_bytes(b"not a picture")
    photo(tmp_path / "b.jpg")
    (tmp_path / "b.jpg").write_bytes((tmp_path / "b.jpg").read_bytes()[:900])
    photo(tmp_path / "c.jpg")
    contents = [(tmp_path / f"{name}.jpg").read_bytes() for name in "abc"]
    spec = replace(SPEC, photos=("a.jpg", "b.jpg", "c.jpg", "d.jpg"), line_of={"photos": 9})
    with pytest.raises(Faults) as caught:
        photos(spec, [*contents, b""], tmp_path)
    told = [str(problem) for problem in caught.value.problems]
    assert [re.search(r"\w\.jpg", text)[0] for text in told] == ["a.jpg", "b.jpg", "d.jpg"]  # type: ignore[index]
    assert all(text.startswith("test-minnow/mold.yaml:9, key photos: ") for text in told)


def test_the_social_picture_has_its_size_its_title_and_no_metadata(tmp_path: Path) -> None:
    shapes = mold_shapes(reading(around=24))
    made = social(shapes, open_view(shapes), *rendered(open_view(shapes), 4), tmp_path)
    assert write_card(made, tmp_path, SPEC.title, tmp_path) == made.files[1200]
    with Image.open(tmp_path / made.files[1200]) as image:
        assert image.format == "JPEG"
        assert image.size == (1200, 630)
        assert "exif" not in image.info
        column = np.array(image.convert("L"))[:, :380]
    with_words = [int(row.min()) < 110 for row in column]
    assert 40 < sum(with_words) < 300
    assert (tmp_path / made.files[1200]).stat().st_size < 150_000


def test_a_title_in_letters_that_the_font_lacks_is_left_out() -> None:
    assert ascii_only("Sandbar Żółw – 5×") == "Sandbar Zolw - 5x"
    assert ascii_only("川") == ""


def test_the_qr_code_holds_exactly_the_modules_of_the_symbol() -> None:
    address = "https://example.org/molds/reed-minnow.html"
    path = re.findall(r'class="qrline"[^>]* d="([^"]+)"', qr_svg(address))[0]
    drawn = np.zeros((100, 100), dtype=bool)
    x = y = 0.0
    for kind, first, second in re.findall(r"([Mmh])(-?[\d.]+)(?: (-?[\d.]+))?", path):
        if kind == "h":
            drawn[int(y), int(x) : int(x) + int(first)] = True
            x += float(first)
        else:
            x, y = (float(first), float(second)) if kind == "M" else (x + float(first), y + float(second))
    symbol = np.array(segno.make(address, error="m", micro=False).matrix, dtype=bool)
    size = len(symbol)
    assert np.array_equal(drawn[4 : 4 + size, 4 : 4 + size], symbol)
    assert drawn.sum() == symbol.sum()


@pytest.mark.slow
def test_a_hole_in_a_mesh_is_drawn_with_its_edges_in_colour(tmp_path: Path) -> None:
    ball = trimesh.creation.icosphere(subdivisions=3, radius=10)
    away = np.linalg.norm(ball.triangles_center - [0, -10, 0], axis=1)
    made = draw_open_edges(np.asarray(ball.triangles)[away > 4], "ball.stl", tmp_path)
    assert made is not None
    around = trimesh.Trimesh(ball.vertices, ball.faces[away > 4], process=False)
    boundary = trimesh.grouping.group_rows(around.edges_sorted, require_count=1)  # type: ignore[no-untyped-call]
    assert made.alt.values["edges"].value == len(boundary)  # type: ignore[union-attr]
    assert made.alt.values["y"].value == pytest.approx(-9.2, abs=0.4)  # type: ignore[union-attr]
    with Image.open(tmp_path / made.files[1200]) as image:
        pixels = np.array(image.convert("RGBA")).astype(int)
    pink = (pixels[..., 0] - pixels[..., 1] > 70) & (pixels[..., 3] == 255)
    assert 5_000 < pink.sum() < 100_000


@pytest.mark.slow
def test_a_single_missing_triangle_is_pointed_at_so_that_it_is_seen_on_a_phone(tmp_path: Path) -> None:
    ball = trimesh.creation.icosphere(subdivisions=4, radius=10)
    lost = int(np.argmin(np.linalg.norm(ball.triangles_center - [0, -9, 4], axis=1)))
    made = draw_open_edges(np.delete(np.asarray(ball.triangles), lost, axis=0), "ball.stl", tmp_path)
    assert made is not None
    with Image.open(tmp_path / made.files[480]) as image:
        pixels = np.array(image.convert("RGBA")).astype(int)
    pink = (pixels[..., 0] - pixels[..., 1] > 70) & (pixels[..., 3] == 255)
    rows, columns = np.nonzero(pink)
    assert np.ptp(rows) > 25
    assert np.ptp(columns) > 10


@pytest.mark.parametrize("way", [(0, 0, -1), (0, 0, 1), (1, 0, 0), (0, -1, 0)])
def test_a_missing_face_is_looked_into_from_its_own_side(way: tuple[int, int, int]) -> None:
    box = trimesh.creation.box((40, 30, 20))
    left = np.asarray(box.triangles)[box.face_normals @ way < 0.5]
    _, _, toward = towards(left, np.arange(4))
    assert np.dot(toward, way) > 0.6  # less than 53 degrees aslant


def test_a_closed_mesh_has_no_picture_of_open_edges(tmp_path: Path) -> None:
    ball = trimesh.creation.icosphere(subdivisions=2, radius=10)
    assert draw_open_edges(np.asarray(ball.triangles), "ball.stl", tmp_path) is None


point = st.tuples(st.floats(0, 1200), st.floats(160, 640))


@settings(max_examples=60, deadline=None)
@given(st.lists(point, min_size=1, max_size=2 * COLUMNS, unique=True))
def test_every_label_has_a_place_of_its_own_in_a_row(anchors: list[tuple[float, float]]) -> None:
    lines = arrange([[at] for at in anchors], 1200, 800)
    places = [start for start, _ in lines]
    assert [end for _, end in lines] == anchors
    assert len(set(places)) == len(anchors)
    assert {y for _, y in places} <= {ROW_PX - 12.0, 800 - ROW_PX + 12.0}
    assert all(x in {150.0, 450.0, 750.0, 1050.0} for x, _ in places)


def test_leaders_of_a_mold_with_everything_do_not_cross() -> None:
    below, above = [(300.0, 380.0), (80.0, 600.0)], [(620.0, 250.0), (100.0, 200.0)]
    anchors = [[at] for at in ((40.0, 400.0), *below, *above, (900.0, 405.0))]
    bar = ((250.0, 250.0), (990.0, 250.0))
    lines = arrange([*anchors, [(1150.0, 400.0), (1100.0, 600.0)]], 1200, 800, bars=[bar])
    assert not any(crosses(one, other) for one, other in combinations(lines, 2))
    assert not any(crosses(line, bar) for line in lines[:-1])


def test_a_leader_goes_to_the_nearest_of_things_alike() -> None:
    one, other = arrange([[(500.0, 300.0)], [(200.0, 200.0), (200.0, 610.0)]], 1200, 800)
    assert one == ((450.0, ROW_PX - 12.0), (500.0, 300.0))
    assert other == ((150.0, 800 - ROW_PX + 12.0), (200.0, 610.0))


@settings(max_examples=60, deadline=None)
@given(point, point)
def test_a_leader_goes_to_its_bar_from_where_it_is_near(
    start: tuple[float, float], end: tuple[float, float]
) -> None:
    """Rounding the point on the bar must not make the leader cross it, which sent it the long way round."""
    middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
    ((place, at),) = arrange([], 1200, 800, bars=[(start, end)])
    nearest = min(math.dist((x, ROW_PX - 12.0), middle) for x in (150, 450, 750, 1050))
    assert math.dist(place, at) <= nearest + 0.1


def test_more_labels_than_places_are_refused() -> None:
    with pytest.raises(ValueError, match="9 labels, but there is room for 8"):
        arrange([[(float(x), 400.0)] for x in range(9)], 1200, 800)
