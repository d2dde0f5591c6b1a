"""The browser refuses what a page does not allow, from a server and from the folder."""

from __future__ import annotations

import re
import shutil
import struct
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from builder.site import policy
from tests.browser.conftest import Visit, serving, until

pytestmark = pytest.mark.browser

ATTACKS = (
    "<script>window.ran = 'a script in the page'</script>"
    "<img src=nowhere.png onerror=\"window.ran = 'a handler'\">"
    "<a id=leads href=\"javascript:window.ran='an address'\">x</a>"
    "<iframe srcdoc=\"<script>parent.ran='a frame'</script>\"></iframe>"
    '<object data="data:text/html,<script>1</script>"></object>'
    "<base href=https://example.com/>"
    "<script src=https://example.com/x.js></script>"
    "<script src=\"data:text/javascript,window.ran='data'\"></script>"
    '<p id=styled style="position:fixed">x</p>'
)
# A script that got among the site's own files all the same.
OWN = """
window.refused = [];
const attempt = (name, work) => { try { work(); } catch (error) { window.refused.push(name); } };
attempt("eval", () => eval("1"));
attempt("Function", () => new Function("1")());
attempt("innerHTML", () => { document.createElement("p").innerHTML = "<b>1</b>"; });
attempt("write", () => document.write("<b>1</b>"));
attempt("parse", () => new DOMParser().parseFromString("<b>1</b>", "text/html"));
attempt("src", () => { document.createElement("script").src = "molds/x.stl"; });
attempt("policy", () => trustedTypes.createPolicy("other", {}));
attempt("load", () => shotbook.run("molds/reed-minnow/reed-minnow-a.stl"));
"""


def polyglot(word: str) -> bytes:
    """A binary STL of one triangle that is a script as well: its header is half a comment."""
    code = f"*/;window.ran='{word}'//".encode()
    body = struct.pack("<12fH", *(0.0,) * 12, 0)
    return b"x=1/*".ljust(80, b" ") + struct.pack("<I", 1) + body + code


@pytest.fixture(scope="module")
def attacked(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo site after somebody wrote into its pages and among its downloads."""
    place = tmp_path_factory.mktemp("attacked") / "site"
    shutil.copytree(folder, place)
    for page in ("index.html", "molds/reed-minnow.html", "card.html"):
        file = place / page
        text = file.read_text(encoding="utf-8")
        file.write_text(text.replace("<main", f"{ATTACKS}<main", 1), encoding="utf-8")
    (place / "own.html").write_text(
        (folder / "bench.html").read_text(encoding="utf-8") + "<script src=own.js defer></script>"
    )
    (place / "own.js").write_text(OWN)
    (place / "molds" / "evil.stl").write_bytes(polyglot("an STL"))
    return place


@pytest.fixture
def page(chromium: Browser) -> Iterator[Page]:
    context = chromium.new_context()
    yield context.new_page()
    context.close()


@pytest.fixture(params=["served", "from the folder"])
def root(request: pytest.FixtureRequest, attacked: Path) -> Iterator[str]:
    if request.param != "served":
        yield f"{attacked.as_uri()}/"
        return
    with serving(attacked) as address:
        yield address


@pytest.mark.parametrize("name", ["index.html", "molds/reed-minnow.html", "card.html"])
def test_what_is_written_into_a_page_does_not_run(page: Page, root: str, name: str) -> None:
    stopped: list[tuple[str, str | None]] = []
    page.on("request", lambda request: stopped.append((request.url, None)))
    page.on("requestfailed", lambda request: stopped.append((request.url, request.failure)))
    page.goto(f"{root}{name}")
    page.evaluate("document.getElementById('leads').click()")
    page.wait_for_timeout(200)
    assert page.evaluate("window.ran") is None
    assert page.evaluate("document.baseURI").startswith(root)
    assert page.evaluate("getComputedStyle(document.getElementById('styled')).position") == "static"
    assert [why for url, why in stopped if "example.com" in url] == [None, "csp"]  # tried, and not sent


def test_even_a_script_of_the_site_can_make_no_code_of_text(page: Page, root: str) -> None:
    page.goto(f"{root}own.html")
    until(page, "window.refused")
    wanted = {"eval", "Function", "innerHTML", "write", "parse", "src", "policy"}
    assert set(page.evaluate("window.refused")) == wanted
    assert page.evaluate("window.ran") is None


ADDRESSES = [
    "../../molds/evil.stl?",
    "../evil.stl",
    "x/../../../molds/evil.stl?",
    "reed-minnow/../../../own",
    "%ff",
]


@pytest.mark.parametrize("name", ["card.html", "bench.html", "compare.html"])
def test_no_address_makes_a_file_to_download_a_script(page: Page, root: str, name: str) -> None:
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    for address in ADDRESSES:
        page.goto("about:blank")
        page.goto(f"{root}{name}#{address}")
        page.wait_for_timeout(60)
        assert page.evaluate("window.ran") is None
    page.evaluate("localStorage.mold = '../../molds/evil.stl?'")
    page.goto("about:blank")
    page.goto(f"{root}{name}")
    page.wait_for_timeout(100)
    assert page.evaluate("window.ran") is None
    assert [url for url in asked if "evil" in url.partition("#")[0] or "own" in url.partition("#")[0]] == []


def test_the_stl_of_these_tests_is_a_script_where_nothing_forbids_it(page: Page, tmp_path: Path) -> None:
    (tmp_path / "evil.stl").write_bytes(polyglot("an STL"))
    (tmp_path / "page.html").write_text("<script src=evil.stl></script>")
    page.goto((tmp_path / "page.html").as_uri())
    assert page.evaluate("window.ran") == "an STL"


def test_every_page_carries_a_policy_and_no_script_but_those_it_allows(folder: Path) -> None:
    pages = list(folder.rglob("*.html"))
    for page in pages:
        text = page.read_text(encoding="utf-8")
        told = re.findall(r"<meta (?=[^>]*Content-Security-Policy)[^>]*?content=\"([^\"]*)\"", text)
        assert len(told) == 1, page
        assert re.search(r"<(?:script|link|style)", text[: text.index("Content-Security-Policy")]) is None
        written = re.findall(r"<script(?![^>]*(?:\bsrc=|ld\+json))[^>]*>(.*?)</script>", text, re.S)
        assert all(policy.digest(one) in told[0] for one in written), page
        assert len(written) <= 1
        assert "unsafe" not in told[0]
    assert len(pages) > 15


def test_the_viewer_turns_under_the_policy(visit: Visit, address: str) -> None:
    visit.page.goto(f"{address}molds/reed-minnow.html")
    assert visit.page.evaluate(
        "shotbook.run('molds/reed-minnow/reed-minnow-turn.js').then(() => shotbookTurn.pieces.length)"
    )
