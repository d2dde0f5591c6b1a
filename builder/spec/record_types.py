"""The types of values in records from the disk, beside those of mold.yaml: exact, bounded, or refused."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, partial
from importlib import resources
from typing import Any

from builder.base.problems import Faults
from builder.base.texts import flatten, slots
from builder.model import Finding
from builder.spec.schema import Table
from builder.spec.types import ANYWHERE, Number, Schema, Scope, Type, fault, gather, misfit
from builder.spec.yaml_reader import Node, read_plain, shorten

_NUMBER = r"-?(?:[0-9]{1,6}(?:\.[0-9]{1,6})?|\.[0-9]{1,6})(?:e-?[0-9]{1,2})?"
_COLOUR = r"#[0-9a-f]{3,8}|none|currentColor|url\(#sb-scale\)"
_ATTRIBUTES = {
    **dict.fromkeys(("cx", "cy", "r", "x", "y", "width", "height", "offset", "stroke-width"), _NUMBER),
    **dict.fromkeys(("fill", "stroke", "stop-color"), _COLOUR),
    "d": r"[-MLHVCSQTAZmlhvcsqtaz0-9e., ]{1,20000}",
    "style": r"stroke:var\(--md-default-bg-color(?:,Canvas)?\)",
    "class": r"sb-[a-z]{1,20}",
    "id": "sb-scale",
}
_LEAVES = ("path", "circle", "rect")
_ELEMENT = re.compile(r"<([a-zA-Z]{1,20})((?: [a-z-]{1,20}=\"[^\"<>&]*\")*)(/?)>|</linearGradient>")
_ATTRIBUTE = re.compile(r" ([a-z-]+)=\"([^\"]*)\"")


@dataclass(frozen=True, slots=True)
class Line:
    """Text as it stands, of limited length; `pattern` is its whole form."""

    longest: int = 200
    pattern: str = ""
    meaning: str = ""

    def read(self, node: Node, scope: Scope) -> str:
        """The text, nothing taken away from it."""
        if not isinstance(node.value, str):
            raise misfit(node, self.words(scope))
        if len(node.value) > self.longest:
            what = f"this text has {len(node.value)} characters"
            raise fault(node.where, what, f"at most {self.longest}")
        if self.pattern and not re.fullmatch(self.pattern, node.value):
            raise fault(node.where, f'"{shorten(node.value)}" does not fit here', self.words(scope))
        return node.value

    def schema(self, scope: Scope) -> Schema:  # noqa: ARG002
        """A string."""
        return {"type": "string", "maxLength": self.longest} | (
            {"pattern": f"^(?:{self.pattern})$"} if self.pattern else {}
        )

    def words(self, scope: Scope = ANYWHERE) -> str:  # noqa: ARG002
        """Its meaning, or how long it may be."""
        return self.meaning or f"text of at most {self.longest} characters"


@dataclass(frozen=True, slots=True)
class Amount:
    """A figure's value: finite and bounded, or the text that stands for a bound that there is not."""

    most: float = 1e9

    def read(self, node: Node, scope: Scope) -> float:
        """The number."""
        if node.value in ("inf", "-inf"):
            return float(node.text)
        return Number(-self.most, self.most).read(node, scope)

    def schema(self, scope: Scope) -> Schema:
        """A number, or one of two words."""
        return {"anyOf": [Number(-self.most, self.most).schema(scope), {"enum": ["inf", "-inf"]}]}

    def words(self, scope: Scope = ANYWHERE) -> str:
        """The limits."""
        return Number(-self.most, self.most).words(scope)


@dataclass(frozen=True, slots=True)
class Maybe:
    """A value, or none of it."""

    item: Type

    def read(self, node: Node, scope: Scope) -> Any:  # noqa: ANN401 - what the item has
        """The value, or None."""
        return None if node.value is None else self.item.read(node, scope)

    def schema(self, scope: Scope) -> Schema:
        """The item, or null."""
        return {"anyOf": [self.item.schema(scope), {"type": "null"}]}

    def words(self, scope: Scope = ANYWHERE) -> str:
        """The item's words."""
        return f"{self.item.words(scope)}, or null"


@dataclass(frozen=True, slots=True)
class Named:
    """Values by name; `pattern` is the form of a name."""

    item: Type
    pattern: str
    most: int = 64
    whole: bool = False
    """True where the names are whole numbers."""

    def read(self, node: Node, scope: Scope) -> Mapping[Any, Any]:
        """The values, in order."""
        found = node.value
        if not isinstance(found, dict) or len(found) > self.most:
            raise misfit(node, self.words(scope))
        values = gather(partial(self._one, name, child, scope) for name, child in found.items())
        return {(int(name) if self.whole else name): value for name, value in values}

    def _one(self, name: str, child: Node, scope: Scope) -> tuple[str, Any]:
        if not re.fullmatch(self.pattern, name):
            raise fault(child.named, f'the name "{shorten(name)}" does not fit here', f"form {self.pattern}")
        return name, self.item.read(child, scope)

    def schema(self, scope: Scope) -> Schema:
        """An object with any names of the form."""
        item = self.item.schema(scope)
        return {"type": "object", "patternProperties": {f"^(?:{self.pattern})$": item}}

    def words(self, scope: Scope = ANYWHERE) -> str:
        """How many of what."""
        return f"at most {self.most} names, each with {self.item.words(scope)}"


@dataclass(frozen=True, slots=True)
class Sentence:
    """The key of a sentence of the language files, under one of a few sections."""

    sections: tuple[str, ...]
    none: bool = False

    def read(self, node: Node, scope: Scope) -> str:
        """The key."""
        code = node.value
        if code == "" and self.none:
            return ""
        if not isinstance(code, str) or not code.startswith(self.sections) or code not in sentences():
            raise fault(node.where, f"{shorten(node.text)} is not the key of a sentence", self.words(scope))
        return code

    def schema(self, scope: Scope) -> Schema:  # noqa: ARG002
        """A string."""
        return {"type": "string"}

    def words(self, scope: Scope = ANYWHERE) -> str:  # noqa: ARG002
        """The sections."""
        return f"a key of the language file under {' or '.join(self.sections)}"


@dataclass(frozen=True, slots=True)
class FindingType:
    """A Finding whose sentence gets every value that it wants."""

    table: Table

    def read(self, node: Node, scope: Scope) -> Finding:
        """The finding."""
        found: Finding = self.table.read(node, scope)
        if missing := slots(sentences()[found.code]) - set(found.values):
            raise fault(node.where, f"the sentence {found.code} wants {', '.join(sorted(missing))}")
        return found

    def schema(self, scope: Scope) -> Schema:
        """The table's."""
        return self.table.schema(scope)

    def words(self, scope: Scope = ANYWHERE) -> str:
        """The table's."""
        return self.table.words(scope)


@dataclass(frozen=True, slots=True)
class OneOf:
    """The first of several types that takes the value."""

    items: tuple[Type, ...]

    def read(self, node: Node, scope: Scope) -> Any:  # noqa: ANN401
        """The value; the last type's faults when none takes it."""
        for item in self.items[:-1]:
            try:
                return item.read(node, scope)
            except Faults:
                continue
        return self.items[-1].read(node, scope)

    def schema(self, scope: Scope) -> Schema:
        """Any of them."""
        return {"anyOf": [item.schema(scope) for item in self.items]}

    def words(self, scope: Scope = ANYWHERE) -> str:
        """All of them."""
        return " or ".join(item.words(scope) for item in self.items)


@dataclass(frozen=True, slots=True)
class Marks:
    """Lines and marks over a picture, in the few SVG elements and forms that our own drawings have."""

    longest: int = 20_000

    def read(self, node: Node, scope: Scope) -> str:
        """The elements as they stand, every one of them known."""
        text = Line(self.longest).read(node, scope)
        at, scale = 0, False
        while at < len(text):
            element = _ELEMENT.match(text, at)
            if element is None or not _is_known(element, inside_scale=scale):
                what = f"{shorten(text[at : at + 60])} is not a mark that a picture may have"
                raise fault(node.where, what, self.words(scope))
            if element[1] in (None, "linearGradient"):
                scale = element[1] is not None
            at = element.end()
        if scale:
            raise fault(node.where, "a linearGradient is not closed", self.words(scope))
        return text

    def schema(self, scope: Scope) -> Schema:  # noqa: ARG002
        """A string."""
        return {"type": "string", "maxLength": self.longest}

    def words(self, scope: Scope = ANYWHERE) -> str:  # noqa: ARG002
        """The elements."""
        return f"only {', '.join(_LEAVES)} and the scale's colours, as the builder draws them"


def _is_known(element: re.Match[str], *, inside_scale: bool) -> bool:
    name, attributes, closed = element[1], element[2], element[3]
    if name is None:
        return inside_scale
    if not all(
        re.fullmatch(_ATTRIBUTES.get(key, r"(?!)"), value) for key, value in _ATTRIBUTE.findall(attributes)
    ):
        return False
    if name == "linearGradient":
        return not inside_scale and not closed
    return bool(closed) and (name == "stop" if inside_scale else name in _LEAVES)


@cache
def sentences() -> Mapping[str, str]:
    """Every sentence of the language file by its key; the other languages have the same keys."""
    text = resources.files("builder").joinpath("texts", "en.yaml").read_text(encoding="utf-8")
    content = read_plain(text, "en.yaml")
    return dict(flatten(content)) if isinstance(content, dict) else {}
