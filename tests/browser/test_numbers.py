"""The numbers that scripts put on a page are the builder's: every demo mold, plastisol and mold material."""

from __future__ import annotations

import itertools
from collections.abc import Mapping

import pytest

from builder.base import figures, units
from builder.base.texts import Texts
from builder.model import Amounts, Figure, Ingredient, MoldRecord, Trouble, Window
from builder.site import stand_ins
from builder.site.catalogue import Catalogue
from builder.site.data_tables import BATCH_ROWS, shown
from tests import batch_by_hand
from tests.browser.conftest import Visit, until

pytestmark = pytest.mark.browser

# every place of a number, for each choice of plastisol and mold material
CHOOSE = """async pairs => {
  const form = document.querySelector(".sb-choose"), told = [];
  for (const [plastisol, material] of pairs) {
    form.elements.plastisol.value = plastisol;
    form.elements.material.value = material;
    form.dispatchEvent(new Event("change", { bubbles: true }));
    const plain = place => {
      const copy = place.cloneNode(true);
      return copy.textContent;
    };
    told.push({
      keyed: [...document.querySelectorAll("[data-n]")].map(place => [place.dataset.n, plain(place)]),
      rows: [...document.querySelectorAll("[data-row]")].map(row =>
        [Number(row.dataset.row), plain(row.cells[2]), plain(row.cells[3])]),
      findings: [...document.querySelectorAll("[data-findings] li")].map(plain),
      chances: [...document.querySelectorAll("[data-chances] dd")].map(plain),
      troubles: [...document.querySelectorAll("[data-wrong] li")].map(plain),
      shut: [...document.querySelectorAll("[data-shut]")].every(place => !place.hidden),
    });
  }
  return told;
}"""


def in_page(figure: Figure) -> str:
    """A figure's text once the script has taken it apart: the style draws the dot between the systems."""
    return units.line(figure).replace(" · ", " ")


def sentence(texts: Texts, key: str, values: Mapping[str, Figure | str]) -> str:
    """A sentence as the script fills it."""
    return texts.fill(key, in_page, **values)


def trouble(texts: Texts, one: Trouble) -> str:
    """What may go wrong, how likely it is, and what to do about it."""
    said, cure = (sentence(texts, key, one.values) for key in (one.code, f"{one.code}_cure"))
    return f"{said} {stand_ins.chance(one.chance, texts)}{cure}"


def wanted(key: str, window: Window, amounts: Amounts, bait: int) -> Figure | None:
    """What the builder holds for a place; None where words stand in for it. `bait` stands for the mold."""
    first, *rest = key.split(".")
    if rest[-1] == "rest":
        found = window.rest_s if rest[0] == "rest" else window.times[int(rest[1])].rest_s
        return found if found and found.value else None
    if rest[0] == "times":
        name = {"open": "open_s", "hurried": "hurried_s", "cold": "cold_s"}[rest[2]]
        return getattr(window.times[int(rest[1])], name)  # type: ignore[no-any-return]
    if first == "w":
        return {
            "point": window.shoot_c,
            "fill": window.fill_c,
            "mold_limit": window.mold_limit_c,
            "plastisol_limit": window.plastisol_limit_c,
            "hold": window.hold_s,
            "cool": window.cool_s,
            "cool_later": window.times[-1].open_s,
            "cold": window.cold_s,
        }[rest[0]]
    finished = figures.finished(amounts.finished[bait])
    return {
        "bait_g": lambda: amounts.bait_g[int(rest[1])],
        "shot_ml": lambda: amounts.shot_ml,
        "one_ml": lambda: amounts.batch[0].heat_ml,
        "finished": lambda: finished[rest[1]],
        "hand": lambda: amounts.hand[rest[1]],
    }[rest[0]]()


@pytest.mark.parametrize("slug", ["flatback-crawler", "pond-stick", "quad-grub", "reed-minnow"])
def test_a_mold_page_tells_the_builders_numbers_for_every_choice(
    visit: Visit, address: str, demo: Catalogue, english: Texts, slug: str
) -> None:
    record = next(r for r in demo.molds if r.spec.slug == slug)
    windows, words = record.advice.windows, english.of_kind(record.spec.kind)
    visit.page.goto(f"{address}molds/{slug}.html")
    visit.page.wait_for_selector(".sb-choose:not([hidden])")
    told = visit.page.evaluate(CHOOSE, [[w.plastisol, w.mold_material] for w in windows])
    assert len(told) == len(windows) == 32
    for window, found in zip(windows, told, strict=True):
        amounts = next(a for a in record.advice.amounts if a.plastisol == window.plastisol)
        assert found["keyed"], "no number follows the choice"
        assert found["shut"] == (window.shoot_c is None)
        for key, text in found["keyed"]:
            figure = wanted(key, window, amounts, figures.largest(record.measurement))
            assert figure is None or text == in_page(figure), (window.plastisol, window.mold_material, key)
        first = sorted(window.findings, key=lambda f: f.level == "note")
        assert found["findings"] == [sentence(words, f.code, f.values) for f in first]
        assert found["chances"] == [in_page(one.chance) for one in window.troubles]
        assert found["troubles"] == [trouble(words, one) for one in window.troubles]
        assert len(found["rows"]) == len(BATCH_ROWS)
        for index, volume, weight in found["rows"]:
            row = amounts.batch[index]
            assert (volume, weight) == (in_page(row.heat_ml), in_page(row.heat_g))


def test_the_bench_works_a_batch_out_as_the_builder_does(visit: Visit, address: str, demo: Catalogue) -> None:
    salt = (Ingredient(what="salt", amount_per_100_ml=20.0, unit="g"),)
    visit.page.goto(f"{address}bench.html")
    until(visit.page, "window.bench")
    cases = [
        (record, amounts, baits, spare, remelt)
        for record in demo.molds
        for amounts in record.advice.amounts
        for baits, spare, remelt in itertools.product((1, 5, 12, 50), (None, 0.0, 0.1, 0.3), (0.0, 0.25))
    ]
    told = visit.page.evaluate(
        """cases => cases.map(([numbers, cavities, baits, spare, remelt]) => {
          const made = bench.amounts(numbers, cavities, baits, spare, remelt, [{ amount_per_100_ml: 20 }]);
          const { shots, heat_ml, heat_g, fresh_ml, remelt_ml, ingredients } = made;
          return [shots, heat_ml, heat_g, fresh_ml, remelt_ml, ingredients];
        })""",
        [[numbers(a), len(r.measurement.baits), b, s, m] for r, a, b, s, m in cases],
    )
    for (record, amounts, baits, spare, remelt), found in zip(cases, told, strict=True):
        made = batch_by_hand.batch(
            amounts, cavities(record), baits, spare=spare, remelt=remelt, ingredients=salt
        )
        ours = (made.heat_ml, made.heat_g, made.fresh_ml, made.remelt_ml)
        assert found[0] == made.shots
        assert found[1:5] == [pytest.approx([f.value, f.low, f.high], rel=1e-12) for f in ours]
        assert found[5] == pytest.approx(list(made.ingredients), rel=1e-12)


def cavities(record: MoldRecord) -> int:
    return len(record.measurement.baits)


def numbers(amounts: Amounts) -> dict[str, list[float]]:
    one = amounts.batch[0]
    figures = {"one_ml": one.heat_ml, "one_g": one.heat_g, "shot_g": amounts.shot_g}
    return {name: [f.value, f.low, f.high] for name, f in figures.items()}


def test_a_spare_of_its_own_replaces_the_tables_and_keeps_the_density(demo: Catalogue) -> None:
    amounts = demo.molds[0].advice.amounts[0]
    usual, none = batch_by_hand.batch(amounts, 2, 4), batch_by_hand.batch(amounts, 2, 4, spare=0.0)
    assert none.heat_g.value == pytest.approx(2 * amounts.shot_g.value)
    assert none.heat_g.value < usual.heat_g.value
    density = usual.heat_g.value / usual.heat_ml.value
    assert none.heat_g.value / none.heat_ml.value == pytest.approx(density)


@pytest.mark.parametrize("language", ["en", "de"])
def test_scripts_write_a_number_as_the_builder_writes_it(visit: Visit, address: str, language: str) -> None:
    values = [
        0.0004,
        0.125,
        0.5,
        1.005,
        2.5,
        9.994,
        9.996,
        12.34,
        99.95,
        123.45,
        999.6,
        1234.5,
        9999.9,
        12345.6,
    ]
    spreads = [(1.0, 1.0), (0.95, 1.04), (0.6, 1.7)]
    figures = [
        Figure(value=v, low=v * low, high=v * high, unit=unit, because="", origin="computed")
        for v in values
        for low, high in spreads
        for unit in ("ml", "g", "count")
    ]
    visit.page.goto(f"{address}bench.html")
    told = visit.page.evaluate(
        "([all, language]) => all.map(([triple, unit]) => shotbook.figures.show(triple, unit, language))",
        [[[[f.value, f.low, f.high], f.unit] for f in figures], language],
    )
    assert told == [shown(figure, language) for figure in figures]
