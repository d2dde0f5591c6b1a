"""Every part of a mold laid into the closed mold's frame."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray

from builder.base import figures
from builder.base.problems import Faults
from builder.measure.closing import asking, covering, dropping, folds, lips, lying, matching, misfits, waves
from builder.measure.closing.matching import Closing, Face
from builder.measure.closing.planes import WARPED, Plane, planes
from builder.measure.questions import needs_hint
from builder.model import Figure, Finding, MoldSpec, Placing, Solid

Array = NDArray[np.float64]

CURLED = "reading.curled"
CONTOURED = "reading.contoured"
PRESSED = "reading.pressed"
COVERED = "reading.covered"
COVERS = 4
"""So many ways of laying a cover are offered."""
TOLD_MM = 0.3
"""A parting face laid as told may be so far from z = 0."""
OVERLAPS = (2e-4, 0.005)
"""Shares of the smaller half's volume that halves may share; pins on pins match as outlines but overlap."""


def closed(spec: MoldSpec, solids: Sequence[Solid], skip: int = 0) -> tuple[list[Solid], list[Finding]]:
    """All parts as closed, in the spec's order, and what was found on the way; Faults if not sure.

    `skip` so many ways of laying flat faces on each other that would do as well.
    """
    halves = [k for k, part in enumerate(spec.parts) if part.role == "half"]
    if len(halves) != 2:
        raise asking.not_two(spec, len(halves))
    first, second = halves
    if spec.parts[second].placing is not None:
        laid, findings = _as_told(spec, solids, first), list[Finding]()
        flat, flattened = _levelled(laid[first], laid[second])
        fit = waves.pressed(laid[first], laid[second]) if flattened > matching.WAVE_MM else None
        if fit:
            laid[second], flattened, findings = fit, 0.0, [Finding(level="note", code=CONTOURED)]
        else:
            laid[first], laid[second] = flat
        overlap = matching.overlap_share(laid[first], laid[second])
        if overlap > OVERLAPS[-1]:
            raise asking.overlapping(spec, second, overlap)
    else:
        way, findings = _way(spec, solids, first, second, skip)
        misfits.refuse(spec, way, solids, first, second)
        way = lying.squared(way, solids[first]) if way.contoured else way
        laid = [_lay(spec, k, solid, way) for k, solid in enumerate(solids)]
        flattened = 0.0 if way.contoured else way.first.wave_mm + way.second.wave_mm
        if way.filed_gap_mm:
            gap = figures.exact(way.filed_gap_mm, "mm", "reading.filed_gap", "measured")
            findings = [*findings, Finding(level="note", code=PRESSED, values={"gap": gap})]
    apart = waves.apart_mm(laid[first], laid[second], flattened)
    if apart is None:
        raise asking.not_meeting(spec, first, second)
    return laid, [*findings, *waves.said(apart)]


def _as_told(spec: MoldSpec, solids: Sequence[Solid], first: int) -> list[Solid]:
    """All parts by their placing; the first half without one lies by its parting face."""
    laid = []
    for k, (part, solid) in enumerate(zip(spec.parts, solids, strict=True)):
        if part.placing is not None:
            turn, move = placing_of(part.placing)
        elif k == first:
            likely = [face for least in matching.LEAST_AREAS for face in faces_of(spec, k, solid, least)]
            if not likely:
                raise asking.no_face(spec, k)
            turn, move = likely[0].turn, likely[0].move
        elif part.role == "bait":
            turn, move = np.eye(3), np.zeros(3)
        else:
            raise asking.unplaced(spec, k)
        laid.append(matching.laid(solid, turn, move))
    return laid


def _levelled(*halves: Solid) -> tuple[list[Solid], float]:
    """Halves that lie as told, their parting faces exactly on z = 0; how far (mm) those waved before."""
    made, waved = list[Solid](), 0.0
    for half in halves:
        flat = [plane for plane in planes(half, flat=WARPED) if _is_level(plane)]
        rim = np.unique(half.faces[flat[0].facets]) if flat else None
        drawn = max((plane.area_mm2 for plane in planes(half) if _is_level(plane)), default=0.0)
        if flat and flat[0].area_mm2 > matching.CURLED * drawn:
            waved += matching.face_of(half, flat[0]).wave_mm
        made.append(matching.laid(half, np.eye(3), np.zeros(3), rim))
    return made, waved


def _is_level(plane: Plane) -> bool:
    """True for a face that lies about where a parting face told by its placing does."""
    return bool(abs(plane.normal[2]) > 0.999 and abs(plane.point[2]) < TOLD_MM)


def faces_of(spec: MoldSpec, index: int, solid: Solid, least: float = matching.LEAST_AREAS[0]) -> list[Face]:
    """Candidate parting faces of a part: the one the maker tells, or the likeliest."""
    told = spec.parts[index].parting
    if told is None:
        return matching.parting_faces(solid, least)
    point, normal = (np.array(vector) for vector in told)
    normal = normal / np.linalg.norm(normal)
    near = [
        plane
        for plane in planes(solid)
        if plane.normal @ normal > 0.999 and abs((plane.point - point) @ normal) < 0.2
    ]
    if not near:
        what = f"{spec.parts[index].file} has no flat face there"
        raise needs_hint(
            spec, f"parts[{index}].parting", what, "a point on the parting face and its outward normal"
        )
    return [matching.face_of(solid, near[0])]


def placing_of(placing: Placing) -> tuple[Array, Array]:
    """Turn (3, 3) and move (3,) of a placing: mirrored in x if asked, turned about x, y, z, then moved.

    >>> turn, move = placing_of(Placing(turn_deg=(0.0, 0.0, 90.0), move_mm=(1.0, 0.0, 0.0)))
    >>> (turn @ [1.0, 0.0, 0.0] + move).round(9).tolist()
    [1.0, 1.0, 0.0]
    """
    turn = np.diag([-1.0 if placing.mirror else 1.0, 1.0, 1.0])
    for axis, degrees in enumerate(placing.turn_deg):
        c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
        i, j = (axis + 1) % 3, (axis + 2) % 3
        step = np.eye(3)
        step[i, i], step[i, j], step[j, i], step[j, j] = c, -s, s, c
        turn = step @ turn
    return turn, np.array(placing.move_mm)


def _way(
    spec: MoldSpec, solids: Sequence[Solid], first: int, second: int, skip: int
) -> tuple[Closing, list[Finding]]:
    """How the second half lies on the first: as filed, or the likeliest way in which they do not overlap.

    Halves that lie closed on a curved parting are taken as they lie, before any turn is tried.
    """
    one, two = solids[first], solids[second]
    loose = filed = _filed(one, two)
    large = matching.LEAST_AREAS[0]
    ones, twos = (faces_of(spec, k, solids[k], large) for k in (first, second))
    misfits.refuse_units(spec, ones, twos, first, second)
    backs = dropping.backs(one, two, ones, twos)
    only_backs = backs is not None and not _smaller_open(spec, solids, first, second)
    told = spec.parts[first].parting or spec.parts[second].parting
    folded = folds.backs(one, two) if backs is None and not told else None
    lying_on = backs or folded
    if lying_on and loose is None:
        loose = _dropped(spec, solids, lying_on, first, second)
    contoured = [Finding(level="note", code=CONTOURED)]
    if loose and waves.fits(loose, one, two):
        if skip:
            raise asking.no_other(spec)
        return loose, contoured
    try:
        way, said = _turned(spec, solids, first, second, skip)
    except Faults:
        if skip or not (filed or only_backs or folded):
            raise
    else:
        if waves.waved(way, one, two):
            fit = waves.fitted(way, one, two)
            return (fit, contoured) if fit else (way, said)
        amiss = folded and (folds.is_back(one, way.first) or not _flat(way, one))
        if not (filed or only_backs or amiss):
            return (way, said) if _flat(way, one) else _curved(way, solids, said, first, second)
    if loose is None:
        raise asking.only_backs(spec, first, second)
    return loose, contoured


def _filed(first: Solid, second: Solid) -> Closing | None:
    """The way in which halves lie in their files, where they touch there on a curved parting."""
    touch = lying.contact(first, second)
    if touch is None or touch.share <= lying.CONTACT_SHARE or touch.is_flat:
        return None
    way = lying.closing(first, touch)
    return (
        way if matching.overlap_share(way.lay_first(first), way.lay_second(second)) <= OVERLAPS[1] else None
    )


def _dropped(
    spec: MoldSpec, solids: Sequence[Solid], backs: tuple[Face, Face], first: int, second: int
) -> Closing | None:
    """The way in which one half rests on the other, on their backs; the question where more than one fits."""
    one, two = solids[first], solids[second]
    rest = dropping.ways(one, two, backs)
    if len(rest) > 1:
        fit = [lying.squared(way, one) for way in rest if waves.fits(way, one, two)]
        rest = covering.different(fit, two)
    if len(rest) > 1:
        raise covering.which(spec, rest, first, second, "and their partings do not tell which")
    return rest[0] if rest else None


def _flat(way: Closing, first: Solid) -> bool:
    """True if the faces by which the halves were closed may be all of the parting, as most are."""
    outline = shapely.MultiPoint((first.vertices @ way.first.turn.T)[:, :2]).convex_hull
    return bool(way.first.polygon.area > lying.FLAT_SHARE * outline.area)


def _curved(
    way: Closing, solids: Sequence[Solid], said: list[Finding], first: int, second: int
) -> tuple[Closing, list[Finding]]:
    """The closing without laying faces flat, where the halves touch on more than the flat ends."""
    curved = replace(way, contoured=True)
    touch = lying.contact(curved.lay_first(solids[first]), curved.lay_second(solids[second]))
    if touch is None or touch.share < lying.CONTACT_SHARE or touch.flat_share > lying.FLAT_SHARE:
        return way, said
    return curved, [*said, Finding(level="note", code=CONTOURED)]


def _turned(
    spec: MoldSpec, solids: Sequence[Solid], first: int, second: int, skip: int
) -> tuple[Closing, list[Finding]]:
    """How the second half lies on the first by their flat faces."""
    shares: dict[Closing, float] = {}
    opened, left = -1.0, skip
    small_first = _smaller_open(spec, solids, first, second)
    for least in matching.LEAST_AREAS[::-1] if small_first else matching.LEAST_AREAS:
        ones, twos = (faces_of(spec, k, solids[k], least) for k in (first, second))
        ways = matching.closings(solids[first], solids[second], ones, twos) if ones and twos else []
        ways = [way for way in ways if way.opening_mm2 > opened]  # other faces only if they open more
        opened = sum(max((face.opening_mm2 for face in faces), default=0.0) for faces in (ones, twos))
        for way in sorted(ways, key=lambda way: way.as_filed, reverse=True):
            shares[way] = matching.overlap_share(way.lay_first(solids[first]), way.lay_second(solids[second]))
            if shares[way] <= OVERLAPS[0]:
                if not left:
                    lipped = not skip and lips.seems_curled(way) and _on_a_lip(spec, solids, first, second)
                    return lipped or way, list(_said(spec, lipped or way, first, second))
                left -= 1
        best = next((way for way, share in shares.items() if share <= OVERLAPS[1]), None)
        if best and not skip:
            best = _on_a_lip(spec, solids, first, second) or best
            return best, list(_said(spec, best, first, second))
        opened = -1.0 if least == matching.LEAST_AREAS[-1] else opened
    if skip:
        raise asking.no_other(spec)
    if lipped := _on_a_lip(spec, solids, first, second):
        return lipped, list(_said(spec, lipped, first, second))
    if shares:
        raise asking.overlapping(spec, second, min(shares.values()))
    if not ones or not twos:
        raise asking.no_face(spec, second if ones else first)
    covers = [
        way
        for way in covering.ways(ones, twos)
        if matching.overlap_share(way.lay_first(solids[first]), way.lay_second(solids[second])) <= OVERLAPS[0]
    ]
    if covers:
        return _covered(spec, solids, covers, first, second)
    what = (
        f"{spec.parts[first].file} and {spec.parts[second].file} do not fit together, however they are turned"
    )
    remedy = "check that both belong to one mold, or write how the part lies in the closed mold"
    raise needs_hint(spec, f"parts[{second}].placing", what, "", remedy)


def _on_a_lip(spec: MoldSpec, solids: Sequence[Solid], first: int, second: int) -> Closing | None:
    """How the halves lie on a lip of one of them, the rest of whose face lies lower; None if they do not."""
    ones, twos = (faces_of(spec, k, solids[k]) for k in (first, second))
    return next(lips.ways(solids[first], solids[second], ones, twos, OVERLAPS[0]), None)


def _smaller_open(spec: MoldSpec, solids: Sequence[Solid], first: int, second: int) -> bool:
    """True where smaller faces open much more than the largest, as the flat ends of a curved parting do.

    The largest are backs with bolt holes then.
    """
    large, small = (
        [faces_of(spec, k, solids[k], least) for k in (first, second)] for least in matching.LEAST_AREAS
    )
    if not all(large) or any(_opens(some) > dropping.SHALLOW * some[0].polygon.area for some in large):
        return False
    return all(_opens(s) < matching.BACK_SHARE * _opens(m) for s, m in zip(large, small, strict=True))


def _opens(faces: Sequence[Face]) -> float:
    """The most that one of the faces opens, mm2."""
    return max((face.opening_mm2 for face in faces), default=0.0)


def _covered(
    spec: MoldSpec, solids: Sequence[Solid], ways: Sequence[Closing], first: int, second: int
) -> tuple[Closing, list[Finding]]:
    """The one way in which a cover lies on the other half, or as filed; else the question which is meant."""
    filed = [way for way in ways if way.as_filed][:1]
    found = filed or covering.different(ways, solids[second])[:COVERS]
    if len(found) > 1:
        raise covering.which(spec, found, first, second, "because one of them is a plain cover")
    said = Finding(level="note", code=COVERED, values={"file": _cover(spec, found[0], first, second)})
    return found[0], [said, *_said(spec, found[0], first, second)]


def _cover(spec: MoldSpec, way: Closing, first: int, second: int) -> str:
    """The file of the half that is the cover: its face opens less."""
    return spec.parts[first if way.first.opening_mm2 < way.second.opening_mm2 else second].file


def _said(spec: MoldSpec, way: Closing, first: int, second: int) -> Iterator[Finding]:
    """What a maker should know of the halves as filed."""
    if way.mirrored:
        yield Finding(level="warn", code="reading.mirrored", values={"file": spec.parts[second].file})
    for index, face in ((first, way.first), (second, way.second)):
        if face.curl_mm > matching.SNAP_MM:
            curl = Figure(
                value=face.curl_mm,
                low=face.curl_mm,
                high=face.curl_mm,
                unit="mm",
                because="reading.curl",
                origin="measured",
            )
            yield Finding(level="note", code=CURLED, values={"file": spec.parts[index].file, "curl": curl})


def _lay(spec: MoldSpec, index: int, solid: Solid, way: Closing) -> Solid:
    """One part in the closed mold's frame."""
    part = spec.parts[index]
    halves = [k for k, other in enumerate(spec.parts) if other.role == "half"]
    if part.placing is not None:
        return matching.laid(solid, *placing_of(part.placing))
    if index == halves[1]:
        return way.lay_second(solid)
    if index == halves[0]:
        return way.lay_first(solid)
    if part.role == "bait" or way.as_filed:
        return matching.laid(solid, way.first.turn, way.first.move)
    raise asking.unplaced(spec, index)
