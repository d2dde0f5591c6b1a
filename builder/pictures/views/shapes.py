"""The shapes of a mold, made ready for drawing once and shared by all views."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from builder import mesh
from builder.base import figures
from builder.model import (
    Deciding,
    Figure,
    Measurement,
    PartMeasure,
    Reading,
    Solid,
    Sprue,
)
from builder.pictures.render import palette
from builder.pictures.render.scene import Inlay, inlay
from builder.pictures.render.shape import Shape, shape
from builder.pictures.views.symbols import split_by_volume

FINE_MM = 0.01
"""Shapes to draw stay this near to the solids: a tenth of a pixel or less."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Part:
    """One printed part, closed-mold frame."""

    measure: PartMeasure
    solid: Solid
    body: mesh.Body
    """With fewer facets, within FINE_MM: what is drawn."""
    thin: Solid
    """The same as a mesh."""
    shape: Shape
    colour: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plastic:
    """One piece of the plastic with its tint, closed-mold frame."""

    solid: Solid
    body: mesh.Body
    thin: Solid
    shape: Shape
    colour: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MoldShapes:
    """A mold as shapes, closed-mold frame: printed parts without a bait positive, and the plastic."""

    measurement: Measurement
    parts: tuple[Part, ...]
    plastic: tuple[Plastic, ...]
    """Baits first, in the measurement's order, then sprue, runner, vents."""
    tint: Inlay | None
    deciding: Deciding | None
    """On the path that fills last, by the advice for the mold's own pair."""
    read: Mapping[str, Figure]
    """The measurement's figures (base/figures.py)."""
    largest: int
    """Index of the bait that stands for the mold."""

    @property
    def baits(self) -> tuple[Shape, ...]:
        """The baits alone, in the measurement's order."""
        return tuple(piece.shape for piece in self.plastic[: len(self.measurement.baits)])

    def of_bait(self, name: str) -> Figure:
        """A figure of the largest bait."""
        return self.read[f"bait.{self.largest}.{name}"]

    def alt_key(self, picture: str) -> str:
        """The description's name of a picture of the largest bait: another where baits differ in size."""
        return picture if len(figures.kinds(self.measurement)) == 1 else f"{picture}_largest"


def mold_shapes(reading: Reading, deciding: Deciding | None = None) -> MoldShapes:
    """The solids of a reading, and the section that limits filling according to the advice."""
    geometry, measurement = reading.geometry, reading.measurement
    printed = [pair for pair in zip(measurement.parts, geometry.parts, strict=True) if pair[0].role != "bait"]
    parts = tuple(
        Part(
            measure=part,
            solid=solid,
            body=(body := mesh.simplified(solid, FINE_MM)),
            thin=(thin := mesh.solid(body, solid.name)),
            shape=shape(thin),
            colour=part_colour(index, part.role),
        )
        for index, (part, solid) in enumerate(printed)
    )
    tinted = [(bait, palette.BAIT) for bait in geometry.baits]
    tinted += _sprue_and_runner(geometry.runner, measurement.sprue) if geometry.runner else []
    tinted += [(vent, palette.VENT) for vent in geometry.vents]
    plastic = tuple(
        Plastic(
            solid=solid,
            body=(body := mesh.simplified(solid, FINE_MM)),
            thin=(thin := mesh.solid(body, solid.name)),
            shape=shape(thin),
            colour=colour,
        )
        for solid, colour in tinted
    )
    return MoldShapes(
        measurement=measurement,
        parts=parts,
        plastic=plastic,
        tint=inlay([(piece.thin, piece.colour) for piece in plastic]) if plastic else None,
        deciding=deciding,
        read=figures.measured(measurement),
        largest=figures.largest(measurement),
    )


def _sprue_and_runner(both: Solid, sprue: Sprue | None) -> list[tuple[Solid, str]]:
    """Sprue and runner as separate solids, cut where the sprue's measured volume ends."""
    if sprue is None:
        return [(both, palette.RUNNER)]
    mouth, direction = np.array(sprue.mouth_mm), np.array(sprue.direction)
    first, rest = split_by_volume(both, mouth, direction, sprue.volume_ml * mesh.MM3_PER_ML)
    return [(first, palette.SPRUE)] + ([(rest, palette.RUNNER)] if rest else [])


def part_colour(index: int, role: str) -> str:
    """The tone of a printed part: the two halves differ."""
    if role not in ("half", "open"):
        return palette.CORE
    return palette.HALF if index % 2 == 0 else palette.OTHER_HALF
