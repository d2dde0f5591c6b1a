"""`shotbook init` makes a catalogue that builds, and a second run changes nothing that is there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import yaml
from click.testing import CliRunner

from builder import plugin
from builder.base.store import sums
from builder.cli import main, site, start
from builder.site import place
from tests import small_mold

ROOT = Path(__file__).parent.parent


def init(*args: str) -> str:
    done = CliRunner().invoke(main, ["init", *args])
    assert done.exit_code == 0, done.output
    return done.output


def test_every_file_is_written_once_and_none_that_is_there_is_touched(tmp_path: Path) -> None:
    first = init(str(tmp_path / "new"), "--demo", "--host", "github", "--host", "gitlab", "--host", "netlify")
    assert "kept" not in first
    index = tmp_path / "new" / "site_src" / "index.md"
    index.write_text("Mine.\n", encoding="utf-8")
    before = sums(tmp_path / "new")
    again = init(str(tmp_path / "new"), "--demo", "--host", "github", "--name", "Other", "--language", "de")
    assert sums(tmp_path / "new") == before
    assert "  written " not in again


def test_what_is_written_has_no_place_left_open() -> None:
    for look in ("own", "material"):
        wish = start.Wish(look=look, hosts=tuple(start.HOSTS), demo=True)
        for name, data in start.files(wish).items():
            assert name.endswith(".stl") or not re.search(r"@\w+@", data.decode()), name


def test_a_name_with_signs_of_yaml_is_read_back_as_it_was_given() -> None:
    name = 'Ø: "bench" # 1'
    made = start.files(start.Wish(name=name, address="https://example.org/"))
    assert yaml.safe_load(made["mkdocs.yml"])["site_name"] == name
    assert yaml.safe_load(made["site_src/index.md"].decode().split("---")[1])["title"] == name


def test_the_demo_of_the_package_is_the_demo_of_the_repository() -> None:
    made = start.files(start.Wish(demo=True))
    folder = ROOT / "molds" / start.DEMO
    there = {
        f"molds/{start.DEMO}/{file.name}": file.read_bytes() for file in folder.iterdir() if file.is_file()
    }
    assert {name: data for name, data in made.items() if start.DEMO in name} == there


def test_every_page_that_there_is_once_is_in_the_menu() -> None:
    menu = yaml.safe_load(start.files(start.Wish())["mkdocs.yml"])["nav"]
    assert menu == [f"{name}.md" for name in place.ONCE]


def test_in_a_site_that_is_there_its_settings_and_pages_are_left_alone(tmp_path: Path) -> None:
    (tmp_path / "mkdocs.yml").write_text("site_name: Old\n", encoding="utf-8")
    told = init(str(tmp_path))
    assert (tmp_path / "mkdocs.yml").read_text(encoding="utf-8") == "site_name: Old\n"
    assert not (tmp_path / "site_src").exists()
    assert "- shotbook" in told


def test_frozen_files_keep_the_ends_of_their_lines() -> None:
    """Also in this repository."""
    rules = start.files(start.Wish())[".gitattributes"].decode()
    assert "molds/*/versions/** -text" in rules
    assert "molds/*/versions/** -text" in (ROOT / ".gitattributes").read_text(encoding="utf-8")


@pytest.mark.slow
@pytest.mark.parametrize("look", ["own", "material"])
def test_a_catalogue_that_was_started_builds_with_a_first_mold(look: str, tmp_path: Path, kept: Path) -> None:
    folder = tmp_path / "mes leurres é"
    init(str(folder), "--look", look, "--language", "de")
    small_mold.write(folder / "molds")
    config = folder / "mkdocs.yml"
    text = config.read_text(encoding="utf-8")
    store = f"  - shotbook:\n      store: {kept}\n"
    config.write_text(
        text.replace("  - shotbook:\n", store).replace("  - shotbook\n", store), encoding="utf-8"
    )
    built = plugin.build_site(config, None, lambda *_: None)
    pages = {file.relative_to(built).as_posix() for file in built.rglob("*.html")}
    assert {"index.html", f"{'catalogue/' if look == 'material' else ''}molds/small-bar.html"} <= pages
    assert "Diese Seite gehört dir" in (built / "index.html").read_text(encoding="utf-8")


def test_a_site_larger_than_a_free_host_may_take_is_warned_of(tmp_path: Path) -> None:
    (tmp_path / "a.zip").write_bytes(bytes(2_000_000))
    assert site.over_budget(tmp_path, 2_000_000) == ""
    assert "the site has 2.00 MB. Some hosts take no more than 1.00 MB" in site.over_budget(
        tmp_path, 1_000_000
    )
