"""The cautions of builder/tables/safety.yaml, each with its step and its source."""

from __future__ import annotations

from functools import cache
from importlib import resources
from typing import Any

from builder.base import serialize
from builder.base.problems import Faults, Problem, Where
from builder.model import Caution
from builder.spec import yaml_reader

FILE = "safety.yaml"
_LEFT_OUT: dict[str, Any] = {"carried": False, "card": False, "injector": False, "values": {}}
_BECAUSE = "page.safety.because"


@cache
def load() -> tuple[Caution, ...]:
    """The cautions in the order of the file; raises Faults with everything that is wrong with it.

    >>> [caution.key for caution in load()][:2]
    ['data_sheet', 'clothing']
    """
    text = resources.files("builder").joinpath("tables", FILE).read_text(encoding="utf-8")
    content = yaml_reader.read_plain(text, FILE)
    problems: list[Problem] = []
    found: list[Caution] = []
    for key, entry in content.items() if isinstance(content, dict) else ():
        try:
            found.append(_caution(key, entry))
        except (TypeError, ValueError) as error:
            what = str(error)
            problems.append(
                Problem(where=Where(file=FILE, key=key), what=what, remedy="see the comment at its top")
            )
    if problems:
        raise Faults(problems)
    return tuple(found)


def _caution(key: str, entry: Any) -> Caution:  # noqa: ANN401 - plain YAML
    """One entry; a note is for whoever keeps the table and is not shown."""
    told = {**_LEFT_OUT, **entry, "key": key}
    told.pop("note", None)
    told["values"] = {name: {**value, "because": _BECAUSE} for name, value in told["values"].items()}
    return serialize.from_json(Caution, told)
