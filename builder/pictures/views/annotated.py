"""Views with labels: annotated plastic, thickness, printing pose."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from builder import mesh
from builder.base import figures
from builder.model import Bait, Figure, Station
from builder.physics import bolted
from builder.pictures.render import palette, rays
from builder.pictures.render.camera import look
from builder.pictures.render.scene import Body, Gauge, Place, Ruling, thickness
from builder.pictures.render.shape import shape
from builder.pictures.views import callouts, symbols
from builder.pictures.views.callouts import Callout, Dimension, Notes, Scale
from builder.pictures.views.cuts import APART_MM, GATE_NEAR_MM
from builder.pictures.views.plain import View, along_view, alt, counts
from builder.pictures.views.shapes import MoldShapes, Part

F64 = NDArray[np.float64]
ABOVE = look(0, 90)
BED_GAP_MM = 20.0
GRID_MM = 10.0
LINE_MM = 0.18
"""Half the width of a line on the ground."""
ROUND = (1, 1.2, 1.6, 2, 2.4, 3, 4, 5, 6, 8, 10)
OFF_MM = (4.0, 9.0)
"""Distance of dimension lines from what they measure: a share of its size between these."""
OFF_SHARE = 0.035


def annotated_view(kit: MoldShapes) -> View:
    """The first part with the plastic in it, square from above, and what was measured on it."""
    m, read = kit.measurement, kit.read
    bait = m.baits[kit.largest]
    part = kit.parts[0]
    bodies = [Body(shape=part.shape, colour=part.colour)]
    bodies += [Body(shape=p.shape, colour=p.colour, gloss=0.3) for p in kit.plastic]
    calls = []
    if bait.thinnest is not None:
        calls.append(thinnest_call(kit, bait, bait.thinnest))
    calls += place_calls(kit)
    if m.sprue is not None:
        mouth = read["sprue.mouth"]
        calls.append(Callout(name="pictures.label.sprue", figure=mouth, at_mm=m.sprue.mouth_mm))
    if bait.sockets:
        eye = bait.sockets[0]
        calls.append(Callout(name="pictures.label.eye", figure=kit.of_bait("socket"), at_mm=eye.at_mm))
    for name, things, size in (
        ("vent", m.vents, "depth"),
        ("bolt", m.bolts, "hole"),
        ("pin", m.pins, "diameter"),
    ):
        if things:
            shown = read[f"{name}.0.{size}"]
            first, *alike = (thing.at_mm for thing in things)
            label = f"pictures.label.{name}"
            calls.append(Callout(name=label, figure=shown, at_mm=first, alike_mm=tuple(alike)))
    room = callouts.PLACES - 1  # the length takes one; what comes last is told in the tables as well
    notes = Notes(callouts=tuple(calls[:room]), dimensions=(length_line(kit),))
    values = counts(kit) | {"length": kit.of_bait("length")}
    name = "annotated_open_pour" if m.sprue is None else "annotated"
    if bait.thinnest is not None:
        values |= {"thinnest": kit.of_bait("thinnest.thickness"), "feeds": bait.thinnest_feeds}
    else:
        name += "_plain"
    return View(
        name="annotated",
        bodies=tuple(bodies),
        axes=ABOVE,
        alt=alt(kit.alt_key(name), values),
        notes=notes,
    )


def place_calls(kit: MoldShapes) -> list[Callout]:
    """Where filling is decided, unless that is the thinnest section, and where the next bolt helps most."""
    calls, bait, spot = [], kit.measurement.baits[kit.largest], bolted.parting(kit.measurement)
    if kit.deciding is not None:
        place = kit.deciding.station
        known = bait.thinnest is not None and math.dist(place.at_mm, bait.thinnest.at_mm) < APART_MM
        thickness = figures.station(place, kit.measurement)["thickness"]
        call = Callout(name="pictures.label.deciding", figure=thickness, at_mm=place.at_mm)
        calls += [] if known else [call]
    if spot is not None:
        calls.append(Callout(name="pictures.label.next_bolt", figure=None, at_mm=spot.at_mm))
    return calls


def thinnest_call(kit: MoldShapes, bait: Bait, thinnest: Station) -> Callout:
    """The thinnest section pointed out, as a gate where it is one: the bait itself is thick there."""
    at_gate = any(math.dist(gate.at_mm, thinnest.at_mm) < GATE_NEAR_MM for gate in bait.gates)
    name = "pictures.label.thin_gate" if at_gate else "pictures.label.thinnest"
    thickness = figures.station(thinnest, kit.measurement)["thickness"]
    return Callout(name=name, figure=thickness, at_mm=thinnest.at_mm)


def length_line(kit: MoldShapes) -> Dimension:
    """The largest bait's length along the box round it from above, set off beside it."""
    solid, bait = kit.plastic[kit.largest].solid, kit.measurement.baits[kit.largest]
    points = solid.vertices[:, :2]
    along = mesh.plan_box(solid, solid.vertices, [gate.normal for gate in bait.gates]).along
    along = along if tuple(along) > (0.0, 0.0) else -along
    across = np.array([-along[1], along[0]])
    off = float((points @ across).max()) + 0.035 * max(kit.measurement.size_mm)
    top = max(float(part.shape.vertices[:, 2].max()) for part in kit.parts)
    middle = float((points @ along).min() + (points @ along).max()) / 2
    half = bait.length_mm / 2
    ends = (middle - half, middle + half)
    a, b = (mesh.vec(np.array([*(end * along + off * across), top])) for end in ends)
    return Dimension(name="pictures.label.length", figure=kit.of_bait("length"), from_mm=a, to_mm=b)


def thickness_view(kit: MoldShapes) -> View:
    """The largest bait coloured by its thickness, thin dark and thick light, with its scale."""
    m = kit.measurement
    its_shape, bait = kit.baits[kit.largest], m.baits[kit.largest]
    caster = rays.caster(its_shape.vertices.astype(np.float32), its_shape.faces)
    high = _scale_end(kit, caster)
    body = Body(shape=its_shape, colour=palette.BAIT, relief=0.4, gauge=Gauge(caster=caster, high_mm=high))
    ticks = tuple(figures.chosen(high * share) for share in (0.0, 0.5, 1.0))
    scale = Scale(colours=palette.THIN_TO_THICK, name="pictures.label.thickness", ticks=ticks)
    values: dict[str, Figure | str] = {"high": figures.chosen(high)}
    name, notes = "thickness", Notes()
    if bait.thinnest is not None:
        call = thinnest_call(kit, bait, bait.thinnest)
        values |= {"thinnest": kit.of_bait("thinnest.thickness"), "feeds": bait.thinnest_feeds}
        notes = Notes(callouts=(call,))
    else:
        name += "_plain"
    axes = along_view(its_shape.vertices)
    return View(name="thickness", bodies=(body,), axes=axes, alt=alt(name, values), notes=notes, scale=scale)


def _scale_end(kit: MoldShapes, caster: rays.Caster) -> float:
    """Upper end of the scale, a round number of mm that nearly all of the skin stays under."""
    its = kit.baits[kit.largest]
    corners = its.vertices[its.faces]
    area, flat = mesh.areas(corners), mesh.unit_normals(corners)
    most = float(np.ptp(its.vertices, axis=0).max())
    deep = thickness(caster, corners.mean(axis=1).astype(np.float32), flat.astype(np.float32), most)
    order = np.argsort(deep, kind="stable")
    share = np.cumsum(area[order]) / area.sum()
    high = float(deep[order][np.searchsorted(share, 0.96)])
    return scale_end(high)


def scale_end(most_mm: float) -> float:
    """The next number from `most_mm` on that is round, and half of it too.

    >>> [scale_end(most) for most in (0.9, 2.05, 6.7, 10.2, 12.0)]
    [1.0, 2.4, 8.0, 12.0, 12.0]
    """
    tens = 10.0 ** math.floor(math.log10(most_mm))
    return next(round(tens * step, 9) for step in ROUND if tens * step > most_mm * (1 - 1e-9))


def print_view(kit: MoldShapes) -> View:
    """The parts as they stand on the printer, on a grid of 10 mm, with their sizes."""
    bodies, dimensions, reach = [], [], 0.0
    known: set[tuple[str, float]] = set()
    low, high = np.zeros(2), np.zeros(2)
    for part in kit.parts:
        place, size = _stood(part, reach)
        bodies.append(Body(shape=part.shape, colour=part.colour, place=place))
        corner = np.array([0.0, reach, 0.0])
        for line in _sizes(kit.read, f"part.{kit.measurement.parts.index(part.measure)}", corner, size):
            what = (line.name, round(line.figure.value, 1))
            dimensions += [line] if what not in known else []
            known.add(what)
        reach += float(size[1]) + BED_GAP_MM
        high = np.maximum(high, corner[:2] + size[:2])
    margin = BED_GAP_MM / 2
    low, high = np.floor((low - margin) / GRID_MM) * GRID_MM, np.ceil((high + margin) / GRID_MM) * GRID_MM
    slab = symbols.ground(low, high, 1.5)
    bodies.append(Body(shape=shape(slab), colour=palette.GROUND, ruling=_grid()))
    first = f"part.{kit.measurement.parts.index(kit.parts[0].measure)}"
    values = counts(kit) | {"height": kit.read[f"{first}.height"]}
    values |= {axis: kit.read[f"{first}.bed.{axis}"] for axis in "xy"}
    notes = Notes(dimensions=tuple(dimensions[:6]))
    return View(name="print", bodies=tuple(bodies), axes=look(-24, 38), alt=alt("print", values), notes=notes)


def _grid() -> Ruling:
    """The lines on the ground."""
    x, y, up = np.eye(3)
    return Ruling(
        point=np.zeros(3),
        normal=up,
        across=(x, y),
        apart_mm=GRID_MM,
        half_mm=LINE_MM,
        colour=palette.GRID,
    )


def _stood(part: Part, reach: float) -> tuple[Place, F64]:
    """Where a part stands in its printing pose, its lowest corner at y = `reach`; and its size."""
    turn = mesh.matrix(part.measure.print_turn_deg)
    points = part.shape.vertices @ turn.T
    shift = np.array([0.0, reach, 0.0]) - points.min(axis=0)
    return Place(turn=turn, shift_mm=mesh.vec(shift)), np.ptp(points, axis=0)


def _sizes(read: Mapping[str, Figure], part: str, corner: F64, size: F64) -> list[Dimension]:
    """Dimension lines on the ground before and beside a part, and up its near edge."""
    left, near, _ = corner
    right, far, top = corner + size
    off = float(np.clip(OFF_SHARE * size.max(), *OFF_MM))
    before, left_of, right_of = near - off, left - off, right + off
    lines = (
        ("across", (left, before, 0.0), (right, before, 0.0), "bed.x"),
        ("deep", (right_of, near, 0.0), (right_of, far, 0.0), "bed.y"),
        ("high", (left_of, near, 0.0), (left_of, near, top), "height"),
    )
    return [
        Dimension(
            name=f"pictures.label.{name}",
            figure=read[f"{part}.{side}"],
            from_mm=mesh.vec(np.array(a)),
            to_mm=mesh.vec(np.array(b)),
        )
        for name, a, b, side in lines
    ]
