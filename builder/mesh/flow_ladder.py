"""The parts of a flow ladder as solids: base with the channels, lid with the well, gate ring.

Six channels of stepped thickness leave a round well like spokes, so that one level drives them all. The
ring stands in the well and shuts their mouths until it is lifted: the plastic starts in all at one moment.
The face where base and lid meet is z = 0, the base below it.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from builder.mesh import solids
from builder.mesh.solids import Body
from builder.model import Ladder, Solid

WALL_MM = 8.0
"""Behind every channel and round the well: heat comes no deeper while the plastic flows."""
SCREW_MM, TICK_DEEP_MM, TICK_MM = 5.4, 0.6, 0.9
TICK_STEP_MM = 5.0
_VENT_MM = (6.0, 0.3)
"""Width and depth of the way out for the air at the end of each channel."""
_PLAY_MM, _ABOVE_MM = 0.25, 15.0
"""Of the ring in the well; how far the well stands above its mark."""


def parts(ladder: Ladder, nozzle_mm: float) -> dict[str, Solid]:
    """The solids by name, each as it is printed best but not laid flat; `nozzle_mm` sets thin walls."""
    made = {"base": _base(ladder), "lid": _lid(ladder), "ring": _ring(ladder, 6 * nozzle_mm)}
    return {name: solids.solid(made_, name) for name, made_ in made.items()}


def outside_mm(ladder: Ladder) -> float:
    """Diameter of base and lid."""
    return ladder.well_mm + 2 * (ladder.length_mm + WALL_MM)


def _base(ladder: Ladder) -> Body:
    deepest = max(ladder.gaps_mm)
    body = _disc(outside_mm(ladder) / 2, -deepest - WALL_MM, 0.0)
    body -= _disc(ladder.well_mm / 2, -deepest, 1.0)
    for index, gap in enumerate(ladder.gaps_mm):
        turn = 360.0 * index / len(ladder.gaps_mm)
        for hole in (_channel(ladder, gap), *_ticks(ladder), *_dots(ladder, index + 1)):
            body -= hole.rotate((0.0, 0.0, turn))
    return body - _screws(ladder, -deepest - WALL_MM - 1, 1.0)


def _lid(ladder: Ladder) -> Body:
    well, top = ladder.well_mm / 2, ladder.head_mm + _ABOVE_MM
    body = _disc(outside_mm(ladder) / 2, 0.0, WALL_MM) + _disc(well + WALL_MM / 2, 0.0, top)
    mark = _disc(well + TICK_DEEP_MM, ladder.head_mm - TICK_MM / 2, ladder.head_mm + TICK_MM / 2)
    return body - _disc(well, -1.0, top + 1) - mark - _screws(ladder, -1.0, WALL_MM + 1)


def _ring(ladder: Ladder, wall_mm: float) -> Body:
    """A short tube that shuts the channels, on two legs with a handle above the well."""
    outer, foot = ladder.well_mm / 2 - _PLAY_MM, -max(ladder.gaps_mm)
    tube = _disc(outer, foot, 6.0) - _disc(outer - wall_mm, foot - 1, 7.0)
    reach, top = outer - wall_mm, ladder.head_mm + _ABOVE_MM + 25.0
    legs = [_box((side * reach - 2.5, side * reach + 2.5), (-4.0, 4.0), (foot, top)) for side in (-1, 1)]
    handle = _box((-reach - 2.5, reach + 2.5), (-4.0, 4.0), (top - 6.0, top))
    inside = _disc(outer, foot, top)
    return tube + (solids.union([*legs, handle]) ^ inside)


def _channel(ladder: Ladder, gap_mm: float) -> Body:
    mouth, end = ladder.well_mm / 2, ladder.well_mm / 2 + ladder.length_mm
    half, (width, deep) = ladder.width_mm / 2, _VENT_MM
    air = _box((end - 1, end + WALL_MM + 1), (-width / 2, width / 2), (-deep, 1.0))
    return _box((0.5 * mouth, end), (-half, half), (-gap_mm, 1.0)) + air


def _ticks(ladder: Ladder) -> Iterator[Body]:
    """Marks beside the channel every 5 mm from its mouth, longer at the tens, where there is room."""
    mouth, side = ladder.well_mm / 2, ladder.width_mm / 2 + 1.5
    room = np.tan(np.pi / len(ladder.gaps_mm))
    for step in range(1, int(ladder.length_mm / TICK_STEP_MM) + 1):
        at = mouth + step * TICK_STEP_MM
        length = min((3.0, 6.0)[step % 2 == 0], float(at * room) - side - 0.5)
        if length >= 1.5:
            x = (at - TICK_MM / 2, at + TICK_MM / 2)
            yield _box(x, (side, side + length), (-TICK_DEEP_MM, 1.0))


def _dots(ladder: Ladder, count: int) -> Iterator[Body]:
    """So many pits at the end of a channel as it has thinner ones, and one for itself."""
    at, side = ladder.well_mm / 2 + ladder.length_mm - 4.0, -ladder.width_mm / 2 - 4.0
    for number in range(count):
        yield _disc(1.2, -TICK_DEEP_MM, 1.0).translate((at - 5.0 * number, side, 0.0))


def _screws(ladder: Ladder, low: float, high: float) -> Body:
    """Holes for screws between the channels, near the rim."""
    far, turn = outside_mm(ladder) / 2 - WALL_MM, 180.0 / len(ladder.gaps_mm)
    hole = _disc(SCREW_MM / 2, low, high).translate((far, 0.0, 0.0))
    near = _disc(SCREW_MM / 2, low, high).translate((ladder.well_mm / 2 + 22.0, 0.0, 0.0))
    each = [hole, near] if far - ladder.well_mm / 2 > 40.0 else [hole]
    count = len(ladder.gaps_mm)
    return solids.union(
        one.rotate((0.0, 0.0, turn * (2 * index + 1))) for index in range(count) for one in each
    )


def _disc(radius: float, low: float, high: float) -> Body:
    angle = np.linspace(0, 2 * np.pi, 96, endpoint=False)
    return solids.prism([radius * np.column_stack([np.cos(angle), np.sin(angle)])], low, high)


def _box(x: tuple[float, float], y: tuple[float, float], z: tuple[float, float]) -> Body:
    ring: NDArray[np.float64] = np.array([[x[0], y[0]], [x[1], y[0]], [x[1], y[1]], [x[0], y[1]]])
    return solids.prism([ring], *z)
