"""Tables: what they must hold, and that a bad value is told with its place."""

from __future__ import annotations

import pytest

from builder.base.problems import Faults
from builder.model import Sourced
from builder.spec import material_tables, yaml_reader

TABLES = material_tables.load()


def values() -> list[tuple[str, Sourced]]:
    groups = {entry.id: entry.values for entry in TABLES.plastisols}
    groups |= {entry.id: entry.values for entry in TABLES.mold_materials}
    named = [(f"{id_}.{name}", value) for id_, group in groups.items() for name, value in group.items()]
    return [*named, *TABLES.practice.items(), *((f"eye {eye.value}", eye) for eye in TABLES.eyes_mm)]


def test_the_hardnesses_and_the_mold_materials_of_the_trade_are_there() -> None:
    assert {entry.id for entry in TABLES.plastisols} >= {"soft", "medium", "hard", "salted"}
    wanted = {"pla", "petg", "abs", "asa", "pc", "resin", "heat-resin", "aluminium"}
    assert {entry.id for entry in TABLES.mold_materials} >= wanted


@pytest.mark.parametrize(("name", "value"), values(), ids=lambda x: x if isinstance(x, str) else "")
def test_every_value_has_a_range_and_a_source_that_is_listed(name: str, value: Sourced) -> None:
    assert value.low <= value.value <= value.high
    assert TABLES.sources[value.source]
    assert not (value.source in ("trade", "recalled") and value.grade in ("standard", "handbook", "paper")), (
        name
    )


def test_no_source_is_listed_that_nothing_uses() -> None:
    used = {value.source for _, value in values()} | {check.source for check in TABLES.checks}
    kept_for_formulas = {"carslaw", "roark", "menges", "timoshenko", "nist811", "cindas38", "crc", "dehp"}
    assert set(TABLES.sources) - used <= kept_for_formulas | {"incropera", "fdm_conductivity"}


def test_the_mold_materials_soften_in_the_order_known_to_the_trade() -> None:
    """Common practice, no source: PLA first, then PETG, ABS and ASA, PC; aluminium never here."""
    at = {entry.id: entry.values["deflection"].value for entry in TABLES.mold_materials}
    assert at["pla"] < at["petg"] < at["abs"] < at["pc"] < at["heat-resin"] < at["aluminium"]


def test_salt_makes_it_heavier_and_harder_means_more_resin_and_so_heavier() -> None:
    density = {entry.id: entry.values["density"].value for entry in TABLES.plastisols}
    assert density["soft"] < density["medium"] < density["hard"] < density["salted"]


def test_densities_follow_the_mixing_rule_of_their_components() -> None:
    """Plasticizer 0.986 (Merck Index), PVC 1.40 (CINDAS 38), salt 2.165 (CRC); shares of resin recalled."""

    def mixed(resin: float, salt: float = 0.0) -> float:
        return 1 / (salt / 2.165 + (1 - salt) * (resin / 1.40 + (1 - resin) / 0.986))

    for id_, low, high in (
        ("soft", mixed(0.0), mixed(0.2)),
        ("medium", mixed(0.1), mixed(0.3)),
        ("hard", mixed(0.2), mixed(0.4)),
        ("salted", mixed(0.15, 0.1), mixed(0.25, 0.3)),
    ):
        found = next(entry for entry in TABLES.plastisols if entry.id == id_).values["density"]
        assert low - 0.02 <= found.value <= high + 0.02, id_
        assert found.low <= (low + high) / 2 <= found.high, id_


def test_a_bad_value_is_told_with_its_file_line_and_key(monkeypatch: pytest.MonkeyPatch) -> None:
    read = material_tables._node
    spoiled = {
        "practice.yaml": "\nroom: {value: 40, low: 16, high: 30, unit: kelvin, source: x, grade: y}\n",
        "eyes.yaml": "eyes_mm: [{value: 3, low: 2.9, high: 3.1, unit: mm, grade: common practice}]\n",
    }

    def node(file: str) -> yaml_reader.Node:
        return yaml_reader.read_own(spoiled[file], file) if file in spoiled else read(file)

    monkeypatch.setattr(material_tables, "_node", node)
    with pytest.raises(Faults) as caught:
        material_tables.load()
    told = str(caught.value)
    assert told.count("practice.yaml:2:") == 4
    for part in ("value 40 does not lie between", "kelvin is not known", "x is not known", "y is not known"):
        assert part in told
    assert "eyes.yaml:1:" in told
    assert "source is missing in a value" in told


def test_a_check_is_given_numbers_and_words() -> None:
    wall = next(check for check in TABLES.checks if check.formula == "heat.first_root")
    assert wall.given == {"shape": "plane", "biot": 0.1}
    assert wall.unit == ""
