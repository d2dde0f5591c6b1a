"""Halves that are filed closed: where they touch as they lie, and the closed mold's frame from that.

A curved or contoured parting has no flat face to be found by, so it is tried as it lies before any turn.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from builder import mesh
from builder.measure.closing import poses
from builder.measure.closing.matching import Closing, Face
from builder.measure.closing.planes import planes
from builder.model import Solid

Array = NDArray[np.float64]

LOOKS = 1500
"""Facets of the first half that are asked whether the second lies on them: the largest."""
REACH_MM = 0.03
"""Facets this near, face to face, touch: curved faces meshed twice differ by their chords."""
FACING = -0.98
CONTACT_SHARE = 0.15
"""Halves that touch on less of the mold's outline do not lie closed: they stand side by side."""
FLAT_SHARE = 0.5
"""Where more of the contact lies in one plane, the parting is found by that plane."""
PARALLEL_SHARE = 0.8
"""...unless so much of it looks another way, as that of a parting with a kink does."""
LEVEL_MM = 0.05
LEVEL = 0.9998
UPRIGHT = 0.996
"""The largest flat face within 5 degrees of the mean parting, as a back is, sets the frame."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Contact:
    """Where two halves touch: the mean normal out of the first, a point, and how much lies in one plane."""

    normal: Array
    point: Array
    area_mm2: float
    """How much of them touches, seen along the normal."""
    share: float
    flat_share: float
    parallel_share: float
    """How much of it looks one way, also on several levels."""

    @property
    def is_flat(self) -> bool:
        """True where a flat face sets the parting."""
        return self.flat_share >= FLAT_SHARE and self.parallel_share >= PARALLEL_SHARE


def contact(first: Solid, second: Solid) -> Contact | None:
    """The contact of two halves as they lie, None where they do not touch."""
    drawn = mesh.facets(first)
    normals, areas, centres = drawn.normals, drawn.areas_mm2, drawn.centres
    largest = np.argsort(-areas, kind="stable")[:LOOKS]
    low, high = second.vertices.min(axis=0) - REACH_MM, second.vertices.max(axis=0) + REACH_MM
    near = largest[((centres[largest] >= low) & (centres[largest] <= high)).all(axis=1)]
    body = mesh.body(second)
    hit = np.array([_touched(body, centres[k], normals[k]) for k in near], dtype=bool)
    touching = near[hit]
    if not len(touching):
        return None
    weight = areas[touching]
    mean = weight @ normals[touching]
    length = float(np.linalg.norm(mean))
    if length < 0.5 * weight.sum():  # the walls of a tongue: no parting
        return None
    normal = _squared(first, mean / length)
    lead = touching[int(np.argmax(weight))]
    level = np.abs((centres[touching] - centres[lead]) @ normals[lead]) < LEVEL_MM
    parallel = normals[touching] @ normals[lead] > LEVEL
    return Contact(
        normal=normal,
        point=(weight / weight.sum()) @ centres[touching],
        area_mm2=length,
        share=length / _outline(first, normal).area,
        flat_share=float(weight[level & parallel].sum() / weight.sum()),
        parallel_share=float(weight[parallel].sum() / weight.sum()),
    )


def _touched(body: mesh.Body, at: Array, normal: Array) -> bool:
    """True if a body's face lies against a facet."""
    hits = body.ray_cast(tuple(at - REACH_MM * normal), tuple(at + REACH_MM * normal))
    return any(float(np.dot(hit.normal, normal)) < FACING for hit in hits)


def _squared(solid: Solid, normal: Array) -> Array:
    """The normal of the largest flat face that looks along a direction, or the direction itself.

    A curved parting is met by facets of any small tilt: the nearest of them would lay the block askew.
    """
    likely = (plane for plane in planes(solid) if abs(plane.normal @ normal) > UPRIGHT)
    best = max(likely, key=lambda plane: plane.area_mm2, default=None)
    return normal if best is None else best.normal * np.sign(best.normal @ normal)


def squared(way: Closing, first: Solid) -> Closing:
    """The closing by a curved parting, with the block's back upright to z: only so has it its size."""
    up = way.first.turn @ _squared(first, way.first.turn[2])
    axis = np.cross(up, (0.0, 0.0, 1.0))
    x, y, z = axis
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    turn = np.eye(3) + cross + cross @ cross / (1.0 + up[2])  # Rodrigues, from `up` to z
    face = replace(way.first, turn=turn @ way.first.turn, move=turn @ way.first.move)
    return replace(way, first=face, turn=turn @ way.turn, move=turn @ way.move)


def _outline(solid: Solid, normal: Array) -> shapely.Geometry:
    """The solid's hull seen along a direction."""
    return shapely.MultiPoint((solid.vertices @ mesh.frame(normal).T)[:, :2]).convex_hull


def closing(first: Solid, found: Contact) -> Closing:
    """The way in which the halves lie already: the parting's middle on z = 0, the long side along x."""
    turn = mesh.frame(found.normal)
    move = -turn @ found.point
    outline = shapely.MultiPoint((first.vertices @ turn.T + move)[:, :2]).convex_hull
    level = poses.levelled(outline)
    face = Face(
        turn=level[:3, :3] @ turn,
        move=level[:3, :3] @ move + level[:3, 3],
        polygon=outline,
        opening_mm2=0.0,
        rim=np.zeros(0, np.int32),
        curl_mm=0.0,
        wave_mm=0.0,
    )
    return Closing(
        first=face,
        second=face,
        turn=face.turn,
        move=face.move,
        mismatch=0.0,
        opening_mm2=0.0,
        mirrored=False,
        contoured=True,
    )
