"""Records to plain JSON values and back, exactly, and the JSON Schema that describes them.

A record becomes an object with its fields by name, a tuple an array, a mapping an object. JSON knows no
infinity, so a float that is not finite becomes the text `inf`, `-inf` or `nan`.
"""

from __future__ import annotations

import math
import types
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from functools import cache
from pathlib import Path, PurePosixPath
from typing import Any, Literal, TypeVar, Union, get_args, get_origin, get_type_hints

T = TypeVar("T")
_NOT_FINITE = ("inf", "-inf", "nan")


def to_json(value: object) -> Any:  # noqa: ANN401, PLR0911 - any JSON value, one return for each
    """The record as dicts, lists and scalars; raises TypeError for anything that is no record's value.

    >>> from builder.base.problems import Where
    >>> to_json(Where(file="mold.yaml", line=3))
    {'file': 'mold.yaml', 'line': 3, 'column': None, 'key': ''}
    """
    if value is None or isinstance(value, bool | str):
        return value
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else str(float(value))
    if isinstance(value, int):
        return int(value)
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: to_json(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, tuple | list):
        return [to_json(item) for item in value]
    if isinstance(value, Mapping):
        return {str(key): to_json(item) for key, item in value.items()}
    if isinstance(value, PurePosixPath | Path):
        return value.as_posix()
    raise TypeError(f"{type(value).__name__} is no value of a record")


def from_json(kind: type[T], data: object) -> T:
    """The record of this type; raises ValueError naming the dotted place that does not fit.

    >>> from builder.base.problems import Where
    >>> from_json(Where, {"file": "mold.yaml", "line": 3, "column": None, "key": ""})
    Where(file='mold.yaml', line=3, column=None, key='')
    """
    made: T = _value(kind, data, kind.__name__)
    return made


def schema(kind: type) -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of what `to_json` makes of this record type."""
    definitions: dict[str, Any] = {}
    root = _schema(kind, definitions)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **root, "$defs": definitions}


@cache
def _hints(kind: type) -> dict[str, Any]:
    return get_type_hints(kind)


def _misfit(where: str, data: object, expected: str) -> ValueError:
    return ValueError(f"{where} is {type(data).__name__}, expected {expected}")


def _value(kind: Any, data: Any, where: str) -> Any:  # noqa: ANN401 - any type and its value
    origin = get_origin(kind)
    if origin in (Union, types.UnionType):
        return _union(get_args(kind), data, where)
    reader = _READERS.get(origin or kind)
    if reader:
        return reader(kind, data, where)
    if is_dataclass(kind):
        return _record(kind, data, where)
    raise TypeError(f"{where}: no way to read {kind}")


def _union(kinds: tuple[Any, ...], data: Any, where: str) -> Any:  # noqa: ANN401
    for kind in kinds:
        try:
            return _value(kind, data, where)
        except ValueError as error:
            last = error
    raise last


def _record(kind: Any, data: Any, where: str) -> Any:  # noqa: ANN401
    hints = _hints(kind)
    names = {field.name for field in fields(kind)}
    if not isinstance(data, dict) or set(data) != names:
        raise _misfit(where, data, f"an object with {', '.join(sorted(names))}")
    return kind(**{name: _value(hints[name], item, f"{where}.{name}") for name, item in data.items()})


def _tuple(kind: Any, data: Any, where: str) -> tuple[Any, ...]:  # noqa: ANN401
    if not isinstance(data, list):
        raise _misfit(where, data, "an array")
    kinds = get_args(kind)
    kinds = kinds[:1] * len(data) if kinds[-1] is Ellipsis else kinds
    if len(kinds) != len(data):
        raise _misfit(where, data, f"an array of {len(kinds)}")
    return tuple(
        _value(k, item, f"{where}[{i}]") for i, (k, item) in enumerate(zip(kinds, data, strict=True))
    )


def _mapping(kind: Any, data: Any, where: str) -> dict[Any, Any]:  # noqa: ANN401
    if not isinstance(data, dict):
        raise _misfit(where, data, "an object")
    key, item = get_args(kind)
    return {key(name): _value(item, value, f"{where}.{name}") for name, value in data.items()}


def _literal(kind: Any, data: Any, where: str) -> Any:  # noqa: ANN401
    if not any(data == option and type(data) is type(option) for option in get_args(kind)):
        raise _misfit(where, data, f"one of {get_args(kind)}")
    return data


def _float(kind: Any, data: Any, where: str) -> float:  # noqa: ANN401, ARG001
    if data in _NOT_FINITE or (isinstance(data, int | float) and not isinstance(data, bool)):
        return float(data)
    raise _misfit(where, data, "a number")


def _plain(kind: Any, data: Any, where: str) -> Any:  # noqa: ANN401
    if type(data) is not kind:
        raise _misfit(where, data, kind.__name__)
    return data


def _path(kind: Any, data: Any, where: str) -> Path:  # noqa: ANN401, ARG001
    return Path(_plain(str, data, where))


_READERS: dict[Any, Callable[[Any, Any, str], Any]] = {
    tuple: _tuple,
    Mapping: _mapping,
    Literal: _literal,
    float: _float,
    int: _plain,
    str: _plain,
    bool: _plain,
    type(None): _plain,
    Path: _path,
}
_WORDS: dict[Any, dict[str, Any]] = {
    float: {"anyOf": [{"type": "number"}, {"enum": list(_NOT_FINITE)}]},
    int: {"type": "integer"},
    str: {"type": "string"},
    bool: {"type": "boolean"},
    type(None): {"type": "null"},
    Path: {"type": "string"},
}


def _schema(kind: Any, definitions: dict[str, Any]) -> dict[str, Any]:  # noqa: ANN401, PLR0911
    origin, inner = get_origin(kind), get_args(kind)
    if kind in _WORDS:
        return _WORDS[kind]
    if origin in (Union, types.UnionType):
        return {"anyOf": [_schema(one, definitions) for one in inner]}
    if origin is Literal:
        return {"enum": list(inner)}
    if origin is Mapping:
        return {"type": "object", "additionalProperties": _schema(inner[1], definitions)}
    if origin is tuple and inner[-1] is Ellipsis:
        return {"type": "array", "items": _schema(inner[0], definitions)}
    if origin is tuple:
        items = [_schema(one, definitions) for one in inner]
        return {"type": "array", "prefixItems": items, "minItems": len(items), "maxItems": len(items)}
    if kind.__name__ not in definitions:
        definitions[kind.__name__] = {}
        definitions[kind.__name__] = _object(kind, definitions)
    return {"$ref": f"#/$defs/{kind.__name__}"}


def _object(kind: Any, definitions: dict[str, Any]) -> dict[str, Any]:  # noqa: ANN401
    hints = _hints(kind)
    names = [field.name for field in fields(kind)]
    properties = {name: _schema(hints[name], definitions) for name in names}
    told = " ".join((kind.__doc__ or "").split())
    about = {"description": told, "type": "object", "additionalProperties": False}
    return about | {"properties": properties, "required": names}
