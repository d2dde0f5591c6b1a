"""A withdrawn version is taken back from a visitor who has it, with every cache in the way."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from builder import plugin
from builder.base.store import Store
from builder.model import Tables
from builder.release import freeze
from builder.site import site_map
from tests import killing, small_mold, small_site
from tests.browser.conftest import Quiet, serving, until

pytestmark = pytest.mark.browser

REASON = "The sprue points at the hand <b>."
STOP = f"Version 1 was withdrawn. Do not shoot it. Reason: {REASON}"
KEPT = (
    "caches.keys().then(n => Promise.all(n.map(k => caches.open(k).then(c => c.keys()))))"
    ".then(k => k.flat().map(r => r.url))"
)
TAKEN = f"{KEPT}.then(urls => urls.filter(u => /\\.(stl|3mf|zip)$/.test(u)))"


class Cached(Quiet):
    """As many hosts serve: everything may be kept for ten minutes without asking."""

    first_worker: bytes | None = None
    """The worker of the first visit, given for ever, so that no new one helps the old one out."""

    def end_headers(self) -> None:
        self.send_header("Cache-Control", "max-age=600")
        super().end_headers()

    def do_GET(self) -> None:  # noqa: N802 - the library's name
        if self.path.endswith("/sw.js") and self.first_worker is not None:
            self.send_response(200)
            self.send_header("Content-Type", "text/javascript")
            self.end_headers()
            self.wfile.write(self.first_worker)
        else:
            super().do_GET()


@dataclass
class Shop:
    """A small catalogue of one released mold, and what its keeper does."""

    config: Path
    mold: Path
    store: Path
    tables: Tables

    @property
    def site(self) -> Path:
        return self.config.parent / "site"

    def build(self) -> Path:
        return plugin.build_site(self.config, None, lambda *_: None)

    def withdraw(self) -> None:
        freeze.withdraw(self.mold, "1", REASON, "2026-03-03")
        self.build()

    def improve(self) -> None:
        small_mold.write(self.mold.parent, depth=7.0, version="2")
        order = freeze.Order(notes="Shallower.", date="2026-03-02", texts=site_map.texts("en"))
        freeze.release(self.mold, order, self.tables, Store(self.store))
        freeze.withdraw(self.mold, "1", REASON, "2026-03-03")
        self.build()


@pytest.fixture
def shop(tmp_path: Path, kept: Path, tables: Tables) -> Shop:
    mold = small_mold.write(tmp_path / "molds")
    killing.release_now(mold, kept)
    made = Shop(small_site.configure(tmp_path, kept), mold, kept, tables)
    made.build()
    return made


@pytest.fixture
def page(chromium: Browser) -> Iterator[Page]:
    context = chromium.new_context()
    yield context.new_page()
    context.close()


def visited(page: Page, address: str) -> None:
    """The first visit: a worker is installed, the mold's page read, its files taken and kept."""
    page.goto(f"{address}molds/small-bar.html")
    page.evaluate("navigator.serviceWorker.ready")
    until(page, "navigator.serviceWorker.controller !== null")
    page.goto(f"{address}bench.html#small-bar")
    page.goto(f"{address}molds/small-bar/v1.html")
    page.goto(f"{address}molds/small-bar.html")
    files = ["block.stl", "v1/small-bar-1.zip", "v1/block.stl"]
    for file in files:
        page.evaluate("file => fetch(`small-bar/${file}`).then(r => r.arrayBuffer())", file)
    until(page, f"{TAKEN}.then(urls => urls.length === {len(files)})")
    page.goto("about:blank")


def gone(page: Page) -> None:
    until(page, f"{TAKEN}.then(urls => urls.length === 0)")


@pytest.mark.parametrize("old_worker", [True, False], ids=["the old worker alone", "a new worker comes"])
@pytest.mark.parametrize(
    "start", ["molds/small-bar.html", "molds/small-bar/v1.html", "bench.html#small-bar", "index.html"]
)
def test_a_withdrawal_is_told_at_the_first_visit_with_a_network_and_the_files_are_gone(
    page: Page, shop: Shop, start: str, old_worker: bool
) -> None:
    handler = type(
        "Handler", (Cached,), {"first_worker": (shop.site / "sw.js").read_bytes() if old_worker else None}
    )
    with serving(shop.site, handler) as address:
        visited(page, address)
        shop.withdraw()
        page.goto(f"{address}{start}")
        told = page.locator(".sb-stop:visible", has_text=REASON)
        expect(told).to_have_count(1)
        gone(page)
        page.context.set_offline(True)
        page.goto("about:blank")
        page.goto(f"{address}molds/small-bar.html")
        expect(page.locator(".sb-withdrawn")).to_contain_text(STOP)
        assert page.locator("a[download]").count() == 0
        kept = "fetch('small-bar/block.stl').then(r => r.ok ? 'kept' : 'gone', () => 'gone')"
        assert page.evaluate(kept) == "gone"
        page.goto(f"{address}bench.html#small-bar")
        expect(page.locator("[data-withdrawn]")).to_have_text(STOP)
        expect(page.locator(".sb-bench-body")).to_be_hidden()
        page.goto(f"{address}card.html#small-bar")
        expect(page.locator("[data-withdrawn]:visible")).to_have_text(STOP)
        assert page.locator(".card:visible").count() == 0


def test_the_new_version_takes_the_place_of_a_withdrawn_one_that_was_kept(page: Page, shop: Shop) -> None:
    handler = type("Handler", (Cached,), {"first_worker": (shop.site / "sw.js").read_bytes()})
    with serving(shop.site, handler) as address:
        visited(page, address)
        shop.improve()
        page.goto(f"{address}molds/small-bar.html")
        expect(page.locator(".sb-withdrawn")).to_contain_text(STOP)  # the page of version 1 was kept
        gone(page)
        page.goto(f"{address}molds/small-bar.html")
        expect(page.locator("#versions + p")).to_contain_text("Newest: version 2.")
        assert page.locator(".sb-withdrawn").count() == 0
        sum256 = page.locator("details:has(#sums) code").first.text_content()
        got = page.evaluate(
            "fetch('small-bar/block.stl').then(r => r.arrayBuffer())"
            ".then(b => crypto.subtle.digest('SHA-256', b))"
            ".then(s => [...new Uint8Array(s)].map(b => b.toString(16).padStart(2, '0')).join(''))"
        )
        assert got == sum256
        until(page, f"{TAKEN}.then(urls => urls.length === 1)")  # the file of version 2 is kept
        page.goto(f"{address}molds/small-bar.html")
        page.wait_for_timeout(300)
        assert len(page.evaluate(TAKEN)) == 1


def test_a_file_is_asked_for_past_the_browsers_cache(page: Page, shop: Shop) -> None:
    with serving(shop.site, Cached) as address:
        visited(page, address)
        page.goto(f"{address}index.html")
        (shop.site / "molds" / "small-bar" / "block.stl").write_bytes(b"another")
        got = page.evaluate("fetch('molds/small-bar/block.stl').then(r => r.text())")
        assert got == "another"


@pytest.fixture
def pair(shop: Shop, tmp_path: Path) -> Path:
    """Two sites on one host, one in a folder of the other."""
    root = tmp_path / "host"
    shutil.copytree(shop.site, root)
    shutil.copytree(shop.site, root / "other")
    return root


def test_two_sites_on_one_host_do_not_touch_each_others_caches(page: Page, pair: Path) -> None:
    with serving(pair, Cached) as address:
        for site in (address, f"{address}other/"):
            page.goto(f"{site}index.html")
            until(page, "navigator.serviceWorker.controller !== null")
            page.goto(f"{site}molds/small-bar.html")
        names = sorted(page.evaluate("caches.keys()"))
        assert [name.rpartition(":")[0] for name in names] == ["shotbook:/", "shotbook:/other/"]
        renewed(pair / "sw.js")
        page.goto(f"{address}index.html")
        asked = "navigator.serviceWorker.getRegistration().then(r => r.update())"  # else when it likes
        until(
            page, f"name => {asked}.then(() => caches.keys()).then(names => !names.includes(name))", names[0]
        )
        after = sorted(page.evaluate("caches.keys()"))
        assert (len(after), after[1]) == (2, names[1])
        assert after[0] != names[0]
        kept = "n => caches.open(n).then(c => c.keys()).then(k => k.map(r => new URL(r.url).pathname))"
        first, second = page.evaluate(kept, after[0]), page.evaluate(kept, after[1])
        assert not [path for path in first if path.startswith("/other/")]
        assert all(path.startswith("/other/") for path in second)
        assert len(second) > 20


def renewed(worker: Path) -> None:
    """The worker of the next build."""
    text = worker.read_text(encoding="utf-8")
    old = text.partition("const NAME = `${OURS}")[2][:16]
    worker.write_text(text.replace(old, "0" * 16), encoding="utf-8")


def test_the_list_names_what_was_withdrawn_and_no_file_that_is_still_offered(shop: Shop) -> None:
    file = shop.site / "data" / "withdrawn.json"
    assert json.loads(file.read_bytes()) == []
    lock = json.loads((shop.mold / "versions" / "1" / "lock.json").read_bytes())["sealed"]["files"]
    shop.withdraw()
    (one,) = json.loads(file.read_bytes())
    assert {key: one[key] for key in ("slug", "version", "reason", "date")} == {
        "slug": "small-bar",
        "version": "1",
        "reason": REASON,
        "date": "2026-03-03",
    }
    offered = [name for name in lock if name.endswith((".stl", ".3mf", ".zip"))]
    assert set(one["files"]) == {lock[name] for name in offered}
