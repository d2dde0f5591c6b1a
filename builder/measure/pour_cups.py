"""Cups beside the baits of an open pour, poured through channels: asked about, and cut off as told."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from builder import mesh
from builder.measure import shot, told_gates, well_question
from builder.measure.cavity import classify
from builder.measure.cavity.void import Piece
from builder.measure.features import sizes
from builder.measure.flow_tree import venting
from builder.measure.questions import needs_hint, offered
from builder.measure.told_gates import Face
from builder.mesh import cuts
from builder.mesh.cuts import Cut
from builder.model import MoldSpec

Array = NDArray[np.float64]

IN_FRAME = "places count from the middle of the face that is poured level, x along its long side, z upwards"
BELOW_MM = 0.3
"""Channels are looked for so far below the level that is poured to."""
WIDTHS_MM = np.arange(1.0, 8.1, 0.5)
"""Channels of these widths."""
LEAST_SHARE, CUP_SHARE = 0.02, 0.4
"""A cup, seen from above, has such a share of the hollow at least, and of the bait at most."""
WIDEST_CUP = 2.0
"""No cup holds so many times what the bait does."""
TOUCH_MM, SAME_MM = 0.1, 0.5
AHEAD_MM, LEAST_LINK_MM2 = 0.5, 4.0
"""A shared cup's channels are cut so far before the bait; smaller corners of an outline are none."""
SQUARE_SHARE, INNER_SHARE = 0.9, 0.3
"""A cup seen from above is a circle, or such a share of a rectangle without a rim of so much of its
radius..."""
FLOOR_DEEP, FLOOR_SHARE = 0.8, 0.5
"""...with a floor: so deep in it, its section is such a share of that at the top. A half ball has less."""
LIKE_SHARE = 0.9
"""Baits that share a cup are alike, seen from above, but for the rest of this share."""
SMALL_SHARE = 0.2
"""What gates cut off that is smaller than this share of the largest bait is none."""


def refuse(spec: MoldSpec, hollows: Sequence[Piece]) -> None:
    """Raise where a straight channel with square corners leads from a bait into a cup, unless it is told."""
    if spec.hints.gates_at_mm or spec.hints.sprue_at_mm is not None:
        return
    _refuse_sharing(spec, hollows)
    gates = [gate for piece in hollows for gate in _channels(piece)]
    if not gates:
        return
    faces = [(gate.at, -gate.normal) for gate in gates]
    held = sorted(one.body.volume() for piece in hollows for one in _alone(piece, faces))
    what = (
        f"a straight channel at [{shot.place(faces[0][0])}] leads from a bait into a smaller hollow: it may "
        "be a cup that is poured into, or a part of the bait"
    )
    lines = [(told_gates.line_of(faces), f"a cup: baits of {_told(held)} ml"), *_all_bait(hollows)]
    raise needs_hint(spec, "hints.gates", what, "", f"write one of these; {IN_FRAME}:{offered(lines)}")


def _all_bait(hollows: Sequence[Piece]) -> Iterator[tuple[str, str]]:
    """The hint that the hollows are poured straight into, with what they hold."""
    middle = shot.inside(hollows[0])
    if middle is not None:
        at, whole = np.array([*middle[:2], 0.0]), sorted(piece.volume_mm3 for piece in hollows)
        yield f"sprue_at_mm: [{shot.place(at)}]", f"poured into the bait, all of it bait: {_told(whole)} ml"


def _refuse_sharing(spec: MoldSpec, hollows: Sequence[Piece]) -> None:
    """Raise where each hollow is told to be one bait, and like baits hang together in one by a cup."""
    count = sum(max(_sharing(piece), 1) for piece in hollows)
    if count > len(hollows) == spec.cavities:
        what = f"{count} like hollows hang together by {'a cup' if len(hollows) == 1 else 'cups'}"
        several = f"\ncavities: {count}  # in place of cavities: {spec.cavities}: {count} baits"
        remedy = f"write one of these; {IN_FRAME}:{several}{offered(_all_bait(hollows))}"
        raise needs_hint(spec, "cavities", what, "", remedy)


def _sharing(piece: Piece) -> int:
    """How many like parts of a hollow are linked to one cup, 0 for none."""
    z = float(piece.high[2]) - BELOW_MM
    outline = classify.level(piece, z)
    for wide in WIDTHS_MM if outline is not None else ():
        parts, links = _opened(outline, wide)
        for cup in parts:
            near = [link for link in links if link.distance(cup) < TOUCH_MM]
            ends = [part for part in parts if part is not cup and _touch(part, near)]
            if len(ends) > 1 and _are_like(ends) and _is_made(cup, piece, z):
                return len(ends)
    return 0


def _touch(part: shapely.Polygon, links: Sequence[shapely.Polygon]) -> bool:
    return any(bool(link.distance(part) < TOUCH_MM) for link in links)


def _are_like(parts: Sequence[shapely.Polygon]) -> bool:
    """True for parts of an outline that are as large."""
    return bool(min(part.area for part in parts) > LIKE_SHARE * max(part.area for part in parts))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Alone:
    """A bait without what gates cut off of its hollow, which is `beside_mm3`."""

    body: mesh.Body
    beside_mm3: float = 0.0
    """Its share, where several baits hang together."""
    gates: tuple[Cut, ...] = ()
    spans: sizes.Spans | None = None


def parted(spec: MoldSpec, hollows: Sequence[Piece]) -> list[Alone]:
    """Each bait without what the gates of mold.yaml cut off of its hollow, which may hold several."""
    faces = told_gates.faces(spec)
    told_gates.refuse_nowhere(spec, hollows)
    found = [one for piece in hollows for one in _alone(piece, faces)]
    if any(one.beside_mm3 > WIDEST_CUP * one.body.volume() for one in found):
        what = "the normal of a gate points to its cup, not into the bait"
        raise needs_hint(spec, "hints.gates", what, "a normal into the bait", "turn its signs round")
    return found


def shared(spec: MoldSpec, hollows: Sequence[Piece]) -> str:
    """The line of gates that part as many baits as are told from the cup they share; '' where none does."""
    each, left = divmod(spec.cavities, len(hollows))
    if left or spec.hints.gates_at_mm:
        return ""
    gates = [gate for piece in hollows for gate in next(_branches(piece, each), ())]
    held = sorted(one.body.volume() for piece in hollows for one in _alone(piece, gates) if one.gates)
    return (
        offered([(told_gates.line_of(gates), f"baits of {_told(held)} ml")])
        if len(held) == spec.cavities
        else ""
    )


def _branches(piece: Piece, count: int) -> Iterator[list[Face]]:
    """The gates of so many baits that hang together in one hollow by channels, where there are such."""
    solid, z = mesh.solid(piece.body, "hollow"), float(piece.high[2]) - BELOW_MM
    outline = classify.level(piece, z)
    for wide in WIDTHS_MM if outline is not None else ():
        parts, links = _opened(outline, wide)
        baits = sorted(parts, key=lambda part: -part.area)[:count]
        ends = [(start, way) for bait in baits for start, way in _ends(bait, links)]
        cuts_there = [
            cuts.across(solid, np.array([*(start + AHEAD_MM * way), z]), np.array([*way, 0.0]))
            for start, way in ends
        ]
        gates = [(cut.at, -cut.normal) for cut in cuts_there if cut is not None]
        if len(gates) >= count and len(_alone(piece, gates)) == count:
            yield gates


def _opened(outline: shapely.Polygon, wide: float) -> tuple[list[shapely.Polygon], list[shapely.Polygon]]:
    """The parts of an outline that are wider than told, and the narrow links between them."""
    inner = shapely.get_parts(outline.buffer(-wide / 2))
    parts = [part.buffer(wide / 2) for part in inner if part.area > LEAST_SHARE * outline.area]
    links = shapely.get_parts(outline.difference(shapely.union_all(parts))) if len(parts) > 1 else []
    return parts, list(links)


def _ends(bait: shapely.Polygon, links: Sequence[shapely.Polygon]) -> Iterator[tuple[Array, Array]]:
    """Where links that lead on meet a bait (2,), and the way (2,) out of it."""
    for link in links:
        if link.distance(bait) < TOUCH_MM and link.area > LEAST_LINK_MM2:
            start, middle = (
                np.array(place.coords[0])
                for place in (link.intersection(bait.buffer(TOUCH_MM)).centroid, link.centroid)
            )
            yield start, (middle - start) / float(np.linalg.norm(middle - start))


def _alone(piece: Piece, faces: Sequence[Face]) -> list[Alone]:
    """The parts of a hollow behind the gates; all of it where there is none."""
    solid = mesh.solid(piece.body, "hollow")
    ends = [cut for face in faces if (cut := cuts.before_bulge(solid, *face)[0]) is not None]
    parts = cuts.apart(piece.body, ends) if ends else []
    behind = [part for part in parts if part.after and not part.before]
    if not behind:
        return [Alone(body=piece.body)]
    largest = max(part.body.volume() for part in behind)
    baits = [part for part in behind if part.body.volume() > SMALL_SHARE * largest]
    beside_mm3 = piece.volume_mm3 - sum(part.body.volume() for part in baits)
    gates = [tuple(ends[k] for k in part.after) for part in baits]
    return [
        Alone(
            body=part.body,
            beside_mm3=beside_mm3 / len(baits),
            gates=through,
            spans=sizes.spanned_between(part.body, (), through, solid),
        )
        for part, through in zip(baits, gates, strict=True)
    ]


def _told(volumes_mm3: Sequence[float]) -> str:
    """Volumes of baits, each once."""
    return ", ".join(dict.fromkeys(f"{mesh.volume_ml(volume):.2f}" for volume in volumes_mm3))


def _channels(piece: Piece) -> Iterator[Cut]:
    """The bait's ends of straight channels that lead to cups, the normals out of the bait."""
    solid, z = mesh.solid(piece.body, "hollow"), float(piece.high[2]) - BELOW_MM
    outline, seen = classify.level(piece, z), list[Array]()
    links = list(_links(outline)) if outline is not None else []
    for link in links:
        cut = cuts.across(solid, np.array([*link.middle, z]), np.array([*link.way, 0.0]))
        if cut is not None and (
            well_question.is_square(solid, cut)
            or (well_question.is_even(solid, cut) and _is_made(link.cup, piece, z))
        ):
            end = venting.end_of_land(solid, cut, cut.normal)
            if end is not None and all(np.linalg.norm(end.at - at) > SAME_MM for at in seen):
                seen.append(end.at)
                yield end


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Link:
    """What joins a bait to a smaller part of its outline: its middle (2,), the way (2,) to that, and that."""

    middle: Array
    way: Array
    cup: shapely.Polygon


def _links(outline: shapely.Polygon) -> Iterator[Link]:
    """Whatever joins the bait to a smaller part."""
    for wide in WIDTHS_MM:
        parts, links = _opened(outline, wide)
        if not links:
            continue
        bait = max(parts, key=lambda part: part.area)
        for link in links:
            near = [part for part in parts if part.distance(link) < TOUCH_MM]
            if bait in near and len(near) == 2 and min(one.area for one in near) < CUP_SHARE * bait.area:
                cup = next(part for part in near if part is not bait)
                ends = [link.intersection(part.buffer(TOUCH_MM)).centroid for part in (bait, cup)]
                start, stop = (np.array(end.coords[0]) for end in ends)
                way = (stop - start) / float(np.linalg.norm(stop - start))
                yield Link(middle=(start + stop) / 2, way=way, cup=cup)


def _is_made(cup: shapely.Polygon, piece: Piece, z: float) -> bool:
    """True for a cup as tools make it, a circle or a rectangle with a floor, as limbs of a bait are not."""
    if not well_question.is_round(cup):
        inner = cup.buffer(-INNER_SHARE * mesh.inscribed(cup)[0] / 2)  # without what is left of the channel
        if inner.area < SQUARE_SHARE * float(shapely.minimum_rotated_rectangle(inner).area):
            return False
    low = _lowest(cup, piece)
    section = mesh.section(
        mesh.solid(piece.body, "hollow"), (0.0, 0.0, z - FLOOR_DEEP * (z - low)), (0.0, 0.0, 1.0)
    )
    deep = shapely.transform(section.polygons, lambda points: section.lift(points)[:, :2])
    return bool(deep.intersection(cup).area > FLOOR_SHARE * cup.area)


def _lowest(cup: shapely.Polygon, piece: Piece) -> float:
    """How deep a cup reaches."""
    column = mesh.prism(mesh.rings(cup), float(piece.low[2]) - 1.0, float(piece.high[2]) + 1.0)
    return float(mesh.box(piece.body ^ column)[0][2])
