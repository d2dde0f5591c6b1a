"""SVG plots: the shooting window, and thickness along a flow path.

Text stays text and colours come from the page's styles, so that a drawing follows language, units and theme.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from html import escape

from builder.base import units
from builder.base.texts import Texts
from builder.model import Figure, FlowPath, Station, Unit, WindowPlot

WIDTH, HEIGHT = 440.0, 430.0
LEFT, RIGHT, TOP, BOTTOM = 56.0, 56.0, 48.0, 132.0
KEY_TOP, KEY_ROW, KEY_COLUMN = 60.0, 20.0, 214.0
"""Where the names under a drawing start, and pixels between their rows and columns."""
MOST_STATIONS = 60
"""Points of a thickness line; more are not seen at this width."""


@dataclass(frozen=True, slots=True)
class Frame:
    """Axes of a plot: values to coordinates; the horizontal axis may be logarithmic."""

    x_low: float
    x_high: float
    y_low: float
    y_high: float
    log: bool = False

    def x(self, value: float) -> float:
        """Pixel of a value on the horizontal axis, kept inside the frame."""
        scale: Callable[[float], float] = math.log if self.log else float
        value = min(max(value, self.x_low), self.x_high)
        share = (scale(value) - scale(self.x_low)) / (scale(self.x_high) - scale(self.x_low))
        return LEFT + share * (WIDTH - LEFT - RIGHT)

    def y(self, value: float) -> float:
        """Pixel of a value on the vertical axis, kept inside the frame."""
        share = (min(max(value, self.y_low), self.y_high) - self.y_low) / (self.y_high - self.y_low)
        return HEIGHT - BOTTOM - share * (HEIGHT - TOP - BOTTOM)

    def points(self, xs: Sequence[float], ys: Sequence[float]) -> str:
        """A line's points as an SVG attribute."""
        return " ".join(f"{self.x(x):.0f},{self.y(y):.0f}" for x, y in zip(xs, ys, strict=True))

    def right_of(self) -> float:
        """Pixel of the frame's right edge."""
        return WIDTH - RIGHT

    def band(self, low: float, high: float, kind: str) -> str:
        """A horizontal band between two values."""
        top, bottom = self.y(high), self.y(low)
        return (
            f'<rect class="{kind}" x="{LEFT:.0f}" y="{top:.0f}" '
            f'width="{WIDTH - LEFT - RIGHT:.0f}" height="{max(bottom - top, 1):.0f}"/>'
        )


def window_svg(plot: WindowPlot, texts: Texts) -> str:
    """Temperature against injection time: what fills, what mold and plastisol stand, where to aim."""
    times = plot.injection_s
    frame = Frame(times[0], times[-1], plot.lowest_c, plot.highest_c, log=True)
    back = tuple(reversed(times))
    likely = frame.points((*times, *back), (*plot.fill_high_c, *reversed(plot.fill_low_c)))
    sure = frame.points((*times, *back), (*plot.fill_high_c, *[plot.highest_c] * len(times)))
    parts = [
        f'<polygon class="p-sure" points="{sure}"/>',
        f'<polygon class="p-likely" points="{likely}"/>',
        f'<polyline class="p-fill" points="{frame.points(times, plot.fill_c)}"/>',
        *_limit(frame, plot.plastisol_limit_c, "p-plastisol"),
        *(_limit(frame, plot.mold_limit_c, "p-mold") if plot.mold_limit_c else ()),
        *_point(frame, plot),
        *_sides(frame, "c", texts.language),
        *_bottom(frame, "s", texts.language),
        _label(LEFT, TOP - 28, texts.say("page.plot.heat")),
        _axis_name(texts.say("page.plot.time")),
        *_names(plot, texts),
    ]
    return _svg(parts, texts.say("page.plot.window"))


def path_svg(path: FlowPath, texts: Texts, deciding: Station | None = None) -> str:
    """Plot of thickness along a flow path, with the gate and the bottleneck."""
    stations = thinned(path.stations)
    highest = max(s.thickness_mm for s in stations) * 1.1
    frame = Frame(stations[0].s_mm, stations[-1].s_mm, 0.0, highest)
    line = frame.points([s.s_mm for s in stations], [s.thickness_mm for s in stations])
    gate = frame.x(path.stations[path.gate_index].s_mm)
    floor = f"{frame.x(frame.x_low):.0f},{frame.y(0):.0f}"
    end = f"{frame.x(frame.x_high):.0f},{frame.y(0):.0f}"
    parts = [
        f'<polygon class="p-sure" points="{floor} {line} {end}"/>',
        f'<polyline class="p-fill" points="{line}"/>',
        f'<path class="p-gate" d="M{gate:.0f} {TOP:.0f}V{HEIGHT - BOTTOM:.0f}"/>',
        _label(gate, TOP - 8, texts.say("glossary.gate.term"), anchor="middle"),
        *_sides(frame, "mm", texts.language),
        *_bottom(frame, "mm", texts.language),
        _axis_name(texts.say("page.plot.way")),
        _label(LEFT, TOP - 28, texts.word(path.name)),
    ]
    if deciding:
        y = HEIGHT - BOTTOM + KEY_TOP
        parts.append(_swatch("spot", "p-point", 12, y))
        parts.append(_label(38, y, texts.say("pictures.label.deciding")))
        at = (frame.x(deciding.s_mm), frame.y(deciding.thickness_mm))
        parts.append(f'<circle class="p-point" cx="{at[0]:.0f}" cy="{at[1]:.0f}" r="6"/>')
    return _svg(parts, texts.say("page.plot.path", path=path.name), HEIGHT - 3 * KEY_ROW)


def thinned(stations: Sequence[Station]) -> list[Station]:
    """Stations for a drawing: every so many, the thinnest of each group, first and last kept."""
    step = math.ceil(len(stations) / MOST_STATIONS)
    groups = [stations[start : start + step] for start in range(0, len(stations), step)]
    middle = [min(group, key=lambda s: s.thickness_mm) for group in groups[1:-1]]
    return [stations[0], *middle, stations[-1]]


def _svg(parts: Sequence[str], name: str, height: float = HEIGHT) -> str:
    body = "".join(parts)
    return f'<svg viewBox="0 0 {WIDTH:.0f} {height:.0f}" role="img" aria-label="{escape(name)}">{body}</svg>'


def _label(x: float, y: float, text: str, kind: str = "", anchor: str = "start") -> str:
    attribute = f' class="{kind}"' if kind else ""
    return f'<text{attribute} x="{x:.0f}" y="{y:.0f}" text-anchor="{anchor}">{escape(text)}</text>'


def _axis_name(text: str) -> str:
    return _label((LEFT + WIDTH - RIGHT) / 2, HEIGHT - BOTTOM + 36, text, "p-axis", "middle")


def _limit(frame: Frame, limit: Figure, kind: str) -> Iterator[str]:
    """A limit's range as a band and its value as a line, as far as they are in the frame."""
    if limit.low < min(limit.high, frame.y_high):
        yield frame.band(limit.low, limit.high, f"{kind} p-band")
    if limit.value <= frame.y_high:
        y = frame.y(limit.value)
        yield f'<path class="{kind}" d="M{LEFT:.0f} {y:.0f}H{frame.right_of():.0f}"/>'


def _point(frame: Frame, plot: WindowPlot) -> Iterator[str]:
    """The recommended point with its ranges; nothing when the window is empty."""
    if plot.shoot_c is None:
        return
    x, y = frame.x(plot.shoot_s.value), frame.y(plot.shoot_c.value)
    left, right = frame.x(plot.shoot_s.low), frame.x(plot.shoot_s.high)
    top, bottom = frame.y(plot.shoot_c.high), frame.y(plot.shoot_c.low)
    yield f'<path class="p-cross" d="M{left:.0f} {y:.0f}H{right:.0f}M{x:.0f} {top:.0f}V{bottom:.0f}"/>'
    yield f'<circle class="p-point" cx="{x:.0f}" cy="{y:.0f}" r="7"/>'


def _names(plot: WindowPlot, texts: Texts) -> Iterator[str]:
    """What each colour means, under the drawing."""
    named = [("rect", "p-sure", "page.plot.fills", 0, 0), ("rect", "p-likely", "page.plot.may_fill", 0, 1)]
    lines = [("spot", "p-point", "page.window.point")] if plot.shoot_c else []
    lines += [("path", "p-plastisol", "page.window.plastisol_limit")]
    lines += [("path", "p-mold", "page.window.mold_limit")] if plot.mold_limit_c else []
    named += [(*line, row, 0) for row, line in enumerate(lines, 1)]
    for shape, kind, key, row, column in named:
        x, y = 12 + column * KEY_COLUMN, HEIGHT - BOTTOM + KEY_TOP + row * KEY_ROW
        yield _swatch(shape, kind, x, y)
        yield _label(x + 26, y, texts.say(key))


def _swatch(shape: str, kind: str, x: float, y: float) -> str:
    """A sample of a colour left of its name, whose line is at `y`."""
    attribute = f'class="p-key {kind}"'
    if shape == "rect":
        return f'<rect {attribute} x="{x:.0f}" y="{y - 11:.0f}" width="18" height="12"/>'
    if shape == "path":
        return f'<path {attribute} d="M{x:.0f} {y - 5:.0f}h18"/>'
    return f'<circle {attribute} cx="{x + 9:.0f}" cy="{y - 5:.0f}" r="6"/>'


def _sides(frame: Frame, unit: Unit, language: str) -> Iterator[str]:
    """Round numbers of the vertical axis: metric at the left, US at the right."""
    for value in _round_steps(frame.y_low, frame.y_high):
        yield _label(LEFT - 6, frame.y(value) + 4, units.mark(value, unit, language=language), "m", "end")
    low, high = units.us(frame.y_low, unit), units.us(frame.y_high, unit)
    for value in _round_steps(low, high):
        y = frame.y(frame.y_low + (value - low) / (high - low) * (frame.y_high - frame.y_low))
        yield _label(
            frame.right_of() + 6, y + 4, units.mark(value, unit, american=True, language=language), "u"
        )


def _bottom(frame: Frame, unit: Unit, language: str) -> Iterator[str]:
    """Round numbers of the horizontal axis."""
    steps = _one_two_five(frame.x_low, frame.x_high) if frame.log else _round_steps(frame.x_low, frame.x_high)
    for value in steps:
        x = frame.x(value)
        yield f'<path class="p-tick" d="M{x:.0f} {HEIGHT - BOTTOM:.0f}v5"/>'
        yield _label(x, HEIGHT - BOTTOM + 18, units.mark(value, unit, language=language), anchor="middle")


def _round_steps(low: float, high: float, about: int = 5) -> Iterator[float]:
    """Round numbers from low to high, about so many.

    >>> list(_round_steps(131.0, 192.0))
    [140, 160, 180]
    """
    rough = (high - low) / about
    power = 10 ** math.floor(math.log10(rough))
    step = next(power * factor for factor in (1, 2, 5, 10) if power * factor >= rough)
    number = math.ceil(low / step)
    while number * step <= high:
        yield round(number * step, 9)
        number += 1


def _one_two_five(low: float, high: float) -> Iterator[float]:
    """1, 2, 5, 10, 20, ... from low to high.

    >>> list(_one_two_five(0.8, 12))
    [1.0, 2.0, 5.0, 10.0]
    """
    for power in range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1):
        yield from (value for factor in (1, 2, 5) if low <= (value := factor * 10.0**power) <= high)
