"""The command line: a user's mistake is one sentence, exit code 1 and no traceback, and nothing is lost."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

import builder
from builder.base import site_folder
from builder.cli import main
from builder.site import site_map
from builder.spec import material_tables
from tests import small_mold

ROOT = Path(builder.__file__).parent.parent
DEMO = ROOT / "molds" / "pond-stick"
FILES = sorted(file.name for file in DEMO.glob("*.stl"))
FACET = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])


def run(*args: str) -> Result:
    """The command in this process; anything but an orderly end is raised."""
    result = CliRunner().invoke(main, args)
    if result.exception and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def refused(*args: str) -> list[str]:
    """The sentences of a command that must end with exit code 1."""
    result = run(*args)
    assert result.exit_code == 1, result.output
    *sentences, count = result.stderr.splitlines()
    assert count in (f"{len(sentences)} faults.", "1 fault.")
    return sentences


@pytest.fixture
def project(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty collection, in a folder with a blank and an accent in its name, with a site built before."""
    folder = tmp_path / "mes leurres é"
    shutil.copytree(ROOT / "site_src", folder / "site_src")
    config = (ROOT / "mkdocs.yml").read_text(encoding="utf-8")
    config = config.replace("builder/theme", str(ROOT / "builder" / "theme")).replace(
        "[builder]", f"[{ROOT}/builder]"
    )
    (folder / "mkdocs.yml").write_text(config, encoding="utf-8")
    (folder / "molds").mkdir()
    (folder / "site").mkdir()
    (folder / "site" / "index.html").write_text("the old site", encoding="utf-8")
    site_folder.mark(folder / "site")
    monkeypatch.chdir(folder)
    return folder


def add_mold(project: Path, slug: str, change: Callable[[Path], object] | None = None) -> Path:
    """The demo stick worm as another mold, its first file changed."""
    folder = project / "molds" / slug
    folder.mkdir()
    for name in (*FILES, "mold.yaml"):
        shutil.copy(DEMO / name, folder)
    if change:
        change(folder / FILES[0])
    return folder


def change_facets(how: Callable[[np.ndarray], np.ndarray]) -> Callable[[Path], None]:
    """What writes a changed binary STL in place of the old one."""

    def change(file: Path) -> None:
        facets = how(np.frombuffer(file.read_bytes()[84:], FACET).copy())
        file.write_bytes(bytes(80) + len(facets).to_bytes(4, "little") + facets.tobytes())

    return change


def flipped(facets: np.ndarray) -> np.ndarray:
    facets["corners"] = facets["corners"][:, ::-1]
    return facets


def declared_in_mm(file: Path) -> None:
    spec = file.parent / "mold.yaml"
    text = spec.read_text(encoding="utf-8")
    assert "units: inch" in text
    spec.write_text(text.replace("units: inch", "units: mm"), encoding="utf-8")


POINTER = "version https://git-lfs.github.com/spec/v1\noid sha256:" + "ab" * 32 + "\nsize 254084\n"
BAD: dict[str, tuple[Callable[[Path], object], str]] = {
    "hole": (change_facets(lambda facets: facets[:-25]), "the mesh has a hole"),
    "inside-out": (change_facets(flipped), "the mesh is inside out"),
    "doubled": (change_facets(lambda facets: np.concatenate([facets, facets])), "lies in the file twice"),
    "truncated": (lambda file: file.write_bytes(file.read_bytes()[:170_000]), "the file is cut off"),
    "pointer": (lambda file: file.write_text(POINTER), "the file is a Git LFS pointer"),
    "inch-as-mm": (declared_in_mm, "as drawn in mm"),
}


@pytest.mark.parametrize(
    "slug", [pytest.param(slug, marks=pytest.mark.slow if slug == "hole" else ()) for slug in BAD]
)
def test_a_bad_mesh_is_one_sentence_and_no_number(project: Path, slug: str) -> None:
    add_mold(project, slug, BAD[slug][0])
    for command in ("check", "measure"):
        sentences = refused(command, slug)
        assert len(sentences) == 1
        assert BAD[slug][1] in sentences[0]
        assert slug in sentences[0]
        assert run(command, slug).stdout == ""


@pytest.mark.slow
def test_bad_meshes_leave_the_old_site_untouched_and_every_mold_is_still_checked(project: Path) -> None:
    for slug, (change, _) in BAD.items():
        add_mold(project, slug, change)
    add_mold(project, "zander", lambda file: (file.parent / "mold.yaml").write_text("title: Zander\n"))
    sentences = refused("build")
    for slug, (_, what) in BAD.items():
        assert [what in sentence for sentence in sentences if f"{slug}/" in sentence] == [True]
    assert [sentence.split("; ")[-1] for sentence in sentences if "zander" in sentence] == [
        *("add parts: [half-a.stl, half-b.stl].", "add cavities: 2.", "add plastisol: soft."),
    ]
    assert {file.name for file in (project / "site").iterdir()} == {"index.html", site_folder.MARKER}
    assert (project / "site" / "index.html").read_text(encoding="utf-8") == "the old site"
    assert {file.name for file in project.iterdir()} <= {
        "mkdocs.yml",
        "molds",
        "site",
        "site_src",
        ".shotbook",
    }


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Results kept between the tests of this file, which read the same sound mold."""
    return tmp_path_factory.mktemp("store")


@pytest.mark.slow
def test_a_sound_mold_is_told_although_another_one_is_refused(project: Path, store: Path) -> None:
    add_mold(project, "good")
    add_mold(project, "hole", BAD["hole"][0])
    (project / "molds" / "later").mkdir()
    result = run("check", "--store", str(store))
    assert result.exit_code == 1
    assert result.stdout.startswith("Pond stick (good)\n")
    assert "hole" in result.stderr
    good = run("check", "good", "--store", str(store))
    assert (good.exit_code, good.stderr) == (0, "")
    shutil.rmtree(project / "molds" / "hole")
    assert run("check", "--store", str(store)).stdout == good.stdout + (
        "molds/later has no mold.yaml, so it is not a mold yet. Write one with: shotbook new later\n"
    )


@pytest.mark.slow
def test_measure_prints_the_numbers_as_a_table_and_as_json_read_once(project: Path, store: Path) -> None:
    add_mold(project, "good")
    table = run("measure", "good", "--store", str(store)).stdout
    assert "fl oz" in table
    stored = {file: file.stat().st_mtime_ns for file in store.rglob("*")}
    found = json.loads(run("measure", "molds/good", "--json", "--store", str(store)).stdout)["molds"]
    assert {file: file.stat().st_mtime_ns for file in store.rglob("*")} == stored
    assert [mold["slug"] for mold in found] == ["good"]
    assert (found[0]["cavities"], found[0]["bolts"], found[0]["pins"]) == (1, 6, 2)
    assert len(found[0]["figures"]) == sum(line.startswith("  ") for line in table.splitlines())


@pytest.mark.parametrize("command", ["check", "measure", "build", "serve"])
def test_outside_a_collection_the_command_says_what_is_missing_and_where(
    command: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (sentence,) = refused(command)
    assert sentence.split(";")[0] in ("molds: there is no such folder", "mkdocs.yml: there is no such file")
    assert list(tmp_path.iterdir()) == []


def test_an_empty_collection_is_told_how_to_begin(project: Path) -> None:
    for args in (("check",), ("pages", "--out", "pages")):
        (sentence,) = refused(*args)
        assert "shotbook new" in sentence
    assert not (project / "pages").exists()


def test_a_misspelled_mold_gets_a_suggestion(project: Path) -> None:
    add_mold(project, "pond-stick")
    assert refused("check", "pond-stik") == [
        "pond-stik: there is no mold of this name; expected one of pond-stick; did you mean pond-stick?"
    ]


def test_a_folder_without_a_mold_file_is_told_so(project: Path) -> None:
    (project / "molds" / "later").mkdir()
    (sentence,) = refused("measure", "molds/later")
    assert sentence.startswith("molds/later: this folder has no mold.yaml; ")


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (["mesure"], "Did you mean measure?"),
        (["measure", "--jsn"], "--json"),
        (["pages"], "--out"),
        (["measure", "--language", "tlh"], "de"),
    ],
)
def test_a_command_called_the_wrong_way_ends_with_2_and_says_what_is_right(
    args: list[str], words: str
) -> None:
    result = run(*args)
    assert result.exit_code == 2
    assert words in result.stderr


def test_the_schema_printed_is_the_one_that_the_site_publishes() -> None:
    assert run("schema").stdout == site_map.spec_schema(material_tables.load())


def test_help_comes_without_loading_the_libraries_that_compute() -> None:
    heavy = ("numpy", "trimesh", "mkdocs")
    code = f"import sys; from builder import cli; print([name for name in {heavy} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"


def test_a_version_that_was_never_released_can_be_neither_compared_nor_withdrawn(project: Path) -> None:
    add_mold(project, "worm")
    (sentence,) = refused("diff", "worm", "1")
    assert sentence.startswith("molds/worm: version 1 is not released; expected a released version")
    (sentence,) = refused("withdraw", "worm", "1", "--reason", "Opens under pressure")
    assert "version 1 of worm is not released" in sentence
    assert run("verify").stdout == "Released versions checked: 0. All files are unchanged.\n"


@pytest.mark.parametrize("command", ["build", "pages"])
def test_a_folder_with_other_files_is_never_replaced(project: Path, command: str) -> None:
    add_mold(project, "worm")
    (project / "letters").mkdir()
    (project / "letters" / "will.txt").write_text("mine", encoding="utf-8")
    (sentence,) = refused(command, "--out", "letters")
    assert sentence.startswith("letters: other files are there, which would be lost; ")
    assert (project / "letters" / "will.txt").read_text(encoding="utf-8") == "mine"


@pytest.mark.slow
def test_check_draws_where_an_open_mesh_is_open(project: Path) -> None:
    add_mold(project, "hole", BAD["hole"][0])
    (sentence,) = refused("check")
    drawn = project / sentence.rpartition(" ")[2].removesuffix(".")
    assert drawn.parent == project / ".shotbook" / "open-edges" / "hole"
    assert drawn.read_bytes()[8:12] == b"WEBP"


def test_check_tells_other_programs_findings_and_faults_as_json(tmp_path: Path, kept: Path) -> None:
    small_mold.write(tmp_path / "molds")
    small_mold.write(tmp_path / "molds", "bad-bar", more="nonsense: 1\n")
    done = run("check", "--json", "--molds", str(tmp_path / "molds"), "--store", str(kept))
    told = json.loads(done.stdout)
    assert done.exit_code == 1
    assert [mold["slug"] for mold in told["molds"]] == ["small-bar"]
    assert [(fault["key"], fault["line"]) for fault in told["faults"]] == [("nonsense", 7)]
    assert done.stderr == ""


def test_the_store_is_shown_by_stage_and_trimmed_to_what_is_asked(tmp_path: Path) -> None:
    for stage, size in (("measure", 600_000), ("pictures", 900_000)):
        (tmp_path / "store" / stage / "entry").mkdir(parents=True)
        (tmp_path / "store" / stage / "entry" / "data").write_bytes(bytes(size))
    shown = run("store", "--store", str(tmp_path / "store")).stdout
    assert [line.split() for line in shown.splitlines()] == [
        ["measure", "1", "entries", "600", "kB"],
        ["pictures", "1", "entries", "900", "kB"],
    ]
    run("store", "--store", str(tmp_path / "store"), "--trim", "1")
    left = sum(file.stat().st_size for file in (tmp_path / "store").rglob("*") if file.is_file())
    assert left in (600_000, 900_000)


def test_a_variable_sets_the_language_of_all_commands(tmp_path: Path) -> None:
    small_mold.write(tmp_path / "molds")
    args = ["verify", "--molds", str(tmp_path / "molds"), "--store", str(tmp_path / "store")]
    for language, said in (("de", "Alle Dateien sind unverändert."), ("en", "All files are unchanged.")):
        done = CliRunner().invoke(main, args, env={"SHOTBOOK_LANGUAGE": language})
        assert done.exit_code == 0, done.output
        assert said in done.output
