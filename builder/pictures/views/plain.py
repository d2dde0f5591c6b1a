"""Views without measurements: open, closed, exploded, bait, shot."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from builder import mesh
from builder.base import figures
from builder.model import Figure, Finding, Sprue, Vec3
from builder.pictures.render import palette
from builder.pictures.render.camera import look
from builder.pictures.render.scene import Body, Place
from builder.pictures.render.shape import Shape, shape
from builder.pictures.views import symbols
from builder.pictures.views.callouts import Callout, Notes, Scale
from builder.pictures.views.shapes import MoldShapes, Part

F64 = NDArray[np.float64]
GAP = 0.09
"""Free space between parts laid beside each other, as a share of the mold's length."""
BOLT_GAP = 0.25
"""How far a bolt is drawn out of an exploded mold, as a share of its length."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class View:
    """One picture to draw: bodies, axes of the view (right, up, toward), description and notes.

    `focus` (n, 3) is what must be in the frame, everything when it is None.
    """

    name: str
    bodies: tuple[Body, ...]
    axes: tuple[Vec3, Vec3, Vec3]
    alt: Finding
    notes: Notes = field(default_factory=Notes)
    focus: F64 | None = None
    windowed: bool = False
    """Nothing is drawn in the margins, where labels stand."""
    scale: Scale | None = None


def alt(name: str, values: Mapping[str, Figure | str]) -> Finding:
    """The description of a picture, still without the title and what the advice says (stages.described)."""
    return Finding(level="note", code=f"pictures.alt.{name}", values=values)


def long_axis(kit: MoldShapes) -> int:
    """0 when the mold is longer along x, 1 when along y."""
    return 0 if kit.measurement.size_mm[0] >= kit.measurement.size_mm[1] else 1


def counts(kit: MoldShapes) -> dict[str, Figure | str]:
    """Numbers of things, for descriptions."""
    return {
        "parts": figures.count(len(kit.parts)),
        **{name: kit.read[f"{name}.count"] for name in ("baits", "bolts", "pins", "vents")},
    }


def open_view(kit: MoldShapes) -> View:
    """The parts laid beside each other, cavities up, the skin that makes the plastic tinted."""
    long = long_axis(kit)
    gap = GAP * max(kit.measurement.size_mm)
    bodies, reach = [], 0.0
    for index, part in enumerate(kit.parts):
        turn = _laid_open(index, part, long)
        points = part.shape.vertices @ turn.T
        shift = np.zeros(3)
        shift[1 - long] = reach - points[:, 1 - long].min()
        shift[2] = -points[:, 2].min()
        reach += float(np.ptp(points[:, 1 - long])) + gap
        place = Place(turn=turn, shift_mm=mesh.vec(shift))
        bodies.append(Body(shape=part.shape, colour=part.colour, place=place, inlay=kit.tint))
    name = "open" if kit.measurement.kind == "injection" else "open_pour"
    axes = look(-18.0 if long == 0 else 72.0, 54)
    return View(name="open", bodies=tuple(bodies), axes=axes, alt=alt(name, counts(kit)))


def _laid_open(index: int, part: Part, long: int) -> F64:
    """Turn of a part: every half but the first is opened like a book about the mold's long axis."""
    if part.measure.role != "half" or index == 0:
        return np.eye(3)
    return np.diag([1.0, -1.0, -1.0]) if long == 0 else np.diag([-1.0, 1.0, -1.0])


def closed_view(kit: MoldShapes) -> View:
    """The mold as it is shot, the sprue's mouth towards the viewer."""
    bodies = [Body(shape=part.shape, colour=part.colour, inlay=kit.tint) for part in kit.parts]
    m = kit.measurement
    values: dict[str, Figure | str] = {axis: kit.read[f"size.{axis}"] for axis in "xyz"}
    axes = look(_azimuth_to_mouth(kit), 30)
    name, notes = "closed_open_pour", Notes()
    if m.sprue is not None:
        wide = kit.read["sprue.mouth"]
        name, values["mouth"] = "closed", wide
        rim = _rim(m.sprue, axes[1])
        notes = Notes(callouts=(Callout(name="pictures.label.sprue", figure=wide, at_mm=rim),))
    return View(name="closed", bodies=tuple(bodies), axes=axes, alt=alt(name, values), notes=notes)


def _rim(sprue: Sprue, up: Vec3) -> Vec3:
    """The uppermost point of the mouth's edge in a view: a mark there leaves the mouth to be seen."""
    direction = np.array(sprue.direction)
    rise = np.array(up) - direction * (direction @ np.array(up))
    rise /= max(float(np.linalg.norm(rise)), 1e-9)
    return mesh.vec(np.array(sprue.mouth_mm) + rise * sprue.mouth_diameter_mm / 2)


def _azimuth_to_mouth(kit: MoldShapes) -> float:
    """From which side to look so that the sprue's mouth and a long side are seen."""
    if kit.measurement.sprue is None:
        return -32.0
    x, y, _ = kit.measurement.sprue.direction
    if math.hypot(x, y) < 0.3:
        return -32.0
    mouth = math.degrees(math.atan2(-x, y))
    return mouth + (52.0 if long_axis(kit) == 0 else 38.0)


def bait_view(kit: MoldShapes) -> View:
    """The largest bait alone, the way it lies in the mold."""
    its_shape = kit.baits[kit.largest]
    values: dict[str, Figure | str] = {name: kit.of_bait(name) for name in ("length", "height", "width")}
    body = Body(shape=its_shape, colour=palette.BAIT, gloss=0.8)
    axes = along_view(its_shape.vertices)
    return View(name="bait", bodies=(body,), axes=axes, alt=alt(kit.alt_key("bait"), values))


def along_view(points: F64, elevation_deg: float = 58.0) -> tuple[Vec3, Vec3, Vec3]:
    """A view from above in which the points' longest extent runs across the picture, a little turned."""
    flat = points[:, :2] - points[:, :2].mean(axis=0)
    along = np.linalg.eigh(flat.T @ flat)[1][:, 1]
    along = along if along[0] >= 0 else -along
    return look(math.degrees(math.atan2(float(along[1]), float(along[0]))) - 14, elevation_deg)


def shot_view(kit: MoldShapes) -> View:
    """The plastic as it leaves the mold: baits, sprue, runner and vents in tints of their own."""
    m = kit.measurement
    bodies = tuple(Body(shape=p.shape, colour=p.colour, gloss=0.5) for p in kit.plastic)
    values = counts(kit)
    name = "shot_open_pour"
    if m.sprue is not None:
        name, values["waste"] = "shot", kit.read["waste"]
    values["bait"] = kit.of_bait("volume")
    axes = along_view(np.concatenate([p.shape.vertices for p in kit.plastic]))
    notes = Notes(callouts=_pieces_named(kit, axes[2]))
    return View(name="shot", bodies=bodies, axes=axes, alt=alt(name, values), notes=notes)


def _pieces_named(kit: MoldShapes, toward: Vec3) -> tuple[Callout, ...]:
    """One piece of each kind pointed out, with its volume: of baits one of the largest."""
    m = kit.measurement
    pieces = [*kit.plastic]
    for index in (k for kind in figures.kinds(m) if kit.largest not in kind for k in kind):
        pieces.remove(kit.plastic[index])
    kinds = [
        ("bait", palette.BAIT, kit.of_bait("volume")),
        ("sprue_plastic", palette.SPRUE, kit.read.get("sprue.volume")),
        ("runner", palette.RUNNER, kit.read.get("runner.volume")),
        ("vent_plastic", palette.VENT, None),
    ]
    calls = []
    for name, colour, volume in kinds:
        places = [facing(piece.shape, toward) for piece in pieces if piece.colour == colour]
        if places:
            one, *alike = places
            label = f"pictures.label.{name}"
            calls.append(Callout(name=label, figure=volume, at_mm=one, alike_mm=tuple(alike), ringed=False))
    return tuple(calls)


def facing(shape: Shape, toward: Vec3) -> Vec3:
    """Middle of the facet that faces the viewer nearest to the shape's middle."""
    corners = shape.vertices[shape.faces]
    cross, size = mesh.crosses(corners), mesh.areas(corners)
    middles = corners.mean(axis=1)
    away = np.linalg.norm(middles - np.average(middles, axis=0, weights=size), axis=1)
    return mesh.vec(middles[np.where(cross @ np.array(toward) > size, away, np.inf).argmin()])


def exploded_view(kit: MoldShapes) -> View | None:
    """Parts, plastic, bolts and nuts drawn apart on their axes; None for a single part."""
    m = kit.measurement
    parts = sorted(kit.parts, key=lambda part: float(part.shape.vertices[:, 2].mean()))
    if len(parts) < 2 and not m.bolts:
        return None
    gap = 0.9 * min(m.size_mm[:2])
    lifts = [gap * index for index in range(len(parts))]
    bodies = [
        Body(shape=part.shape, colour=part.colour, inlay=kit.tint, place=Place(shift_mm=(0.0, 0.0, lift)))
        for part, lift in zip(parts, lifts, strict=True)
    ]
    if len(parts) > 1:
        middle = Place(shift_mm=(0.0, 0.0, gap / 2))
        bodies += [Body(shape=p.shape, colour=p.colour, gloss=0.5, place=middle) for p in kit.plastic]
    bodies += _fastened(kit, lifts[-1])
    axes = look(_azimuth_to_mouth(kit), 26)
    return View(name="exploded", bodies=tuple(bodies), axes=axes, alt=alt("exploded", counts(kit)))


def _fastened(kit: MoldShapes, lift: float) -> list[Body]:
    """Bolts above, nuts below, and the axes of bolts and pins between."""
    m = kit.measurement
    low, high = -_under(kit), m.size_mm[2] - _under(kit) + lift
    thin = 0.0018 * max(m.size_mm)
    made, lines = [], []
    for bolt in m.bolts:
        way = np.array(bolt.direction) * (1 if bolt.direction[2] <= 0 else -1)
        at = np.array(bolt.at_mm)
        top, bottom = _along(at, way, high), _along(at, way, low)
        shank = bolt.length_mm + 1.6 * bolt.diameter_mm
        seat = top - way * (1 + BOLT_GAP) * shank
        made.append(symbols.bolt(seat, way, shank, 0.92 * bolt.diameter_mm))
        under = bottom + way * 2.2 * bolt.diameter_mm
        if bolt.through:
            made.append(symbols.nut(under, way, bolt.diameter_mm))
        lines.append(symbols.axis(seat + way * shank, under if bolt.through else bottom, thin))
    for pin in m.pins:
        at = np.array(pin.at_mm)
        up = np.array([0.0, 0.0, lift])
        lines.append(symbols.axis(at, at + up, thin))
    drawn = []
    if made:
        drawn.append(Body(shape=shape(symbols.together(made)), colour=palette.STEEL, gloss=0.2))
    if lines:
        drawn.append(Body(shape=shape(symbols.together(lines)), colour=palette.AXIS, relief=0.0))
    return drawn


def _under(kit: MoldShapes) -> float:
    """How far the mold reaches under the parting face."""
    return -min(float(part.shape.vertices[:, 2].min()) for part in kit.parts)


def _along(at: F64, way: F64, z: float) -> F64:
    """The point of an axis at a height."""
    return np.asarray(at + way * ((z - at[2]) / way[2]))
