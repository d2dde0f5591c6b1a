"""What a visitor reads once scripts have run, chosen or not: the record's numbers, and no others."""

from __future__ import annotations

import math
import threading
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial
from http.server import ThreadingHTTPServer

import pytest
from playwright.sync_api import Browser, Page, expect

from builder.model import Drift, MoldRecord, Window
from tests.browser.conftest import Quiet
from tests.numbers import (
    expected_bench,
    expected_mold,
    expected_pages,
    expected_scripted,
    expected_texts,
    expected_versions,
    molds,
    reading,
)
from tests.numbers.compared import differences
from tests.numbers.expected import Line, Places, catalogue_card, stop_code
from tests.numbers.expected_bench import Batch
from tests.numbers.quantity import FLUID_OUNCE_ML, INCH_MM, OUNCE_G
from tests.numbers.test_pages import SLUGS

pytestmark = pytest.mark.browser
AT = Places()


@pytest.fixture(scope="module")
def invented(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, tuple[MoldRecord, ...]]]:
    """Where the site of the invented molds is served, and its molds."""
    made, folder = molds.build(tmp_path_factory.mktemp("invented"))
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(Quiet, directory=str(folder)))
    server.daemon_threads = True
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{server.server_address[1]}/", made.molds
    server.shutdown()
    server.server_close()


@pytest.fixture
def page(chromium: Browser) -> Iterator[Page]:
    """A visitor who has chosen nothing."""
    context = chromium.new_context(viewport={"width": 1280, "height": 900})
    yield context.new_page()
    context.close()


def told(page: Page, wanted: list[Line]) -> list[str]:
    """What is wrong with the page as it stands now."""
    return differences(reading.page(page.content(), scripts=True), wanted)


def record_of(records: tuple[MoldRecord, ...], slug: str) -> MoldRecord:
    return next(one for one in records if one.spec.slug == slug)


def opened(page: Page, address: str, slug: str) -> None:
    page.goto(f"{address}molds/{slug}.html")
    page.wait_for_selector(".sb-choose:not([hidden])")
    page.wait_for_selector("[data-plots=ways] svg", state="attached")


def after_scripts(record: MoldRecord, window: Window) -> list[Line]:
    """A mold's page for a pair; what is drawn for the maker's own pair alone is hidden for another."""
    own, at = window == record.advice.windows[0], AT.of(record)
    return [
        *expected_mold.mold_page(record, at, window),
        *(expected_scripted.ways(record, at) if own else ()),
        *expected_scripted.logged(record, at),
        *expected_scripted.grid(record, at),
        *(keyless for keyless in expected_scripted.batch(record, at, window)),
        *(expected_scripted.plan(record, at) if own else ()),
        *(expected_scripted.plan_heads(record, at) if own else ()),
        *expected_scripted.why(record, at),
        *expected_scripted.moves(record, at),
        *expected_scripted.labels(record, at),
    ]


@pytest.mark.parametrize("slug", SLUGS)
def test_a_mold_page_tells_a_visitor_who_chooses_nothing_the_makers_own_pair(
    page: Page, invented: tuple[str, tuple[MoldRecord, ...]], slug: str
) -> None:
    address, records = invented
    record = record_of(records, slug)
    opened(page, address, slug)
    assert told(page, after_scripts(record, record.advice.windows[0])) == []


@pytest.mark.parametrize("pair", [("hard", "petg"), ("salted", "resin"), ("medium", "pla")])
def test_a_mold_page_tells_the_chosen_pairs_numbers(
    page: Page, invented: tuple[str, tuple[MoldRecord, ...]], pair: tuple[str, str]
) -> None:
    address, records = invented
    record = record_of(records, "test-minnow")
    opened(page, address, "test-minnow")
    for name, value in (
        ("plastisol", "soft"),
        ("plastisol", pair[0]),
        ("material", "pc"),
        ("material", pair[1]),
    ):
        page.locator(f".sb-choose [name={name}]").select_option(value)
    window = next(w for w in record.advice.windows if (w.plastisol, w.mold_material) == pair)
    assert told(page, after_scripts(record, window)) == []


@pytest.mark.parametrize(
    ("slug", "pair", "stopped"),
    [
        ("test-minnow", ("medium", "resin"), True),
        ("test-minnow", ("salted", "petg"), False),
        ("test-shut", ("hard", "resin"), True),
        ("test-shut", ("hard", "petg"), False),
    ],
)
def test_the_chosen_pairs_stop_stands_on_top_and_no_other_pairs(
    page: Page, invented: tuple[str, tuple[MoldRecord, ...]], slug: str, pair: tuple[str, str], stopped: bool
) -> None:
    record = record_of(invented[1], slug)
    window = next(w for w in record.advice.windows if (w.plastisol, w.mold_material) == pair)
    assert stop_code(window) == ("stop.unlikely" if stopped else "")
    opened(page, invented[0], slug)
    for name, value in zip(("plastisol", "material"), pair, strict=True):
        page.locator(f".sb-choose [name={name}]").select_option(value)
    names = {"plastisol": AT.word(pair[0]), "mold_material": AT.word(pair[1])}
    wanted = [AT.say("stop.unlikely").format(**names)] if stopped else []
    assert page.locator("[data-stop]:visible").all_inner_texts() == wanted
    for attribute, gone in (("data-shut", not stopped), ("data-open", stopped)):
        places = page.locator(f"[{attribute}]").evaluate_all("all => all.map(one => one.hidden)")
        assert places == [gone] * len(places)
        assert places


def test_a_chosen_pair_goes_on_to_the_bench_and_the_card_and_to_no_other_mold(
    page: Page, invented: tuple[str, tuple[MoldRecord, ...]]
) -> None:
    address, records = invented
    record = record_of(records, "test-crawler")
    opened(page, address, "test-crawler")
    page.locator(".sb-choose [name=plastisol]").select_option("salted")
    page.locator(".sb-choose [name=material]").select_option("asa")
    assert page.url.endswith("test-crawler.html?plastisol=salted&material=asa")
    window = next(w for w in record.advice.windows if (w.plastisol, w.mold_material) == ("salted", "asa"))
    links = page.locator("a[data-pair]").evaluate_all("links => links.map(link => link.href)")
    page.reload()
    page.wait_for_selector("[data-plots=ways] svg", state="attached")
    assert told(page, after_scripts(record, window)) == []
    page.goto(links[0])
    page.wait_for_selector("[data-b=heat_g] span")
    every_card(page, record, window, Batch())
    page.goto(links[1])
    expect(page.locator(".card")).to_be_visible()
    chosen = replace(record, advice=replace(record.advice, windows=(window,)))
    assert told(page, list(expected_texts.card(chosen, AT, scripts=True))) == []
    other = record_of(records, "test-minnow")
    opened(page, address, "test-minnow")
    assert told(page, after_scripts(other, other.advice.windows[0])) == []


def test_a_version_page_tells_its_numbers_after_scripts_too(
    page: Page, invented: tuple[str, tuple[MoldRecord, ...]]
) -> None:
    address, records = invented
    record = record_of(records, "test-minnow")
    newest, first = record.versions
    limit_c = record.advice.windows[0].plastisol_limit_c.value
    page.goto(f"{address}molds/test-minnow/v{first.version}.html")
    page.wait_for_selector("var span")
    page.wait_for_timeout(100)
    assert told(page, list(expected_versions.version_page(first, newest, AT, Drift(), limit_c))) == []


def every_card(page: Page, record: MoldRecord, window: Window, asked: Batch) -> None:
    """Each card of the bench in turn tells its numbers."""
    pour = record.spec.kind == "open pour"
    for step in expected_bench.STEPS:
        if pour and step == "hold":
            assert page.locator("[data-to=hold]").is_hidden()
            continue
        page.locator(f"[data-to={step}]").click()
        assert told(page, list(expected_bench.bench(record, AT, window, asked, step))) == []


@pytest.mark.parametrize("slug", ["", *SLUGS])
def test_the_bench_starts_with_the_makers_own_pair_and_twelve_baits(
    page: Page, invented: tuple[str, tuple[MoldRecord, ...]], slug: str
) -> None:
    address, records = invented
    record = record_of(records, slug) if slug else records[0]
    page.goto(f"{address}bench.html#{slug}")
    page.wait_for_selector("[data-b=heat_g] span")
    every_card(page, record, record.advice.windows[0], Batch())


def test_the_bench_tells_the_batch_that_is_asked_for(
    page: Page, invented: tuple[str, tuple[MoldRecord, ...]]
) -> None:
    address, records = invented
    record = record_of(records, "test-minnow")
    window = next(w for w in record.advice.windows if (w.plastisol, w.mold_material) == ("hard", "petg"))
    page.goto(f"{address}bench.html#test-minnow")
    page.wait_for_selector("[data-b=heat_g] span")
    page.locator(".sb-bench-setup > summary").click()
    page.locator("[name=plastisol]").select_option("hard")
    page.locator("[name=material]").select_option("petg")
    page.locator("[name=baits]").fill("7")
    page.get_by_text(AT.say("page.bench.mix")).click()
    page.locator("[name=spare]").select_option("30")
    page.locator("[name=remelt]").select_option("25")
    page.locator("[name=colour]").select_option("own-0")
    page.locator("[name=shot]").select_option("4")
    page.locator("[name=pace]").select_option("1")
    recipe = record.spec.colours[0].ingredients
    asked = Batch(baits=7, spare=0.3, remelt=0.25, recipe=recipe, shot=4, hurried=True)
    every_card(page, record, window, asked)
    page.locator("[data-to=amount]").click()
    page.locator("[data-step='1']").click()
    page.locator("[data-step='1']").click()
    nine = list(expected_bench.amounts(record, AT, window, replace(asked, baits=9)))
    assert [
        fault for fault in told(page, nine) if "Heat" in fault or "Weigh" in fault or "Shots" in fault
    ] == []


@pytest.mark.parametrize("slug", SLUGS)
def test_the_card_tells_the_makers_own_pair(
    page: Page, invented: tuple[str, tuple[MoldRecord, ...]], slug: str
) -> None:
    address, records = invented
    page.goto(f"{address}card.html#{slug}")
    expect(page.locator(".card")).to_be_visible()
    assert told(page, list(expected_texts.card(record_of(records, slug), AT, scripts=True))) == []


def test_a_comparison_tells_each_molds_numbers_in_its_own_column(
    page: Page, invented: tuple[str, tuple[MoldRecord, ...]]
) -> None:
    address, records = invented
    shown = [records[2], records[0], records[1]]
    page.goto(f"{address}compare.html#{','.join(one.spec.slug for one in shown)}")
    expect(page.locator(".sb-grid thead th")).to_have_count(4)
    assert told(page, list(expected_bench.comparison(shown, AT))) == []
    page.locator("[name=plastisol]").select_option("soft")
    page.locator("[name=material]").select_option("petg")
    pairs = [w for r in shown for w in r.advice.windows if (w.plastisol, w.mold_material) == ("soft", "petg")]
    chosen = [
        replace(one, advice=replace(one.advice, windows=(window,)))
        for one, window in zip(shown, pairs, strict=True)
    ]
    page.wait_for_timeout(100)
    assert told(page, list(expected_bench.comparison(chosen, AT))) == []


def test_the_catalogue_tells_every_molds_numbers_once_its_script_has_run(
    page: Page, invented: tuple[str, tuple[MoldRecord, ...]]
) -> None:
    address, records = invented
    page.goto(address)
    expect(page.locator(".sb-card label")).to_have_count(3)
    shown = sorted(records, key=lambda one: one.spec.title.casefold())
    cards = [line for one in shown for line in catalogue_card(one, AT)]
    counted: list[Line] = [
        (AT.gap("", "page.find.found", "found"), "3"),
        (AT.gap("", "page.find.found", "count"), "3"),
    ]
    assert told(page, [*cards, *counted, *expected_bench.chips(records, AT)]) == []


def length_mm(record: MoldRecord) -> float:
    return max(bait.length_mm for bait in record.measurement.baits)


def weight_g(record: MoldRecord) -> float:
    return max(one.value for one in record.advice.amounts[0].bait_g)


def shot_ml(record: MoldRecord) -> float:
    return record.advice.amounts[0].shot_ml.value


def longer_side_mm(record: MoldRecord) -> float:
    return max(side for part in record.measurement.parts for side in part.bed_mm[:2])


FILTERS: tuple[tuple[str, Callable[[MoldRecord], float], bool, str, float], ...] = (
    # field, what it compares, whether it asks for more than that, its unit, and what one of these is in ours
    ("length_from", length_mm, True, "mm", 1.0),
    ("length_from", length_mm, True, "in", INCH_MM),
    ("length_to", length_mm, False, "mm", 1.0),
    ("length_to", length_mm, False, "in", INCH_MM),
    ("weight_from", weight_g, True, "g", 1.0),
    ("weight_from", weight_g, True, "oz", OUNCE_G),
    ("weight_to", weight_g, False, "g", 1.0),
    ("weight_to", weight_g, False, "oz", OUNCE_G),
    ("shot", shot_ml, False, "mL", 1.0),
    ("shot", shot_ml, False, "fl oz", FLUID_OUNCE_ML),
    ("bed_x", longer_side_mm, False, "mm", 1.0),
    ("bed_x", longer_side_mm, False, "in", INCH_MM),
)


@pytest.mark.parametrize("case", FILTERS)
def test_the_catalogues_filters_part_molds_within_one_per_cent_in_the_units_that_they_show(
    page: Page,
    invented: tuple[str, tuple[MoldRecord, ...]],
    case: tuple[str, Callable[[MoldRecord], float], bool, str, float],
) -> None:
    name, of, more, unit, factor = case
    address, records = invented
    shown = sorted(records, key=lambda one: one.spec.title.casefold())
    page.goto(address)
    expect(page.locator(".sb-card label")).to_have_count(3)
    page.locator(f".sb-units [value={'metric' if unit in ('mm', 'g', 'mL') else 'us'}]").check()
    page.get_by_text(AT.say("page.find.more"), exact=True).click()
    middle = sorted(of(one) for one in records)[1]
    for share in (0.99, 1.01):
        page.locator(f"[name={name}]").fill(f"{middle * share / factor:.5g}")
        left = [r.spec.title for r in shown if (of(r) >= middle * share if more else of(r) <= middle * share)]
        assert page.locator(".sb-card h2").all_inner_texts() == left
    field = page.locator(f":is(fieldset, label):has(> [name={name}])")
    assert field.locator("[data-unit]").inner_text() == unit


def test_the_chips_of_length_go_by_whole_inches_in_us_units(
    page: Page, invented: tuple[str, tuple[MoldRecord, ...]]
) -> None:
    address, records = invented
    page.goto(address)
    expect(page.locator(".sb-card label")).to_have_count(3)
    page.locator(".sb-units [value=us]").check()
    inches = [length_mm(one) / INCH_MM for one in records]
    steps = (("< 2 in", 0, 2), ("2–3 in", 2, 3), ("3–4 in", 3, 4), ("4–5 in", 4, 5), ("≥ 5 in", 5, math.inf))
    counts = [(name, sum(low <= one < high for one in inches)) for name, low, high in steps]
    told = page.locator("[data-facet=size] label").all_inner_texts()
    assert [" ".join(one.split()) for one in told] == [f"{name} {count}" for name, count in counts if count]


def test_a_step_of_inches_in_an_address_becomes_the_same_lengths_in_millimetres(
    page: Page, invented: tuple[str, tuple[MoldRecord, ...]]
) -> None:
    page.goto(f"{invented[0]}#size=3in")
    expect(page.locator("[name=length_from]")).to_have_value("76.2")
    expect(page.locator("[name=length_to]")).to_have_value("102")


def test_the_catalogues_list_is_sorted_by_each_number(
    page: Page, invented: tuple[str, tuple[MoldRecord, ...]]
) -> None:
    address, records = invented
    page.goto(address)
    for key, cards in (
        ("length", length_mm),
        ("weight", weight_g),
        ("shot", shot_ml),
        ("cavities", lambda r: r.spec.cavities),
    ):
        page.locator("[name=sort]").select_option(key)
        assert page.locator(".sb-card h2").all_inner_texts() == [
            one.spec.title for one in sorted(records, key=cards)
        ]


def test_catalogue_pages_are_read_by_this_test_as_they_are_without_scripts(
    chromium: Browser, invented: tuple[str, tuple[MoldRecord, ...]]
) -> None:
    address, records = invented
    context = chromium.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(address)
    wanted = list(expected_pages.catalogue(records[: molds.PER_PAGE], 1, 2, len(records), AT))
    found = reading.page(page.content())
    context.close()
    assert differences(found, wanted) == []
