"""Whatever is wrong with one mold is told as that mold's fault; the others are read on."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
import yaml
from click.testing import CliRunner
from PIL import Image

from builder import build, measure, pictures
from builder.base import guard
from builder.base.problems import Faults, Problem, Where
from builder.base.store import Store
from builder.cli import main
from builder.model import Tables
from builder.site import batch, catalogue, site_map
from builder.site.pages import CollectionPages, Words
from builder.spec import yaml_reader
from builder.stages import vectors
from tests import small_mold
from tests.shapes import ball
from tests.shapes_files import binary_stl, triangles
from tests.test_versions import draft, frozen

FISH = "\N{FISH} \N{FISH CAKE WITH SWIRL DESIGN}"


def test_an_exception_that_nobody_foresaw_is_that_molds_fault_and_its_traceback_is_kept(
    tmp_path: Path, tables: Tables, monkeypatch: pytest.MonkeyPatch
) -> None:
    for slug in ("one", "two"):
        small_mold.write(tmp_path / "molds", slug)
    vectors.version("measure")  # worked out once in a process: not what is broken here
    vectors.version("advice")
    vectors.version("pictures")
    read: list[str] = []

    def broken(mold: object, solids: object) -> object:  # noqa: ARG001
        read.append(mold.slug)  # type: ignore[attr-defined]
        raise IndexError("tuple index out of range")

    monkeypatch.setattr(measure, "measure", broken)
    store = Store(tmp_path / "store")
    with pytest.raises(Faults) as found:
        batch.build_molds(tmp_path / "molds", tables, store)
    assert read == ["one", "two"]
    told = [str(problem) for problem in found.value.problems]
    for slug, sentence in zip(("one", "two"), told, strict=True):
        file = store.folder / batch.FAULTS / f"{slug}.txt"
        assert "an unexpected error occurred while this mold was read (IndexError)" in sentence
        assert sentence.endswith(f"please report it, with the file {file}.")
        assert "in broken" in file.read_text(encoding="utf-8")


def test_faults_pass_the_guard_as_they_are(tmp_path: Path) -> None:
    problem = Problem(where=Where(file="x"), what="y")
    with pytest.raises(Faults) as found, guard.one_mold(tmp_path, tmp_path):
        raise Faults([problem])
    assert found.value.problems == (problem,)
    assert list(tmp_path.iterdir()) == []


def test_a_lack_of_memory_is_told_as_such(tmp_path: Path) -> None:
    with pytest.raises(Faults, match="needs more memory than there is"), guard.one_mold(tmp_path):
        raise MemoryError


@pytest.mark.parametrize(
    "title",
    [
        FISH,
        "\\</script><!--",
        'a "quoted" \\ title',
        "x\n---\nhidden: true",
        "# no comment",
        "{{ jinja }}",
        "\x85\u2028\u202e",
        "'",
        "\ud83d",
    ],
)
def test_a_title_goes_into_a_pages_header_as_it_is(title: str) -> None:
    header = f"title: {yaml_reader.quoted(title)}"
    assert header.count("\n") == header.count("<") == 0
    expected = title.encode("utf-16", "surrogatepass").decode("utf-16", "replace")
    assert yaml.safe_load(header) == {"title": expected}


def test_a_versions_page_has_a_header_that_yaml_reads_back() -> None:
    title = f'{FISH} "\\'
    version = replace(frozen("test-minnow", 1), title=title)
    page = CollectionPages(Words(site_map.texts("en"))).version(version, [version])
    header = yaml.safe_load(page.split("---\n")[1])
    assert title in header["title"]


def test_a_pair_of_surrogates_in_yaml_is_its_character_and_half_of_one_is_refused() -> None:
    assert yaml_reader.read_plain('t: "\\ud83d\\udc1f"', "f.yaml") == {"t": "\N{FISH}"}
    with pytest.raises(Faults, match=r"f\.yaml:1:4, key t: this text holds half of a character"):
        yaml_reader.read_plain('t: "\\ud83d"', "f.yaml")


@pytest.mark.slow
def test_a_bait_alone_is_built_as_it_is_checked(tmp_path: Path, tables: Tables) -> None:
    folder = tmp_path / "molds" / "worm"
    folder.mkdir(parents=True)
    egg = ball((0.0, 0.0, 0.0), 1.0).scale((40.0, 12.0, 10.0))
    (folder / "bait.stl").write_bytes(binary_stl(triangles(egg)))
    keys = "title: Worm\nparts: [{file: bait.stl, role: bait}]\ncavities: 1\nplastisol: soft\n"
    (folder / "mold.yaml").write_text(keys)
    record = build.build_mold(folder, tables, Store(tmp_path / "store"))
    assert [picture.name for picture in record.pictures] == ["bait", "thickness", "social"]
    page = site_map.generate(catalogue.build_all(folder.parent, Store(tmp_path / "store")))["molds/worm.md"]
    assert "worm/bait-" in str(page)


def photo(image: Image.Image, exif: bytes = b"") -> bytes:
    out = io.BytesIO()
    image.save(out, "JPEG", exif=exif)
    return out.getvalue()


def shown(data: bytes, folder: Path) -> tuple[int, int]:
    (made,) = pictures.photos(replace(draft(folder, "1"), photos=("a.jpg",)), [data], folder)
    return made.width_px, made.height_px


def test_a_photo_that_is_none_is_told_by_check_as_by_a_build(tmp_path: Path, kept: Path) -> None:
    folder = small_mold.write(tmp_path, more="photos: [a.png]\n")
    (folder / "a.png").write_bytes(b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>")
    done = CliRunner().invoke(main, ["check", "--molds", str(tmp_path), "--store", str(kept)])
    assert done.exit_code == 1
    assert "key photos: a.png is not a photo that can be read" in done.output
    assert "Small bar (small-bar)" in done.output  # what was measured is told all the same


def test_a_photo_taller_than_webp_allows_is_made_smaller(tmp_path: Path) -> None:
    assert shown(photo(Image.new("RGB", (200, 20_000))), tmp_path) == (48, 4800)


@pytest.mark.parametrize(
    "exif", [b"Exif\x00\x00II*\x00\xff\xff\xff\xff", b"Exif\x00\x00", b"Exif\x00\x00MM\x00*" + b"\xff" * 60]
)
@pytest.mark.filterwarnings("ignore")
def test_a_photo_with_a_damaged_tag_is_taken_as_it_lies(exif: bytes, tmp_path: Path) -> None:
    assert shown(photo(Image.new("RGB", (40, 30)), exif), tmp_path) == (40, 30)


def test_a_terminal_without_a_letter_gets_its_number(tmp_path: Path) -> None:
    folder = small_mold.write(tmp_path / "molds", more="summary: x")
    text = (folder / "mold.yaml").read_text(encoding="utf-8").replace("cavities: 1", f'cavities: "{FISH}"')
    (folder / "mold.yaml").write_text(text, encoding="utf-8")
    command = [sys.executable, "-m", "builder", "check", "--molds", str(tmp_path / "molds")]
    env = {**os.environ, "PYTHONIOENCODING": "cp1252", "PYTHONUTF8": "0"}
    done = subprocess.run(command, capture_output=True, text=True, encoding="cp1252", check=False, env=env)
    assert done.returncode == 1
    assert "Traceback" not in done.stderr
    assert "\\U0001f41f" in done.stderr


def test_what_a_store_holds_in_the_place_of_our_folders_leads_nowhere(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A stranger's store has links where tracebacks and pictures of open edges are written."""
    home, store = tmp_path / "home", tmp_path / "store"
    for folder in (home, store):
        folder.mkdir()
    for name in (batch.FAULTS, "open-edges"):
        (store / name).symlink_to(home)
    folder = small_mold.write(tmp_path / "molds")
    data = small_mold.stl()
    fewer = (int.from_bytes(data[80:84], "little") - 1).to_bytes(4, "little")
    (folder / "block.stl").write_bytes(data[:80] + fewer + data[134:])
    done = CliRunner().invoke(main, ["check", "--molds", str(folder.parent), "--store", str(store)])
    assert done.exit_code == 1
    assert "see the open edges in" in done.output
    small_mold.write(tmp_path / "molds")
    monkeypatch.setattr("builder.build.load_draft", lambda *_, **__: 1 / 0)
    done = CliRunner().invoke(main, ["check", "--molds", str(folder.parent), "--store", str(store)])
    assert "with the file" in done.output
    assert list(home.iterdir()) == []
    assert not (store / batch.FAULTS).is_symlink()
