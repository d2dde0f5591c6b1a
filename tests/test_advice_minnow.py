"""The demo minnow, read from its meshes in two versions: the thin trunk comes out short, the wide one full.

The geometry was drawn to show it; no constant of the tables was moved for it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from builder.advice import window
from builder.advice.samples import Pair
from builder.advice.window import Context
from builder.model import Figure, Measurement, PathVerdict
from builder.spec import material_tables
from tests.advised_minnow import row_findings
from tests.shapes_demo import reed_minnow, reed_minnow_2
from tests.shapes_files import side_by_side
from tests.test_measure import read

TABLES = material_tables.load()
SHOT_C = 157.0
TRUNK_MM = (92.0 - 8.0, 92.0 + 13.0)
"""Where the trunk lies from the gate."""
PRINTED = ("pla", "petg", "abs", "asa")

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def first() -> Measurement:
    return read(reed_minnow(), side_by_side)


@pytest.fixture(scope="module")
def second() -> Measurement:
    return read(reed_minnow_2(), side_by_side)


def make_context(mold: Measurement, mold_material: str) -> Context:
    plastisol = next(entry for entry in TABLES.plastisols if entry.id == "medium")
    material = next(entry for entry in TABLES.mold_materials if entry.id == mold_material)
    return window.make_context(mold, [Pair(plastisol=plastisol, mold=material)], TABLES.practice)


def worst(mold: Measurement, mold_material: str) -> PathVerdict:
    context = make_context(mold, mold_material)
    return window.verdicts(context, context.own(), SHOT_C, every=True)[0]


@pytest.mark.parametrize("mold_material", PRINTED)
def test_the_first_version_comes_out_short_at_157_with_the_trunk_as_the_deciding_section(
    first: Measurement, mold_material: str
) -> None:
    verdict = worst(first, mold_material)
    assert verdict.margin.high < 1
    assert TRUNK_MM[0] < verdict.deciding.s_mm < TRUNK_MM[1]
    assert verdict.deciding.thickness_mm < 0.9
    assert verdict.critical_mm is not None
    assert verdict.critical_mm.low > verdict.deciding.thickness_mm, "version 1 is drawn below the range"


@pytest.mark.parametrize("mold_material", PRINTED)
def test_the_second_version_comes_out_full_at_157(
    first: Measurement, second: Measurement, mold_material: str
) -> None:
    verdict = worst(second, mold_material)
    assert verdict.margin.low > 1
    critical = worst(first, mold_material).critical_mm
    assert critical is not None
    assert critical.high < 2.4, "version 2 is drawn above the range"


def test_extra_vents_alone_do_not_change_the_verdict(first: Measurement) -> None:
    vented = replace(first, vents=first.vents * 4)
    assert worst(vented, "petg") == worst(first, "petg")


def test_ten_hot_shots_in_petg_flash_without_rest_and_not_with_the_advised_rest_and_bolts_in_the_middle(
    second: Measurement,
) -> None:
    """The six bolts at the edge let the halves part in the first shot already, which no rest cures."""
    extra = [replace(second.bolts[0], at_mm=(x, 0.0, second.bolts[0].at_mm[2])) for x in (-40.0, 0.0, 40.0)]
    context = make_context(replace(second, bolts=(*second.bolts, *extra)), "petg")
    hot = context.points[0].trial_c
    rest = window.window(context, 0, whole=False).rest_s
    (found,) = row_findings(context, hot, shots=10, rest_s=0.0, advised=rest)
    assert found.level == "warn"
    assert found.code.startswith("findings.flash_rest")
    assert isinstance(found.values["softened"], Figure)
    assert found.values["softened"].value > TABLES.practice["soft_share"].value
    assert rest is not None
    assert row_findings(context, hot, shots=10, rest_s=rest.value) == ()


def test_the_window_of_the_first_version_is_empty_and_that_of_the_second_has_a_sure_part(
    first: Measurement, second: Measurement
) -> None:
    empty = make_context(first, "petg").points[0]
    assert empty.sure_c is None
    assert empty.likely_c is None
    assert empty.shoot_c is None
    point = make_context(second, "petg").points[0]
    assert point.sure_c is not None
    assert point.shoot_c is not None
    assert point.sure_c[0] <= point.shoot_c <= point.sure_c[1]


def test_both_cavities_get_the_same_verdict(first: Measurement) -> None:
    context = make_context(first, "petg")
    one, two = window.verdicts(context, context.own(), SHOT_C, every=True)
    assert {one.bait, two.bait} == {"1", "2"}
    assert one.margin.value == pytest.approx(two.margin.value, rel=0.1, abs=0.05)
    assert np.isclose(one.deciding.thickness_mm, two.deciding.thickness_mm, atol=0.02)
