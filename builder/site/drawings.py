"""Drawings as data: the elements of an SVG drawing, each on a short list, for the scripts to build.

A drawing of a released version comes from a file. So no page takes markup from data: what is not on the
lists is refused here, and assets/drawings.js builds elements one by one from lists of its own.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as Tree
from typing import Any

from builder.base.problems import Faults, Problem, Where

MOST_ELEMENTS = 20_000
_NUMBER = r"-?(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d+)?"
_NAMED = {
    "viewBox": rf"{_NUMBER}(?: {_NUMBER}){{3}}",
    "role": "img",
    "aria-label": r"[^\x00-\x1f]{0,1000}",
    "class": r"[a-z][a-z0-9-]*(?: [a-z][a-z0-9-]*)*",
    "id": "sb-scale",
    "d": rf"(?:[MLHVmlhvZz]|{_NUMBER}|[ ,])+",
    "points": rf"(?:{_NUMBER}|[ ,])+",
    "text-anchor": "start|middle|end",
    "style": r"stroke:var\(--md-default-bg-color,Canvas\)",
}
_LENGTHS = ("x", "y", "dx", "dy", "width", "height", "cx", "cy", "r", "offset", "stroke-width")
_COLOURS = ("fill", "stroke", "stop-color")
_ATTRIBUTES = {
    name: re.compile(form)
    for name, form in {
        **_NAMED,
        **dict.fromkeys(_LENGTHS, _NUMBER),
        **dict.fromkeys(_COLOURS, r"none|currentColor|#[0-9a-f]{6}|url\(#sb-scale\)"),
    }.items()
}
ELEMENTS = ("svg", "path", "circle", "rect", "polygon", "polyline", "text", "linearGradient", "stop")
_HOLDERS = ("svg", "linearGradient")
"""Elements that hold others, so that a drawing is three deep at most."""
GROUND = "sb-ground"
"""Class of lines in the page's ground; in a drawing on disk they carry it as a style."""

Node = list[Any]
"""An element: its name, its attributes, and what is in it (elements or text)."""


def nodes(markup: str, name: str) -> list[Node]:
    """The elements of SVG text; Faults when one of them, or of their attributes, is not on the lists.

    `name` is what the drawing is called where a fault is told.

    >>> nodes('<circle class="sb-dot" cx="1" cy="2.5" r="8"/>', "bait")
    [['circle', {'class': 'sb-dot', 'cx': '1', 'cy': '2.5', 'r': '8'}]]
    """
    try:
        root = Tree.fromstring(f"<drawing>{markup}</drawing>")
    except (Tree.ParseError, ValueError):
        raise _fault(name, "is no SVG") from None
    if sum(1 for _ in root.iter()) > MOST_ELEMENTS:
        raise _fault(name, f"has more than {MOST_ELEMENTS} elements")
    return [_node(child, name, 0) for child in root]


def _node(element: Tree.Element, name: str, depth: int) -> Node:
    tag = element.tag
    if not isinstance(tag, str) or tag not in ELEMENTS or depth > 2:
        raise _fault(name, f"has an element that no drawing of ours has: {str(tag)[:40]}")
    if len(element) and tag not in _HOLDERS:
        raise _fault(name, f"has elements in a {tag}")
    inside: list[Any] = [_node(child, name, depth + 1) for child in element]
    if tag == "text" and element.text:
        inside = [element.text]
    return [tag, dict(_attribute(*pair, name) for pair in element.attrib.items()), *inside]


def _attribute(key: str, value: str, name: str) -> tuple[str, str]:
    form = _ATTRIBUTES.get(key)
    if form is None or not form.fullmatch(value):
        raise _fault(name, f"has an attribute that no drawing of ours has: {key[:40]}={value[:40]}")
    return ("class", GROUND) if key == "style" else (key, value)


def _fault(name: str, what: str) -> Faults:
    return Faults(
        [
            Problem(
                where=Where(file=name),
                what=f"this drawing {what}",
                expected="shapes, lines and texts as the builder draws them",
                remedy="release the version again, or take its folder out of the catalogue",
            )
        ]
    )
