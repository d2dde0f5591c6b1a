"""The keeper's own plastisols and mold materials: plastisols/NAME.yaml and mold_materials/NAME.yaml.

They lie beside the folder of the molds and come from wherever molds come from, so they are read as strictly.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from builder.base import contained, limits
from builder.base.problems import Where
from builder.model import MoldMaterial, Plastisol, Sourced, Tables
from builder.spec.material_values import MOLD, PLASTISOL, value_keys
from builder.spec.schema import Key, MapOf, Table
from builder.spec.types import SLUG, Choice, Scope, Text, Type, fault, gather
from builder.spec.yaml_reader import Node, decode, read_yaml, shorten

PLASTISOLS, MOLD_MATERIALS = "plastisols", "mold_materials"
"""The folders."""
NAME = Text(60, r"[^{}<>\n]+", "a name without braces or angle brackets")
_SOURCE_KEY = re.compile(r"[a-z0-9_]{1,30}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One kind of file: its folder, what an entry is called, its values."""

    folder: str
    what: str
    values: Mapping[str, Type]

    def table(self, *, whole: bool) -> Table:
        """The keys of a file; `whole` where it names no entry that gives what is left out."""
        head = (
            Key("name", NAME, "What pages call it.", "Pier blend", required=True),
            Key("like", Choice(names=self.folder), "An entry that gives the values left out here.", "medium"),
            Key("sources", MapOf(Text(500)), "Where your values are from, by key.", "{scale: Weighed by me}"),
        )
        return Table(self.what, (*head, *value_keys(self.values, required=whole)), dict)


KINDS = (
    Kind(folder=PLASTISOLS, what="a plastisol's file", values=PLASTISOL),
    Kind(folder=MOLD_MATERIALS, what="a mold material's file", values=MOLD),
)


def added(tables: Tables, root: Path) -> Tables:
    """The tables with the keeper's own entries below `root`; Faults of all files together."""
    known = [*(one.id for one in tables.plastisols), *(one.id for one in tables.mold_materials)]
    kinds = gather(partial(_kind, root, kind, tables, known) for kind in KINDS)
    read = [one for listed in kinds for one in listed]
    gather(partial(_refuse_twin, root, entry, kinds[0]) for entry, _ in kinds[1])
    plastisols = [entry for entry, _ in read if isinstance(entry, Plastisol)]
    molds = [entry for entry, _ in read if isinstance(entry, MoldMaterial)]
    sources = {key: text for _, told in read for key, text in told.items()}
    return replace(
        tables,
        plastisols=(*tables.plastisols, *plastisols),
        mold_materials=(*tables.mold_materials, *molds),
        sources={**tables.sources, **sources},
    )


def _kind(
    root: Path, kind: Kind, tables: Tables, known: Sequence[str]
) -> list[tuple[Plastisol | MoldMaterial, dict[str, str]]]:
    """The entries of all files of a kind with their sources; Faults for what else lies there."""
    place = root / kind.folder
    if not contained.exists(place):
        return []
    if not contained.is_folder(place):
        raise fault(Where(file=contained.shown(place)), "this is not a folder", "a folder of YAML files")
    found = [name for name in contained.files(place) if not name.startswith(".")]
    if len(found) > limits.OWN_FILES:
        what = f"there are {len(found)} files"
        raise fault(Where(file=contained.shown(place)), what, f"at most {limits.OWN_FILES}")
    return gather(partial(_entry, root, kind, name, tables, known) for name in found)


def _refuse_name(place: Path, name: str) -> None:
    """Raise where a file's name can be no entry's."""
    stem, _, ending = name.partition(".")
    if ending != "yaml" or len(stem) > 40 or not SLUG.fullmatch(stem):
        what = f"{shorten(name)} is not a name for a plastisol or a mold material"
        expected = "small letters and digits joined by hyphens, then .yaml, such as pier-blend.yaml"
        raise fault(Where(file=contained.shown(place / name)), what, expected, "rename it")


def _refuse_twin(
    root: Path, entry: Plastisol | MoldMaterial, others: Sequence[tuple[Plastisol | MoldMaterial, object]]
) -> None:
    """Raise where a plastisol and a mold material have one name."""
    if entry.id in [other.id for other, _ in others]:
        where = Where(file=contained.shown(root / entry.file))
        raise fault(where, "a plastisol has this name already", remedy="rename one of them")


def _entry(
    root: Path, kind: Kind, file: str, tables: Tables, known: Sequence[str]
) -> tuple[Plastisol | MoldMaterial, dict[str, str]]:
    """The entry of one file, and its sources by the key that the tables get."""
    path = root / kind.folder / file
    _refuse_name(root / kind.folder, file)
    id_ = file.removesuffix(".yaml")
    if id_ in known:
        what = f"{id_} is a name of the builder's own table"
        raise fault(Where(file=contained.shown(path)), what, "another name", "rename the file")
    text = decode(contained.read(root, f"{kind.folder}/{file}", limits.OWN_FILE_BYTES), contained.shown(path))
    node = read_yaml(text, contained.shown(path))
    given = node.value if isinstance(node.value, dict) else {}
    sources = given.get("sources")
    keys = tuple(sources.value) if sources and isinstance(sources.value, dict) else ()
    table = kind.table(whole="like" not in given)
    values, *_ = gather(
        [
            partial(table.read, node, _scope(tables, keys)),
            partial(_refuse_keys, sources, keys, tables),
            partial(_refuse_disorder, kind, given, tables),
        ]
    )
    return _made(kind, id_, f"{kind.folder}/{file}", values, tables)


def _made(
    kind: Kind, id_: str, file: str, values: dict[str, Any], tables: Tables
) -> tuple[Plastisol | MoldMaterial, dict[str, str]]:
    """The record; its own sources are told under its name."""
    told = {key: f"{id_}-{key}" for key in values.get("sources", {})}
    own = {
        name: replace(values[name], source=told.get(values[name].source, values[name].source))
        for name in kind.values
        if name in values
    }
    base = _like(kind, values.get("like", ""), tables)
    record = Plastisol if kind.folder == PLASTISOLS else MoldMaterial
    entry = record(id=id_, values={**base, **own}, name=values["name"], file=file)
    return entry, {told[key]: text for key, text in values.get("sources", {}).items()}


def _like(kind: Kind, id_: str, tables: Tables) -> Mapping[str, Sourced]:
    """The values of the builder's entry that a file follows; none without one."""
    listed: Sequence[Plastisol | MoldMaterial]
    listed = tables.plastisols if kind.folder == PLASTISOLS else tables.mold_materials
    return next((entry.values for entry in listed if entry.id == id_), {})


def _scope(tables: Tables, keys: Sequence[str]) -> Scope:
    return Scope(
        names={
            "sources": (*keys, *tables.sources),
            PLASTISOLS: tuple(one.id for one in tables.plastisols),
            MOLD_MATERIALS: tuple(one.id for one in tables.mold_materials),
        }
    )


def _refuse_keys(node: Node | None, keys: Sequence[str], tables: Tables) -> None:
    """Raise where a source's key is none, or one of the builder's own."""
    found = node.value if node and isinstance(node.value, dict) else {}

    def check(key: str) -> None:
        where = found[key].named
        if not _SOURCE_KEY.fullmatch(key):
            what = f"{shorten(key)} is not a key of a source"
            raise fault(where, what, "small letters, digits and _, at most 30, such as data_sheet")
        if key in tables.sources:
            raise fault(where, f"{key} is a source of the builder's own tables", "another key")

    gather(partial(check, key) for key in keys)


_ORDER = (
    ("cold", "high", "demold", "low", "it is cold all through before it keeps its shape"),
    ("demold", "value", "set", "value", "it keeps its shape while it still flows"),
    ("set", "high", "shoot", "low", "it has set at a temperature that it is shot at"),
)
"""What must lie below what: the first value's end, the second's, and what would follow else."""


def _refuse_disorder(kind: Kind, given: Mapping[str, Node], tables: Tables) -> None:
    """Raise where the temperatures of a plastisol contradict each other, or pass the builder's limit."""
    if kind.folder != PLASTISOLS:
        return
    like = given["like"].value if "like" in given else ""
    base = _like(kind, str(like), tables)

    def end(name: str, which: str) -> Any:  # noqa: ANN401 - whatever the file holds there
        if name not in given:
            return getattr(base[name], which) if name in base else None
        inner = given[name].value
        return inner[which].value if isinstance(inner, dict) and which in inner else None

    def check(name: str, which: str, above: str, other: str, then: str) -> None:
        low, high = end(name, which), end(above, other)
        if isinstance(low, int | float) and isinstance(high, int | float) and low >= high:
            place = given.get(name) or given.get(above)
            if place is not None:
                what = f"{which} of {name} is {low:g} °C, and {other} of {above} is {high:g} °C: {then}"
                raise fault(place.where, what, f"{name} below {above}")

    def check_limit() -> None:
        most = max(one.values["limit"].low for one in tables.plastisols)
        found = end("limit", "low")
        if "limit" in given and isinstance(found, int | float) and found > most:
            what = f"the limit of {found:g} °C is higher than the trade's"
            raise fault(given["limit"].where, what, f"at most {most:g} °C")

    gather([*(partial(check, *rule) for rule in _ORDER), partial(check_limit)])
