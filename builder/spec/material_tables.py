"""The tables of builder/tables: plastisols, mold materials, eyes, practice, sources and check values."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from importlib import resources
from typing import Any, get_args

from builder.base import serialize
from builder.model import (
    Check,
    Grade,
    MoldMaterial,
    Plastisol,
    PublicMold,
    Reliability,
    Sourced,
    Tables,
    Unit,
)
from builder.spec import yaml_reader
from builder.spec.schema import Key, ListOf, MapOf, Table
from builder.spec.types import ANYWHERE, Around, Choice, Number, Schema, Text, Type, fault, gather
from builder.spec.yaml_reader import Node, read_own

_ANY = Number(-1e12, 1e12)
"""Any number: what a value may be is told by its own range."""
_SOURCE = Choice(names="sources")


def _keys(*keys: tuple[str, Type, str, str]) -> tuple[Key, ...]:
    """Required keys: name, type, what it tells, example."""
    return tuple(Key(*key, required=True) for key in keys)


_FIELDS = Table(
    "a value",
    _keys(
        ("value", _ANY, "Best guess.", "1.04"),
        ("low", _ANY, "Lowest value.", "0.98"),
        ("high", _ANY, "Highest value.", "1.08"),
        ("unit", Choice(get_args(Unit)), "Its unit.", "g_ml"),
        ("source", _SOURCE, "Where it is from.", "mixing"),
        ("grade", Choice(get_args(Grade)), "What the source is worth.", "handbook"),
    ),
    Sourced,
)


class Ranged:
    """A value with its range, which holds it, its unit, source and grade."""

    def read(self, node: Node, around: Around) -> Sourced:
        """The value; raises Faults with all that is wrong with it."""
        known, _ = gather([partial(_FIELDS.read, node, around), partial(_refuse_outside, node)])
        return known  # type: ignore[no-any-return]

    def schema(self, around: Around) -> Schema:
        """An object."""
        return _FIELDS.schema(around)

    def words(self, around: Around = ANYWHERE) -> str:
        """Its keys."""
        return _FIELDS.words(around)


def _refuse_outside(node: Node) -> None:
    """Raise where the range does not hold the value; what is no number is told elsewhere."""
    found = node.value if isinstance(node.value, dict) else {}
    low, value, high = (found[name].value if name in found else None for name in ("low", "value", "high"))
    numbers = all(isinstance(one, int | float) for one in (low, value, high))
    if numbers and not low <= value <= high:  # type: ignore[operator]
        what = f"value {value} does not lie between low {low} and high {high}"
        raise fault(node.where, what, "low <= value <= high")


_VALUE = Ranged()
_PLASTISOL = (
    *("density", "conductivity", "heat_capacity", "set", "viscosity"),
    *("exponent", "expansion", "shoot", "limit", "demold", "cold"),
)
_MOLD = ("density", "conductivity", "heat_capacity", "deflection", "modulus")
_EYES = Table("eyes.yaml", _keys(("eyes_mm", ListOf(_VALUE), "Diameters.", "[]")), dict)
_CHECK = Table(
    "a check",
    (
        *_keys(
            ("name", Text(), "What is checked.", "First root of a plane wall"),
            ("formula", Text(), "The function, as module.function.", "heat.first_root"),
            ("given", MapOf(_ANY, or_text=True), "What it is given.", "{shape: plane, biot: 0.1}"),
            ("expected", _ANY, "The outside value.", "0.3111"),
            ("tolerance", Number(1e-12, 1e12), "How far ours may lie from it.", "0.0001"),
            ("source", _SOURCE, "Where the outside value is from.", "incropera_51"),
        ),
        Key("unit", Text(), "Its unit, as it is written.", "°C"),
    ),
    lambda unit="", **known: Check(unit=unit, **known),
)
_CHECKS = Table("checks.yaml", _keys(("checks", ListOf(_CHECK, most=1000), "The checks.", "[]")), dict)


def load() -> Tables:
    """All tables, in the order of their files; raises Faults with every bad value of all files at once.

    >>> tables = load()
    >>> tables.plastisols[0].id
    'soft'
    >>> tables.mold_materials[0].values["deflection"].value
    56.0
    """
    sources: dict[str, str] = MapOf(Text(2000)).read(_node("sources.yaml"), ANYWHERE)
    around = Around(names={"sources": tuple(sources)})
    kinds: Sequence[tuple[str, Type]] = (
        ("plastisols.yaml", MapOf(_of_values("a plastisol", _PLASTISOL))),
        ("mold_materials.yaml", MapOf(_of_values("a mold material", _MOLD))),
        ("eyes.yaml", _EYES),
        ("practice.yaml", MapOf(_VALUE)),
        ("checks.yaml", _CHECKS),
    )
    found = gather(partial(_read, file, kind, around) for file, kind in kinds)
    plastisols, molds, eyes, practice, checks = found
    return Tables(
        plastisols=tuple(Plastisol(id=key, values=values) for key, values in plastisols.items()),
        mold_materials=tuple(MoldMaterial(id=key, values=values) for key, values in molds.items()),
        eyes_mm=eyes["eyes_mm"],
        practice=practice,
        sources=sources,
        checks=checks["checks"],
        reliability=serialize.from_json(Reliability, yaml_reader.plain(_node("reading-outcomes.yaml"))),
        public_molds=serialize.from_json(tuple[PublicMold, ...], _public()["molds"]),
    )


def _read(file: str, kind: Type, around: Around) -> Any:  # noqa: ANN401 - what the type makes of the file
    return kind.read(_node(file), around)


def _node(file: str) -> Node:
    """A table's file as it stands."""
    return read_own(resources.files("builder").joinpath("tables", file).read_text(encoding="utf-8"), file)


def _public() -> dict[str, Any]:
    return yaml_reader.plain(_node("public-molds.yaml"))  # type: ignore[return-value]


def _of_values(what: str, names: Sequence[str]) -> Table:
    """An entry that holds exactly the values of these names."""
    return Table(what, _keys(*((name, _VALUE, "A value.", "{value: 1, ...}") for name in names)), dict)
