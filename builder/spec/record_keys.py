"""The keys of every record that a released version leaves on the disk, declared once as mold.yaml's are.

A new field of a record is one line here; a field that older files lack is not `required`, and the record has
a default for it.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, get_args

from builder.model import (
    Change,
    Download,
    Figure,
    Finding,
    Kind,
    Label,
    Level,
    MadeBy,
    Origin,
    Picture,
    Unit,
    Version,
)
from builder.spec.maker_keys import SOURCES, Address
from builder.spec.mold_keys import LICENCE
from builder.spec.record_types import (
    Amount,
    FindingType,
    Line,
    Marks,
    Maybe,
    Named,
    OneOf,
    Sentence,
)
from builder.spec.schema import Key, ListOf, Table
from builder.spec.types import PLAIN_NAME as NAME
from builder.spec.types import SLUG, Choice, Day, Number, Type, Vector

VERSION_NUMBER = r"[0-9]{1,6}(?:\.[0-9]{1,6}){0,2}"
PICTURES = "pictures"
"""Folder of a version's pictures, below the version's own."""
_PLACE = rf"{NAME}(?:/{NAME}){{0,3}}"
_KINDS = "|".join(("stl", "STL", "3mf", "zip", *(ending[1:] for ending in SOURCES)))
_OFFERED = rf"{_PLACE}\.(?:{_KINDS})"
_DRAWN = r"[a-z0-9][a-z0-9_-]{0,59}-[0-9]{1,5}\.webp"
_DIGEST = Line(64, "[0-9a-f]{64}", "a SHA-256, 64 digits from 0 to f")
_SLUG = Line(60, SLUG.pattern, "small letters and digits joined by hyphens")
_NUMBER_OF = Line(20, VERSION_NUMBER, "a version, one to three numbers joined by dots")
_WORD = r"[a-z][a-z0-9_]{0,39}"
_PX = Number(-1e5, 1e5)
_COUNT = Number(1, 1e6, whole=True)


def _must(name: str, type_: Type) -> Key:
    return Key(name, type_, "", "", required=True)


def _may(name: str, type_: Type) -> Key:
    return Key(name, type_, "", "")


FIGURE = Table(
    "a figure",
    (
        *(_must(name, Amount()) for name in ("value", "low", "high")),
        _must("unit", Choice(get_args(Unit))),
        _must("because", Line(100, r"[a-z][a-z0-9_.]*", "a key of the language file")),
        _must("origin", Choice(get_args(Origin))),
    ),
    Figure,
)


def _finding(what: str, code: Type) -> Table:
    return Table(
        what,
        (
            _must("level", Choice(get_args(Level))),
            _must("code", code),
            _must("values", Named(OneOf((Line(200), FIGURE)), _WORD)),
            _may("at_mm", Maybe(Vector(Number(-1e5, 1e5)))),
        ),
        Finding,
    )


_CODE = Line(100, r"(?:findings|reading|parts|stop)\.[a-z][a-z0-9_.]*", "the key of a finding")
"""The words of an old finding may be gone from the language files; its page then says so."""
_FOUND = _finding("a finding", _CODE)
_DESCRIPTION = FindingType(_finding("a description", Sentence(("pictures.", "release.picture."))))
_LABEL = Table(
    "a label",
    (
        _must("name", Sentence(("pictures.label.",), none=True)),
        _must("figure", Maybe(FIGURE)),
        _must("x_px", _PX),
        _must("y_px", _PX),
        _must("align", Choice(("start", "middle", "end"))),
    ),
    Label,
)
_PICTURE = Table(
    "a picture",
    (
        _must("name", Line(60, r"[a-z0-9][a-z0-9_-]*")),
        _must("files", Named(Line(100, _DRAWN, "the name of a WebP file"), "[1-9][0-9]{0,4}", 8, whole=True)),
        _must("width_px", Number(1, 20_000, whole=True)),
        _must("height_px", Number(1, 20_000, whole=True)),
        _must("alt", _DESCRIPTION),
        _may("overlay_svg", Maybe(Marks())),
        _may("labels", ListOf(_LABEL, most=100)),
        _may("turnable", Maybe(Choice(("none",)))),
    ),
    Picture,
)
_CHANGE = Table(
    "a change",
    (
        _must("name", Line(40, _WORD)),
        _must("before", Maybe(FIGURE)),
        _must("after", Maybe(FIGURE)),
    ),
    Change,
)


def _download(*, path: str, **values: Any) -> Download:  # noqa: ANN401 - by key
    return Download(path=Path(path), **values)


_DOWNLOAD = Table(
    "a file",
    (
        _must(
            "name", Line(100, rf"{NAME}\.(?:{_KINDS})", "a plain name that ends in .stl, .3mf, .zip or .step")
        ),
        _must("path", Line(400, _OFFERED, "a path below the version's folder, in plain names")),
        _must("size_bytes", Number(0, 1e9, whole=True)),
        _must("sha256", _DIGEST),
        _may("address", Line(0, meaning="nothing, for outside.json tells that")),
    ),
    _download,
)

_MADE_BY = Table(
    "what made the numbers",
    (_must("shotbook", Line(40)), _must("tables", OneOf((Line(0), _DIGEST)))),
    MadeBy,
)


def _version(*, assets: str, **values: Any) -> Version:  # noqa: ANN401 - by key
    return Version(assets=Path(assets), **values)


_NOT_YET = Line(0, meaning="nothing, for withdrawn.json tells that")
VERSION = Table(
    "a version",
    (
        _must("slug", _SLUG),
        _must("version", _NUMBER_OF),
        _must("order", _COUNT),
        _must("date", Day()),
        *(_must(name, Line(longest)) for name, longest in (("title", 80), ("summary", 300), ("author", 80))),
        _must("licence", LICENCE),
        _must("notes", Line(10_000)),
        _must("figures", Named(FIGURE, _WORD)),
        _must("changes", ListOf(_CHANGE)),
        _must("pictures", ListOf(_PICTURE)),
        _must("assets", Line(20, PICTURES, f"the folder {PICTURES}")),
        _must("downloads", ListOf(_DOWNLOAD)),
        _may("findings", ListOf(_FOUND, most=200)),
        _may("stop", Maybe(_FOUND)),
        _may("despite", Line(2000)),
        _may("kind", Choice(get_args(Kind))),
        _may("made_by", _MADE_BY),
        *(_may(name, _NOT_YET) for name in ("withdrawn", "withdrawn_on")),
        _may("recalled", ListOf(_DIGEST, most=0)),
    ),
    _version,
)
LOCK_KEYS = (
    _must("format", Number(1, 1, whole=True)),
    _must("slug", _SLUG),
    _must("version", _NUMBER_OF),
    _must("order", _COUNT),
    _must("previous", OneOf((Line(0), _DIGEST))),
    _must("date", Day()),
    _must("tools", Named(Line(200), r"[A-Za-z0-9][A-Za-z0-9 ._-]{0,59}")),
    _must("tables", Named(Line(64, "[0-9a-f]{2,64}", "a SHA-256"), r"[A-Za-z0-9][A-Za-z0-9 ._-]{0,59}")),
    _must("files", Named(_DIGEST, _PLACE, 1000)),
)
OUTSIDE_KEYS = (_must("files", Named(Address(), rf"{NAME}\.zip", 1)),)
WITHDRAWAL_KEYS = (_must("reason", Line(2000)), _must("date", Day()))
KEPT_KEYS = (
    _must("slug", _SLUG),
    _must("version", _NUMBER_OF),
    _must("lock", _DIGEST),
    _must("withdrawn", OneOf((Line(0), _DIGEST))),
    _must("previous", OneOf((Line(0), _DIGEST))),
)


def sealed(what: str, keys: tuple[Key, ...], kind: Any) -> Table:  # noqa: ANN401 - a record's class
    """A sealed file: the record, and the digest that whoever reads it works out again."""
    return Table(what, (_must("sealed", Table(what, keys, kind)), _must("sha256", _DIGEST)), dict)
