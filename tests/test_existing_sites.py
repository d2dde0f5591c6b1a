"""In a site that is there already our pages stand beside the user's: whole, reachable, taking nothing away.

Each setup builds right, or stops with one sentence that tells what, why, and what to write instead.
"""

from __future__ import annotations

import json
import posixpath
import re
import warnings
from importlib.util import find_spec
from pathlib import Path
from urllib.parse import unquote

import pytest
from mkdocs.exceptions import Abort

from builder import plugin
from builder.base.problems import Faults
from tests.existing_sites import SETUPS, Setup, write

_LINK = re.compile(r"""\b(?:href|src|data-base)=(?:"([^"]*)"|'([^']*)'|([^\s"'>]+))|\bsrcset="([^"]*)\"""")
BUILT = [setup for setup in SETUPS if not setup.refused]
REFUSED = [setup for setup in SETUPS if setup.refused]


def build(config: Path) -> None:
    """Build as `shotbook build` does; other people's plugins may warn of what they like."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        plugin.build_site(config, None, lambda *_: None)


def dead_links(site: Path) -> list[str]:
    """Links of the site's pages that lead to no file of it."""
    found = []
    for page in site.rglob("*.html"):
        for match in _LINK.finditer(page.read_text(encoding="utf-8")):
            single = match[1] or match[2] or match[3] or ""
            for address in [part.split()[0] for part in match[4].split(", ")] if match[4] else [single]:
                if page.name != "404.html" and not leads_somewhere(site, page.parent, address):
                    found.append(f"{page.relative_to(site)}: {address}")
    return found


def leads_somewhere(site: Path, folder: Path, address: str) -> bool:
    path = unquote(re.split("[#?]", address)[0])
    if path.startswith("/club/"):
        folder, path = site, path.removeprefix("/club/") or "."
    if not path or re.match(r"[a-z]+:|//", path):
        return True
    place = Path(posixpath.normpath(str(folder / path)))
    return place.is_file() or (place / "index.html").is_file()


def sentinel(text: str) -> str:
    """The last line of a page before our mark: it must be on the site."""
    lines = [
        line for line in text.replace("{{ 2 + 2 }}", "4").splitlines() if line and not line.startswith("<!--")
    ]
    return re.sub(r"\[[^]]*]\([^)]*\)|<[^>]*>", "", lines[-1 if "After" not in lines[-1] else -2]).split(".")[
        0
    ]


@pytest.mark.slow
@pytest.mark.parametrize("setup", BUILT, ids=lambda setup: setup.name)
def test_the_catalogue_stands_beside_the_pages_of_the_user(setup: Setup, tmp_path: Path, kept: Path) -> None:
    for package in setup.needs:
        if find_spec(package) is None:
            pytest.skip(f"{package} is not installed; pip install -e '.[sites]'")
    config = write(setup, tmp_path, kept)
    build(config)
    site = tmp_path / "site"
    texts = {
        file.relative_to(site).as_posix(): file.read_text(encoding="utf-8") for file in site.rglob("*.html")
    }
    words = {name: re.sub("<[^>]*>", "", text) for name, text in texts.items()}
    for name, text in setup.pages.items():
        if len(text) > 40:
            assert any(sentinel(text) in told for told in words.values()), f"{name} is lost"
    assert dead_links(site) == []
    molds = [name for name in texts if re.search(r"molds/small-bar(?:/index)?\.html$", name)]
    assert len(molds) == (2 if "languages" in setup.name else 1)
    for name in molds:
        assert 'data-mold="small-bar"' in texts[name] or "data-mold=small-bar" in texts[name]
        assert re.search(r"<link[^>]+stylesheet[^>]+shotbook\.css", texts[name])
        assert len(re.findall(r"<script[^>]+assets/shotbook\.js", texts[name])) == 1
    home = texts["index.html"]
    assert re.search(r'href="?[^">]*(?:catalogue/|index\.html|bench)', home), "nothing leads to the catalogue"
    if "search" in setup.others:
        index = json.loads((site / "search" / "search_index.json").read_text(encoding="utf-8"))
        found = [entry for entry in index["docs"] if "molds/small-bar" in entry["location"]]
        assert any("Small bar" in entry["title"] for entry in found), "search does not find the mold"


@pytest.mark.slow
@pytest.mark.parametrize("setup", REFUSED, ids=lambda setup: setup.name)
def test_a_setting_that_our_pages_cannot_live_with_is_one_sentence_and_takes_nothing_away(
    setup: Setup, tmp_path: Path, kept: Path, caplog: pytest.LogCaptureFixture
) -> None:
    config = write(setup, tmp_path, kept)
    before = {file: file.read_bytes() for file in (tmp_path / "docs").rglob("*") if file.is_file()}
    with pytest.raises((Faults, Abort)) as told:
        build(config)
    assert setup.refused in " ".join(f"{told.value} {caplog.text}".split())
    assert {file: file.read_bytes() for file in before} == before
    assert not (tmp_path / "site" / "index.html").exists()
