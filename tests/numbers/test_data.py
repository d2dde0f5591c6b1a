"""What scripts put on a page is the record's: figures by address, tables and drawings by place."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from typing import Any

import pytest
from lxml import etree

from builder.base import figures
from builder.model import FlowPath, MoldRecord, WindowPlot
from builder.site import site_map, stand_ins
from tests.numbers import compared, data, expected_mold, expected_scripted, quantity, sentences
from tests.numbers.conftest import Site
from tests.numbers.quantity import INCH_MM
from tests.numbers.test_pages import SLUGS, record

Point = tuple[float, float]


def handed_over(site: Site, slug: str) -> dict[str, object]:
    found = data.load(site.text(f"data/molds/{slug}.js"))
    assert isinstance(found, dict)
    return found


@pytest.mark.parametrize("slug", SLUGS)
def test_every_figure_that_a_script_can_show_is_the_records(site: Site, slug: str) -> None:
    wanted = expected_scripted.mold_data(record(site, slug), site.at)
    assert len(wanted) > 1000
    assert data.differences(handed_over(site, slug), wanted) == []


@pytest.mark.parametrize("slug", SLUGS)
def test_the_tables_that_a_script_puts_down_tell_the_records_numbers_and_no_others(
    site: Site, slug: str
) -> None:
    wanted = list(expected_scripted.tables(record(site, slug), site.at))
    assert len(wanted) > 60
    assert compared.differences(data.tables(handed_over(site, slug)), wanted) == []


@pytest.mark.parametrize("slug", SLUGS)
def test_what_may_go_wrong_is_told_with_its_numbers_for_every_pair(site: Site, slug: str) -> None:
    handed = handed_over(site, slug)
    for window in record(site, slug).advice.windows:
        found = data.troubles(handed, (window.plastisol, window.mold_material))
        assert compared.differences(found, expected_mold.troubles(window, site.at)) == []


@pytest.mark.parametrize(
    ("share", "word"),
    [
        *((1.0, "certain"), (0.95, "certain"), (0.949, "likely"), (0.65, "likely"), (0.649, "even")),
        *((0.35, "even"), (0.349, "unlikely"), (0.05, "unlikely"), (0.049, "rare"), (0.0, "rare")),
    ],
)
def test_a_chance_has_one_word_from_each_bound_on(site: Site, share: float, word: str) -> None:
    told = stand_ins.chance(figures.exact(share, "share", "test.because"), site_map.texts("en"))
    assert told == site.at.say(f"page.chance.{word}")


@pytest.mark.parametrize("slug", SLUGS)
def test_sentences_and_names_for_scripts_are_those_of_the_language_file(site: Site, slug: str) -> None:
    handed, at = handed_over(site, slug), site.at
    own, entries = record(site, slug).advice.windows[0], sentences.entries("en")
    assert handed["own"] == [own.plastisol, own.mold_material]
    assert handed["sentences"].items() <= entries.items()  # type: ignore[attr-defined]
    for section, named in handed["names"].items():  # type: ignore[attr-defined]
        assert [name for _, name in named] == [at.name(section, one) for one, _ in named]


def test_the_catalogues_data_tells_each_molds_numbers_and_no_others(site: Site) -> None:
    entries = data.load(site.text("data/index.js"))
    for entry, mold in zip(entries, site.made.molds, strict=True):
        assert data.differences(entry, expected_scripted.index_entry(mold, site.at)) == []


def test_the_recipes_for_scripts_are_the_tables(site: Site) -> None:
    found = data.load(site.text("data/colours.js"))
    told = {name: [amount(one) for one in recipe["ingredients"]] for name, recipe in found.items()}
    assert told == {
        name: [amount(one) for one in listed] for name, listed in sentences.table("colours").items()
    }


def amount(ingredient: dict[str, object]) -> tuple[object, object]:
    return ingredient["amount_per_100_ml"], ingredient["unit"]


def test_the_window_is_drawn_where_its_numbers_are(site: Site) -> None:
    mold = record(site, "test-minnow")
    plot = mold.advice.windows[0].plot
    assert plot is not None
    (drawn,) = handed_over(site, "test-minnow")["plots"]["window"]  # type: ignore[index]
    drawing = built(drawn)
    side, across = axes(drawing, "c", logarithmic=True)
    curve = [(across(s), side(c)) for s, c in zip(plot.injection_s, plot.fill_c, strict=True)]
    assert near(points(drawing, "p-fill"), curve)
    assert near([centre(drawing)], [(across(plot.shoot_s.value), side(plot.shoot_c.value))])  # type: ignore[union-attr]
    assert plot.mold_limit_c is not None
    for kind, limit in (("p-mold", plot.mold_limit_c), ("p-plastisol", plot.plastisol_limit_c)):
        bands = drawing.xpath(f"./rect[@class='{kind} p-band']")
        assert len(bands) == (limit.low < limit.high)
        for band in bands:
            top, height = float(band.get("y")), float(band.get("height"))
            assert near([(0, top), (0, top + height)], [(0, side(limit.high)), (0, side(limit.low))])
        (path,) = drawing.xpath(f"./path[@class='{kind}']")
        assert near([(0, float(path.get("d").split()[1].partition("H")[0]))], [(0, side(limit.value))])
    assert near(cross(drawing), ends(plot, across, side))


def built(node: list[Any]) -> etree._Element:
    """A drawing from its data: name, attributes, and what is in it."""
    name, attributes, *inside = node
    made = etree.Element(name, attributes)
    for one in inside:
        if isinstance(one, str):
            made.text = one
        else:
            made.append(built(one))
    return made


def ends(plot: WindowPlot, across: object, side: object) -> list[Point]:
    assert plot.shoot_c is not None
    assert callable(across)
    assert callable(side)
    return [
        (across(plot.shoot_s.low), side(plot.shoot_c.high)),
        (across(plot.shoot_s.high), side(plot.shoot_c.low)),
    ]


def cross(drawing: etree._Element) -> list[Point]:
    """Upper left and lower right of the cross that shows the point's ranges."""
    (path,) = drawing.xpath("./path[@class='p-cross']")
    left, _, right, _, top, bottom = map(float, re.findall(r"-?\d+", path.get("d")))
    return [(left, top), (right, bottom)]


@pytest.mark.parametrize("slug", SLUGS)
def test_the_thickness_along_each_way_is_drawn_where_its_numbers_are(site: Site, slug: str) -> None:
    mold = record(site, slug)
    drawings = handed_over(site, slug)["plots"]["ways"]  # type: ignore[index]
    ways = list(ends_of(mold))
    assert len(drawings) == len(ways) > 0
    told = {text.text: one for one in map(built, drawings) for text in one.iter("text")}
    for path in ways:
        drawing = told[site.at.word(path.name)]
        side, across = axes(drawing, "mm", logarithmic=False)
        line = [(across(one.s_mm), side(one.thickness_mm)) for one in path.stations]
        assert near(points(drawing, "p-fill"), line)
        verdict = next(v for v in mold.advice.windows[0].paths if v.path == path.name)
        deciding = (
            across(max(verdict.deciding.s_mm, path.stations[0].s_mm)),
            side(verdict.deciding.thickness_mm),
        )
        assert near([centre(drawing)], [deciding])


def ends_of(mold: MoldRecord) -> Iterator[FlowPath]:
    """Every way of a mold; no two of the invented ones end alike."""
    for bait in mold.measurement.baits:
        yield from bait.paths


def axes(drawing: etree._Element, unit: str, *, logarithmic: bool) -> tuple[Scale, Scale]:
    """What the axes say: pixel of a value. The marks of both systems must agree."""
    marks = [
        (text, *read(text.text))
        for text in drawing.iter("text")
        if re.fullmatch(r"[\d.]+\u00a0\S+", text.text)
    ]
    metric = [(n, float(t.get("y")) - 4) for t, n, _ in marks if t.get("class") == "m"]
    american = [(n, float(t.get("y")) - 4) for t, n, _ in marks if t.get("class") == "u"]
    bottom = [(n, float(t.get("x"))) for t, n, _ in marks if t.get("class") is None]
    symbols = {t.get("class"): symbol for t, _, symbol in marks}
    assert (symbols["m"], symbols["u"]) == (quantity.METRIC[unit], quantity.US[unit][0])
    assert symbols[None] == ("s" if logarithmic else "mm")
    side = Scale(metric, logarithmic=False)
    _, factor, offset = quantity.US[unit]
    assert len(metric) > 2
    assert near([(0, y) for _, y in american], [(0, side((n - offset) / factor)) for n, _ in american])
    return side, Scale(bottom, logarithmic=logarithmic)


class Scale:
    """Pixels of values, from the marks of an axis."""

    def __init__(self, marks: list[Point], *, logarithmic: bool) -> None:
        self.bend = math.log if logarithmic else float
        (first, at), (last, to) = marks[0], marks[-1]
        self.share = (to - at) / (self.bend(last) - self.bend(first))
        self.start = at - self.share * self.bend(first)
        assert near([(0, y) for _, y in marks], [(0, self(value)) for value, _ in marks])

    def __call__(self, value: float) -> float:
        return self.start + self.share * self.bend(value)


def read(mark: str) -> tuple[float, str]:
    number, _, symbol = mark.partition("\u00a0")
    return float(number), symbol


def points(drawing: etree._Element, kind: str) -> list[Point]:
    (line,) = drawing.xpath(f"./polyline[@class='{kind}']")
    return [(float(x), float(y)) for x, y in (pair.split(",") for pair in line.get("points").split())]


def centre(drawing: etree._Element) -> Point:
    (dot,) = drawing.xpath("./circle[@class='p-point']")
    return float(dot.get("cx")), float(dot.get("cy"))


def near(found: list[Point], wanted: list[Point], pixels: float = 2.5) -> bool:
    """Whether all lie where they should, as far as whole pixels and rounded marks tell."""
    close = [math.dist(one, other) <= pixels for one, other in zip(found, wanted, strict=True)]
    return all(close)


def test_an_inch_is_25_4_mm() -> None:
    assert quantity.US["mm"] == ("in", 1 / INCH_MM, 0.0)
