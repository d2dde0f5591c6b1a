"""A bait that is told to be a half, a half that is told to be a bait, an answer that changes nothing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import yaml
from manifold3d import Manifold

from builder import mesh
from builder.base.problems import Faults
from builder.measure import mistaken
from builder.model import Hints
from tests.shapes import ball, box, rod, union
from tests.shapes_files import binary_stl
from tests.test_measure import POND, spec_of
from tests.test_strangers import Parts, block, halves, measured, nothing


def _egg() -> Manifold:
    return Manifold.sphere(1.0, 64).scale((30.0, 14.0, 11.0))


def _mold() -> Parts:
    sprue = rod((-28.5, 0.0, 0.0), (-41.0, 0.0, 0.0), 1.4, 3.6)
    return halves(block(), _egg() + sprue, upper=nothing(), lower=nothing())


def _codes(parts: Parts, hints: Hints | None = None) -> set[str]:
    return {finding.code for finding in measured(parts, hints).findings}


def test_a_half_that_is_told_to_be_a_bait_is_warned_of_and_a_bait_is_not() -> None:
    assert "reading.blocky" in _codes([("a", "bait", _mold()[0][2])])
    assert "reading.blocky" not in _codes([("a", "bait", _egg())])
    octagon = Manifold.cylinder(80.0, 5.0, 4.0, 8).rotate((0.0, 90.0, 0.0)) + ball((80.0, 0.0, 0.0), 4.5)
    assert "reading.blocky" not in _codes([("a", "bait", octagon)])


def test_a_bait_that_is_told_to_be_a_half_is_refused_with_the_role_to_write() -> None:
    with pytest.raises(Faults, match=r"parts\[1\].role: egg.stl is listed .* round all over.*role: bait"):
        measured([_mold()[0], ("egg", "half", _egg())])


def test_a_half_with_a_thousandth_of_noise_is_no_bait() -> None:
    fine = mesh.solid(_mold()[0][2].refine_to_length(1.5), "half")
    noise = np.random.default_rng(1).normal(0.0, 0.001, fine.vertices.shape)
    rough = replace(fine, vertices=fine.vertices + noise)
    vouch = mesh.read(binary_stl(rough.vertices[rough.faces]), "half.stl", "mm")
    spec = spec_of(POND, 1)
    mistaken.refuse(replace(spec, parts=spec.parts[:1]), [vouch])


@pytest.mark.slow
def test_an_ignored_place_without_plastic_changes_nothing_and_says_so() -> None:
    assert "reading.told_nothing" in _codes(_mold(), Hints(ignore_at_mm=((0.0, 0.0, 500.0),)))
    assert "reading.told_nothing" in _codes(_mold(), Hints(ignore_at_mm=((35.0, 20.0, -10.0),)))
    assert "reading.told_nothing" not in _codes(_mold())


def test_a_core_that_stands_out_of_an_open_mold_is_poured_round_up_to_the_face() -> None:
    tub = Manifold.cylinder(20.0, 30.0, -1.0, 96) - Manifold.cylinder(20.0, 25.0, -1.0, 96).translate(
        (0, 0, 4)
    )
    core = Manifold.cylinder(40.0, 8.0, -1.0, 96).translate((0.0, 0.0, 4.0))
    held = (
        Manifold.cylinder(16.0, 25.0, -1.0, 96) - Manifold.cylinder(16.0, 8.0, -1.0, 96)
    ).volume() / 1000.0
    read = measured([("tub", "open", tub), ("core", "core", core)], kind="open pour")
    assert read.baits[0].volume_ml == pytest.approx(held, rel=1e-3)


def _with_core(solid: Manifold) -> Parts:
    return [*_mold(), ("solid", "core", solid)]


@pytest.mark.parametrize("with_sprue", [False, True])
def test_the_bait_as_a_solid_in_its_place_is_no_core_and_the_line_to_paste_tells_it(with_sprue: bool) -> None:
    """The bait, or all of the plastic, filed with the halves it was cut from; no part has its role told."""
    solid = _egg() + rod((-28.5, 0.0, 0.0), (-41.0, 0.0, 0.0), 1.4, 3.6) if with_sprue else _egg()
    parts = _with_core(solid ^ block())
    with pytest.raises(Faults, match=r"parts\[2\]\.role: solid\.stl fills a hollow between") as asked:
        measured(parts)
    told = yaml.safe_load(str(asked.value).split("\n")[1])["parts"]
    assert [part["role"] for part in told] == ["half", "half", "bait"]
    found = measured([(*part[:1], role["role"], *part[2:]) for part, role in zip(parts, told, strict=True)])
    assert [bait.volume_ml for bait in found.baits] == pytest.approx([_egg().volume() / 1000], rel=3e-3)


def test_a_dowel_that_fills_its_hole_is_not_taken_for_the_bait() -> None:
    dowel = rod((0.0, 18.0, -7.0), (0.0, 18.0, 7.0), 2.5)
    lower, upper = _mold()
    found = measured(
        [(*lower[:2], lower[2] - dowel), (*upper[:2], upper[2] - dowel), ("dowel", "core", dowel)]
    )
    assert [bait.volume_ml for bait in found.baits] == pytest.approx([_egg().volume() / 1000], rel=3e-3)


def test_a_core_of_many_facets_with_a_large_flat_seat_is_no_bait() -> None:
    """A pin of 9 mm in a bar of 13 mm, 60 mm long; the seat's few facets are the core's largest."""
    pin = Manifold.sphere(1.0, 240).scale((30.0, 4.5, 4.5))
    core = pin.translate((2.0, 0.0, 0.0)) + box((30.0, -12.0, -12.0), (38.0, 12.0, 12.0))
    tube = rod((-30.0, 0.0, 0.0), (30.0, 0.0, 0.0), 6.5)
    feed = rod((-41.0, 0.0, 0.0), (-29.0, 0.0, 0.0), 4.0, 2.0)
    lower, upper = halves(block(), tube + feed, upper=core, lower=core)
    found = measured([lower, upper, ("core", "core", core)])
    drawn = tube - core
    assert [bait.volume_ml for bait in found.baits] == pytest.approx([drawn.volume() / 1000], rel=5e-3)


@pytest.mark.slow
def test_where_a_core_was_forgotten_the_question_says_that_its_file_may_be_missing() -> None:
    """A bait of 9 mL over a core of 8 mm, whose seat opens at the block's edge."""
    mold = box((-60.0, -24.0, -14.0), (60.0, 24.0, 14.0))
    bait = rod((-35.0, 0.0, 0.0), (-25.0, 0.0, 0.0), 2.0, 7.0) + rod((-25.0, 0.0, 0.0), (35.0, 0.0, 0.0), 7.0)
    core = rod((-15.0, 0.0, 0.0), (61.0, 0.0, 0.0), 4.0)
    sprue = rod((-61.0, 0.0, 0.0), (-34.0, 0.0, 0.0), 4.0, 1.6)
    with pytest.raises(Faults, match=r"if a core stands in .*, its file is missing under parts"):
        measured(halves(mold, union([bait, core, sprue]), upper=nothing(), lower=nothing()))
