"""Molds drawn by hand whose habit lies in the block: funnels, pockets, pins, ridges, necks, covers."""

from __future__ import annotations

import math
from itertools import pairwise

from manifold3d import CrossSection, Manifold

from tests.cad_molds.by_hand import Sheet, corners, slab, snake, stroke, turned
from tests.cad_molds.primitives import Point, clear_mm, union


def nozzle(start: Point, end: Point, wide: float, throat: float, beyond: float = 2.5) -> Manifold:
    """A sprue that tapers to its throat 3 mm before the end, and opens a little into the bait."""
    length = math.dist(start, end)
    profile = [(0.0, wide), (length - 3.0, throat), (length + beyond, throat + 0.5 * (3.0 + beyond) / 3.0)]
    return turned(profile, start, end)


def funnel_beside_the_axis(unit: str = "mm") -> Sheet:
    """The funnel sits near one corner; a bent runner leads to the nose."""
    low, high = (-46.0, -24.0, -13.0), (102.0, 24.0, 13.0)
    fish = snake(
        [
            (3, 0, 0, 3),
            (14, 0, 0, 6.5),
            (34, 0, 0, 6),
            (60, 0, 0, 2.6),
            (68, 0, 0, 1.5),
            (72, 0, 0, 1.5),
            (78, 0, 0, 4.6),
            (80, 0, 0, 4.6),
        ]
    )
    trunk = clear_mm(fish, (70.0, 0.0), 0.0)
    feed = [
        turned([(0, 7.5), (12, 3.0), (20, 2.6)], (-47, 13, 0), (0, 13, 0)),
        snake([(-28, 13, 0, 2.6), (-20, 10, 0, 2.4), (-10, 0, 0, 2.2), (-8, 0, 0, 2.2)]),
        turned([(0, 2.2), (6, 1.3), (11, 2.0)], (-8.5, 0, 0), (0, 0, 0)),
    ]
    return Sheet(
        low=low, high=high, baits=[fish], feed=feed, gates=[(0, (-2.5, 0, 0), (1, 0, 0), 2.4)],
        vents=[((84, 0, 0), 19.0, 4.0)], bolts=[(-40, -18), (96, -18), (96, 18), (-20, 19)],
        pins=[(-20, -18), (60, 17)], trunk=(trunk, 3.0), mouth=(-46, 13, 0), toward=(1, 0, 0), unit=unit,
    )  # fmt: skip


def funnel_in_inches() -> Sheet:
    """The same, filed in inches."""
    return funnel_beside_the_axis("inch")


def pockets_against_heat() -> Sheet:
    """Blind pockets in both backs leave ribs only, to keep the heat in."""
    sheet = funnel_beside_the_axis()
    sheet.low, sheet.high = (-46.0, -24.0, -22.0), (102.0, 24.0, 22.0)
    for column in range(8):
        for row in (-8.5, 0.0, 8.5):
            x = -28 + 15.0 * column
            sheet.cut_a.append(slab((x, row - 3.2, -23), (x + 12, row + 3.2, -11)))
            sheet.cut_b.append(slab((x, row - 3.2, 11), (x + 12, row + 3.2, 23)))
    return sheet


def ejector_pins(*, filed: bool = True) -> Sheet:
    """Three pins of 3 mm through the upper half end in the bait's skin."""
    sheet = funnel_beside_the_axis()
    sheet.also_vents = 3
    for x in (12.0, 32.0, 80.0):
        rod = turned([(0, 1.5), (40, 1.5)], (x, 0, 0), (x, 0, 9)) - sheet.baits[0]
        rod = rod ^ slab((-99, -99, 0.0), (99, 99, 13.0))
        if filed:
            sheet.cores.append(("plug", rod, 0.0))
        sheet.cut_b.append(turned([(0, 1.55), (14, 1.55)], (x, 0, 1.0), (x, 0, 20)))
    return sheet


def ejector_holes_without_pins() -> Sheet:
    """The same without the pins' files."""
    return ejector_pins(filed=False)


def ridge_all_round() -> Sheet:
    """A triangular ridge runs round the bait and locks into a groove; it lets the sprue and vent through."""
    sheet = funnel_beside_the_axis()
    sheet.pins = []
    for size, into in ((1.5, sheet.add_a), (1.7, sheet.cut_b)):
        bar = Manifold.extrude(_triangle(size), 94.0).rotate((90, 0, 90))
        into.append(bar.translate((-6.0, -12.0, -0.0)))
        into.append(bar.translate((-6.0, 12.0, -0.0)))
        into.append(Manifold.extrude(_triangle(size), 17.0).rotate((90, 0, 0)).translate((90.0, -4.0, 0.0)))
        into.append(Manifold.extrude(_triangle(size), 17.0).rotate((90, 0, 0)).translate((90.0, 21.0, 0.0)))
    return sheet


def _triangle(size: float) -> CrossSection:
    return CrossSection([[(-size, -0.4), (size, -0.4), (size, 0.0), (0.0, size), (-size, 0.0)]])


def very_coarse() -> Sheet:
    """A curl-tail whose round parts have eight sides."""
    low, high = (-34.0, -24.0, -12.0), (88.0, 30.0, 12.0)
    body = snake([(5, 0, 0, 5), (16, 0, 0, 6), (34, 0, 0, 3.4), (42, 0, 0, 2.2)], 0.9)
    spine = [(42 + 20 * math.sin(a), 14 * (1 - math.cos(a))) for a in [k * 0.5 for k in range(6)]]
    discs = [
        Manifold.cylinder(2.4, 2.6 + 0.4 * k, -1, 12).translate((x, y, -1.2))
        for k, (x, y) in enumerate(spine)
    ]
    tail = union(Manifold.batch_hull([a, b]) for a, b in pairwise(discs))
    feed = turned([(0, 5.0), (32.5, 1.6), (38, 2.4)], (-35, 0, 0), (0, 0, 0), 0.9)
    return Sheet(
        low=low, high=high, baits=[body + tail], feed=[feed], gates=[(0, (-2.5, 0, 0), (1, 0, 0), 2.6)],
        vents=[], bolts=corners(low, high), mouth=(-34, 0, 0), toward=(1, 0, 0),
    )  # fmt: skip


def very_fine() -> Sheet:
    """A worm with a chord of 2 µm."""
    low, high = (-30.0, -15.0, -11.0), (80.0, 15.0, 11.0)
    feed = turned([(0, 4.4), (28.5, 1.4), (33.5, 2.2)], (-31, 0, 0), (0, 0, 0), 0.004)
    return Sheet(
        low=low, high=high, baits=[stroke(68, 4.8, 10, 0.002)], feed=[feed],
        gates=[(0, (-2.5, 0, 0), (1, 0, 0), 2.4)], vents=[((67.6, 0, 0), 14.0, 3.0)],
        bolts=corners(low, high, 6.0), mouth=(-30, 0, 0), toward=(1, 0, 0),
    )  # fmt: skip


def flat_lid() -> Sheet:
    """All of the bait lies in the lower half; the upper one is a plain plate with the sprue's hole."""
    low, high = (-20.0, -20.0, -14.0), (92.0, 20.0, 6.0)
    below = slab((-99, -99, -99), (99, 99, 0))
    fish = (
        snake([(4, 0, 0, 4), (20, 0, 0, 8), (44, 0, 0, 5), (60, 0, 0, 2.2), (66, 0, 0, 2.2), (74, 0, 0, 6)])
        ^ below
    )
    feed = turned([(0, 4.5), (5.5, 2.0), (10.0, 3.6)], (20, 0, 6.5), (20, 0, 0))
    return Sheet(
        low=low, high=high, baits=[fish], feed=[feed], gates=[(0, (20, 0, 1.0), (0, 0, -1), 3.8)],
        vents=[((79.8, 0, 0), 13.0, 3.0)], bolts=corners(low, high), mouth=(20, 0, 6), toward=(0, 0, -1),
    )  # fmt: skip


def chimney() -> Sheet:
    """The sprue stands in a round neck before the block, with a flat seat for the nozzle."""
    sheet = funnel_beside_the_axis()
    neck = turned([(0, 9.0), (14, 9.0), (14.5, 9.0)], (-58, 0, 0), (0, 0, 0))
    bore = turned([(0, 6.0), (5, 6.0), (5, 3.4), (51, 2.2)], (-59, 0, 0), (0, 0, 0))
    sheet.feed = [bore, turned([(0, 2.2), (6, 1.3), (11, 2.0)], (-8.5, 0, 0), (0, 0, 0))]
    sheet.bolts = corners(sheet.low, sheet.high)
    sheet.mouth = (-58, 0, 0)
    sheet.proud.append(neck)
    return sheet


def wire_through() -> Sheet:
    """A 1.6 mm wire lies through the whole bait and leaves a line hole; the bait is filled at its belly."""
    low, high = (-22.0, -26.0, -13.0), (104.0, 22.0, 13.0)
    fish = snake(
        [(3, 0, 0, 3), (16, 0, 0, 7), (38, 0, 0, 6), (62, 0, 0, 3.0), (74, 0, 0, 3.0), (82, 0, 0, 5.5)]
    )
    wire = turned([(0, 0.8), (150, 0.8)], (-34, 0, 0), (0, 0, 0))
    return Sheet(
        low=low, high=high, baits=[fish], feed=[nozzle((24, -27, 0), (24, -6.0, 0), 4.6, 1.4, 3.0)],
        gates=[(0, (24, -9.0, 0), (0, 1, 0), 2.6)], cores=[("core", wire, 0.06)], also_vents=2,
        bolts=corners(low, high),
        pins=[(4, 16), (70, -19)], mouth=(24, -26, 0), toward=(0, 1, 0),
    )  # fmt: skip


def same_half_twice() -> Sheet:
    """One half that fits on itself: pin on one side, its hole on the other."""
    low, high = (-34.0, -20.0, -11.0), (96.0, 20.0, 11.0)
    sheet = Sheet(
        low=low, high=high, baits=[stroke(82, 5.2, 6)], feed=[nozzle((-35, 0, 0), (0, 0, 0), 4.8, 1.5, 3.0)],
        gates=[(0, (-3, 0, 0), (1, 0, 0), 2.6)], bolts=corners(low, high), mouth=(-34, 0, 0),
        toward=(1, 0, 0), also_pins=4,
    )  # fmt: skip
    for x in (8.0, 60.0):
        pin, hole = [(0, 3.0), (7.0, 3.0), (8.0, 2.2)], [(0, 3.2), (8.4, 3.2)]
        sheet.add_a.append(turned(pin, (x, 14, -2), (x, 14, 0)))
        sheet.cut_b.append(turned(hole, (x, 14, -2), (x, 14, 0)))
        sheet.add_b.append(turned(pin, (x, -14, 2), (x, -14, 0)))
        sheet.cut_a.append(turned(hole, (x, -14, 2), (x, -14, 0)))
    return sheet
