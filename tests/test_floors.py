"""The house holds: imports point down only, without circles, and each third-party library has one door."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

import builder

ROOT = Path(builder.__file__).parent
ROOMS_AT_MOST = 20

FLOORS = (
    {"model"},
    {"base"},
    {"spec", "mesh", "physics"},
    {"measure", "advice", "pictures"},
    {"stages"},
    {"build"},
    {"history"},
    {"site"},
    {"release"},
    {"theme"},
    {"plugin"},
    {"cli"},
    {"__main__"},
)
"""Rooms from the bottom up. A room imports itself and lower floors, never a room beside it."""
DOORS = {
    "yaml": {"spec.yaml_reader"},
    "distributed": {"base.workers"},
    "trimesh": {"mesh", "pictures"},
    "manifold3d": {"mesh"},
    "embreex": {"pictures.render.rays"},
    "PIL": {"pictures"},
    "segno": {"site.qr"},
    "jinja2": {"site.pages.html"},
    "mkdocs": {"plugin"},
    "click": {"cli"},
    "shapely": {"mesh", "measure"},
    "numpy": {"model", "mesh", "physics", "measure", "advice", "pictures", "release.formats"},
    "scipy": {"mesh", "physics", "measure", "advice", "pictures"},
}
"""Modules, or rooms, that may import a library. The model imports numpy for annotations only."""


def modules() -> Iterator[tuple[str, Path]]:
    """Each module's dotted name below `builder`, and its file."""
    for path in sorted(ROOT.rglob("*.py")):
        parts = path.relative_to(ROOT).with_suffix("").parts
        name = ".".join(part for part in parts if part != "__init__")
        if name:
            yield name, path


MODULES = dict(modules())


@cache
def imports(path: Path) -> frozenset[str]:
    """Full names of the modules that a file imports."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name}: relative import; write it in full"
            module = node.module or ""
            for alias in node.names:
                full = f"{module}.{alias.name}"
                found.add(full if full.removeprefix("builder.") in MODULES else module)
    return frozenset(found)


def floor(room: str) -> int:
    return next(index for index, rooms in enumerate(FLOORS) if room in rooms)


def room_of(module: str) -> str:
    return module.split(".", maxsplit=1)[0]


def is_within(module: str, places: set[str]) -> bool:
    return any(module == place or module.startswith(f"{place}.") for place in places)


@pytest.mark.parametrize("module", MODULES)
def test_imports_point_down_only(module: str) -> None:
    room = room_of(module)
    for name in imports(MODULES[module]):
        if name.startswith("builder."):
            other = room_of(name.removeprefix("builder."))
            assert other == room or floor(other) < floor(room), f"{module} imports {name}"


def test_no_modules_import_each_other_in_a_circle() -> None:
    graph = {
        module: {
            name.removeprefix("builder.")
            for name in imports(path)
            if name.startswith("builder.") and not module.startswith(name.removeprefix("builder.") + ".")
        }
        - {module}
        for module, path in MODULES.items()
    }
    assert set(TopologicalSorter(graph).static_order()) >= set(MODULES)


@pytest.mark.parametrize("module", MODULES)
def test_each_library_has_one_door(module: str) -> None:
    for name in imports(MODULES[module]):
        top = name.split(".")[0]
        if top in DOORS:
            assert is_within(module, DOORS[top]), f"{module} imports {top}; its door is {DOORS[top]}"


def test_the_map_in_the_package_docstring_names_exactly_the_rooms_in_the_order_of_the_floors() -> None:
    named = re.findall(r"^    (\w+) ", builder.__doc__ or "", re.M)
    assert set(named) == {room_of(module) for module in MODULES} - {"__main__"}
    assert [floor(room) for room in named] == sorted(floor(room) for room in named)


def test_the_listing_of_the_package_shows_at_most_twenty_rooms() -> None:
    rooms = {path.name for path in ROOT.iterdir() if not path.name.startswith(("__", "."))}
    assert len(rooms) <= ROOMS_AT_MOST, sorted(rooms)


def test_files_have_at_most_400_lines() -> None:
    files = [*ROOT.rglob("*.py"), *Path(__file__).parent.rglob("*.py")]
    long = {str(path): n for path in files if (n := len(path.read_text("utf-8").splitlines())) > 400}
    assert not long
