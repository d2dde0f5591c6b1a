"""A cup beside the bait of an open pour, behind a straight channel, is asked about, and told as no bait."""

from __future__ import annotations

from dataclasses import replace

import pytest
import yaml
from manifold3d import Manifold

from builder import build
from builder.base.problems import Faults
from builder.model import Hints, Measurement
from tests.shapes import ball, box, rod, union
from tests.shapes_files import binary_stl, triangles
from tests.test_strangers import Parts, measured, spec_of

BLOCK = box((-60.0, -28.0, -16.0), (60.0, 28.0, 0.0))
BELOW = box((-60.0, -28.0, -20.0), (60.0, 28.0, 0.0))
BAIT = union([ball((-34.5, 0.0, -1.0), 5.5), rod((-34.5, 0.0, -1.0), (44.5, 0.0, -1.0), 5.5)]) ^ BELOW
CUP = rod((-49.0, 0.0, 0.0), (-49.0, 0.0, -5.0), 6.0, 5.0)
CHANNEL = box((-49.0, -2.0, -3.0), (-37.0, 2.0, 0.0))


def poured(plastic: Manifold, hints: Hints | None = None) -> Measurement:
    """Two of them side by side in one block."""
    baits = [plastic.translate((0.0, y, 0.0)) for y in (-12.0, 12.0)]
    return measured([("open", "open", BLOCK - union(baits))], hints, "open pour", cavities=2)


def told(line: str) -> Hints:
    """A line that was offered, as mold.yaml is read."""
    hints = yaml.safe_load(line.split("  #", maxsplit=1)[0].removeprefix("hints: "))
    gates = tuple((tuple(gate["at_mm"]), tuple(gate["normal"])) for gate in hints.get("gates", ()))
    return Hints(gates_at_mm=gates, sprue_at_mm=hints.get("sprue_at_mm"))


def test_a_cup_behind_a_straight_channel_is_asked_about_and_both_lines_are_right() -> None:
    """The stick is 84 mm long; the channel is 4 mm wide and 3 deep, the cup 12 mm across."""
    with pytest.raises(Faults, match=r"hints\.gates: a straight channel at \[-?40\.\d\d, .* cup") as asked:
        poured(BAIT + CUP + CHANNEL)
    cup, all_bait = str(asked.value).split("\n")[1:3]
    found = poured(BAIT + CUP + CHANNEL, told(cup))
    beside = (CUP + CHANNEL) - BAIT
    assert [bait.volume_ml for bait in found.baits] == pytest.approx([BAIT.volume() / 1000] * 2, rel=3e-3)
    assert [bait.length_mm for bait in found.baits] == pytest.approx([84.5] * 2, abs=0.5)
    assert found.runner.volume_ml == pytest.approx(2 * beside.volume() / 1000, rel=0.02)
    whole = (BAIT + CUP + CHANNEL).volume() / 1000
    found = poured(BAIT + CUP + CHANNEL, told(all_bait.rstrip(".")))
    assert [bait.volume_ml for bait in found.baits] == pytest.approx([whole] * 2, rel=3e-3)


def test_a_gate_of_a_cup_that_points_out_of_the_bait_is_refused() -> None:
    gates = tuple(((-40.25, y, -1.5), (-1.0, 0.0, 0.0)) for y in (-12.0, 12.0))
    with pytest.raises(Faults, match=r"hints\.gates: the normal of a gate points to its cup"):
        poured(BAIT + CUP + CHANNEL, Hints(gates_at_mm=gates))


def half_round(start: tuple[float, float], end: tuple[float, float], radius: float) -> Manifold:
    return rod((*start, 0.0), (*end, 0.0), radius) ^ BELOW


NECK = half_round((-50.0, 0.0), (-37.0, 0.0), 1.5)
CUPS = {
    "turned": CUP,
    "square": box((-56.0, -5.5, -6.0), (-45.0, 5.5, 0.0)),
    "as a disc": rod((-49.0, 0.0, 0.0), (-49.0, 0.0, -4.0), 6.0),
}


@pytest.mark.parametrize("kind", list(CUPS))
def test_a_cup_with_a_floor_behind_a_half_round_neck_is_asked_about_and_both_lines_are_right(
    kind: str,
) -> None:
    """A neck 3 mm wide, of one width all along, to a circle or a rectangle with steep sides."""
    feed = CUPS[kind] + NECK
    with pytest.raises(Faults, match=r"hints\.gates: a straight channel at \[-?40\.\d\d, .* cup") as asked:
        poured(BAIT + feed)
    cup, all_bait = str(asked.value).split("\n")[1:3]
    found = poured(BAIT + feed, told(cup))
    assert [bait.volume_ml for bait in found.baits] == pytest.approx([BAIT.volume() / 1000] * 2, rel=3e-3)
    assert found.runner.volume_ml == pytest.approx(2 * (feed - BAIT).volume() / 1000, rel=0.02)
    found = poured(BAIT + feed, told(all_bait.rstrip(".")))
    whole = (BAIT + feed).volume() / 1000
    assert [bait.volume_ml for bait in found.baits] == pytest.approx([whole] * 2, rel=3e-3)


LIMBS = {
    "oval paddle": rod((0.0, 0.0, 0.0), (0.0, 0.0, -4.0), 6.0).scale((1.3, 0.8, 1.0)).translate((-50, 0, 0)),
    "half ball": ball((-49.0, 0.0, 0.0), 5.0) ^ BELOW,
    "thin end": half_round((-55.0, 0.0), (-48.0, 0.0), 1.5),
}


@pytest.mark.parametrize("kind", list(LIMBS))
def test_a_limb_behind_a_half_round_neck_is_no_cup_and_nothing_is_asked(kind: str) -> None:
    limb = LIMBS[kind] + NECK
    found = poured(BAIT + limb)
    whole = (BAIT + limb).volume() / 1000
    assert [bait.volume_ml for bait in found.baits] == pytest.approx([whole] * 2, rel=3e-3)


def at_sides(count: int) -> list[Manifold]:
    """So many baits side by side, all in one block."""
    return [
        BAIT.scale((1.0, 0.6, 1.0)).translate((0.0, 16.0 * k - 8.0 * (count - 1), 0.0)) for k in range(count)
    ]


def channels(kind: str) -> Manifold:
    """From the cup to each bait, or all along a runner."""
    if kind == "fork":
        return union([half_round((-52.0, 0.0), (-36.0, y), 2.0) for y in (-8.0, 8.0)])
    branches = [half_round((-52.0, y), (-36.0, y), 1.5) for y in (-16.0, 0.0, 16.0)]
    return half_round((-52.0, -16.0), (-52.0, 16.0), 2.5) + union(branches)


@pytest.mark.parametrize(("count", "kind"), [(2, "fork"), (3, "comb")])
def test_baits_that_share_a_cup_are_parted_by_the_line_that_is_offered(count: int, kind: str) -> None:
    """The cup is 14 mm across and 6 deep; its channels are half round."""
    baits = at_sides(count)
    feed = rod((-52.0, 0.0, 0.0), (-52.0, 0.0, -6.0), 7.0) + channels(kind)
    parts: Parts = [("open", "open", BLOCK - union(baits) - feed)]
    with pytest.raises(Faults, match=r"hints\.gates: 1 hollow is open at the pouring face") as asked:
        measured(parts, None, "open pour", cavities=count)
    found = measured(parts, told(str(asked.value).split("\n")[1].rstrip(".")), "open pour", cavities=count)
    assert [bait.volume_ml for bait in found.baits] == pytest.approx(
        [bait.volume() / 1000 for bait in baits], rel=5e-3
    )
    assert found.runner.volume_ml == pytest.approx((feed - union(baits)).volume() / 1000, rel=0.03)


def test_like_baits_that_share_a_cup_and_are_told_as_one_are_asked_about() -> None:
    """Pasted one after the other, the lines that are offered read both baits."""
    baits = at_sides(2)
    feed = rod((-52.0, 0.0, 0.0), (-52.0, 0.0, -6.0), 7.0) + channels("fork")
    parts: Parts = [("open", "open", BLOCK - union(baits) - feed)]
    with pytest.raises(Faults, match="cavities: 2 like hollows hang together by a cup") as asked:
        measured(parts, None, "open pour", cavities=1)
    assert str(asked.value).split("\n")[1].startswith("cavities: 2  #")
    whole = measured(parts, told(str(asked.value).split("\n")[2].rstrip(".")), "open pour", cavities=1).baits[
        0
    ]
    assert whole.volume_ml == pytest.approx((union(baits) + feed).volume() / 1000, rel=3e-3)


def test_a_body_with_two_like_legs_is_one_bait_and_nothing_is_asked() -> None:
    legs = union([half_round((-34.0, 0.0), (-52.0, y), 2.0) for y in (-14.0, 14.0)])
    feet = union([ball((-53.0, y, 0.0), 3.5) ^ BELOW for y in (-15.0, 15.0)])
    body = BAIT + legs + feet
    found = measured([("open", "open", BLOCK - body)], None, "open pour", cavities=1)
    assert [bait.volume_ml for bait in found.baits] == pytest.approx([body.volume() / 1000], rel=3e-3)


def test_the_line_for_another_face_keeps_the_unit_and_the_other_parts() -> None:
    """One hollow on top, two smaller ones below, for two cavities and a core; the block is filed in cm."""
    pits = [rod((x, 0.0, -17.0), (x, 0.0, -11.0), 6.0) for x in (-40.0, 0.0, 40.0)]
    block, core = BLOCK - BAIT - union(pits), box((0.0, -1.0, -5.0), (4.0, 1.0, -3.0))
    parts: Parts = [("open", "open", block), ("core", "core", core)]
    spec = spec_of(parts, None, "open pour", cavities=2)
    told_cm = replace(spec, parts=(replace(spec.parts[0], units="cm"), spec.parts[1]))
    data = [binary_stl(triangles(body)) for body in (block.scale((0.1, 0.1, 0.1)), core)]
    with pytest.raises(Faults, match="if another face is poured") as asked:
        build.read(told_cm, data)
    (line,) = (line for line in str(asked.value).split("\n") if line.startswith("parts:"))
    one, two = yaml.safe_load(line.split("  #")[0])["parts"]
    assert (one["file"], one["role"], one["units"]) == ("open.stl", "open", "cm")
    assert one["parting"]["normal"] == [0.0, 0.0, -1.0]
    assert two == {"file": "core.stl", "role": "core"}
