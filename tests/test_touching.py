"""Meshes of bodies that touch each other or themselves: each is read as it was drawn, and computed with."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest
from manifold3d import Manifold
from numpy.typing import NDArray

from builder import build, mesh
from builder.model import Solid, Vouch
from tests.shapes import ball, box, rod, union
from tests.shapes_files import binary_stl, triangles
from tests.test_strangers import block, egg, halves, measured, nothing, spec_of, volumes


def lower() -> Manifold:
    return box((-20.0, -10.0, -10.0), (20.0, 10.0, 0.0))


def upper() -> Manifold:
    return box((-20.0, -10.0, 0.0), (20.0, 10.0, 10.0))


def hollow() -> Manifold:
    return ball((0.0, 0.0, 0.0), 6.0) + rod((-30.0, 0.0, 0.0), (0.0, 0.0, 0.0), 2.0)


def filed(*bodies: Manifold) -> tuple[Solid, Vouch]:
    """All bodies in one file, each with its own facets."""
    return mesh.read(binary_stl(np.concatenate([triangles(body) for body in bodies])), "part.stl", "mm")


def wedge(from_deg: float, to_deg: float) -> Manifold:
    """A piece of a cake round the z axis."""
    cake = rod((0.0, 0.0, 0.0), (0.0, 0.0, 10.0), 10.0)
    sides = [(-np.sin(np.radians(from_deg)), np.cos(np.radians(from_deg)), 0.0)]
    sides.append((np.sin(np.radians(to_deg)), -np.cos(np.radians(to_deg)), 0.0))
    for side in sides:
        cake = cake.trim_by_plane(side, 0.0)
    return cake


TOUCHING: dict[str, Callable[[], tuple[Manifold, ...]]] = {
    "boxes with the same facets where they touch": lambda: (lower(), upper()),
    "boxes with other facets there": lambda: (lower(), upper().rotate((0.0, 0.0, 180.0))),
    "halves of a hollow": lambda: (lower() - hollow(), upper() - hollow()),
    "boxes that share one edge": lambda: (lower(), box((20.0, -10.0, 0.0), (60.0, 10.0, 10.0))),
    "a box that stands on a larger one": lambda: (lower(), box((-20.0, -10.0, 0.0), (-10.0, 10.0, 9.0))),
    "three wedges round one edge": lambda: tuple(wedge(a, a + 40.0) for a in (0.0, 100.0, 230.0)),
    "wedges side by side": lambda: tuple(wedge(a, a + 60.0) for a in (0.0, 60.0, 120.0)),
}


@pytest.mark.parametrize("bodies_of", TOUCHING.values(), ids=TOUCHING.keys())
def test_each_body_in_a_file_of_bodies_that_touch_keeps_its_volume_in_every_operation(
    bodies_of: Callable[[], tuple[Manifold, ...]],
) -> None:
    bodies, across = bodies_of(), box((-50.0, -50.0, -0.5), (50.0, 50.0, 0.5))
    solid, vouch = filed(*bodies)
    drawn = sorted(body.volume() for body in bodies)
    assert vouch.self_touching
    assert sorted(mesh.shell_volumes_mm3(solid)) == pytest.approx(drawn, rel=1e-5)
    assert mesh.body(solid).volume() == pytest.approx(sum(drawn), rel=1e-5)
    cut = sum((body - across).volume() for body in bodies)
    assert (mesh.body(solid) - across).volume() == pytest.approx(cut, rel=1e-5)
    joined = union(bodies)
    assert mesh.volume_mm3(mesh.joined(solid)) == pytest.approx(joined.volume(), rel=1e-5)
    assert len(mesh.shell_volumes_mm3(mesh.joined(solid))) == len(joined.decompose())


def test_a_body_that_touches_itself_along_an_edge_stays_one() -> None:
    """Two square holes that meet in one upright edge."""
    holes = box((0.0, 0.0, -20.0), (5.0, 5.0, 20.0)) + box((-5.0, -5.0, -20.0), (0.0, 0.0, 20.0))
    drawn = lower() - holes
    solid, vouch = filed(drawn)
    assert vouch.self_touching
    assert list(mesh.shell_volumes_mm3(solid)) == pytest.approx([drawn.volume()], rel=1e-6)
    assert mesh.body(solid).volume() == pytest.approx(drawn.volume(), rel=1e-6)


def test_a_fin_without_thickness_is_left_out() -> None:
    """A rectangle, both sides of which are in the file, that stands on an edge of the box."""
    a, b, c, d = np.array([[-20.0, -10, 0], [20.0, -10, 0], [20.0, -10, 8], [-20.0, -10, 8]])
    sheet = np.array([[a, b, c], [a, c, d]])
    corners = np.concatenate([triangles(lower()), sheet, sheet[:, ::-1]])
    solid, vouch = mesh.read(binary_stl(corners), "part.stl", "mm")
    assert vouch.dropped == 4
    assert mesh.volume_mm3(solid) == pytest.approx(8000.0)
    assert solid.vertices[:, 2].max() == 0.0


def test_halves_that_lie_closed_in_one_file_are_read_as_two() -> None:
    feed = rod((-41.0, 0.0, 0.0), (-29.0, 0.0, 0.0), 4.0, 1.8)
    mold = [body for _, _, body in halves(block(), egg() + feed, upper=nothing(), lower=nothing())]
    spec = spec_of([("mold", "half", nothing())])
    data = binary_stl(np.concatenate([triangles(body) for body in mold]))
    found = build.read(spec, [data]).measurement
    assert [part.file for part in found.parts] == ["mold-1.stl", "mold-2.stl"]
    assert volumes(found) == pytest.approx([egg().volume() / 1000], rel=4e-3)


def test_a_half_of_two_bodies_that_touch_is_read_as_one() -> None:
    """The lower half is a plate with a frame on it, as drawn apart in a CAD."""
    feed = rod((-41.0, 0.0, 0.0), (-29.0, 0.0, 0.0), 4.0, 1.8)
    mold = halves(block(), egg() + feed, upper=nothing(), lower=nothing())
    whole = measured(mold)
    plate, frame = mold[0][2].split_by_plane((0.0, 0.0, -1.0), 6.0)
    data = [
        binary_stl(np.concatenate([triangles(plate), triangles(frame)])),
        binary_stl(triangles(mold[1][2])),
    ]
    found = build.read(spec_of(mold), data).measurement
    assert volumes(found) == pytest.approx(volumes(whole), rel=1e-4)
    assert len(found.parts) == 2


def bar(*places: float) -> NDArray[np.float64]:
    """Triangles (n, 3, 3) of a bar of 20 mm by 10 mm along x, its sides cut at each of the places."""
    ring = np.array([[-10.0, -10.0], [10.0, -10.0], [10.0, 0.0], [-10.0, 0.0]])
    rings = [np.column_stack([np.full(4, x), ring]) for x in places]
    made = []
    for here, there in pairwise(rings):
        for k in range(4):
            a, b, c, d = here[k], here[(k + 1) % 4], there[(k + 1) % 4], there[k]
            made += [[a, b, c], [a, c, d]]
    first, last = rings[0], rings[-1]
    made += [[first[0], first[2], first[1]], [first[0], first[3], first[2]]]
    made += [[last[0], last[1], last[2]], [last[0], last[2], last[3]]]
    return np.array(made)


def test_bodies_that_overlap_and_have_faces_in_common_are_one() -> None:
    """Two bars of one section, the sides of which have the same facets where they overlap."""
    corners = np.concatenate([bar(-20.0, 0.0, 6.0), bar(0.0, 6.0, 20.0)])
    solid, vouch = mesh.read(binary_stl(corners), "part.stl", "mm")
    assert vouch.overlapping_bodies == 2
    assert mesh.volume_mm3(solid) == pytest.approx(8000.0, rel=1e-6)
