"""Each site that people have, with our pages in it, in a browser: all pictures, no complaint, nothing lost.

The sites are those of tests/existing_sites.py that must build; each is built once, served below an address,
and walked: the pages of the user, the catalogue, a mold and the bench.
"""

from __future__ import annotations

import re
import warnings
from importlib.util import find_spec
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from builder import plugin
from tests.browser.conftest import Visit, serving, until
from tests.browser.test_existing_site import Below
from tests.existing_sites import SETUPS, Setup, write

pytestmark = [pytest.mark.browser, pytest.mark.slow]
BUILT = [setup for setup in SETUPS if not setup.refused]
WALKED = re.compile(r"(?:^|/)(?:index|bench|card|compare|small-bar|safety|spring|autumn|sum|old|gone)\.html$")
ASKED = re.compile(r"/sitemap\.xml$")
"""Material looks for one beside each address of another language, and finds none without us either."""
NOT_FOUND = "Failed to load resource"
"""The console's word for an answer that is counted by itself."""
BROKEN = "[...document.images].filter(i => !i.complete || !i.naturalWidth).map(i => i.src)"
SIZED = "[...document.querySelectorAll('main, [role=main], .md-content')].some(e => e.offsetHeight > 40)"


def pages(site: Path) -> list[str]:
    """Addresses of the pages to walk, from the site's root."""
    found = sorted(file.relative_to(site).as_posix() for file in site.rglob("*.html"))
    plain = {name: re.sub(r"/index\.html$", ".html", name) for name in found}
    return [name for name in found if WALKED.search(plain[name]) or name.endswith("catalogue/index.html")]


def address(page: str, folders: bool) -> str:
    return re.sub(r"(^|/)index\.html$", r"\1", page) if folders else page


@pytest.mark.parametrize("setup", BUILT, ids=lambda setup: setup.name)
def test_a_visitor_walks_through_the_site_and_nothing_complains(
    setup: Setup, tmp_path: Path, kept: Path, chromium: Browser
) -> None:
    for package in setup.needs:
        if find_spec(package) is None:
            pytest.skip(f"{package} is not installed; pip install -e '.[sites]'")
    site = tmp_path / "site"
    with serving(site, Below) as server:
        config = write(setup, tmp_path, kept)
        text = config.read_text(encoding="utf-8")
        config.write_text(text.replace("https://example.org/", server), encoding="utf-8")
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # other people's plugins may warn of what they like
            plugin.build_site(config, None, lambda *_: None)
        context = chromium.new_context(viewport={"width": 1280, "height": 900})
        visit = Visit(context, (server,))
        lost: list[str] = []
        context.on("response", lambda answer: lost.extend([answer.url] if answer.status >= 400 else []))
        walked = pages(site)
        for name in walked:
            visit.page.goto(f"{server}club/{address(name, setup.more.get('use_directory_urls', True))}")
            visit.page.evaluate("document.querySelectorAll('img').forEach(i => { i.loading = 'eager'; })")
            until(visit.page, f"{BROKEN}.length === 0")
            assert visit.page.evaluate(SIZED), f"{name} shows nothing"
        mold = next(name for name in walked if "small-bar" in name)
        visit.page.goto(f"{server}club/{mold}")
        assert visit.page.evaluate("document.images.length") >= 5
        until(visit.page, "document.querySelector('.sb-choose')?.hidden === false")
        complaints = visit.complaints
        context.close()
        asked = {url for url in lost if not (ASKED.search(url) and "languages" in setup.name)}
        assert asked == set()
        assert [said for said in complaints if NOT_FOUND not in said] == []
        assert len(walked) >= 6
