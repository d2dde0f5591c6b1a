"""`shotbook new` writes a mold.yaml that is taken as it stands, with what the files tell already in it."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest
from click.testing import CliRunner
from manifold3d import Manifold

import builder
from builder.base.problems import Faults
from builder.cli import guesses, main, scaffold
from builder.model import Tables
from builder.spec import material_tables, mold_file
from tests import small_mold
from tests.bench import bench_reading
from tests.shapes import ball, box, rod, union
from tests.shapes_demo import stl_files
from tests.shapes_files import binary_stl, triangles

TABLES = material_tables.load()
DEMO = Path(builder.__file__).parent.parent / "molds"


@pytest.fixture
def files(tmp_path: Path) -> tuple[Path, ...]:
    """The demo stick worm, drawn in inches, under names that are not fit for an address."""
    made = []
    for name, data in zip(("Hälfte A (1).STL", "half B.stl"), stl_files("pond-stick").values(), strict=True):
        made.append(tmp_path / name)
        made[-1].write_bytes(data)
    return tuple(made)


def refused(place: Path, files: tuple[Path, ...], tables: Tables = TABLES) -> str:
    """The sentence; nothing may be left behind."""
    before = sorted(place.parent.rglob("*"))
    with pytest.raises(Faults) as caught:
        scaffold.write(place, files, 1, tables)
    assert sorted(place.parent.rglob("*")) == before
    return str(caught.value)


@pytest.mark.slow
def test_unit_names_and_baits_are_found_and_the_file_is_taken_as_it_stands(
    tmp_path: Path, files: tuple[Path, ...]
) -> None:
    made = scaffold.write(tmp_path / "molds" / "pond-stick", files, 1, TABLES)
    assert made.question == ""
    mold = mold_file.load(tmp_path / "molds" / "pond-stick", TABLES)
    assert (mold.title, mold.units, mold.cavities, mold.kind) == ("Pond stick", "inch", 1, "injection")
    assert [part.file for part in mold.parts] == ["halfte-a-1.stl", "half-b.stl"]
    assert [part.path.read_bytes() for part in mold.parts] == [file.read_bytes() for file in files]
    lines = (tmp_path / "molds" / "pond-stick" / "mold.yaml").read_text(encoding="utf-8").splitlines()
    assert all(len(line) <= 110 for line in lines)
    assert sum("# ?" in line for line in lines) == 7
    assert "# - bolt holes: 6, 4.50 mm [4.49–4.51 mm] (0.177 in [0.177–0.178 in])" in lines
    assert "  - halfte-a-1.stl  # was Hälfte A (1).STL" in lines


@pytest.mark.slow
def test_kind_and_number_of_baits_are_found_without_being_told(tmp_path: Path) -> None:
    files = tuple(sorted((DEMO / "flatback-crawler").glob("*.stl")))
    made = scaffold.write(tmp_path / "crawler", files, None, TABLES)
    assert (made.mold.kind, made.mold.cavities) == ("open pour", 2)
    assert mold_file.load(tmp_path / "crawler", TABLES).parts[0].role == "open"


@pytest.mark.slow
def test_what_the_reading_asks_is_written_into_the_file(tmp_path: Path, files: tuple[Path, ...]) -> None:
    made = scaffold.write(tmp_path / "pond-stick", files, 7, TABLES)
    assert made.question
    assert "# ? The reading is not sure yet: " in (tmp_path / "pond-stick" / "mold.yaml").read_text("utf-8")
    assert mold_file.load(tmp_path / "pond-stick", TABLES).cavities == 7


def test_a_file_that_is_no_stl_by_its_name_is_refused(tmp_path: Path, files: tuple[Path, ...]) -> None:
    step = files[0].rename(tmp_path / "half.step")
    assert "export the part as STL" in refused(tmp_path / "pond-stick", (step,))


def test_nothing_is_overwritten(tmp_path: Path, files: tuple[Path, ...]) -> None:
    (tmp_path / "pond-stick").mkdir()
    (tmp_path / "pond-stick" / "mold.yaml").write_text("title: Mine\n")
    assert "there is a mold of this name already" in refused(tmp_path / "pond-stick", files)
    assert "there is a mold of this name already" in refused(tmp_path / "pond-stick", ())


def test_a_folder_of_stl_files_is_completed_in_place(tmp_path: Path) -> None:
    place = tmp_path / "bar"
    place.mkdir()
    (place / "Block-1.STL").write_bytes(small_mold.stl())
    scaffold.write(place, (), 1, TABLES)
    assert (place / "Block-1.STL").read_bytes() == small_mold.stl()
    assert [part.file for part in mold_file.load(place, TABLES).parts] == ["Block-1.STL"]
    assert {file.name for file in place.iterdir()} == {"Block-1.STL", "mold.yaml"}


def test_a_folder_that_is_there_takes_no_files_from_elsewhere(
    tmp_path: Path, files: tuple[Path, ...]
) -> None:
    (tmp_path / "pond-stick").mkdir()
    assert "is there already, and this file is not in it" in refused(tmp_path / "pond-stick", files)
    assert "there is no STL file in this folder" in refused(tmp_path / "pond-stick", ())


def test_without_files_there_is_nothing_to_start_from(tmp_path: Path) -> None:
    assert "no STL file is named" in refused(tmp_path / "pond-stick", ())


def test_a_name_that_is_no_address_is_refused(tmp_path: Path, files: tuple[Path, ...]) -> None:
    assert "cannot be part of an address" in refused(tmp_path / "Pond Stick", files)


def test_broken_and_absent_files_are_told_at_once_and_nothing_is_written(
    tmp_path: Path, files: tuple[Path, ...]
) -> None:
    files[0].write_bytes(files[0].read_bytes()[:1000])
    told = refused(tmp_path / "pond-stick", (*files, tmp_path / "no.stl")).splitlines()
    assert len(told) == 2
    assert "the file is cut off" in told[0]
    assert told[1].endswith("no.stl: this file does not exist.")


def test_two_files_of_one_name_are_refused(tmp_path: Path, files: tuple[Path, ...]) -> None:
    (tmp_path / "other").mkdir()
    twin = tmp_path / "other" / "Half B.stl"
    twin.write_bytes(files[1].read_bytes())
    assert "another file would be called half-b.stl too" in refused(tmp_path / "pond-stick", (files[1], twin))


@pytest.mark.slow
def test_other_units_that_a_mold_may_be_drawn_in_are_told(tmp_path: Path, files: tuple[Path, ...]) -> None:
    """A mold of 6 inches is one of 15 cm as well as one of 6 cm: the maker is told both."""
    made = scaffold.write(tmp_path / "molds" / "pond-stick", files, 1, TABLES)
    assert made.mold.units == "inch"
    units = next(line for line in scaffold.text(made, TABLES).splitlines() if line.startswith("units:"))
    assert re.search(r"the mold is \d+ × \d+ × \d+ mm \(\d+ mm if drawn in cm\)", units)


def test_parts_laid_out_in_one_file_are_not_taken_for_a_bait(tmp_path: Path) -> None:
    both = box((0.0, 0.0, 0.0), (60.0, 30.0, 10.0)) + box((0.0, 40.0, 0.0), (60.0, 70.0, 10.0))
    (tmp_path / "both.stl").write_bytes(binary_stl(triangles(both)))
    made = scaffold.write(tmp_path / "molds" / "both", (tmp_path / "both.stl",), None, TABLES)
    assert made.measured is None
    assert made.mold.cavities == 1
    assert "holds 2 separate bodies" in made.question
    assert "if these are the two halves of a closed mold, write kind: injection" in made.question


@pytest.mark.slow
def test_both_halves_in_one_file_are_a_closed_mold_and_no_open_pour(tmp_path: Path) -> None:
    block = box((-40.0, -15.0, -12.0), (40.0, 15.0, 12.0))
    bait = ball((0.0, 0.0, 0.0), 1.0).scale((24.0, 8.0, 7.0))
    feed = rod((-41.0, 0.0, 0.0), (-22.0, 0.0, 0.0), 4.5, 1.6)
    upper, lower = (block - bait - feed).split_by_plane((0.0, 0.0, 1.0), 0.0)
    upper = upper.rotate((180.0, 0.0, 0.0)).translate((0.0, 36.0, 0.0))
    (tmp_path / "both.stl").write_bytes(binary_stl(triangles(upper + lower)))
    made = scaffold.write(tmp_path / "molds" / "both", (tmp_path / "both.stl",), None, TABLES)
    assert (made.mold.kind, made.mold.cavities, made.mold.units) == ("injection", 1, "mm")
    assert made.measured
    assert made.measured.baits[0].volume_ml == pytest.approx(bait.volume() / 1000, rel=6e-3)
    assert "kind: injection" in scaffold.text(made, TABLES)


def test_a_core_is_not_taken_for_a_bait_where_its_place_is_not_known(tmp_path: Path) -> None:
    tube = rod((-28.0, 0.0, 0.0), (28.0, 0.0, 0.0), 11.0)
    pin = rod((-55.0, 0.0, 0.0), (55.0, 0.0, 0.0), 4.0)
    block = (
        box((-40.0, -25.0, -15.0), (40.0, 25.0, 15.0)) - tube - rod((0.0, 0.0, 16.0), (0.0, 0.0, 8.0), 3.5)
    )
    upper, lower = (block - pin).split_by_plane((0.0, 0.0, 1.0), 0.0)
    printed = upper.rotate((180.0, 0.0, 0.0)).translate((0.0, 70.0, 0.0))
    files = []
    for name, part in (("lower", lower), ("upper", printed), ("pin", pin.translate((0.0, 0.0, 50.0)))):
        files.append(tmp_path / f"{name}.stl")
        files[-1].write_bytes(binary_stl(triangles(part)))
    made = scaffold.write(tmp_path / "molds" / "tube", files, 1, TABLES)
    assert [part.role for part in made.mold.parts] == ["half", "half", "core"]
    assert "the place of pin.stl" in made.question


def test_a_plate_of_the_block_is_not_taken_for_the_bait_but_a_bait_or_a_pin_may_be() -> None:
    """A third part with flat square sides, one of them open; a pin, and a bait with a flat belly."""
    half = box((-50.0, -25.0, 0.0), (50.0, 25.0, 15.0))
    plate = box((-50.0, -25.0, 0.0), (50.0, 25.0, 10.0)) - ball((0.0, 0.0, 0.0), 1.0).scale((40.0, 8.0, 7.0))
    pin = rod((-55.0, 0.0, 0.0), (55.0, 0.0, 0.0), 4.0)
    bait = ball((0.0, 0.0, 0.0), 1.0).scale((40.0, 8.0, 7.0)).trim_by_plane((0.0, 0.0, 1.0), -4.0)

    def roles(third: Manifold) -> list[str]:
        contents = [binary_stl(triangles(part)) for part in (half, half.translate((0.0, 0.0, 40.0)), third)]
        files = guesses.Files(contents=contents, names=("a.stl", "b.stl", "c.stl"), unit="mm")
        return [
            guess.roles[2] for guess in guesses.castings([(100, 50, 15), (100, 50, 15), (9, 9, 9)], files)
        ]

    assert roles(plate) == ["core", "plug"]
    assert roles(pin) == ["core", "bait", "plug"]
    assert roles(bait) == ["core", "bait", "plug"]


@pytest.mark.slow
@pytest.mark.parametrize("noise_mm", [0.005, 0.02])
def test_halves_that_do_not_close_for_their_noise_are_told_to_be_rough(
    tmp_path: Path, noise_mm: float
) -> None:
    """17 000 triangles with noise: single facets of the parting face are still large enough."""
    bench_reading.write_mold(tmp_path / "scan", 17_000, noise_mm)
    scans = sorted((tmp_path / "scan").glob("*.stl"))
    made = scaffold.write(tmp_path / "molds" / "scan", scans, None, TABLES)
    assert re.match(r"b\.stl is rough on \d+% of its surface, as a scan is", made.question)  # the roughest


@pytest.mark.parametrize("slug", ["../../x", "a/b", "..", ".", "", "/etc/x", "a\\b", "../mine/reed"])
def test_a_name_that_leads_to_another_folder_is_refused(tmp_path: Path, slug: str) -> None:
    (tmp_path / "a.stl").write_bytes(small_mold.stl())
    before = sorted(tmp_path.rglob("*"))
    call = ["new", "--molds", str(tmp_path / "molds"), "--", slug, str(tmp_path / "a.stl")]
    done = CliRunner().invoke(main, call)
    assert done.exit_code == 1
    assert "leads to another folder; expected a name without slashes, such as reed-minnow" in done.output
    assert sorted(tmp_path.rglob("*")) == before


@pytest.mark.parametrize(
    "slug", ["con", "aux", "nul", "prn", "com1", "com0", "lpt9", "index", "Reed", "r\u00e9ed"]
)
def test_a_name_that_a_system_keeps_or_that_differs_by_case_is_refused(tmp_path: Path, slug: str) -> None:
    """Names that Windows keeps: Microsoft, "Naming Files, Paths, and Namespaces" (from memory)."""
    (tmp_path / "a.stl").write_bytes(small_mold.stl())
    done = CliRunner().invoke(main, ["new", "--molds", str(tmp_path), slug, str(tmp_path / "a.stl")])
    assert done.exit_code == 1
    assert "cannot be part of an address" in done.output
    assert sorted(path.name for path in tmp_path.rglob("*")) == ["a.stl"]


def test_a_file_too_large_is_refused_by_its_size_alone(tmp_path: Path) -> None:
    """As 10 GB of nothing: a reader would take minutes and the machine's memory."""
    with (tmp_path / "a.stl").open("wb") as file:
        file.truncate(10_000_000_000)
    told = refused(tmp_path / "reed", (tmp_path / "a.stl",))
    assert "this file has 10000000000 bytes; expected at most 100000000" in told


def test_what_is_no_file_is_refused_and_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "a.stl")
    (tmp_path / "b.stl").mkdir()
    (tmp_path / "c.stl").symlink_to("/dev/zero")
    told = refused(tmp_path / "reed", tuple(tmp_path / f"{name}.stl" for name in "abc"))
    assert ["a pipe" in told, "a folder" in told, "a link" in told] == [True, True, True]


def test_a_folder_of_files_is_completed_only_with_its_own_files(tmp_path: Path) -> None:
    """A link in it would be read as if it were the maker's."""
    (tmp_path / "secret.stl").write_bytes(small_mold.stl())
    (tmp_path / "reed").mkdir()
    (tmp_path / "reed" / "block.stl").symlink_to(tmp_path / "secret.stl")
    assert "this is a link" in refused(tmp_path / "reed", (tmp_path / "reed" / "block.stl",))
    assert "this is a link" in refused(tmp_path / "reed", ())


def test_three_baits_of_three_sizes_win_over_four_like_pockets_in_the_underside(tmp_path: Path) -> None:
    bars = [
        box((-r, y - 5.0, -8.0), (r, y + 5.0, 1.0)) for r, y in ((30.0, -14.0), (24.0, 0.0), (18.0, 14.0))
    ]
    pockets = [box((x, -4.0, -17.0), (x + 8.0, 4.0, -14.0)) for x in (-34.0, -16.0, 4.0, 22.0)]
    tray = box((-40.0, -22.0, -16.0), (40.0, 22.0, 0.0)) - union([*bars, *pockets])
    (tmp_path / "tray.stl").write_bytes(binary_stl(triangles(tray)))
    made = scaffold.write(tmp_path / "molds" / "tray", (tmp_path / "tray.stl",), None, TABLES)
    assert (made.mold.kind, made.mold.cavities) == ("open pour", 3)
    assert made.measured
    assert sorted(bait.volume_ml for bait in made.measured.baits) == pytest.approx(
        [2.88, 3.84, 4.8], rel=5e-3
    )


def test_an_open_mold_with_fewer_hollows_than_told_is_asked_about_and_not_taken_for_a_bait(
    tmp_path: Path,
) -> None:
    """Two bars of 2.3 ml that one channel joins: one hollow for two baits."""
    bars = union([box((-30.0, y - 5.0, -8.0), (30.0, y + 5.0, 1.0)) for y in (-10.0, 10.0)])
    tray = (
        box((-60.0, -22.0, -16.0), (60.0, 22.0, 0.0)) - bars - box((-45.0, -10.0, -3.0), (-29.0, 10.0, 1.0))
    )
    (tmp_path / "tray.stl").write_bytes(binary_stl(triangles(tray)))
    made = scaffold.write(tmp_path / "molds" / "tray", (tmp_path / "tray.stl",), 2, TABLES)
    assert [part.role for part in made.mold.parts] == ["open"]
    assert made.measured is None
    assert "1 hollow is open at the pouring face, for 2 cavities" in made.question
    assert "without these" in made.question
