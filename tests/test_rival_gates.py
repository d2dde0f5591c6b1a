"""Which narrow place is the gate: where two would do it is asked, and what is offered works."""

from __future__ import annotations

import math
import re
from itertools import combinations, pairwise

import pytest
import yaml
from manifold3d import CrossSection, Manifold

from builder import measure, mesh
from builder.base.problems import Faults
from builder.model import Hints, Measurement
from tests.shapes import ball, box, loft, rod, union
from tests.shapes_files import binary_stl, triangles
from tests.test_strangers import Parts, halves, measured, nothing, spec_of

BLOCK = box((-62.0, -24.0, -14.0), (62.0, 24.0, 14.0))


def fish(fin_mm: float) -> Manifold:
    """A body with a trunk of 4 x 2.2 before its flat tail fin, 16 mm long and 2.6 thick, `fin_mm` high."""
    body = loft([(-44.0, 1.5, 1.5, 0.0), (-24.0, 7.5, 6.5, 0.0), (8.0, 4.5, 4.5, 0.0), (28.0, 2.0, 1.2, 0.0)])
    fin = box((27.5, -2.0, -1.1), (32.0, 2.0, 1.1)) + box((30.0, -fin_mm / 2, -1.3), (46.0, fin_mm / 2, 1.3))
    return body + fin


def shot_through_its_tail(fin_mm: float, hints: Hints | None = None) -> Measurement:
    """The gate is a slot of 4 x 2.4 at the fin, hardly larger than the trunk behind the fin."""
    feed = box((45.0, -2.0, -1.2), (54.0, 2.0, 1.2)) + rod((53.0, 0.0, 0.0), (63.0, 0.0, 0.0), 2.6, 5.0)
    plastic = fish(fin_mm) + (feed - fish(fin_mm) ^ BLOCK)
    return measured(halves(BLOCK, plastic, upper=nothing(), lower=nothing()), hints)


def first_offered(asked: Faults) -> Hints:
    """The first hint of a question as mold.yaml takes it."""
    line = str(asked).split("hints: ")[1].split("\n")[0]
    gates = yaml.safe_load(line.split("#")[0])["gates"]
    return Hints(gates_at_mm=tuple((tuple(gate["at_mm"]), tuple(gate["normal"])) for gate in gates))


@pytest.mark.slow
def test_a_tail_fin_between_a_trunk_and_a_gate_as_narrow_is_asked_for_and_is_no_sprue() -> None:
    with pytest.raises(Faults, match=r"hints\.gates: it is unclear where runner and bait meet") as asked:
        shot_through_its_tail(20.0)
    held = re.findall(r"baits of ([\d.]+) ml, sprue", str(asked.value))
    assert min(abs(float(a) / float(b) - 1) for a, b in combinations(held, 2)) > 5e-3  # doubles are one
    told = shot_through_its_tail(20.0, first_offered(asked.value))
    assert told.baits[0].volume_ml == pytest.approx(fish(20.0).volume() / 1000, rel=5e-3)


def fed_by_a_ball(hints: Hints | None = None) -> Measurement:
    """A ball of 14 mm that feeds the bait while it shrinks, between a bore of 4 mm and the gate of 3.2."""
    bait = loft([(-18.0, 1.6, 1.6, 0.0), (0.0, 7.5, 6.5, 0.0), (44.0, 2.0, 2.0, 0.0)])
    feed = rod((-63.0, 0.0, 0.0), (-50.0, 0.0, 0.0), 5.0, 2.2) + rod(
        (-51.0, 0.0, 0.0), (-36.0, 0.0, 0.0), 2.0
    )
    feed += ball((-32.0, 0.0, 0.0), 7.0) + rod((-32.0, 0.0, 0.0), (-17.0, 0.0, 0.0), 1.6)
    plastic = bait + (feed - bait ^ BLOCK)
    return measured(halves(BLOCK, plastic, upper=nothing(), lower=nothing()), hints)


def test_a_feeding_ball_before_a_narrower_gate_is_asked_for_and_the_first_answer_is_right() -> None:
    with pytest.raises(Faults, match=r"hints\.gates: it is unclear where runner and bait meet") as asked:
        fed_by_a_ball()
    told = fed_by_a_ball(first_offered(asked.value))
    bait = loft([(-18.0, 1.6, 1.6, 0.0), (0.0, 7.5, 6.5, 0.0), (44.0, 2.0, 2.0, 0.0)])
    assert told.baits[0].volume_ml == pytest.approx(bait.volume() / 1000, rel=6e-3)


def test_a_bait_that_is_poured_into_its_wide_open_end_is_offered_whole_before_its_waist() -> None:
    """A mouth of 23 mm, a waist of 19 and a belly of 21.6: no sprue is so wide."""
    block = box((-62.0, -24.0, -24.0), (62.0, 24.0, 24.0))
    whole = loft(
        [(-63.0, 11.5, 11.5, 0.0), (-10.0, 9.5, 9.5, 0.0), (20.0, 10.8, 10.8, 0.0), (40.0, 6.0, 6.0, 0.0)]
    )
    parts = halves(
        block, whole ^ box((-62.5, -24.0, -24.0), (62.0, 24.0, 24.0)), upper=nothing(), lower=nothing()
    )
    with pytest.raises(Faults, match=r"hints\.gates: it is unclear where runner and bait meet") as asked:
        measured(parts)
    told = measured(parts, first_offered(asked.value))
    assert told.baits[0].volume_ml == pytest.approx((whole ^ block).volume() / 1000, rel=6e-3)


LARGE = ball((0.0, 0.0, 0.0), 1.0).scale((26.0, 8.0, 8.0)).translate((0.0, -8.0, 0.0))
SMALL = [ball((x, 18.0, 0.0), 2.4) for x in (-30.0, 0.0, 30.0)]


def large_and_small() -> Parts:
    """A bait of 7.0 mL and three of 0.06 mL on one runner."""
    baits = union([LARGE, *SMALL])
    gates = [box((x - 0.8, 9.0, -0.6), (x + 0.8, 16.5, 0.6)) for x in (-30.0, 0.0, 30.0)]
    runner = box((-46.0, 7.0, -2.5), (34.0, 12.0, 2.5))
    feed = union([runner, *gates, box((-1.5, -1.0, -1.2), (1.5, 8.0, 1.2))])
    feed += rod((-63.0, 9.5, 0.0), (-44.0, 9.5, 0.0), 5.0, 2.4)
    plastic = baits + (feed - baits ^ BLOCK)
    return halves(BLOCK, plastic, upper=nothing(), lower=nothing())


def one_large_and_three_small(cavities: int, hints: Hints | None = None) -> Measurement:
    return measured(large_and_small(), hints, cavities=cavities)


@pytest.mark.slow
@pytest.mark.parametrize("cavities", [1, 4])
def test_baits_of_very_unlike_sizes_are_offered_together_however_many_are_told(cavities: int) -> None:
    with pytest.raises(Faults, match=r"hints\.gates: it is unclear where runner and bait meet") as asked:
        one_large_and_three_small(cavities)
    first, *_ = (line for line in str(asked.value).splitlines() if line.startswith("hints: "))
    assert ("with cavities: 4" in first) == (cavities == 1)
    told = one_large_and_three_small(4, first_offered(asked.value))
    assert sorted(bait.volume_ml for bait in told.baits) == pytest.approx(
        sorted(bait.volume() / 1000 for bait in (LARGE, *SMALL)), rel=0.02
    )


@pytest.mark.slow
def test_gates_are_looked_for_and_offered_for_the_last_number_of_baits_only() -> None:
    """What `new` tries before that it does not show."""
    parts = large_and_small()
    files = [binary_stl(triangles(solid)) for _, _, solid in parts]
    solids = [mesh.read(data, name, "mm") for data, (name, _, _) in zip(files, parts, strict=True)]
    asked = dict(measure.measure_counts(spec_of(parts), solids, (8, 3, 1)))
    assert ["hints: {gates" in str(asked[count]) for count in (8, 3, 1)] == [False, False, True]


EGG = ball((0.0, 0.0, 0.0), 1.0).scale((12.0, 4.7, 4.7))


def in_a_row(hints: Hints | None = None) -> Measurement:
    """Three eggs of 1.1 mL, each but the first fed through the one before it by a link of 2.4 mm."""
    eggs = [EGG.translate((x, 0.0, 0.0)) for x in (-30.0, 4.0, 38.0)]
    links = [rod((x, 0.0, 0.0), (x + 12.0, 0.0, 0.0), 1.2) for x in (-19.0, 15.0)]
    sprue = rod((-63.0, 0.0, 0.0), (-50.0, 0.0, 0.0), 5.0, 2.4) + rod(
        (-51.0, 0.0, 0.0), (-41.0, 0.0, 0.0), 1.5
    )
    feed = union([sprue, *links])
    plastic = union(eggs) + (feed - union(eggs) ^ BLOCK)
    return measured(halves(BLOCK, plastic, upper=nothing(), lower=nothing()), hints, cavities=3)


@pytest.mark.slow
def test_baits_in_a_row_are_divided_at_both_ends_of_each_link_as_offered() -> None:
    with pytest.raises(Faults, match=r"hints\.gates: it is unclear where runner and bait meet") as asked:
        in_a_row()
    told = in_a_row(first_offered(asked.value))
    egg_ml = EGG.volume() / 1000
    assert [bait.volume_ml for bait in told.baits] == pytest.approx([egg_ml] * 3, rel=6e-3)
    assert [bait.thinnest for bait in told.baits] == [None] * 3  # a link is no part of a bait
    assert told.runner.volume_ml == pytest.approx(2 * math.pi * 1.2**2 * 10.5 / 1000, rel=0.1)
    ways = [[path.name, path.stations[-1].at_mm[0]] for bait in told.baits for path in bait.paths]
    assert [name for name, _ in ways] == ["1_end", "2_end", "3_end"]


@pytest.mark.slow
def test_a_gate_for_each_bait_in_a_row_divides_them_and_leaves_each_link_on_the_bait_before_it() -> None:
    places = (-42.0, -8.0, 26.0)
    told = in_a_row(Hints(gates_at_mm=tuple(((x + 0.3, 0.0, 0.0), (1.0, 0.0, 0.0)) for x in places)))
    assert len(told.baits) == 3
    assert told.runner.volume_ml == 0.0
    egg_ml = EGG.volume() / 1000
    link_ml = math.pi * 1.2**2 * 10.3 / 1000
    held = [bait.volume_ml for bait in told.baits]
    assert held == pytest.approx([egg_ml + link_ml, egg_ml + link_ml, egg_ml], rel=6e-3)


def through_a_throat(hints: Hints | None = None) -> Measurement:
    """A nozzle's throat of 2.6 mm before a runner of 7 mm, 20 long, that narrows to the gate of 3.4."""
    bait = loft([(-18.0, 1.6, 1.6, 0.0), (0.0, 7.5, 6.5, 0.0), (44.0, 2.0, 2.0, 0.0)])
    rings = [(-63.0, 4.5), (-56.0, 1.3), (-54.0, 1.3), (-51.0, 3.5), (-31.0, 3.5), (-17.0, 1.7)]
    feed = union(
        rod((start, 0.0, 0.0), (end, 0.0, 0.0), one, two) for (start, one), (end, two) in pairwise(rings)
    )
    plastic = bait + (feed - bait ^ BLOCK)
    return measured(halves(BLOCK, plastic, upper=nothing(), lower=nothing()), hints)


@pytest.mark.slow
def test_a_throat_in_the_sprue_that_is_narrower_than_the_gate_is_asked_for_and_the_gate_is_offered() -> None:
    with pytest.raises(Faults, match=r"hints\.gates: it is unclear where runner and bait meet") as asked:
        through_a_throat()
    told = through_a_throat(first_offered(asked.value))
    bait_ml = loft([(-18.0, 1.6, 1.6, 0.0), (0.0, 7.5, 6.5, 0.0), (44.0, 2.0, 2.0, 0.0)]).volume() / 1000
    assert told.baits[0].volume_ml == pytest.approx(bait_ml, rel=6e-3)


BLUNT = loft([(-30.0, 6.0, 6.0, 0.0), (-20.0, 8.0, 8.0, 0.0), (46.0, 2.0, 2.0, 0.0)])


def through_a_fan(hints: Hints | None = None) -> Measurement:
    """A fan 1.2 mm thick that widens from 4 mm to 11 mm at the bait's flat nose, behind a well of 6 mm."""
    corners = [(-51.0, -2.0), (-29.5, -5.5), (-29.5, 5.5), (-51.0, 2.0)]
    fan = CrossSection([corners]).extrude(1.2).translate((0.0, 0.0, -0.6))
    feed = rod((-63.0, 0.0, 0.0), (-50.0, 0.0, 0.0), 4.0, 3.0) + fan
    plastic = BLUNT + (feed - BLUNT ^ BLOCK)
    return measured(halves(BLOCK, plastic, upper=nothing(), lower=nothing()), hints)


@pytest.mark.slow
def test_a_fan_that_widens_towards_the_bait_is_asked_for_and_its_wide_end_is_offered_first() -> None:
    with pytest.raises(Faults, match=r"hints\.gates: it is unclear where runner and bait meet") as asked:
        through_a_fan()
    told = through_a_fan(first_offered(asked.value))
    assert told.baits[0].volume_ml == pytest.approx(BLUNT.volume() / 1000, rel=1e-3)
    assert told.baits[0].length_mm == pytest.approx(76.0, abs=0.1)
    well_ml = math.pi * 12.0 * (3.923**2 + 3.923 * 3.0 + 3.0**2) / 3 / 1000
    feed_ml = well_ml + 1.2 * 20.0 * (4.33 + 10.84) / 2 / 1000
    assert told.sprue is not None
    assert told.sprue.volume_ml + told.runner.volume_ml == pytest.approx(feed_ml, rel=0.02)
