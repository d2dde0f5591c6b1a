"""A half that is a plain cover: its face has no cavity, so that outline and holes alone tell its place."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from builder import mesh
from builder.base.problems import Faults
from builder.measure.closing import matching, poses
from builder.measure.closing.matching import Closing, Face
from builder.measure.questions import needs_hint
from builder.model import MoldSpec, PartSpec, Solid

Array = NDArray[np.float64]

SAME_OUTLINE = 0.01
"""Outlines that differ by less than this share of their area are one outline."""
NEAR_MM = 0.4
"""Holes that are screwed or pinned together lie at most this far aside of each other."""
SAME_SHARE = 1e-3
"""Two ways of laying a cover that differ by less than this share of it are one way."""


def ways(ones: Sequence[Face], twos: Sequence[Face]) -> list[Closing]:
    """The ways in which a cover lies on the other half: equal outlines, and as many holes on holes as can be.

    Those whose outlines fit best come first.
    """
    found = [(way, _met(way)) for one in ones for two in twos for way in _laid(one, two)]
    most = max((met for _, met in found), default=0)
    best = [way for way, met in found if met == most]
    opened = max((way.opening_mm2 for way in best), default=0.0)
    best = [way for way in best if way.opening_mm2 > 0.5 * opened]
    return sorted(best, key=lambda way: round(_aside(way), 5))


def different(found: Sequence[Closing], second: Solid) -> list[Closing]:
    """Without ways that lay the second half nearly as an earlier one does, or the same but turned round."""
    kept: list[tuple[Closing, mesh.Body, Array]] = []
    for way in found:
        body, points = mesh.body(way.lay_second(second)), second.vertices @ way.turn.T + way.move
        if not any(
            way.first is old.first and (_same(body, other) or np.abs(points - there).max() < NEAR_MM)
            for old, other, there in kept
        ):
            kept.append((way, body, points))
    return [way for way, _, _ in kept]


def _same(one: mesh.Body, other: mesh.Body) -> bool:
    return float((one - other).volume()) < SAME_SHARE * float(one.volume())


def _aside(way: Closing) -> float:
    """By which share of the first outline the second one lies aside of it."""
    mine = way.first.polygon.convex_hull
    return float(mine.symmetric_difference(_on(way).convex_hull).area / mine.area)


def _laid(one: Face, two: Face) -> Iterator[Closing]:
    """Turns of the second face that bring its outline onto the first's."""
    for way in matching.turns(one, two):
        if _aside(way) < SAME_OUTLINE:
            yield way


def _on(way: Closing) -> shapely.Geometry:
    """The second face as laid on the first."""
    turn = way.turn @ way.second.turn.T
    move = way.move - turn @ way.second.move
    return shapely.transform(way.second.polygon, lambda points: points @ turn[:2, :2].T + move[:2])


def _met(way: Closing) -> int:
    """How many holes of one face lie on a like hole of the other."""
    mine, theirs = poses.rings(way.first.polygon), poses.rings(_on(way))
    return sum(
        any(np.linalg.norm(hole[:2] - other[:2]) < NEAR_MM and _like(hole[2], other[2]) for other in theirs)
        for hole in mine
    )


def _like(one: float, other: float) -> bool:
    """A screw's hole and its thread, a pin and its socket."""
    return 0.4 < one / other < 2.5


def which(spec: MoldSpec, found: Sequence[Closing], first: int, second: int, why: str) -> Faults:
    """The question in which of the ways the halves lie on each other, with a line for each."""
    files = f"{spec.parts[first].file} and {spec.parts[second].file}"
    what = f"{files} fit together in {len(found)} ways, {why}"
    lines = "".join(f"\n{placed(spec, way, first, second)}" for way in found)
    remedy = f"replace parts with the right one of these lines; the pictures show which it is:{lines}"
    return needs_hint(spec, f"parts[{second}].placing", what, "", remedy)


def placed(spec: MoldSpec, way: Closing, first: int, second: int) -> str:
    """The mold's parts with this way of closing, as a line for mold.yaml."""
    laid = {first: (way.first.turn, way.first.move), second: (way.turn, way.move)}
    return parts_line(spec.parts, laid)


def parts_line(parts: Sequence[PartSpec], laid: Mapping[int, tuple[Array, Array]] | None = None) -> str:
    """Parts as a line for mold.yaml, with all that it tells of them; those `laid` with the place found."""
    found = laid or {}
    return f"parts: [{', '.join(_told(part, found.get(k)) for k, part in enumerate(parts))}]"


def _told(part: PartSpec, laid: tuple[Array, Array] | None) -> str:
    """One part as mold.yaml has it, with its place if that is found."""
    told = [f"file: {part.file}", f"role: {part.role}"]
    if part.units:
        told.append(f"units: {part.units}")
    if part.parting and not laid:
        at, normal = part.parting
        told.append(f"parting: {{at_mm: {list(at)}, normal: {list(normal)}}}")
    if part.placing and not laid:
        turn, move = list(part.placing.turn_deg), list(part.placing.move_mm)
        mirror = ", mirror: true" if part.placing.mirror else ""
        told.append(f"placing: {{turn_deg: {turn}, move_mm: {move}{mirror}}}")
    if laid:
        turned, moved = angles_deg(laid[0]), (round(float(v), 3) + 0.0 for v in laid[1])
        told.append(f"placing: {{turn_deg: {list(turned)}, move_mm: {list(moved)}}}")
    return f"{{{', '.join(told)}}}"


def angles_deg(turn: Array) -> tuple[float, float, float]:
    """The turns about x, then y, then z that make a rotation (3, 3), degrees.

    >>> quarter = np.array([[0.0, -1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
    >>> angles_deg(quarter)
    (0.0, 0.0, 90.0)
    """
    y = math.asin(max(-1.0, min(1.0, -turn[2, 0])))
    if abs(turn[2, 0]) < 1 - 1e-9:
        x, z = math.atan2(turn[2, 1], turn[2, 2]), math.atan2(turn[1, 0], turn[0, 0])
    else:
        x, z = math.atan2(-turn[1, 2], turn[1, 1]), 0.0
    degrees = [round(math.degrees(angle), 3) + 0.0 for angle in (x, y, z)]
    return degrees[0], degrees[1], degrees[2]
