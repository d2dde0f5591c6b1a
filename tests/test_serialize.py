"""Records survive JSON exactly, whatever they hold, and what does not fit is refused by its place."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from functools import cache
from pathlib import Path
from types import UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator, ValidationError

from builder import model
from builder.base import serialize
from builder.base.problems import Where

SLOW = pytest.mark.slow
LARGE = (model.Measurement, model.MoldRecord)
STORED = (model.MoldSpec, model.Measurement, model.MoldRecord, model.Tables)
FIGURE = model.Figure(value=8.1, low=8.0, high=8.2, unit="ml", because="x", origin="measured")

st.register_type_strategy(Path, st.text("abc/.-", min_size=1).map(Path))


@cache
def strategy(kind: Any) -> st.SearchStrategy[Any]:  # noqa: ANN401 - any annotation
    """Instances of a record type from its annotations, every field given, kept small."""
    if isinstance(kind, type) and is_dataclass(kind):
        hints = get_type_hints(kind)
        return st.builds(kind, **{field.name: strategy(hints[field.name]) for field in fields(kind)})
    args, origin = get_args(kind), get_origin(kind)
    if origin is tuple and args[-1] is Ellipsis:
        return st.lists(strategy(args[0]), max_size=2).map(tuple)
    if origin is tuple:
        return st.tuples(*map(strategy, args))
    if origin is Mapping:
        return st.dictionaries(strategy(args[0]), strategy(args[1]), max_size=2)
    if origin in (Union, UnionType):
        return st.one_of(*map(strategy, args))
    made: st.SearchStrategy[Any] = st.from_type(kind)
    return made


def check(schema: dict[str, Any], data: object) -> None:
    Draft202012Validator.check_schema(schema)
    Draft202012Validator(schema).validate(data)


@SLOW
@pytest.mark.parametrize("kind", STORED, ids=lambda kind: kind.__name__)
@settings(max_examples=10, deadline=None)
@given(data=st.data())
def test_every_record_comes_back_equal_and_fits_its_schema(kind: type, data: st.DataObject) -> None:
    record = data.draw(strategy(kind))
    text = json.dumps(serialize.to_json(record), allow_nan=False)
    back: object = serialize.from_json(kind, json.loads(text))
    assert repr(back) == repr(record)
    check(serialize.schema(kind), json.loads(text))


@given(st.floats())
def test_every_float_comes_back_to_the_last_bit(value: float) -> None:
    shown = model.Figure(value=value, low=-math.inf, high=math.inf, unit="mm", because="", origin="computed")
    back = serialize.from_json(
        model.Figure, json.loads(json.dumps(serialize.to_json(shown), allow_nan=False))
    )
    assert back.value.hex() == value.hex()


def test_tuples_inside_optional_fields_come_back_as_tuples() -> None:
    face = ((0.0, 0.0, 12.5), (0.0, 0.0, 1.0))
    part = model.PartSpec(file="a.stl", path=Path("m/a.stl"), role="half", name="a", parting=face)
    assert serialize.from_json(model.PartSpec, serialize.to_json(part)) == part


def test_a_mapping_with_numbers_as_keys_comes_back_with_numbers() -> None:
    alt = model.Finding(level="note", code="alt", values={"length": FIGURE, "name": "bait"})
    picture = model.Picture(name="open", files={640: "open-640.webp"}, width_px=640, height_px=480, alt=alt)
    assert serialize.from_json(model.Picture, json.loads(json.dumps(serialize.to_json(picture)))) == picture


@pytest.mark.parametrize(
    ("change", "place"),
    [
        ({"line": "3"}, "Where.line"),
        ({"line": True}, "Where.line"),
        ({"file": None}, "Where.file"),
        ({"extra": 1}, "Where "),
    ],
)
def test_data_that_does_not_fit_is_refused_by_its_dotted_place(change: dict[str, object], place: str) -> None:
    data = serialize.to_json(Where(file="mold.yaml", line=3)) | change
    with pytest.raises(ValueError, match=place):
        serialize.from_json(Where, data)
    with pytest.raises(ValidationError):
        check(serialize.schema(Where), data)


def test_a_word_outside_a_closed_list_is_refused() -> None:
    with pytest.raises(ValueError, match=r"Figure\.unit"):
        serialize.from_json(model.Figure, serialize.to_json(FIGURE) | {"unit": "furlong"})


def test_what_is_no_value_of_a_record_is_refused_when_written() -> None:
    with pytest.raises(TypeError, match="set is no value"):
        serialize.to_json({"a": {1, 2}})
