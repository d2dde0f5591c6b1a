"""Bait shapes with elliptic sections along x, the nose at x = 0."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from manifold3d import Manifold
from scipy.interpolate import PchipInterpolator

from tests import shapes
from tests.shapes import Vec3, box, channel, loft, rod, union

Profile = Sequence[tuple[float, float, float]]
"""Control points (x, half height, half width)."""


def minnow(
    *,
    body: float = 92.0,
    height: float = 23.0,
    width: float = 15.0,
    trunk: float = 13.0,
    trunk_height: float = 5.0,
    trunk_width: float = 1.5,
    tail_height: float = 21.0,
    tail_width: float = 17.0,
    tail: float = 6.0,
) -> Manifold:
    """A body that narrows to a thin trunk, which alone feeds a wide paddle of a tail."""
    h, w = height / 2, width / 2
    flare = 2.5
    shape = [
        (0.0, 0.42 * h, 0.5 * w),
        (0.12 * body, 0.72 * h, 0.84 * w),
        (0.36 * body, h, w),
        (0.62 * body, 0.8 * h, 0.78 * w),
        (0.86 * body, 0.36 * h, 0.34 * w),
        (body, trunk_height / 2, trunk_width / 2),
    ]
    end = body + trunk
    fore = _sampled(shape, rounded=(7.0, 0.0), count=44)
    thin = [(end, trunk_height / 2, trunk_width / 2)]
    grown = (end + flare, tail_height / 2, tail_width / 2)
    paddle = _sampled(
        [grown, (end + flare + tail, 0.9 * tail_height / 2, 0.9 * tail_width / 2)], (0.0, 0.7 * tail), 14
    )
    return loft([(x, ry, rz, 0.0) for x, ry, rz in (*fore, *thin, *paddle)])


def stick(*, length: float = 128.0, diameter: float = 10.5) -> Manifold:
    """A round worm, a little thinner to the tail, both ends rounded."""
    r = diameter / 2
    shape = [(0.0, 0.9 * r, 0.9 * r), (0.25 * length, r, r), (0.7 * length, 0.94 * r, 0.94 * r)]
    return loft(_level(_sampled([*shape, (length, 0.55 * r, 0.55 * r)], (0.85 * r, 0.5 * r), 80)))


def grub(
    *, body: float = 26.0, diameter: float = 13.0, tail: float = 34.0, tail_width: float = 2.6
) -> Manifold:
    """A fat body and a flat tail, tall along y and thin along z, with a waist between them."""
    r, t = diameter / 2, tail_width / 2
    shape = [
        (0.0, 0.85 * r, 0.85 * r),
        (0.4 * body, r, r),
        (body, 0.66 * r, 0.6 * r),
        (body + 0.2 * tail, 0.5 * r, 1.4 * t),
        (body + 0.6 * tail, 1.05 * r, t),
        (body + tail, 0.8 * r, 0.8 * t),
    ]
    return loft(_level(_sampled(shape, (0.8 * r, 5.0), 60)))


def crawler(*, length: float = 96.0, width: float = 13.0, depth: float = 7.0, ribs: int = 12) -> Manifold:
    """A ribbed body with two claws and two legs; only its part below z = 0 is poured."""
    ry, rz = width / 2, depth
    shape = [(0.0, 0.5 * ry, 0.55 * rz), (0.3 * length, 0.9 * ry, 0.9 * rz), (0.7 * length, ry, rz)]
    smooth = _sampled([*shape, (length, 0.8 * ry, 0.75 * rz)], (0.6 * ry, 0.6 * ry), 8 * ribs)

    def ribbed(x: float) -> float:
        return 1 - 0.07 * (1 - math.cos(2 * math.pi * ribs * x / length)) / 2

    body = loft([(x, y * ribbed(x), z * ribbed(x), 0.0) for x, y, z in smooth])
    limbs = [
        channel([(length - 6, s * 3.0, 0.0), (length + 8, s * 7.0, 0.0), (length + 17, s * 7.5, 0.0)], 2.8)
        for s in (-1, 1)
    ]
    legs = [channel([(0.6 * length, 0.0, 0.0), (0.66 * length, s * 15.0, 0.0)], 1.5) for s in (-1, 1)]
    return union([body, *limbs, *legs])


def with_eyes(bait: Manifold, at: tuple[float, float], diameter: float, depth: float) -> Manifold:
    """Cut a round flat recess into both sides at (x, y), its floor `depth` below the surface there."""
    ray = bait.ray_cast((*at, 100.0), (*at, 0.0))
    floor = float(ray[0].position[2]) - depth
    eyes = [rod((*at, s * floor), (*at, s * (floor + 50)), diameter / 2) for s in (-1, 1)]
    return bait - union(eyes)


def with_slot(bait: Manifold, start: float, end: float, y_from: float, thickness: float) -> Manifold:
    """Cut a hook slot from the side y > y_from, across the middle plane."""
    return bait - box((start, y_from, -thickness / 2), (end, y_from + 100, thickness / 2))


def placed(bait: Manifold, at: tuple[float, float], turn_deg: float = 0.0) -> Manifold:
    """Lay the bait's nose at a point of the parting plane and turn it about z."""
    return bait.rotate((0.0, 0.0, turn_deg)).translate((*at, 0.0))


def around(at: tuple[float, float], turn_deg: float, forward: float) -> Vec3:
    """The point `forward` mm along a placed bait's axis from its nose."""
    a = math.radians(turn_deg)
    return (at[0] + forward * math.cos(a), at[1] + forward * math.sin(a), 0.0)


def _level(profile: Profile) -> list[tuple[float, float, float, float]]:
    return [(x, ry, rz, 0.0) for x, ry, rz in profile]


def _sampled(shape: Profile, rounded: tuple[float, float], count: int) -> list[tuple[float, float, float]]:
    """Monotone curves through the control points, the ends rounded over the given lengths (mm)."""
    xs = [x for x, _, _ in shape]
    tall, wide = (PchipInterpolator(xs, [point[k] for point in shape]) for k in (1, 2))
    fade = _rounding(xs[0], xs[-1], rounded)

    def placed_at(steps: int) -> list[float]:
        found = [xs[0] + (xs[-1] - xs[0]) * (1 - math.cos(math.pi * k / steps)) / 2 for k in range(steps + 1)]
        return [x for x in (*found[:-1], xs[-1]) if fade(x) > 0.02]

    ends = placed_at(count)
    fine = placed_at(count * shapes.SIDES // 48)  # as much finer along the bait as round it
    return [(x, float(tall(x)) * fade(x), float(wide(x)) * fade(x)) for x in fine if ends[0] <= x <= ends[-1]]


def _rounding(start: float, end: float, rounded: tuple[float, float]) -> Callable[[float], float]:
    def end_factor(distance: float, length: float) -> float:
        return 1.0 if distance >= length else math.sqrt(max(0.0, 1 - (1 - distance / length) ** 2))

    return lambda x: end_factor(x - start, rounded[0]) * end_factor(end - x, rounded[1])
