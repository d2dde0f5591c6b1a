"""The values of plastisols and mold materials: range, unit, source and grade, in plausible bounds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from typing import get_args

from builder.model import Grade, Sourced, Unit
from builder.spec.schema import Key, Table
from builder.spec.types import ANYWHERE, Choice, Number, Schema, Scope, Type, fault, gather
from builder.spec.yaml_reader import Node

ANY = Number(-1e12, 1e12)
"""Any number: what a value may be is told by its own range."""
SOURCE = Choice(names="sources")


def required_keys(*keys: tuple[str, Type, str, str]) -> tuple[Key, ...]:
    """Required keys: name, type, what it tells, example."""
    return tuple(Key(*key, required=True) for key in keys)


_FIELDS = Table(
    "a value",
    required_keys(
        ("value", ANY, "Best guess.", "1.04"),
        ("low", ANY, "Lowest value.", "0.98"),
        ("high", ANY, "Highest value.", "1.08"),
        ("unit", Choice(get_args(Unit)), "Its unit.", "g_ml"),
        ("source", SOURCE, "Where it is from.", "mixing"),
        ("grade", Choice(get_args(Grade)), "What the source is worth.", "handbook"),
    ),
    Sourced,
)


@dataclass(frozen=True, slots=True)
class Ranged:
    """A value with its range, which holds it, its unit, source and grade; `unit` "" stands for any unit.

    What no plastic and no mold can have lies below `least` or above `most`.
    """

    unit: str = ""
    least: float = -1e12
    most: float = 1e12

    def read(self, node: Node, scope: Scope) -> Sourced:
        """The value; raises Faults with all that is wrong with it."""
        known, *_ = gather(
            [
                partial(_FIELDS.read, node, scope),
                partial(_refuse_outside, node),
                partial(self._refuse_unit, node),
                partial(self._refuse_absurd, node),
            ]
        )
        return known  # type: ignore[no-any-return]

    def _refuse_unit(self, node: Node) -> None:
        unit = node.value.get("unit") if isinstance(node.value, dict) else None
        if unit is not None and self.unit and unit.value in get_args(Unit) and unit.value != self.unit:
            raise fault(unit.where, f"this is in {unit.value}", f"unit: {self.unit}", "convert the numbers")

    def _refuse_absurd(self, node: Node) -> None:
        found = node.value if isinstance(node.value, dict) else {}
        ends = [found[name] for name in ("low", "high") if name in found]
        gather(partial(self._refuse_end, end) for end in ends)

    def _refuse_end(self, end: Node) -> None:
        if isinstance(end.value, int | float) and not self.least <= end.value <= self.most:
            expected = f"between {self.least:g} and {self.most:g} {self.unit}"
            raise fault(end.where, f"{end.text} is out of range", expected)

    def schema(self, scope: Scope) -> Schema:
        """An object."""
        return _FIELDS.schema(scope)

    def words(self, scope: Scope = ANYWHERE) -> str:
        """Its keys."""
        return _FIELDS.words(scope)


def _refuse_outside(node: Node) -> None:
    """Raise where the range does not hold the value; what is no number is told elsewhere."""
    found = node.value if isinstance(node.value, dict) else {}
    low, value, high = (found[name].value if name in found else None for name in ("low", "value", "high"))
    numbers = all(isinstance(one, int | float) for one in (low, value, high))
    if numbers and not low <= value <= high:  # type: ignore[operator]
        what = f"value {value} does not lie between low {low} and high {high}"
        raise fault(node.where, what, "low <= value <= high")


PLASTISOL = {
    "density": Ranged("g_ml", 0.5, 3.0),
    "conductivity": Ranged("w_mk", 0.05, 1.0),
    "heat_capacity": Ranged("j_kgk", 500.0, 4000.0),
    "set": Ranged("c", 50.0, 160.0),
    "viscosity": Ranged("pa_s", 0.01, 1000.0),
    "exponent": Ranged("count", 0.1, 5.0),
    "expansion": Ranged("per_k", 2e-5, 6e-4),
    "shoot": Ranged("c", 100.0, 200.0),
    "limit": Ranged("c", 100.0, 200.0),
    "demold": Ranged("c", 30.0, 150.0),
    "cold": Ranged("c", 25.0, 60.0),
}
"""The values of a plastisol."""
MOLD = {
    "density": Ranged("g_ml", 0.1, 25.0),
    "conductivity": Ranged("w_mk", 0.02, 500.0),
    "heat_capacity": Ranged("j_kgk", 100.0, 5000.0),
    "deflection": Ranged("c", 30.0, 1500.0),
    "modulus": Ranged("mpa", 0.1, 500000.0),
}
"""The values of a mold material."""


def value_keys(values: Mapping[str, Type], *, required: bool) -> tuple[Key, ...]:
    """A key for each value of a plastisol or of a mold material."""
    example = "{value: 1.04, low: 0.98, high: 1.08, unit: g_ml, source: scale, grade: measured}"
    return tuple(Key(name, kind, "A value.", example, required=required) for name, kind in values.items())
