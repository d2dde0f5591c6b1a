"""Cuts through the closed mold, square to the flow: at the section that decides, and at the thinnest."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from builder import mesh
from builder.base import figures
from builder.model import Bait, Deciding, Figure, FlowPath, Station, Vec3
from builder.pictures.render import palette
from builder.pictures.render.scene import Body, Ruling
from builder.pictures.render.shape import shape
from builder.pictures.views import symbols
from builder.pictures.views.callouts import Callout, Circle, Notes
from builder.pictures.views.plain import View, alt
from builder.pictures.views.shapes import MoldShapes

F64 = NDArray[np.float64]
GATE_NEAR_MM = 0.5
STRAIGHT = math.cos(math.radians(8))
BEYOND_MM = 0.05
"""So far beyond its section a cut lies, so that at a gate it goes through the bait alone."""
BEHIND = 0.55
"""How much light and shadow show on what lies behind a cut: a hole is dark there, but no black bar."""
HATCH_SHARE = 0.16
"""Width of a hatch line against the distance to the next."""
APART_MM = 3.0
"""Sections nearer to each other than this are shown in one cut."""


def deciding_view(kit: MoldShapes) -> View | None:
    """The cut at the section that limits filling, or at the thinnest section without advice."""
    m, found = kit.measurement, kit.deciding
    if found is None:
        return _thinnest(kit, m.baits[kit.largest], "cut")
    values: dict[str, Figure | str] = {"path": found.path, **figures.station(found.station, m)}
    return _cut_view(kit, (_decided(kit, found), found.station), "cut", "deciding", values)


def thinnest_view(kit: MoldShapes) -> View | None:
    """The cut at the same bait's thinnest section; None where there is none or the other cut shows it."""
    if kit.deciding is None:
        return None
    bait = _decided(kit, kit.deciding)
    thin = bait.thinnest
    if thin is None or math.dist(kit.deciding.station.at_mm, thin.at_mm) < APART_MM:
        return None
    return _thinnest(kit, bait, "cut-thinnest")


def _decided(kit: MoldShapes, found: Deciding) -> Bait:
    return next(bait for bait in kit.measurement.baits if bait.name == found.bait)


def _thinnest(kit: MoldShapes, bait: Bait, name: str) -> View | None:
    if bait.thinnest is None:
        return None
    values: dict[str, Figure | str] = {
        "path": bait.thinnest_feeds,
        **figures.station(bait.thinnest, kit.measurement),
    }
    return _cut_view(kit, (bait, bait.thinnest), name, "thinnest", values)


def _cut_view(
    kit: MoldShapes,
    where: tuple[Bait, Station],
    name: str,
    what: str,
    values: Mapping[str, Figure | str],
) -> View:
    """The view onto the cut: parts hatched, the plastic in its tints, a circle of the section's thickness."""
    bait, station = where
    flow = flow_at(bait, station)
    point = np.array(station.at_mm) + BEYOND_MM * flow
    axes = _facing(-flow)
    right, up = np.array(axes[0]), np.array(axes[1])
    span = max(7.0 * station.thickness_mm, 12.0)
    bodies = []
    for index, part in enumerate(kit.parts):
        across = (right + up if index % 2 == 0 else right - up) / math.sqrt(2)
        hatch = Ruling(
            point=point,
            normal=-flow,
            across=(across,),
            apart_mm=span / 18,
            half_mm=HATCH_SHARE / 2 * span / 18,
            colour=palette.HATCH,
        )
        bodies.append(_behind(part.body, part.colour, (point, -flow), hatch))
    for piece in kit.plastic:
        bodies.append(_behind(piece.body, piece.colour, (point, -flow), None))
    middle = _middle(kit, point, flow)
    sides = itertools.product((-0.5, 0.5), repeat=2)
    corners = [middle + right * 1.5 * x * span + up * y * span for x, y in sides]
    shown = figures.station(station, kit.measurement)["thickness"]
    call = Callout(name=f"pictures.label.{what}", figure=shown, at_mm=mesh.vec(middle))
    circle = Circle(at_mm=mesh.vec(middle), diameter_mm=station.thickness_mm)
    return View(
        name=name,
        bodies=tuple(body for body in bodies if body is not None),
        axes=axes,
        alt=alt(f"cut_{what}", values),
        notes=Notes(callouts=(call,), circles=(circle,)),
        focus=np.array(corners),
        windowed=True,
    )


def _behind(body: mesh.Body, colour: str, cut: tuple[F64, F64], hatch: Ruling | None) -> Body | None:
    """What is left of the body behind a cut, given by a point and the way it faces; None when nothing is."""
    rest = symbols.behind(body, *cut)
    return None if rest is None else Body(shape=shape(rest), colour=colour, ruling=hatch, relief=BEHIND)


def _middle(kit: MoldShapes, at: F64, flow: F64) -> F64:
    """Middle of the largest circle in the plastic's section at a point; the point where there is none."""
    sections = [mesh.section(piece.solid, at, flow) for piece in kit.plastic]
    found = [(section, polygon) for section in sections if (polygon := section.at(at)) is not None]
    middles = [section.lift(mesh.inscribed(polygon)[1]) for section, polygon in found]
    return min(middles, key=lambda middle: float(np.linalg.norm(middle - at)), default=at)


def flow_at(bait: Bait, station: Station) -> F64:
    """Direction of the flow (length 1) at a station: a gate's own, else the way over a thickness each side.

    Away from gates, within 8 degrees of an axis of the mold it is that axis.
    """
    gates = [gate for gate in bait.gates if math.dist(gate.at_mm, station.at_mm) < GATE_NEAR_MM]
    if gates:
        normal = np.array(gates[0].normal)
        return np.asarray(normal / np.linalg.norm(normal))
    path = min(bait.paths, key=lambda path: _off(path, station))
    at = np.array([s.at_mm for s in path.stations])
    away = np.linalg.norm(at - station.at_mm, axis=1)
    near = np.flatnonzero(away <= max(station.thickness_mm, np.sort(away)[min(2, len(away) - 1)]))
    way = at[near[-1]] - at[near[0]]
    way = way / np.linalg.norm(way)
    steep = int(np.abs(way).argmax())
    return np.asarray(np.eye(3)[steep] * np.sign(way[steep]) if abs(way[steep]) > STRAIGHT else way)


def _off(path: FlowPath, station: Station) -> float:
    return min(math.dist(s.at_mm, station.at_mm) for s in path.stations)


def _facing(toward: F64) -> tuple[Vec3, Vec3, Vec3]:
    """Axes of a view square onto a plane, z up where it can be."""
    up = np.array([0.0, 0.0, 1.0]) if abs(toward[2]) < 0.9 else np.array([0.0, 1.0, 0.0])
    right = np.cross(up, toward)
    right /= np.linalg.norm(right)
    return mesh.vec(right), mesh.vec(np.cross(toward, right)), mesh.vec(toward)
