"""The values of builder/tables/printing.yaml: how molds are usually printed."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from importlib import resources
from typing import Any

from builder.base import serialize
from builder.base.problems import Faults, Problem, Where
from builder.model import Sourced
from builder.spec import yaml_reader

FILE = "printing.yaml"


@cache
def load() -> Mapping[str, Sourced]:
    """The values by name; raises Faults with everything that is wrong with the file.

    >>> load()["walls"].value
    4.0
    """
    text = resources.files("builder").joinpath("tables", FILE).read_text(encoding="utf-8")
    content = yaml_reader.read_plain(text, FILE)
    problems: list[Problem] = []
    found: dict[str, Sourced] = {}
    for key, entry in content.items() if isinstance(content, dict) else ():
        try:
            found[key] = _value(entry)
        except (TypeError, ValueError) as error:
            what = str(error)
            problems.append(
                Problem(where=Where(file=FILE, key=key), what=what, remedy="see the comment at its top")
            )
    if problems:
        raise Faults(problems)
    return found


def _value(entry: Any) -> Sourced:  # noqa: ANN401 - plain YAML
    floats = {name: float(entry[name]) for name in ("value", "low", "high")}
    made = serialize.from_json(Sourced, {**entry, **floats})
    if not made.low <= made.value <= made.high:
        raise ValueError(f"{made.value:g} is not within {made.low:g} to {made.high:g}")
    return made
