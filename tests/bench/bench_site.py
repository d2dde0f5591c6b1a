"""A catalogue of many molds as a visitor gets it: HTML for each mold, and how soon the catalogue answers.

    python -m tests.bench.bench_site [MOLDS]

The molds are copies of the demo molds in turn (bench_build). The budget for the catalogue's first page on a
desktop, from a trial with 1000 molds: 1.5 s from the click until the filters work, 0.2 s from a letter to the
list.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

from builder.base.store import Store
from tests import small_site
from tests.bench.bench_build import OURS, clones, run
from tests.browser.conftest import QUIET

READY = "document.querySelector('.sb-find:not([hidden])') && performance.now()"
SEARCH = """() => {
  const field = document.querySelector("[name=q]"), start = performance.now();
  field.value = "9";
  field.dispatchEvent(new Event("input", { bubbles: true }));
  document.body.getBoundingClientRect();
  return performance.now() - start;
}"""


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        small_site.configure(root)
        clones(root / "molds", Store(root / ".shotbook"), count)
        run(root, OURS)
        site = root / "site"
        for name, pattern in (
            ("mold page", "molds/*.html"),
            ("all HTML", "**/*.html"),
        ):
            size = sum(file.stat().st_size for file in site.glob(pattern))
            print(f"{name:<12}{size / count / 1000:6.1f} kB a mold")
        ready, search = opened(site)
        print(f"catalogue of {count}: filters work after {ready:.0f} ms, a letter takes {search:.0f} ms")


def opened(site: Path) -> tuple[float, float]:
    """Milliseconds until the catalogue's filters work, and for one search."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=QUIET)
        page = browser.new_page()
        page.goto((site / "index.html").as_uri())
        ready = page.wait_for_function(READY).json_value()
        search = page.evaluate(SEARCH)
        browser.close()
    return float(ready), float(search)


if __name__ == "__main__":
    main()
