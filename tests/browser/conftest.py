"""The demo site, built once for all browser tests and served from its folder; a quiet Chromium."""

from __future__ import annotations

import shutil
import subprocess
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from io import BytesIO
from pathlib import Path
from typing import BinaryIO

import pytest
from playwright.sync_api import Browser, BrowserContext, Page

import builder
from builder.base.store import Store
from builder.base.texts import Texts
from builder.site import catalogue, site_map
from builder.site.catalogue import Catalogue
from tests.conftest import Launch

ROOT = Path(builder.__file__).parent.parent
OFF = (
    # What Playwright turns off too: of two such switches the last one counts.
    *("AvoidUnnecessaryBeforeUnloadCheckSync", "DestroyProfileOnBrowserClose", "HttpsUpgrades"),
    *("HttpsFirstBalancedModeAutoEnable", "LensOverlay", "MediaRouter", "PaintHolding"),
    *("ThirdPartyStoragePartitioning", "AvoidCorsURLLoaderRestartOnRedirect", "OptimizationHints"),
    *("NetworkTimeServiceQuerying", "AimEnabled", "PreconnectToSearch"),
    # Processes started ahead for each window and never used here: a third of a test's time.
    *("PreloadTopChromeWebUI", "SpareRendererForSitePerProcess"),
)
QUIET = [
    f"--disable-features={','.join(OFF)}",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@pytest.fixture(scope="session")
def demo() -> Catalogue:
    """The demo catalogue; the repository's own store spares reading it again."""
    return catalogue.build_all(ROOT / "molds", Store(ROOT / ".shotbook"))


@pytest.fixture(scope="session")
def english() -> Texts:
    return site_map.texts("en")


@pytest.fixture(scope="session")
def folder(demo: Catalogue, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo site as built."""
    from builder import plugin

    assert demo.molds
    place = tmp_path_factory.mktemp("demo") / "site"
    return plugin.build_site(ROOT / "mkdocs.yml", place, lambda *_: None)


class Quiet(SimpleHTTPRequestHandler):
    """Serves a folder without a word on the console."""

    def log_message(self, format: str, *args: object) -> None:
        pass

    def send_head(self) -> BytesIO | BinaryIO | None:
        del self.headers["If-Modified-Since"]  # it counts in seconds: a test changes a file faster than that
        return super().send_head()


@contextmanager
def serving(folder: Path, handler: type[Quiet] = Quiet) -> Iterator[str]:
    """The address of a server of the folder, which stops afterwards."""
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(handler, directory=str(folder)))
    server.daemon_threads = True
    threading.Thread(target=server.serve_forever, daemon=True).start()
    try:
        yield f"http://127.0.0.1:{server.server_address[1]}/"
    finally:
        server.shutdown()
        server.server_close()


@pytest.fixture(scope="session")
def address(folder: Path) -> Iterator[str]:
    """Where the demo site is served."""
    with serving(folder) as place:
        yield place


@pytest.fixture(scope="session")
def chromium(launch: Launch) -> Iterator[Browser]:
    browser = launch(QUIET)
    yield browser
    browser.close()


def until(page: Page, expression: str, arg: object = None) -> None:
    """Wait until a script's expression, or what it promises, is true.

    `wait_for_function` makes code of text over and over, which pages forbid.
    """
    for _ in range(400):
        if page.evaluate(expression, arg):
            return
        page.wait_for_timeout(25)
    raise AssertionError(f"never true: {expression}")


class Visit:
    """A visitor's browser: opens pages and keeps what must not happen."""

    def __init__(self, context: BrowserContext, own: tuple[str, ...]) -> None:
        self.context, self.own = context, own
        self.complaints: list[str] = []
        context.on("console", lambda message: self.heard(message.type, message.text))
        context.on("weberror", lambda error: self.complaints.append(f"script: {error.error}"))
        context.on("request", lambda request: self.asked(request.url))
        self.page: Page = context.new_page()

    def heard(self, kind: str, text: str) -> None:
        if kind in ("error", "warning"):
            self.complaints.append(f"{kind}: {text}")

    def asked(self, url: str) -> None:
        if not url.startswith((*self.own, "data:", "blob:")):
            self.complaints.append(f"request to another host: {url}")


@pytest.fixture
def visit(chromium: Browser, address: str, request: pytest.FixtureRequest) -> Iterator[Visit]:
    """A visitor at a desktop unless the test is parametrized with what `new_context` takes."""
    options = {"viewport": {"width": 1280, "height": 900}, **getattr(request, "param", {})}
    context = chromium.new_context(**options)
    visit = Visit(context, (address, "file://"))
    yield visit
    complaints = visit.complaints
    context.close()
    assert not complaints


@pytest.fixture(scope="session")
def npm(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the checkers that npm brings; the tests that need them are skipped without npm."""
    tool = shutil.which("npm")
    if tool is None:
        pytest.skip("no npm on this machine")
    place = tmp_path_factory.mktemp("npm")
    packages = ["axe-core@4.10.3", "html-validate@9.5.5"]
    command = [tool, "install", "--silent", "--no-audit", "--no-fund", "--prefix", str(place), *packages]
    done = subprocess.run(command, capture_output=True, text=True, timeout=300, check=False)
    if done.returncode:
        pytest.skip(f"npm could not install the checkers: {done.stderr[-300:]}")
    return place / "node_modules"
