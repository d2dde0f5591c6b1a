"""Looking round: the data against the mesh it stands for, and the viewer in Chromium from a folder."""

from __future__ import annotations

import base64
import html
import json
import zlib
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import trimesh
from numpy.typing import NDArray
from PIL import Image
from playwright.sync_api import Browser, Page

import builder
from builder.model import Solid, Turnable
from builder.pictures import viewer_data
from builder.pictures.picture_set import drawn
from builder.pictures.render.scene import Inlay, inlay
from builder.pictures.views.plain import open_view
from builder.pictures.views.shapes import MoldShapes, mold_shapes
from tests.conftest import Launch
from tests.picture_mold import reading

F64 = NDArray[np.float64]
ASSETS = Path(builder.__file__).parent / "theme" / "assets"
WORDS = (
    "start",
    "stop",
    "turn",
    "tilt",
    "open",
    "near",
    "show",
    "all",
    "plastic",
    "bait",
    "keys",
    "failed",
    "reset",
)


@pytest.fixture(scope="module")
def shapes() -> MoldShapes:
    return mold_shapes(reading(around=96))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("turn")


@pytest.fixture(scope="module")
def turnable(shapes: MoldShapes, folder: Path) -> Turnable:
    made = viewer_data.write(shapes, folder, "test")
    assert made is not None
    return made


def numbers(data: bytes) -> Iterator[int]:
    """Read seven bits a byte, the lowest first."""
    value = shift = 0
    for byte in data:
        value |= (byte & 127) << shift
        shift += 7
        if byte < 128:
            yield value
            value = shift = 0


def read_back(text: str) -> tuple[dict[str, object], list[tuple[F64, NDArray[np.int64], list[int]]]]:
    """Points (mm), triangles and colours of each piece, as the form is described."""
    head = json.loads(text.removeprefix("window.shotbookTurn=").removesuffix(";\n"))
    source = numbers(zlib.decompress(base64.b64decode(head["data"])))
    pieces = []
    for piece in head["pieces"]:
        codes = np.array([next(source) for _ in range(3 * piece["points"])])
        steps = np.where(codes % 2, -(codes + 1) // 2, codes // 2).reshape(3, -1)
        points = np.cumsum(steps, axis=1).T * head["step"] + head["low"]
        corners, newest = [], 0
        for _ in range(3 * piece["faces"]):
            corners.append(newest - next(source))
            newest += corners[-1] == newest
        colours = [colour for _ in range(next(source)) for colour in [next(source)] * next(source)]
        pieces.append((points, np.array(corners).reshape(-1, 3), colours))
    return head, pieces


def apart(points: F64, surface: Solid) -> float:
    """Largest distance of the points from the surface."""
    mesh = trimesh.Trimesh(surface.vertices, surface.faces, process=False)
    return float(trimesh.proximity.closest_point(mesh, points)[1].max())  # type: ignore[no-untyped-call]


def test_every_surface_lies_within_the_stated_error_both_ways(
    shapes: MoldShapes, turnable: Turnable, folder: Path
) -> None:
    _, pieces = read_back((folder / turnable.file).read_text(encoding="ascii"))
    originals = [part.solid for part in shapes.parts] + [piece.solid for piece in shapes.plastic]
    assert len(pieces) == len(originals)
    rng = np.random.default_rng(3)
    for (points, faces, colours), original in zip(pieces, originals, strict=True):
        assert len(colours) == len(faces)
        some = points[faces[rng.integers(0, len(faces), 400)]]
        inside = np.einsum("nk,nkc->nc", rng.dirichlet([1, 1, 1], 400), some)
        assert apart(inside, original) <= turnable.error_mm
        made = Solid(name="made", vertices=points, faces=faces.astype(np.int32))
        assert (
            apart(original.vertices[rng.integers(0, len(original.vertices), 400)], made) <= turnable.error_mm
        )


def test_the_error_is_stated_and_at_most_a_twentieth_of_a_millimetre(
    turnable: Turnable, folder: Path
) -> None:
    head, pieces = read_back((folder / turnable.file).read_text(encoding="ascii"))
    assert 0 < turnable.error_mm <= 0.05
    assert head["error"] == pytest.approx(turnable.error_mm, abs=1e-4)
    assert turnable.triangles == sum(len(faces) for _, faces, _ in pieces)
    assert turnable.size_bytes == (folder / turnable.file).stat().st_size <= 500_000


def test_a_wide_facet_that_only_passes_over_a_vent_is_not_tinted() -> None:
    plate = trimesh.creation.box((60, 60, 10))
    plate.apply_translation((0, 0, -5))
    part = Solid(name="part", vertices=np.asarray(plate.vertices), faces=plate.faces.astype(np.int32))
    top = plate.triangles_center[plate.face_normals[:, 2] > 0.9]

    def over(side: float) -> Inlay:
        piece = trimesh.creation.box((side, side, 2))
        piece.apply_translation(top[0] + [0, 0, 1])
        return inlay([(Solid(name="p", vertices=piece.vertices, faces=piece.faces.astype(np.int32)), "#f00")])

    assert not viewer_data._touched(part, over(4)).any()
    assert list(np.flatnonzero(viewer_data._touched(part, over(150)))) == list(
        np.flatnonzero(plate.face_normals[:, 2] > 0.9)
    )


def test_a_mesh_too_fine_for_the_budget_is_decimated_further(
    shapes: MoldShapes, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    fine = viewer_data.write(shapes, tmp_path, "fine")
    assert fine is not None
    monkeypatch.setattr(viewer_data, "BUDGET_BYTES", fine.size_bytes - 1)
    coarse = viewer_data.write(shapes, tmp_path, "coarse")
    assert coarse is not None
    assert fine.size_bytes > coarse.size_bytes
    assert fine.error_mm < coarse.error_mm <= 0.05
    monkeypatch.setattr(viewer_data, "BUDGET_BYTES", 1000)
    assert viewer_data.write(shapes, tmp_path, "none") is None


# -- in a browser ------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def browser(launch: Launch) -> Iterator[Browser]:
    made = launch(
        ["--no-sandbox", "--use-angle=swiftshader", "--enable-unsafe-swiftshader", "--disable-quic"]
    )
    yield made
    made.close()


LOADER = """const shotbook = { run: (path) => new Promise((done, failed) => {
  const script = document.createElement("script");
  script.src = path.replace("molds/", "");
  script.onload = () => done(script);
  script.onerror = failed;
  document.head.append(script);
}) };"""
"""What shotbook.js gives the viewer: a way to load a data file, here one beside the page."""


@pytest.fixture(scope="module")
def address(shapes: MoldShapes, turnable: Turnable, folder: Path) -> str:
    """A page with nothing but the picture and the viewer, opened from the folder."""
    picture = drawn(open_view(shapes), folder, coarse=4)
    words = html.escape(json.dumps({name: name for name in WORDS} | {"marks": []}))
    page = f"""<!doctype html><meta charset="utf-8"><title>t</title>
<style>{(ASSETS / "viewer.css").read_text(encoding="utf-8")}</style>
<style>img {{ width: 100% }} [hidden] {{ display: none !important }}</style>
<figure data-turn="{turnable.file}" data-turn-words="{words}">
<img src="{picture.files[300]}" alt="A mold."></figure>
<script>{LOADER}</script>
<script>{(ASSETS / "viewer.js").read_text(encoding="utf-8")}</script>"""
    (folder / "page.html").write_text(page, encoding="utf-8")
    return (folder / "page.html").as_uri()


@pytest.fixture
def page(browser: Browser, address: str) -> Iterator[Page]:
    opened = browser.new_page(viewport={"width": 700, "height": 800})
    errors: list[str] = []
    requests: list[str] = []
    opened.on("pageerror", lambda error: errors.append(str(error)))
    opened.on("request", lambda request: requests.append(request.url))
    opened.goto(address)
    yield opened
    assert not errors
    assert all(url.startswith("file:") for url in requests)
    opened.close()


def shown(page: Page, folder: Path) -> NDArray[np.int64]:
    page.wait_for_timeout(120)
    page.locator("canvas").screenshot(path=folder / "canvas.png")
    with Image.open(folder / "canvas.png") as image:
        return np.array(image.convert("RGB")).astype(np.int64)[6:-6, 6:-6]  # without the ring of the focus


@pytest.mark.browser
def test_the_mold_is_drawn_from_a_folder_and_turned_by_keys_and_sliders(page: Page, folder: Path) -> None:
    page.get_by_role("button", name="start").click()
    page.wait_for_selector("canvas")
    assert page.locator("img").is_hidden()
    first = shown(page, folder)
    assert 0.05 < (first.sum(axis=2) < 740).mean() < 0.9
    assert page.evaluate("document.activeElement.tagName") == "CANVAS"
    page.keyboard.press("ArrowLeft")
    turned = shown(page, folder)
    assert (np.abs(turned - first).max(axis=2) > 20).mean() > 0.01
    assert page.get_by_label("turn").input_value() == "-23"
    page.keyboard.press("Home")
    assert np.abs(shown(page, folder) - first).max() <= 2
    page.get_by_label("open").focus()
    page.keyboard.press("Home")  # the slider's own key: to its lowest value
    closed = shown(page, folder)
    assert (np.abs(closed - first).max(axis=2) > 20).mean() > 0.05


@pytest.mark.browser
def test_the_bait_can_be_shown_alone_and_the_picture_comes_back(page: Page, folder: Path) -> None:
    page.get_by_role("button", name="start").click()
    page.wait_for_selector("canvas")
    page.get_by_label("show").select_option("bait")
    alone = shown(page, folder)
    green = alone[..., 1] - alone[..., 0] > 30
    drawn_at = alone.sum(axis=2) < 740
    assert green.sum() > 0.9 * drawn_at.sum() > 500
    for axis in (0, 1):  # in the middle, as large as there is room, nothing cut off
        at = np.flatnonzero(drawn_at.any(axis=1 - axis)) / drawn_at.shape[axis]
        assert (at[0] + at[-1]) / 2 == pytest.approx(0.5, abs=0.05)
        assert at[0] > 0.02
    assert at[-1] - at[0] > 0.7
    page.get_by_role("button", name="stop").click()
    assert page.locator("canvas").count() == 0
    assert page.locator("img").is_visible()
    assert page.evaluate("document.activeElement.textContent") == "start"


@pytest.mark.browser
def test_without_webgl_the_picture_stays_and_nothing_is_offered(browser: Browser, address: str) -> None:
    page = browser.new_page()
    page.add_init_script("HTMLCanvasElement.prototype.getContext = () => null")
    page.goto(address)
    assert page.locator("img").is_visible()
    assert page.get_by_role("button").count() == 0
    page.close()


@pytest.mark.browser
def test_data_that_cannot_be_loaded_leaves_the_picture_and_says_so(browser: Browser, address: str) -> None:
    page = browser.new_page()
    page.route("**/*-turn.js", lambda route: route.abort())
    page.goto(address)
    page.get_by_role("button", name="start").click()
    page.get_by_text("failed").wait_for()
    assert page.locator("img").is_visible()
    page.close()
