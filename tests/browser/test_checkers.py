"""Checkers from outside: axe for accessibility, html-validate for the markup, schemas for the data."""

from __future__ import annotations

import json
import re
import subprocess
import xml.etree.ElementTree as Tree
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote, urldefrag, urljoin

import jsonschema
import pytest

from builder.site.catalogue import Catalogue
from tests.browser.conftest import Visit
from tests.browser.test_every_page import VIEWS, named

pytestmark = pytest.mark.browser

KINDS = [
    "index.html",
    "molds/reed-minnow.html",
    "molds/flatback-crawler.html",
    "card.html#pond-stick",
    "bench.html#reed-minnow",
    "compare.html#reed-minnow,pond-stick",
    "colours.html",
    "materials.html",
    "method.html",
    "glossary.html",
    "safety.html",
    "requests.html",
    "mold-file.html",
    "404.html",
]
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


@pytest.mark.parametrize("visit", VIEWS, indirect=True, ids=named)
def test_axe_finds_nothing(visit: Visit, address: str, npm: Path) -> None:
    axe = (npm / "axe-core" / "axe.min.js").read_text(encoding="utf-8")
    found = []
    for kind in KINDS:
        visit.page.goto(f"{address}{kind}")
        visit.page.evaluate(axe)
        result = visit.page.evaluate("rules => axe.run({runOnly: rules, resultTypes: ['violations']})", RULES)
        found += [(kind, v["id"], n["html"][:160]) for v in result["violations"] for n in v["nodes"]]
    assert found == []


def test_the_markup_is_valid(npm: Path, folder: Path, tmp_path: Path) -> None:
    config = tmp_path / "config.json"
    rules = {
        "no-inline-style": "off",
        "no-trailing-whitespace": "off",
        "void-style": "off",
        "attribute-boolean-style": "off",
        "long-title": "off",
        "require-sri": "off",
        "no-raw-characters": "off",
    }
    config.write_text(json.dumps({"root": True, "extends": ["html-validate:standard"], "rules": rules}))
    tool = npm / "html-validate" / "bin" / "html-validate.mjs"
    command = ["node", str(tool), "--config", str(config), "--formatter", "json", str(folder / "**/*.html")]
    told = tmp_path / "told.json"
    with told.open("w") as out:  # into a file: what node writes into a pipe may be cut off
        subprocess.run(command, stdout=out, timeout=300, check=False)
    found = json.loads(told.read_text(encoding="utf-8"))
    assert [(Path(f["filePath"]).name, m["line"], m["message"]) for f in found for m in f["messages"]] == []


class Links(HTMLParser):
    """Addresses that a page leads to or loads, and the names within it."""

    def __init__(self, page: Path) -> None:
        super().__init__()
        self.found: list[str] = []
        self.names: set[str] = set()
        self.feed(page.read_text(encoding="utf-8"))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        self.names |= {given[key] or "" for key in ("id", "name") if key in given}
        if (tag, given.get("rel")) != ("link", "canonical"):
            self.found += [given[key] or "" for key in ("href", "src") if key in given]
        for one in (given.get("srcset") or "").split(","):
            self.found += one.split()[:1]


def test_every_link_and_download_leads_to_something(folder: Path) -> None:
    pages = {page.relative_to(folder).as_posix(): Links(page) for page in folder.rglob("*.html")}
    lost = []
    for name, links in pages.items():
        for link in links.found:
            target, mark = urldefrag(urljoin(f"https://example.org/{name}", link))
            if not target.startswith("https://example.org/") or link.startswith("data:"):
                continue
            path = unquote(target.removeprefix("https://example.org/")) or "index.html"
            if not (folder / path).is_file() or (
                mark and path in pages and not known(path, mark, pages[path])
            ):
                lost.append((name, link))
    assert lost == []


def known(path: str, mark: str, links: Links) -> bool:
    """Marks of the bench and the comparison name molds; their scripts read them."""
    return path in ("bench.html", "card.html", "compare.html") or mark in links.names


def test_each_mold_record_validates_against_the_published_schema(folder: Path, demo: Catalogue) -> None:
    schema = json.loads((folder / "data" / "mold.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    for record in demo.molds:
        data = json.loads(
            (folder / "data" / "molds" / f"{record.spec.slug}.json").read_text(encoding="utf-8")
        )
        assert [error.message for error in validator.iter_errors(data)] == []
        assert data["slug"] == record.spec.slug


def test_a_record_with_a_text_for_a_number_would_be_refused(folder: Path) -> None:
    schema = json.loads((folder / "data" / "mold.schema.json").read_text(encoding="utf-8"))
    data = json.loads((folder / "data" / "molds" / "pond-stick.json").read_text(encoding="utf-8"))
    data["measurement"]["projected_mm2"] = "much"
    assert not jsonschema.Draft202012Validator(schema).is_valid(data)


def test_the_feed_is_what_rfc_4287_asks_for(folder: Path) -> None:
    # RFC 4287, sections 4.1.1 and 4.1.2: exactly one id, title and updated; an author for all entries
    atom = "{http://www.w3.org/2005/Atom}"
    feed = Tree.parse(folder / "feed.xml").getroot()
    assert feed.tag == f"{atom}feed"
    for holder in (feed, *feed.iter(f"{atom}entry")):
        for name in ("id", "title", "updated"):
            assert len(holder.findall(f"{atom}{name}")) == 1
        stamp = holder.findtext(f"{atom}updated") or ""
        assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", stamp)
    assert feed.find(f"{atom}author") is not None
    assert feed.find(f"{atom}link[@rel='self']") is not None


def test_structured_data_names_the_files_with_their_digests(folder: Path, demo: Catalogue) -> None:
    # schema.org: a 3DModel is a MediaObject, so a CreativeWork with name, url, license and encoding
    for record in demo.molds:
        text = (folder / "molds" / f"{record.spec.slug}.html").read_text(encoding="utf-8")
        found = re.findall(r'<script type="application/ld\+json">(.*?)</script>', text, re.S)
        (data,) = [json.loads(one) for one in found]
        assert (data["@context"], data["@type"], data["name"]) == (
            "https://schema.org",
            "3DModel",
            record.spec.title,
        )
        assert [one["sha256"] for one in data["encoding"]] == [d.sha256 for d in record.downloads]


def test_the_app_manifest_has_what_a_phone_needs_to_install_it(folder: Path) -> None:
    data = json.loads((folder / "app.webmanifest").read_text(encoding="utf-8"))
    assert (folder / data["start_url"]).is_file()
    assert {icon["sizes"] for icon in data["icons"]} >= {"192x192", "512x512"}
    assert all((folder / icon["src"]).is_file() for icon in data["icons"])


def test_the_sitemap_lists_every_page_of_a_mold(folder: Path, demo: Catalogue) -> None:
    text = (folder / "sitemap.xml").read_text(encoding="utf-8")
    assert all(f"molds/{record.spec.slug}.html</loc>" in text for record in demo.molds)
