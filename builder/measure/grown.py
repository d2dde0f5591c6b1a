"""A closed mold that is filed as one body: the planes that could be its parting, and the cut along one."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from builder import mesh
from builder.base.problems import Faults
from builder.measure import shot
from builder.measure.closing import covering
from builder.measure.closing.planes import planes
from builder.measure.questions import needs_hint
from builder.model import MoldSpec, Solid, Vec3

Array = NDArray[np.float64]

OUTER_MM = 0.02
"""A facet no farther than this within the hull is of the outside."""
SQUARE = 0.1
"""Directions across each other have a smaller cosine."""
LIKE_SHARE = 1e-3
"""Levels whose undercuts differ by so much of the hollows' projected area are as good."""
LEVEL_MM = 1e-3
SMALL_SHARE = 0.1
"""A smaller piece that stands on the cut belongs to the other half: it is a pin in its socket."""
RIVAL_SHARE = 0.25
"""The best plane is offered, and others that leave less undercut than this."""
KERF_MM = 5e-5
"""The cut goes so far beside the plane, on both sides: a film of the two halves' faces may be left in it."""
CHUNK = 4096


@dataclass(frozen=True, slots=True, kw_only=True)
class Plane:
    """A plane that could be the parting, and how much of the hollows it leaves undercut."""

    at: Vec3
    normal: Vec3
    undercut_share: float

    def parting(self) -> tuple[Vec3, Vec3]:
        """It as mold.yaml has it."""
        return shot.rounded(np.array(self.at), 3), shot.rounded(np.array(self.normal), 3)


def refuse(spec: MoldSpec, solid: Solid, index: int, works: Callable[[MoldSpec], bool]) -> None:
    """Raise with the planes along which the one body can be read as two halves, if there are any."""
    part = spec.parts[index]
    lines = []
    for plane in offered(solid):
        parts = [*spec.parts]
        parts[index] = replace(part, parting=plane.parting())
        if works(replace(spec, parts=tuple(parts))):
            lines.append(f"\n{covering.parts_line(parts)}")
    if lines:
        what = f"{part.file} is one body, which holds both halves of a mold"
        remedy = (
            "export each half as a file of its own; or, to have it read as it is, replace parts with the "
            f"line of the plane that parts the halves, in the file's own coordinates:{''.join(lines)}"
        )
        raise needs_hint(spec, f"parts[{index}].parting", what, "two halves", remedy)


def offered(solid: Solid) -> list[Plane]:
    """One plane across each of the block's directions, that with the least undercut first.

    None for a part whose hollows all look one way, as those of an open mold or of one half do.
    """
    drawn, axes = mesh.facets(solid), list(_axes(solid))
    inner = ~_outer(solid, drawn)
    if not inner.any() or any(_looks_one_way(drawn, inner, axis) for axis in axes):
        return []
    found = (_best(solid, drawn, inner, axis) for axis in axes)
    least, *others = sorted(found, key=lambda plane: plane.undercut_share)
    return [least, *(plane for plane in others if plane.undercut_share < RIVAL_SHARE)]


def _looks_one_way(drawn: mesh.Facets, inner: NDArray[np.bool_], axis: Array) -> bool:
    """True where next to nothing of the hollows looks one way along an axis."""
    seen = drawn.areas_mm2[inner] * (drawn.normals[inner] @ axis)
    up, down = seen[seen > 0].sum(), -seen[seen < 0].sum()
    return bool(min(up, down) <= LIKE_SHARE * max(up, down))


def _axes(solid: Solid) -> Iterator[Array]:
    """Up to three directions across each other: the normals of the largest flat faces."""
    taken: list[Array] = []
    for plane in sorted(planes(solid), key=lambda plane: -plane.area_mm2):
        if all(abs(float(plane.normal @ other)) < SQUARE for other in taken):
            taken.append(plane.normal)
            yield plane.normal


def _outer(solid: Solid, drawn: mesh.Facets) -> NDArray[np.bool_]:
    """Facets (n,) that lie on the solid's hull."""
    corners = mesh.solid(mesh.hull([mesh.body(solid)]), "hull").vertices
    offsets = np.einsum("ij,ij->i", drawn.normals, drawn.centres)
    starts = range(0, len(offsets), CHUNK)
    highest = np.concatenate(
        [(drawn.normals[start : start + CHUNK] @ corners.T).max(axis=1) for start in starts]
    )
    return np.asarray(highest - offsets < OUTER_MM)


def _best(solid: Solid, drawn: mesh.Facets, inner: NDArray[np.bool_], axis: Array) -> Plane:
    """The level along an axis above which the hollows' facets look down and below which they look up."""
    heights = drawn.centres[inner] @ axis
    seen = drawn.areas_mm2[inner] * (drawn.normals[inner] @ axis)
    up, down = np.maximum(seen, 0.0), np.maximum(-seen, 0.0)
    corners = np.round(solid.vertices[np.unique(solid.faces[inner])] @ axis / LEVEL_MM)
    levels, count = np.unique(corners, return_counts=True)
    order = np.argsort(heights, kind="stable")
    high = np.concatenate([np.cumsum(up[order][::-1])[::-1], [0.0]])
    low = np.concatenate([[0.0], np.cumsum(down[order])])
    above = np.searchsorted(heights[order], levels * LEVEL_MM + LEVEL_MM, side="right")
    below = np.searchsorted(heights[order], levels * LEVEL_MM - LEVEL_MM, side="left")
    undercut = high[above] + low[below]
    alike = undercut <= undercut.min() + LIKE_SHARE * up.sum()
    best = int(np.argmax(np.where(alike, count, 0)))
    middle = solid.vertices.mean(axis=0)
    at = middle + (levels[best] * LEVEL_MM - middle @ axis) * axis
    share = float(undercut[best] / up.sum())
    return Plane(at=mesh.vec(at), normal=mesh.vec(axis), undercut_share=share)


def halved(spec: MoldSpec, index: int, solid: Solid, parting: tuple[Vec3, Vec3]) -> list[Solid]:
    """The body cut along a plane; what stands on the cut alone goes to the other side, as a pin does."""
    point, normal = (np.array(vector) for vector in parting)
    turn = mesh.frame(normal)
    level = mesh.placed(mesh.body(solid), turn, -turn @ point)
    sides = [
        [mesh.placed(one, np.eye(3), np.array([0.0, 0.0, move])) for one in mesh.pieces(cut(level, -move))]
        for cut, move in ((mesh.below, KERF_MM), (mesh.above, -KERF_MM))
    ]
    if not all(sides):
        raise _missed(spec, index)
    (lower, pins_up), (upper, pins_down) = (_sorted(side) for side in sides)
    whole = [mesh.union([*lower, *pins_down]), mesh.union([*upper, *pins_up])]
    return [mesh.solid(mesh.placed(side, turn.T, point), solid.name) for side in whole]


def _sorted(side: list[mesh.Body]) -> tuple[list[mesh.Body], list[mesh.Body]]:
    """The pieces of one side of the cut: those of the half, and the small ones."""
    least = SMALL_SHARE * side[0].volume()
    return [one for one in side if one.volume() >= least], [one for one in side if one.volume() < least]


def _missed(spec: MoldSpec, index: int) -> Faults:
    """What to say of a plane that does not meet the body."""
    what = f"the plane of parting does not cut {spec.parts[index].file}"
    return needs_hint(
        spec, f"parts[{index}].parting", what, "a point within the block, in the file's coordinates"
    )
