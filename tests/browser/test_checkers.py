"""What the site publishes is what standards and its own schemas say, and every link leads somewhere."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as Tree
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote, urldefrag, urljoin

import jsonschema
import pytest

from builder.site.catalogue import Catalogue

pytestmark = pytest.mark.browser


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
