"""What is touched is large enough for a finger; the frame, the card and the paper behave."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from builder import plugin
from tests import small_mold, small_site
from tests.browser.conftest import Visit, serving, until

pytestmark = pytest.mark.browser

PHONE = {"viewport": {"width": 390, "height": 664}, "has_touch": True, "is_mobile": True}
TARGETS = (
    "button, select, summary, input:not([type=radio], [type=checkbox]), label:has(> input), nav a, header a,"
    " a[download], .sb-actions a, .sb-pager a, .sb-card a"
)
SMALL = """selector => [...document.querySelectorAll(selector)].filter(e => e.checkVisibility())
  .map(e => [e.outerHTML.slice(0, 90), e.getBoundingClientRect().height]).filter(([, h]) => h < 43.9)"""
PAGES = (
    "index.html",
    "molds/reed-minnow.html",
    "molds/flatback-crawler.html",
    "bench.html#reed-minnow",
    "compare.html#reed-minnow,pond-stick",
    "card.html#reed-minnow",
    "safety.html",
)


@pytest.mark.parametrize("path", PAGES)
@pytest.mark.parametrize("visit", [PHONE], indirect=True)
def test_every_target_is_at_least_44_pixels_tall(visit: Visit, address: str, path: str) -> None:
    visit.page.goto(f"{address}{path}")
    visit.page.wait_for_timeout(700)
    visit.page.evaluate("document.querySelectorAll('details').forEach(fold => { fold.open = true; })")
    assert visit.page.evaluate(SMALL, TARGETS) == []


@pytest.mark.parametrize(
    "visit", [{"viewport": {"width": w, "height": 900}} for w in (1280, 1440, 1920)], indirect=True
)
def test_the_header_is_one_row_and_the_pages_for_makers_are_in_the_foot(visit: Visit, address: str) -> None:
    page = visit.page
    page.goto(f"{address}index.html")
    rows = {
        round(box["y"] + box["height"] / 2)
        for link in page.locator(".sb-header a:visible").all()
        if (box := link.bounding_box())
    }
    assert max(rows) - min(rows) <= 4
    assert page.locator(".sb-header").evaluate("e => e.getBoundingClientRect().height") < 70
    for name in ("method", "mold-file", "commands"):
        assert page.locator(f".sb-header a[href='{name}.html']").count() == 0
        expect(page.locator(f".sb-footer a[href='{name}.html']")).to_be_visible()


@pytest.mark.parametrize("visit", [{"color_scheme": "dark"}], indirect=True)
def test_the_card_is_dark_on_a_dark_screen_and_light_on_paper(visit: Visit, address: str) -> None:
    page = visit.page
    page.goto(f"{address}card.html#reed-minnow")
    expect(page.locator(".card")).to_be_visible()
    ground = "getComputedStyle(document.querySelector('.card')).backgroundColor"
    assert page.evaluate(ground) == "rgb(24, 35, 31)"
    page.emulate_media(media="print")
    assert page.evaluate(ground) == "rgb(255, 255, 255)"


def test_the_card_warns_while_the_address_of_the_site_is_an_example(visit: Visit, address: str) -> None:
    visit.page.goto(f"{address}card.html#reed-minnow")
    told = visit.page.locator("[data-leads]")
    expect(told).to_contain_text("https://example.org/molds/reed-minnow.html")
    expect(told).to_have_class(re.compile("unset"))


@pytest.mark.parametrize("slug", ["flatback-crawler", "pond-stick", "quad-grub", "reed-minnow"])
def test_a_mold_page_prints_on_at_most_six_pages(visit: Visit, address: str, slug: str) -> None:
    visit.page.goto(f"{address}molds/{slug}.html")
    until(visit.page, "document.querySelector('.sb-choose')?.hidden === false")
    pdf = visit.page.pdf(format="A4", prefer_css_page_size=False)
    assert len(re.findall(rb"/Type\s*/Page\b", pdf)) <= 6


def test_a_site_in_several_languages_leads_to_the_same_page_in_the_others(
    chromium: Browser, tmp_path: Path, kept: Path
) -> None:
    small_mold.write(tmp_path / "molds")
    alternate = [
        {"name": "EN", "lang": "en", "link": "./"},
        {"name": "DE", "lang": "de", "link": "../de/"},
    ]
    config = small_site.configure(
        tmp_path, kept, site_url="https://molds.test/", extra={"alternate": alternate}
    )
    context = chromium.new_context()
    page = context.new_page()
    with serving(plugin.build_site(config, None, lambda *_: None)) as address:
        page.goto(f"{address}molds/small-bar.html")
        links = page.locator(".sb-languages a")
        assert [one.get_attribute("href") for one in links.all()] == [
            "../molds/small-bar.html",
            "../../de/molds/small-bar.html",
        ]
        expect(links.first).to_have_attribute("aria-current", "true")
        page.goto(f"{address}card.html#small-bar")
        expect(page.locator("[data-leads]")).to_contain_text("https://molds.test/molds/small-bar.html")
        expect(page.locator("[data-leads]")).not_to_have_class(re.compile("unset"))
    context.close()
