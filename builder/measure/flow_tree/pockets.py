"""Pockets that hang on the plastic by throats as thin as vents: overflows, troughs, gutters for the air."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from builder import mesh
from builder.measure.cavity.void import Mouth, Piece
from builder.measure.flow_tree import seeds, venting
from builder.measure.flow_tree.stretches import Throat, throats
from builder.measure.flow_tree.venting import Vent
from builder.mesh import cuts
from builder.mesh.cuts import Cut, Part
from builder.model import Solid

Array = NDArray[np.float64]

THIN_MM = 0.35
"""A throat that is no thicker is a vent: plastic sets in it before it fills what lies behind."""
BEHIND_SHARE = 0.2
"""What lies behind throats is smaller than this share of the rest: else it is a bait behind a film gate."""
SAME_MM = 0.5
"""Throats nearer to each other are one, seen along two axes."""
LAND_MM, QUARTER = 1.0, 0.25
"""A vent from one bait to another is so long, and a quarter of its length beside its middle as there..."""
EVEN, NARROW_MM2 = 1.05, 4.0
"""...within this share, and no larger than this: thin webs of baits widen, or are wide."""
TURNS = (-0.5, -0.25, 0.0, 0.25, 0.5)
"""A throat is cut where it is narrowest, a little (rad) aside of the way that rays showed, too."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outlets:
    """The ways by which air leaves the plastic, each with the cut that ends it, its normal outwards."""

    vents: tuple[tuple[Mouth, Cut], ...]
    """Vents to the outside, and throats of pockets, whose mouth is their end in the pocket."""
    lands: tuple[Cut, ...] = ()
    """Where further throats of a pocket end in it: only the first one's vent holds the pocket."""
    wells: tuple[Array, ...] = ()
    """Where a vent widens on its way, and where an open pocket begins."""
    bridges: tuple[tuple[int, int], ...] = ()
    """Vent and land, by number, of each vent that leads from one bait to another."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Land:
    """A throat cut at the plastic and at the pocket, both normals into the pocket.

    A bridge leads from one bait to another, or back.
    """

    inner: Cut
    outer: Cut
    is_bridge: bool


def outlets(piece: Piece, sprue: Mouth, bridged: bool = True) -> Outlets:
    """The vents of a piece, the throats of its pockets, and, `bridged`, vents from one bait to another."""
    own = list(venting.vents(piece, sprue))
    plastic = mesh.solid(cuts.apart(piece.body, [vent.last for vent in own])[0].body, "plastic")
    found = _lands(plastic, sprue)
    lands = [land for land in found if not land.is_bridge]
    bridges = [one for one in found if bridged and one.is_bridge and _is_groove(piece.body, plastic, one)]
    while lands:
        parts = cuts.apart(piece.body, [land.inner for land in lands])
        main = seeds.part_at(parts, sprue)
        loose = [part for part in parts if part is not main and _is_loose(part, main)]
        kept = [land for k, land in enumerate(lands) if any(k in part.after for part in loose)]
        if len(kept) == len(lands):
            held = {id(one): seeds.part_at(parts, one) for one in piece.mouths if one is not sprue}
            return _with_bridges(_with_pockets(own, held, lands, loose), bridges)
        lands = kept
    return _with_bridges(_with_pockets(own, {}, (), ()), bridges)


def _is_groove(body: mesh.Body, plastic: Solid, land: Land) -> bool:
    """True for a bridge that is even and narrow, and that its two ends cut out of the plastic."""
    way = land.outer.at - land.inner.at
    if np.linalg.norm(way) < LAND_MM or max(land.inner.polygon.area, land.outer.polygon.area) > NARROW_MM2:
        return False
    middle = (land.inner.at + land.outer.at) / 2
    made = [
        cuts.across(plastic, middle + share * way, land.inner.normal) for share in (-QUARTER, 0.0, QUARTER)
    ]
    sizes = [(float(cut.polygon.area), mesh.inscribed(cut.polygon)[0]) for cut in made if cut is not None]
    if len(sizes) < len(made) or any(max(some) > EVEN * min(some) for some in zip(*sizes, strict=True)):
        return False
    return any(
        part.after == (0,) and part.before == (1,) for part in cuts.apart(body, [land.inner, land.outer])
    )


def _with_bridges(outlets: Outlets, bridges: Sequence[Land]) -> Outlets:
    """The outlets and the vents from one bait to another, which end in no open air."""
    vents = tuple((_mouth(land.outer, False), land.inner) for land in bridges)
    lands = tuple(land.outer for land in bridges)
    first = len(outlets.vents), len(outlets.lands)
    numbers = tuple((first[0] + k, first[1] + k) for k in range(len(bridges)))
    return replace(outlets, vents=outlets.vents + vents, lands=outlets.lands + lands, bridges=numbers)


def _is_loose(part: Part, main: Part) -> bool:
    """True for a part that only throats join to the rest, much smaller than that."""
    return not part.before and part.body.volume() < BEHIND_SHARE * main.body.volume()


def _with_pockets(
    own: Sequence[Vent], held: Mapping[int, Part], lands: Sequence[Land], loose: Sequence[Part]
) -> Outlets:
    """The own vents but those of pockets, and the pockets' throats; `held` tells each mouth's part by id."""
    left = [vent for vent in own if all(held.get(id(vent.mouth)) is not part for part in loose)]
    vents = [(vent.mouth, vent.last) for vent in left]
    further = [lands[k].outer for part in loose for k in part.after[1:]]
    wells = [vent.well for vent in left if vent.well is not None]
    for part in loose:
        is_open = any(where is part for where in held.values())
        mine = [lands[k] for k in part.after]
        vents += [(_mouth(land.outer, is_open), land.inner) for land in mine]
        wells += [mine[0].outer.at] if is_open else []
    return Outlets(vents=tuple(vents), lands=tuple(further), wells=tuple(wells))


def _mouth(end: Cut, is_open: bool) -> Mouth:
    """A throat's end in its pocket as a vent's mouth."""
    aside, along = end.turn[:2] @ end.at
    return Mouth(
        at=end.at,
        normal=end.normal,
        polygon=shapely.transform(end.polygon, lambda points: points + np.array([aside, along])),
        area_mm2=float(end.polygon.area),
        ends="outside" if is_open else "blind",
    )


def _lands(plastic: Solid, sprue: Mouth) -> list[Land]:
    """The throats of all pockets, each once."""
    lands: list[Land] = []
    for throat in throats(plastic, sprue.at - SAME_MM * sprue.normal, THIN_MM):
        land = _land(plastic, throat)
        ends = [end.at for old in lands for end in (old.inner, old.outer)]
        if land is not None and all(np.linalg.norm(land.inner.at - at) > SAME_MM for at in ends):
            lands.append(land)
    return lands


def _land(plastic: Solid, throat: Throat) -> Land | None:
    """A throat cut at both its ends; None where it is thicker than rays along an axis showed."""
    middle = min(_across(plastic, throat), key=lambda cut: float(cut.polygon.area), default=None)
    if middle is None or mesh.inscribed(middle.polygon)[0] > THIN_MM:
        return None
    inner = venting.end_of_land(plastic, middle, middle.normal)
    outer = venting.end_of_land(plastic, middle, -middle.normal)
    if inner is None or outer is None:
        return None
    outwards = cuts.across(plastic, outer.at, middle.normal)
    return None if outwards is None else Land(inner=inner, outer=outwards, is_bridge=throat.is_bridge)


def _across(plastic: Solid, throat: Throat) -> Iterator[Cut]:
    """Sections of a throat, across its way and a little aside."""
    aside = np.cross(throat.axis, throat.way)
    for turn in TURNS:
        cut = cuts.across(plastic, throat.at, np.cos(turn) * throat.way + np.sin(turn) * aside)
        if cut is not None:
            yield cut
