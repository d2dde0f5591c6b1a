"""SVG overlay of a picture: labels, leaders and marks, placed without overlaps or crossings.

Labels stand in two rows of four, above and under the drawing. A label's room is a quarter of the width and
three lines of type that is still read when the picture is 360 px wide; on wider screens the style may set
it smaller. Lines take the text's colour of the page around them, over a wider one in the page's ground.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, permutations

import numpy as np
from numpy.typing import NDArray

from builder.model import Figure, Label, Vec3
from builder.pictures.render.camera import Camera

F64 = NDArray[np.float64]
COLUMNS = 4
PLACES = 2 * COLUMNS
TYPE_PX = 38
LINE_PX = 42
ROW_PX = 3 * LINE_PX + 24
"""Height of a row of labels: name, metric, US, and air."""
STROKE_PX = 4.0
RING_PX = 11.0
CROSSING = 1e4
"""What a crossing costs against a pixel of length."""
GROUND = "var(--md-default-bg-color,Canvas)"
Point = tuple[float, float]
Segment = tuple[Point, Point]


@dataclass(frozen=True, slots=True, kw_only=True)
class Callout:
    """A label and the point of the mold that its leader goes to: the one that lies best of all alike."""

    name: str
    figure: Figure | None
    at_mm: Vec3
    alike_mm: tuple[Vec3, ...] = ()
    """Further places of the same thing; those that the leader does not go to get a ring when `ringed`."""
    ringed: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Dimension:
    """A dimension line between two points, with what it measures."""

    name: str
    figure: Figure
    from_mm: Vec3
    to_mm: Vec3


@dataclass(frozen=True, slots=True, kw_only=True)
class Circle:
    """A circle of true size, seen square on."""

    at_mm: Vec3
    diameter_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """What a colour stands for, told above a picture that has no callouts, with how much of it there is."""

    colour: str
    name: str
    figure: Figure


@dataclass(frozen=True, slots=True, kw_only=True)
class Notes:
    """Everything that is written over one picture."""

    callouts: tuple[Callout, ...] = ()
    dimensions: tuple[Dimension, ...] = ()
    circles: tuple[Circle, ...] = ()
    keys: tuple[Key, ...] = ()

    def rows(self) -> tuple[bool, bool]:
        """Whether there are labels above and under the drawing."""
        count = len(self.callouts) + len(self.dimensions)
        return count > 0 or len(self.keys) > 0, count > 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """A colour scale under the picture with ticks at even distances."""

    colours: tuple[str, ...]
    name: str
    ticks: tuple[Figure, ...]


SCALE_PX = 26
SCALE_ROW_PX = SCALE_PX + 2 * LINE_PX + 30
"""Height of a scale with its ticks."""


def write_scale(scale: Scale, camera: Camera) -> tuple[str, tuple[Label, ...]]:
    """The scale's elements, its name and the labels of its ticks, along the picture's lower edge."""
    left, right = 0.3 * camera.width_px, camera.width_px - 120.0
    top = camera.height_px - SCALE_ROW_PX + 14.0
    stops = "".join(
        f'<stop offset="{share:.3f}" stop-color="{colour}"/>'
        for share, colour in zip(np.linspace(0, 1, len(scale.colours)), scale.colours, strict=True)
    )
    bar = (
        f'<linearGradient id="sb-scale">{stops}</linearGradient>'
        f'<rect x="{left:g}" y="{top:g}" width="{right - left:g}" height="{SCALE_PX}" fill="url(#sb-scale)"'
        f' stroke="currentColor" stroke-width="1.5"/>'
    )
    xs = np.linspace(left, right, len(scale.ticks))
    marks = "".join(_stroke(((float(x), top + SCALE_PX), (float(x), top + SCALE_PX + 10))) for x in xs)
    baseline = top + SCALE_PX + 10 + TYPE_PX
    name = Label(name=scale.name, figure=None, x_px=14.0, y_px=top + SCALE_PX, align="start")
    ticks = [
        Label(name="", figure=figure, x_px=float(x), y_px=baseline, align="middle")
        for x, figure in zip(xs, scale.ticks, strict=True)
    ]
    return bar + marks, (name, *ticks)


def write(notes: Notes, camera: Camera, lowest_px: float) -> tuple[str | None, tuple[Label, ...]]:
    """The overlay's elements and its labels; None and nothing when there is nothing to write.

    The row of labels under the drawing stands on `lowest_px`.
    """
    if notes.keys:
        return _keyed(notes.keys, camera)
    wanted: list[Callout | Dimension] = [*notes.callouts, *notes.dimensions]
    if not wanted and not notes.circles:
        return None, ()
    bars = [(_px(camera, d.from_mm), _px(camera, d.to_mm)) for d in notes.dimensions]
    marks = [[_px(camera, at) for at in (c.at_mm, *c.alike_mm)] for c in notes.callouts]
    leaders = arrange(marks, camera.width_px, lowest_px, bars)
    dots = [end for _, end in leaders[: len(marks)]]
    drawn = [_dimension(*bar) for bar in bars]
    drawn += [_stroke(line) for line in leaders]
    drawn += [_dot(at) for at in dots]
    drawn += [
        _ring(at, RING_PX)
        for callout, alike, dot in zip(notes.callouts, marks, dots, strict=True)
        for at in alike
        if callout.ringed and at != dot
    ]
    drawn += [_ring(_px(camera, c.at_mm), c.diameter_mm / 2 / camera.mm_per_px) for c in notes.circles]
    labels = [_label(one, start, lowest_px) for one, (start, _) in zip(wanted, leaders, strict=True)]
    return "".join(drawn), tuple(labels)


def _keyed(keys: Sequence[Key], camera: Camera) -> tuple[str, tuple[Label, ...]]:
    """A row of colours, each under its name and figure."""
    wide = camera.width_px / COLUMNS
    swatches = "".join(
        f'<rect x="{(k + 0.25) * wide:g}" y="{ROW_PX - 14}" width="{wide / 2:g}" height="14"'
        f' fill="{key.colour}" stroke="currentColor" stroke-width="1.5"/>'
        for k, key in enumerate(keys)
    )
    labels = [
        Label(name=key.name, figure=key.figure, x_px=(k + 0.5) * wide, y_px=float(TYPE_PX), align="middle")
        for k, key in enumerate(keys)
    ]
    return swatches, tuple(labels)


def arrange(
    anchors: Sequence[Sequence[Point]], width_px: float, height_px: float, bars: Sequence[Segment] = ()
) -> list[Segment]:
    """A leader for each label, from the middle of the label's edge, one place each, to one of its anchors.

    Those of the bars follow, each to its bar. Of all ways to share the two rows out, the one whose leaders
    cross least (each other, other bars, other anchors) and are shortest; ValueError when places are too few.
    """
    count = len(anchors) + len(bars)
    if count > PLACES:
        raise ValueError(f"{count} labels, but there is room for {PLACES}")
    xs = [(column + 0.5) * width_px / COLUMNS for column in range(COLUMNS)]
    rows = [[(x, ROW_PX - 12.0) for x in xs], [(x, height_px - ROW_PX + 12.0) for x in xs]]
    marks = [at for alike in anchors for at in alike]
    ends = [(alike, bars) for alike in anchors]
    ends += [(_along(bar), [other for other in bars if other is not bar]) for bar in bars]
    cheap = [[[_best(place, alike, marks, over) for place in row] for alike, over in ends] for row in rows]
    best: tuple[float, list[Segment]] = (math.inf, [])
    for size in range(max(1, count - COLUMNS), min(count, COLUMNS) + 1):
        for above in combinations(range(count), size):
            below = tuple(i for i in range(count) if i not in above)
            top = _row(cheap[0], above, best[0])
            if top[0] >= best[0]:
                continue
            bottom = _row(cheap[1], below, best[0] - top[0])
            if top[0] + bottom[0] < best[0] - 1e-6:
                lines = top[1] | bottom[1]
                best = (top[0] + bottom[0], [lines[i] for i in range(count)])
    return best[1]


def _row(
    cheap: Sequence[Sequence[tuple[float, Segment]]], chosen: Sequence[int], limit: float
) -> tuple[float, dict[int, Segment]]:
    """The cheapest way to give the chosen labels places of one row, and its cost; none from `limit` on."""
    best: tuple[float, dict[int, Segment]] = (limit, {})
    for way in permutations(range(COLUMNS), len(chosen)):
        picked = [cheap[i][k] for i, k in zip(chosen, way, strict=True)]
        cost = sum(own for own, _ in picked)
        if cost < best[0]:
            lines = [line for _, line in picked]
            cost += CROSSING * sum(crosses(one, other) for one, other in combinations(lines, 2))
            if cost < best[0]:
                best = (cost, dict(zip(chosen, lines, strict=True)))
    return best


def _best(
    place: Point, ends: Sequence[Point], marks: Sequence[Point], bars: Sequence[Segment]
) -> tuple[float, Segment]:
    """The cheapest leader to one of the ends, with its cost: length, and much for all that it runs over."""
    best: tuple[float, Segment] = (math.inf, (place, place))
    for end in ends:
        line = (place, end)
        over = sum(_off(line, at) < 2 * RING_PX for at in marks if at != end)
        over += sum(crosses(line, bar) for bar in bars)
        best = min(best, (math.dist(*line) + CROSSING * over, line))
    return best


def _off(line: Segment, at: Point) -> float:
    """Distance of a point from a segment."""
    (ax, ay), (bx, by) = line
    way = (bx - ax) ** 2 + (by - ay) ** 2
    share = min(1.0, max(0.0, ((at[0] - ax) * (bx - ax) + (at[1] - ay) * (by - ay)) / max(way, 1e-9)))
    return math.dist(at, (ax + share * (bx - ax), ay + share * (by - ay)))


def crosses(one: Segment, other: Segment) -> bool:
    """Whether two segments share a point inside both.

    >>> crosses(((0, 0), (2, 2)), ((0, 2), (2, 0))), crosses(((0, 0), (2, 2)), ((1, 0), (3, 2)))
    (True, False)
    """
    (a, b), (c, d) = one, other
    return _side(a, b, c) * _side(a, b, d) < 0 and _side(c, d, a) * _side(c, d, b) < 0


def _side(a: Point, b: Point, c: Point) -> float:
    """On which side of the line through two points a third one lies, by the sign."""
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _label(one: Callout | Dimension, start: Point, height_px: float) -> Label:
    """The label, as near to where its leader starts as its lines let it be."""
    x, y = start
    missing = 0 if one.figure else 2 * LINE_PX
    baseline = float(TYPE_PX + missing) if y < height_px / 2 else y + 4 + TYPE_PX
    return Label(name=one.name, figure=one.figure, x_px=x, y_px=baseline, align="middle")


def _px(camera: Camera, at_mm: Vec3) -> Point:
    x, y = camera.project(np.array([at_mm]))[0]
    return round(float(x), 1), round(float(y), 1)


def _along(bar: Segment) -> tuple[Point, ...]:
    """Where a leader may meet a bar: its middle, or halfway from there to either end."""
    (ax, ay), (bx, by) = bar
    return tuple((round(ax + s * (bx - ax), 1), round(ay + s * (by - ay), 1)) for s in (0.5, 0.25, 0.75))


def _stroke(line: Segment) -> str:
    (ax, ay), (bx, by) = line
    return _both(f'<path d="M{ax:g} {ay:g}L{bx:g} {by:g}"', STROKE_PX)


def _dimension(start: Point, end: Point) -> str:
    """A line with a short bar at each end."""
    a, b = np.array(start), np.array(end)
    along = (b - a) / max(float(np.linalg.norm(b - a)), 1e-6)
    bar = np.array([-along[1], along[0]]) * 14
    lines = ((a, b), (a - bar, a + bar), (b - bar, b + bar))
    path = "".join(f"M{p[0]:.1f} {p[1]:.1f}L{q[0]:.1f} {q[1]:.1f}" for p, q in lines)
    return _both(f'<path d="{path}"', STROKE_PX)


def _ring(at: Point, radius: float) -> str:
    return _both(f'<circle cx="{at[0]:g}" cy="{at[1]:g}" r="{radius:.1f}"', STROKE_PX)


def _dot(at: Point) -> str:
    return (
        f'<circle class="sb-dot" cx="{at[0]:g}" cy="{at[1]:g}" r="8" fill="currentColor"'
        f' style="stroke:{GROUND}" stroke-width="{STROKE_PX:g}"/>'
    )


def _both(element: str, width: float) -> str:
    """The element in the page's ground, wide, and over it in the text's colour."""
    return (
        f'{element} fill="none" style="stroke:{GROUND}" stroke-width="{2.4 * width:g}"/>'
        f'{element} fill="none" stroke="currentColor" stroke-width="{width:g}"/>'
    )
