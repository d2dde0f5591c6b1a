"""What molds drawn by strangers taught the reading, each situation built in code."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import replace
from itertools import zip_longest
from pathlib import Path

import pytest
from manifold3d import Manifold

from builder import mesh
from builder.base.problems import Faults
from builder.measure.cavity import lids
from builder.model import Hints, Kind, Measurement, MoldSpec, PartSpec, Placing, Role, Vec3
from builder.spec import material_tables
from tests import readings
from tests.shapes import ball, box, rod, union
from tests.shapes_files import binary_stl, triangles

Parts = list[tuple[str, Role, Manifold]]


def spec_of(
    parts: Parts,
    hints: Hints | None = None,
    kind: Kind = "injection",
    placings: Sequence[Placing | None] = (),
    cavities: int = 1,
) -> MoldSpec:
    return MoldSpec(
        slug="strange",
        folder=Path("strange"),
        title="Strange",
        kind=kind,
        parts=tuple(
            PartSpec(file=f"{name}.stl", path=Path(f"{name}.stl"), role=role, name=name, placing=placing)
            for (name, role, _), placing in zip_longest(parts, placings)
        ),
        cavities=cavities,
        plastisol="medium",
        mold_material="pla",
        units="mm",
        hints=hints or Hints(),
    )


def measured(
    parts: Parts,
    hints: Hints | None = None,
    kind: Kind = "injection",
    placings: Sequence[Placing | None] = (),
    cavities: int = 1,
) -> Measurement:
    spec = spec_of(parts, hints, kind, placings, cavities)
    return readings.measured(spec, [binary_stl(triangles(solid)) for _, _, solid in parts])


def halves(block: Manifold, plastic: Manifold, *, upper: Manifold, lower: Manifold) -> Parts:
    """The block without the plastic, cut at z = 0; `upper` and `lower` are taken away from one half each."""
    top, bottom = (block - plastic).split_by_plane((0.0, 0.0, 1.0), 0.0)
    return [("lower", "half", bottom - lower), ("upper", "half", top - upper)]


def volumes(found: Measurement) -> list[float]:
    return [bait.volume_ml for bait in found.baits]


def nothing() -> Manifold:
    return Manifold()


def egg() -> Manifold:
    return ball((0.0, 0.0, 0.0), 1.0).scale((30.0, 14.0, 11.0))


def sprue() -> Manifold:
    return rod((0.0, 0.0, 15.0), (0.0, 0.0, 8.0), 3.7, 2.8)


def block() -> Manifold:
    return box((-40.0, -25.0, -15.0), (40.0, 25.0, 15.0))


def test_keys_and_sockets_of_one_size_are_not_laid_key_on_key() -> None:
    keys = {(x, y): ball((x, y, 0.0), 4.0) for x in (-33.0, 33.0) for y in (-18.0, 18.0)}
    first = union(key for (_, y), key in keys.items() if y < 0)
    second = union(key for (_, y), key in keys.items() if y > 0)
    lower, upper = (part[2] for part in halves(block(), egg() + sprue(), upper=nothing(), lower=nothing()))
    lower, upper = lower - second + first, upper - first + second
    as_printed = upper.rotate((180.0, 0.0, 0.0)).translate((0.0, 90.0, 0.0))
    found = measured([("lower", "half", lower), ("upper", "half", as_printed)])
    assert volumes(found) == pytest.approx([egg().volume() / 1000], rel=5e-3)
    assert len(found.pins) == 4


def test_a_gate_is_cut_across_a_short_wide_sprue_and_not_across_its_rim() -> None:
    aside = sprue().translate((14.0, 0.0, 0.0))
    found = measured(halves(block(), egg() + aside, upper=nothing(), lower=nothing()))
    assert found.sprue
    assert found.sprue.volume_ml > 0.1
    assert min(found.baits[0].height_mm, found.baits[0].width_mm) == pytest.approx(22.0, rel=0.02)


def told(faults: Faults, pattern: str) -> Vec3:
    """The last place that a question names after the pattern, as a maker would copy it."""
    x, y, z = re.findall(pattern + r"\[([^\]]*)\]", str(faults))[-1].split(", ")
    return (float(x), float(y), float(z))


@pytest.mark.slow
def test_a_bait_poured_into_its_open_end_is_right_with_the_hints_that_are_named() -> None:
    cone = rod((-40.0, 0.0, 0.0), (-20.0, 0.0, 0.0), 13.0, 6.0)
    parts = halves(block(), cone, upper=nothing(), lower=nothing())
    with pytest.raises(Faults, match=r"hints\.sprue_at_mm: .*(opens so wide|too wide for a sprue)") as caught:
        measured(parts)
    sprue = Hints(sprue_at_mm=told(caught.value, "sprue_at_mm: "))
    with pytest.raises(Faults, match=r"where runner and bait meet") as caught:
        measured(parts, sprue)
    gate = told(caught.value, "at_mm: "), told(caught.value, "normal: ")
    found = measured(parts, replace(sprue, gates_at_mm=(gate,)))
    assert volumes(found) == pytest.approx([cone.volume() / 1000], rel=5e-3)
    assert min(wall.thickness_mm for wall in found.walls) == pytest.approx(2.0, abs=0.1)


@pytest.mark.slow
def test_a_core_that_sticks_out_of_the_mold_leaves_the_hollows_closed() -> None:
    tube = rod((-28.0, 0.0, 0.0), (28.0, 0.0, 0.0), 11.0)
    pin = rod((-55.0, 0.0, 0.0), (55.0, 0.0, 0.0), 4.0) + rod((-55.0, 0.0, 0.0), (-50.0, 0.0, 0.0), 7.5)
    tunnel = rod((-60.0, 0.0, 0.0), (60.0, 0.0, 0.0), 4.1)
    sprue = rod((0.0, 0.0, 16.0), (0.0, 0.0, 8.0), 3.5, 2.0)
    parts = halves(block(), tube + sprue, upper=tunnel, lower=tunnel)
    found = measured([*parts, ("pin", "core", pin)])
    assert volumes(found) == pytest.approx([(tube - pin).volume() / 1000], rel=5e-3)


def test_halves_with_thin_walls_close_on_their_narrow_faces() -> None:
    tube = rod((-40.0, 0.0, 0.0), (36.0, 0.0, 0.0), 22.0)
    shell = rod((-40.0, 0.0, 0.0), (40.0, 0.0, 0.0), 25.0)
    with pytest.raises(Faults, match=rf"sprue_at_mm: .*{tube.volume() / 1000:.2f} ml|44 mm wide"):
        measured(halves(shell, tube, upper=nothing(), lower=nothing()))


def test_a_groove_in_the_floor_of_a_poured_tray_belongs_to_the_cavity() -> None:
    tray = box((-35.0, -20.0, -10.0), (35.0, 20.0, 1.0))
    groove = box((-25.0, -2.0, -13.0), (25.0, 2.0, -9.0))
    mold = box((-40.0, -25.0, -16.0), (40.0, 25.0, 0.0)) - tray - groove
    found = measured([("tray", "open", mold)], kind="open pour")
    assert volumes(found) == pytest.approx([(70 * 40 * 10 + 50 * 4 * 3) / 1000], rel=1e-3)


def test_a_tray_with_thin_walls_round_a_ring_is_poured_into_the_ring() -> None:
    ring = rod((0.0, 0.0, 2.0), (0.0, 0.0, 13.0), 40.0) - rod((0.0, 0.0, 1.0), (0.0, 0.0, 14.0), 34.0)
    walls = rod((0.0, 0.0, 0.0), (0.0, 0.0, 12.0), 42.0) - rod((0.0, 0.0, -1.0), (0.0, 0.0, 13.0), 32.0)
    found = measured([("ring", "open", walls - ring)], kind="open pour")
    assert volumes(found) == pytest.approx([(ring ^ walls).volume() / 1000], rel=2e-3)


def test_a_vent_that_looks_along_the_bait_at_its_sprue_is_no_bolt_hole() -> None:
    stick = rod((-25.0, 0.0, 0.0), (25.0, 0.0, 0.0), 8.0)
    sprue = rod((-40.0, 0.0, 0.0), (-24.0, 0.0, 0.0), 4.0, 3.0)
    vent = rod((24.0, 0.0, 0.0), (40.0, 0.0, 0.0), 0.6)
    found = measured(halves(block(), stick + sprue + vent, upper=nothing(), lower=nothing()))
    assert volumes(found) == pytest.approx([stick.volume() / 1000], rel=5e-3)
    assert (len(found.bolts), len(found.vents)) == (0, 1)


def test_rounded_parting_edges_leave_the_vents_mouths_at_the_parting_line() -> None:
    edges = [box((s * 40.0 - 2, -26.0, -1.5), (s * 40.0 + 2, 26.0, 1.5)) for s in (-1.0, 1.0)]
    edges += [box((-41.0, s * 25.0 - 2, -1.5), (41.0, s * 25.0 + 2, 1.5)) for s in (-1.0, 1.0)]
    vents = [box((-40.0, -0.4, -0.5), (-20.0, 0.4, 0.0)), box((20.0, -0.4, -0.5), (40.0, 0.4, 0.0))]
    parts = halves(block() - union(edges), egg() + sprue() + union(vents), upper=nothing(), lower=nothing())
    found = measured(parts)
    assert volumes(found) == pytest.approx([egg().volume() / 1000], rel=5e-3)
    assert len(found.vents) == 2


def test_a_sprue_that_stops_short_is_named_behind_rounded_parting_edges() -> None:
    edge = union(
        ball((0.0, 0.0, 0.0), 1.0).scale((8.0, 8.0, 8.0)).translate((x, y, z))
        for x in (-32.0, 32.0)
        for y in (-20.0, 20.0)
        for z in (-8.0, 8.0)
    ).hull()
    lower, upper = edge.translate((0.0, 0.0, -16.0)), edge.translate((0.0, 0.0, 16.0))
    short = rod((0.0, 0.0, 33.0), (0.0, 0.0, 11.05), 4.0)
    vents = union([box((-40.0, -0.4, -0.5), (-20.0, 0.4, 0.0)), box((20.0, -0.4, -0.5), (40.0, 0.4, 0.0))])
    plastic = egg() + short + vents
    with pytest.raises(Faults, match=r"as narrow as vents, 0\.\d mm; .* ends 0\.0\d+ mm before it"):
        measured([("lower", "half", lower - plastic), ("upper", "half", upper - plastic)])


def test_a_sprue_that_stops_short_of_its_cavity_is_named() -> None:
    short = rod((0.0, 0.0, 16.0), (0.0, 0.0, 11.05), 4.0)
    vent = box((20.0, -0.4, -0.5), (41.0, 0.4, 0.0))
    with pytest.raises(Faults, match=r"ends 0\.0\d+ mm before it"):
        measured(halves(block(), egg() + short + vent, upper=nothing(), lower=nothing()))


def test_two_parts_in_one_file_are_not_read_as_one_bait() -> None:
    both = box((0.0, 0.0, 0.0), (60.0, 30.0, 10.0)) + box((0.0, 40.0, 0.0), (60.0, 70.0, 10.0))
    with pytest.raises(Faults, match=r"both\.stl holds 2 separate bodies"):
        measured([("both", "bait", both)])


def test_a_sprue_through_a_round_outside_has_one_mouth() -> None:
    drum = rod((-40.0, 0.0, 0.0), (40.0, 0.0, 0.0), 25.0)
    sprue = rod((0.0, 0.0, 26.0), (0.0, 0.0, 8.0), 3.5, 2.0)
    found = measured(halves(drum, egg() + sprue, upper=nothing(), lower=nothing()))
    assert found.sprue
    assert found.sprue.mouth_diameter_mm == pytest.approx(2 * 3.5 * math.sqrt(0.97), rel=0.05)
    assert volumes(found) == pytest.approx([egg().volume() / 1000], rel=5e-3)


def test_every_public_mold_of_the_method_page_was_read_right_or_refused() -> None:
    for mold in material_tables.load().public_molds:
        if mold.outcome == "refused":
            assert mold.volume_ml is None, mold.kind
        else:
            assert mold.volume_ml == pytest.approx(mold.expected_ml, rel=5e-3), mold.kind


def test_a_cone_before_a_runner_in_one_half_only_is_sprue() -> None:
    """The cone's end is half closed there: that small face sees the open through the sprue's mouth."""
    runner = rod((-35.0, 0.0, 0.0), (-27.0, 0.0, 0.0), 3.0).trim_by_plane((0.0, 0.0, -1.0), 0.0)
    feed = rod((-41.0, 0.0, 0.0), (-34.0, 0.0, 0.0), 5.3, 3.0) + runner
    found = measured(halves(block(), egg() + feed, upper=nothing(), lower=nothing()))
    assert volumes(found) == pytest.approx([egg().volume() / 1000], rel=6e-3)
    assert found.sprue
    assert found.sprue.mouth_diameter_mm == pytest.approx(9.94, rel=0.01)
    told_ml = found.sprue.volume_ml + (found.runner.volume_ml if found.runner else 0.0)
    assert told_ml == pytest.approx(
        (feed ^ block() - egg()).volume() / 1000, rel=0.04
    )  # the egg's tip lies in the runner


def test_halves_with_ears_that_are_laid_for_printing_are_not_closed_back_to_back() -> None:
    """Ears leave both faces of a half notched alike, and flat backs match better than faces with cavities."""
    at = [(x, y) for x in (-30.0, 30.0) for y in (-31.0, 31.0)]
    ears, bolts = (union(rod((x, y, -15.0), (x, y, 15.0), r) for x, y in at) for r in (8.0, 2.1))
    feed = rod((-41.0, 0.0, 0.0), (-21.0, 0.0, 0.0), 4.0, 1.8)
    bait = ball((0.0, 0.0, 0.0), 1.0).scale((22.0, 10.0, 9.0))
    vent = box((21.0, -3.0, -0.2), (41.0, 3.0, 0.1))
    parts = halves(block() + ears, bait + feed + bolts, upper=nothing(), lower=vent)
    (lower, upper) = (body for _, _, body in parts)
    beside = upper.rotate((180.0, 0.0, 0.0)).translate((0.0, 90.0, 0.0))
    found = measured([("lower", "half", lower), ("upper", "half", beside)])
    assert volumes(found) == pytest.approx([bait.volume() / 1000], rel=4e-3)
    assert len(found.bolts) == 4


def test_a_guide_rod_that_lies_in_the_parting_is_no_bolt() -> None:
    feed = rod((-41.0, 0.0, 0.0), (-29.0, 0.0, 0.0), 4.0, 1.8)
    guides = union(rod((-41.0, y, 0.0), (41.0, y, 0.0), 3.0) for y in (-19.0, 19.0))
    found = measured(halves(block(), egg() + feed + guides, upper=nothing(), lower=nothing()))
    assert found.bolts == ()
    assert volumes(found) == pytest.approx([egg().volume() / 1000], rel=4e-3)


def printed_beside(lower: Manifold, upper: Manifold) -> Parts:
    """Both halves as laid for printing."""
    beside = upper.rotate((180.0, 0.0, 0.0)).translate((0.0, 90.0, 0.0))
    return [("lower", "half", lower), ("upper", "half", beside)]


@pytest.mark.parametrize(("scale", "said"), [(1.03, "3.0% larger"), (0.98, "2.0% smaller")])
def test_a_half_that_was_scaled_is_refused_with_how_much(scale: float, said: str) -> None:
    feed = rod((-41.0, 0.0, 0.0), (-29.0, 0.0, 0.0), 4.0, 1.8)
    lower, upper = (body for _, _, body in halves(block(), egg() + feed, upper=nothing(), lower=nothing()))
    with pytest.raises(Faults, match=f"parts\\[1\\].file: upper.stl is {said} than lower.stl"):
        measured(printed_beside(lower, upper.scale((scale, scale, scale))))


@pytest.mark.parametrize(("unit", "mm", "ratio"), [("cm", 10.0, "10"), ("inch", 25.4, "25.4")])
@pytest.mark.parametrize("which", ["lower", "upper"])
def test_a_half_that_was_exported_in_another_unit_is_refused_with_the_line_that_reads_it(
    unit: str, mm: float, ratio: str, which: str
) -> None:
    feed = rod((-41.0, 0.0, 0.0), (-29.0, 0.0, 0.0), 4.0, 1.8)
    lower, upper = (body for _, _, body in halves(block(), egg() + feed, upper=nothing(), lower=nothing()))
    parts = [
        (name, role, body.scale((1 / mm, 1 / mm, 1 / mm)) if name == which else body)
        for name, role, body in printed_beside(lower, upper)
    ]
    said = f"upper.stl is {ratio} times {'smaller' if which == 'upper' else 'larger'} than lower.stl"
    with pytest.raises(Faults, match=f"parts\\[1\\].units: {said}") as caught:
        measured(parts)
    assert f"{{file: {which}.stl, role: half, units: {unit}}}" in str(caught.value)


def test_the_same_half_filed_twice_is_refused_where_it_fits_only_its_mirror_image() -> None:
    """A fin at one side of the bait, pins in the same half: no turn lays it on itself."""
    feed = rod((-41.0, 0.0, 0.0), (-29.0, 0.0, 0.0), 4.0, 1.8)
    bait = egg() + box((2.0, 0.0, -2.0), (12.0, 18.0, 2.0))
    lower = halves(block(), bait + feed, upper=nothing(), lower=nothing())[0][2]
    with pytest.raises(Faults, match=r"lower\.stl and upper\.stl hold the same half"):
        measured([("lower", "half", lower), ("upper", "half", lower.translate((0.0, 90.0, 0.0)))])


def test_halves_that_only_touch_along_an_edge_have_no_parting_line_to_close() -> None:
    lower = mesh.solid(box((-40.0, -25.0, -15.0), (40.0, 25.0, 0.0)), "lower")
    upper = mesh.solid(box((40.0, -25.0, 0.0), (120.0, 25.0, 15.0)), "upper")
    outer = mesh.hull([mesh.body(lower), mesh.body(upper)])
    assert lids.rim_lids(lower, upper, outer) == []
    assert lids.rim_lids(lower, upper, outer, all_round=False) == []
