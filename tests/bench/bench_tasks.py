"""What a visitor on a phone does, with taps and screens counted.

    python -m tests.bench.bench_tasks SITE [SITE...]

Each task starts on the page that it names, at 390 x 664, with nothing kept from before. Counted are taps
(typing a text, or choosing from a list, is one) and screens: pages that are opened, and heights of the screen
that are scrolled until the answer is in view. Sites built from the same molds compare.
"""

from __future__ import annotations

import re
import shutil
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from playwright.sync_api import BrowserContext, Locator, Page, sync_playwright

from tests.browser.conftest import QUIET

PHONE = {"viewport": {"width": 390, "height": 664}, "has_touch": True, "is_mobile": True}
HEIGHT = 664
MOLD = "reed-minnow"


@dataclass(slots=True)
class Visitor:
    """A visitor who counts taps and screens."""

    page: Page
    site: str
    taps: int = 0
    screens: float = 0.0

    def open(self, path: str) -> None:
        self.page.goto(f"{self.site}{path}")
        self.page.wait_for_timeout(1200)
        self.screens += 1

    def see(self, what: Locator) -> None:
        """Scroll until it is in view."""
        before = self.page.evaluate("scrollY")
        what.wait_for(state="visible", timeout=3000)
        box = what.bounding_box()
        assert box is not None
        if box["y"] < 0 or box["y"] + box["height"] > HEIGHT:
            what.evaluate("e => e.scrollIntoView({ block: 'center', behavior: 'instant' })")
        self.screens += abs(self.page.evaluate("scrollY") - before) / HEIGHT

    def tap(self, what: Locator) -> None:
        self.see(what)
        what.tap()
        self.taps += 1
        self.page.wait_for_timeout(500)

    def fill(self, what: Locator, text: str) -> None:
        self.see(what)
        what.fill(text)
        self.taps += 1
        self.page.wait_for_timeout(300)

    def follow(self, what: Locator) -> None:
        self.tap(what)
        self.page.wait_for_timeout(1200)
        self.screens += 1

    def has(self, selector: str) -> bool:
        return self.page.locator(selector).count() > 0


def find_by_size(v: Visitor) -> None:
    """A bait of about 113 mm in the catalogue."""
    v.open("index.html")
    if v.has("[data-facet=size] label"):
        v.tap(v.page.locator("[data-facet=size] label", has_text="100–125"))
    else:
        v.tap(v.page.locator(".sb-find summary"))
        v.fill(v.page.locator("[name=length_from]"), "100")
        v.fill(v.page.locator("[name=length_to]"), "125")
    v.see(v.page.locator(".sb-card", has_text="Reed minnow").locator("h2"))


def amount_for_twelve(v: Visitor) -> None:
    """How much to measure for 12 baits, at the bench."""
    v.open(f"bench.html#{MOLD}")
    v.see(v.page.locator("[data-b=heat_ml]"))


def hard_in_resin(v: Visitor) -> None:
    """How hot to shoot hard plastisol in a mold of heat-resistant resin."""
    v.open(f"molds/{MOLD}.html")
    for name, value in (("plastisol", "hard"), ("material", "heat-resin")):
        chooser = v.page.locator(f".sb-choose [name={name}]")
        v.see(chooser)
        chooser.select_option(value)
        v.taps += 1
    v.see(v.page.locator("[data-n='w.point']").first)


def start_a_timer(v: Visitor) -> None:
    """The clock of the hold, from the bench as it opens."""
    v.open(f"bench.html#{MOLD}")
    full = v.page.locator("[data-full], [data-timer=hold] [data-go]:visible")
    v.tap(full.first)
    v.see(v.page.locator("[data-timer=hold] .sb-clock"))


def dented_tail(v: Visitor) -> None:
    """A bait with a dent: from the mold's page to the fault and its cure."""
    v.open(f"molds/{MOLD}.html")
    v.tap(v.page.locator(".sb-run a[href='#wrong']"))
    fault = v.page.locator("#wrong ~ .sb-part").first.locator("li").filter(has_text=re.compile("dent", re.I))
    v.see(fault.locator("visible=true").first)


def download(v: Visitor) -> None:
    """The first file, from the mold's page."""
    v.open(f"molds/{MOLD}.html")
    v.tap(v.page.locator("a[href='#files']").locator("visible=true").first)
    v.see(v.page.locator("#files ~ .sb-part").first.locator("a[download]").first)


def print_settings(v: Visitor) -> None:
    """What to print it with, from the mold's page."""
    v.open(f"molds/{MOLD}.html")
    v.tap(v.page.locator(".sb-run a[href='#print']"))
    v.see(v.page.locator("#print ~ .sb-part").first.locator("dd, td").first)


def changed_since_the_first(v: Visitor) -> None:
    """What changed since version 1, from the mold's page."""
    v.open(f"molds/{MOLD}.html")
    v.tap(v.page.locator(".sb-run a[href='#versions'], .sb-run a[href='#files']").first)
    v.see(v.page.locator("#versions ~ ul li, #versions ~ .sb-part li, #versions ~ * td").first)


def compare_two(v: Visitor) -> None:
    """How many baits a shot two molds make, from the catalogue."""
    v.open("index.html")
    for title in ("Pond stick", "Reed minnow"):
        v.tap(v.page.locator(".sb-card", has_text=title).locator("input[type=checkbox]"))
    v.follow(v.page.locator("[data-compare]"))
    v.see(v.page.locator("[data-path=cavities] td").first)


def print_the_card(v: Visitor) -> None:
    """The card of a mold, from its page, up to the button that prints."""
    v.open(f"molds/{MOLD}.html")
    v.follow(v.page.locator("a[href*='card.html']").first)
    v.tap(v.page.locator("[data-print]"))


def turn_by_touch(v: Visitor) -> None:
    """Look at the mold from below, by one drag upwards."""
    v.open(f"molds/{MOLD}.html")
    v.tap(v.page.locator(".sb-turn-start").first)
    canvas = v.page.locator("canvas.sb-turn")
    v.see(canvas)
    before = tilt(v.page)
    drag(v.page, canvas, 0, -150)
    v.taps += 1
    if tilt(v.page) == before:
        raise AssertionError("a vertical drag does not tilt it")


def turn_by_keys(v: Visitor) -> None:
    """The same by keys: from the button to a turn and back."""
    v.open(f"molds/{MOLD}.html")
    start = v.page.locator(".sb-turn-start").first
    v.see(start)
    start.focus()
    for key in ("Enter", "ArrowUp", "Escape"):
        v.page.keyboard.press(key)
        v.taps += 1
        v.page.wait_for_timeout(1500)
    if v.has("canvas.sb-turn"):
        raise AssertionError("Escape does not lead back")


def tilt(page: Page) -> str:
    return page.locator(".sb-turn-box input").nth(1).input_value()


def drag(page: Page, what: Locator, right: float, down: float) -> None:
    """One finger over the screen, as the browser sends it."""
    box = what.bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    session = page.context.new_cdp_session(page)
    for step in range(6):
        kind = "touchStart" if step == 0 else "touchMove"
        point = {"x": x + right * step / 5, "y": y + down * step / 5}
        session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [point]})
    session.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    page.wait_for_timeout(300)


TASKS: tuple[Callable[[Visitor], None], ...] = (
    find_by_size,
    amount_for_twelve,
    hard_in_resin,
    start_a_timer,
    dented_tail,
    download,
    print_settings,
    compare_two,
    print_the_card,
    changed_since_the_first,
    turn_by_touch,
    turn_by_keys,
)


def counted(context: BrowserContext, site: Path) -> Iterator[str]:
    """For each task its taps and screens, or why it cannot be done."""
    for task in TASKS:
        page = context.new_page()
        page.add_init_script("window.print = () => {}")
        visitor = Visitor(page, f"{site.resolve().as_uri()}/")
        try:
            task(visitor)
            yield f"{visitor.taps} taps, {visitor.screens:.1f} screens"
        except Exception as error:  # noqa: BLE001 - a task that an old site cannot do is a result
            yield f"not possible: {str(error).splitlines()[0][:60]}"
        page.close()


def main() -> None:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=QUIET)
        columns = []
        for site in sys.argv[1:]:
            context = browser.new_context(**PHONE)  # type: ignore[arg-type]
            columns.append(list(counted(context, Path(site))))
            context.close()
        browser.close()
    for task, *told in zip(TASKS, *columns, strict=True):
        print(f"{task.__name__:<26}" + "".join(f"{one:<40}" for one in told))


if __name__ == "__main__":
    main()
