"""The mold halves on the bolts that are there: where they part most under the plastic's pressure."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from builder.model import Bait, FlowPath, Measurement, Vec3
from builder.physics import clamping, plate
from builder.physics.heat import Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Parting:
    """The place of the plastic where the halves part most, and one half's lift there (`plate.lift_mm4`)."""

    at_mm: Vec3
    lift_mm4: float
    touching: bool
    """Whether the rims of the halves touch as they bend: then less of that lift is left."""


def parting(mold: Measurement) -> Parting | None:
    """Where the halves part most; None where no bolts are known."""
    if not mold.bolts:
        return None
    bolts = [(bolt.at_mm[0], bolt.at_mm[1]) for bolt in mold.bolts]
    pressed = _pressed(mold)
    places = [(float(x), float(y)) for x, y, _ in pressed]
    touching = plate.holds(bolts)
    if not touching:
        index, reach = clamping.farthest(places, bolts)
        covered = mold.projected_mm2 / max(mold.projected_mm2 + mold.parting_mm2, 1e-9)
        found = clamping.panel_mm4(covered, reach)
    else:
        middle = _middle(mold, [*bolts, *places])
        size = (mold.size_mm[0], mold.size_mm[1])
        moved = [(x - middle[0], y - middle[1], area) for x, y, area in pressed]
        lifts = plate.lift_mm4(
            size, [(x - middle[0], y - middle[1]) for x, y in bolts], moved, [(x, y) for x, y, _ in moved]
        )
        index = int(np.argmax(lifts))
        found = max(float(lifts[index]), 0.0)
    return Parting(at_mm=(*places[index], mold.baits[0].at_mm[2]), lift_mm4=found, touching=touching)


def _middle(mold: Measurement, known: list[tuple[float, float]]) -> Array:
    """The middle of the outline: the frame's own, moved as little as puts everything known inside."""
    at = np.array(known)
    half = np.array(mold.size_mm[:2]) / 2
    return np.asarray(np.clip(np.zeros(2), at.max(axis=0) - half, at.min(axis=0) + half))


def _pressed(mold: Measurement) -> list[tuple[float, float, float]]:
    """Places along the plastic, two abreast, each with the area that presses there."""
    found: list[tuple[float, float, float]] = []
    for bait in mold.baits:
        found += _along(_way(bait, inside=True), bait.projected_mm2, bait)
    feed = mold.projected_mm2 - sum(bait.projected_mm2 for bait in mold.baits)
    places = np.unique(np.concatenate([_way(bait, inside=False) for bait in mold.baits]), axis=0)
    return [*found, *((float(x), float(y), max(feed, 0.0) / len(places)) for x, y in places)]


def _way(bait: Bait, *, inside: bool) -> Array:
    """Places of the bait's sections in the parting plane, (places, 2): of the bait, or of what feeds it."""

    def chosen(path: FlowPath) -> tuple[Vec3, ...]:
        stations = path.stations[path.gate_index :] if inside else path.stations[: path.gate_index]
        return tuple(station.at_mm for station in stations)

    places = [at[:2] for path in bait.paths for at in chosen(path)]
    places = places or ([bait.at_mm[:2]] if inside else [])
    return np.unique(np.array(places, dtype=np.float64).reshape(-1, 2).round(1), axis=0)


def _along(way: Array, area_mm2: float, bait: Bait) -> list[tuple[float, float, float]]:
    """The way as places on both sides of it; each has the area of the length that it stands for."""
    wide = area_mm2 / max(bait.length_mm, 1e-6)
    axis = _axis(way)
    order = np.argsort(way @ axis)
    at = way[order]
    apart = np.linalg.norm(np.diff(at, axis=0), axis=1)
    length = np.append(apart, 0.0) / 2 + np.append(0.0, apart) / 2 + 1e-9
    aside = np.array([-axis[1], axis[0]]) * wide / (2 * np.sqrt(3))
    share = area_mm2 * length / length.sum() / 2
    return [
        (float(x), float(y), float(part))
        for side in (-1, 1)
        for (x, y), part in zip(at + side * aside, share, strict=True)
    ]


def _axis(way: Array) -> Array:
    """Direction in which the places lie."""
    if len(way) < 2:
        return np.array([1.0, 0.0])
    return np.asarray(np.linalg.svd(way - way.mean(axis=0), full_matrices=False)[2][0])
