"""Our pages in somebody's Material site: nothing complains, whatever it exchanges, switches or searches."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from builder import plugin
from tests.browser.conftest import Quiet, Visit, serving, until
from tests.existing_sites import SETUPS, Setup, write

pytestmark = [pytest.mark.browser, pytest.mark.slow]
INSTANT = next(setup for setup in SETUPS if "instant" in setup.name)
OWN_SCRIPTS = next(setup for setup in SETUPS if "overrides" in setup.name)
OWN_SITE = next(setup for setup in SETUPS if setup.name.startswith("a site of its own"))


class Below(Quiet):
    """Serves the folder below /club/, as a host that holds several sites does."""

    def translate_path(self, path: str) -> str:
        return super().translate_path(path.removeprefix("/club") if path.startswith("/club/") else "/none")


@pytest.fixture
def club(request: pytest.FixtureRequest, tmp_path: Path, kept: Path) -> Iterator[str]:
    """The address of the site of a setup."""
    setup: Setup = request.param
    site = tmp_path / "site"
    with serving(site, Below) as server:
        config = write(setup, tmp_path, kept)
        text = config.read_text(encoding="utf-8")
        config.write_text(text.replace("https://example.org/", server), encoding="utf-8")
        plugin.build_site(config, None, lambda *_: None)
        yield f"{server}club/"


@pytest.fixture
def guest(chromium: Browser, club: str) -> Iterator[Visit]:
    context = chromium.new_context(viewport={"width": 1280, "height": 900})
    visit = Visit(context, (club,))
    context.on(
        "response", lambda answer: visit.complaints.extend([answer.url] if answer.status >= 400 else [])
    )
    yield visit
    complaints = visit.complaints
    context.close()
    assert not complaints


def follow(page: Page, ending: str) -> None:
    """Follow a link of the page, as a click does."""
    script = "end => [...document.links].find(a => a.href.split('#')[0].endsWith(end)).click()"
    page.evaluate(script, ending)


@pytest.mark.parametrize("club", [INSTANT], indirect=True)
def test_pages_that_are_exchanged_without_loading_work_as_if_they_were_loaded(
    club: str, guest: Visit
) -> None:
    page, loads = guest.page, list[str]()
    page.on("load", lambda _: loads.append(page.url))
    page.goto(club, wait_until="networkidle")  # the site learns of its pages from its sitemap first
    follow(page, "/catalogue/")
    until(page, "document.querySelectorAll('.sb-card label').length === 1")
    follow(page, "/molds/small-bar/")
    until(page, "document.querySelector('.sb-choose')?.hidden === false")
    until(page, "document.querySelectorAll('.sb-units').length === 1")
    follow(page, "/bench/")
    until(page, "document.querySelector('.sb-bench-pick select')?.value === 'small-bar'")
    follow(page, "/trips/autumn/")
    until(page, "document.querySelector('h1')?.textContent.startsWith('Autumn')")
    follow(page, "/trips/spring/")
    until(page, "document.querySelector('var')?.textContent === 'slow'")
    assert page.evaluate("[...document.styleSheets].filter(s => s.href?.includes('shotbook')).length") == 0
    follow(page, "/catalogue/")
    until(page, "document.querySelectorAll('.sb-card label').length === 1")
    assert loads == [club]


@pytest.mark.parametrize("club", [INSTANT], indirect=True)
def test_the_switch_of_light_and_dark_is_the_sites_and_its_search_finds_molds(
    club: str, guest: Visit
) -> None:
    page = guest.page
    page.goto(f"{club}catalogue/molds/small-bar/")
    ground = "getComputedStyle(document.querySelector('.sb-book .sb-four > div')).backgroundColor"
    light = page.evaluate(ground)
    page.evaluate("document.querySelector('[data-md-component=palette] label:not([hidden])').click()")
    until(page, f"{ground} !== {light!r}")
    page.click(".md-search__input")
    page.keyboard.type("small bar", delay=30)
    until(
        page,
        "[...document.querySelectorAll('.md-search-result__link')].some(a => a.href.includes('small-bar'))",
    )


@pytest.mark.parametrize("club", [OWN_SCRIPTS], indirect=True)
def test_neither_the_users_styles_and_scripts_nor_ours_reach_into_the_other(club: str, guest: Visit) -> None:
    page = guest.page
    page.goto(club)
    before = page.evaluate("getComputedStyle(document.querySelector('h1')).fontSize")
    page.goto(f"{club}catalogue/bench/")
    until(page, "document.querySelector('.sb-bench-pick select')?.value === 'small-bar'")
    assert page.evaluate("[window.figures, words]") == [1, 2]
    page.goto(f"{club}trips/spring/")
    assert page.evaluate("getComputedStyle(document.querySelector('h1')).fontSize") == before
    assert page.evaluate("document.querySelector('var').children.length") == 0


@pytest.mark.parametrize("club", [OWN_SITE], indirect=True)
def test_a_site_of_its_own_takes_the_users_sign_colours_menu_and_scripts(club: str, guest: Visit) -> None:
    page = guest.page
    page.goto(f"{club}trips/spring.html")
    assert page.evaluate("document.documentElement.dataset.mine") == "1"
    assert (
        page.evaluate("getComputedStyle(document.documentElement).getPropertyValue('--water')") == "#114488"
    )
    assert page.evaluate("document.querySelector('.sb-brand img').naturalWidth > 0")
    assert page.evaluate("[...document.querySelectorAll('.sb-menu summary')].map(s => s.textContent)") == [
        "Menu",
        "Trips",
        "Past",
    ]
    assert "Roach club, on a jetty" in page.inner_text("footer")
    page.goto(f"{club}index.html")
    until(page, "document.querySelectorAll('.sb-card label').length === 1")
    assert page.inner_text("h1") == "Roach club"
    page.fill(".sb-search input", "small bar")
    until(page, "document.querySelector('.sb-search a')?.href.endsWith('molds/small-bar.html')")
    page.fill(".sb-search input", "cold water")
    until(page, "document.querySelector('.sb-search a')?.href.endsWith('trips/spring.html')")
