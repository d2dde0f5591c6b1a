"""The reader takes every honest file with one meaning, and refuses the rest by its place, quickly."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import yaml
from hypothesis import example, given, settings
from hypothesis import strategies as st

from builder.base.problems import Faults
from builder.spec import characters, yaml_reader

DOUBTFUL = re.compile(r"[-+]?\.?[0-9][0-9a-fA-FxXoO_.:+-]*")
"""Text that a writer of YAML 1.1 leaves plain, as 08 or 0E0, though YAML 1.2 has it as a number."""
TEXTS = st.text(max_size=20).map(characters.fit).filter(lambda text: not DOUBTFUL.fullmatch(text))
"""Any text without the control characters and turns of direction that are refused."""
SCALARS = st.none() | st.booleans() | st.integers(-(10**14), 10**14) | st.floats(-1e6, 1e6) | TEXTS
TREES = st.recursive(
    SCALARS,
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text("abcé_-", min_size=1), inner, max_size=3)
    ),
    max_leaves=8,
)


def problems(text: str) -> list[str]:
    with pytest.raises(Faults) as caught:
        yaml_reader.read_yaml(text, "f.yaml")
    return [str(problem) for problem in caught.value.problems]


@given(TREES, st.booleans())
def test_what_another_writer_wrote_is_read_back_equal(tree: yaml_reader.Plain, flow: bool) -> None:
    text = yaml.safe_dump(tree, default_flow_style=flow, width=1000)
    assert yaml_reader.read_plain(text, "f.yaml") == tree


def node_or_told(text: str, *, alike: bool) -> yaml_reader.Node | str:
    try:
        return yaml_reader._read(text, "f.yaml", alike=alike)
    except Faults as faults:
        return str(faults)


@given(TREES, st.sampled_from([None, "'", '"', "|"]))
def test_the_parser_in_c_and_the_one_in_python_read_alike(tree: yaml_reader.Plain, style: str | None) -> None:
    text = yaml.safe_dump(tree, default_style=style)
    assert node_or_told(text, alike=True) == node_or_told(text, alike=False)


LINES = """title: Reed minnow
cavities: 2
parts:
  - {file: a.stl, role: half, name: Half with the pins}
  - file: b.stl
summary: >-
  A minnow: slim,
  "quick" and 80 mm long
target: [perch, zander]
hook: 'jig head, 5 g'
shots:
  - {date: 2026-03-07, shot_c: 165, note: "full, 10 % flash"}
"""
MARKS = [
    *"\t\r\n :-?#'\"[]{},|>%@`~=\\",
    "  ",
    ": ",
    "- ",
    "? ",
    " #",
    "|+",
    "|2",
    "&a ",
    "*a",
    "!t ",
    "<<: ",
]
MARKS += ["---\n", "...\n", "\x85", "\u2028", "\ufeff", "\u00a0", "é", "🐟", "\\u00e9", "null", "1.5e3"]


@given(st.lists(st.tuples(st.integers(0, len(LINES)), st.sampled_from(MARKS)), max_size=3))
@settings(max_examples=500)
def test_a_mold_file_with_a_slip_reads_as_the_parser_in_python_reads_it(slips: list[tuple[int, str]]) -> None:
    text = LINES
    for place, mark in slips:
        text = f"{text[:place]}{mark}{text[place:]}"
    assert as_users_file(text) == node_or_told(text, alike=False)


@pytest.mark.parametrize(
    "text",
    ["a: {b: x?y}", "a: [x ?y]", "a: {b: , c: 1}", "a: x\ty\nb:\t1", "\ufeff\ufeffa: 1", "a: |#\n"],
)
def test_what_the_two_parsers_take_differently_is_read_as_in_python(text: str) -> None:
    assert as_users_file(text) == node_or_told(text, alike=False)


def as_users_file(text: str) -> yaml_reader.Node | str:
    try:
        return yaml_reader.read_yaml(text, "f.yaml")
    except Faults as faults:
        return str(faults)


@given(st.text(max_size=200))
@example("&a [*a]")
@example("? ? ? ?")
@example("!<tag:x> a")
@example("%TAG ! tag:x:\n---\n!y z")
@example("\ufeff\ufeffa: 1")
@example("a: !!binary R0lG")
@example("{a, b: }")
@example('a: "\\U99999999"')
@example('a: "\\Uffffffff"')
@settings(max_examples=300)
def test_any_text_is_read_or_refused_with_sentences_and_never_breaks(text: str) -> None:
    try:
        yaml_reader.read_yaml(text, "f.yaml")
    except Faults as faults:
        assert faults.problems
        assert all(str(problem).isprintable() and problem.where.line for problem in faults.problems)


@given(st.lists(st.sampled_from(list(":-?[]{},&*!|>'\"%@`#\n \tab1~.")), max_size=60).map("".join))
@settings(max_examples=500)
def test_any_heap_of_marks_is_read_or_refused_with_sentences_and_never_breaks(text: str) -> None:
    try:
        yaml_reader.read_yaml(text, "f.yaml")
    except Faults as faults:
        assert all(str(problem).isprintable() for problem in faults.problems)


@pytest.mark.parametrize(
    "text",
    [
        "[" * 300_000,
        "{a: " * 90_000,
        "- " * 190_000,
        "? " * 190_000,
        "a: &x [" + "*x, " * 90_000 + "]",
        "a: " + "9" * 390_000,
        "a: " + "1_" * 190_000,
        "a: " + "1:" * 190_000,
        "a: '" + "\n" * 390_000,
        "a: |\n" + " x\n" * 120_000,
        "\n".join(f"k{index}: {index}" for index in range(25_000)),
        "\n".join("same: 1" for _ in range(40_000)),
        "x" * 10_000_000,
    ],
    ids=lambda text: text[:8],
)
def test_a_hostile_file_neither_hangs_nor_floods(text: str) -> None:
    try:
        yaml_reader.read_yaml(text, "f.yaml")
    except Faults as faults:
        assert len(faults.problems) <= yaml_reader.MAX_PROBLEMS
        assert all(len(str(problem)) < 600 for problem in faults.problems)


@pytest.mark.parametrize("word", ["NO", "no", "Yes", "on", "OFF", "010", "0o17", "0x1F", "1_000", "12:30"])
def test_a_word_with_two_meanings_is_refused_plain_and_taken_as_text_in_quotes(word: str) -> None:
    assert problems(f"a: {word}")[0].startswith(f"f.yaml:1:4, key a: {word} ")
    assert yaml_reader.read_plain(f"a: '{word}'", "f.yaml") == {"a": word}


@pytest.mark.parametrize(
    "word", ["nothing", "note", "y", "N", "1/2", "4/0", "2026-03-01", "1.2.3", "M5 × 40", "-", "0.1.2"]
)
def test_a_word_that_only_looks_like_one_of_those_is_text(word: str) -> None:
    assert yaml_reader.read_plain(f"a: x{word}", "f.yaml") == {"a": f"x{word}"}
    if word != "-":
        assert yaml_reader.read_plain(f"a: {word}", "f.yaml") == {"a": word}


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("0", 0),
        ("-3", -3),
        ("1.", 1.0),
        (".5", 0.5),
        ("-.5", -0.5),
        ("1e3", 1000.0),
        ("1.5E-3", 0.0015),
        ("~", None),
    ],
)
def test_numbers_are_those_of_the_yaml_core_schema(text: str, value: object) -> None:
    """YAML 1.2.2, section 10.3.2, but for octal and hexadecimal ones, which are refused."""
    read = yaml_reader.read_plain(f"a: {text}", "f.yaml")
    assert read == {"a": value}
    assert isinstance(read, dict)
    assert type(read["a"]) is type(value)


def test_every_fault_is_told_in_the_order_of_the_file() -> None:
    assert [text.split(":")[1] for text in problems("a: NO\nb: 010\na: &x 1\nc: !t 2\n")] == [
        "1",
        "2",
        "3",
        "3",
        "4",
    ]


def test_places_point_at_the_value_and_at_its_key() -> None:
    node = yaml_reader.read_yaml("parts:\n  - file: a.stl\n    role:  half\n", "f.yaml")
    assert dict(yaml_reader.lines_of(node)) == {
        "parts": 1,
        "parts[0]": 2,
        "parts[0].file": 2,
        "parts[0].role": 3,
    }
    role = yaml_reader.items(yaml_reader.items(yaml_reader.items(node)[0])[0])[1]
    assert (role.where.line, role.where.column, role.named.column) == (3, 12, 5)


def test_a_file_that_is_no_text_is_refused_at_the_byte(tmp_path: Path) -> None:
    file = tmp_path / "f.yaml"
    file.write_bytes("title: Brème\n".encode() + b"note: caf\xe9\n")
    with pytest.raises(Faults) as caught:
        yaml_reader.read_file(file)
    assert str(caught.value) == f"{file}:2:10: this is not UTF-8 text; save the file as UTF-8 text."


def test_a_byte_order_mark_is_no_part_of_the_text(tmp_path: Path) -> None:
    file = tmp_path / "f.yaml"
    file.write_bytes(b"\xef\xbb\xbftitle: x\r\n")
    assert yaml_reader.read_plain(yaml_reader.read_file(file), "f.yaml") == {"title": "x"}


@pytest.mark.parametrize(
    ("make", "what"),
    [
        (Path.exists, "this file does not exist"),
        (lambda file: file.mkdir(), "this is a folder"),
        (lambda file: file.symlink_to("/etc/passwd"), "this is a link, and links are not followed"),
        (lambda file: file.write_bytes(b" " * 2_000_000), "this file has 2000000 bytes"),
    ],
    ids=["absent", "folder", "link", "huge"],
)
def test_what_is_no_file_of_this_folder_is_refused(tmp_path: Path, make: object, what: str) -> None:
    assert callable(make)
    make(tmp_path / "f.yaml")
    with pytest.raises(Faults, match=what):
        yaml_reader.read_file(tmp_path / "f.yaml")


@pytest.mark.parametrize("number", ["00110000", "99999999", "ffffffff", "FFFFFFFF"])
def test_an_escaped_number_beyond_all_characters_is_refused_at_its_place(number: str) -> None:
    """Unicode ends at U+10FFFF (The Unicode Standard, chapter 2.4)."""
    assert problems(f'title: x\nsummary: "a\\U{number}"\n') == [
        "f.yaml:2:12: no character has this number; remove it."
    ]
