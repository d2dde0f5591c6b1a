"""A part of a mold that is told to be a bait, and a bait that is told to be a part of a mold."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from builder import mesh
from builder.measure import noise
from builder.measure.closing import covering, matching
from builder.measure.closing.planes import DRAWN, WARPED, Plane, planes
from builder.measure.questions import needs_hint
from builder.model import Finding, MoldSpec, Solid, Vouch

BLOCKY = "reading.blocky"
"""Says that a part which is told to be a bait looks like a part of a mold."""
SQUARE_SHARE = 0.6
"""A block has so much of its surface in faces that are square to each other."""
OPEN_SHARE = 0.03
"""One of its large faces opens by this share of its own area: into a cavity, or for bolts."""
LARGE_SHARE = 0.1
ROUND_SHARE = 0.12
"""What has less of its surface in flat faces is round all over, as baits are."""
FILLING, NEAR_MM, LOOKS = 0.8, 0.05, 1500
"""A bait as a solid has such a share of its surface so near to the halves; a core only where it is seated."""
ALONG, SQUARE = 0.999, 0.02
FACETS = 300
"""A bait of fewer facets may be flat all over."""


def refuse(spec: MoldSpec, solids: Sequence[tuple[Solid, Vouch]]) -> None:
    """Raise where a half is round all over."""
    for index, (part, (solid, _)) in enumerate(zip(spec.parts, solids, strict=True)):
        if part.role in ("half", "open") and len(solid.faces) > FACETS and _is_round(solid):
            what = f"{part.file} is listed as a part of the mold, but is round all over, as a bait is"
            remedy = "write role: bait if it is the bait, and list both halves; else check the file"
            raise needs_hint(spec, f"parts[{index}].role", what, "flat faces", remedy)


def refuse_positive(
    spec: MoldSpec, cores: Sequence[mesh.Body], around: Sequence[mesh.Body], plastic_mm3: float
) -> None:
    """Raise where a core fills its hollow all round, and more than is left for plastic: it is the bait.

    `cores` are the printed parts that are no halves, in the spec's order.
    """
    others = [part for part in spec.parts if part.role not in ("half", "open", "bait")]
    for part, body in zip(others, cores, strict=True):
        if part.role == "core" and body.volume() > plastic_mm3 and _touched_share(body, around) > FILLING:
            what = f"{part.file} fills a hollow between the halves all round, as a solid of the bait does"
            parts = [replace(one, role="bait") if one is part else one for one in spec.parts]
            line = covering.parts_line(parts)
            remedy = f"if it is the bait itself, replace parts with this line:\n{line}"
            raise needs_hint(spec, f"parts[{spec.parts.index(part)}].role", what, "", remedy)


def _touched_share(body: mesh.Body, others: Sequence[mesh.Body]) -> float:
    """Share of a part's surface that lies on others; it is asked at places as many for each mm2."""
    drawn, around = mesh.facets(mesh.solid(body, "core")), mesh.union(others)
    until = np.cumsum(drawn.areas_mm2)
    asked = np.searchsorted(until, until[-1] * (np.arange(LOOKS) + 0.5) / LOOKS)
    met = [
        bool(around.ray_cast(tuple(at - NEAR_MM * normal), tuple(at + NEAR_MM * normal)))
        for at, normal in zip(drawn.centres[asked], drawn.normals[asked], strict=True)
    ]
    return float(np.mean(met))


def said(spec: MoldSpec, solids: Sequence[tuple[Solid, Vouch]]) -> list[Finding]:
    """A warning for each bait that looks like a part of a mold."""
    return [
        Finding(level="warn", code=BLOCKY, values={"file": part.file})
        for part, (solid, _) in zip(spec.parts, solids, strict=True)
        if part.role == "bait" and is_block(solid)
    ]


def _is_round(solid: Solid) -> bool:
    """True for a surface without flat faces; those that are flat but for a little noise count as flat."""
    if noise.rough_share(solid) >= noise.ROUGH_SHARE:
        return False
    least = ROUND_SHARE * mesh.area_mm2(solid)
    return all(sum(plane.area_mm2 for plane in planes(solid, flat=flat)) < least for flat in (DRAWN, WARPED))


def is_block(solid: Solid) -> bool:
    """True for square flat faces that make up most of the surface, one of them with openings."""
    flats, total = list(planes(solid)), mesh.area_mm2(solid)
    lead = max(flats, key=lambda plane: plane.area_mm2)
    square = [plane for plane in flats if _is_square(plane, lead)]
    if sum(plane.area_mm2 for plane in square) < SQUARE_SHARE * total:
        return False
    large = [plane for plane in square if plane.area_mm2 > LARGE_SHARE * total]
    faces = (matching.face_of(solid, plane) for plane in large)
    return any(face.opening_mm2 > OPEN_SHARE * face.polygon.area for face in faces)


def _is_square(plane: Plane, lead: Plane) -> bool:
    """True for a plane that lies along or square to another."""
    along = abs(float(np.dot(plane.normal, lead.normal)))
    return along > ALONG or along < SQUARE
