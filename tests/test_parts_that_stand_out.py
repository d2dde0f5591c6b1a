"""Parts that stand out of the block: a plug's head, a lid within a rim. The air beside them is no hollow."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from manifold3d import Manifold

from builder.base.problems import Faults
from builder.cli import scaffold
from builder.model import Figure, Role
from builder.spec import material_tables
from tests.shapes import ball, box, rod, union
from tests.shapes_files import binary_stl, triangles
from tests.test_strangers import Parts, block, egg, halves, measured, nothing, sprue, volumes


def popper(proud_mm: float) -> tuple[Parts, Manifold]:
    """A bait with its flat end on a plug, whose head, 14 mm in radius, stands so far out of the block.

    The plug sits in a stepped seat with 0.1 mm of play all round; the sprue enters opposite to it.
    """
    bait = rod((-24.0, 0.0, 0.0), (20.0, 0.0, 0.0), 5.0, 8.0)
    plug = rod((20.0, 0.0, 0.0), (32.0, 0.0, 0.0), 10.0) + rod(
        (32.0, 0.0, 0.0), (40.0 + proud_mm, 0.0, 0.0), 14.0
    )
    seat = rod((19.9, 0.0, 0.0), (32.0, 0.0, 0.0), 10.1) + rod((31.9, 0.0, 0.0), (41.0, 0.0, 0.0), 14.1)
    feed = rod((-41.0, 0.0, 0.0), (-23.0, 0.0, 0.0), 4.0, 1.8)
    mold = box((-40.0, -25.0, -20.0), (40.0, 25.0, 20.0))
    return [*halves(mold, bait + feed + seat, upper=nothing(), lower=nothing()), ("plug", "plug", plug)], bait


@pytest.mark.parametrize("proud_mm", [4.0, 9.0])
def test_the_air_round_the_head_of_a_plug_that_stands_out_of_the_block_is_no_hollow(proud_mm: float) -> None:
    parts, bait = popper(proud_mm)
    found = measured(parts)
    assert volumes(found) == pytest.approx([bait.volume() / 1000], rel=4e-3)
    assert found.sprue
    assert abs(found.sprue.mouth_mm[0]) == pytest.approx(40.0, abs=0.05)
    assert found.sprue.mouth_diameter_mm == pytest.approx(2 * 3.878, rel=0.01)


def nested(play_mm: float, feed: Manifold) -> Parts:
    """An egg between a tray with a rim 4 mm high and a lid that drops into it, four bolts.

    One vent, 2 mm wide and 0.2 deep, runs from the egg under the lid and through the rim to the outside.
    """
    x, y = 34.0, 19.0
    lid = box((play_mm - x, play_mm - y, 0.0), (x - play_mm, y - play_mm, 15.0))
    tray = box((-40.0, -25.0, -15.0), (40.0, 25.0, 4.0)) - box((-x, -y, 0.0), (x, y, 5.0))
    bolts = union(rod((bx, by, -16.0), (bx, by, 16.0), 2.0) for bx in (-26.0, 26.0) for by in (-15.0, 15.0))
    vent = box((29.0, -1.0, 0.0), (41.0, 1.0, 0.2))
    hollow = egg() + feed + bolts + vent
    return [("tray", "half", tray - hollow), ("lid", "half", lid - hollow)]


def side_sprue() -> Manifold:
    return rod((-41.0, 0.0, 0.0), (-29.0, 0.0, 0.0), 3.5, 1.8)


@pytest.mark.parametrize(("feed", "play_mm"), [(sprue, 0.2), (side_sprue, 0.0)])
def test_the_air_over_the_rim_round_a_lid_that_drops_into_a_tray_is_no_hollow(
    feed: Callable[[], Manifold], play_mm: float
) -> None:
    found = measured(nested(play_mm, feed()))
    assert volumes(found) == pytest.approx([egg().volume() / 1000], rel=4e-3)
    assert [bolt.diameter_mm for bolt in found.bolts] == pytest.approx([4.0] * 4, rel=2e-3)
    assert found.sprue
    drawn = (feed() - egg()) ^ block()
    assert found.sprue.volume_ml == pytest.approx(drawn.volume() / 1000, rel=0.02)
    assert len(found.vents) == 1


@pytest.mark.parametrize("play_mm", [0.05, 0.2])
def test_a_crack_round_a_lid_that_the_sprue_crosses_is_told_with_its_width(play_mm: float) -> None:
    with pytest.raises(Faults, match=rf"key parts: a crack {play_mm} mm wide between the parts"):
        measured(nested(play_mm, side_sprue()))


def test_a_core_that_touches_no_half_leaves_its_own_hollow_in_the_bait() -> None:
    """The core, a ball of 7 mm radius, hangs on a pin of 3 mm with 0.05 to 0.1 mm of play in its sockets."""
    pin = rod((4.0, 0.0, -14.0), (4.0, 0.0, 14.0), 1.5)
    socket = rod((4.0, 0.0, -14.1), (4.0, 0.0, 14.1), 1.55)
    core = ball((4.0, 0.0, 0.0), 7.0) + pin
    feed = rod((-41.0, 0.0, 0.0), (-29.0, 0.0, 0.0), 4.0, 1.8)
    mold = box((-40.0, -25.0, -20.0), (40.0, 25.0, 20.0))
    parts = halves(mold, egg() + feed + socket, upper=nothing(), lower=nothing())
    found = measured([*parts, ("core", "core", core)])
    assert volumes(found) == pytest.approx([(egg() - core).volume() / 1000], rel=6e-3)
    bait = found.baits[0]
    assert bait.width_mm == pytest.approx(22.0, abs=found.length_error_mm)
    assert found.length_error_mm < 0.4
    assert bait.sockets == ()
    assert [path.name for path in bait.paths if abs(path.stations[-1].at_mm[2]) > 11.0] == []


def capped() -> tuple[Parts, Manifold]:
    """Two halves and an end cap, 20 mm thick, through which the sprue goes on to the outside; the feed."""
    feed = rod((-60.0, 0.0, 0.0), (-29.0, 0.0, 0.0), 5.0, 1.8)
    cap = box((-60.0, -25.0, -15.0), (-40.0, 25.0, 15.0)) - feed
    mold = halves(block(), egg() + feed, upper=nothing(), lower=nothing())
    return [*mold, ("cap", "core", cap)], feed - egg()


def test_a_core_that_lies_outside_of_the_halves_is_asked_for_and_right_as_a_plug() -> None:
    (lower, upper, (name, _, cap)), feed = capped()
    with pytest.raises(Faults, match=r"parts\[2\]\.role: most of cap\.stl lies outside .* write role: plug"):
        measured([lower, upper, (name, "core", cap)])
    found = measured([lower, upper, (name, "plug", cap)])
    assert volumes(found) == pytest.approx([egg().volume() / 1000], rel=4e-3)
    assert found.sprue
    assert found.sprue.volume_ml == pytest.approx(feed.volume() / 1000, rel=0.02)
    assert found.sprue.mouth_diameter_mm == pytest.approx(10.0, rel=0.01)


def test_bolts_through_the_quarters_of_a_block_are_counted_on_both_sides() -> None:
    """A block cut at y = 0 and z = 0, with two bolts along z through each pair of quarters."""
    feed = rod((-60.0, 0.0, 0.0), (-29.0, 0.0, 0.0), 5.0, 1.8)
    bolts = union(rod((x, y, -30.0), (x, y, 30.0), 2.1) for x in (-30.0, 30.0) for y in (-20.0, 20.0))
    whole = block() - egg() - feed - bolts
    at = {
        f"q{y}{z}": box(
            (-90.0, min(y * 90.0, 0.0), min(z * 90.0, 0.0)), (90.0, max(y * 90.0, 0.0), max(z * 90.0, 0.0))
        )
        for y in (-1, 1)
        for z in (-1, 1)
    }
    roles: tuple[Role, ...] = ("half", "half", "plug", "plug")
    found = measured([(name, role, whole ^ at[name]) for name, role in zip(at, roles, strict=True)])
    assert volumes(found) == pytest.approx([egg().volume() / 1000], rel=4e-3)
    (first, x, y), *others = sorted((bolt.diameter_mm, *bolt.at_mm[:2]) for bolt in found.bolts)
    assert first == pytest.approx(4.2, rel=0.01)
    steps = sorted((round(abs(one[1] - x)), round(abs(one[2] - y))) for one in others)
    assert steps == [(0, 40), (60, 0), (60, 40)]


def test_a_new_mold_takes_an_end_cap_for_a_plug(tmp_path: Path) -> None:
    files = []
    for name, _, body in capped()[0]:
        files.append(tmp_path / f"{name}.stl")
        files[-1].write_bytes(binary_stl(triangles(body)))
    made = scaffold.write(tmp_path / "molds" / "capped", files, None, material_tables.load())
    assert [part.role for part in made.mold.parts] == ["half", "half", "plug"]
    assert made.question == ""


@pytest.mark.parametrize(("apart_mm", "said"), [(0.0, 0), (0.1, 1), (12.0, 0)])
def test_halves_filed_closed_but_apart_are_told_with_the_gap_and_what_it_would_hold(
    apart_mm: float, said: int
) -> None:
    """A wider gap only shows the halves apart, as in an exploded drawing."""
    (_, _, lower), (_, _, upper) = halves(block(), egg() + sprue(), upper=nothing(), lower=nothing())
    found = measured([("lower", "half", lower), ("upper", "half", upper.translate((0.0, 0.0, apart_mm)))])
    assert volumes(found) == pytest.approx([egg().volume() / 1000], rel=5e-3)
    told = [finding for finding in found.findings if finding.code == "reading.pressed"]
    assert len(told) == said
    for finding in told:
        gap, more = finding.values["gap"], finding.values["more"]
        assert isinstance(gap, Figure)
        assert isinstance(more, Figure)
        assert gap.value == pytest.approx(0.1, abs=1e-3)
        assert more.value == pytest.approx(0.1 * found.baits[0].projected_mm2 / 1000, rel=0.02)
