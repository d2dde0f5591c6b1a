"""The tables of builder/tables: plastisols, mold materials, eyes, practice, sources and check values."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache, partial
from importlib import resources
from pathlib import Path
from typing import Any

from builder.base import serialize
from builder.model import (
    Check,
    MoldMaterial,
    Plastisol,
    PublicMold,
    Reliability,
    Tables,
)
from builder.spec import own_tables, yaml_reader
from builder.spec.material_values import ANY, MOLD, PLASTISOL, SOURCE, Ranged, required_keys, value_keys
from builder.spec.schema import Key, ListOf, MapOf, Table
from builder.spec.types import ANYWHERE, Number, Scope, Text, Type, gather
from builder.spec.yaml_reader import Node, read_own

_VALUE = Ranged()
_EYES = Table("eyes.yaml", required_keys(("eyes_mm", ListOf(_VALUE), "Diameters.", "[]")), dict)
_CHECK = Table(
    "a check",
    (
        *required_keys(
            ("name", Text(), "What is checked.", "First root of a plane wall"),
            ("formula", Text(), "The function, as module.function.", "heat.first_root"),
            ("given", MapOf(ANY, or_text=True), "What it is given.", "{shape: plane, biot: 0.1}"),
            ("expected", ANY, "The outside value.", "0.3111"),
            ("tolerance", Number(1e-12, 1e12), "How far ours may lie from it.", "0.0001"),
            ("source", SOURCE, "Where the outside value is from.", "incropera_51"),
        ),
        Key("unit", Text(), "Its unit, as it is written.", "°C"),
    ),
    lambda unit="", **known: Check(unit=unit, **known),
)
_CHECKS = Table(
    "checks.yaml", required_keys(("checks", ListOf(_CHECK, most=1000), "The checks.", "[]")), dict
)


def load(molds: Path | None = None) -> Tables:
    """All tables, in the order of their files; raises Faults with every bad value of all files at once.

    With the folder of the molds, the keeper's own plastisols and mold materials that lie beside it too.

    >>> tables = load()
    >>> tables.plastisols[0].id
    'soft'
    >>> tables.mold_materials[0].values["deflection"].value
    56.0
    """
    built_in = _built_in()
    return built_in if molds is None else own_tables.added(built_in, molds.parent)


def _built_in() -> Tables:
    sources: dict[str, str] = MapOf(Text(2000)).read(_node("sources.yaml"), ANYWHERE)
    scope = Scope(names={"sources": tuple(sources)})
    kinds: Sequence[tuple[str, Type]] = (
        ("plastisols.yaml", MapOf(Table("a plastisol", value_keys(PLASTISOL, required=True), dict))),
        ("mold_materials.yaml", MapOf(Table("a mold material", value_keys(MOLD, required=True), dict))),
        ("eyes.yaml", _EYES),
        ("practice.yaml", MapOf(_VALUE)),
        ("checks.yaml", _CHECKS),
    )
    found = gather(partial(_read, file, kind, scope) for file, kind in kinds)
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
        public_read=(_public()["read_on"], _public()["reader"]),
    )


def _read(file: str, kind: Type, scope: Scope) -> Any:  # noqa: ANN401 - what the type makes of the file
    return kind.read(_node(file), scope)


def _node(file: str) -> Node:
    """A table's file as it stands."""
    return _parsed(resources.files("builder").joinpath("tables", file).read_text(encoding="utf-8"), file)


_parsed = cache(read_own)
"""A file of ours is parsed once in a process, as long as its text is the same."""


def _public() -> dict[str, Any]:
    return yaml_reader.plain(_node("public-molds.yaml"))  # type: ignore[return-value]
