"""More habits of makers: vents past pins, eyes by loose pins, shells on flanges, hollow undersides."""

from __future__ import annotations

import re

import numpy as np
import pytest
from manifold3d import Manifold

from builder import mesh
from builder.base import figures
from builder.base.problems import Faults
from builder.measure.cavity import classify, void
from builder.measure.cavity.void import Piece
from builder.model import Figure, Hints
from tests.shapes import ball, box, rod, union
from tests.test_strangers import Parts, block, egg, halves, measured, nothing, sprue, volumes


@pytest.mark.parametrize("aside", [0.0, 1.0])
def test_a_vent_that_passes_a_locating_pin_is_no_length_of_the_bait(aside: float) -> None:
    """The vent, 2 mm wide and 0.2 deep, runs from the tail at x = 30 past a pin at x = 35 to the outside."""
    vent = box((29.5, -1.0, 0.0), (41.0, 1.0, 0.2))
    pin, socket = (rod((35.0, aside, -0.5), (35.0, aside, z), r) for z, r in ((4.0, 2.5), (4.3, 2.65)))
    lower, upper = halves(block(), egg() + sprue(), upper=vent + socket, lower=nothing())
    found = measured([(*lower[:2], lower[2] + pin), upper])
    assert found.baits[0].length_mm == pytest.approx(60.0, abs=0.3)
    assert volumes(found) == pytest.approx([egg().volume() / 1000], rel=2e-3)
    assert [vent.length_mm for vent in found.vents] == [pytest.approx(10.0, abs=0.6)]
    assert "reading.well" in [finding.code for finding in found.findings]


def test_an_eye_socket_that_a_loose_pin_forms_is_one_and_a_pin_level_with_the_bait_is_none() -> None:
    """The bait's flank lies at z = 8; the pin of 5 mm, loose by 0.05 mm, ends at 6.5, and beside at 8."""
    bait = box((-30.0, -12.0, -8.0), (30.0, 12.0, 8.0))
    feed = rod((-41.0, 0.0, 0.0), (-29.0, 0.0, 0.0), 4.0, 2.0)

    def part(x: float, z: float) -> tuple[Manifold, Manifold]:
        return rod((x, 0.0, z), (x, 0.0, 18.0), 2.5), rod((x, 0.0, 7.0), (x, 0.0, 16.0), 2.55)

    (eye, round_eye), (level, round_level) = part(15.0, 6.5), part(-10.0, 8.0)
    mold = halves(block(), bait + feed, upper=round_eye + round_level, lower=nothing())
    found = measured([*mold, ("eye", "core", eye), ("level", "core", level)])
    assert len(found.baits[0].sockets) == 1
    socket = found.baits[0].sockets[0]
    assert socket.diameter_mm == pytest.approx(5.0, rel=0.01)
    assert socket.depth_mm == pytest.approx(1.5, abs=0.05)
    gaps = [finding for finding in found.findings if finding.code == "reading.core_gap"]
    assert [(at[2] > 14.0, finding.level) for finding in gaps if (at := finding.at_mm)] == [
        (True, "note")
    ] * 2


def test_a_sprue_in_a_neck_that_stands_on_a_flange_has_one_mouth() -> None:
    """The flange is 4 mm thick; the sprue, 5 mm in radius, rises above it within a neck of 7.5 mm."""
    cone = rod((-45.0, 0.0, 0.0), (-30.0, 0.0, 0.0), 5.0, 3.0)
    feed = cone + rod((-31.0, 0.0, 0.0), (-27.0, 0.0, 0.0), 2.2)
    neck = rod((-45.0, 0.0, 0.0), (-20.0, 0.0, 0.0), 7.5, 6.0)
    shell = (neck + egg().scale((1.08, 1.2, 1.2))) ^ box((-45.0, -25.0, 0.0), (45.0, 25.0, 30.0))
    low, flange = box((-45.0, -25.0, -15.0), (45.0, 25.0, 0.0)), box((-45.0, -25.0, 0.0), (45.0, 25.0, 4.0))
    vent = box((29.5, -2.0, 0.0), (46.0, 2.0, 0.2))
    plastic = egg() + feed
    found = measured([("low", "half", low - plastic), ("shell", "half", shell + flange - plastic - vent)])
    assert [finding.code for finding in found.findings] == []
    assert [vent.depth_mm for vent in found.vents] == [pytest.approx(0.2, abs=0.01)]
    assert volumes(found) == pytest.approx([egg().volume() / 1000], rel=5e-3)


def tray() -> Manifold:
    """Two bars of 60 x 10 x 8 mm in the top, twelve pockets of 12 x 8 x 4 mm in the underside."""
    bars = [box((-30.0, y - 5.0, -8.0), (30.0, y + 5.0, 1.0)) for y in (-9.0, 9.0)]
    pockets = [
        box((x, y, -17.0), (x + 12.0, y + 8.0, -12.0))
        for x in (-34.0, -16.0, 2.0, 20.0)
        for y in (-18.0, -4.0, 10.0)
    ]
    return box((-40.0, -22.0, -16.0), (40.0, 22.0, 0.0)) - union([*bars, *pockets])


def test_a_wrong_count_for_a_tray_with_a_hollow_underside_is_asked_for_the_baits_and_not_the_pockets() -> (
    None
):
    parts: Parts = [("tray", "open", tray())]
    with pytest.raises(Faults, match=r"2 hollows are open at the pouring face, for 3 cavities") as caught:
        measured(parts, kind="open pour", cavities=3)
    asked = str(caught.value)
    assert "write cavities: 2" in asked
    normals = re.findall(r"parting: \{at_mm: \[[^]]*\], normal: \[0\.0, 0\.0, (-?1)\.0\]\}\}\]  # 12 ", asked)
    assert normals == ["-1"]


def test_smaller_hollows_in_the_other_face_are_told_as_they_may_be_poured_too() -> None:
    second = box((-20.0, -4.0, -17.0), (20.0, 4.0, -11.0))
    found = measured([("tray", "open", tray() - second)], kind="open pour", cavities=2)
    (said,) = (one for one in found.findings if one.code == "reading.second_face")
    assert "normal: [0.000, 0.000, -1.000]" in str(said.values["parting"])
    plain = box((-40.0, -22.0, -16.0), (40.0, 22.0, 0.0)) - box((-30.0, -5.0, -8.0), (30.0, 5.0, 1.0))
    only = measured([("tray", "open", plain)], kind="open pour", cavities=1)
    assert "reading.second_face" not in [one.code for one in only.findings]


def test_two_halves_in_one_body_that_lie_open_are_no_open_pour() -> None:
    """Both halves with their sprue, a pin's sockets in one of them, held together by a film as a hinge."""
    feed = rod((-41.0, 0.0, 0.0), (-29.0, 0.0, 0.0), 4.0, 1.8)
    sockets = union(rod((x, 20.0, -4.4), (x, 20.0, 1.0), 2.65) for x in (-30.0, 30.0))
    ((_, _, lower), (_, _, upper)) = halves(block(), egg() + feed, upper=nothing(), lower=sockets)
    book = lower + upper.rotate((180.0, 0.0, 0.0)).translate((0.0, 52.0, 0.0))
    book += box((-40.0, 24.9, -0.6), (40.0, 27.1, 0.0))
    with pytest.raises(Faults, match=r"key kind: a hollow of [\d.]+ ml is open at the side too") as caught:
        measured([("book", "open", book)], kind="open pour", cavities=2)
    assert "cut the file between them" in str(caught.value)


def test_as_many_pockets_as_are_told_are_taken_with_a_warning_that_names_the_face_of_the_baits() -> None:
    found = measured([("tray", "open", tray())], kind="open pour", cavities=12)
    warned = [finding for finding in found.findings if finding.level == "warn"]
    assert [finding.code for finding in warned] == ["reading.other_face"]
    assert warned[0].values["hollows"] == "2"
    assert "normal: [0.000, 0.000, 1.000]" in str(warned[0].values["parting"])


def test_a_hole_through_one_half_that_the_other_shuts_is_no_bolt_however_wide() -> None:
    """Four bolt holes of 4.4 mm through both halves; two of the same width through the upper one alone."""
    through = union(rod((x, y, -30.0), (x, y, 30.0), 2.2) for x in (-35.0, 35.0) for y in (-20.0, 20.0))
    alone = rod((0.0, 20.0, 0.0), (0.0, 20.0, 30.0), 2.2) + rod((0.0, -20.0, 0.0), (0.0, -20.0, 30.0), 2.2)
    found = measured(halves(block(), egg() + sprue() + through, upper=alone, lower=nothing()))
    places = [(abs(bolt.at_mm[0]), abs(bolt.at_mm[1])) for bolt in found.bolts]
    assert places == [pytest.approx((35.0, 20.0))] * 4


@pytest.mark.parametrize(
    ("told", "bolts", "code"),
    [
        (None, 6, []),
        (4, 4, ["reading.chosen_bolts"]),
        (2, 2, ["reading.chosen_bolts"]),
        (0, 0, ["reading.chosen_bolts"]),
        (3, 6, ["reading.told_bolts"]),
        (9, 6, ["reading.told_bolts"]),
    ],
)
def test_a_maker_who_tells_how_many_bolts_there_are_is_believed_where_so_many_are_alike(
    told: int | None, bolts: int, code: list[str]
) -> None:
    """Four holes of 4.4 mm and two of 7 mm go through both halves; a pin of 5 mm and one of 3 mm stand."""
    holes = [rod((x, y, -30.0), (x, y, 30.0), 2.2) for x in (-35.0, 35.0) for y in (-20.0, 20.0)]
    wide = [rod((0.0, y, -30.0), (0.0, y, 30.0), 3.5) for y in (-19.0, 19.0)]
    found = measured(
        halves(block(), egg() + sprue() + union([*holes, *wide]), upper=nothing(), lower=nothing()),
        Hints(bolts=told),
    )
    assert len(found.bolts) == bolts
    assert [finding.code for finding in found.findings] == code
    assert all(bolt.diameter_mm < 5.0 for bolt in found.bolts) or told != 4


def test_a_maker_who_tells_one_pin_gets_the_pin_and_not_the_two_letters_beside_it() -> None:
    """A pin of 5 mm with its socket; two studs of 2 mm that stand in holes like letters' islands."""
    pin, socket = (rod((30.0, 18.0, -0.5), (30.0, 18.0, z), r) for z, r in ((4.0, 2.5), (4.3, 2.7)))
    studs, around = (
        union(rod((x, -18.0, -0.5), (x, -18.0, z), r) for x in (-10.0, 10.0))
        for z, r in ((1.0, 1.0), (1.2, 1.3))
    )
    lower, upper = halves(block(), egg() + sprue(), upper=socket + around, lower=nothing())
    parts = [(*lower[:2], lower[2] + pin + studs), upper]
    assert len(measured(parts).pins) == 3
    found = measured(parts, Hints(pins=1))
    assert [pin.diameter_mm for pin in found.pins] == [pytest.approx(5.0, rel=0.01)]
    assert [finding.code for finding in found.findings] == ["reading.chosen_pins"]


def test_a_told_gate_whose_plane_cuts_through_a_bulging_belly_is_taken_before_it() -> None:
    """The egg is fed aside of its deepest place; there its belly reaches 1.9 mm past the told plane."""
    feed = rod((16.0, -26.0, 0.0), (16.0, -17.0, 0.0), 4.0, 1.5)
    gate = rod((16.0, -18.0, 0.0), (16.0, -9.0, 0.0), 1.5)
    told = Hints(gates_at_mm=(((-16.0, 12.1, 0.0), (0.0, -1.0, 0.0)),))  # read half a turn about z
    found = measured(halves(block(), egg() + feed + gate, upper=nothing(), lower=nothing()), told)
    assert found.baits[0].height_mm == pytest.approx(_egg_height(), abs=0.02)
    assert volumes(found) == pytest.approx([egg().volume() / 1000], rel=2e-3)
    (moved,) = [one for one in found.findings if one.code == "reading.gate_moved"]
    value = moved.values["moved"]
    assert isinstance(value, Figure)
    assert 0.1 < value.value < 0.8


def test_a_vent_round_a_blade_ends_where_the_bait_begins() -> None:
    """A blade from the belly, 1.8 mm thick and loose by 0.1 mm all round, beside the bait's deepest place."""
    blade, loose = (box((-gap, -40.0, -0.9 - gap), (24.0 + gap, -3.0 + gap, 0.9 + gap)) for gap in (0.0, 0.1))
    parts = halves(block(), egg() + sprue(), upper=loose, lower=loose)
    found = measured([*parts, ("blade", "blade", blade)])
    assert found.baits[0].height_mm == pytest.approx(_egg_height(), abs=0.05)
    assert [vent.length_mm for vent in found.vents] == [pytest.approx(25.0 - 14.0, abs=0.1)]


def _egg_height() -> float:
    low, high = np.array(egg().bounding_box()).reshape(2, 3)
    return float((high - low)[1])


def test_a_vent_beside_a_tubes_skirt_ends_at_its_wall_and_holds_no_bait() -> None:
    """A tube, up to 15.2 mm round a core of 10 mm; the core's seat is loose by 0.1 mm.

    Its wall comes into the vents, 1.8 mm by 0.2 mm, at one side first.
    """
    flank = Manifold.sphere(1.0, 256).scale((70.0, 7.6, 7.6)) ^ box((-24.0, -9.0, -9.0), (30.0, 9.0, 9.0))
    tube = flank + Manifold.sphere(7.14, 96).translate((-24.0, 0.0, 0.0))
    core = rod((-12.0, 0.0, 0.0), (45.0, 0.0, 0.0), 5.0)
    seat = rod((29.9, 0.0, 0.0), (45.0, 0.0, 0.0), 5.1)
    feed = rod((-41.0, 0.0, 0.0), (-30.0, 0.0, 0.0), 4.0, 2.0) + rod(
        (-31.0, 0.0, 0.0), (-24.0, 0.0, 0.0), 2.0
    )
    vents = box((28.0, 5.5, 0.0), (29.8, 26.0, 0.2)) + box((28.0, -26.0, 0.0), (29.8, -5.5, 0.2))
    parts = halves(block(), tube + feed + seat, upper=vents, lower=nothing())
    found = measured([*parts, ("core", "core", core)])
    assert volumes(found) == pytest.approx([(tube - core).volume() / 1000], rel=5e-3)
    assert sorted(round(vent.length_mm, 1) for vent in found.vents) == [10.0, 18.0, 18.0]
    assert max(vent.volume_ml for vent in found.vents) < 0.06
    assert found.baits[0].height_mm == pytest.approx(15.2, abs=0.05)


def test_a_lid_with_one_hollow_on_both_its_sides_parts_nothing_and_one_between_two_does() -> None:
    """A body seen straight through its sprue has a face in its end; ribbons that go on there are no mouths.

    A slit of 0.02 mm in a quarter of a bar of 10 mm by 10 mm, and one that cuts the bar in two.
    """

    def slit(y: float) -> tuple[list[Piece], Manifold]:
        lid = box((-0.01, -5.0, -5.0), (0.01, y, y)).as_original()
        bar = box((-20.0, -5.0, -5.0), (20.0, 5.0, 5.0)) - lid
        return [void.piece(part, {lid.original_id(): "outside"}) for part in bar.decompose()], lid

    pieces, lid = slit(0.0)
    assert len(pieces) == 1
    assert void.lies_within(pieces, lid)
    assert not void.lies_within(pieces, lid.translate((3.0, 0.0, 0.0)))
    pieces, lid = slit(5.0)
    assert len(pieces) == 2
    assert not void.lies_within(pieces, lid)


@pytest.mark.parametrize(("radius", "told"), [(5.0, ["reading.large_vent"]), (2.0, [])])
def test_a_well_that_holds_much_beside_the_bait_is_told_with_a_warning(
    radius: float, told: list[str]
) -> None:
    """The vent of a ball of 20 mm runs through a well, a ball of 10 mm (an eighth of it) or of 4 mm."""
    bait, well = ball((-12.0, 0.0, 0.0), 10.0), ball((15.0, 0.0, 0.0), radius)
    feed = rod((-41.0, 0.0, 0.0), (-25.0, 0.0, 0.0), 4.0, 1.5) + rod(
        (-26.0, 0.0, 0.0), (-20.0, 0.0, 0.0), 1.5
    )
    vent = box((-4.0, -1.2, 0.0), (41.0, 1.2, 0.2))
    found = measured(halves(block(), bait + feed + well, upper=vent, lower=nothing()))
    assert volumes(found) == pytest.approx([bait.volume() / 1000], rel=5e-3)
    warned = [one for one in found.findings if one.level == "warn"]
    assert [one.code for one in warned] == told
    for one in warned:
        held = one.values["volume"]
        assert isinstance(held, Figure)
        assert held.value == pytest.approx(well.volume() / 1000, rel=0.05)


def test_a_moat_round_the_bait_that_leads_to_vents_is_no_size_of_it_and_no_blind_groove() -> None:
    """Spurs, 1 mm by 0.1 mm, lead into a moat, 1.5 mm by 0.15 mm, and two outlets to the outside."""
    moat = box((-33.0, -17.0, 0.0), (33.0, 17.0, 0.15)) - box((-31.5, -15.5, -1.0), (31.5, 15.5, 1.0))
    spurs = union(box((x - 0.5, -16.0, 0.0), (x + 0.5, 16.0, 0.1)) for x in (-15.0, 0.0, 15.0))
    outlets = union(box((8.0, y, 0.0), (11.0, y + 10.0, 0.15)) for y in (16.0, -26.0))
    egg = Manifold.sphere(1.0, 256).scale((30.0, 14.0, 11.0))
    found = measured(halves(block(), egg + sprue(), upper=moat + spurs + outlets, lower=nothing()))
    (bait,) = found.baits
    assert [bait.length_mm, bait.height_mm] == pytest.approx([60.0, 28.0], abs=0.1)
    told = figures.measured(found)["bait.0.volume"]
    assert told.low < egg.volume() / 1000 < told.high < 1.006 * told.value
    assert [vent.volume_ml < 0.01 for vent in found.vents] == [True, True]
    assert "reading.blind_groove" not in [finding.code for finding in found.findings]


@pytest.mark.parametrize("told", [None, Hints(sprue_at_mm=(-60.0, 0.0, 0.0))])
def test_the_air_beside_a_half_with_a_round_end_is_never_taken_for_sprue_or_vent(told: Hints | None) -> None:
    """The upper half, 40 mm wide, ends round at x = 60, over the lower one's ledge, where the vent leaves."""
    bait = Manifold.sphere(1.0, 96).scale((40.0, 5.5, 5.5))
    feed = rod((-61.0, 0.0, 0.0), (-48.0, 0.0, 0.0), 5.2, 2.2) + rod(
        (-49.0, 0.0, 0.0), (-37.0, 0.0, 0.0), 2.2
    )
    lower = box((-60.0, -22.0, -15.0), (60.0, 22.0, 0.0)) - bait - feed
    end = Manifold.cylinder(15.0, 20.0, 20.0, 96).translate((40.0, 0.0, 0.0))
    upper = box((-60.0, -20.0, 0.0), (40.0, 20.0, 15.0)) + end
    upper -= union([bait, feed, box((39.5, -1.5, 0.0), (65.0, 1.5, 0.2))])
    try:
        found = measured([("lower", "half", lower), ("upper", "half", upper)], told)
    except Faults as faults:
        assert {problem.where.key for problem in faults.problems} <= {"hints.sprue_at_mm", "hints.gates"}
    else:
        assert volumes(found) == pytest.approx([bait.volume() / 1000], rel=6e-3)


def test_the_knuckles_of_a_hinge_beside_the_mold_are_no_locating_pins() -> None:
    """Each half bears every other knuckle, 12 mm across, along one side; a pin of 5 mm in its socket."""
    lower, upper = box((-40.0, -20.0, -14.0), (40.0, 20.0, 0.0)), box((-40.0, -20.0, 0.0), (40.0, 20.0, 14.0))
    lower += rod((0.0, 0.0, -1.0), (0.0, 0.0, 5.0), 2.5)
    upper -= rod((0.0, 0.0, -1.0), (0.0, 0.0, 5.2), 2.65)
    for k, x in enumerate((-38.0, -18.0, 2.0, 22.0)):
        knuckle = rod((x, 26.0, 0.0), (x + 15.6, 26.0, 0.0), 6.0) + box(
            (x, 19.0, -6.0), (x + 15.6, 26.0, 6.0)
        )
        room = box((x - 0.2, 19.7, -6.3), (x + 15.8, 33.0, 6.3))
        lower, upper = (lower + knuckle, upper - room) if k % 2 else (lower - room, upper + knuckle)
    found = classify.pins(mesh.solid(lower, "lower"), mesh.solid(upper, "upper"))
    assert [pin.diameter_mm for pin in found] == pytest.approx([5.0], abs=0.03)


@pytest.mark.parametrize(("deep", "wide"), [(0.06, 0.8), (0.05, 0.5)])
def test_a_knifes_scratch_from_the_tail_to_the_outside_is_a_vent_and_no_thin_wall(
    deep: float, wide: float
) -> None:
    scratch = box((28.0, -wide / 2, 0.0), (41.0, wide / 2, deep))
    found = measured(halves(block(), egg() + sprue(), upper=scratch, lower=nothing()))
    (vent,) = found.vents
    assert [vent.depth_mm, vent.width_mm, vent.length_mm] == pytest.approx([deep, wide, 10.0], rel=0.02)
    assert [path.vented for path in found.baits[0].paths if path.stations[-1].at_mm[0] > 25.0] == [True]
    assert min(wall.thickness_mm for wall in found.walls) > 3.0
