"""What each picture shows: which bodies, laid out how, seen from where, and its description."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from builder.model import Figure, Finding, Vec3
from builder.pictures import figures
from builder.pictures.camera import look
from builder.pictures.kit import Kit, part_colour
from builder.pictures.scene import Body, Place

F64 = NDArray[np.float64]
GAP = 0.09
"""Free space between parts laid beside each other, as a share of the mold's length."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class View:
    """One picture to draw: bodies, axes of the view (right, up, toward) and the description."""

    name: str
    bodies: tuple[Body, ...]
    axes: tuple[Vec3, Vec3, Vec3]
    alt: Finding


def _alt(name: str, values: Mapping[str, Figure | str]) -> Finding:
    return Finding(level="note", code=f"pictures.alt.{name}", values=values)


def open_view(kit: Kit) -> View:
    """The parts laid beside each other, cavities up, the skin that makes the plastic tinted."""
    long = 0 if kit.measurement.size_mm[0] >= kit.measurement.size_mm[1] else 1
    gap = GAP * max(kit.measurement.size_mm)
    bodies, reach = [], 0.0
    for index, (part, shape) in enumerate(kit.parts):
        turn = _laid_open(index, part.role, long)
        points = shape.vertices @ turn.T
        shift = np.zeros(3)
        shift[1 - long] = reach - points[:, 1 - long].min()
        shift[2] = -points[:, 2].min()
        reach += float(np.ptp(points[:, 1 - long])) + gap
        place = Place(turn=turn, shift_mm=(float(shift[0]), float(shift[1]), float(shift[2])))
        colour = part_colour(index, part.role)
        bodies.append(Body(shape=shape, colour=colour, place=place, inlay=kit.plastic))
    m = kit.measurement
    values: dict[str, Figure | str] = {
        "title": kit.spec.title,
        "parts": figures.count(len(kit.parts)),
        "baits": figures.count(len(m.baits)),
        "bolts": figures.count(len(m.bolts)),
        "pins": figures.count(len(m.pins)),
        "vents": figures.count(len(m.vents)),
    }
    name = "open" if m.kind == "injection" else "open_pour"
    azimuth = -18.0 if long == 0 else 72.0
    return View(name="open", bodies=tuple(bodies), axes=look(azimuth, 54), alt=_alt(name, values))


def _laid_open(index: int, role: str, long: int) -> F64:
    """Turn of a part: every half but the first is opened like a book about the mold's long axis."""
    if role != "half" or index == 0:
        return np.eye(3)
    return np.diag([1.0, -1.0, -1.0]) if long == 0 else np.diag([-1.0, 1.0, -1.0])


def closed_view(kit: Kit) -> View:
    """The mold as it is shot, the sprue's mouth towards the viewer."""
    bodies = [
        Body(shape=shape, colour=part_colour(index, part.role), inlay=kit.plastic)
        for index, (part, shape) in enumerate(kit.parts)
    ]
    m = kit.measurement
    values: dict[str, Figure | str] = {"title": kit.spec.title} | {
        name: figures.length(value, m) for name, value in zip("xyz", m.size_mm, strict=True)
    }
    name = "closed_open_pour"
    if m.sprue is not None:
        name, values["mouth"] = "closed", figures.length(m.sprue.mouth_diameter_mm, m)
    axes = look(_azimuth_to_mouth(kit), 30)
    return View(name="closed", bodies=tuple(bodies), axes=axes, alt=_alt(name, values))


def _azimuth_to_mouth(kit: Kit) -> float:
    """From which side to look so that the sprue's mouth and a long side are seen."""
    if kit.measurement.sprue is None:
        return -32.0
    x, y, _ = kit.measurement.sprue.direction
    if math.hypot(x, y) < 0.3:
        return -32.0
    mouth = math.degrees(math.atan2(-x, y))
    return mouth + 52.0 if kit.measurement.size_mm[0] >= kit.measurement.size_mm[1] else mouth + 38.0


def bait_view(kit: Kit) -> View:
    """The first bait alone, in its plastic's colour, the way it lies in the mold."""
    bait, shape = kit.measurement.baits[0], kit.baits[0]
    body = Body(shape=shape, colour=kit.bait_colour, gloss=0.8)
    values: dict[str, Figure | str] = {
        "title": kit.spec.title,
        "length": figures.length(bait.length_mm, kit.measurement),
        "height": figures.length(bait.height_mm, kit.measurement),
        "width": figures.length(bait.width_mm, kit.measurement),
    }
    flat = shape.vertices[:, :2] - shape.vertices[:, :2].mean(axis=0)
    along = np.linalg.eigh(flat.T @ flat)[1][:, 1]
    along = along if along[0] >= 0 else -along
    azimuth = math.degrees(math.atan2(float(along[1]), float(along[0])))
    return View(name="bait", bodies=(body,), axes=look(azimuth - 14, 58), alt=_alt("bait", values))
