"""The house holds: imports point down only, and each third-party library has one door."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import builder

ROOT = Path(builder.__file__).parent

FLOORS = (
    {"disk", "model", "problems", "records", "texts", "units"},
    {
        "heat",
        "recipes",
        "published",
        "conduction",
        "cycle",
        "clamping",
        "flow",
        "engines",
        "mesh",
        "pack",
        "reader",
        "kinds",
        "keys",
        "plots",
        "pagetables",
    },
    {
        "mold_keys",
        "spec",
        "requests",
        "report",
        "materials",
        "checks",
        "measure",
        "advice",
        "compare",
        "leaflet",
        "pictures",
        "pages",
        "pagedata",
    },
    {"store", "versions", "build", "fleet", "draft"},
    {"catalogue", "site", "giveaway", "release", "rendered"},
    {"plugin", "cli", "__main__"},
)
WITHIN_A_FLOOR = {
    ("conduction", "heat"),
    ("cycle", "heat"),
    ("clamping", "heat"),
    ("cycle", "conduction"),
    ("flow", "heat"),
    ("flow", "conduction"),
    ("problems", "model"),
    ("records", "model"),
    ("records", "problems"),
    ("texts", "model"),
    ("texts", "units"),
    ("units", "model"),
    ("kinds", "reader"),
    ("keys", "kinds"),
    ("keys", "reader"),
    ("spec", "mold_keys"),
    ("build", "store"),
    ("build", "versions"),
    ("fleet", "build"),
    ("draft", "build"),
    ("fleet", "store"),
    ("versions", "store"),
    ("site", "catalogue"),
    ("release", "catalogue"),
    ("release", "giveaway"),
    ("release", "site"),
    ("cli", "plugin"),
    ("__main__", "cli"),
}
DOORS = {
    "yaml": {"reader"},
    "distributed": {"engines"},
    "trimesh": {"mesh", "pictures"},
    "manifold3d": {"mesh"},
    "embreex": {"pictures"},
    "PIL": {"pictures"},
    "segno": {"pictures"},
    "minify_html": {"rendered"},
    "jinja2": {"pages"},
    "mkdocs": {"plugin"},
    "click": {"cli"},
    "shapely": {"mesh", "measure"},
    "numpy": {
        "model",
        "heat",
        "conduction",
        "cycle",
        "clamping",
        "flow",
        "mesh",
        "pack",
        "measure",
        "checks",
        "advice",
        "pictures",
    },  # model: annotations only
    "scipy": {"heat", "conduction", "cycle", "clamping", "flow", "mesh", "measure", "advice", "pictures"},
}


def modules() -> Iterator[tuple[str, Path]]:
    for path in sorted(ROOT.rglob("*.py")):
        room = path.relative_to(ROOT).with_suffix("").parts[0]
        if room != "__init__":
            yield room, path


def imports(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name}: relative import; write it in full"
            module = node.module or ""
            yield from (f"builder.{a.name}" for a in node.names) if module == "builder" else (module,)


def floor(room: str) -> int:
    return next(index for index, rooms in enumerate(FLOORS) if room in rooms)


@pytest.mark.parametrize(
    ("room", "path"), list(modules()), ids=lambda value: str(value) if isinstance(value, str) else value.stem
)
def test_imports_point_down_only(room: str, path: Path) -> None:
    for name in imports(path):
        if name.startswith("builder."):
            other = name.split(".")[1]
            allowed = other == room or floor(other) < floor(room) or (room, other) in WITHIN_A_FLOOR
            assert allowed, f"{path.name} imports {name}: floor {floor(other)} from floor {floor(room)}"


@pytest.mark.parametrize(
    ("room", "path"), list(modules()), ids=lambda value: str(value) if isinstance(value, str) else value.stem
)
def test_each_library_has_one_door(room: str, path: Path) -> None:
    for name in imports(path):
        top = name.split(".")[0]
        if top in DOORS:
            assert room in DOORS[top], f"{path.name} imports {top}; its door is {DOORS[top]}"


def test_the_map_in_the_package_docstring_names_exactly_the_modules() -> None:
    named = set(re.findall(r"^    (\w+) ", builder.__doc__ or "", re.M))
    assert named == {room for room, _ in modules()} - {"__main__"}


def test_files_have_at_most_400_lines() -> None:
    long = [p.name for _, p in modules() if len(p.read_text(encoding="utf-8").splitlines()) > 400]
    assert not long
