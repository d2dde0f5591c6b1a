"""Texts that try to be code, in every place that takes a text, on every kind of page: they stay text.

The same site is built twice, with plain texts and with hostile ones. Each page must come out with the same
elements, attributes and addresses, ask for the same files, and run nothing of its own: served, without a
network, and from the folder.
"""

from __future__ import annotations

import io
import json
import xml.etree.ElementTree as Tree
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from playwright.sync_api import Browser, BrowserContext, Page

from builder import plugin
from builder.base.store import sha256
from builder.model import (
    Colour,
    Download,
    Finding,
    Ingredient,
    Label,
    MoldRecord,
    Picture,
    Request,
    ShotLog,
    Version,
)
from builder.site import catalogue, site_map
from builder.site.catalogue import Catalogue, load_colours
from builder.spec import material_tables
from tests import records_for_pages, small_site
from tests.browser.conftest import serving, until
from tests.measurement_for_pages import figure
from tests.test_site import real_texts

pytestmark = pytest.mark.browser

Say = Callable[[str], str]
"""A text for the place of this name."""

PAYLOADS = {
    "elements": (
        "</script><script>ran=1</script><img src=x onerror=ran=1><svg onload=ran=1>"
        "<iframe src=//evil.example>"
        "<style>*{display:none}</style><base href=//evil.example><meta http-equiv=refresh content=0>"
        "<!--<script>--></title></textarea></noscript><plaintext>"
    ),
    "attributes": (
        "\" onfocus=ran=1 autofocus x=\" ' onmouseover='ran=1' style='position:fixed' ` onclick=ran=1 > "
        "javascript:ran=1 data:text/html,<script>parent.ran=1</script> &quot; &#34; "
        "&lt;b&gt; \\x3cscript\\x3e \\u003cb"
    ),
    "templates": (
        "{{ 7*7 }} {% raw %} {# x #} ${7*7} <%= 7 %> {version} {reason} {0} {__class__} {: onclick=ran=1 } "
        "{ #id .class } "
        "'-ran=1-' \";ran=1;// ${`ran=1`} %s %(x)s \\N{BULLET} $& $1 $`"
    ),
    "markdown": (
        "a\n\n# head\n\n[x](javascript:ran=1) ![y](https://evil.example/z.png) <https://evil.example> "
        "**b** `c` \n\n"
        "    code\n\n---\n\n- item\n\n</p></div>\n\n<div markdown=1>\n\n*x*\n\n"
        "[r]: javascript:ran=1\n\n&amp;\n\n"
        "<script>ran=1</script>\n\n| a | b |\n|---|---|\n| c | d |\n"
    ),
    "letters": (
        "\U0001f3a3\U0001f468\u200d\U0001f469 \u202eevil\u202c \u2066x\u2069 \u200f\ufeff "
        "e\u0301 \u2028\u2029 "
        "]]> <![CDATA[ \x0b\x1f\x7f\x85 \ufffe ᵐᶜ · (1–2) %3Cscript%3E #x ?y=1&z"
    ),
}
TEXTS = {"forward": " ".join(PAYLOADS.values()), "backward": " ".join(reversed(PAYLOADS.values()))}
"""What each place takes: every payload, each once before and once behind each other one."""
SLUGS = [f"mold-{name}" for name in TEXTS]


def picture(width: int) -> bytes:
    data = io.BytesIO()
    Image.new("RGB", (width, 2 * width // 3)).save(data, "WEBP")
    return data.getvalue()


def put(place: Path, data: bytes) -> Download:
    place.parent.mkdir(parents=True, exist_ok=True)
    place.write_bytes(data)
    return Download(name=place.name, path=place, size_bytes=len(data), sha256=sha256(data))


def version(slug: str, number: int, say: Say, pictures: tuple[Picture, ...]) -> Version:
    return Version(
        slug=slug,
        version=str(number),
        order=number,
        date=f"2026-01-0{number}",
        title=f"{slug} {say('version title')}",
        summary=say("version summary"),
        author=say("version author"),
        licence=say("licence"),
        notes=say("notes"),
        figures={"bait_length": figure(104.0, "mm")},
        changes=(),
        pictures=pictures,
        assets=Path("pictures"),
        downloads=(),
        withdrawn=say("reason") if number == 1 else "",
        withdrawn_on="2026-02-01" if number == 1 else "",
    )


def record(slug: str, say: Say, folder: Path) -> MoldRecord:
    """A mold with a text of `say` wherever a maker, a stranger or a file may put one."""
    made = records_for_pages.mold(slug, folder)
    assets = folder / slug
    drawn = [put(assets / f"open-{width}.webp", picture(width)) for width in (400, 1200)]
    frozen = {
        f"versions/{n}/pictures/{one.name}": put(
            assets / f"versions/{n}/pictures/{one.name}", one.path.read_bytes()
        )
        for n in (1, 2)
        for one in drawn
    }
    downloads = tuple(put(part.path, b"solid\nendsolid\n") for part in made.spec.parts)
    alt = Finding(level="note", code="test.note")
    labels = (Label(name="", figure=figure(1.0, "mm"), x_px=10.0, y_px=10.0, align="start"),)
    shown = (replace(made.pictures[0], alt=alt, labels=labels, overlay_svg='<path d="M0 0L9 9"/>'),)
    recipe = Ingredient(what=say("ingredient"), amount_per_100_ml=2.0, unit="drops")
    shot = ShotLog(
        date="2026-02-03", plastisol="medium", shot_c=158.0, mold_material="pla", outcome="short",
        short_at=say("short at"), note=say("shot note"),
    )  # fmt: skip
    spec = replace(
        made.spec, version="1" if slug == SLUGS[0] else "2",
        title=f"{slug} {say('title')}", summary=say("summary"), bait_type=say("type"),
        target=(say("target"),), hook=say("hook"), bolts=say("bolts"), author=say("author"),
        licence=say("licence"), renamed_from=(f"old-{slug}",), shots=(shot,),
        colours=(Colour(name=say("colour"), ingredients=(recipe,)),),
    )  # fmt: skip
    parts = tuple(
        replace(part, name=say(f"part {n}"), file=say(f"file {n}"))
        for n, part in enumerate(made.measurement.parts)
    )
    advice = replace(
        made.advice,
        findings=(
            Finding(
                level="warn", code="test.thin", values={"wall": figure(1.2, "mm"), "where": say("where")}
            ),
        ),
        shots=tuple(replace(one, shot=shot) for one in made.advice.shots),
    )
    versions = tuple(version(slug, number, say, shown) for number in (2, 1))
    withdrawn = replace(versions[1], withdrawn=say("reason")) if slug == SLUGS[0] else None
    return replace(
        made, spec=spec, measurement=replace(made.measurement, parts=parts), advice=advice, pictures=shown,
        assets=assets, versions=versions, withdrawn=withdrawn, files=frozen,
        downloads=() if withdrawn else downloads,
    )  # fmt: skip


def site(root: Path, say: Callable[[str], Say]) -> Path:
    """The site of one mold for each order of payloads, and requests; `say` gives each mold's texts."""
    molds = tuple(record(slug, say(name), root / "files") for slug, name in zip(SLUGS, TEXTS, strict=True))
    asked = tuple(
        Request(
            asked=say(name)("asked"), date="2026-03-01", by=say(name)("by"), note=say(name)("request note")
        )
        for name in TEXTS
    )
    made = Catalogue(
        molds=molds, tables=material_tables.load(), colours=load_colours(), requests=asked, store=None
    )
    (root / "molds").mkdir()
    config = small_site.configure(root)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(site_map, "texts", real_texts)
        patch.setattr(catalogue, "build_all", lambda *_, **__: made)
        return plugin.build_site(config, None, lambda *_: None)


@dataclass(frozen=True)
class Sites:
    plain: Path
    hostile: Path

    def pages(self) -> list[str]:
        """Every page, with what its scripts need in the address."""
        found = sorted(page.relative_to(self.hostile).as_posix() for page in self.hostile.rglob("*.html"))
        assert found == sorted(page.relative_to(self.plain).as_posix() for page in self.plain.rglob("*.html"))
        moved = [page for page in found if page.startswith("molds/old-")]
        versions = [page for page in moved if "/v" in page]
        assert len(moved) - len(versions) == len(
            SLUGS
        )  # they lead on at once, to pages that are read as themselves
        assert len(versions) == len([page for page in found if "/v" in page]) - len(versions)
        chosen = {"bench.html": SLUGS[0], "card.html": SLUGS[1], "compare.html": ",".join(SLUGS)}
        assert set(chosen) <= set(found)
        return [f"{page}#{chosen[page]}" if page in chosen else page for page in found if page not in moved]


@pytest.fixture(scope="module")
def sites(tmp_path_factory: pytest.TempPathFactory) -> Sites:
    roots = [tmp_path_factory.mktemp(name) for name in ("plain", "hostile")]
    return Sites(
        site(roots[0], lambda name: lambda place: f"{name} {place}"),
        site(roots[1], lambda name: lambda _: TEXTS[name]),
    )


SKELETON = r"""() => {
  const led = /^(src|srcset|href|action|formaction|data|poster|style|class|id|type|rel|http-equiv|on.*)$/;
  const told = one => led.test(one.name) ? `${one.name}=${one.value}` : one.name;
  const all = [...document.querySelectorAll("*")];
  return JSON.stringify(all.map(e => [e.tagName, ...[...e.attributes].map(told).sort()]));
}"""


class Watch:
    """A browser that notes what pages ask for, complain of and run."""

    def __init__(self, context: BrowserContext) -> None:
        self.page: Page = context.new_page()
        self.asked: list[str] = []
        self.heard: list[str] = []
        context.on("request", lambda request: self.asked.append(request.url))
        context.on("console", lambda message: self.told(f"{message.type}: {message.text}"))
        context.on("weberror", lambda error: self.heard.append(f"script: {error.error}"))
        context.on("dialog", lambda dialog: self.heard.append(f"dialog: {dialog.message}"))

    def told(self, message: str) -> None:
        if "registration blocked by Playwright" not in message:
            self.heard.append(message)

    def read(self, root: str, page: str, wanted: str | None = None) -> tuple[str, set[str]]:
        """What the page is made of and asked for, when it has come to rest, or is as `wanted`."""
        self.asked.clear()
        self.page.goto("about:blank")
        self.page.goto(f"{root}{page}")
        seen, same = "", 0
        for _ in range(60):
            now = self.page.evaluate(SKELETON)
            same = same + 1 if now == seen else 0
            seen = now
            if now == wanted or (wanted is None and same >= 4):
                break
            self.page.wait_for_timeout(40)
        assert self.page.evaluate("window.ran") is None, page
        asked = {url.removeprefix(root).partition("#")[0] for url in self.asked if url != "about:blank"}
        return seen, asked

    def quiet(self) -> None:
        assert self.heard == []


@pytest.fixture(scope="module")
def plain(chromium: Browser, sites: Sites) -> Iterator[dict[str, tuple[str, set[str]]]]:
    """What each page of the plain site is made of and asks for."""
    context = chromium.new_context(service_workers="block")
    watch = Watch(context)
    with serving(sites.plain) as address:
        found = {page: watch.read(address, page) for page in sites.pages()}
    watch.quiet()
    context.close()
    yield found


Plain = dict[str, tuple[str, set[str]]]


def compared(watch: Watch, root: str, plain: Plain, requests: bool) -> None:
    for page, (elements, asked) in plain.items():
        now, wants = watch.read(root, page, elements)
        assert differences(now, elements) == [], page
        if requests:
            assert wants <= asked, page  # longer texts may push a picture out of sight, which is not fetched
        assert all(not one.startswith(("http:", "https:", "//", "file:", "javascript:")) for one in wants), (
            page
        )
    watch.quiet()


def differences(now: str, elements: str) -> list[tuple[Any, Any]]:
    """The first elements that differ."""
    if now == elements:
        return []
    one, other = json.loads(now), json.loads(elements)
    pairs = [pair for pair in zip(one, other, strict=False) if pair[0] != pair[1]]
    return pairs[:2] or [(len(one), len(other))]


def test_served_no_text_becomes_an_element_an_attribute_a_request_or_a_script(
    chromium: Browser, sites: Sites, plain: Plain
) -> None:
    context = chromium.new_context(service_workers="block")
    with serving(sites.hostile) as address:
        compared(Watch(context), address, plain, requests=True)
    context.close()


def test_from_the_folder_no_text_becomes_anything_else(chromium: Browser, sites: Sites, plain: Plain) -> None:
    context = chromium.new_context()
    told = {
        page: (elements, asked - {"data/withdrawn.json"})  # a folder learns of no withdrawal
        for page, (elements, asked) in plain.items()
        if page != "404.html"  # a server's page
    }
    compared(Watch(context), f"{sites.hostile.as_uri()}/", told, requests=True)
    context.close()


def test_without_a_network_no_text_becomes_anything_else(
    chromium: Browser, sites: Sites, plain: Plain
) -> None:
    context = chromium.new_context()
    watch = Watch(context)
    with serving(sites.hostile) as address:
        watch.page.goto(f"{address}index.html")
        until(watch.page, "navigator.serviceWorker.controller !== null")
        until(watch.page, "navigator.serviceWorker.controller.state === 'activated'")
        for page in (
            "commands.html",
            "mold-file.html",
            "own-site.html",
        ):  # written by hand: kept once they were seen
            watch.page.goto(f"{address}{page}")
        context.set_offline(True)
        told = {page: made for page, made in plain.items() if page != "404.html"}  # a server's page
        compared(watch, address, told, requests=False)
    context.close()


def test_the_texts_are_really_on_the_pages(chromium: Browser, sites: Sites) -> None:
    context = chromium.new_context(service_workers="block")
    page = context.new_page()
    with serving(sites.hostile) as address:
        texts = list(PAYLOADS.values())[:3]  # a title of one line, and letters that HTML has
        for slug in SLUGS:
            page.goto(f"{address}molds/{slug}.html")
            shown = [page.locator("h1").text_content() or "", page.title()]
            page.goto(f"{address}molds/{slug}/v1.html")
            shown.append(page.locator(".sb-withdrawn").text_content() or "")
            page.goto(f"{address}card.html#{slug}")
            until(page, "document.title.includes('mold-')")
            shown.append(page.title())
            assert [text for text in texts if not all(text in one for one in shown)] == []
    context.close()


def test_feed_and_data_hold_the_texts_as_they_are(sites: Sites) -> None:
    texts = dict(zip(SLUGS, TEXTS.values(), strict=True))
    for slug, text in texts.items():
        data = json.loads((sites.hostile / "data" / "molds" / f"{slug}.json").read_text(encoding="utf-8"))
        assert data["title"] == f"{slug} {text}"
        script = (sites.hostile / "data" / "molds" / f"{slug}.js").read_text(encoding="utf-8")
        assert (
            json.loads(script.removeprefix("shotbook.mold(").rstrip().removesuffix(");"))["title"]
            == data["title"]
        )
        assert not any(mark in script for mark in ("</", "<!--", "<script", "\u2028", "\u2029"))
    feed = Tree.parse(sites.hostile / "feed.xml").getroot()
    entries = feed.findall("{http://www.w3.org/2005/Atom}entry")
    assert len(entries) == 2 * len(SLUGS)
    assert {child.tag.partition("}")[2] for entry in entries for child in entry} == {
        "title", "id", "link", "updated", "author", "summary",
    }  # fmt: skip
