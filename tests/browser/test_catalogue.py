"""Finding and comparing: slips of the finger, sizes in any unit, chips with counts, shared links, Back."""

from __future__ import annotations

from urllib.parse import parse_qs

import pytest
from playwright.sync_api import Page, expect

from builder.base.texts import Texts
from builder.site.catalogue import Catalogue
from tests.browser.conftest import Visit, until

pytestmark = pytest.mark.browser

PHONE = {"viewport": {"width": 390, "height": 664}, "has_touch": True, "is_mobile": True}
EVERY = ["Flat-back crawler", "Pond stick", "Quad grub", "Reed minnow"]


def titles(page: Page) -> list[str]:
    return page.locator(".sb-card h2").all_inner_texts()


def search(page: Page, text: str) -> None:
    page.locator("[name=q]").fill(text)


def chip(page: Page, facet: str, name: str) -> None:
    page.locator(f"[data-facet={facet}] label:has(> span:text-is('{name}'))").click()


def more(page: Page, english: Texts) -> None:
    page.get_by_text(english.say("page.find.more"), exact=True).click()


def opened(visit: Visit, address: str, asked: str = "") -> Page:
    visit.page.goto(f"{address}index.html{asked}")
    visit.page.wait_for_selector(".sb-find:not([hidden])")
    return visit.page


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("zander paddle", ["Reed minnow"]),
        ("minow", ["Reed minnow"]),
        ("mnnow", ["Reed minnow"]),
        ("rede minnwo", ["Reed minnow"]),
        ("crwaler", ["Flat-back crawler"]),
        ("5 inch", ["Flat-back crawler", "Pond stick", "Reed minnow"]),
        ('5"', ["Flat-back crawler", "Pond stick", "Reed minnow"]),
        ("12,5 cm", ["Flat-back crawler", "Pond stick", "Reed minnow"]),
        ("60mm grub", ["Quad grub"]),
        ("2.4in", ["Quad grub"]),
        ("4 inch minow", ["Reed minnow"]),
        ("trombone", []),
    ],
)
def test_a_search_forgives_slips_and_knows_sizes(
    visit: Visit, address: str, text: str, found: list[str]
) -> None:
    page = opened(visit, address)
    search(page, text)
    assert titles(page) == found


def test_a_chip_tells_how_many_molds_it_leaves_and_leaves_them(
    visit: Visit, address: str, english: Texts
) -> None:
    page = opened(visit, address)
    more(page, english)
    for facet in ("size", "type", "target", "cavities", "works"):
        for label in page.locator(f"[data-facet={facet}] label").all_text_contents():
            name, _, count = label.rpartition(" ")
            chip(page, facet, name)
            assert len(titles(page)) == int(count), label
            chip(page, facet, name)
    assert titles(page) == EVERY
    chip(page, "cavities", "4")
    assert titles(page) == ["Quad grub"]
    counts = page.locator("[data-facet=type] b").all_inner_texts()
    assert counts == ["1"], "the other chips count what is left"
    chip(page, "cavities", "1")
    assert titles(page) == ["Pond stick", "Quad grub"], "chips of one kind add up"


def test_numbers_narrow_the_list_and_clearing_brings_all_back(
    visit: Visit, address: str, english: Texts
) -> None:
    page = opened(visit, address)
    clear = page.get_by_role("button", name=english.say("page.find.reset"))
    expect(clear).to_be_hidden()
    more(page, english)
    page.locator("[name=length_from]").fill("120")
    assert titles(page) == ["Pond stick"]
    expect(clear).to_be_visible()
    page.locator("[name=length_from]").fill("")
    page.locator("[name=shot]").fill("15")
    assert titles(page) == ["Flat-back crawler", "Pond stick"]
    chip(page, "size", "≥ 125 mm")
    clear.click()
    expect(clear).to_be_hidden()
    expect(page.locator(".sb-card")).to_have_count(4)
    assert page.url.partition("#")[2] == ""


def test_where_nothing_fits_the_page_tells_what_to_give_up(visit: Visit, address: str) -> None:
    page = opened(visit, address)
    search(page, "minnow")
    chip(page, "size", "100–125 mm")
    page.evaluate("document.querySelector('[name=shot]').value = '1'")
    page.locator("[name=q]").press("End")
    search(page, "minnow ")
    assert titles(page) == []
    box = page.locator(".sb-none")
    expect(box).to_be_visible()
    expect(box.get_by_role("button")).to_have_count(1)
    box.get_by_role("button").click()
    assert titles(page) == ["Reed minnow"]
    expect(box).to_be_hidden()


def test_a_shared_link_keeps_its_units(visit: Visit, address: str, english: Texts) -> None:
    page = opened(visit, address)
    page.locator(".sb-units").get_by_text("in, °F").click()
    more(page, english)
    page.locator("[name=length_from]").fill("5")
    assert titles(page) == ["Pond stick"]
    link = page.url
    assert parse_qs(link.partition("#")[2])["units"] == ["us"]
    page.locator(".sb-units").get_by_text("mm, °C").click()
    assert page.locator("[name=length_from]").input_value() == "127", "a typed number follows the units"
    assert titles(page) == ["Pond stick"]
    page.goto("about:blank")
    page.goto(link)
    page.wait_for_selector(".sb-find:not([hidden])")
    assert page.locator("[name=length_from]").input_value() == "127"
    assert titles(page) == ["Pond stick"]
    page.goto("about:blank")
    page.goto(f"{address}index.html#size=4in")
    page.wait_for_selector(".sb-find:not([hidden])")
    assert titles(page) == ["Flat-back crawler", "Reed minnow"]


def test_sorting_by_length_puts_the_shortest_first(visit: Visit, address: str, demo: Catalogue) -> None:
    lengths = {r.spec.title: max(b.length_mm for b in r.measurement.baits) for r in demo.molds}
    page = opened(visit, address)
    page.locator("[name=sort]").select_option("length")
    assert titles(page) == sorted(lengths, key=lambda title: lengths[title])


@pytest.mark.parametrize("visit", [PHONE], indirect=True)
def test_on_a_phone_two_columns_fit_and_back_leads_to_the_same_place(visit: Visit, address: str) -> None:
    page = opened(visit, address)
    boxes = [box for card in page.locator(".sb-card").all() if (box := card.bounding_box())]
    assert boxes[0]["y"] == boxes[1]["y"]
    assert boxes[2]["y"] == boxes[3]["y"] > boxes[0]["y"]
    assert max(box["height"] for box in boxes) <= 215
    page.evaluate("scrollTo(0, 260)")
    page.wait_for_timeout(100)
    before = page.evaluate("scrollY")
    assert before > 200
    page.get_by_role("link", name="Quad grub").tap()
    page.wait_for_selector("h1")
    page.go_back()
    page.wait_for_selector(".sb-find:not([hidden])")
    until(page, "y => Math.abs(scrollY - y) < 3", before)


@pytest.mark.parametrize("visit", [PHONE], indirect=True)
def test_what_is_chosen_to_compare_stays_in_view_and_in_the_address(visit: Visit, address: str) -> None:
    page = opened(visit, address)
    for title in ("Pond stick", "Reed minnow"):
        page.locator(".sb-card", has_text=title).get_by_role("checkbox").check()
    bar = page.locator(".sb-chosen").bounding_box()
    assert bar is not None
    assert bar["y"] + bar["height"] <= 664.5
    page.locator("[data-compare]").tap()
    heads = page.locator(".sb-compare thead th")
    expect(heads).to_have_text(["What", "Pond stick", "Reed minnow"])
    assert page.locator('[data-path="cavities"] td').all_inner_texts() == ["1", "2"]
    page.go_back()
    expect(page.locator(".sb-chosen li")).to_have_count(2)
    page.locator(".sb-chosen li button").first.tap()
    expect(page.locator(".sb-chosen li")).to_have_count(1)
    expect(page.locator("[data-compare]")).to_be_hidden()


FOUR = "flatback-crawler,pond-stick,quad-grub,reed-minnow"


def compared(visit: Visit, address: str, asked: str) -> Page:
    visit.page.goto(f"{address}compare.html#{asked}")
    visit.page.wait_for_selector(".sb-grid:not([hidden])")
    return visit.page


@pytest.mark.parametrize("visit", [{"viewport": {"width": 1440, "height": 900}}, PHONE], indirect=True)
def test_four_molds_are_compared_without_scrolling_sideways(visit: Visit, address: str) -> None:
    page = compared(visit, address, FOUR)
    expect(page.locator("[data-path='cavities'] td")).to_have_count(4)
    wide = "e => e.scrollWidth - e.clientWidth"
    assert page.locator("html").evaluate(wide) <= 0
    for cell in page.locator(".sb-grid td").all():
        assert cell.evaluate(wide) <= 0
    assert page.locator(".sb-group:visible").count() == 4


def test_rows_that_differ_are_marked_and_can_be_shown_alone(visit: Visit, address: str) -> None:
    page = compared(visit, address, FOUR)
    for row in page.locator("[data-path]").all():
        cells = row.locator("td").all_text_contents()
        alike = len(set(cells)) == 1
        assert (row.get_attribute("data-same") is not None) == alike
        assert (row.get_attribute("data-differs") is not None) != alike
    page.locator("[name=only]").check()
    assert page.locator("[data-same]:visible").count() == 0
    assert page.locator("[data-differs]:visible").count() > 5


def test_the_address_of_a_comparison_keeps_plastisol_and_material(visit: Visit, address: str) -> None:
    page = compared(visit, address, "pond-stick,reed-minnow")
    page.locator("[name=plastisol]").select_option("hard")
    page.locator("[name=material]").select_option("petg")
    link = page.url
    assert link.endswith("compare.html?plastisol=hard&material=petg#pond-stick,reed-minnow")
    told = page.locator(".sb-grid").inner_text()
    page.goto("about:blank")
    page.goto(link)
    page.wait_for_selector("[data-path=cavities] td")
    until(page, "told => document.querySelector('.sb-grid').innerText === told", told)
    assert page.locator("[name=plastisol]").input_value() == "hard"
