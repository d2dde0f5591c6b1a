"""The shapes of a mold, made ready for drawing once and shared by all views."""

from __future__ import annotations

from dataclasses import dataclass

from builder.model import Measurement, MoldSpec, PartMeasure, Reading
from builder.pictures import palette
from builder.pictures.scene import Inlay, Shape, inlay, shape

_PLASTIC = {
    "black": "#4a4d52", "blue": "#3f6fae", "brown": "#86644a", "chartreuse": "#b6c93f", "gold": "#c79f3b",
    "green": "#4d9152", "grey": "#868c92", "orange": "#db8238", "pearl": "#c9c6bd", "pink": "#d9809e",
    "purple": "#7a5a9c", "pumpkin": "#a06c35", "red": "#b8433f", "silver": "#a7adb3", "smoke": "#82868a",
    "watermelon": "#5c8550", "white": "#d2d3cf", "yellow": "#d9b93a",
}  # fmt: skip
"""Colour of a bait by a word in its first recipe."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Kit:
    """A mold as shapes, closed-mold frame: printed parts without a bait positive, and the plastic."""

    spec: MoldSpec
    measurement: Measurement
    parts: tuple[tuple[PartMeasure, Shape], ...]
    baits: tuple[Shape, ...]
    runner: Shape | None
    vents: tuple[Shape, ...]
    plastic: Inlay | None
    bait_colour: str


def kit(spec: MoldSpec, reading: Reading) -> Kit:
    """The shapes of a reading."""
    geometry, measurement = reading.geometry, reading.measurement
    parts = zip(measurement.parts, geometry.parts, strict=True)
    tinted = [(bait, palette.BAIT) for bait in geometry.baits]
    tinted += [(geometry.runner, palette.RUNNER)] if geometry.runner else []
    tinted += [(vent, palette.VENT) for vent in geometry.vents]
    return Kit(
        spec=spec,
        measurement=measurement,
        parts=tuple((part, shape(solid)) for part, solid in parts if part.role != "bait"),
        baits=tuple(shape(bait) for bait in geometry.baits),
        runner=shape(geometry.runner) if geometry.runner else None,
        vents=tuple(shape(vent) for vent in geometry.vents),
        plastic=inlay(tinted) if tinted else None,
        bait_colour=plastic_colour(spec),
    )


def plastic_colour(spec: MoldSpec) -> str:
    """The colour that the words of the first recipe name, else the palette's."""
    recipes = spec.colours[:1]
    texts = [i.what for recipe in recipes for i in recipe.ingredients] + [recipe.name for recipe in recipes]
    words = " ".join(texts).lower().split()
    return next((_PLASTIC[word] for word in words if word in _PLASTIC), palette.BAIT)


def part_colour(index: int, role: str) -> str:
    """The tone of a printed part: the two halves differ."""
    if role not in ("half", "open"):
        return palette.CORE
    return palette.HALF if index % 2 == 0 else palette.OTHER_HALF
