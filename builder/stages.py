"""What each stage is given of a mold, and the store keys of the results: nothing that it does not use.

Reading is given the part of the spec that is about the shape. Advice is given the measurement and how it is
shot. Pictures are given the reading and the section that decides; title and margin are told later.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from builder.base import contained
from builder.base.store import Store, canonical, digest_of, sha256, stage_version
from builder.model import (
    Advice,
    Deciding,
    Declared,
    Figure,
    FromMaker,
    Hints,
    MoldSpec,
    PathVerdict,
    Picture,
)

DECIDING = "deciding.json"
"""File beside the advice: what pictures take from it."""
_MOST_DECIDING_BYTES = 10_000
_DECIDING_CUT = "pictures.alt.cut_deciding"
_HALF = 32
"""Half of a digest in hex."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Keys:
    """Store keys of a mold's stage results: each covers what its stage is given, and nothing else."""

    measure: str
    advice: str
    drawn: str
    """How the keys of its pictures begin; the rest says which section decides (pictures_key)."""


def keys_of(mold: MoldSpec, digests: Sequence[str], tables_sum: str) -> Keys:
    """The keys: each covers its stage's sources and what it is given; `digests` are the parts' SHA-256.

    Whether the unit is told counts as well: a mold of an unusual size is only read when it is.
    """
    told = str("units" in mold.line_of)
    measured = digest_of(stage_version("measure"), spec_digest(for_reading(mold)), told, *digests)
    advised = digest_of(stage_version("advice"), measured, spec_digest(for_advice(mold)), tables_sum)
    drawn = digest_of(stage_version("pictures"), measured)[:_HALF]
    return Keys(measure=measured, advice=advised, drawn=drawn)


def spec_digest(mold: MoldSpec) -> str:
    """Digest of the spec; the place of the checkout and the layout of mold.yaml do not matter."""
    parts = tuple(replace(part, path=Path(part.file)) for part in mold.parts)
    return sha256(canonical(replace(mold, folder=Path(mold.slug), parts=parts, line_of={})))


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


def pictures_key(keys: Keys, store: Store) -> str:
    """Store key of the pictures; Faults when the store has no advice under its key."""
    return keys.drawn + sha256(told_deciding(keys, store))[:_HALF]


def told_deciding(keys: Keys, store: Store) -> bytes:
    """What the advice left for the pictures; Faults when the store has no advice under its key."""
    return contained.read(store.place("advice", keys.advice), DECIDING, _MOST_DECIDING_BYTES)


def described(
    drawn: Iterable[Picture], title: str, verdict: PathVerdict | None = None
) -> tuple[Picture, ...]:
    """The pictures with what was left out of their descriptions when they were drawn: title and margin."""
    shown = []
    for picture in drawn:
        values: dict[str, Figure | str] = {"title": title, **picture.alt.values}
        if verdict is not None and picture.alt.code == _DECIDING_CUT:
            values["margin"] = verdict.margin
        shown.append(replace(picture, alt=replace(picture.alt, values=values)))
    return tuple(shown)
