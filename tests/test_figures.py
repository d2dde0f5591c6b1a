"""Every figure is made once; of baits of several sizes the same one is told everywhere."""

from __future__ import annotations

import ast
import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from manifold3d import Manifold

import builder
from builder import mesh
from builder.advice import amounts
from builder.base import figures
from builder.base.texts import Texts
from builder.cli import report
from builder.history import compare
from builder.measure.features import records
from builder.measure.flow_tree import stations
from builder.mesh import cuts
from builder.model import Bait, Figure, Finding, MoldRecord
from builder.site import data_tables, page_data, site_map
from builder.site.pages import MoldPages, Words
from builder.site.pages.collection import COMPARED
from tests.measurement_for_pages import baits, figure
from tests.records_for_pages import SENTENCES, mold

ROOT = Path(builder.__file__).parent
MAKERS = {"base/figures.py"}
FORMATTERS = ("site", "cli", "release", "pictures", "build.py", "plugin.py")


@cache
def words() -> Words:
    texts = site_map.texts("en")
    return Words(Texts(language="en", entries={**texts.entries, **SENTENCES}))


def bait(name: str, volume_ml: float, length_mm: float) -> Bait:
    return replace(baits()[0], name=name, volume_ml=volume_ml, length_mm=length_mm)


def one_size() -> MoldRecord:
    """The invented mold with its first bait twice."""
    record = mold()
    return replace(record, measurement=replace(record.measurement, baits=(baits()[0],) * 2))


def numbers(record: MoldRecord) -> dict[str, Figure]:
    """What versions of the mold are compared by."""
    return compare.numbers(record.measurement, record.advice)


def mixed(order: tuple[int, ...] = (0, 1)) -> MoldRecord:
    """A mold with a bait of 60 mm and 3.1 g and one of 110 mm and 9.3 g, in the order that is told."""
    record = mold()
    sizes = [("1", 3.2, 60.0, 3.1), ("2", 9.6, 110.0, 9.3)]
    chosen = [sizes[index] for index in order]
    made = tuple(
        replace(baits()[0], name=name, volume_ml=volume, length_mm=length)
        for name, volume, length, _ in chosen
    )
    weights = tuple(figure(weight, "g", 0.05) for *_, weight in chosen)
    read = replace(record.measurement, baits=made)
    shots = tuple(replace(one, bait_g=weights) for one in record.advice.amounts)
    own = figures.measured(read)
    headlines = {"bait_length": own[f"bait.{order.index(1)}.length"]}
    advice = replace(record.advice, amounts=shots, figures=headlines)
    return replace(record, measurement=read, advice=advice)


BOTH_WAYS = pytest.mark.parametrize("order", [(0, 1), (1, 0)])


def calls_figure(path: Path) -> bool:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return any(
        isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "Figure"
        for node in ast.walk(tree)
    )


def test_who_formats_a_figure_never_makes_one() -> None:
    files = {path.relative_to(ROOT).as_posix(): path for path in ROOT.rglob("*.py")}
    made = {name for name, path in files.items() if calls_figure(path)}
    assert made >= MAKERS
    assert [name for name in sorted(made) if name.startswith(FORMATTERS)] == []


def test_every_figure_of_a_measurement_holds_its_value_and_tells_how_it_came_about() -> None:
    said = site_map.texts("en").entries
    read = figures.measured(mold().measurement)
    assert len(read) > 60
    for key, one in read.items():
        assert 0 <= one.low <= one.value <= one.high, key
        assert one.origin == "measured", key
        assert one.because in said, key


def test_a_length_is_as_sure_as_its_facets_and_a_volume_as_their_share() -> None:
    m = replace(mold().measurement, length_error_mm=0.5, volume_share=0.01)
    read = figures.measured(m)
    height, volume = read["bait.0.height"], read["bait.0.volume"]
    assert height.high - height.value == height.value - height.low == 2 * 0.5  # facets on either side
    assert (volume.low, volume.high) == pytest.approx((8.415, 8.585))


def test_a_mold_whose_halves_are_apart_may_be_lower_by_the_gap() -> None:
    gap = Figure(value=0.04, low=0.0, high=0.08, unit="mm", because="", origin="measured")
    apart = Finding(level="warn", code=figures.APART, values={"gap": gap})
    m = replace(mold().measurement, length_error_mm=0.1, findings=(apart,))
    read = figures.measured(m)
    off = [read[f"size.{axis}"].value - read[f"size.{axis}"].low for axis in "xyz"]
    assert off == pytest.approx([0.1, 0.1, 0.14])


def test_a_baits_length_is_as_sure_as_its_gates_place_and_its_thinnest_place_may_be_thicker() -> None:
    """A gate's place is known to a twentieth of its thickness; facets make a limb thinner, never thicker."""
    one = replace(mold().measurement, length_error_mm=0.1)
    read, bait_of = figures.measured(one), one.baits[0]
    gate_mm = max(gate.thickness_mm for gate in bait_of.gates)
    assert read["bait.0.length"].high - bait_of.length_mm == pytest.approx(0.2 + 0.05 * gate_mm)
    thin = read["bait.0.thinnest.thickness"]
    assert (thin.value - thin.low, thin.high - thin.value) == pytest.approx((0.1, 0.4))


@pytest.mark.parametrize("sides", [12, 16, 24, 32])
@pytest.mark.parametrize("turned_deg", [0.0, 11.0, 22.5, 38.6])
def test_the_range_of_a_thinnest_place_holds_a_round_limb_as_it_was_drawn(
    sides: int, turned_deg: float
) -> None:
    """A skin over two balls of 2.6 mm, cut across its middle; the balls' facets lie askew to it."""
    way = np.array([np.cos(np.radians(turned_deg)), np.sin(np.radians(turned_deg)), 0.0])
    balls = [Manifold.sphere(1.3, sides).translate(tuple(far * way)) for far in (0.0, 10.0)]
    limb = mesh.solid(Manifold.batch_hull(balls), "limb")
    across = cuts.across(limb, 5.0 * way, way)
    assert across is not None
    m = replace(mold().measurement, length_error_mm=records.faceting(limb)[1])
    found = figures.station(stations.station(across, 0.0, 1.0), m)["thickness"]
    assert found.value < 2.6 <= found.high


def test_the_way_in_is_known_to_a_fiftieth_or_as_the_facets_let_it_be() -> None:
    for facets, share in ((0.001, 0.02), (0.05, 0.05)):
        read = figures.measured(replace(mold().measurement, volume_share=facets))
        for name in ("sprue.volume", "runner.volume", "waste", "feed"):
            assert read[name].high == pytest.approx((1 + share) * read[name].value), name


def test_alike_are_baits_that_differ_in_volume_and_length_by_less_than_a_fiftieth() -> None:
    record = mold().measurement
    sizes = [(8.5, 104.0), (8.6, 103.0), (8.5, 90.0), (8.0, 104.0), (8.45, 91.0)]
    several = tuple(bait(str(n), volume, length) for n, (volume, length) in enumerate(sizes))
    assert figures.kinds(replace(record, baits=several)) == [[0, 1], [2, 4], [3]]


def test_of_alike_baits_the_first_stands_for_the_mold() -> None:
    several = (bait("1", 8.5, 104.0), bait("2", 8.5001, 104.01))
    assert figures.largest(replace(mold().measurement, baits=several)) == 0


def facts_of(record: MoldRecord) -> dict[str, str]:
    text = MoldPages(words()).mold(record)
    return dict(re.findall(r"<div><dt>([^<]*)</dt><dd><var[^>]*>([^<]*)", text))


@BOTH_WAYS
def test_a_page_tells_length_and_weight_of_the_largest_bait_and_says_so(order: tuple[int, int]) -> None:
    record = mixed(order)
    facts = facts_of(record)
    assert facts["Length of the largest cavity"].startswith("110\u00a0mm")
    assert facts["Weight of the largest bait"].startswith("9.30\u00a0g")
    assert not {"Cavity length", "Bait weight"} & facts.keys()
    assert f'data-n="a.bait_g.{order.index(1)}"' in MoldPages(words()).mold(record)
    said = MoldPages(words()).describe(record)
    assert "the largest 110\u00a0mm" in said
    assert "9.30\u00a0g" in said


@BOTH_WAYS
def test_the_catalogue_tells_both_of_the_same_bait_and_says_which(order: tuple[int, int]) -> None:
    entry = page_data.index_entry(mixed(order), words().texts)
    assert [texts[0] for texts in entry["facts"][:2]] == ["110\u00a0mm", "9.30\u00a0g"]
    assert (entry["length"], entry["weight"]) == (110.0, 9.3)
    assert entry["by"].endswith("the largest of 2 bait sizes")
    assert "largest" not in page_data.index_entry(one_size(), words().texts)["by"]


@BOTH_WAYS
def test_the_comparison_tells_both_of_the_same_bait_and_says_which(order: tuple[int, int]) -> None:
    data = page_data.mold_data(mixed(order), words().texts)
    labels = {path: words().texts.say(label) for _, rows in COMPARED for label, path in rows}
    assert data["sheet"]["bait_length"][0] == "110\u00a0mm"
    assert data["a"]["medium"]["largest_g"][0] == "9.30\u00a0g"
    assert labels["sheet.bait_length"] == "Cavity length (the largest, if there are several)"
    assert labels["a.largest_g"] == "Weight of that bait"


@BOTH_WAYS
def test_a_version_tells_all_of_the_same_bait_and_says_which(order: tuple[int, int]) -> None:
    told = numbers(mixed(order))
    named = {name: told[f"bait_{name}_largest"].value for name in ("length", "volume", "weight")}
    assert named == {"length": 110.0, "volume": 9.6, "weight": 9.3}
    assert {"bait_length", "bait_volume", "bait_weight"} & told.keys() == set()
    assert {"bait_length", "bait_volume", "bait_weight"} <= numbers(one_size()).keys()


@BOTH_WAYS
def test_the_reasons_are_those_of_the_largest_bait(order: tuple[int, int]) -> None:
    rows = {row[0][0]: row[1][0] for row in data_tables.why(mixed(order), words().texts)["rows"]}
    assert rows["Length of the largest cavity"][0] == "110\u00a0mm"
    assert "Cavity length" not in rows


@BOTH_WAYS
def test_the_terminal_tells_each_bait_with_its_own_length_and_weight(order: tuple[int, int]) -> None:
    record = mixed(order)
    told: dict[str, dict[str, Figure]] = {}
    for line in report.lines(record.spec, record.measurement, record.advice):
        told.setdefault(line.thing, {})[line.name] = line.figure
    pairs = {(told[thing]["length"].value, told[thing]["weight"].value) for thing in ("bait 1", "bait 2")}
    assert pairs == {(60.0, 3.1), (110.0, 9.3)}


def test_page_terminal_pictures_and_versions_show_one_volume_as_the_same_text() -> None:
    record = one_size()
    read = figures.measured(record.measurement)["bait.0.volume"]
    lines = report.lines(record.spec, record.measurement, record.advice)
    terminal = next(line.figure for line in lines if (line.thing, line.name) == ("bait bait 1", "volume"))
    assert terminal == read == numbers(record)["bait_volume"]
    assert f"<td>{words().number(read)}</td>" in MoldPages(words()).mold(mixed_like(record))


def mixed_like(record: MoldRecord) -> MoldRecord:
    """The record with a second kind of bait, so that its page lists baits in a table."""
    small = bait("small", 2.0, 50.0)
    return replace(
        record, measurement=replace(record.measurement, baits=(record.measurement.baits[0], small))
    )


@BOTH_WAYS
def test_headlines_of_the_advice_are_of_one_bait(order: tuple[int, int]) -> None:
    record = mixed(order)
    own = amounts.headlines(record.measurement, record.advice.amounts[0])
    sizes = [own[name].value for name in ("bait_length", "cavity_volume", "bait_weight")]
    assert sizes == [110.0, 9.6, 9.3]
    assert own["bait_volume"] == record.advice.amounts[0].bait_ml[order.index(1)]


def test_the_thinnest_section_of_the_advice_is_that_of_the_mold_as_versions_tell_it() -> None:
    record = mold()
    thin_mm = min(one.thinnest.thickness_mm for one in record.measurement.baits if one.thinnest)
    told = amounts.headlines(record.measurement, record.advice.amounts[0])["thinnest"]
    assert told.value == thin_mm
    assert told == compare.numbers(record.measurement, record.advice)["thinnest"]
