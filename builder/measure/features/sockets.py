"""Eye sockets and hook slots of a bait: flat floors with round walls, and facing flat walls."""

from __future__ import annotations

import numpy as np

from builder import mesh
from builder.measure.features.cups import ball_sockets
from builder.mesh.flat_regions import Flat, Index, Points, Surface, flat, flats, members, rim, smooth, surface
from builder.model import EyeSocket, Solid

DIAMETERS_MM = (1.5, 25.0)
"""Stick-on eyes lie well inside this (common practice, no source)."""
ROUND_SHARE = 0.03
"""How far corners may lie off the fitted circle, as a share of its radius."""
ARC_DEG = 100.0
"""Least arc from which a circle is believed: below it the radius of a fit is loose."""
STEEP = 0.5
"""A wall leans at most 60 degrees from upright: cosine of its normal to the floor's."""
RISE_MM = 0.05
LEAST_EDGES = 5
COLLAR_MM = 0.4
LOOSE_MM = 0.3
"""A loose pin that stands no farther into the bait ejects it or is meant to be level: no socket."""
DEEPEST_WIDTHS = 1.0
"""What is deeper than it is wide is the hole of a pin or of a hook's wire: an eye would fall in."""
NEAR_MM, FILM_MM = 1e-3, 0.3
"""From so far behind a socket's floor to so far the bait has no other side."""
LEAN_SHARE = 0.2
"""How far a wall may lean out over its height, as a share of the radius (draft)."""
SLOT_MM = (0.4, 5.0)
SLOT_MM2 = 25.0


def eye_sockets(bait: Solid) -> tuple[EyeSocket, ...]:
    """Round recesses with a flat floor or cut as a ball, the larger first, also where the wall breaks out."""
    skin = surface(bait)
    found = [_socket(skin, floor) for facets in _floors(skin) if (floor := flat(skin, facets))]
    real = [socket for socket in found if socket and not _is_before_film(bait, socket)]
    return tuple(sorted((*real, *ball_sockets(skin)), key=_order))


def _is_before_film(bait: Solid, socket: EyeSocket) -> bool:
    """True where a film is all there is behind the floor: a core's pin ends there, in its hole in a half."""
    floor, way = np.array(socket.at_mm), -np.array(socket.normal)
    ends = (mesh.vec(floor + far * way) for far in (NEAR_MM, FILM_MM))
    return bool(mesh.body(bait).ray_cast(*ends))


def _order(socket: EyeSocket) -> tuple[float, ...]:
    """Larger first, then by place, blind to rounding."""
    return (-round(socket.diameter_mm, 1), *(round(x, 1) for x in socket.at_mm))


def hook_slot(bait: Solid) -> bool:
    """True where two flat walls of the bait face each other across a thin gap."""
    skin = surface(bait)
    walls = flats(skin, SLOT_MM2)
    return any(_face_each_other(skin, a, b) for k, a in enumerate(walls) for b in walls[:k])


def _floors(skin: Surface) -> list[Index]:
    """Patches of at least a fifth of the smallest eye with some walls that rise from their rim."""
    label = smooth(skin)
    walled = np.zeros(label.max(initial=0) + 1)
    for one, two in (skin.beside.T, skin.beside.T[::-1]):
        upright = np.abs(np.einsum("ij,ij->i", skin.normals[one], skin.normals[two])) < STEEP
        floor, wall = one[upright], two[upright]
        up = skin.vertices[skin.faces[wall]] - skin.vertices[skin.faces[floor, 0]][:, None]
        rises = np.einsum("eij,ej->ei", up, skin.normals[floor]).max(axis=1) > RISE_MM
        walled += np.bincount(label[floor[rises]], minlength=len(walled))
    area = np.bincount(label, weights=skin.areas_mm2)
    return members(label, (walled >= LEAST_EDGES) & (area > 0.2 * np.pi * DIAMETERS_MM[0] ** 2 / 4))


def _socket(skin: Surface, floor: Flat) -> EyeSocket | None:
    """The floor's socket, where its rim rises along one circle and leaves it only through the side."""
    edges, beyond = rim(skin, floor)
    rising = _rises(skin, floor, beyond)
    if rising.sum() < LEAST_EDGES:
        return None
    turn = mesh.frame(floor.normal)
    plan = (skin.vertices[edges] - floor.point) @ turn[:2].T
    corners = _corners(plan[rising])
    if len(corners) < LEAST_EDGES:
        return None
    centre, radius = _circle(corners)
    off = np.abs(np.linalg.norm(corners - centre, axis=1) - radius).max()
    outside = np.linalg.norm(plan.reshape(-1, 2) - centre, axis=1).max() - radius
    arc_mm = float(np.linalg.norm(np.diff(plan[rising], axis=1)[:, 0], axis=1).sum())
    wide = DIAMETERS_MM[0] <= 2 * radius <= DIAMETERS_MM[1]
    if not wide or max(off, outside) > ROUND_SHARE * radius or arc_mm < np.radians(ARC_DEG) * radius:
        return None
    middle = centre @ turn[:2]
    collar = _collar_mm(skin, floor, middle, radius, arc_mm)
    depth = _mean_wall_mm(skin, floor, middle, radius, arc_mm)
    if collar > RISE_MM:
        depth -= collar  # the wall goes on as one side of the crack round a loose pin
    if (collar > RISE_MM and depth < LOOSE_MM) or depth > DEEPEST_WIDTHS * 2 * radius:
        return None
    at = floor.point + middle
    return EyeSocket(
        at_mm=(float(at[0]), float(at[1]), float(at[2])),
        normal=(float(floor.normal[0]), float(floor.normal[1]), float(floor.normal[2])),
        diameter_mm=2 * float(radius),
        depth_mm=depth,
        breaks_out=bool((~rising).any()),
    )


def _rises(skin: Surface, floor: Flat, beyond: Index) -> Index:
    """Which facets beyond the rim are walls that stand up from the floor."""
    height = ((skin.vertices[skin.faces[beyond]] - floor.point) @ floor.normal).max(axis=1)
    upright = np.abs(skin.normals[beyond] @ floor.normal) < STEEP
    return np.asarray(upright & (height > RISE_MM))


def _corners(segments: Points) -> Points:
    """Ends (n, 2) of the segments (s, 2, 2) without those that lie on a straight run."""
    ends = segments.reshape(-1, 2)
    places, index = np.unique(ends.round(5), axis=0, return_inverse=True)
    index = index.reshape(-1, 2)
    along = np.diff(segments, axis=1)[:, 0]
    along /= np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-12)
    bends = np.zeros(len(places), dtype=bool)
    for k in range(len(places)):
        meeting = along[(index == k).any(axis=1)]
        straight = len(meeting) == 2 and abs(float(meeting[0] @ meeting[1])) > np.cos(np.radians(1.0))
        bends[k] = not straight
    return places[bends]


def _circle(points: Points) -> tuple[Points, float]:
    """Centre (2,) and radius of the circle nearest to the points, by linear least squares (Kasa 1976).

    >>> centre, radius = _circle(np.array([[1.0, 0.0], [0.0, 1.0], [-1.0, 0.0], [0.0, -1.0]]) + 2.0)
    >>> centre.round(6).tolist(), round(radius, 6)
    ([2.0, 2.0], 1.0)
    """
    middle = points.mean(axis=0)
    moved = points - middle
    matrix = np.column_stack([2 * moved, np.ones(len(moved))])
    x, y, c = np.linalg.lstsq(matrix, (moved**2).sum(axis=1), rcond=None)[0]
    return middle + np.array([x, y]), float(np.sqrt(max(c + x * x + y * y, 0.0)))


def _mean_wall_mm(skin: Surface, floor: Flat, centre: Points, radius: float, arc_mm: float) -> float:
    """Mean height of the wall: area of the upright facets round the circle, by the arc's length."""
    corners = skin.vertices[skin.faces] - floor.point
    across = corners - (corners @ floor.normal)[..., None] * floor.normal - centre
    lean = np.abs(np.linalg.norm(across, axis=2) - radius).max(axis=1)
    upright = np.abs(skin.normals @ floor.normal) < STEEP
    inward = np.einsum("ij,ij->i", skin.normals, across.mean(axis=1)) < 0
    over = (corners @ floor.normal).min(axis=1) > -0.05
    mine = upright & inward & over & (lean < LEAN_SHARE * radius)
    return float(skin.areas_mm2[mine].sum() / arc_mm)


def _collar_mm(skin: Surface, floor: Flat, centre: Points, radius: float, arc_mm: float) -> float:
    """Mean height of what looks outwards just round the circle: a crack round a loose pin has a collar."""
    centres = skin.vertices[skin.faces].mean(axis=1) - floor.point
    height = centres @ floor.normal
    out = centres - height[:, None] * floor.normal - centre
    away = np.maximum(np.linalg.norm(out, axis=1), 1e-12)
    outward = np.einsum("ij,ij->i", skin.normals, out) > STEEP * away
    mine = outward & (away > 0.9 * radius) & (away < radius + COLLAR_MM) & (height > 0)
    return float((skin.areas_mm2[mine] * radius / away[mine]).sum() / arc_mm)


def _face_each_other(skin: Surface, one: Flat, two: Flat) -> bool:
    """True where both regions are opposite, look at each other and are a slot's width apart."""
    if one.normal @ two.normal > -0.98:
        return False
    gap = float((two.point - one.point) @ one.normal)
    if not SLOT_MM[0] <= gap <= SLOT_MM[1]:
        return False
    turn = mesh.frame(one.normal)[:2]
    boxes = [
        np.sort((skin.vertices[skin.faces[f.facets]].reshape(-1, 3) @ turn.T), axis=0) for f in (one, two)
    ]
    low = np.maximum(boxes[0][0], boxes[1][0])
    high = np.minimum(boxes[0][-1], boxes[1][-1])
    return bool((high - low > 2.0).all())
