"""The molds that the other checks measure are what they claim to be."""

from __future__ import annotations

import struct
from importlib.metadata import version

import numpy as np
import pytest
from manifold3d import Manifold, Mesh64

from tests.shapes import Mold, union
from tests.shapes_baits import minnow, stick, with_eyes
from tests.shapes_demo import DEMOS, MOLDS, stl_files
from tests.shapes_files import (
    anyhow,
    ascii_stl,
    binary_stl,
    closed,
    mirrored,
    on_the_bed,
    side_by_side,
    triangles,
    upright,
)

MADE_WITH = "3.5.4"
"""manifold3d of the committed files: another version may cut the same solid into other facets."""


def solid_of(stl: bytes) -> Manifold:
    facets = np.frombuffer(
        stl, dtype=np.dtype([("n", "<f4", 3), ("v", "<f4", (3, 3)), ("a", "<u2")]), offset=84
    )
    corners, index = np.unique(facets["v"].reshape(-1, 3), axis=0, return_inverse=True)
    faces = index.reshape(-1, 3)
    whole = (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
    return Manifold(Mesh64(corners.astype(np.float64), faces[whole].astype(np.uint64)))


@pytest.mark.parametrize("slug", DEMOS)
def test_the_void_of_a_closed_mold_is_exactly_baits_feed_and_vents(slug: str) -> None:
    mold = DEMOS[slug].make()
    envelope = union(part for _, part in mold.parts)
    void = max((envelope.hull() - envelope).decompose(), key=lambda piece: float(piece.volume()))
    expected = sum(mold.bait_ml[:1] if mold.open_pour else mold.bait_ml) + mold.feed_ml + mold.vent_ml
    assert void.volume() / 1000 == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("slug", DEMOS)
def test_every_part_of_a_demo_mold_is_one_sound_body(slug: str) -> None:
    for _, part in DEMOS[slug].make().parts:
        assert part.status().name == "NoError"
        assert len(part.decompose()) == 1


@pytest.mark.slow
@pytest.mark.parametrize("slug", DEMOS)
def test_the_committed_files_are_the_generators_solids(slug: str) -> None:
    for name, content in stl_files(slug).items():
        committed = (MOLDS / slug / name).read_bytes()
        if version("manifold3d") == MADE_WITH:
            assert committed == content, f"{name}: run python -m tests.shapes_demo"
        ours, theirs = solid_of(content), solid_of(committed)
        assert (ours - theirs).volume() + (theirs - ours).volume() < 1e-6 * ours.volume()


@pytest.mark.parametrize("pose", [closed, on_the_bed, side_by_side, anyhow(3), upright, mirrored])
def test_a_pose_keeps_the_volume_of_every_part(pose: object) -> None:
    mold: Mold = DEMOS["pond-stick"].make()
    posed = pose(mold)  # type: ignore[operator]
    before = [part.volume() for part in closed(mold)]
    assert [part.volume() for part in posed] == pytest.approx(before, rel=1e-12)


def test_a_binary_file_holds_84_bytes_and_50_for_each_facet() -> None:
    corners = triangles(stick())
    content = binary_stl(corners)
    assert len(content) == 84 + 50 * len(corners)
    assert struct.unpack_from("<I", content, 80) == (len(corners),)


def test_the_text_file_holds_the_same_corners() -> None:
    corners = triangles(stick())
    lines = [line.split()[1:] for line in ascii_stl(corners).decode().splitlines() if "vertex" in line]
    assert np.array(lines, dtype=np.float64).reshape(-1, 3, 3) == pytest.approx(corners, rel=1e-8, abs=1e-12)


def test_the_minnows_trunk_is_as_thin_as_asked() -> None:
    bait = minnow(trunk_width=1.5, trunk_height=5.0, tail_width=17.0, width=15.0)
    outlines = bait.rotate((0.0, 90.0, 0.0)).translate((0.0, 0.0, 98.0)).slice(0.0).bounds()
    assert outlines == pytest.approx((-0.75, -2.5, 0.75, 2.5), abs=1e-9)


def test_two_eyes_take_out_the_discs_and_the_domes_over_them() -> None:
    bait = stick(diameter=10.0, length=100.0)
    removed = bait.volume() - with_eyes(bait, (25.0, 0.0), 4.0, 0.5).volume()
    disc = 2 * np.pi * 2.0**2 * 0.5
    dome_at_most = 2 * np.pi * 2.0**2 * (5.0 - np.sqrt(5.0**2 - 2.0**2))
    assert disc - dome_at_most < removed < disc
