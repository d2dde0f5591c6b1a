"""A mold.yaml is taken exactly, or refused with a sentence for each fault; an editor's schema agrees."""

from __future__ import annotations

import json
from collections.abc import Iterator
from copy import deepcopy
from dataclasses import MISSING, fields, replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jsonschema import Draft7Validator

from builder.base import serialize
from builder.base.problems import Faults
from builder.model import MoldSpec
from builder.spec import material_tables, mold_file, yaml_reader
from builder.spec.maker_keys import MAKER
from builder.spec.mold_keys import MOLD
from builder.spec.schema import Key, ListOf, Table
from builder.spec.types import Scope

CASES = sorted((Path(__file__).parent / "cases" / "spec").glob("*.yaml"))
ALL = material_tables.load()
PLASTISOLS = ("soft", "medium", "hard", "salted")
MATERIALS = ("pla", "petg", "abs", "asa", "pc", "resin", "heat-resin", "aluminium")
TABLES = replace(
    ALL,
    plastisols=tuple(entry for entry in ALL.plastisols if entry.id in PLASTISOLS),
    mold_materials=tuple(entry for entry in ALL.mold_materials if entry.id in MATERIALS),
)
"""The names that the cases spell out, so that a further entry of a table changes no case."""
EDITOR = Draft7Validator(mold_file.schema(TABLES))
NAMES = {
    "plastisols": tuple(entry.id for entry in TABLES.plastisols),
    "mold materials": tuple(entry.id for entry in TABLES.mold_materials),
}
SHORTEST = {"title": "Reed minnow", "parts": ["half-a.stl", "half-b.stl"], "cavities": 2, "plastisol": "soft"}


def lay_out(case: dict[str, Any]) -> Path:
    """The mold's folder of a case, in the current folder: its files empty, its links as told."""
    folder = Path(case.get("folder", "reed-minnow"))
    folder.mkdir()
    for name in case.get("files", ["half-a.stl", "half-b.stl"]):
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).touch()
    for name, target in case.get("links", {}).items():
        (folder / name).symlink_to(target)
    (folder / "mold.yaml").write_text(case["mold.yaml"], encoding="utf-8")
    return folder


def pick(data: Any, dotted: str) -> Any:  # noqa: ANN401 - any JSON value
    """What stands under a dotted key of a record's JSON, `line_of` by its whole key."""
    if dotted.startswith("line_of."):
        return data["line_of"][dotted.removeprefix("line_of.")]
    for step in dotted.replace("[", ".[").split("."):
        data = data[int(step[1:-1])] if step.startswith("[") else data[step]
    return data


@pytest.mark.parametrize("file", CASES, ids=lambda file: file.stem)
def test_case(file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    case: Any = yaml_reader.read_plain(file.read_text(encoding="utf-8"), file.name)
    monkeypatch.chdir(tmp_path)
    folder = lay_out(case)
    if "problems" in case:
        with pytest.raises(Faults) as caught:
            mold_file.load(folder, TABLES)
        keys = ", ".join(key.name for key in MOLD.keys)
        wanted = [problem.replace("KEYS", keys) for problem in case["problems"]]
        assert [str(problem) for problem in caught.value.problems] == wanted
    else:
        given = serialize.to_json(mold_file.load(folder, TABLES))
        assert {key: pick(given, key) for key in case["gives"]} == case["gives"]


@pytest.mark.parametrize("file", CASES, ids=lambda file: file.stem)
def test_the_schema_refuses_what_is_refused_but_for_what_only_the_disk_or_several_keys_tell(
    file: Path,
) -> None:
    case: Any = yaml_reader.read_plain(file.read_text(encoding="utf-8"), file.name)
    try:
        data = yaml_reader.read_plain(case["mold.yaml"], file.name)
    except Faults:
        assert "problems" in case
    else:
        assert EDITOR.is_valid(data) == ("gives" in case or case.get("schema") == "accepts")


def test_the_schema_is_a_sound_schema_with_a_sentence_and_an_example_for_each_key() -> None:
    Draft7Validator.check_schema(mold_file.schema())
    for _, schema in properties(mold_file.schema()):
        assert schema["description"].count("Example: ") == 1


def properties(schema: Any) -> Iterator[tuple[str, Any]]:  # noqa: ANN401 - a JSON Schema
    if isinstance(schema, dict):
        yield from schema.get("properties", {}).items()
        for part in schema.values():
            yield from properties(part)
    elif isinstance(schema, list):
        for part in schema:
            yield from properties(part)


def every_key(table: Table, path: tuple[str, ...] = ()) -> Iterator[tuple[Key, tuple[str, ...]]]:
    for key in table.keys:
        yield key, (*path, key.name)
        inner = key.type.item if isinstance(key.type, ListOf) else key.type
        if isinstance(inner, Table):
            yield from every_key(inner, (*path, key.name))


@pytest.mark.parametrize(
    ("key", "path"),
    list(every_key(MOLD)),
    ids=lambda value: ".".join(value) if isinstance(value, tuple) else "",
)
def test_the_example_of_each_key_is_taken_by_its_type_and_by_the_schema(
    key: Key, path: tuple[str, ...]
) -> None:
    node = yaml_reader.read_yaml(key.example, ".".join(path))
    key.type.read(node, Scope(names=NAMES))
    schema = key.type.schema(Scope(names=NAMES))
    assert Draft7Validator(schema).is_valid(yaml_reader.plain(node))
    twin = key.twin()
    assert not twin or twin[0].name in MOLD_TEXT


def test_the_reference_lists_every_key_once_with_all_that_a_maker_needs() -> None:
    rows = mold_file.reference()
    assert len({row.key for row in rows}) == len(rows) == len(list(every_key(MOLD)))
    assert all(row.doc.endswith(".") and row.example and row.type for row in rows)
    assert all(row.default or row.required or "." in row.key or row.key in EMPTY for row in rows)


MOLD_TEXT = json.dumps(mold_file.schema())
EMPTY = {
    field.name
    for field in fields(MoldSpec)
    if field.default in ("", ()) or field.default_factory is not MISSING
} | {key.name for key in MAKER}
"""Fields that hold nothing, or a group that says nothing, where their key is left out."""


# -- random documents: the reader and the schema agree, and nothing but Faults is ever raised --------

WORDS = sorted(
    {key.name for key, _ in every_key(MOLD)}
    | {twin[0].name for key, _ in every_key(MOLD) if (twin := key.twin())}
)
EXAMPLES = [yaml_reader.read_plain(key.example, "x") for key, _ in every_key(MOLD)]
VALUES = st.one_of(
    st.sampled_from(EXAMPLES),
    st.sampled_from([*WORDS, "", " ", "x" * 400, "a.stl", "../a.stl", "/a.stl", "a\\b.stl", "soft", "é"]),
    st.none()
    | st.booleans()
    | st.integers(-5, 3000)
    | st.integers(-100, 9000).map(lambda quarters: quarters / 4),
    st.lists(st.floats(-10, 10) | st.just("x"), max_size=4),
    st.dictionaries(st.sampled_from(WORDS), st.integers(-1, 30) | st.just("a.stl"), max_size=3),
)


@st.composite
def documents(draw: st.DrawFn) -> dict[str, Any]:
    """The shortest mold with some of the examples in, and up to two of all values replaced or renamed."""
    document: dict[str, Any] = deepcopy(SHORTEST)
    for key in draw(st.lists(st.sampled_from(MOLD.keys), max_size=4)):
        document[key.name] = yaml_reader.read_plain(key.example, "x")
    for _ in range(draw(st.integers(0, 2))):
        place: Any = document
        while True:
            steps = list(place) if isinstance(place, dict) else list(range(len(place)))
            step = draw(st.sampled_from(steps))
            if isinstance(place[step], dict | list) and place[step] and draw(st.booleans()):
                place = place[step]
                continue
            if isinstance(place, dict) and draw(st.booleans()):
                place[draw(st.sampled_from(WORDS))] = place.pop(step)
            else:
                place[step] = deepcopy(draw(VALUES))
            break
    return document


@pytest.mark.slow
@settings(max_examples=400, deadline=None)
@given(documents())
def test_reader_and_schema_take_and_refuse_the_same_documents(document: dict[str, Any]) -> None:
    root = yaml_reader.read_yaml(json.dumps(document), "mold.yaml")
    try:
        MOLD.read(root, Scope(names=NAMES))
    except Faults as faults:
        assert not EDITOR.is_valid(document), faults
    else:
        EDITOR.validate(document)


@pytest.mark.slow
@settings(max_examples=100, deadline=None)
@given(documents())
def test_whatever_a_document_holds_loading_it_raises_nothing_but_faults(document: dict[str, Any]) -> None:
    around = Scope(folder=Path(__file__).parent, names=NAMES)
    try:
        mold_file._values(yaml_reader.read_yaml(json.dumps(document), "mold.yaml"), around)
    except Faults as faults:
        assert all(str(problem).isprintable() for problem in faults.problems)


WHOLE = (Path(mold_file.__file__).parent.parent.parent / "molds" / "reed-minnow" / "mold.yaml").read_bytes()


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(st.integers(0, len(WHOLE)), st.integers(0, 9), st.binary(max_size=6)), max_size=4))
def test_a_file_damaged_anywhere_raises_nothing_but_faults(
    tmp_path: Path, damages: list[tuple[int, int, bytes]]
) -> None:
    folder = tmp_path / "reed-minnow"
    folder.mkdir(exist_ok=True)
    data = WHOLE
    for at, cut, instead in damages:
        data = data[:at] + instead + data[at + cut :]
    (folder / "mold.yaml").write_bytes(data)
    try:
        mold_file.load(folder, TABLES)
    except Faults as faults:
        assert all(str(problem).isprintable() for problem in faults.problems)
