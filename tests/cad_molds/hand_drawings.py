"""The molds drawn by hand: each function is one maker's drawing."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise

from manifold3d import Manifold

from tests.cad_molds.by_hand import Sheet, corners, slab, snake, stroke, turned
from tests.cad_molds.hand_blocks import (
    chimney,
    ejector_holes_without_pins,
    ejector_pins,
    flat_lid,
    funnel_beside_the_axis,
    funnel_in_inches,
    nozzle,
    pockets_against_heat,
    ridge_all_round,
    same_half_twice,
    very_coarse,
    very_fine,
    wire_through,
)
from tests.cad_molds.primitives import union


def three_on_a_hub() -> Sheet:
    """A stepped sprue ends in a ball from which three ringed worms are fed."""
    low, high = (-44.0, -27.0, -11.0), (104.0, 27.0, 11.0)
    baits, feed, gates = [], [], []
    for number, y in enumerate((-14.0, 0.0, 14.0)):
        baits.append(stroke(92.0, 4.6, 12).translate((0.0, y, 0.0)))
        feed.append(snake([(-16.0, 0.0, 0.0, 2.2), (-8.0, y, 0.0, 1.9), (-5.0, y, 0.0, 1.9)]))
        feed.append(turned([(0, 1.9), (4.0, 1.2), (9.0, 1.9)], (-5.5, y, 0), (0, y, 0)))
        gates.append((number, (-1.5, y, 0.0), (1.0, 0.0, 0.0), 2.6))
    feed.append(turned([(0, 5.5), (14, 5.0), (14, 3.2), (29, 3.0)], (-45, 0, 0), (0, 0, 0)))
    feed.append(snake([(-16, 0, 0, 4.0), (-15.9, 0, 0, 4.0)]))
    return Sheet(
        low=low,
        high=high,
        baits=baits,
        feed=feed,
        gates=gates,
        vents=[((91.5, y, 0), 13.0, 4.0) for y in (-14.0, 0.0, 14.0)],
        bolts=corners(low, high),
        mouth=(-44, 0, 0),
        toward=(1, 0, 0),
    )


def twin_tail_from_the_side() -> Sheet:
    """A twin-tail grub that is filled through its flank; both tails are flat bands."""
    low, high = (-12.0, -32.0, -12.0), (92.0, 34.0, 12.0)
    body = snake([(4, 0, 0, 4), (12, 0, 0, 6), (30, 0, 0, 5.5), (38, 0, 0, 4.2)])
    tails = []
    for side in (-1, 1):
        spine = [
            (37 + 22 * math.sin(a), side * (2.2 + 13 * (1 - math.cos(a))))
            for a in [k * 0.22 for k in range(11)]
        ]
        discs = [
            Manifold.cylinder(1.7, 2.4 + 0.12 * k, -1, 40).translate((x, y, -0.85))
            for k, (x, y) in enumerate(spine)
        ]
        tails.append(union(Manifold.batch_hull([a, b]) for a, b in pairwise(discs)))
    feed = [nozzle((20, 35, 0), (20, 5.0, 0), 4.5, 1.5, 3.0)]
    return Sheet(
        low=low,
        high=high,
        baits=[union([body, *tails])],
        feed=feed,
        gates=[(0, (20, 8.0, 0), (0, -1, 0), 3.2)],
        bolts=corners(low, high),
        pins=[(4, -26), (84, 2)],
        trunk=(1.7, 1.7),
        mouth=(20, 34, 0),
        toward=(0, -1, 0),
    )


def shad_with_a_blade() -> Sheet:
    """A deep shad whose hook slot is made by a blade that slides in from the belly."""
    low, high = (-30.0, -26.0, -14.0), (112.0, 26.0, 14.0)
    ribs = [
        (0, 2.5, 2.2),
        (8, 6, 4.5),
        (24, 11, 6.5),
        (45, 10, 6),
        (68, 5, 3.5),
        (82, 2.6, 2.0),
        (90, 2.2, 1.9),
    ]
    rings = [Manifold.sphere(1.0, 64).scale((0.8, b, c)).translate((x, 0, 0)) for x, b, c in ribs]
    body = union(Manifold.batch_hull([a, b]) for a, b in pairwise(rings))
    tail = Manifold.sphere(1.0, 64).scale((4.5, 8.0, 4.5)).translate((93, 0, 0))
    blade = slab((24, -40, -0.9), (52, -1.5, 0.9)) - slab((23, -41, -2), (30, -34, 2))
    return Sheet(
        low=low,
        high=high,
        baits=[body + tail],
        feed=[nozzle((-31, 0, 0), (0, 0, 0), 5.0, 1.4, 3.0)],
        gates=[(0, (-3.0, 0, 0), (1, 0, 0), 2.4)],
        vents=[((96.5, 0, 0), 17.0, 4.0)],
        bolts=corners(low, high),
        pins=[(-10, 20), (80, -19)],
        cores=[("blade", blade, 0.1)],
        also_vents=1,
        mouth=(-30, 0, 0),
        toward=(1, 0, 0),
    )


def eight_on_half_round_runners() -> Sheet:
    """Eight short worms; runner and sprue are half round, cut into the upper half alone."""
    low, high = (-60.0, -40.0, -9.0), (60.0, 40.0, 11.0)
    upper = slab((-99, -99, 0), (99, 99, 99))
    baits, feed, gates, vents = [], [], [], []
    for row in range(4):
        y = -24.0 + 14.0 * row
        for side in (-1, 1):
            worm = stroke(42, 3.6)
            baits.append((worm if side > 0 else worm.rotate((0, 0, 180))).translate((side * 9.0, y, 0)))
            drop = turned([(0, 2.2), (6.0, 1.3), (11.0, 1.9)], (side * 1.0, y, 0), (side * 9, y, 0))
            feed.append(drop ^ upper)
            gates.append((len(baits) - 1, (side * 7.0, y, 0.0), (float(side), 0.0, 0.0), 2.2))
            vents.append(((side * 50.8, y, 0.0), side * 9.5, 3.0))
    feed.append(turned([(0, 4.5), (14, 3.0), (66, 3.0)], (0, 41, 0), (0, -40, 0)) ^ upper)
    bolts = [(x, y) for x in (-54.0, 54.0) for y in (-34.0, 34.0)]
    return Sheet(
        low=low, high=high, baits=baits, feed=feed, gates=gates, vents=vents, bolts=bolts,
        pins=[(-30, 34), (30, 34)], mouth=(0, 40, 1.5), toward=(0, -1, 0),
    )  # fmt: skip


def two_tubes_on_core_pins() -> Sheet:
    """Two tubes; each hollow is made by a core pin with a collar that stands out of the block."""
    low, high = (-34.0, -30.0, -14.0), (88.0, 30.0, 14.0)
    baits, feed, gates, cores = [], [], [], []
    for number, y in enumerate((-11.0, 11.0)):
        outer = snake([(6, y, 0, 6), (40, y, 0, 6.4)]) + turned([(0, 6.3), (33, 6.3)], (40, y, 0), (99, y, 0))
        baits.append(outer)
        pin = snake([(13.4, y, 0, 3.4), (70, y, 0, 4.2)])
        cores.append(("core", pin + turned([(0, 8.0), (30, 8.0)], (72, y, 0), (99, y, 0)), 0.0))
        baits[-1] = baits[-1] - slab((72, y - 9, -9), (99, y + 9, 9))
        feed.append(snake([(-18, 0, 0, 2.6), (-8, y, 0, 2.2), (-6, y, 0, 2.2)]))
        feed.append(turned([(0, 2.2), (4, 1.5), (9.5, 2.4)], (-6.5, y, 0), (0, y, 0)))
        gates.append((number, (-2.5, y, 0.0), (1.0, 0.0, 0.0), 3.0))
    feed.append(turned([(0, 5), (18, 3.2)], (-35, 0, 0), (0, 0, 0)))
    return Sheet(
        low=low, high=high, baits=baits, feed=feed, gates=gates, cores=cores,
        bolts=corners(low, high, 6.0), pins=[(-10, 22), (30, 0)], mouth=(-34, 0, 0), toward=(1, 0, 0),
    )  # fmt: skip


def frog_filled_between_its_legs() -> Sheet:
    """A frog: round body, two kicking legs on thin ankles, two arms; filled at the rump."""
    low, high = (-60.0, -40.0, -16.0), (58.0, 40.0, 16.0)
    body = Manifold.sphere(1, 96).scale((24, 14, 10)).translate((6, 0, 0))
    legs = []
    for s in (-1, 1):
        legs.append(
            snake(
                [
                    (-8, s * 8, 0, 3.2),
                    (-16, s * 20, 0, 2.6),
                    (-26, s * 14, 0, 1.2),
                    (-34, s * 18, 0, 1.2),
                    (-38, s * 20, 0, 3.0),
                ]
            )
        )
        legs.append(Manifold.sphere(1, 64).scale((7, 5, 2.2)).translate((-43, s * 21, 0)))
        legs.append(snake([(18, s * 9, 0, 2.4), (26, s * 20, 0, 1.8), (33, s * 23, 0, 2.4)]))
    return Sheet(
        low=low,
        high=high,
        baits=[union([body, *legs])],
        feed=[nozzle((-61, 0, 0), (-18, 0, 0), 5.0, 1.7, 4.0)],
        gates=[(0, (-21, 0, 0), (1, 0, 0), 3.0)],
        vents=[((-49, s * 21.0, 0), -12.0, 4.0) for s in (-1, 1)],
        bolts=corners(low, high),
        pins=[(45, 0), (44, -30)],
        trunk=(2.3, 2.42),
        mouth=(-60, 0, 0),
        toward=(1, 0, 0),
    )


def thin_manifold() -> Sheet:
    """The crossbar is thinner than the gates that it feeds."""
    low, high = (-40.0, -34.0, -10.0), (72.0, 34.0, 10.0)
    baits, feed, gates = [], [], []
    for number, y in enumerate((-21.0, -7.0, 7.0, 21.0)):
        baits.append(stroke(60, 4.4).translate((0, y, 0)))
        feed.append(turned([(0, 2.0), (6.0, 1.35), (12, 2.2)], (-8, y, 0), (0, y, 0)))
        gates.append((number, (-2.0, y, 0.0), (1.0, 0.0, 0.0), 2.4))
    feed.append(snake([(-8, -21, 0, 1.0), (-8, 21, 0, 1.0)]))
    feed.append(turned([(0, 5.0), (33, 2.0)], (-41, 0, 0), (0, 0, 0)))
    return Sheet(
        low=low, high=high, baits=baits, feed=feed, gates=gates,
        vents=[((59.6, y, 0), 14.0, 3.0) for y in (-21.0, -7.0, 7.0, 21.0)], bolts=corners(low, high, 6.5),
        mouth=(-40, 0, 0), toward=(1, 0, 0),
    )  # fmt: skip


def craw(chord: float = 0.05) -> tuple[Manifold, tuple[float, float]]:
    """A craw, tail at the origin, claws toward +x; its feelers are its thinnest limbs."""
    parts = [snake([(4, 0, 0, 3.4), (20, 0, 0, 5.0), (34, 0, 0, 4.4), (44, 0, 0, 3.0)], chord)]
    for s in (-1, 1):
        parts.append(
            snake(
                [
                    (32, s * 3, 0, 2.0),
                    (40, s * 11, 0, 1.4),
                    (46, s * 12, 0, 1.4),
                    (52, s * 12, 0, 3.2),
                    (62, s * 10, 0, 2.4),
                    (69, s * 8.5, 0, 1.2),
                ],
                chord,
            )
        )
        parts.append(snake([(43, s * 2, 0, 1.0), (60, s * 3, 0, 0.9), (74, s * 3.2, 0, 1.3)], chord))
        parts += [snake([(x, s * 3, 0, 1.4), (x - 4, s * 11, 0, 1.2)], chord) for x in (14, 22, 29)]
    return union(parts), (1.78, 1.95)


def craw_and_worm_from_the_top() -> Sheet:
    """Two different baits, tail to nose; the sprue comes down through the upper half between them."""
    low, high = (-104.0, -24.0, -13.0), (96.0, 24.0, 16.0)
    claws, _ = craw()
    worm = stroke(82, 4.8, 9).rotate((0, 0, 180)).translate((-10, 0, 0))
    feed = [
        turned([(0, 5.0), (17, 2.6)], (0, 0, 17), (0, 0, 0)),
        snake([(-6, 0, 0, 2.6), (6, 0, 0, 2.6)]),
        turned([(0, 2.4), (4, 1.4), (9, 2.2)], (5, 0, 0), (20, 0, 0)),
        turned([(0, 2.4), (4, 1.4), (9, 2.2)], (-5, 0, 0), (-20, 0, 0)),
    ]
    return Sheet(
        low=low, high=high, baits=[claws.translate((11, 0, 0)), worm], feed=feed,
        gates=[(0, (9, 0, 0), (1, 0, 0), 2.6), (1, (-9, 0, 0), (-1, 0, 0), 2.6)],
        vents=[((-91.5, 0, 0), -13.0, 3.0), ((79, 8.5, 0), 18.0, 2.0), ((79, -8.5, 0), 18.0, 2.0)],
        bolts=corners(low, high), pins=[(-40, 18), (20, -18)], mouth=(0, 0, 16), toward=(0, 0, -1),
    )  # fmt: skip


def craw_with_feelers() -> Sheet:
    """The craw alone, filled at the tail."""
    low, high = (-34.0, -24.0, -12.0), (92.0, 24.0, 12.0)
    claws, trunk = craw()
    return Sheet(
        low=low, high=high, baits=[claws], feed=[nozzle((-35, 0, 0), (1, 0, 0), 4.6, 1.4, 3.0)],
        gates=[(0, (-2, 0, 0), (1, 0, 0), 2.4)],
        vents=[((68, s * 8.5, 0), 25.0, 2.0) for s in (-1, 1)], bolts=corners(low, high),
        pins=[(0, 18), (40, -19)], trunk=trunk, mouth=(-34, 0, 0), toward=(1, 0, 0),
    )  # fmt: skip


DRAWINGS: dict[str, Callable[[], Sheet]] = {
    "three-worms-on-a-hub": three_on_a_hub,
    "twin-tail-filled-through-the-flank": twin_tail_from_the_side,
    "shad-with-a-blade": shad_with_a_blade,
    "eight-on-half-round-runners": eight_on_half_round_runners,
    "two-tubes-on-core-pins": two_tubes_on_core_pins,
    "frog-filled-between-its-legs": frog_filled_between_its_legs,
    "funnel-beside-the-axis": funnel_beside_the_axis,
    "funnel-in-inches": funnel_in_inches,
    "pockets-against-heat": pockets_against_heat,
    "ejector-pins": ejector_pins,
    "ejector-holes-without-pins": ejector_holes_without_pins,
    "ridge-all-round": ridge_all_round,
    "crossbar-thinner-than-gates": thin_manifold,
    "craw-and-worm-from-the-top": craw_and_worm_from_the_top,
    "craw-with-feelers": craw_with_feelers,
    "eight-sides-a-circle": very_coarse,
    "chord-of-two-microns": very_fine,
    "flat-lid": flat_lid,
    "sprue-in-a-neck": chimney,
    "wire-through-the-bait": wire_through,
    "the-same-half-twice": same_half_twice,
}
