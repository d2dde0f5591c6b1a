"""Every page, narrow and wide, light and dark: nothing on the console, from elsewhere, or cut off.

Two checkers from outside are asked too: axe for accessibility, html-validate for the markup.
"""

from __future__ import annotations

import json
import subprocess
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser

from builder.base import units
from builder.site.catalogue import Catalogue
from tests.browser.conftest import Visit

pytestmark = pytest.mark.browser

VIEWS = [
    {"viewport": {"width": width, "height": 850}, "color_scheme": scheme}
    for width in (390, 1440)
    for scheme in ("light", "dark")
]
WIDER = "document.documentElement.scrollWidth - window.innerWidth"
BROKEN = "[...document.images].filter(i => i.loading !== 'lazy' && !i.naturalWidth).map(i => i.src)"


SHOWN = {
    "card.html": "#pond-stick",
    "bench.html": "#reed-minnow",
    "compare.html": "#reed-minnow,pond-stick",
}
"""What some pages are asked for, behind their address."""
CHECKED = (
    *("index", "molds/reed-minnow", "molds/flatback-crawler", "card", "bench", "compare", "colours"),
    *("materials", "method", "glossary", "safety", "requests", "mold-file", "404"),
)
"""One page of each kind, for axe takes seconds of a long one."""
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
AXE = "rules => axe.run({runOnly: rules, resultTypes: ['violations']})"


def pages(folder: Path) -> list[str]:
    return sorted(file.relative_to(folder).as_posix() for file in folder.rglob("*.html"))


def named(view: dict[str, Any]) -> str:
    return f"{view['viewport']['width']}-{view['color_scheme']}"


@pytest.mark.parametrize("visit", VIEWS, indirect=True, ids=named)
def test_every_page_opens_without_a_complaint_and_fits_and_axe_finds_nothing_on_any_kind(
    visit: Visit, address: str, folder: Path, npm: Path
) -> None:
    axe = (npm / "axe-core" / "axe.min.js").read_text(encoding="utf-8")
    assert set(CHECKED) <= {page.removesuffix(".html") for page in pages(folder)}
    for page in pages(folder):
        visit.page.goto(f"{address}{page}{SHOWN.get(page, '')}")
        assert visit.page.evaluate(WIDER) <= 0, f"{page} is wider than the screen"
        assert visit.page.evaluate(BROKEN) == [], f"{page} misses a picture"
        assert visit.page.locator("h1").count() == 1, f"{page} has not exactly one first heading"
        if page.removesuffix(".html") not in CHECKED:
            continue
        visit.page.evaluate(axe)
        found = visit.page.evaluate(AXE, RULES)["violations"]
        assert [(one["id"], node["html"][:160]) for one in found for node in one["nodes"]] == [], page


def test_the_markup_is_valid(npm: Path, folder: Path, tmp_path: Path) -> None:
    config = tmp_path / "config.json"
    rules = {
        "no-inline-style": "off",
        "no-trailing-whitespace": "off",
        "void-style": "off",
        "attribute-boolean-style": "off",
        "long-title": "off",
        "require-sri": "off",
        "no-raw-characters": "off",
    }
    config.write_text(json.dumps({"root": True, "extends": ["html-validate:standard"], "rules": rules}))
    tool = npm / "html-validate" / "bin" / "html-validate.mjs"
    command = ["node", str(tool), "--config", str(config), "--formatter", "json", str(folder / "**/*.html")]
    told = tmp_path / "told.json"
    with told.open("w") as out:  # into a file: what node writes into a pipe may be cut off
        subprocess.run(command, stdout=out, timeout=300, check=False)
    found = json.loads(told.read_text(encoding="utf-8"))
    assert [(Path(f["filePath"]).name, m["line"], m["message"]) for f in found for m in f["messages"]] == []


def test_every_page_opens_from_the_folder_without_a_server(visit: Visit, folder: Path) -> None:
    for page in set(pages(folder)) - {"404.html"}:  # a server's page: any address may lead to it
        visit.page.goto(folder.joinpath(page).as_uri())
        assert visit.page.evaluate(BROKEN) == []
    visit.page.goto((folder / "index.html").as_uri())
    visit.page.get_by_role("link", name="Reed minnow").click()
    assert visit.page.get_by_role("heading", level=1).inner_text() == "Reed minnow"


def test_without_scripts_the_catalogue_is_a_plain_list_and_a_mold_tells_all_its_numbers(
    chromium: Browser, address: str, demo: Catalogue
) -> None:
    context = chromium.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(address)
    assert page.locator(".sb-card").count() == 4
    assert not page.locator(".sb-find").is_visible()
    page.get_by_role("link", name="Pond stick").click()
    own = next(r for r in demo.molds if r.spec.slug == "pond-stick").advice.windows[0]
    assert own.shoot_c is not None
    assert units.line(own.shoot_c) in page.locator("#shoot ~ .sb-part").first.inner_text()
    context.close()
