"""A block in more than two pieces that lie closed in their files: two are the halves, the others close it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import combinations

from builder import mesh
from builder.base.problems import Faults
from builder.measure.closing import covering, lying
from builder.measure.questions import needs_hint
from builder.model import MoldSpec, Role, Solid

OUTSIDE_SHARE = 0.7
"""A part of which more lies outside of the two halves is a piece of the block."""
TOUCHING_MM2 = 25.0
"""Halves touch on more than this."""


def roles(solids: Sequence[Solid]) -> list[Role] | None:
    """The two parts that touch most are the halves; others are plugs outside of them, or cores within.

    None where the parts do not lie closed, as each of them touches another then.
    """
    touching = {
        pair: _touching_mm2(solids[pair[0]], solids[pair[1]]) for pair in combinations(range(len(solids)), 2)
    }
    joined = {k for pair, area in touching.items() if area > TOUCHING_MM2 for k in pair}
    if len(joined) < len(solids):
        return None
    first, second = max(touching, key=lambda pair: touching[pair])
    around = mesh.hull([mesh.body(solids[k]) for k in (first, second)])
    return ["half" if k in (first, second) else _other(solids[k], around) for k in range(len(solids))]


def _touching_mm2(one: Solid, other: Solid) -> float:
    """How much of two parts lies face to face, as they are filed."""
    found = lying.contact(one, other)
    return found.area_mm2 if found else 0.0


def _other(solid: Solid, around: mesh.Body) -> Role:
    """A plug if most of a part lies outside of the halves, else a core."""
    return "plug" if is_outside(mesh.body(solid), around) else "core"


def refuse_outside(spec: MoldSpec, bodies: Sequence[mesh.Body], outer: mesh.Body) -> None:
    """Raise where most of a core lies outside of the halves: it is a piece of the block, or a cap."""
    printed = [index for index, part in enumerate(spec.parts) if part.role != "bait"]
    for index, body in zip(printed, bodies, strict=True):
        part = spec.parts[index]
        if part.role == "core" and is_outside(body, outer):
            what = f"most of {part.file} lies outside of the two halves, so it is no core within them"
            remedy = (
                "write role: plug if it closes the mold there, as an end cap, a base plate or a piece of the "
                "block does; else check how it lies"
            )
            raise needs_hint(spec, f"parts[{index}].role", what, "a core between the halves", remedy)


def is_outside(body: mesh.Body, around: mesh.Body) -> bool:
    """True if most of a part lies outside of the two halves' hull: it is a piece of the block, or a cap."""
    return bool((body - around).volume() > OUTSIDE_SHARE * body.volume())


def refuse(spec: MoldSpec, solids: Sequence[Solid], works: Callable[[MoldSpec], bool]) -> None:
    """Raise where more than two parts are halves, with the roles by which the mold can be read, if any."""
    halves = [k for k, part in enumerate(spec.parts) if part.role == "half"]
    if spec.kind != "injection" or len(halves) <= 2 or any(part.placing for part in spec.parts):
        return
    found = roles([solids[k] for k in halves])
    if found is None:
        return
    parts = list(spec.parts)
    for k, role in zip(halves, found, strict=True):
        parts[k] = replace(parts[k], role=role)
    told = replace(spec, parts=tuple(parts))
    if works(told):
        raise _asked(told, len(halves))


def _asked(told: MoldSpec, count: int) -> Faults:
    """The question which pieces are the halves, with the line to paste."""
    return needs_hint(
        told,
        "parts",
        f"the mold has {count} parts of role half, which lie closed in their files",
        "two halves, and the other pieces of the block as plugs",
        f"replace parts with this line:\n{covering.parts_line(told.parts)}",
    )
