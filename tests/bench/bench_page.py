"""Words, numbers, pictures and phone screens of each mold's page; reading ease. Tasks are in bench_tasks.

    python -m tests.bench.bench_page SITE...

SITE is a built site's folder; of several, the first is what the others are compared with.
tests/reading_ease.py says how reading ease is measured.
"""

from __future__ import annotations

import shutil
import sys
from collections.abc import Iterator, Mapping
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
        browser.close()
    print(f"reading ease of {len(prose().split())} words: {reading_ease(prose()):.0f}")


if __name__ == "__main__":
    main(sys.argv[1:] or ["site"])
