"""The bench, as it is used with gloves on: one card in view, molds in turn, clocks that are not lost."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from builder.model import MoldRecord, Window
from builder.site.catalogue import Catalogue
from builder.site.data_tables import shown
from tests.browser.conftest import until

pytestmark = pytest.mark.browser

PHONE: dict[str, Any] = {"viewport": {"width": 390, "height": 664}, "has_touch": True, "is_mobile": True}
MINUTES = {"min": 60, "s": 1, "h": 3600}


@pytest.fixture
def page(chromium: Browser, address: str) -> Iterator[Page]:
    """A phone with the bench of the reed minnow open, and a clock that the test turns."""
    context = chromium.new_context(**PHONE)
    page = context.new_page()
    page.clock.install()
    opened(page, address)
    page.clock.pause_at(page.evaluate("Date.now()") + 10_000)
    yield page
    context.close()


@pytest.fixture
def minnow(demo: Catalogue) -> MoldRecord:
    return record(demo, "reed-minnow")


def record(demo: Catalogue, slug: str) -> MoldRecord:
    return next(one for one in demo.molds if one.spec.slug == slug)


def opened(page: Page, address: str, slug: str = "reed-minnow") -> None:
    page.goto(f"{address}bench.html#{slug}")
    settled(page, slug)


def settled(page: Page, slug: str = "reed-minnow") -> None:
    """Wait for the numbers of this mold: an address on the same page leaves it standing while they load."""
    expect(page.locator("[data-page]")).to_have_attribute("href", re.compile(rf"molds/{slug}\b"))
    expect(page.locator(".sb-bench-body")).to_be_visible()
    page.wait_for_selector("[data-b=heat_g] span", state="attached")


def forward(page: Page, times: int = 1) -> None:
    for _ in range(times):
        page.locator("[data-next]").tap()


def card(page: Page) -> str | None:
    (only,) = page.locator(".sb-step:visible").all()
    return only.get_attribute("data-step")


def clock(page: Page, name: str) -> int:
    """Seconds on a clock; negative when it is overdue."""
    text = page.locator(f"[data-timer={name}] .sb-clock").text_content() or ""
    minutes, rest = text.lstrip("−").split(":")
    return (int(minutes) * 60 + int(rest)) * (-1 if text.startswith("−") else 1)


def told(text: str) -> int:
    """Seconds of a time as it is written."""
    parts = re.findall(r"([\d.]+)\s*(h|min|s)\b", text)
    return round(sum(float(number) * MINUTES[unit] for number, unit in parts))


def own(one: MoldRecord) -> Window:
    return one.advice.windows[0]


def test_one_card_is_in_view_and_one_big_button_leads_through_a_shot(page: Page) -> None:
    seen = []
    for _ in range(6):
        seen.append(card(page))
        box = page.locator("[data-next]").bounding_box()
        assert box is not None
        assert box["height"] >= 60
        assert box["y"] + box["height"] <= 664, "the big button is on the screen"
        forward(page)
        if page.locator("[data-next][data-asked]").count():
            page.clock.run_for(500)
            forward(page)
    assert seen == ["amount", "heat", "push", "hold", "open", "rest"]
    assert card(page) == "heat"


def test_twelve_baits_are_answered_on_the_first_screen(page: Page, minnow: MoldRecord) -> None:
    row = next(a for a in minnow.advice.amounts if a.plastisol == minnow.spec.plastisol).batch[11]
    for name, figure in (("heat_ml", row.heat_ml), ("heat_g", row.heat_g)):
        place = page.locator(f"[data-b={name}]")
        box, button = place.bounding_box(), page.locator("[data-next]").bounding_box()
        assert box is not None
        assert button is not None
        assert box["y"] + box["height"] <= button["y"]
        told_texts = shown(figure, "en")
        assert place.locator(".m").text_content() == f"{told_texts[0]} ({told_texts[1]})"


@pytest.mark.parametrize("asked", ["0", "-5", "", "2.5", "many", "1001"])
def test_a_number_of_baits_that_makes_no_sense_gets_a_sentence_and_no_amount(page: Page, asked: str) -> None:
    page.get_by_label("Baits", exact=True).fill(asked)
    expect(page.locator("[data-baits]")).to_have_text("Type a whole number of baits, 1 to 1000.")
    assert page.locator("[data-b]:visible").all_inner_texts() == ["–", "–", "–"]
    assert page.get_by_label("Baits", exact=True).get_attribute("aria-invalid") == "true"
    page.get_by_label("One bait more").tap()
    assert page.get_by_label("Baits", exact=True).input_value() == "1"


def test_a_thousand_baits_are_worked_out_and_split_into_lots(page: Page, minnow: MoldRecord) -> None:
    page.get_by_label("Baits", exact=True).fill("1000")
    one = next(a for a in minnow.advice.amounts if a.plastisol == minnow.spec.plastisol).batch[0]
    assert page.locator("[data-b=shots]").inner_text() == "500"
    text = page.locator("[data-b=heat_ml] .m").text_content() or ""
    number = float(re.sub(r"[^\d.]", "", text.partition(" (")[0].replace("\u202f", "")))
    assert number == pytest.approx(500 * one.heat_ml.value, rel=0.005)
    assert "500 shots" in page.locator("[data-baits]").inner_text()


def test_a_clock_starts_with_what_the_text_beside_it_tells(page: Page) -> None:
    forward(page, 3)
    for name in ("hold", "open"):
        page.locator(f"[data-to={name}]").tap()
        box = page.locator(f"[data-timer={name}]")
        text = (box.locator("[data-n]").text_content() or "").partition(" (")[0]
        assert clock(page, name) == told(text) > 0


def test_who_knows_the_steps_starts_the_clocks_with_one_tap(page: Page) -> None:
    page.locator("[data-full]").tap()
    assert card(page) == "hold"
    assert page.locator("[data-timer=hold] [data-halt]").is_visible()
    expect(page.locator("[data-full]")).to_be_hidden()


def test_hold_and_open_run_from_the_moment_when_the_mold_is_full(page: Page) -> None:
    forward(page, 3)
    hold, opening = clock(page, "hold"), clock(page, "open")
    page.clock.run_for(5000)
    assert (clock(page, "hold"), clock(page, "open")) == (hold - 5, opening - 5)


@pytest.mark.parametrize("left", [True, False], ids=["still running", "run out meanwhile"])
def test_a_clock_outlives_a_reload(page: Page, left: bool) -> None:
    forward(page, 3)
    full = clock(page, "open")
    page.clock.run_for(61_000)
    page.reload()
    settled(page)
    page.clock.run_for(500)
    assert card(page) == "hold"
    assert full - 63 <= clock(page, "open") <= full - 61
    page.clock.run_for((full - 66) * 1000 if left else full * 1000)
    assert (clock(page, "open") > 0) == left


def test_sound_is_asked_for_after_a_reload_and_comes_back_with_the_first_touch(page: Page) -> None:
    forward(page, 3)
    until(page, "shotbook.timers.audible()")
    assert page.locator("[data-silent]").is_hidden()
    page.reload()
    settled(page)
    page.clock.run_for(500)
    assert page.evaluate("shotbook.timers.audible()") is False
    expect(page.locator("[data-silent]")).to_be_visible()
    page.locator("h1").tap()
    until(page, "shotbook.timers.audible()")
    page.clock.run_for(500)
    expect(page.locator("[data-silent]")).to_be_hidden()


def test_the_whole_page_flashes_when_time_is_up_also_without_sound(page: Page) -> None:
    forward(page, 3)
    page.reload()
    settled(page)
    edge = "getComputedStyle(document.querySelector('.sb-bench'), '::after').borderTopWidth"
    assert page.evaluate(edge) != "14px"
    page.clock.run_for((clock(page, "hold") + 1) * 1000)
    assert page.evaluate(edge) == "14px"
    expect(page.locator("[data-timer=hold]")).to_have_class(re.compile("sb-done"))
    assert "Reed minnow, Hold: time is up" in (page.locator(".sb-status").text_content() or "")
    forward(page)
    page.clock.run_for(300)
    assert page.evaluate(edge) != "14px"


def test_a_running_clock_is_not_started_anew_or_cut_short_by_one_press(page: Page) -> None:
    forward(page, 3)
    page.clock.run_for(4000)
    opening = clock(page, "open")
    page.locator("[data-to=push]").tap()
    forward(page)
    assert card(page) == "push"
    assert "still running" in page.locator("[data-next]").inner_text()
    page.clock.run_for(200)
    forward(page)  # a bounce of the finger is no second press
    assert card(page) == "push"
    assert clock(page, "open") in (opening, opening - 1)
    page.clock.run_for(5000)
    assert "still running" not in page.locator("[data-next]").inner_text()
    page.locator("[data-to=hold]").tap()
    forward(page)
    assert card(page) == "hold"
    page.clock.run_for(600)
    forward(page)
    assert card(page) == "open"


def test_start_and_stop_are_never_beside_each_other_and_stop_must_be_meant(page: Page) -> None:
    forward(page, 3)
    box = page.locator("[data-timer=hold]")
    start, stop = box.get_by_role("button", name="Start"), box.locator("[data-halt]")
    expect(start).to_be_hidden()
    right = stop.bounding_box()
    stop.tap()
    expect(stop).to_have_text("Press again to stop")
    assert clock(page, "hold") > 0
    page.clock.run_for(600)
    stop.tap()
    expect(stop).to_be_hidden()
    left = start.bounding_box()
    assert left is not None
    assert right is not None
    assert left["x"] + left["width"] + 44 < right["x"]


def test_molds_in_turn_have_their_own_shots_and_clocks(page: Page) -> None:
    forward(page, 3)
    minnow_left = clock(page, "open")
    page.get_by_role("button", name="Add a mold").tap()
    page.locator("[name=mold]").select_option("pond-stick")
    settled(page, "pond-stick")
    expect(page.locator(".sb-chip")).to_have_count(3)
    assert card(page) == "amount"
    page.locator("[data-to=open]").tap()
    assert page.locator("[data-timer=open] [data-halt]").is_hidden(), "no clock of another mold"
    page.clock.run_for(10_000)
    page.get_by_role("button", name="Reed minnow").tap()
    settled(page)
    assert card(page) == "hold"
    assert clock(page, "open") == minnow_left - 10
    page.reload()
    settled(page)
    page.clock.run_for(300)
    assert [text.split("\n")[0] for text in page.locator(".sb-chip").all_inner_texts()] == [
        "Reed minnow",
        "Pond stick",
        "+ Add a mold",
    ]
    page.clock.run_for(20_000)
    page.get_by_role("button", name="Pond stick").tap()
    settled(page, "pond-stick")
    expect(page.locator(".sb-chip").first).to_have_class(re.compile("sb-done"))
    assert card(page) == "open"


def test_a_mold_whose_clock_runs_keeps_its_plastisol_and_its_place(page: Page, address: str) -> None:
    forward(page, 3)
    page.locator(".sb-bench-setup > summary").tap()
    for name in ("mold", "plastisol", "material", "shot", "pace"):
        expect(page.locator(f".sb-bench-pick [name={name}]")).to_be_disabled()
    opened(page, address, "pond-stick")
    assert [one.split("\n")[0] for one in page.locator(".sb-chip").all_inner_texts()][:2] == [
        "Reed minnow",
        "Pond stick",
    ]


def test_shots_are_counted_and_each_takes_its_own_time(page: Page, minnow: MoldRecord) -> None:
    rows = [own(minnow).times[index] for index in (0, 1, 2, 3, 3, 4)]
    for number, row in enumerate(rows, 1):
        expect(page.locator("[data-counter]")).to_have_text(f"Shot {number} of 6")
        page.locator("[data-to=open]").tap()
        assert shown(row.open_s, "en")[0] in (page.locator("[data-n='t.cool']").text_content() or "")
        page.locator("[data-to=rest]").tap()
        forward(page)
    expect(page.locator("[data-counter]")).to_have_text("Shot 7")
    page.locator(".sb-bench-setup > summary").tap()
    page.get_by_label("Rest between shots").select_option("none")
    page.get_by_label("Shot number").select_option("later")
    page.locator("[data-to=open]").tap()
    steady = own(minnow).times[-1]
    assert shown(steady.hurried_s, "en")[0] in (page.locator("[data-n='t.cool']").text_content() or "")
    page.get_by_role("button", name="Mold is cold again").tap()
    expect(page.locator("[data-counter]")).to_have_text("Shot 1 of 6")


def test_an_open_pour_mold_is_poured_and_has_no_hold_and_no_injector(page: Page, address: str) -> None:
    opened(page, address, "flatback-crawler")
    assert page.locator(".sb-bench-steps button:visible").all_inner_texts() == [
        "Measure",
        "Heat",
        "Pour",
        "Open",
        "Rest",
    ]
    for step in ("heat", "push", "open", "rest"):
        page.locator(f"[data-to={step}]").tap()
        text = page.locator(".sb-step:visible").inner_text().lower()
        assert not any(word in text for word in ("injector", "halves", "nozzle", "sprue"))
        for caution in page.locator(".sb-step:visible .sb-cautions li[data-kind=injection]").all():
            assert caution.get_attribute("hidden") is not None


def test_a_mold_whose_numbers_cannot_be_loaded_shows_none_of_another_mold(
    chromium: Browser, address: str
) -> None:
    context = chromium.new_context(**PHONE, service_workers="block")
    page = context.new_page()
    page.route("**/data/molds/pond-stick.js", lambda route: route.abort())
    opened(page, address)
    forward(page, 3)
    page.goto(f"{address}bench.html#pond-stick")
    expect(page.locator("[data-unread]")).to_be_visible()
    expect(page.locator(".sb-bench-body")).to_be_hidden()
    page.get_by_role("button", name="Reed minnow").tap()
    settled(page)
    expect(page.locator("[data-unread]")).to_be_hidden()
    page.unroute("**/data/molds/pond-stick.js")
    page.get_by_role("button", name="Pond stick").tap()
    settled(page, "pond-stick")
    expect(page.locator("[data-unread]")).to_be_hidden()
    context.close()


def test_what_is_chosen_at_the_bench_stands_in_its_address_and_nowhere_else(page: Page, address: str) -> None:
    page.locator(".sb-bench-setup > summary").tap()
    page.get_by_label("Plastisol").select_option("hard")
    assert "bench.html?plastisol=hard&material=" in page.url
    opened(page, address, "pond-stick")
    assert "plastisol" not in page.url, "another mold has its own"


def test_the_main_targets_are_as_large_as_a_glove_needs(page: Page) -> None:
    for step in ("amount", "heat", "push", "hold", "open", "rest"):
        page.locator(f"[data-to={step}]").tap()
        for target in page.locator(
            ".sb-bench button:visible, .sb-bench summary:visible, .sb-bench input:visible"
        ).all():
            box = target.bounding_box()
            assert box is not None
            small = target.get_attribute("data-to") or target.evaluate("e => e.tagName === 'SUMMARY'")
            assert box["height"] >= (44 if small else 60), target.inner_text()
