"""The site's folder is replaced only if it is ours, whatever mkdocs.yml says."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner

from builder.base import site_folder
from builder.base.problems import Faults
from builder.cli import main


@pytest.fixture
def sources(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[Path, ...]:
    home = tmp_path / "home"
    for name in ("home/catalogue/molds/reed-minnow", "home/catalogue/site_src", "home/catalogue/.shotbook"):
        (tmp_path / name).mkdir(parents=True)
    (home / "thesis.txt").write_text("years of work")
    monkeypatch.setenv("HOME", str(home))
    catalogue = home / "catalogue"
    return tuple(catalogue / name for name in ("mkdocs.yml", "molds", "site_src", ".shotbook"))


def everything(folder: Path) -> dict[str, bytes]:
    return {str(path): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("home", "this is a home folder"),
        (".", "this is a home folder, or holds one"),
        ("/", "this is a home folder, or holds one"),
        ("home/catalogue", "it holds .*mkdocs.yml"),
        ("home/catalogue/molds", "it holds .*molds"),
        ("home/catalogue/site_src", "it holds .*site_src"),
        ("home/catalogue/.shotbook", "it holds .*.shotbook"),
        ("home/catalogue/site_src/../molds", "it holds .*molds"),
    ],
)
def test_a_folder_that_holds_what_the_site_is_made_from_is_refused(
    sources: tuple[Path, ...], tmp_path: Path, name: str, said: str
) -> None:
    (tmp_path / name / site_folder.MARKER).touch() if name != "/" else None
    with pytest.raises(Faults, match=said):
        site_folder.refuse(tmp_path / name, sources)


def repository(folder: Path) -> None:
    (folder / ".git").mkdir()
    site_folder.mark(folder)


def another_site(folder: Path) -> None:
    (folder / "404.html").write_text("not ours")


def linked_mark(folder: Path) -> None:
    (folder / "letter.txt").write_text("mine")
    (folder / site_folder.MARKER).symlink_to("letter.txt")


@pytest.mark.parametrize("fill", [repository, another_site, linked_mark])
def test_a_folder_that_is_not_marked_as_ours_is_refused(
    sources: tuple[Path, ...], tmp_path: Path, fill: Callable[[Path], None]
) -> None:
    (tmp_path / "site").mkdir()
    fill(tmp_path / "site")
    with pytest.raises(Faults):
        site_folder.refuse(tmp_path / "site", sources)


def test_an_absent_an_empty_and_a_marked_folder_are_taken(sources: tuple[Path, ...], tmp_path: Path) -> None:
    site = tmp_path / "site"
    assert site_folder.refuse(site, sources) == site
    site.mkdir()
    assert site_folder.refuse(site, sources) == site
    (site / "index.html").touch()
    site_folder.mark(site)
    assert site_folder.refuse(site, sources) == site


def test_a_link_to_the_sites_folder_stays_a_link(sources: tuple[Path, ...], tmp_path: Path) -> None:
    (tmp_path / "disk").mkdir()
    (tmp_path / "site").symlink_to(tmp_path / "disk")
    assert site_folder.refuse(tmp_path / "site", sources) == tmp_path / "disk"
    (tmp_path / "way-home").symlink_to(tmp_path / "home")
    with pytest.raises(Faults, match="this is a home folder"):
        site_folder.refuse(tmp_path / "way-home", sources)


def test_a_mount_is_told_as_such(
    sources: tuple[Path, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "site").mkdir()
    monkeypatch.setattr("os.path.ismount", lambda path: Path(path) == tmp_path / "site")
    with pytest.raises(Faults, match="this is a mount, which nothing can replace; name a folder inside it"):
        site_folder.refuse(tmp_path / "site", sources)


@pytest.mark.usefixtures("sources")
def test_pages_leaves_a_folder_of_another_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path / "home" / "catalogue")
    for out in ("..", "molds", "mine"):
        Path("mine").mkdir(exist_ok=True)
        Path("mine/index.md").write_text("mine")
        before = everything(tmp_path)
        done = CliRunner().invoke(main, ["pages", "--out", out])
        assert done.exit_code == 1
        assert re.search("expected a new or empty folder", done.output)
        assert everything(tmp_path) == before
