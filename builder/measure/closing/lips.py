"""Halves that meet on a raised lip round the cavity: the rest of one face lies lower, and touches nothing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from builder import mesh
from builder.measure.closing import matching
from builder.measure.closing.matching import Closing, Face
from builder.measure.closing.planes import Plane, planes
from builder.model import Solid

LEVEL = 1 - 2e-6
HIGH_MM = (0.02, 3.0)
"""A lip stands so much higher than the rest of its face."""
LEAST = 0.03
"""The lip, and the face below it, have at least this share of the part's largest outline."""
ON_IT = 0.9
"""So much of the lip lies on the other half."""


def ways(
    first: Solid, second: Solid, ones: Sequence[Face], twos: Sequence[Face], overlap: float
) -> Iterator[Closing]:
    """Ways in which halves lie on a lip of one or of both, the best first; faces without a lip are given.

    The halves share no more than `overlap` of the smaller one.
    """
    my_lips, their_lips = faces(first), faces(second)
    found = matching.closings(first, second, my_lips, [*twos, *their_lips]) if my_lips else []
    found += matching.closings(first, second, ones, their_lips) if their_lips and ones else []
    for way in found:
        lower, upper = way.lay_first(first), way.lay_second(second)
        fits = not way.mirrored and matching.overlap_share(lower, upper) <= overlap
        if fits and _lies_on_it(lower, upper):
            yield way


def seems_curled(way: Closing) -> bool:
    """True where a face is not level: what is taken for a print's curl may be a low lip."""
    return max(way.first.curl_mm, way.second.curl_mm) > HIGH_MM[0]


def _lies_on_it(lower: Solid, upper: Solid) -> bool:
    """True if the smaller of the two faces at z = 0, which is the lip, lies on the other."""
    levels = ((lower, -matching.TOUCH_MM), (upper, matching.TOUCH_MM))
    areas = [mesh.section(half, (0.0, 0.0, z), (0.0, 0.0, 1.0)).polygons.area for half, z in levels]
    return bool(matching.contact_mm2(lower, upper) > ON_IT * min(areas))


def faces(solid: Solid) -> list[Face]:
    """Each lip as a parting face: at its height, with the outline of the lip and of what lies lower."""
    flats = planes(solid)
    least = LEAST * max((matching.hull_mm2(solid, plane) for plane in flats), default=0.0)
    large = [plane for plane in flats if plane.area_mm2 > least]
    made = ((lip, _with(lip, [low for low in large if _is_below(low, lip)])) for lip in large)
    found = [(lip, matching.face_of(solid, whole)) for lip, whole in made if whole is not lip]
    body = mesh.body(solid)
    return [
        replace(face, rim=np.unique(solid.faces[lip.facets]).astype(np.int32), curl_mm=0.0, wave_mm=0.0)
        for lip, face in found
        if matching.proud_share(body, face) <= matching.PROUD_SHARE
    ]


def _is_below(low: Plane, lip: Plane) -> bool:
    """True for a face that looks the same way as another and lies as much lower as a lip is high."""
    deep = float((lip.point - low.point) @ lip.normal)
    return bool(low.normal @ lip.normal > LEVEL) and HIGH_MM[0] < deep < HIGH_MM[1]


def _with(lip: Plane, lower: list[Plane]) -> Plane:
    """The lip and what lies lower as one face."""
    if not lower:
        return lip
    facets = np.concatenate([plane.facets for plane in (lip, *lower)])
    return replace(lip, facets=facets, area_mm2=sum(plane.area_mm2 for plane in (lip, *lower)))
