"""Molds of a half and a plain cover, without a mouth, with a riser, and open ones with a core set in."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml
from manifold3d import Manifold

from builder import mesh
from builder.base.problems import Faults
from builder.measure.closing import assemble, covering, matching
from builder.model import Hints, PartSpec, Placing
from tests.shapes import ball, box, rod
from tests.test_strangers import Parts, block, measured, nothing, spec_of, volumes


def bait() -> Manifold:
    """A broad flat-backed bait, its back on z = 0."""
    return ball((0.0, 0.0, 0.0), 1.0).scale((30.0, 18.0, 10.0)).trim_by_plane((0.0, 0.0, 1.0), 0.0)


def covered(*holes: tuple[float, float]) -> Parts:
    """The bait in the upper half, a cover below it with a nozzle on its outside, and bolts at `holes`."""
    bolts = nothing()
    for x, y in holes:
        bolts += rod((x, y, -16.0), (x, y, 16.0), 2.0)
    sprue = rod((-12.0, 0.0, -31.0), (-12.0, 0.0, 1.0), 3.0, 1.5)
    top, bottom = (block() - bait() - bolts).split_by_plane((0.0, 0.0, 1.0), 0.0)
    cover = bottom + rod((-12.0, 0.0, -30.0), (-12.0, 0.0, -14.0), 6.0) - sprue
    return [
        ("half", "half", top),
        ("cover", "half", cover.rotate((180.0, 0.0, 0.0)).translate((0.0, 90.0, 0.0))),
    ]


@pytest.mark.slow
@pytest.mark.parametrize("turn_deg", [0.0, 180.0])
def test_the_line_for_a_cover_lays_both_parts_as_it_says(turn_deg: float) -> None:
    parts = covered((-36.0, -21.0), (36.0, -21.0), (-36.0, 21.0), (36.0, 21.0))
    solids = [mesh.solid(body, name) for name, _, body in parts]
    faces = [matching.parting_faces(solid) for solid in solids]
    found = covering.different(covering.ways(*faces), solids[1])
    way = min(found, key=lambda one: abs(covering.angles_deg(one.turn)[2] % 360 - turn_deg))
    line = covering.placed(spec_of(parts), way, 0, 1)
    told = [part["placing"] for part in yaml.safe_load(line)["parts"]]
    for solid, one, (turn, move) in zip(
        solids, told, ((way.first.turn, way.first.move), (way.turn, way.move)), strict=True
    ):
        again = assemble.placing_of(Placing(turn_deg=tuple(one["turn_deg"]), move_mm=tuple(one["move_mm"])))
        assert solid.vertices @ again[0].T + again[1] == pytest.approx(
            solid.vertices @ turn.T + move, abs=5e-3
        )


@pytest.mark.slow
def test_a_cavity_without_a_mouth_is_told_though_a_socket_opens_to_the_outside() -> None:
    closed = ball((0.0, 0.0, 0.0), 10.0)
    socket = ball((27.0, 0.0, 0.0), 5.0) + rod((27.0, 0.0, 16.0), (27.0, 0.0, 4.0), 2.0, 1.2)
    top, bottom = (block() - closed - socket).split_by_plane((0.0, 0.0, 1.0), 0.0)
    with pytest.raises(Faults, match=r"has no mouth to the outside"):
        measured([("lower", "half", bottom), ("upper", "half", top)])


@pytest.mark.slow
def test_an_overflow_as_wide_as_a_sprue_is_asked_for_and_right_with_its_gates() -> None:
    egg = ball((0.0, 0.0, 0.0), 1.0).scale((22.0, 10.0, 9.0))
    sprue = rod((-41.0, 0.0, 0.0), (-24.0, 0.0, 0.0), 5.0, 3.0) + rod(
        (-25.0, 0.0, 0.0), (-18.0, 0.0, 0.0), 1.6
    )
    overflow = rod((0.0, 26.0, 0.0), (0.0, 14.0, 0.0), 3.2) + rod((0.0, 15.0, 0.0), (0.0, 8.0, 0.0), 1.2)
    top, bottom = (block() - egg - sprue - overflow).split_by_plane((0.0, 0.0, 1.0), 0.0)
    parts: Parts = [("lower", "half", bottom), ("upper", "half", top)]
    with pytest.raises(Faults, match=r"hints\.gates: the plastic opens 6\.\d mm wide"):
        measured(parts)
    gates = (((-21.6, 0.0, 0.0), (1.0, 0.0, 0.0)), ((0.0, 9.8, 0.0), (0.0, -1.0, 0.0)))
    assert volumes(measured(parts, Hints(gates_at_mm=gates))) == pytest.approx(
        [egg.volume() / 1000], rel=6e-3
    )


@pytest.mark.slow
def test_a_core_set_into_an_open_mold_is_not_poured() -> None:
    tray = box((-30.0, -20.0, 0.0), (30.0, 20.0, 15.0)) - box((-25.0, -15.0, 3.0), (25.0, 15.0, 16.0))
    core = box((-5.0, -15.0, 3.0), (5.0, 15.0, 9.0))
    found = measured([("tray", "open", tray), ("core", "core", core)], kind="open pour")
    assert volumes(found) == pytest.approx([(50 * 30 * 12 - 10 * 30 * 6) / 1000], rel=2e-3)
    assert [part.name for part in found.parts] == ["tray", "core"]


def test_a_core_that_is_filed_elsewhere_is_asked_for_and_not_left_out() -> None:
    tray = box((-30.0, -20.0, 0.0), (30.0, 20.0, 15.0)) - box((-25.0, -15.0, 3.0), (25.0, 15.0, 16.0))
    core = box((95.0, -15.0, 3.0), (105.0, 15.0, 9.0))
    with pytest.raises(Faults, match=r"parts\[1\]\.placing: core\.stl lies beside the mold"):
        measured([("tray", "open", tray), ("core", "core", core)], kind="open pour")


def test_a_tray_without_a_hollow_is_told_in_words() -> None:
    with pytest.raises(Faults, match=r"no hollow is open at the pouring face"):
        measured([("tray", "open", box((0.0, 0.0, 0.0), (60.0, 40.0, 15.0)))], kind="open pour")


def test_a_line_that_replaces_parts_keeps_the_unit_and_the_place_that_were_told() -> None:
    place = Placing(turn_deg=(0.0, 0.0, 90.0), move_mm=(1.0, 2.0, 3.0), mirror=True)
    parts = [
        PartSpec(file="a.stl", path=Path("a.stl"), role="half", name="a", units="inch"),
        PartSpec(file="b.stl", path=Path("b.stl"), role="bait", name="b", placing=place),
    ]
    told = yaml.safe_load(covering.parts_line(parts))["parts"]
    assert told == [
        {"file": "a.stl", "role": "half", "units": "inch"},
        {
            "file": "b.stl",
            "role": "bait",
            "placing": {"turn_deg": [0.0, 0.0, 90.0], "move_mm": [1.0, 2.0, 3.0], "mirror": True},
        },
    ]
