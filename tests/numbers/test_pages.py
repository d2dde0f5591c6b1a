"""No number stands on a page but the record's, at its place, with unit and range, in both systems."""

from __future__ import annotations

import re

import pytest

from builder.model import Drift, MoldRecord
from tests.numbers import expected_mold, expected_pages, expected_versions, molds
from tests.numbers.compared import differences
from tests.numbers.conftest import Site
from tests.numbers.expected import Line

NUMBERLESS = ("404", "card", "compare", "glossary")
"""Pages without a figure until a script runs; what they say of amounts are sentences of the language file."""
NUMBERED = ("materials", "ladder", "method", "colours", "requests", "bench", "safety")
SLUGS = ("test-minnow", "test-crawler", "test-shut")


def record(site: Site, slug: str) -> MoldRecord:
    return next(one for one in site.made.molds if one.spec.slug == slug)


@pytest.mark.parametrize("slug", SLUGS)
def test_a_mold_page_tells_the_records_numbers_and_no_others(site: Site, slug: str) -> None:
    wanted = list(expected_mold.mold_page(record(site, slug), site.at))
    assert len(wanted) > 40
    assert differences(site.page(f"molds/{slug}.html"), wanted) == []


@pytest.mark.parametrize(
    ("slug", "stands"),
    [("test-minnow", "step_stand"), ("test-shut", "step_stand_tail_up"), ("test-crawler", "")],
)
def test_a_page_says_how_its_mold_stands_and_nothing_else(site: Site, slug: str, stands: str) -> None:
    ways = ("step_stand", "step_stand_tail_up", "step_stand_flat")
    plain = re.sub(r"<[^>]+>", "", site.text(f"molds/{slug}.html"))
    said = [way for way in ways if site.at.say(f"page.bolt.{way}") in plain]
    assert said == ([stands] if stands else [])


def test_a_version_page_tells_what_was_frozen_and_no_other_number(site: Site) -> None:
    mold = record(site, "test-minnow")
    newest, first = mold.versions
    limit_c = mold.advice.windows[0].plastisol_limit_c.value
    for one in (newest, first):
        drift = molds.drifts(mold).get(one.version, Drift())
        wanted = expected_versions.version_page(one, newest, site.at, drift, limit_c)
        assert differences(site.page(f"molds/test-minnow/v{one.version}.html"), wanted) == []


def test_the_catalogue_tells_each_molds_numbers_and_no_others(site: Site) -> None:
    records, size = site.made.molds, molds.PER_PAGE
    for number, page in enumerate(("index.html", "catalogue/2.html"), 1):
        shown = records[(number - 1) * size : number * size]
        wanted = expected_pages.catalogue(shown, number, 2, len(records), site.at)
        assert differences(site.page(page), wanted) == []


def once(site: Site, page: str) -> list[Line]:
    """The lines of a page that there is once."""
    makers = {
        "materials": lambda: expected_pages.materials(site.at),
        "ladder": lambda: expected_pages.ladder(site.at),
        "method": lambda: expected_pages.method(site.made.molds, site.at),
        "bench": lambda: expected_pages.bench(site.at),
        "safety": lambda: expected_pages.safety(site.at),
        "colours": lambda: expected_pages.colours(site.made.molds, site.at),
        "requests": lambda: expected_pages.requests(site.made.requests, site.at),
    }
    return list(makers[page]()) if page in makers else []


@pytest.mark.parametrize("page", [*NUMBERED, *NUMBERLESS])
def test_a_page_that_there_is_once_tells_the_tables_numbers_and_no_others(site: Site, page: str) -> None:
    wanted = once(site, page)
    assert (not wanted) == (page in NUMBERLESS)
    assert differences(site.page(f"{page}.html"), wanted) == []


def test_every_page_of_the_site_is_read_here(site: Site) -> None:
    pages = {file.relative_to(site.folder).as_posix() for file in site.folder.rglob("*.html")}
    read = {f"molds/{slug}.html" for slug in SLUGS} | {"index.html", "catalogue/2.html"}
    read |= {f"molds/test-minnow/v{one.version}.html" for one in record(site, "test-minnow").versions}
    read |= {f"{page}.html" for page in (*NUMBERED, *NUMBERLESS)}
    assert pages == read


def test_the_invented_molds_have_no_two_figures_alike(site: Site) -> None:
    told: dict[str, str] = {}
    for mold in site.made.molds:
        for found in site.page(f"molds/{mold.spec.slug}.html"):
            if re.search(r"\d.*[a-zA-Z°%]", found.text) and found.key == "" and "stl" not in found.text:
                quantity = found.text.partition(" · ")[0]
                assert told.setdefault(f"{mold.spec.slug} {quantity}", found.place.split("|")[-1]), quantity
    assert len(told) > 60
