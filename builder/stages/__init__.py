"""What each stage is given of a mold (given), and the store keys of the results.

A key covers nothing that its stage does not use.

Libraries are in the keys as far as they change what a stage makes of a fixed mold (vectors).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from builder.base import contained
from builder.base.store import Store, canonical, digest_of, sha256
from builder.model import Figure, MoldSpec, PathVerdict, Picture
from builder.stages import vectors
from builder.stages.given import deciding, for_advice, for_reading, verdict_of, without_prose

__all__ = [
    "Keys",
    "deciding",
    "described",
    "for_advice",
    "for_reading",
    "keys_of",
    "pictures_key",
    "spec_digest",
    "told_deciding",
    "verdict_of",
    "without_prose",
]

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


def keys_of(mold: MoldSpec, digests: Sequence[str], tables_sum: str, store: Store | None = None) -> Keys:
    """The keys: each covers its stage (vectors.version) and what it is given; `digests` are of the parts.

    Whether the unit is told counts as well: a mold of an unusual size is only read when it is.
    """
    told = str("units" in mold.line_of)
    measured = digest_of(vectors.version("measure", store), spec_digest(for_reading(mold)), told, *digests)
    advised = digest_of(vectors.version("advice", store), measured, spec_digest(for_advice(mold)), tables_sum)
    drawn = digest_of(vectors.version("pictures", store), measured)[:_HALF]
    return Keys(measure=measured, advice=advised, drawn=drawn)


def spec_digest(mold: MoldSpec) -> str:
    """Digest of the spec; the place of the checkout and the layout of mold.yaml do not matter."""
    parts = tuple(replace(part, path=Path(part.file)) for part in mold.parts)
    return sha256(canonical(replace(mold, folder=Path(mold.slug), parts=parts, line_of={})))


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
