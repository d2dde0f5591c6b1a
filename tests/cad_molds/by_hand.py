"""Trial molds drawn one by one, each its own drawing, before its drawer had read how molds are read."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from manifold3d import CrossSection, Manifold

from tests.cad_molds.primitives import Point, reach_mm, sides, spans_mm, triangles, union
from tests.cad_molds.records import MM, Case, Filed, GateTruth, Truths

FINE = 0.04
"""Chord (mm) of round bodies where a drawing names none."""
Knot = tuple[float, float, float, float]


def snake(knots: Sequence[Knot], chord: float | None = None) -> Manifold:
    """Balls (x, y, z, radius) with a skin from each to the next."""
    balls = [Manifold.sphere(r, sides(r, chord or FINE)).translate((x, y, z)) for x, y, z, r in knots]
    return union(Manifold.batch_hull([a, b]) for a, b in pairwise(balls))


def turned(
    profile: Sequence[tuple[float, float]], start: Point, toward: Point, chord: float | None = None
) -> Manifold:
    """Turned about the line from `start` toward `toward`; the profile is (way along it, radius)."""
    points = [(0.0, profile[0][0]), *((r, t) for t, r in profile), (0.0, profile[-1][0])]
    area = CrossSection([np.array([p for k, p in enumerate(points) if k == 0 or p != points[k - 1]])])
    body = Manifold.revolve(area, sides(max(r for _, r in profile), chord or FINE))
    axis = np.subtract(toward, start)
    along = axis / np.linalg.norm(axis)
    side = np.cross(along, (0.0, 1.0, 0.0) if abs(along[1]) < 0.9 else (1.0, 0.0, 0.0))
    side /= np.linalg.norm(side)
    frame = np.column_stack([side, np.cross(along, side), along, start])
    return body.transform(frame)


def slab(low: Sequence[float], high: Sequence[float]) -> Manifold:
    """The box between two corners."""
    size = tuple(float(h - b) for b, h in zip(low, high, strict=True))
    return Manifold.cube(size).translate(tuple(float(v) for v in low))


def half_space(at: Point, normal: Point, reach: float, wide: float) -> Manifold:
    """The cylinder that begins at the plane and goes `reach` along its normal."""
    end = tuple(a + n for a, n in zip(at, normal, strict=True))
    return turned([(0.0, wide), (reach, wide)], at, (end[0], end[1], end[2]), 0.05)


def stroke(length: float, radius: float, rings: int = 0, chord: float | None = None) -> Manifold:
    """A worm along +x from the origin; with rings, its radius waves by 6 %."""
    places = np.linspace(0.0, 1.0, max(41, 8 * rings))
    wave = 1.0 - 0.06 * (1.0 - np.cos(2 * math.pi * rings * places)) / 2.0
    hull = np.sqrt(np.clip(1.0 - (2.0 * places - 1.0) ** 8, 0.0, None)) * (1.0 - 0.25 * places)
    profile = [
        (float(length * p), float(max(radius * h * w, 0.0)))
        for p, h, w in zip(places, hull, wave, strict=True)
    ]
    return turned([(0.0, 0.0), *profile[1:-1], (length, 0.0)], (0, 0, 0), (1, 0, 0), chord)


@dataclass(slots=True, kw_only=True)
class Sheet:
    """A drawing: what is put on it by hand, in the closed frame, parting at z = 0."""

    low: Point
    high: Point
    baits: list[Manifold]
    feed: list[Manifold]
    gates: list[tuple[int, Point, Point, float]] = field(default_factory=list)
    """Bait, point, normal into it, radius of its surroundings."""
    vents: list[tuple[Point, float, float]] = field(default_factory=list)
    """Corner of each tip, its length along x and its width."""
    bolts: list[tuple[float, float]] = field(default_factory=list)
    pins: list[tuple[float, float]] = field(default_factory=list)
    cores: list[tuple[str, Manifold, float]] = field(default_factory=list)
    """Role, solid, the gap in mm that its seat leaves round it."""
    proud: list[Manifold] = field(default_factory=list)
    """What stands out of the block, as a neck does."""
    cut_a: list[Manifold] = field(default_factory=list)
    cut_b: list[Manifold] = field(default_factory=list)
    add_a: list[Manifold] = field(default_factory=list)
    add_b: list[Manifold] = field(default_factory=list)
    trunk: tuple[float, float] | None = None
    eyes: tuple[float, ...] = ()
    slack_ml: float = 0.0
    also_vents: int = 0
    """Cracks and open holes that let air out as well, and may be counted."""
    also_pins: int = 0
    """Pins that are drawn as solids."""
    unit: str = "mm"
    mouth: Point | None = None
    toward: Point | None = None


def _holes(sheet: Sheet) -> list[Manifold]:
    tall = sheet.high[2] - sheet.low[2]
    return [
        turned([(0.0, 2.75), (tall + 2, 2.75)], (x, y, sheet.low[2] - 1), (x, y, sheet.high[2]))
        for x, y in sheet.bolts
    ]


def _vents(sheet: Sheet) -> list[Manifold]:
    return [
        slab((min(x, x + long), y - wide / 2, 0.0), (max(x, x + long), y + wide / 2, 0.2))
        for (x, y, _), long, wide in sheet.vents
    ]


def _loose(body: Manifold, gap: float) -> Manifold:
    """The body with a gap all round, made from moved copies."""
    if not gap:
        return body
    steps = [(x, y, z) for x in (-gap, gap) for y in (-gap, gap) for z in (-gap, gap)]
    return union([body, *(body.translate(step) for step in steps)])


def finished(name: str, drawing: Callable[[], Sheet]) -> Case:
    """The case, filed closed."""
    sheet = drawing()
    block, feed = union([slab(sheet.low, sheet.high), *sheet.proud]), union(sheet.feed)
    baits, gates = list(sheet.baits), []
    cores = union(core for _, core, _ in sheet.cores)
    for number, at, normal, wide in sheet.gates:
        baits[number] = baits[number] + (feed ^ half_space(at, normal, 3 * wide, wide))
        gates.append(GateTruth(at_mm=at, normal=normal, bait=number))
    baits = [(bait ^ block) - cores for bait in baits]
    left = (feed ^ block) - union(baits) - cores
    seats = union(_loose(core, gap) for _, core, gap in sheet.cores)
    hollow = union([*sheet.baits, feed, *_vents(sheet), *_holes(sheet), seats])
    solid_a = block ^ slab((-900, -900, -900), (900, 900, 0))
    solid_b = block ^ slab((-900, -900, 0), (900, 900, 900))
    for x, y in sheet.pins:
        sheet.add_a.append(turned([(0, 3.0), (7.0, 3.0), (8.0, 2.2)], (x, y, -2), (x, y, 0)))
        sheet.cut_b.append(turned([(0, 3.2), (8.4, 3.2)], (x, y, -2), (x, y, 0)))
    half_a = solid_a - hollow - union(sheet.cut_a) + union(sheet.add_a)
    half_b = solid_b - hollow - union(sheet.cut_b) + union(sheet.add_b)
    truths = Truths(
        baits_ml=tuple(bait.volume() / 1000 for bait in baits),
        lengths_mm=tuple(reach_mm(bait) for bait in baits),
        feed_ml=left.volume() / 1000,
        overflow_ml=0.0,
        seat_ml=0.0,
        slack_ml=sheet.slack_ml,
        vents_ml=0.0,
        other_ml=0.0,
        block_ml=block.volume() / 1000,
        trunk_mm=sheet.trunk,
        eye_mm=sheet.eyes,
        bolts_mm=(5.5,) * len(sheet.bolts),
        pins=len(sheet.pins) + sheet.also_pins,
        vents=(len(sheet.vents), len(sheet.vents) + sheet.also_vents),
        gates=tuple(gates),
        mouth_mm=sheet.mouth,
        direction=sheet.toward,
        vents_at_mm=tuple((x + long, y, 0.1) for (x, y, _), long, _ in sheet.vents),
        ignore_at_mm=(),
        spans_mm=tuple(spans_mm(bait) for bait in baits),
        vent_mm=0.2 if sheet.vents else None,
    )
    files: list[tuple[str, Manifold, str | None]] = [
        ("half-a.stl", half_a, None),
        ("half-b.stl", half_b, None),
    ]
    files += [(f"{role}-{k + 1}.stl", core, role) for k, (role, core, _) in enumerate(sheet.cores)]
    return Case(
        name=name,
        files=tuple(
            Filed(name=file, corners=triangles(body) / MM[sheet.unit], role=role)
            for file, body, role in files
        ),
        kind="injection",
        cavities=len(baits),
        unit=sheet.unit if sheet.unit != "mm" else None,
        true_unit=sheet.unit,
        truths=truths,
        halves=(half_a, half_b, *(core for _, core, _ in sheet.cores)),
    )


def corners(low: Point, high: Point, inset: float = 7.0) -> list[tuple[float, float]]:
    """Places of four bolts."""
    return [(x, y) for x in (low[0] + inset, high[0] - inset) for y in (low[1] + inset, high[1] - inset)]
