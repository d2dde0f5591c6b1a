"""Words, numbers, pictures and phone screens of each mold's page; taps and screens of tasks; reading ease.

    python -m tests.bench.bench_page SITE...

SITE is a built site's folder; of several, the first is what the others are compared with. Reading ease is
Flesch's (A new readability yardstick, J. Appl. Psychol. 32 (1948) 221): 206.835 - 1.015 words a sentence -
84.6 syllables a word, where 60 to 70 is plain English; from memory, syllables counted as groups of vowels.
"""

from __future__ import annotations

import re
import shutil
import sys
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

from playwright.sync_api import Page, ViewportSize, sync_playwright

from tests.browser.conftest import QUIET
from tests.reading_ease import prose, reading_ease

Counts = Mapping[str, Any]
PHONE: ViewportSize = {"width": 390, "height": 664}
SCREEN_PX = 844
"""Height of a phone's screen without the browser's bars; the first screen is told for 664 px."""
COUNTED = """() => {
  const main = document.querySelector("main");
  const details = document.querySelector("#details");
  const end = details ? details.getBoundingClientRect().top + scrollY : document.documentElement.scrollHeight;
  const before = (e) => e.getBoundingClientRect().top + scrollY < end;
  const shown = [...main.querySelectorAll("var, .sb-plot, .sb-pic")].filter((e) => e.checkVisibility());
  const words = (text) => text.split(/\\s+/).filter(Boolean).length;
  const range = document.createRange();
  range.setStart(main, 0);
  if (details) range.setEndBefore(details); else range.setEndAfter(main.lastChild);
  getSelection().removeAllRanges();
  getSelection().addRange(range);
  return {
    words: words(getSelection().toString()),
    numbers: shown.filter((e) => e.tagName === "VAR" && before(e)).length,
    pictures: shown.filter((e) => e.tagName !== "VAR" && before(e)).length,
    captioned: shown.filter((e) => before(e) && (e.querySelector("figcaption") || e.closest(".sb-hero")))
      .filter((e) => e.tagName !== "VAR").length,
    px: end,
    all: document.documentElement.scrollHeight,
    big: [...document.querySelectorAll(".sb-four > div, .sb-facts > div")].map((e) =>
      e.getBoundingClientRect().bottom),
  };
}"""


def pages(page: Page, site: Path) -> Iterator[tuple[str, Counts]]:
    """Name and counts of each mold's page."""
    for file in sorted((site / "molds").glob("*.html")):
        opened(page, file.as_uri())
        yield file.stem, page.evaluate(COUNTED)


def opened(page: Page, address: str) -> None:
    """Go there, and wait until scripts have put down what they put down."""
    page.goto(address)
    page.wait_for_timeout(1200)


def screens(page: Page, selector: str) -> float:
    """How many screens down something stands."""
    box = page.locator(selector).first.bounding_box()
    assert box is not None, selector
    return (box["y"] + float(page.evaluate("scrollY"))) / SCREEN_PX


def hard_in_resin(page: Page, site: Path) -> tuple[int, float]:
    """The temperature for hard plastisol in a resin mold: two choosers, then the number."""
    opened(page, (site / "molds" / "reed-minnow.html").as_uri())
    down = screens(page, ".sb-choose select")
    page.locator(".sb-choose [name=plastisol]").select_option("hard")
    page.locator(".sb-choose [name=material]").select_option("heat-resin")
    number = screens(page, "[data-n='w.point']")
    return 2, max(0.0, down - PHONE["height"] / SCREEN_PX) + abs(number - down)


def dented(page: Page, site: Path) -> tuple[int, float]:
    """A bait with a dent: from the top to its cause."""
    opened(page, (site / "molds" / "reed-minnow.html").as_uri())
    page.locator(".sb-run a[href='#wrong']").click()
    cause = page.get_by_text(re.compile("dent", re.I)).locator("visible=true").last
    heading = page.locator("#wrong").bounding_box()
    box = cause.bounding_box()
    assert box is not None
    assert heading is not None
    return 1, abs(box["y"] - heading["y"]) / SCREEN_PX


def download(page: Page, site: Path) -> tuple[int, float]:
    """The files: from the top to the first file."""
    opened(page, (site / "molds" / "reed-minnow.html").as_uri())
    link = page.locator("a[href='#files']").locator("visible=true").first
    down = max(0.0, screens(page, "a[href='#files']") - PHONE["height"] / SCREEN_PX)
    link.click()
    return 2, down


def settings(page: Page, site: Path) -> tuple[int, float]:
    """How to print it: from the top to the section."""
    opened(page, (site / "molds" / "reed-minnow.html").as_uri())
    page.locator(".sb-run a[href='#print']").click()
    return 1, 0.0


def changed(page: Page, site: Path) -> tuple[int, float]:
    """What changed since version 1: from the top to the list of versions."""
    opened(page, (site / "molds" / "reed-minnow.html").as_uri())
    near = page.locator(".sb-run a[href='#versions'], .sb-run a[href='#files']").first
    near.click()
    heading = page.locator("#versions").bounding_box()
    assert heading is not None
    return 2, max(0.0, heading["y"]) / SCREEN_PX


TASKS: tuple[Callable[[Page, Path], tuple[int, float]], ...] = (
    hard_in_resin,
    dented,
    download,
    settings,
    changed,
)


def main(sites: list[str]) -> None:
    """Print the counts of each site, and by how much they differ from those of the first."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=QUIET)
        page = browser.new_page(viewport=PHONE)
        first: dict[str, Counts] = {}
        for site in (Path(name).resolve() for name in sites):
            print(site)
            for name, counts in pages(page, site):
                then = first.setdefault(name, counts)
                lowest = max(counts["big"], default=0.0)
                ratio = counts["px"] / then["px"]
                print(
                    f"  {name}: before Details {counts['words']:.0f} words, {counts['numbers']:.0f} numbers, "
                    f"{counts['pictures']:.0f} pictures ({counts['captioned']:.0f} captioned), "
                    f"{counts['px'] / SCREEN_PX:.1f} screens ({ratio:.2f} of the first), "
                    f"whole page {counts['all'] / SCREEN_PX:.1f}; big numbers end at {lowest:.0f} px"
                )
            for task in TASKS:
                taps, down = task(page, site)
                print(f"  {task.__name__}: {taps} taps, {down:.1f} screens of scrolling")
        browser.close()
    print(f"reading ease of {len(prose().split())} words: {reading_ease(prose()):.0f}")


if __name__ == "__main__":
    main(sys.argv[1:] or ["site"])
