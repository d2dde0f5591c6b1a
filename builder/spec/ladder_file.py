"""Reads what a maker read in a flow ladder: readings.yaml, written by `shotbook ladder`, then filled in."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Any

from builder.base import contained, limits
from builder.base.problems import Where
from builder.model import Ladder, LadderReadings, LadderShot, Tables
from builder.spec.own_tables import MOLD_MATERIALS, NAME, PLASTISOLS
from builder.spec.schema import Key, ListOf, Table
from builder.spec.types import SLUG, Choice, Number, Schema, Scope, Text, fault, gather, is_scalar, misfit
from builder.spec.yaml_reader import Node, decode, items, read_yaml

FULL = "full"


class Reached:
    """A length in mm, or the word full."""

    number = Number(0.0, 500.0)

    def read(self, node: Node, scope: Scope) -> float:
        """The length; infinite for full."""
        if is_scalar(node) and node.text.strip() == FULL:
            return float("inf")
        if isinstance(node.value, str):
            raise misfit(node, self.words(scope))
        return float(self.number.read(node, scope))

    def schema(self, scope: Scope) -> Schema:
        """A number or full."""
        return {"anyOf": [self.number.schema(scope), {"const": FULL}]}

    def words(self, scope: Scope = Scope()) -> str:  # noqa: B008 - frozen
        """Its form."""
        return f"{self.number.words(scope)}, or {FULL}"


_LADDER = Table(
    "the ladder",
    (
        Key(
            "gaps_mm", ListOf(Number(0.5, 20.0), 2, 12), "Thickness of each channel.", "[2, 3]", required=True
        ),
        Key("width_mm", Number(2.0, 100.0), "Width of the channels.", "18", required=True),
        Key("length_mm", Number(10.0, 500.0), "Length of the channels.", "80", required=True),
        Key("well_mm", Number(5.0, 200.0), "Bore of the well.", "40", required=True),
        Key("head_mm", Number(5.0, 500.0), "Fill mark above the parting face.", "80", required=True),
    ),
    Ladder,
)
_SHOT = Table(
    "a shot",
    (
        Key("well_c", Number(60.0, 200.0), "In the well, before the gate was lifted.", "170", required=True),
        Key("mold_c", Number(-10.0, 120.0), "Of the mold, before it was filled.", "22", required=True),
        Key(
            "reached_mm",
            ListOf(Reached(), 2, 12),
            "How far each channel filled, the thinnest first.",
            "[12, 20, 27, 38, 47, full]",
            required=True,
        ),
        Key("note", Text(300), "Anything else.", "Cold day"),
    ),
    dict,
)
_ID = Text(40, SLUG.pattern, "small letters and digits joined by hyphens, such as pier-blend", only=True)
READINGS = Table(
    "a file of readings",
    (
        Key("plastisol", _ID, "The name of the plastisol's file to be.", "pier-blend", required=True),
        Key("name", NAME, "What pages call it.", "Pier blend", required=True),
        Key("like", Choice(names=PLASTISOLS), "Which of ours it is most like.", "medium", required=True),
        Key("mold_material", Choice(names=MOLD_MATERIALS), "What it is printed of.", "pla", required=True),
        Key("ladder", _LADDER, "The measures of the ladder.", "{...}", required=True),
        Key("shots", ListOf(_SHOT, 1, 12), "What was read in each filling.", "[...]", required=True),
        Key("stopped_c", Number(60.0, 160.0), "Where it stopped flowing in the cup, on cooling.", "105"),
    ),
    dict,
)


def load(file: Path, tables: Tables) -> LadderReadings:
    """The readings; raises Faults with everything that is wrong with the file."""
    shown = contained.shown(file)
    root = read_yaml(decode(contained.read(file.parent, file.name, limits.OWN_FILE_BYTES), shown), shown)
    names = {
        PLASTISOLS: tuple(one.id for one in tables.plastisols if not one.file),
        MOLD_MATERIALS: tuple(one.id for one in tables.mold_materials),
    }
    known = READINGS.read(root, Scope(names=names))
    found = root.value if isinstance(root.value, dict) else {}
    _refuse_taken(known["plastisol"], names, found["plastisol"].where)
    ladder: Ladder = known["ladder"]
    nodes = items(found.get("shots"))
    shots = gather(
        partial(_shot, shot, node, ladder) for shot, node in zip(known["shots"], nodes, strict=True)
    )
    return LadderReadings(
        id=known["plastisol"],
        name=known["name"],
        like=known["like"],
        mold_material=known["mold_material"],
        ladder=ladder,
        shots=tuple(shots),
        stopped_c=known.get("stopped_c"),
    )


def _refuse_taken(id_: str, names: dict[str, tuple[str, ...]], where: Where) -> None:
    if any(id_ in listed for listed in names.values()):
        raise fault(where, f"{id_} is a name of the builder's own table", "another name")


def _shot(shot: dict[str, Any], node: Node, ladder: Ladder) -> LadderShot:
    """A shot whose readings fit the ladder; a full channel has the ladder's length."""
    reached = shot["reached_mm"]
    if len(reached) != len(ladder.gaps_mm):
        what = f"{len(reached)} lengths are given"
        raise fault(
            node.where, what, f"one for each of the {len(ladder.gaps_mm)} channels, the thinnest first"
        )
    over = [one for one in reached if ladder.length_mm < one < float("inf")]
    if over:
        what = f"{over[0]:g} mm is more than a channel's length of {ladder.length_mm:g} mm"
        raise fault(node.where, what, f"a length in the channel, or {FULL}")
    if shot["mold_c"] >= shot["well_c"]:
        raise fault(node.where, "the mold is as hot as the plastic", "mold_c below well_c")
    return LadderShot(
        well_c=shot["well_c"],
        mold_c=shot["mold_c"],
        reached_mm=tuple(min(one, ladder.length_mm) for one in reached),
    )
