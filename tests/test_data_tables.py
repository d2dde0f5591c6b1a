"""The tables that a page's script puts down tell all of a mold's numbers, in both systems."""

from __future__ import annotations

from dataclasses import replace

import pytest

from builder.base.texts import Texts
from builder.model import MoldRecord
from builder.site import data_tables, page_data, site_map
from builder.site.data_tables import Cell, Table, shown
from tests.advice_for_pages import MATERIALS, PLASTISOLS
from tests.records_for_pages import SENTENCES, mold

LETTERS = set(data_tables.ORIGINS.values())


def texts(language: str) -> Texts:
    return Texts(language=language, entries={**site_map.texts(language).entries, **SENTENCES})


def tables(record: MoldRecord, language: str = "en") -> dict[str, Table]:
    return data_tables.tables(record, texts(language))


def figures(cell: Cell) -> list[list[str]]:
    return [part for part in cell if isinstance(part, list)]


@pytest.mark.parametrize("language", ["en", "de"])
def test_every_table_has_as_many_cells_as_columns_in_each_row(language: str) -> None:
    for name, table in tables(mold(), language).items():
        assert table["rows"], name
        assert {len(row) for row in table["rows"]} == {len(table["heads"])}, name


def test_every_temperature_in_a_table_is_told_in_both_systems() -> None:
    found = [
        part
        for table in tables(mold()).values()
        for row in table["rows"]
        for cell in row
        for part in figures(cell)
        if "°C" in part[0]
    ]
    assert len(found) > 20
    assert all("°F" in part[2] for part in found)


def test_the_grid_has_every_mold_material_and_plastisol_and_a_dash_where_nothing_works() -> None:
    record = mold()
    windows = {(w.mold_material, w.plastisol): w for w in record.advice.windows}
    grid = tables(record)["grid"]
    materials = list(dict.fromkeys(material for material, _ in windows))
    plastisols = list(dict.fromkeys(plastisol for _, plastisol in windows))
    assert (len(grid["rows"]), len(grid["heads"]) - 1) == (len(MATERIALS), len(PLASTISOLS))
    for material, (_, *cells) in zip(materials, grid["rows"], strict=True):
        for plastisol, cell in zip(plastisols, cells, strict=True):
            assert (cell == ["–"]) == (windows[material, plastisol].shoot_c is None)


def test_the_batch_table_tells_the_amounts_of_the_makers_own_plastisol() -> None:
    record = mold()
    batch, own = tables(record)["batch"], data_tables.own_amounts(record).batch
    for at, (baits, shots, volume, weight) in zip(batch["at"], batch["rows"], strict=True):
        assert (baits, shots) == ([str(own[at].baits)], [str(own[at].shots)])
        assert (volume, weight) == ([shown(own[at].heat_ml, "en")], [shown(own[at].heat_g, "en")])


def test_a_sentence_in_parts_reads_like_the_sentence() -> None:
    said = Texts(language="en", entries={"a.b": "{wall} thick at {place}."})
    wall = mold().advice.windows[0].hold_s
    parts = data_tables.sentence(said, "a.b", wall=wall, place="the gate")
    assert parts == [[*shown(wall, "en"), "c"], " thick at the gate."]
    assert parts[0][-1] in LETTERS


def test_a_table_without_rows_is_left_out() -> None:
    record = mold()
    bare = replace(record, advice=replace(record.advice, shots=(), sensitivity=()))
    assert not {"logged", "moves"} & tables(bare).keys()


def test_the_data_has_each_sentence_that_a_window_needs() -> None:
    data = page_data.mold_data(mold(), texts("en"))
    pairs = [pair for by_material in data["w"].values() for pair in by_material.values()]
    assert len(pairs) == len(PLASTISOLS) * len(MATERIALS)
    for pair in pairs:
        for _, code, _ in pair["findings"]:
            assert data["sentences"][code]
        for _, code, *_ in pair["troubles"]:
            assert data["sentences"][code]
            assert data["sentences"][f"{code}_cure"]
