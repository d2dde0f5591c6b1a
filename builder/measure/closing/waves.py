"""Parting faces that wave: kept as they are where they fit each other, else laid flat and told."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from builder.base import figures
from builder.measure.closing import matching, meeting
from builder.measure.closing.matching import Closing, Face
from builder.measure.closing.planes import WARPED, planes
from builder.model import Figure, Finding, Solid

CURL_MM, BACK_SHARE = 0.015, 0.3
"""A parting that curls by more than this, and its back by less than this share of it, was drawn so."""
OPPOSITE, LARGE_SHARE = -0.999, 0.3
SAID_MM = 0.01
"""Faces less apart than this in the mean change no number."""


def waved(way: Closing, first: Solid, second: Solid) -> bool:
    """True for faces that a print's curl does not explain: they wave, or their backs are flat."""
    return any(
        face.wave_mm > matching.WAVE_MM
        or (face.curl_mm > CURL_MM and _back_curl_mm(half, face) < BACK_SHARE * face.curl_mm)
        for half, face in ((first, way.first), (second, way.second))
    )


def _back_curl_mm(half: Solid, face: Face) -> float:
    """How far (mm) the corners of a half's back, its largest face that looks away, lie apart; inf if none."""
    for plane in planes(half, flat=WARPED):
        if plane.normal @ face.turn[2] < OPPOSITE and plane.area_mm2 > LARGE_SHARE * face.polygon.area:
            corners = half.vertices[np.unique(half.faces[plane.facets])]
            return float(np.ptp((corners - plane.point) @ plane.normal))
    return math.inf


def fits(way: Closing, first: Solid, second: Solid) -> bool:
    """True if the halves meet all over when they are closed that way."""
    return meeting.meeting(way.lay_first(first), way.lay_second(second)).met_share > meeting.FIT_SHARE


def fitted(way: Closing, first: Solid, second: Solid) -> Closing | None:
    """The closing without laying waved faces flat, None where they do not fit each other as they are."""
    lower = replace(way, contoured=True).lay_first(first)
    fit = meeting.drawn_together(lower, matching.laid(second, way.turn, way.move))
    if fit is None:
        return None
    turn, move = fit
    return replace(way, contoured=True, turn=turn @ way.turn, move=turn @ way.move + move)


def pressed(lower: Solid, upper: Solid) -> Solid | None:
    """The upper half of two that lie closed, pressed on the lower; None where they do not fit as they are."""
    fit = meeting.drawn_together(lower, upper)
    if fit is None:
        return None
    turn, move = fit
    return matching.laid(upper, turn, move - np.array([0.0, 0.0, matching.PRESSED_MM]))


def apart_mm(lower: Solid, upper: Solid, flattened_mm: float) -> float | None:
    """How far (mm) the parting faces are apart on average, 0 where they fit; None if they hardly touch.

    What was flattened before they were laid on each other counts.
    """
    found = meeting.meeting(lower, upper)
    if found.met_share < meeting.POINTS_SHARE:
        return None
    loose = 0.0 if found.met_share > meeting.FIT_SHARE else found.apart_mm
    return loose + (flattened_mm if flattened_mm > SAID_MM else 0.0)


def said(apart: float) -> Iterator[Finding]:
    """A warning where the parting faces are apart."""
    if apart > SAID_MM:
        gap = Figure(
            value=apart, low=0.0, high=2 * apart, unit="mm", because="reading.apart_gap", origin="measured"
        )
        yield Finding(level="warn", code=figures.APART, values={"gap": gap})
