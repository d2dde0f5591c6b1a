"""The set of a mold: complete, the same bytes every time, true to the measurement, light for a page."""

from __future__ import annotations

import base64
import hashlib
import math
import os
import pickle
import re
import subprocess
import sys
from dataclasses import replace
from itertools import combinations
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
import yaml
from PIL import Image

import builder
from builder import mesh
from builder.base import texts, units
from builder.model import Deciding, EyeSocket, Label, Picture, Reading
from builder.pictures import draw, slow_note, to_give, write_card
from builder.pictures.picture_set import drawn, frame
from builder.pictures.render import palette, rays
from builder.pictures.render.camera import fit
from builder.pictures.render.scene import thickness
from builder.pictures.views import annotated, callouts, cuts
from builder.pictures.views.plain import View, bait_view, open_view
from builder.pictures.views.shapes import MoldShapes, mold_shapes
from builder.pictures.views.symbols import rod
from builder.site import site_map
from builder.stages import described
from tests.picture_mold import MOUTH_MM, SPEC, TRUNK_MM, reading

NAMES = ["open", "closed", "exploded", "bait", "shot", "annotated", "thickness", "cut", "print", "social"]
COARSE = 3


@pytest.fixture(scope="module")
def read() -> Reading:
    return reading()


@pytest.fixture(scope="module")
def shapes(read: Reading) -> MoldShapes:
    return mold_shapes(read)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("pictures")


@pytest.fixture(scope="module")
def pictures(read: Reading, folder: Path) -> dict[str, Picture]:
    made = described(draw(SPEC.slug, read, None, folder, coarse=COARSE), SPEC.title)
    write_card(made[-1], folder, SPEC.title, folder)
    return {picture.name: picture for picture in made}


def digests(folder: Path) -> dict[str, str]:
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in sorted(folder.iterdir())}


def cut(shapes: MoldShapes) -> View:
    view = cuts.deciding_view(shapes)
    assert view is not None
    return view


def test_every_kind_of_picture_is_there_with_its_files(pictures: dict[str, Picture], folder: Path) -> None:
    assert list(pictures) == NAMES
    for picture in pictures.values():
        for width, file in picture.files.items():
            with Image.open(folder / file) as image:
                assert image.width == width
                assert image.height == pytest.approx(width * picture.height_px / picture.width_px, abs=1.5)
                assert not image.info.get("exif")
                assert not image.info.get("icc_profile")


@pytest.mark.slow
def test_another_process_on_one_core_writes_the_same_bytes(
    pictures: dict[str, Picture], folder: Path, read: Reading, tmp_path: Path
) -> None:
    assert pictures
    stored, again = tmp_path / "reading", tmp_path / "again"
    stored.write_bytes(pickle.dumps(read))
    again.mkdir()
    script = (
        "import os, pickle, sys; from pathlib import Path;"
        "hasattr(os, 'sched_setaffinity') and os.sched_setaffinity(0, {min(os.sched_getaffinity(0))});"
        "from builder.pictures import draw, write_card;"
        "from tests.picture_mold import SPEC;"
        "read, folder = pickle.loads(Path(sys.argv[1]).read_bytes()), Path(sys.argv[2]);"
        f"made = draw(SPEC.slug, read, None, folder, coarse={COARSE});"
        "write_card(made[-1], folder, SPEC.title, folder)"
    )
    root = Path(builder.__file__).parent.parent
    environment = os.environ | {"PYTHONPATH": str(root), "PYTHONHASHSEED": "7"}
    subprocess.run([sys.executable, "-c", script, stored, again], check=True, env=environment)
    assert digests(again) == digests(folder)


@pytest.mark.parametrize("language", ["en", "de"])
def test_every_picture_is_described_in_words_with_its_numbers(
    pictures: dict[str, Picture], language: str
) -> None:
    file = Path(builder.__file__).parent / "texts" / f"{language}.yaml"
    said = texts.Texts(
        language=language, entries=dict(texts.flatten(yaml.safe_load(file.read_text(encoding="utf-8"))))
    )
    told = {name: said.finding(picture.alt).replace("\u00a0", " ") for name, picture in pictures.items()}
    assert all(text.startswith("Test minnow") for text in told.values())
    mark = "." if language == "en" else ","
    assert f"81{mark}0 mm" in told["annotated"]
    assert f"2{mark}60 mm" in told["cut"]
    for picture in pictures.values():
        assert all(said.say(label.name) for label in picture.labels if label.name)


def test_the_labels_hold_the_measured_figures(pictures: dict[str, Picture], read: Reading) -> None:
    m = read.measurement
    figures = {label.name: label.figure for label in pictures["annotated"].labels}
    shown = {name.rsplit(".", 1)[-1]: figure.value for name, figure in figures.items() if figure}
    assert shown == {
        "thinnest": TRUNK_MM,
        "sprue": MOUTH_MM,
        "vent": m.vents[0].depth_mm,
        "bolt": m.bolts[0].diameter_mm,
        "pin": m.pins[0].diameter_mm,
        "length": m.baits[0].length_mm,
    }


def test_each_tint_of_the_shot_is_pointed_out_where_it_is_seen(
    pictures: dict[str, Picture], read: Reading, folder: Path
) -> None:
    picture, m = pictures["shot"], read.measurement
    assert m.sprue is not None
    told = {label.name.rsplit(".", 1)[-1]: label.figure and label.figure.value for label in picture.labels}
    volumes = {"bait": m.baits[0].volume_ml, "sprue_plastic": m.sprue.volume_ml}
    assert told == volumes | {"runner": m.runner.volume_ml, "vent_plastic": None}
    tints = (palette.BAIT, palette.SPRUE, palette.RUNNER, palette.VENT)
    hues = np.stack([palette.linear(tint) / np.linalg.norm(palette.linear(tint)) for tint in tints])
    with Image.open(folder / picture.files[max(picture.files)]) as image:
        pixels = np.array(image.convert("RGB"))
    dots = re.findall(r'class="sb-dot" cx="([\d.]+)" cy="([\d.]+)"', picture.overlay_svg or "")
    for kind, (x, y) in enumerate(dots):
        r, g, b = pixels[int(float(y) / COARSE), int(float(x) / COARSE)]
        light = palette.linear(f"#{r:02x}{g:02x}{b:02x}")
        assert np.argmax(hues @ light) == kind


@pytest.mark.parametrize("language", ["en", "de"])
def test_no_label_runs_into_another_nor_out_of_the_picture_nor_over_what_is_drawn(
    pictures: dict[str, Picture], language: str
) -> None:
    """A letter is taken as 0.62 of the type's height wide: bold figures in common sans serifs are less."""
    said = site_map.texts(language)
    for picture in pictures.values():
        boxes = []
        for label in picture.labels:
            lines = [label.name and said.say(label.name), *_written(label, language)]
            lines = [line for line in lines if line]
            wide = max(map(len, lines)) * 0.62 * callouts.TYPE_PX
            left = label.x_px - (wide / 2 if label.align == "middle" else 0)
            top = label.y_px - callouts.TYPE_PX
            low = top + callouts.TYPE_PX + (len(lines) - 1) * callouts.LINE_PX
            boxes.append((left, top, left + wide, low))
        for left, top, right, low in boxes:
            assert left >= 0 and top >= 0 and right <= picture.width_px and low <= picture.height_px
        for one, other in combinations(boxes, 2):
            assert one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
        for x, y in re.findall(r'<circle[^>]*cx="([\d.]+)" cy="([\d.]+)"', picture.overlay_svg or ""):
            assert not any(b[0] < float(x) < b[2] and b[1] < float(y) < b[3] for b in boxes)


def test_a_picture_with_words_is_given_away_as_a_file_of_its_own_with_the_words(
    pictures: dict[str, Picture], folder: Path
) -> None:
    files = {path.name: path.read_bytes() for path in folder.iterdir()}
    said = site_map.texts("en")
    given = to_give(tuple(pictures.values()), files, said)
    kinds = {name.split(".")[0].split("-")[0]: name.rsplit(".", 1)[1] for name in given}
    assert [name for name, kind in kinds.items() if kind == "svg"] == [
        name for name in NAMES if pictures[name].labels
    ]
    svg = ElementTree.fromstring(given["annotated.svg"])
    written = [span.text for span in svg.iter("{http://www.w3.org/2000/svg}tspan")]
    assert written[:3] == ["Thinnest", "2.60\u00a0mm", "0.102\u00a0in"]
    assert len(written) == sum(1 if mark.figure is None else 3 for mark in pictures["annotated"].labels)
    title = svg.find("{http://www.w3.org/2000/svg}title")
    assert title is not None
    assert title.text == said.finding(pictures["annotated"].alt)
    image = svg.find("{http://www.w3.org/2000/svg}image")
    assert image is not None
    data = base64.b64decode(image.attrib["href"].removeprefix("data:image/webp;base64,"))
    assert data == files[pictures["annotated"].files[max(pictures["annotated"].files)]]


def _written(label: Label, language: str) -> tuple[str, ...]:
    """The lines of a label's figure: metric, and US where that differs."""
    if label.figure is None:
        return ()
    both = units.show(label.figure, language)
    return tuple(dict.fromkeys((both.metric.value, both.us.value)))


def test_the_length_line_is_as_long_as_the_measured_bait(shapes: MoldShapes, read: Reading) -> None:
    view = annotated.annotated_view(shapes)
    camera = fit(np.concatenate([body.points() for body in view.bodies]), view.axes, frame(view))
    (line,) = view.notes.dimensions
    start, end = camera.project(np.array([line.from_mm, line.to_mm]))
    drawn_mm = float(np.linalg.norm(end - start)) * camera.mm_per_px
    assert drawn_mm == pytest.approx(read.measurement.baits[0].length_mm, abs=1e-6)


def test_rings_in_the_overlay_lie_on_the_bolt_holes_of_the_picture(
    pictures: dict[str, Picture], folder: Path
) -> None:
    picture = pictures["annotated"]
    rings = re.findall(r'<circle cx="([\d.]+)" cy="([\d.]+)" r="11.0"', picture.overlay_svg or "")
    with Image.open(folder / picture.files[max(picture.files)]) as image:
        alpha = np.array(image.convert("RGBA"))[..., 3]
    clear = {(x, y) for x, y in rings if alpha[int(float(y) / COARSE), int(float(x) / COARSE)] == 0}
    assert len(clear) == 3  # four bolt holes, one of which carries the label


def test_the_circle_in_the_cut_is_the_bait_s_section(
    shapes: MoldShapes, pictures: dict[str, Picture], folder: Path
) -> None:
    view = cut(shapes)
    assert view.focus is not None
    camera = fit(view.focus, view.axes, frame(view))
    with Image.open(folder / pictures["cut"].files[max(pictures["cut"].files)]) as image:
        pixels = np.array(image.convert("RGBA")).astype(int)
    green = (pixels[..., 1] - pixels[..., 0] > 40) & (pixels[..., 3] == 255)
    area_mm2 = green.sum() * (camera.mm_per_px * COARSE) ** 2
    assert area_mm2 == pytest.approx(math.pi / 4 * TRUNK_MM**2, rel=0.03)
    (circle,) = view.notes.circles
    rows, columns = np.nonzero(green)
    middle = np.array([columns.mean() + 0.5, rows.mean() + 0.5]) * COARSE
    assert middle == pytest.approx(camera.project(np.array([circle.at_mm]))[0], abs=COARSE)
    assert circle.diameter_mm == TRUNK_MM


def test_sizes_on_the_printer_are_those_of_the_parts(shapes: MoldShapes, read: Reading) -> None:
    lines = annotated.print_view(shapes).notes.dimensions
    for line in lines:
        assert math.dist(line.from_mm, line.to_mm) == pytest.approx(line.figure.value, abs=1e-6)
    shown = {round(line.figure.value, 6) for line in lines}
    assert shown == {round(size, 6) for part in read.measurement.parts for size in part.size_mm}


def test_parts_stand_on_the_ground_of_the_printer(shapes: MoldShapes) -> None:
    *parts, ground = annotated.print_view(shapes).bodies
    for part in parts:
        assert part.points()[:, 2].min() == pytest.approx(0, abs=1e-9)
        assert (part.points()[:, :2].min(axis=0) > ground.points()[:, :2].min(axis=0)).all()
        assert (part.points()[:, :2].max(axis=0) < ground.points()[:, :2].max(axis=0)).all()
    assert np.ptp(ground.points()[:, :2], axis=0) % 10 == pytest.approx(0, abs=1e-9)


def test_sprue_and_runner_are_told_apart_where_the_measured_sprue_ends(
    shapes: MoldShapes, read: Reading
) -> None:
    _, sprue, runner, _ = shapes.plastic
    assert read.measurement.sprue is not None
    assert mesh.volume_mm3(sprue.solid) == pytest.approx(read.measurement.sprue.volume_ml * 1000, rel=1e-4)
    both = mesh.volume_mm3(sprue.solid) + mesh.volume_mm3(runner.solid)
    assert read.geometry.runner is not None
    assert both == pytest.approx(mesh.volume_mm3(read.geometry.runner), rel=1e-6)


def test_thickness_is_the_ball_that_fits_under_the_skin() -> None:
    plate = rod(np.array([0.0, 0, -1.5]), np.array([0.0, 0, 1.5]), 20.0, sides=96)
    caster = rays.caster(plate.vertices.astype(np.float32), plate.faces)
    skin = np.array(
        [[0.0, 0, 1.5], [10, 5, 1.5], [20 * math.cos(math.pi / 96), 20 * math.sin(math.pi / 96), 0]]
    )
    out = np.array([[0, 0, 1.0], [0, 0, 1], [math.cos(math.pi / 96), math.sin(math.pi / 96), 0]])
    deep = thickness(caster, skin.astype(np.float32), out.astype(np.float32), 50.0)
    assert deep == pytest.approx([3, 3, 3], rel=0.06)  # in the middle, off it, and on the rim


@pytest.mark.slow
def test_a_page_s_pictures_are_light(shapes: MoldShapes, tmp_path: Path) -> None:
    """Ten pictures of 25 kB and the shell of about 300 kB stay under the 600 kB that a page may weigh."""
    for view in (open_view(shapes), cut(shapes)):  # the two with the most to show
        picture = drawn(view, tmp_path)
        assert (tmp_path / picture.files[800]).stat().st_size < 25_000
        assert (tmp_path / picture.files[1200]).stat().st_size < 40_000


def test_the_data_for_looking_round_comes_with_the_first_picture(
    pictures: dict[str, Picture], folder: Path
) -> None:
    turnable = pictures["open"].turnable
    assert turnable is not None
    assert turnable.size_bytes == (folder / turnable.file).stat().st_size < 500_000
    assert turnable.error_mm <= 0.05


def test_without_embreex_the_set_is_drawn_coarser_and_a_note_says_so(
    shapes: MoldShapes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert slow_note() is None
    monkeypatch.setattr(rays, "EmbreeScene", None)
    note = slow_note()
    assert note is not None
    assert note.code == "pictures.slow"
    picture = drawn(bait_view(mold_shapes(reading(around=24))), tmp_path, coarse=6)
    monkeypatch.undo()
    assert picture.width_px == 1200
    with Image.open(tmp_path / picture.files[200]) as image:
        slow = np.array(image.convert("RGBA"))[..., 3] > 127
    picture = drawn(bait_view(shapes), tmp_path, coarse=6)
    with Image.open(tmp_path / picture.files[200]) as image:
        fast = np.array(image.convert("RGBA"))[..., 3] > 127
    assert slow.shape == fast.shape
    assert (slow != fast).mean() < 0.01


def test_the_cut_goes_where_the_advice_says_that_filling_is_decided(read: Reading) -> None:
    gate = read.measurement.baits[0].paths[0].stations[0]
    decided = mold_shapes(read, Deciding(path="1a", bait="1", station=gate))
    at_gate, at_trunk = cuts.deciding_view(decided), cuts.thinnest_view(decided)
    assert at_gate is not None
    assert at_trunk is not None
    assert at_gate.alt.code == "pictures.alt.cut_deciding"
    assert at_gate.notes.circles[0].at_mm[0] == pytest.approx(gate.at_mm[0], abs=0.06)
    assert at_trunk.notes.circles[0].at_mm[0] == pytest.approx(29.5, abs=0.06)
    trunk = read.measurement.baits[0].thinnest
    assert trunk is not None
    same = replace(decided, deciding=Deciding(path="1a", bait="1", station=trunk))
    assert cuts.thinnest_view(same) is None


def test_a_mold_with_everything_to_point_out_has_no_more_labels_than_places(read: Reading) -> None:
    """Thinnest, bottleneck, next bolt, sprue, eye, vents, bolts and pins are eight; the length is a ninth."""
    gate, bait = read.measurement.baits[0].paths[0].stations[0], read.measurement.baits[0]
    tail = bait.paths[0].stations[-1].at_mm
    eye = EyeSocket(at_mm=tail, normal=(0.0, 0.0, 1.0), diameter_mm=4.0, depth_mm=1.0)
    full = replace(read, measurement=replace(read.measurement, baits=(replace(bait, sockets=(eye,)),)))
    view = annotated.annotated_view(mold_shapes(full, Deciding(path="1a", bait="1", station=gate)))
    names = [call.name.rpartition(".")[2] for call in view.notes.callouts]
    assert names[:2] == ["thinnest", "deciding"]
    assert {"sprue", "eye", "vent", "bolt"} <= set(names)
    assert len(names) + len(view.notes.dimensions) <= callouts.PLACES
