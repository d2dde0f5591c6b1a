"""What a visitor does: find a mold, change units and material, read amounts, run a timer, print the card."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from builder.site.catalogue import Catalogue
from builder.site.data_tables import shown
from tests.browser.conftest import Visit, until

pytestmark = pytest.mark.browser

PHONE = {"viewport": {"width": 390, "height": 850}, "has_touch": True, "is_mobile": True}


def test_the_chosen_units_stay_from_page_to_page(visit: Visit, address: str) -> None:
    page = visit.page
    page.goto(address)
    page.locator(".sb-units").get_by_text("mm, °C").click()
    page.goto(f"{address}molds/reed-minnow.html")
    assert page.locator(".u").first.is_hidden()
    assert page.locator(".m").first.is_visible()


def test_choosing_plastisol_and_material_changes_every_number_that_follows_them(
    visit: Visit, address: str, demo: Catalogue
) -> None:
    page = visit.page
    page.goto(f"{address}molds/reed-minnow.html")
    record = next(r for r in demo.molds if r.spec.slug == "reed-minnow")
    window = next(w for w in reversed(record.advice.windows) if w.shoot_c)
    page.locator(".sb-choose").get_by_label("Plastisol").select_option(window.plastisol)
    page.locator(".sb-choose").get_by_label("Mold made of").select_option(window.mold_material)
    wanted = {
        "w.point": window.shoot_c,
        "w.hold": window.hold_s,
        "w.cool": window.cool_s,
        "w.fill": window.fill_c,
    }
    for key, figure in wanted.items():
        assert figure is not None
        for text in page.locator(f'[data-n="{key}"]').all_text_contents():
            assert shown(figure, "en")[0] in text


@pytest.mark.parametrize(
    ("paper", "size"), [("a6", (148, 105)), ("4x6", (152.4, 101.6)), ("5x8", (203.2, 127))]
)
@pytest.mark.parametrize("slug", ["flatback-crawler", "pond-stick", "quad-grub", "reed-minnow"])
def test_the_card_prints_on_one_page_with_nothing_cut(
    visit: Visit, address: str, slug: str, paper: str, size: tuple[float, float]
) -> None:
    page = visit.page
    page.goto(f"{address}card.html#{slug}")
    expect(page.locator(".card")).to_be_visible()
    page.check(f"#paper-{paper}")
    cut = "e => [e.scrollHeight - e.clientHeight, e.scrollWidth - e.clientWidth]"
    assert page.locator(".card").evaluate(cut) == [0, 0]
    pdf = page.pdf(prefer_css_page_size=True, print_background=True)
    assert len(re.findall(rb"/Type\s*/Page\b", pdf)) == 1
    box = re.search(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\]", pdf)
    assert box is not None
    assert [float(side) / 72 * 25.4 for side in box.groups()] == pytest.approx(size, abs=0.4)


def test_everything_is_reached_by_keyboard(visit: Visit, address: str) -> None:
    page = visit.page
    page.goto(f"{address}molds/reed-minnow.html")
    stops = page.evaluate(
        "[...document.querySelectorAll('a[href],button,select,input,summary,[tabindex]')]"
        ".filter(e => e.checkVisibility() && !e.disabled).length"
    )
    reached = set()
    for _ in range(stops + 5):
        page.keyboard.press("Tab")
        reached.add(
            page.evaluate("(e => [...document.querySelectorAll('*')].indexOf(e))(document.activeElement)")
        )
    assert len(reached) >= stops - 3  # a group of radio buttons is one stop
    page.locator(".sb-choose select").first.focus()
    page.keyboard.type("hard")
    assert page.locator("[data-t=plastisol]").text_content() == "hard"


def test_the_site_is_complete_without_a_network_once_it_was_opened(chromium: Browser, address: str) -> None:
    context = chromium.new_context()
    page = context.new_page()
    page.goto(address)
    page.evaluate("navigator.serviceWorker.ready")
    until(page, "caches.keys().then(k => k.length)")
    context.set_offline(True)
    page.goto(f"{address}bench.html#pond-stick")
    expect(page.locator("[data-b=heat_ml]")).to_contain_text("mL")
    page.goto(f"{address}molds/quad-grub.html")
    assert page.get_by_role("heading", level=1).inner_text() == "Quad grub"
    assert page.evaluate("[...document.styleSheets].some(s => s.href.includes('stylesheets/main'))")
    page.evaluate("document.querySelectorAll('details').forEach(fold => { fold.open = true; })")
    for picture in page.locator("img").all():
        picture.scroll_into_view_if_needed()
    until(page, "[...document.images].every(i => i.complete)")
    assert page.evaluate("[...document.images].filter(i => !i.naturalWidth).map(i => i.src)") == []
    page.goto(f"{address}card.html#quad-grub")
    expect(page.locator(".card img")).to_be_visible()
    context.close()


def test_bench_and_comparison_work_from_the_folder(visit: Visit, folder: Path) -> None:
    page = visit.page
    page.goto((folder / "bench.html").as_uri() + "#reed-minnow")
    expect(page.locator("[data-b=heat_ml]")).to_contain_text("mL")
    page.goto((folder / "compare.html").as_uri() + "#reed-minnow,pond-stick")
    expect(page.locator(".sb-compare thead th")).to_have_text(["What", "Reed minnow", "Pond stick"])


@pytest.mark.parametrize("path", ["molds/reed-minnow.html", "molds/reed-minnow/v2.html"])
def test_every_picture_with_words_gets_them(visit: Visit, address: str, path: str) -> None:
    visit.page.goto(f"{address}{path}")
    drawn = visit.page.locator("[data-over]")
    expect(drawn.last.locator("svg text").first).to_be_attached()
    assert drawn.count() >= 4
    assert drawn.locator("svg").count() == drawn.count()
