"""DEVELOPERS.md tells how a bait's volume reaches the page, and the code goes that way, in ten hops."""

from __future__ import annotations

import ast
import re
from functools import cache
from pathlib import Path

import pytest

import builder

ROOT = Path(builder.__file__).parent.parent
MOST_HOPS = 10
Row = tuple[str, str]
PYTHON = sorted(
    path for room in ("mesh", "measure", "pictures") for path in (ROOT / "builder" / room).rglob("*.py")
)


def rows(text: str) -> list[Row]:
    """File and function of each row of the walk."""
    walk = text.partition("## How a bait's volume reaches the page")[2].partition("\n## ")[0]
    return re.findall(r"^\| \d+ \| `([^`]+)` \| `(\w+)` \|", walk, re.M)


WALK = rows((ROOT / "DEVELOPERS.md").read_text(encoding="utf-8"))


@cache
def functions(file: str) -> dict[str, ast.FunctionDef]:
    tree = ast.parse((ROOT / file).read_text(encoding="utf-8"))
    return {node.name: node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)}


def names_in(node: ast.AST) -> set[str]:
    """Names and attributes that a function uses, and the templates that it names."""
    found = {one.id for one in ast.walk(node) if isinstance(one, ast.Name)}
    dotted = [one for one in ast.walk(node) if isinstance(one, ast.Attribute)]
    found |= {f"{one.value.id}.{one.attr}" for one in dotted if isinstance(one.value, ast.Name)}
    return found | {str(one.value) for one in ast.walk(node) if isinstance(one, ast.Constant)}


@cache
def reach(file: str, function: str) -> set[str]:
    """What a function uses, itself or through other functions of its file."""
    known, seen, todo = functions(file), set[str](), [function]
    used: set[str] = set()
    while todo:
        name = todo.pop()
        if name in known and name not in seen:
            seen.add(name)
            names = names_in(known[name])
            used |= names
            todo += [one.removeprefix("self.") for one in names]
    return used


def called(file: str, function: str) -> str:
    """How another file writes a call of the row's function."""
    path = Path(file)
    if path.suffix != ".py":
        return path.name
    module = path.parent.name if path.stem == "__init__" else path.stem
    return f"{module}.{function}"


@cache
def calls(row: Row, other: Row) -> bool:
    """True if the first row's function uses the second's, or takes the record that it returns."""
    (file, function), (their_file, their) = row, other
    if file.endswith(".jinja"):
        return f"{function}(" in (ROOT / file).read_text(encoding="utf-8") and f"{function}=self.{their}" in (
            ROOT / their_file
        ).read_text(encoding="utf-8")
    if called(their_file, their) in reach(file, function):
        return True
    if their_file.endswith(".jinja"):
        return False
    given = functions(their_file)[their].returns
    taken = [one.annotation for one in functions(file)[function].args.args if one.annotation]
    return (
        given is not None
        and ast.unparse(given)[0].isupper()
        and ast.unparse(given) in {ast.unparse(one) for one in taken}
    )


def linked(one: Row, next_: Row) -> bool:
    """True if one row calls the other, a third calls both, or the value is returned up to the next row."""
    direct = {row: {other for other in WALK if other != row and calls(row, other)} for row in {*WALK, one}}
    above = any({one, next_} <= direct[row] | {row} for row in direct)
    return above or one in returned_to(next_, direct)


def returned_to(row: Row, direct: dict[Row, set[Row]]) -> set[Row]:
    """The rows whose results reach a row through the calls of other rows."""
    found: set[Row] = set()
    todo = [row]
    while todo:
        new = direct[todo.pop()] - found
        found |= new
        todo += new
    return found


def test_the_walk_starts_at_the_mesh_ends_at_the_text_and_has_ten_hops_at_most() -> None:
    assert WALK[0] == ("builder/mesh/__init__.py", "read")
    assert WALK[-1] == ("builder/base/units.py", "line")
    assert len(WALK) - 1 <= MOST_HOPS


@pytest.mark.parametrize(("file", "function"), WALK, ids=[f"{file}:{name}" for file, name in WALK])
def test_every_file_and_function_of_the_walk_is_there(file: str, function: str) -> None:
    if file.endswith(".py"):
        assert function in functions(file)
    else:
        assert f"{function}(" in (ROOT / file).read_text(encoding="utf-8")


@pytest.mark.parametrize("hop", range(len(WALK) - 1))
def test_each_hop_is_a_call_in_the_code(hop: int) -> None:
    assert linked(WALK[hop], WALK[hop + 1]), f"{WALK[hop]} does not lead to {WALK[hop + 1]}"


@pytest.mark.parametrize(
    ("one", "next_"),
    [(WALK[1], WALK[7]), (WALK[4], WALK[9]), (("builder/mesh/sections.py", "rings"), WALK[1])],
)
def test_functions_that_hand_each_other_nothing_are_not_taken_for_a_hop(one: Row, next_: Row) -> None:
    assert not linked(one, next_)


def test_cubic_millimetres_become_millilitres_in_one_place() -> None:
    sources = {path: path.read_text(encoding="utf-8") for path in PYTHON}
    assert [
        path.name for path, text in sources.items() if re.search(r"[/*] ?(1000|1e3|1e-3 \*)\b", text)
    ] == []
    assert [path.name for path, text in sources.items() if "MM3_PER_ML =" in text] == ["solids.py"]
