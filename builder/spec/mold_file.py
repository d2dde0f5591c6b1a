"""mold.yaml to MoldSpec: read, checked against the folder and the tables, all faults at once."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from functools import partial
from pathlib import Path, PurePosixPath
from typing import Any

from builder.base import contained
from builder.base.problems import Where
from builder.model import Kind, MoldSpec, PartSpec, Role, ShotLog, Tables
from builder.spec import defaults
from builder.spec.maker_keys import taken
from builder.spec.mold_keys import MOLD
from builder.spec.schema import Row
from builder.spec.types import SLUG, Schema, Scope, fault, gather
from builder.spec.yaml_reader import Node, items, lines_of, read_file, read_yaml, shorten

FILE = "mold.yaml"
_PORTS = (f"{port}{number}" for port in ("com", "lpt") for number in range(10))
_RESERVED = {"index", "con", "prn", "aux", "nul", *_PORTS}
"""The site's own page, and names that Windows keeps for devices, with any ending."""


def load(folder: Path, tables: Tables | None = None) -> MoldSpec:
    """The spec in a mold's folder; raises Faults with everything that is wrong with it.

    With the tables, the names of plastisols and mold materials are checked against them too.
    """
    file = folder / FILE
    written = read_yaml(read_file(file), str(file))
    root = defaults.completed(written, folder)
    scope = Scope(folder=folder, names=_names(tables))
    slug, values = gather([partial(check_slug, folder), partial(_values, root, scope)])
    return MoldSpec(slug=slug, folder=folder, line_of=dict(lines_of(written)), **values)


def check_slug(folder: Path) -> Any:  # noqa: ANN401 - text, beside values of other types
    """The folder's name, which becomes part of every address; Faults when it cannot."""
    slug = folder.resolve().name
    if len(slug) > 60 or not SLUG.fullmatch(slug) or slug in _RESERVED:
        what = f"the folder's name {shorten(slug)} cannot be part of an address"
        expected = "small letters and digits joined by hyphens, such as reed-minnow, at most 60"
        likely = addressable(slug)
        raise fault(Where(file=str(folder)), what, expected, f"call it {likely}" if likely else "rename it")
    return slug


def check_name(slug: str, molds: Path) -> Path:
    """The folder of a new mold of this name; Faults when the name leads elsewhere or is not an address."""
    if "/" in slug or "\\" in slug or slug in ("", ".", ".."):
        what = f"the name {shorten(slug)} leads to another folder"
        expected = "a name without slashes, such as reed-minnow"
        remedy = "name the folder of all molds with --molds"
        raise fault(Where(file=contained.shown(molds)), what, expected, remedy)
    check_slug(molds / slug)
    return molds / slug


def is_reserved(slug: str) -> bool:
    """True for a name that no mold may have."""
    return slug in _RESERVED


def addressable(name: str) -> str:
    """The name as a URL-safe slug; '' where no character is left.

    >>> addressable("Hälfte A (1)")
    'halfte-a-1'
    """
    letters = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    likely = re.sub(r"[^a-z0-9]+", "-", letters)[:60].strip("-")
    return "" if likely in _RESERVED else likely


def schema(tables: Tables | None = None) -> Schema:
    """The JSON Schema of mold.yaml, in draft-07, the newest that editors support in full."""
    head = {"$schema": "http://json-schema.org/draft-07/schema#", "title": "Shotbook mold"}
    return head | MOLD.schema(Scope(names=_names(tables)))


def reference(tables: Tables | None = None) -> tuple[Row, ...]:
    """Every key of mold.yaml with its type, unit, default, meaning and example, in order."""
    return tuple(MOLD.rows(Scope(names=_names(tables))))


def _names(tables: Tables | None) -> Mapping[str, tuple[str, ...]]:
    if tables is None:
        return {}
    return {
        "plastisols": tuple(entry.id for entry in tables.plastisols),
        "mold materials": tuple(entry.id for entry in tables.mold_materials),
    }


def _values(root: Node, scope: Scope) -> dict[str, Any]:
    """The fields of a MoldSpec by name, defaults filled in where other keys need them."""
    values = {"kind": "injection", "mold_material": "pla", "units": "mm", **MOLD.read(root, scope)}
    found = root.value
    assert isinstance(found, dict)
    folder = scope.folder or Path()
    parts, shots = gather(
        [
            partial(_parts, values["parts"], items(found["parts"]), values["kind"], folder),
            partial(_shots, values.get("shots", ()), items(found.get("shots")), values),
        ]
    )
    return taken(values) | {"parts": parts, "shots": shots}


def _parts(parts: tuple[Any, ...], nodes: tuple[Node, ...], kind: Kind, folder: Path) -> tuple[Any, ...]:
    """The parts with role, name and path filled in; each file and each name once."""
    seen: set[str] = set()
    unnamed = 0

    def made(part: dict[str, Any], node: Node) -> PartSpec:
        nonlocal unnamed
        unnamed += "role" not in part
        role = part.get("role") or _usual_role(kind, unnamed, node)
        name = part.get("name") or PurePosixPath(part["file"]).stem.replace("-", " ").replace("_", " ")
        if (role == "open") != (kind == "open pour") and role in ("open", "half"):
            raise fault(
                node.where, f"role {role} in a mold of kind {kind}", remedy="change the role or the kind"
            )
        for word, what in ((part["file"], "file"), (name, "name")):
            if f"{what} {word.casefold()}" in seen:  # many systems take a.stl and A.STL for one
                raise fault(node.where, f"two parts have the {what} {word}", remedy="list each part once")
            seen.add(f"{what} {word.casefold()}")
        return PartSpec(**{**part, "path": folder / part["file"], "role": role, "name": name})

    return tuple(gather(partial(made, part, node) for part, node in zip(parts, nodes, strict=True)))


def _usual_role(kind: Kind, count: int, node: Node) -> Role:
    """The role of a part that names none: the first in an open pour, the first two otherwise."""
    if count > (1 if kind == "open pour" else 2):
        what = "this part has no role, and the mold is complete without it"
        raise fault(node.where, what, "role: core, plug, blade or bait", "write {file: NAME.stl, role: core}")
    return "open" if kind == "open pour" else "half"


def _shots(shots: tuple[Any, ...], nodes: tuple[Node, ...], values: dict[str, Any]) -> tuple[Any, ...]:
    """The log, each shot with the mold's own plastisol and material unless it names others."""

    def made(shot: dict[str, Any], node: Node) -> ShotLog:
        if "short_at" in shot and shot["outcome"] != "short":
            what = f"short_at is given, but the outcome is {shot['outcome']}"
            raise fault(node.where, what, remedy="remove short_at, or write outcome: short")
        return ShotLog(**{name: values[name] for name in ("plastisol", "mold_material")} | shot)

    return tuple(gather(partial(made, shot, node) for shot, node in zip(shots, nodes, strict=True)))
