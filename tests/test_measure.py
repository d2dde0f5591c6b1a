"""Reading molds made in code, against the exact volumes of what they were made from."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from builder.base.problems import Faults
from builder.model import Figure, LengthUnit, Measurement, MoldSpec, PartSpec, Role
from tests.readings import measured
from tests.shapes import Array, Mold, box, rod, two_halves, union
from tests.shapes_demo import DEMOS, reed_minnow
from tests.shapes_files import (
    Pose,
    anyhow,
    closed,
    files,
    mirrored,
    on_the_bed,
    side_by_side,
    turned_on_the_bed,
    upright,
)

POND = DEMOS["pond-stick"].make()


def spec_of(mold: Mold, cavities: int, units: LengthUnit = "mm") -> MoldSpec:
    roles: tuple[Role, ...] = ("open",) if mold.open_pour else ("half", "half", "core")
    parts = zip(mold.parts, roles, strict=False)
    return MoldSpec(
        slug=mold.name,
        folder=Path(mold.name),
        title=mold.name,
        kind="open pour" if mold.open_pour else "injection",
        parts=tuple(
            PartSpec(file=f"{name}.stl", path=Path(f"{name}.stl"), role=role, name=name)
            for (name, _), role in parts
        ),
        cavities=cavities,
        plastisol="medium",
        mold_material="pla",
        units=units,
    )


def read(mold: Mold, pose: Pose, spec: MoldSpec | None = None, scale: float = 1.0) -> Measurement:
    spec = spec or spec_of(mold, len(mold.baits))
    return measured(spec, files(mold, pose, scale))


def assert_true_to(mold: Mold, found: Measurement) -> None:
    """Every bait within 0.5 %, sprue and runner within 2 %, all bolts, pins and vents."""
    assert sorted(bait.volume_ml for bait in found.baits) == pytest.approx(sorted(mold.bait_ml), rel=5e-3)
    if found.sprue:
        assert found.sprue.volume_ml + found.runner.volume_ml == pytest.approx(mold.feed_ml, rel=0.02)
    assert (len(found.bolts), len(found.pins), len(found.vents)) == (
        len(mold.holes),
        len(mold.pegs),
        len(mold.vents),
    )


@pytest.mark.slow
@pytest.mark.parametrize("slug", DEMOS)
def test_each_demo_mold_is_read_true_in_the_pose_of_its_files(slug: str) -> None:
    mold = DEMOS[slug].make()
    assert_true_to(mold, read(mold, DEMOS[slug].pose))


POSES = {
    "closed": closed,
    "on the bed": on_the_bed,
    "side by side": side_by_side,
    "turned on the bed": turned_on_the_bed([20.0, 75.0]),
    "upright": upright,
    "anyhow": anyhow(3),
}


QUICK = ("anyhow",)


@pytest.mark.parametrize(
    "pose",
    [
        pytest.param(pose, id=name, marks=() if name in QUICK else pytest.mark.slow)
        for name, pose in POSES.items()
    ],
)
def test_the_pose_of_the_files_does_not_matter(pose: Pose) -> None:
    assert_true_to(POND, read(POND, pose))


@pytest.mark.slow
def test_a_half_exported_mirrored_is_read_and_said() -> None:
    found = read(POND, mirrored)
    assert_true_to(POND, found)
    assert [finding.code for finding in found.findings] == ["reading.mirrored"]


@pytest.mark.slow
def test_a_mold_whose_halves_curl_is_as_large_as_drawn() -> None:
    low, high = np.array(union(part for _, part in POND.parts).bounding_box()).reshape(2, 3)

    def lift(points: Array) -> object:
        points[:, 2] += 0.05 * ((2.0 * points[:, 0] - low[0] - high[0]) / (high[0] - low[0])) ** 2
        return points

    curled = [(name, part.refine_to_length(6.0).warp_batch(lift)) for name, part in POND.parts]
    found = read(replace(POND, parts=tuple(curled)), closed)
    assert "reading.curled" in [finding.code for finding in found.findings]
    assert sorted(found.size_mm) == pytest.approx(sorted(high - low), abs=0.005)


@pytest.mark.slow
def test_an_inch_file_declared_as_inch_reads_the_same() -> None:
    found = read(POND, closed, spec_of(POND, 1, "inch"), scale=1 / 25.4)
    assert found.baits[0].volume_ml == pytest.approx(POND.bait_ml[0], rel=5e-3)


def test_an_inch_file_declared_as_mm_is_refused_with_its_size_in_each_unit() -> None:
    with pytest.raises(
        Faults, match=r"6\.455 mm long as drawn in mm .*164 mm if drawn in inch.*write units: inch"
    ):
        read(POND, closed, spec_of(POND, 1), scale=1 / 25.4)


@pytest.mark.slow
def test_a_number_of_cavities_that_no_narrow_place_makes_is_refused() -> None:
    with pytest.raises(Faults, match=r"hints\.gates.*2 baits.*no narrow place divides it so"):
        read(POND, closed, spec_of(POND, 2))


@pytest.mark.slow
def test_a_hinted_gate_parts_the_plastic_there() -> None:
    found = read(POND, closed)
    gate = found.baits[0].gates[0]
    spec = spec_of(POND, 1)
    told = replace(spec, hints=replace(spec.hints, gates_at_mm=((gate.at_mm, gate.normal),)))
    assert read(POND, closed, told).baits[0].volume_ml == pytest.approx(found.baits[0].volume_ml, rel=1e-6)


def test_halves_of_two_molds_do_not_close() -> None:
    other = DEMOS["quad-grub"].make()
    mixed = replace(POND, parts=(POND.parts[0], other.parts[1]))
    with pytest.raises(Faults, match=r"do not fit together"):
        read(mixed, closed, spec_of(POND, 1))


def test_a_bait_alone_is_its_own_measure() -> None:
    bait = replace(POND, parts=(("bait", POND.baits[0]),))
    spec = spec_of(POND, 1)
    spec = replace(spec, parts=(replace(spec.parts[0], role="bait"),))
    found = read(bait, closed, spec)
    assert found.baits[0].volume_ml == pytest.approx(POND.bait_ml[0], rel=1e-6)
    assert found.sprue is None


@pytest.mark.slow
def test_the_thin_trunk_is_measured_and_named_as_what_feeds_the_tail() -> None:
    bait = read(reed_minnow(trunk_width=1.5), closed).baits[0]
    assert bait.thinnest is not None
    assert bait.thinnest.thickness_mm == pytest.approx(1.5, abs=0.02)
    assert 0.08 < bait.thinnest.beyond_ml / bait.volume_ml < 0.12
    assert bait.thinnest_feeds == bait.paths[0].name
    assert bait.paths[0].vented


@pytest.mark.slow
@pytest.mark.parametrize(
    ("scale", "said"), [(1.0, "reading.positive"), (1.06, "reading.positive_differs")], ids=["same", "larger"]
)
def test_a_bait_beside_the_halves_is_laid_into_its_cavity_or_said_to_differ(scale: float, said: str) -> None:
    positive = POND.baits[0].rotate((20.0, 35.0, 50.0)).scale((scale, scale, scale))
    mold = replace(POND, parts=(*POND.parts, ("bait", positive)), roles=("half", "half", "bait"))
    spec = spec_of(POND, 1)
    bait = PartSpec(file="bait.stl", path=Path("bait.stl"), role="bait", name="bait")
    found = read(mold, closed, replace(spec, parts=(*spec.parts, bait)))
    assert_true_to(POND, found)
    assert [finding.code for finding in found.findings] == [said]


def test_a_mold_says_how_many_sprues_it_has_when_nothing_joins_them() -> None:
    """Two round bars of 40 mm, each with a sprue from the edge and a gate of 3 mm."""
    block = box((-40.0, -30.0, -12.0), (40.0, 30.0, 0.0))
    bars = [rod((-15.0, y, 0.0), (25.0, y, 0.0), 5.0) for y in (-14.0, 14.0)]
    sprues = [rod((-41.0, y, 0.0), (-20.0, y, 0.0), 4.0, 1.5) for y in (-14.0, 14.0)]
    gates = [rod((-20.5, y, 0.0), (-14.5, y, 0.0), 1.5) for y in (-14.0, 14.0)]
    upper = block.translate((0.0, 0.0, 12.0))
    mold = two_halves("bars", lower=block, upper=upper, baits=bars, feed=union([*sprues, *gates]))
    found = read(mold, closed)
    assert_true_to(mold, found)
    (told,) = (one for one in found.findings if one.code == "reading.several_sprues")
    assert isinstance(count := told.values["count"], Figure)
    assert count.value == 2
