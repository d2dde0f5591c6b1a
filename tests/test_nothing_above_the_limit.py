"""No page, card, drawing or data of a built site tells a temperature to shoot above the plastisol's limit.

The site is built as the plugin builds it, from invented molds with their real advice: one that no temperature
fills, some whose data sheet allows less, and one with a version that was frozen by older tables.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from builder.model import Declared, Figure, Finding, Measurement, MoldRecord, MoldSpec, Version
from builder.site import catalogue
from builder.spec import material_tables
from tests import readings
from tests.advised_minnow import FULL_MM, SHORT_MM, spec
from tests.numbers import molds
from tests.paths_for_flow import minnow_measurement
from tests.random_measurements import opened, random_mold
from tests.records_for_pages import mold

pytestmark = pytest.mark.slow  # the advice of six molds for every pair, and a site of them
TABLES = material_tables.load()
TOP_C, TOP_F = 177.0, 351.0
"""The trade's top as pages write it."""
CELSIUS = re.compile(r"(?:(\d+(?:[.,]\d+)?)–)?(\d+(?:[.,]\d+)?)[\u00a0\u202f\u2009 ]*°(C|F)")
SPAN = re.compile(r"°(C|F)\s*\((\d+)–(\d+)\)")


def molds_of_all_kinds() -> dict[str, tuple[MoldSpec, Measurement]]:
    """What the site is built from, by slug."""
    return {
        "fills-never": (spec("hard", "aluminium"), minnow_measurement(SHORT_MM)),
        "softens-early": (spec("medium", "pla"), minnow_measurement(FULL_MM)),
        "sheet-of-162": (spec("soft", "petg", declared=Declared(limit_c=162.0)), minnow_measurement(FULL_MM)),
        "sheet-of-150": (spec("soft", "petg", declared=Declared(limit_c=150.0)), minnow_measurement(1.2)),
        "poured-open": (spec("medium", "resin"), opened(minnow_measurement(FULL_MM))),
        "random": random_mold(33),
    }


def old_version(slug: str) -> Version:
    """As it was frozen when the limit was a range up to 190 °C."""

    def c(value: float, low: float, high: float) -> Figure:
        return Figure(value=value, low=low, high=high, unit="c", because="test.because", origin="computed")

    figures = {
        "fill": c(189.3, 150.0, 240.0),
        "limit": c(182.0, 177.0, 190.0),
        "shoot": c(166.0, 154.0, 182.7),
        "shot": replace(c(24.1, 23.9, 24.3), unit="ml"),
        "hold": replace(c(13.3, 12.9, 13.7), unit="s"),
    }
    hot = {"shot": c(181.0, 181.0, 181.0), "limit": figures["limit"]}
    pair = {"plastisol": "soft", "mold_material": "petg"}
    return Version(
        stop=Finding(level="stop", code="stop.too_cold", values={**pair, "limit": figures["limit"]}),
        findings=(Finding(level="warn", code="findings.of_old", values=hot),),
        slug=slug,
        version="1",
        order=1,
        date="2026-01-02",
        title="Frozen",
        summary="",
        author="",
        licence="CC0-1.0",
        notes="first",
        figures=figures,
        changes=(),
        pictures=(),
        assets=Path(),
        downloads=(),
    )


def records(folder: Path) -> tuple[MoldRecord, ...]:
    found = []
    for slug, (wanted, measured) in molds_of_all_kinds().items():
        base = mold(slug, folder)
        cavities = len(measured.baits)
        own = replace(
            base.spec,
            kind=measured.kind,
            plastisol=wanted.plastisol,
            mold_material=wanted.mold_material,
            declared=wanted.declared,
            cavities=cavities,
        )
        found.append(
            replace(
                base,
                spec=own,
                downloads=(),
                measurement=replace(measured, slug=slug, parts=base.measurement.parts),
                advice=readings.advised(wanted, measured, TABLES),
                versions=(old_version(slug),) if slug == "softens-early" else (),
            )
        )
    return tuple(found)


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    def collection(folder: Path) -> catalogue.Catalogue:
        colours = catalogue.load_colours()
        return catalogue.Catalogue(molds=records(folder), tables=TABLES, colours=colours, requests=())

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(molds, "collection", collection)
        return molds.build(tmp_path_factory.mktemp("limits"))[1]


def above(text: str) -> list[str]:
    """Temperatures in a text above the limit, in either unit.

    >>> above("166 °C (154–183) · 331 °F (309–361)")
    ['183 C', '361 F']
    """
    plain = re.sub(r"<[^>]*>", "", text)
    told = [(float(n.replace(",", ".")), unit) for a, b, unit in CELSIUS.findall(plain) for n in (a, b) if n]
    told += [(float(n), unit) for unit, a, b in SPAN.findall(plain) for n in (a, b)]
    return [f"{value:g} {unit}" for value, unit in told if value > {"C": TOP_C, "F": TOP_F}[unit]]


def test_the_search_finds_what_it_is_for() -> None:
    assert above("166\u00a0°C (154–183) · 331\u00a0°F (309–361)") == ["183 C", "361 F"]
    assert above("<var>400\u00a0°C</var> 751\u00a0°F") == ["400 C", "751 F"]
    assert above("up to 177\u00a0°C · 351\u00a0°F, 154–177\u00a0°C") == []
    assert numbers_c({"a": [{"unit": "c", "value": 150.0, "low": 1.0, "high": 240.0}]}) == [150.0, 1.0, 240.0]


@pytest.mark.parametrize("slug", molds_of_all_kinds())
def test_no_page_and_no_drawing_of_a_mold_tells_a_temperature_above_the_limit(site: Path, slug: str) -> None:
    page = (site / "molds" / f"{slug}.html").read_text(encoding="utf-8")
    script = (site / "data" / "molds" / f"{slug}.js").read_text(encoding="utf-8")
    assert "°C" in page
    assert above(page) == []
    assert above(json.dumps(json.loads(script[script.index("(") + 1 : -3]), ensure_ascii=False)) == []
    for texts in pairs_of_texts(json.loads(script[script.index("(") + 1 : -3])):
        assert above(" ".join(texts[:2])) == above(f"{texts[0]} ({texts[1]})") == []


def pairs_of_texts(value: Any) -> Iterator[list[str]]:  # noqa: ANN401 - any JSON value
    """Every figure's value and span in the data of a page: metric, then US."""
    if isinstance(value, list):
        if value and all(isinstance(one, str) for one in value):
            for at in range(0, len(value) - 1, 2):
                yield value[at : at + 2]
        else:
            for one in value:
                yield from pairs_of_texts(one)
    elif isinstance(value, dict):
        for one in value.values():
            yield from pairs_of_texts(one)


@pytest.mark.parametrize("slug", molds_of_all_kinds())
def test_the_published_record_holds_no_temperature_above_its_pairs_limit(site: Path, slug: str) -> None:
    record = json.loads((site / "data" / "molds" / f"{slug}.json").read_text(encoding="utf-8"))
    limits = {w["plastisol"]: w["plastisol_limit_c"]["value"] for w in record["advice"]["windows"]}
    own = limits[record["plastisol"]]
    assert max(limits.values()) <= TOP_C
    for window in record["advice"]["windows"]:
        assert max(numbers_c(window)) <= limits[window["plastisol"]]
    rest = {**record["advice"], "windows": [], "sensitivity": []}
    assert all(value <= own for value in numbers_c(rest))


def numbers_c(value: Any, name: str = "") -> list[float]:  # noqa: ANN401 - any JSON value
    """Every temperature below a value: figures in °C, and numbers under names that end in _c."""
    if isinstance(value, dict):
        if value.get("unit") == "c":
            return [value["value"], value["low"], value["high"]]
        return [one for key, item in value.items() for one in numbers_c(item, key)]
    if isinstance(value, list):
        return [one for item in value for one in numbers_c(item, name)]
    return [float(value)] if name.endswith("_c") and isinstance(value, int | float) else []


def test_a_frozen_version_tells_no_temperature_above_todays_limit(site: Path) -> None:
    page = (site / "molds" / "softens-early" / "v1.html").read_text(encoding="utf-8")
    assert above(page) == []
    assert "154–177" in page
    assert re.search(r"above the limit of (?:<[^>]*>)*177", page)
    assert "findings.of_old" not in page


@pytest.mark.parametrize("name", ["bench", "card", "compare", "index", "safety"])
def test_no_page_of_the_collection_tells_a_temperature_above_the_limit(site: Path, name: str) -> None:
    assert above((site / f"{name}.html").read_text(encoding="utf-8")) == []
