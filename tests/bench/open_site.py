"""Opens every page of built sites: `python -m tests.bench.open_site SITE …`.

Prints dead links, pictures that do not show, and all that the browser complains of; exits with 1 for any.
"""

from __future__ import annotations

import sys
from pathlib import Path

from playwright.sync_api import sync_playwright

from tests.browser.conftest import QUIET, Visit, serving
from tests.conftest import CHROMIUM
from tests.test_existing_sites import dead_links

BROKEN = "[...document.images].filter(i => i.complete && !i.naturalWidth).map(i => i.src)"


def complaints(site: Path, folders: bool) -> list[str]:
    """What is wrong with the site's pages; `folders` when its addresses need a server."""
    pages = [file.relative_to(site).as_posix() for file in site.rglob("*.html") if file.name != "404.html"]
    found = [f"dead link: {link}" for link in dead_links(site)]
    with sync_playwright() as playwright, serving(site) as server:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=QUIET)
        for start in (server,) if folders else (server, f"{site.as_uri()}/"):
            visit = Visit(browser.new_context(), (server, "file://"))
            for page in pages:
                visit.page.goto(start + (page.removesuffix("index.html") if start == server else page))
                visit.page.evaluate("document.querySelectorAll('img').forEach(i => { i.loading = 'eager'; })")
                visit.page.wait_for_timeout(500)
                found += [f"{page}: no picture {image}" for image in visit.page.evaluate(BROKEN)]
            found += visit.complaints
        browser.close()
    opened = "" if folders else " from a server and from the folder"
    print(f"{len(pages)} pages opened{opened}: {found or 'sound'}")
    return found


if __name__ == "__main__":
    places = [Path(name).resolve() for name in sys.argv[1:]]
    in_folders = [(one, (one / "catalogue" / "bench" / "index.html").exists()) for one in places]
    sys.exit(bool([one for place, folders in in_folders for one in complaints(place, folders)]))
