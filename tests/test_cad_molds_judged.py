"""The judge of drawn trial molds sees every number that is off; a maker's answers are the drawing's own."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from types import SimpleNamespace
from typing import Any, cast

import pytest

from tests.cad_molds.answers import answered, frames, shortest
from tests.cad_molds.catalogue import BY_NAME
from tests.cad_molds.judged import judge
from tests.cad_molds.molds import draw
from tests.cad_molds.reader_door import Problem, Where
from tests.cad_molds.records import Case


@cache
def eyed() -> Case:
    """One bait with two eyes and a trunk, four bolts, two pins, one vent."""
    return draw(replace(BY_NAME["swimbait-flat-eyes"], chord=0.4))


def perfect(case: Case) -> SimpleNamespace:
    """A reading that agrees with every truth."""
    t = case.truths
    trunk = SimpleNamespace(thickness_mm=t.trunk_mm[0] if t.trunk_mm else 0.0)
    sockets = tuple(SimpleNamespace(diameter_mm=mm) for mm in t.eye_mm)
    bait = SimpleNamespace(
        name="1",
        volume_ml=t.baits_ml[0],
        length_mm=t.lengths_mm[0],
        thinnest=trunk,
        sockets=sockets,
        gates=(),
    )
    return SimpleNamespace(
        baits=(bait,),
        sprue=SimpleNamespace(volume_ml=t.feed_ml),
        runner=SimpleNamespace(volume_ml=0.0),
        bolts=tuple(SimpleNamespace(diameter_mm=mm) for mm in t.bolts_mm),
        pins=(None,) * t.pins,
        vents=(None,) * t.vents[0],
        volume_share=0.01,
    )


def judged(read: SimpleNamespace) -> list[tuple[str, bool]]:
    return [(off.what, off.counts) for off in judge(eyed(), cast("Any", read))]


def test_a_reading_that_agrees_has_nothing_off() -> None:
    assert judged(perfect(eyed())) == []


@pytest.mark.parametrize(
    ("where", "share", "what", "counts"),
    [
        ("volume_ml", 1.0061, "bait mL", True),
        ("volume_ml", 0.9939, "bait mL", True),
        ("length_mm", 1.02, "bait length mm", False),
    ],
)
def test_a_bait_that_is_off_is_seen(where: str, share: float, what: str, counts: bool) -> None:
    read = perfect(eyed())
    setattr(read.baits[0], where, getattr(read.baits[0], where) * share)
    assert judged(read) == [(what, counts)]


def test_a_feed_a_trunk_and_counts_that_are_off_are_seen() -> None:
    read = perfect(eyed())
    read.sprue.volume_ml *= 1.021
    read.baits[0].thinnest.thickness_mm *= 0.96
    read.baits[0].sockets = read.baits[0].sockets[:1]
    read.bolts, read.pins, read.vents = read.bolts[1:], read.pins[1:], ()
    assert [what for what, _ in judged(read)] == [
        "feed mL",
        "bolts",
        "pins",
        "vents",
        "eyes of 1",
        "trunk mm",
    ]


def test_bolts_of_two_widths_are_held_each_against_its_own() -> None:
    case = draw(replace(BY_NAME["u-slots-and-bolts"], chord=0.4))
    assert sorted(case.truths.bolts_mm) == [5.4] * 4 + [5.6] * 4
    read = perfect(case)
    assert judge(case, cast("Any", read)) == []
    read.bolts[0].diameter_mm *= 1.05
    assert [(off.what, off.counts) for off in judge(case, cast("Any", read))] == [("bolt mm", False)]


def test_an_error_just_inside_the_limits_is_right() -> None:
    read = perfect(eyed())
    read.baits[0].volume_ml *= 1.0059
    read.sprue.volume_ml *= 0.981
    assert judged(read) == []


def test_a_missing_bait_is_seen() -> None:
    read = perfect(eyed())
    read.baits = ()
    assert judged(read)[0] == ("number of baits", True)


def test_a_suggested_sprue_is_taken_if_it_is_the_drawn_one_else_the_truth_is_told() -> None:
    case = eyed()
    mouth = case.truths.mouth_mm
    assert mouth is not None
    sign, move = next(frames(case))
    right = [round(s * p + m, 1) for s, p, m in zip(sign, mouth, move, strict=True)]
    where = Where(file="mold.yaml", key="hints.sprue_at_mm")
    offered = Problem(where=where, what="two mouths", remedy=f"write one: [1.0, 2.0, 3.0] or {right}")
    other = Problem(where=where, what="two mouths", remedy="write one: [1.0, 2.0, 3.0]")
    for problem, tolerance in ((offered, 1e-9), (other, 0.06)):
        found = answered(case, shortest(case), problem, 0)
        assert found is not None
        hints = cast("dict[str, list[float]]", found[0]["hints"])
        assert hints["sprue_at_mm"] == pytest.approx(right, abs=tolerance)


def test_a_unit_is_told_when_it_is_asked_and_a_key_that_cannot_be_told_is_not() -> None:
    case = draw(replace(BY_NAME["inch-not-told"], chord=0.4))
    asked = Problem(
        where=Where(file="mold.yaml", key="units"), what="too small", remedy="write units: inch or cm"
    )
    found = answered(case, shortest(case), asked, 0)
    assert found is not None
    assert found[0]["units"] == "inch"
    other = Problem(
        where=Where(file="mold.yaml", key="parts[0].file"), what="two bodies", remedy="export each"
    )
    assert answered(case, shortest(case), other, 0) is None
