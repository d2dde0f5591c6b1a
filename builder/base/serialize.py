"""Records to plain JSON values and back, exactly, and the JSON Schema that describes them.

A record becomes an object with its fields by name, a tuple an array, a mapping an object. JSON knows no
infinity, so a float that is not finite becomes the text `inf`, `-inf` or `nan`.
"""

from __future__ import annotations

import json
import math
import types
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from functools import cache, lru_cache
from itertools import repeat
from pathlib import Path, PurePosixPath
from typing import Any, Literal, TypeVar, Union, get_args, get_origin, get_type_hints

T = TypeVar("T")
Reader = Callable[[Any], Any]
_type: Callable[[object], Any] = type
"""The type of a value, as something to look up."""
_quoted = lru_cache(maxsize=4096)(json.encoder.encode_basestring)
"""A text as JSON has it; most of a record's texts are in it many times."""
_NOT_FINITE = ("inf", "-inf", "nan")


def to_json(value: object) -> Any:  # noqa: ANN401 - any JSON value
    """The record as dicts, lists and scalars; raises TypeError for anything that is no record's value.

    >>> from builder.base.problems import Where
    >>> to_json(Where(file="mold.yaml", line=3))
    {'file': 'mold.yaml', 'line': 3, 'column': None, 'key': ''}
    """
    return _writer(_type(value))(value)


def text(value: object, digits: int) -> str:
    """The record as JSON text without needless space, its numbers cut to so many significant digits.

    >>> text((1 / 3, 2, -0.0, True, None, "é", math.inf), 7)
    '[0.3333333,2,-0.0,true,null,"é","inf"]'
    """
    return _tellers(f"%.{digits}g")(_type(value))(value)


def from_json(kind: type[T], data: object) -> T:
    """The record of this type; raises ValueError naming the dotted place that does not fit.

    >>> from builder.base.problems import Where
    >>> from_json(Where, {"file": "mold.yaml", "line": 3, "column": None, "key": ""})
    Where(file='mold.yaml', line=3, column=None, key='')
    """
    shape: Any = kind
    try:
        made: T = _reader(shape)(data)
    except MisfitError as misfit:
        raise ValueError(f"{kind.__name__}{misfit.place} {misfit.what}") from None
    return made


class MisfitError(ValueError):
    """A value that does not fit its type: where in the record, and how."""

    def __init__(self, data: object, expected: str) -> None:
        """The place is told by those that hold the value, from the inside out."""
        super().__init__()
        self.place = ""
        self.what = f"is {type(data).__name__}, expected {expected}"

    def inside(self, step: str) -> MisfitError:
        """The same, one step further out."""
        self.place = f"{step}{self.place}"
        return self


def schema(kind: type) -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of what `to_json` makes of this record type."""
    definitions: dict[str, Any] = {}
    root = _schema(kind, definitions)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **root, "$defs": definitions}


@cache
def _hints(kind: type) -> dict[str, Any]:
    return get_type_hints(kind)


@cache
def _writer(kind: Any) -> Callable[[Any], Any]:  # noqa: ANN401 - any type
    """What turns a value of this type into JSON: looked up once for each type, for records are many."""
    if is_dataclass(kind):
        names = tuple(field.name for field in fields(kind))
        return lambda record: {name: _writer(_type(v := getattr(record, name)))(v) for name in names}
    for of, write in _WRITERS:
        if issubclass(kind, of):
            return write
    raise TypeError(f"{kind.__name__} is no value of a record")


def _told(written: str, value: float) -> str:
    """A number as JSON has it, from its digits; what Python's repr makes of those, as json.dumps would.

    >>> _told("3", 3.0), _told("0.25", 0.25), _told("1e+07", 1e7), _told("inf", math.inf)
    ('3.0', '0.25', '10000000.0', '"inf"')
    """
    if "e" in written:
        return repr(float(written))
    if "n" in written:  # inf, nan
        return f'"{float(value)}"'
    return written if "." in written else f"{written}.0"


@cache
def _tellers(form: str) -> Callable[[Any], Callable[[Any], str]]:
    """What gives a type its teller, which turns its values into JSON text; `form` writes the digits."""

    @cache
    def teller(kind: Any) -> Callable[[Any], str]:  # noqa: ANN401 - any type
        if is_dataclass(kind):
            return _teller(kind, form, teller)
        if issubclass(kind, float):
            return lambda value: _told(form % value, value)
        if issubclass(kind, str):
            return _quoted
        if issubclass(kind, tuple | list):
            return lambda items: f"[{','.join([teller(_type(item))(item) for item in items])}]"
        if issubclass(kind, Mapping):
            return lambda items: (
                f"{{{','.join([f'{_quoted(str(k))}:{teller(_type(v))(v)}' for k, v in items.items()])}}}"
            )
        write = _writer(kind)
        return str if kind is int else lambda value: json.dumps(write(value), ensure_ascii=False)

    return teller


def _teller(kind: Any, form: str, teller: Callable[[Any], Callable[[Any], str]]) -> Callable[[Any], str]:  # noqa: ANN401
    """What tells a record as JSON text, written as source (_compiled): a number is not even handed on."""
    told = [field.name for field in fields(kind)]
    known: dict[str, Any] = {"teller": teller, "told": _told, "quoted": _quoted}
    lines = ["def tell(record):"]
    for index, name in enumerate(told):
        value, number = f"v{index}", f"{form!r} % v{index}"
        lines += [
            f"    {value} = record.{name}",
            f"    if type({value}) is float:",
            f"        text = {number}",
            f"        {value} = text if '.' in text and 'e' not in text else told(text, {value})",
            f"    elif type({value}) is str: {value} = quoted({value})",
            f"    else: {value} = teller(type({value}))({value})",
        ]
    whole = ",".join(f'"{name}":{{v{index}}}' for index, name in enumerate(told))
    exec("\n".join([*lines, f"    return f'{{{{{whole}}}}}'"]), known)
    tell: Callable[[Any], str] = known["tell"]
    return tell


_WRITERS: tuple[tuple[type | types.UnionType, Callable[[Any], Any]], ...] = (
    (types.NoneType | bool | str, lambda value: value),
    (float, lambda value: float(value) if math.isfinite(value) else str(float(value))),
    (int, int),
    (tuple | list, lambda items: [_writer(_type(item))(item) for item in items]),
    (Mapping, lambda items: {str(key): _writer(_type(item))(item) for key, item in items.items()}),
    (PurePosixPath | Path, lambda path: path.as_posix()),
)


@cache
def _reader(kind: Any) -> Reader:  # noqa: ANN401 - any type
    """What reads a value of this type from JSON: put together once for each type."""
    origin = get_origin(kind)
    if origin in (Union, types.UnionType):
        return _union(get_args(kind))
    if make := _READERS.get(origin or kind):
        return make(kind)
    if is_dataclass(kind):
        return _record(kind)
    raise TypeError(f"no way to read {kind}")


def _union(kinds: tuple[Any, ...]) -> Reader:
    readers = [_reader(kind) for kind in kinds]
    optional = types.NoneType in kinds

    def read(data: Any) -> Any:  # noqa: ANN401
        if data is None and optional:
            return None
        for reader in readers:
            try:
                return reader(data)
            except MisfitError as misfit:
                last = misfit
        raise last

    return read


def _record(kind: Any) -> Reader:  # noqa: ANN401
    names = tuple(field.name for field in fields(kind))
    wanted = f"an object with {', '.join(sorted(names))}"
    made: list[Reader] = []

    def read(data: Any) -> Any:  # noqa: ANN401
        if not isinstance(data, dict) or data.keys() != set_of_names:
            raise MisfitError(data, wanted)
        if not made:  # not before the first is read: a record may hold others of its own type
            made.append(_compiled(kind, names))
        try:
            return made[0](data)
        except MisfitError:
            for name in names:
                _inside(f".{name}", _reader(_hints(kind)[name]), data[name])
            raise

    set_of_names = frozenset(names)
    return read


def _inside(step: str, reader: Reader, data: Any) -> None:  # noqa: ANN401
    """Read a value for its faults alone, and tell them by its place."""
    try:
        reader(data)
    except MisfitError as misfit:
        raise misfit.inside(step) from None


def _compiled(kind: Any, names: tuple[str, ...]) -> Reader:  # noqa: ANN401
    """What makes a record of an object with exactly these names.

    Written as source, as dataclasses are, since records are many: a value of a plain type is not even handed
    to its reader.
    """
    hints = _hints(kind)
    known: dict[str, Any] = {"kind": kind} | {
        f"r{index}": _reader(hints[name]) for index, name in enumerate(names)
    }
    lines = ["def read(data):"]
    for index, name in enumerate(names):
        plain = hints[name].__name__ if hints[name] in (float, int, str, bool) else None
        lines.append(f"    v{index} = data[{name!r}]")
        unless = f"if type(v{index}) is not {plain}: " if plain else ""
        lines.append(f"    {unless}v{index} = r{index}(v{index})")
    if _is_bare(kind):
        known |= {"new": object.__new__} | {
            f"s{i}": getattr(kind, name).__set__ for i, name in enumerate(names)
        }
        lines += ["    made = new(kind)", *(f"    s{i}(made, v{i})" for i in range(len(names)))]
    else:
        lines.append(f"    made = kind({', '.join(f'{name}=v{i}' for i, name in enumerate(names))})")
    exec("\n".join([*lines, "    return made"]), known)
    reader: Reader = known["read"]
    return reader


def _is_bare(kind: Any) -> bool:  # noqa: ANN401
    """Whether a record may be made by setting its slots, as its own maker does, at three times the cost."""
    return "__slots__" in vars(kind) and not hasattr(kind, "__post_init__")


def _tuple(kind: Any) -> Reader:  # noqa: ANN401
    told = get_args(kind)
    alike = told[-1] is Ellipsis
    readers = [_reader(one) for one in told[: 1 if alike else None]]

    def read(data: Any) -> tuple[Any, ...]:  # noqa: ANN401
        if not isinstance(data, list):
            raise MisfitError(data, "an array")
        if not alike and len(readers) != len(data):
            raise MisfitError(data, f"an array of {len(readers)}")
        items: list[Any] = []
        try:
            for reader, item in zip(repeat(readers[0]) if alike else readers, data, strict=False):
                items.append(reader(item))
        except MisfitError as misfit:
            raise misfit.inside(f"[{len(items)}]") from None
        return tuple(items)

    return read


def _mapping(kind: Any) -> Reader:  # noqa: ANN401
    key, item = get_args(kind)
    reader = _reader(item)

    def read(data: Any) -> dict[Any, Any]:  # noqa: ANN401
        if not isinstance(data, dict):
            raise MisfitError(data, "an object")
        found, name = {}, ""
        try:
            for name, value in data.items():
                found[key(name)] = reader(value)
        except MisfitError as misfit:
            raise misfit.inside(f".{name}") from None
        return found

    return read


def _literal(kind: Any) -> Reader:  # noqa: ANN401
    options = get_args(kind)
    known = {(type(option), option) for option in options}
    words = frozenset(option for option in options if type(option) is str)

    def read(data: Any) -> Any:  # noqa: ANN401
        try:
            if (type(data) is str and data in words) or (type(data), data) in known:
                return data
        except TypeError:  # an array or an object, which no option is
            pass
        raise MisfitError(data, f"one of {options}")

    return read


def _float(_: Any) -> Reader:  # noqa: ANN401
    def read(data: Any) -> float:  # noqa: ANN401
        if type(data) is float:
            return data
        if data in _NOT_FINITE or (isinstance(data, int | float) and not isinstance(data, bool)):
            return float(data)
        raise MisfitError(data, "a number")

    return read


def _plain(kind: Any) -> Reader:  # noqa: ANN401
    def read(data: Any) -> Any:  # noqa: ANN401
        if type(data) is not kind:
            raise MisfitError(data, kind.__name__)
        return data

    return read


def _path(_: Any) -> Reader:  # noqa: ANN401
    text = _plain(str)
    return lambda data: Path(text(data))


_READERS: dict[Any, Callable[[Any], Reader]] = {
    tuple: _tuple,
    Mapping: _mapping,
    Literal: _literal,
    float: _float,
    int: _plain,
    str: _plain,
    bool: _plain,
    types.NoneType: _plain,
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
