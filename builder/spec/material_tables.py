"""The tables of builder/tables: plastisols, mold materials, eyes, practice, sources and check values."""

from __future__ import annotations

import math
from importlib import resources
from typing import cast, get_args

from builder.base import serialize
from builder.base.problems import Faults, Problem, Where
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

_PLASTISOL = frozenset(
    [
        "density",
        "conductivity",
        "heat_capacity",
        "set",
        "viscosity",
        "exponent",
        "expansion",
        "shoot",
        "limit",
        "demold",
    ]
)
_MOLD = frozenset(["density", "conductivity", "heat_capacity", "deflection", "modulus"])


def load() -> Tables:
    """All tables, in the order of their files; raises Faults with every bad value of a file at once.

    >>> tables = load()
    >>> tables.plastisols[0].id
    'soft'
    >>> tables.mold_materials[0].values["deflection"].value
    56.0
    """
    sources = {key: str(text) for key, text in _read("sources.yaml").items()}
    plastisols = _Table("plastisols.yaml", sources).groups(_PLASTISOL)
    molds = _Table("mold_materials.yaml", sources).groups(_MOLD)
    return Tables(
        plastisols=tuple(Plastisol(id=key, values=values) for key, values in plastisols.items()),
        mold_materials=tuple(MoldMaterial(id=key, values=values) for key, values in molds.items()),
        eyes_mm=_Table("eyes.yaml", sources).list("eyes_mm"),
        practice=_Table("practice.yaml", sources).flat(),
        sources=sources,
        checks=_checks(sources),
        reliability=serialize.from_json(Reliability, _read("reading-outcomes.yaml")),
        public_molds=serialize.from_json(tuple[PublicMold, ...], _read("public-molds.yaml")["molds"]),
    )


def _read(file: str) -> dict[str, yaml_reader.Plain]:
    text = resources.files("builder").joinpath("tables", file).read_text(encoding="utf-8")
    content = yaml_reader.read_plain(text, file)
    if not isinstance(content, dict):
        raise Faults([Problem(where=Where(file=file), what="the table has no keys")])
    return content


class _Table:
    """One file on its way to records; collects what is wrong until the file is read whole."""

    def __init__(self, file: str, sources: dict[str, str]) -> None:
        self.file, self.sources = file, sources
        self.content = _read(file)
        self.problems: list[Problem] = []

    def groups(self, names: frozenset[str]) -> dict[str, dict[str, Sourced]]:
        """Entries that each hold the values `names`."""
        found = {key: self._entry(key, group, names) for key, group in self.content.items()}
        self._raise()
        return found

    def list(self, key: str) -> tuple[Sourced, ...]:
        """The values of one list."""
        items = self.content.get(key)
        items = items if isinstance(items, list) else []
        found = tuple(self._sourced(f"{key}[{index}]", item) for index, item in enumerate(items))
        self._raise()
        return found

    def flat(self) -> dict[str, Sourced]:
        """One value a key."""
        found = {key: self._sourced(key, item) for key, item in self.content.items()}
        self._raise()
        return found

    def _entry(self, key: str, group: yaml_reader.Plain, names: frozenset[str]) -> dict[str, Sourced]:
        values = group if isinstance(group, dict) else {}
        if set(values) != names:
            self._fault(key, f"{key} has {sorted(values)}", f"exactly {sorted(names)}")
        return {name: self._sourced(f"{key}.{name}", value) for name, value in values.items()}

    def _sourced(self, key: str, item: yaml_reader.Plain) -> Sourced:
        fields = item if isinstance(item, dict) else {}
        value, low, high = (_number(fields.get(name)) for name in ("value", "low", "high"))
        unit, source, grade = (str(fields.get(name)) for name in ("unit", "source", "grade"))
        if not low <= value <= high:
            self._fault(key, f"value {value}, low {low}, high {high}", "numbers with low <= value <= high")
        if unit not in get_args(Unit):
            self._fault(key, f"unit {unit}", f"one of {', '.join(get_args(Unit))}")
        if source not in self.sources:
            self._fault(key, f"source {source}", "a key of sources.yaml")
        if grade not in get_args(Grade):
            self._fault(key, f"grade {grade}", f"one of {', '.join(get_args(Grade))}")
        return Sourced(
            value=value, low=low, high=high, unit=cast(Unit, unit), source=source, grade=cast(Grade, grade)
        )

    def _fault(self, key: str, what: str, expected: str) -> None:
        self.problems.append(Problem(where=Where(file=self.file, key=key), what=what, expected=expected))

    def _raise(self) -> None:
        if self.problems:
            raise Faults(self.problems)


def _number(value: object) -> float:
    """The number, or NaN (which no range holds) where there is none."""
    return float(value) if isinstance(value, int | float) else math.nan


def _checks(sources: dict[str, str]) -> tuple[Check, ...]:
    rows = _read("checks.yaml").get("checks")
    problems, found = [], []
    for index, row in enumerate(rows if isinstance(rows, list) else []):
        fields = row if isinstance(row, dict) else {}
        check = Check(
            name=str(fields.get("name")),
            formula=str(fields.get("formula")),
            given=_given(fields.get("given")),
            expected=_number(fields.get("expected")),
            tolerance=_number(fields.get("tolerance")),
            unit=str(fields.get("unit", "")),
            source=str(fields.get("source")),
        )
        if not (math.isfinite(check.expected) and check.tolerance > 0 and check.source in sources):
            where = Where(file="checks.yaml", key=f"checks[{index}]")
            problems.append(Problem(where=where, what=f"{check}", expected="numbers and a known source"))
        found.append(check)
    if problems:
        raise Faults(problems)
    return tuple(found)


def _given(fields: yaml_reader.Plain) -> dict[str, float | str]:
    """What a check is given: words as they stand, numbers as floats."""
    items = fields.items() if isinstance(fields, dict) else ()
    return {key: value if isinstance(value, str) else _number(value) for key, value in items}
