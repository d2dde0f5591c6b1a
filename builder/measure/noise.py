"""Meshes whose faces are rough all over, as scans and photographs make them: told before they are read."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from builder import mesh
from builder.base.problems import Faults
from builder.measure.closing.planes import planes
from builder.measure.questions import needs_hint
from builder.mesh.flat_regions import neighbours
from builder.model import MoldSpec, Solid

BEND = float(np.sin(np.radians(0.5)))
"""Facets that bend by less from each other are one face with rounding..."""
STEP_MM = 0.0015
"""...unless they are so large that one leaves the other's plane by this: then no two vertices lie level."""
SHARP = float(np.sin(np.radians(30.0)))
"""Sharper bends are edges as drawn, those of a pocket for instance."""
ROUGH_SHARE = 0.15
"""Where so much of the surface bends both in and out at once, its faces are noise and none of them is flat.

Clean drawn molds stay below 0.13; with noise of 0.001 mm it is 0.03, at 0.002 mm 0.18, at 0.008 mm 0.6.
"""
FLAT_SHARE = 0.05
"""A mold with a level face of so much of its surface was drawn, whatever skin its bait has."""
SURELY_SHARE, FEW = (0.4, 0.28), (2000, 8000)
"""Parts of more triangles than that are noise from this share on, if they do not close. Coarse saddles bend
both ways too: on up to 0.31 of clean parts of 4000 triangles, and 0.22 of 21 000."""


def is_rough(solid: Solid) -> bool:
    """True where the faces are noise, and none of them is flat enough to read by."""
    if rough_share(solid) <= ROUGH_SHARE:
        return False
    largest = max((plane.area_mm2 for plane in planes(solid)), default=0.0)
    return largest < FLAT_SHARE * mesh.area_mm2(solid)


def refuse_surely_rough(spec: MoldSpec, solids: Sequence[Solid]) -> None:
    """Raise where so much of a part of the mold is noise that, if the parts do not close, this is why."""
    share, index = _roughest(spec, solids)
    if _is_sure(share, solids[index]):
        raise refusal(spec, index, solids[index])


def explained(spec: MoldSpec, solids: Sequence[Solid], faults: Faults) -> Faults:
    """The faults of a mold whose parts do not close, or the noise on one of them where that is why."""
    share, index = _roughest(spec, solids)
    parted = any(problem.where.key.startswith("hints.gates") for problem in faults.problems)
    return refusal(spec, index, solids[index]) if not parted and _is_sure(share, solids[index]) else faults


def _is_sure(share: float, solid: Solid) -> bool:
    """True for a share that no clean part of so many triangles has."""
    return share > SURELY_SHARE[len(solid.faces) > FEW[1]]


def _roughest(spec: MoldSpec, solids: Sequence[Solid]) -> tuple[float, int]:
    """The largest share of noise on a part of the mold that is not too coarse to tell, and which part."""
    shares = [
        (rough_share(solid), index)
        for index, solid in enumerate(solids)
        if spec.parts[index].role != "bait"  # a scan of the bait itself needs no flat faces
        and len(solid.faces) > FEW[0]
    ]
    return max(shares, default=(0.0, 0))


def refusal(spec: MoldSpec, index: int, solid: Solid) -> Faults:
    """What to say of a part that is rough all over."""
    what = f"{spec.parts[index].file} is rough on {rough_share(solid):.0%} of its surface, as a scan is"
    remedy = "export it from the CAD, or let a mesh editor smooth and flatten its faces first"
    return needs_hint(spec, f"parts[{index}].file", what, "smooth and flat faces", remedy)


@lru_cache(maxsize=8)
def rough_share(solid: Solid) -> float:
    """Share of the surface whose facets bend outwards at one edge and inwards at another."""
    drawn = mesh.facets(solid)
    normals, areas, centres = drawn.normals, drawn.areas_mm2, drawn.centres
    one, two = neighbours(solid.faces)[1].T
    way = centres[two] - centres[one]
    apart = np.maximum(np.linalg.norm(way, axis=1), 1e-12)
    way /= apart[:, None]
    least = np.minimum(BEND, STEP_MM / apart)
    rise = np.einsum("ij,ij->i", normals[one], way), -np.einsum("ij,ij->i", normals[two], way)
    bends = [np.zeros(len(solid.faces), dtype=bool) for _ in range(2)]
    for ends, height in zip((one, two), rise, strict=True):
        bends[0][ends[(height > least) & (height < SHARP)]] = True
        bends[1][ends[(height < -least) & (height > -SHARP)]] = True
    return float(areas[bends[0] & bends[1]].sum() / areas.sum())
