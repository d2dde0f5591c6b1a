"""Three invented molds that share no number, and the site that the plugin builds from them."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from typing import Any, TypeVar

import pytest

from builder import plugin
from builder.base.texts import Texts
from builder.model import (
    Amounts,
    Change,
    Colour,
    Download,
    Drift,
    Figure,
    Finding,
    Ingredient,
    Label,
    MadeBy,
    MoldRecord,
    Picture,
    Request,
    Turnable,
    Version,
    Window,
)
from builder.site import catalogue, parts, site_map
from builder.site.catalogue import Catalogue
from builder.spec import material_tables
from tests import small_site
from tests.advice_for_pages import advice
from tests.measurement_for_pages import figure
from tests.records_for_pages import REASONED, SENTENCES, mold

_Record = TypeVar("_Record")
_REAL, _WRITTEN = site_map.texts, parts.written
REQUESTS = (
    Request(asked="A slim one", date="2026-01-17", state="done", mold="test-minnow", note="Took 23 days"),
)
PER_PAGE = 2


def texts(language: str) -> Texts:
    """The language file with the sentences of the invented molds."""
    said = _REAL(language)
    return Texts(language=language, entries={**said.entries, **SENTENCES})


TURNABLE = Turnable(file="open-turn.js", size_bytes=214_365, triangles=18_642, error_mm=0.0437)


def minnow(folder: Path) -> MoldRecord:
    """Two baits, shot shut; released twice."""
    record = mold(folder=folder)
    bait = Picture(
        name="bait",
        files={400: "bait-400.webp"},
        width_px=1100,
        height_px=700,
        alt=Finding(
            level="note",
            code="test.picture",
            values={
                "length": figure(104.0, "mm", 0.001, "measured"),
                "width": figure(11.0, "mm", 0.001, "measured"),
                "vents": "3",
            },
        ),
        overlay_svg='<path d="M1 2V3"/>',
        labels=(
            Label(
                name="test.label",
                figure=figure(13.7, "mm", 0.02, "measured"),
                x_px=12.0,
                y_px=34.0,
                align="start",
            ),
        ),
    )
    marked = Label(
        name="test.mark", figure=figure(23.1, "mm", 0.02, "measured"), x_px=40.0, y_px=50.0, align="start"
    )
    colour = Colour(
        name="Test green",
        ingredients=(
            Ingredient(what="test dye", amount_per_100_ml=3, unit="drops"),
            Ingredient(what="test salt", amount_per_100_ml=12.3, unit="g"),
            Ingredient(what="test flake", amount_per_100_ml=0.83, unit="g"),
            Ingredient(what="test oil", amount_per_100_ml=1.7, unit="ml"),
        ),
    )
    return replace(
        record,
        spec=replace(record.spec, colours=(colour,)),
        advice=replace(record.advice, windows=tuple(map(_declared, record.advice.windows))),
        pictures=(replace(record.pictures[0], turnable=TURNABLE, labels=(marked,)), bait),
        versions=(version(record, 2), version(record, 1)),
        released=True,
    )


def _declared(one: Window) -> Window:
    """The window with a limit that the maker declared, where the plastisol is the maker's own."""
    limit = replace(one.plastisol_limit_c, origin="declared")
    return replace(one, plastisol_limit_c=limit) if one.plastisol == "medium" else one


def crawler(folder: Path) -> MoldRecord:
    """One bait, poured open, of another plastisol and mold material."""
    record = numbered(mold("test-crawler", folder, "Test crawler"), 1.13)
    m, own = record.measurement, _multiplied(advice(("hard", "abs"), cavities=1), 1.13)
    return replace(
        record,
        spec=replace(
            record.spec, kind="open pour", cavities=1, plastisol="hard", mold_material="abs", version="4"
        ),
        measurement=replace(m, kind="open pour", sprue=None, baits=m.baits[:1]),
        advice=replace(own, eye_suggested=True),
        pictures=(),
        downloads=tuple(replace(d, size_bytes=d.size_bytes * 7) for d in record.downloads),
    )


def shut(folder: Path) -> MoldRecord:
    """A mold that fills only above the limit of its own pair; its largest bait is the second."""
    record = numbered(mold("test-shut", folder, "Test shut"), 0.89)
    own = _multiplied(advice(("soft", "resin")), 0.89)
    m, (first, *others) = record.measurement, own.windows
    cold = replace(first, fill_c=figure(179.4, "c", 0.02))
    return replace(
        record,
        spec=replace(record.spec, plastisol="soft", mold_material="resin", version="5", stands="tail_up"),
        measurement=replace(m, baits=m.baits[::-1]),
        advice=replace(own, eye_mm=None, windows=(cold, *others), amounts=tuple(map(_turned, own.amounts))),
        pictures=(),
    )


def _turned(one: Amounts) -> Amounts:
    """The amounts of a mold whose baits stand the other way round."""
    turned = {name: getattr(one, name)[::-1] for name in ("bait_g", "bait_ml", "finished")}
    return replace(one, **turned)


def reasoned(record: MoldRecord) -> MoldRecord:
    """The mold with a reason of its own for each figure of its own window, as a real mold has."""
    first, *others = record.advice.windows
    told = {f"{name}": getattr(first, name) for name in REASONED}
    new = {name: replace(one, because=f"test.because_{name}") for name, one in told.items() if one}
    named = {
        name: replace(one, because=f"test.because_{name}") for name, one in record.advice.figures.items()
    }
    advised = replace(record.advice, windows=(replace(first, **new), *others), figures=named)
    return replace(record, advice=advised, made_by=MadeBy(shotbook="0.4.6", tables="7c2b" * 16))


def version(record: MoldRecord, number: int) -> Version:
    """A released version with numbers of its own."""
    share = 1 + number / 31
    told = {
        "cavities": figure(2, "count", 0, "measured"),
        "bait_length_largest": figure(99.3 * share, "mm", 0.002, "measured"),
        "bait_volume_largest": figure(7.9 * share, "ml", 0.01, "measured"),
        "bait_weight_largest": figure(7.4 * share, "g"),
        "shot": figure(21.2 * share, "ml"),
        "shoot": figure(153 * share, "c", 0.03),
        "hold": figure(15.8 * share, "s", 0.3),
        "cool": figure(263 * share, "s", 0.35),
        "limit": figure(165.2 * share, "c", 0.05),
        "fill": figure(176.1 * share, "c", 0.02),
        "print_volume": figure(171.7 * share, "ml", 0.01, "measured"),
    }
    changes = (
        Change(name="bait_weight_largest", before=figure(6.9, "g"), after=told["bait_weight_largest"]),
        Change(name="thinnest", before=None, after=figure(1.43, "mm", 0.02, "measured")),
    )
    place = record.spec.folder / f"v{number}"
    return Version(
        slug=record.spec.slug,
        version=str(number + 6),
        order=number,
        date=f"2026-03-1{number}",
        title=record.spec.title,
        summary="",
        author="The test bench",
        licence="CC0-1.0",
        notes="Wider tail",
        figures=told,
        changes=changes if number == 2 else (),
        pictures=(),
        findings=(
            Finding(level="note", code="test.near", values={"gap": figure(0.283 * share, "mm")}),
            Finding(level="note", code="test.gone", values={"gap": figure(0.577 * share, "mm")}),
        ),
        stop=cold(157.3, "pla") if number == 1 else None,
        made_by=MadeBy(shotbook=f"0.{number}.3", tables=f"{number}a5e" * 16),
        assets=place,
        downloads=(
            Download(
                name="all.zip",
                path=place / "all.zip",
                size_bytes=number * 2_347_000,
                sha256=f"d{number}" * 32,
            ),
        ),
    )


def cold(limit: float, material: str) -> Finding:
    """A stop that tells the lowest limit."""
    told: dict[str, Figure | str] = {"limit": figure(limit, "c", 0.03)}
    told |= {"plastisol": "medium", "mold_material": material}
    return Finding(level="stop", code="stop.too_cold", values=told)


def drifts(record: MoldRecord) -> dict[str, Drift]:
    """What reads differently today: nothing in the first version, three numbers in the second."""
    if not record.versions:
        return {}
    newest = record.versions[0]
    changes = (
        Change(name="shot", before=newest.figures["shot"], after=figure(25.9, "ml")),
        Change(name="hold", before=newest.figures["hold"], after=None),
        Change(name="shoot", before=None, after=figure(147.7, "c", 0.04)),
    )
    today = MadeBy(shotbook="0.7.1", tables="4d1f" * 16)
    told = Drift(changes=changes, stop=cold(159.8, "petg"), causes=("tables",), today=today)
    return {newest.version: told}


def collection(folder: Path) -> Catalogue:
    """The invented molds; `folder` is where their files would lie."""
    return Catalogue(
        molds=tuple(reasoned(vouched(record)) for record in (minnow(folder), crawler(folder), shut(folder))),
        tables=material_tables.load(),
        colours=catalogue.load_colours(),
        requests=REQUESTS,
    )


def build(root: Path, language: str = "en") -> tuple[Catalogue, Path]:
    """Build the site in `root` as the plugin does, and tell what it was built from."""
    made = collection(root / "molds")
    for record in made.molds:
        for file in files(record):
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_bytes(content(file))
    theme = {"name": "shotbook", "language": language}
    config = small_site.configure(root, theme=theme, exclude_docs="*.md")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(site_map, "texts", texts)
        patch.setattr(site_map, "PER_PAGE", PER_PAGE)
        patch.setattr(parts, "written", lambda one, words, url, _: _WRITTEN(one, words, url, drifts(one)))
        patch.setattr(catalogue, "build_all", lambda *_: made)
        return made, plugin.build_site(config, None, lambda *_: None)


def vouched(record: MoldRecord) -> MoldRecord:
    """The mold with the digests of the files that are written for it."""
    versions = tuple(replace(one, downloads=_vouched(one.downloads)) for one in record.versions)
    return replace(record, downloads=_vouched(record.downloads), versions=versions)


def _vouched(downloads: tuple[Download, ...]) -> tuple[Download, ...]:
    return tuple(replace(one, sha256=hashlib.sha256(content(one.path)).hexdigest()) for one in downloads)


def content(file: Path) -> bytes:
    """What stands in a file: no two of them alike."""
    return f"{file.parent.name} {file.name}".encode()


def files(record: MoldRecord) -> list[Path]:
    """Every file that the site copies for a mold."""
    downloads = [d.path for d in (*record.downloads, *(d for v in record.versions for d in v.downloads))]
    turned = [p.turnable.file for p in record.pictures if p.turnable]
    shown = [name for p in record.pictures for name in p.files.values()]
    return downloads + [record.place_of(name) for name in (*shown, *turned)]


def numbered(record: MoldRecord, factor: float) -> MoldRecord:
    """The same mold with every measure multiplied, so that two molds share no number."""
    return replace(
        record,
        measurement=_multiplied(record.measurement, factor),
        advice=_multiplied(record.advice, factor),
        versions=_multiplied(record.versions, factor),
    )


def _multiplied(value: _Record, factor: float) -> _Record:
    made: Any = value
    if isinstance(value, float):
        made = value * factor
    elif isinstance(value, tuple):
        made = tuple(_multiplied(one, factor) for one in value)
    elif isinstance(value, Mapping):
        made = {key: _multiplied(one, factor) for key, one in value.items()}
    elif is_dataclass(value) and not isinstance(value, type):
        made = replace(
            value,
            **{one.name: _multiplied(getattr(value, one.name), factor) for one in fields(value) if one.init},
        )
    return made  # type: ignore[no-any-return]
