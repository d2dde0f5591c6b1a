"""Declares the keys of a YAML file once: reading and checking, JSON Schema and reference follow.

A `Table` lists its keys; each has a type, a default, a sentence and an example. Reading collects
every fault before it raises. A number with a unit may be written in that unit or in its US twin
(`shot_c` or `shot_f`), and always arrives in the first.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from builder.base.problems import Faults
from builder.spec.types import (
    ANYWHERE,
    UNIT_WORDS,
    Number,
    Schema,
    Scope,
    Text,
    Type,
    Vector,
    fault,
    gather,
    is_scalar,
    misfit,
    nearest,
)
from builder.spec.yaml_reader import Node, shorten

MOST_KEYS = 100
"""Keys in one group; no group has half as many."""
_TWINS: dict[str, tuple[str, float, float]] = {
    # unit: (its twin, factor, offset) with value = (twin - offset) * factor; NIST SP 811, appendix B.8
    "c": ("f", 5 / 9, 32.0),
    "mm": ("inch", 25.4, 0.0),
    "mpa": ("psi", 0.006894757, 0.0),
    "kg": ("lb", 0.45359237, 0.0),
}


@dataclass(frozen=True, slots=True)
class Key:
    """One key: `default` describes what its absence means; `also` lists common other names for it."""

    name: str
    type: Type
    doc: str
    example: str
    required: bool = False
    default: str = ""
    also: tuple[str, ...] = ()

    def twin(self) -> tuple[Key, Callable[[Any], Any]] | None:
        """The same key in the US unit, and the conversion into this key's unit; None without a unit."""
        stem, _, suffix = self.name.rpartition("_")
        if suffix not in _TWINS or not isinstance(self.type, Number | Vector):
            return None
        unit, factor, offset = _TWINS[suffix]

        def convert(value: Any) -> Any:  # noqa: ANN401 - a number or three
            if isinstance(value, tuple):
                return tuple(convert(part) for part in value)
            return round((value - offset) * factor, 6)

        key = replace(self, name=f"{stem}_{unit}", type=self.type.twin(unit, factor, offset), required=False)
        return key, convert


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line of the reference: everything a maker needs to know about a key, as plain text."""

    key: str
    type: str
    unit: str
    required: bool
    default: str
    doc: str
    example: str
    twin: str = ""


@dataclass(frozen=True, slots=True)
class ListOf:
    """A list of values of one type; with `lone`, a single value may stand without its brackets."""

    item: Type
    least: int = 0
    most: int = 64
    lone: bool = False

    def read(self, node: Node, scope: Scope) -> tuple[Any, ...]:
        """The values, in order."""
        children = (node,) if self.lone and not isinstance(node.value, tuple) else node.value
        if not isinstance(children, tuple) or not self.least <= len(children) <= self.most:
            raise misfit(node, self.words(scope))
        return tuple(gather(partial(self.item.read, child, scope) for child in children))

    def schema(self, scope: Scope) -> Schema:
        """An array."""
        item = self.item.schema(scope)
        array: Schema = {"type": "array", "items": item, "minItems": self.least, "maxItems": self.most}
        return {"anyOf": [array, item]} if self.lone else array

    def words(self, scope: Scope = ANYWHERE) -> str:
        """How many of what."""
        least = f"{self.least} to {self.most}" if self.least else f"at most {self.most}"
        return f"a list of {least}, each {self.item.words(scope)}"


@dataclass(frozen=True, slots=True)
class MapOf:
    """Values of one type under names that are free; with `or_text` a word may stand in place of a value."""

    item: Type
    or_text: bool = False

    def read(self, node: Node, scope: Scope) -> dict[str, Any]:
        """The values by name, in the order of the file."""
        if not isinstance(node.value, dict):
            raise misfit(node, self.words(scope))
        kinds = {name: self._kind(child) for name, child in node.value.items()}
        values = gather(partial(kinds[name].read, child, scope) for name, child in node.value.items())
        return dict(zip(node.value, values, strict=True))

    def _kind(self, node: Node) -> Type:
        return Text() if self.or_text and isinstance(node.value, str) else self.item

    def schema(self, scope: Scope) -> Schema:
        """An object with further keys."""
        item = self.item.schema(scope)
        return {
            "type": "object",
            "additionalProperties": {"anyOf": [item, {"type": "string"}]} if self.or_text else item,
        }

    def words(self, scope: Scope = ANYWHERE) -> str:
        """What each key holds."""
        return f"a group of keys, each {self.item.words(scope)}"


@dataclass(frozen=True, slots=True)
class Table:
    """A group of keys, made into a record; `short` is the key that may stand alone for the whole group."""

    what: str
    keys: tuple[Key, ...]
    make: Callable[..., Any]
    short: str = ""

    def read(self, node: Node, scope: Scope) -> Any:  # noqa: ANN401 - what `make` returns
        """The record; raises Faults with every fault of the group, in the order of the file."""
        if self.short and is_scalar(node):
            return self.make(**{self.short: self._key(self.short).type.read(node, scope)})
        if not isinstance(node.value, dict):
            raise misfit(node, self.words(scope))
        found = node.value
        if len(found) > MOST_KEYS:
            raise fault(node.where, f"{len(found)} keys are given", f"at most {MOST_KEYS}")
        reads = [partial(self._read_key, name, child, found, scope) for name, child in found.items()]
        missing = [
            partial(self._refuse_missing, key, node, scope) for key in self.keys if self._lacks(found, key)
        ]
        return self.make(**dict(gather([*reads, *missing])))

    def _read_key(self, name: str, child: Node, found: dict[str, Node], scope: Scope) -> tuple[str, Any]:
        for key in self.keys:
            twin = key.twin()
            if key.name == name:
                return name, _read_or_point_to(twin[0] if twin else None, key, child, scope)
            if twin and twin[0].name == name:
                if key.name in found:
                    raise fault(
                        child.named, f"{name} and {key.name} are the same thing", remedy="keep one of them"
                    )
                return key.name, twin[1](_read_or_point_to(key, twin[0], child, scope))
        raise self._unknown(name, child)

    def _unknown(self, name: str, child: Node) -> Faults:
        what = f"{shorten(name)} is not a key of {self.what}"
        meant = self._meant(name)
        if meant:
            return fault(child.named, what, remedy=f"did you mean {meant}?")
        return fault(child.named, what, f"one of {', '.join(key.name for key in self.keys)}")

    def _meant(self, name: str) -> str:
        """The key that a maker most likely meant; '' when none is near."""
        known = [(key.name, key.name) for key in self.keys]
        known += [(twin[0].name, twin[0].name) for key in self.keys if (twin := key.twin())]
        known += [(word, key.name) for key in self.keys for word in key.also]
        return dict(known).get(nearest(name, [word for word, _ in known]), "")

    def _lacks(self, found: dict[str, Node], key: Key) -> bool:
        """Whether a required key is missing, and no misspelled key is likely meant for it."""
        twin = key.twin()
        names = {key.name, twin[0].name if twin else key.name}
        meant = (self._meant(name) for name in found if name not in {known.name for known in self.keys})
        return key.required and not names & {*found, *meant}

    def _refuse_missing(self, key: Key, node: Node, scope: Scope) -> tuple[str, Any]:
        what = f"{key.name} is missing in {self.what}"
        raise fault(node.where, what, key.type.words(scope), f"add {key.name}: {key.example}")

    def _key(self, name: str) -> Key:
        return next(key for key in self.keys if key.name == name)

    def schema(self, scope: Scope) -> Schema:
        """An object without further keys."""
        properties: dict[str, Schema] = {}
        either: list[Schema] = []
        for key in self.keys:
            properties[key.name] = _described(key, scope)
            if twin := key.twin():
                properties[twin[0].name] = _described(twin[0], scope)
                both = [key.name, twin[0].name]
                either.append({"anyOf": [{"required": [name]} for name in both]} if key.required else {})
                either.append({"not": {"required": both}})
        schema: Schema = {"type": "object", "additionalProperties": False, "properties": properties}
        schema["required"] = [key.name for key in self.keys if key.required and not key.twin()]
        if rules := [rule for rule in either if rule]:
            schema["allOf"] = rules
        return {"anyOf": [self._key(self.short).type.schema(scope), schema]} if self.short else schema

    def words(self, scope: Scope = ANYWHERE) -> str:
        """The keys it needs."""
        needed = ", ".join(key.name for key in self.keys if key.required)
        group = f"a group of keys with {needed}" if needed else "a group of keys"
        return f"{self._key(self.short).type.words(scope)}, or {group}" if self.short else group

    def rows(self, scope: Scope = ANYWHERE, prefix: str = "") -> Iterator[Row]:
        """The reference, groups before their own keys."""
        for key in self.keys:
            twin = key.twin()
            yield Row(
                key=prefix + key.name,
                type=key.type.words(scope),
                unit=UNIT_WORDS.get(key.name.rpartition("_")[2], ""),
                required=key.required,
                default=key.default,
                doc=key.doc,
                example=key.example,
                twin=twin[0].name if twin else "",
            )
            inner, brackets = (key.type.item, "[]") if isinstance(key.type, ListOf) else (key.type, "")
            if isinstance(inner, Table):
                yield from inner.rows(scope, f"{prefix}{key.name}{brackets}.")


def _described(key: Key, scope: Scope) -> Schema:
    return {"description": f"{key.doc} Example: {key.example}", **key.type.schema(scope)}


def _read_or_point_to(other: Key | None, key: Key, child: Node, scope: Scope) -> Any:  # noqa: ANN401
    """The key's value; a number out of range gets the remedy that it may be meant in the other unit."""
    try:
        return key.type.read(child, scope)
    except Faults as faults:
        if other is None or not all(problem.what.endswith("out of range") for problem in faults.problems):
            raise
        unit = UNIT_WORDS[other.name.rpartition("_")[2]]
        remedy = f"write {other.name} for {unit}"
        raise Faults(replace(problem, remedy=remedy) for problem in faults.problems) from None
