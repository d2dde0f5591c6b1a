"""What each stage is given of a mold: nothing that it does not use.

Reading is given the part of the spec that is about the shape. Advice is given the measurement and how it is
shot. Pictures are given the reading and the section that decides.
"""

from __future__ import annotations

from dataclasses import replace

from builder.model import Advice, Deciding, Declared, FromMaker, Hints, MoldSpec, PathVerdict


def for_reading(mold: MoldSpec) -> MoldSpec:
    """What the reading is given of the spec, so that nothing else can change it."""
    shape = replace(without_prose(mold), title="", plastisol="", mold_material="", bait_type="", hook="")
    shape = replace(shape, bolts="", stands="sprue_up", colours=(), declared=Declared(), shots=())
    return replace(shape, hints=replace(mold.hints, eye_mm=None))


def for_advice(mold: MoldSpec) -> MoldSpec:
    """What the advice is given of the spec; the mold's shape comes with its measurement."""
    told = replace(without_prose(mold), title="", parts=(), cavities=0, bait_type="", hook="", bolts="")
    return replace(told, colours=(), hints=Hints(eye_mm=mold.hints.eye_mm))


def without_prose(mold: MoldSpec) -> MoldSpec:
    """The spec without the texts that only pages show, so that rewording one recomputes nothing."""
    told = replace(mold, summary="", target=(), licence="", author="", version="", renamed_from=())
    return replace(told, photos=(), maker=FromMaker())


def verdict_of(advice: Advice) -> PathVerdict | None:
    """What is said of the path that fills last, by the advice for the mold's own pair."""
    paths = advice.windows[0].paths if advice.windows else ()
    return min(paths, key=lambda path: path.margin.value, default=None)


def deciding(verdict: PathVerdict | None) -> Deciding | None:
    """What pictures show of a verdict: where it is, not how near."""
    if verdict is None:
        return None
    return Deciding(bait=verdict.bait, path=verdict.path, station=verdict.deciding)
