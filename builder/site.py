"""The whole generated site as plain data: address to text, or to a file on the disk."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from importlib import resources
from pathlib import Path

from builder import pagedata, pictures, reader, records
from builder.catalogue import Catalogue
from builder.model import MoldRecord
from builder.pages import CollectionPages, MoldPages, Words
from builder.texts import Texts, flatten

PER_PAGE = 48
"""Molds on one page of the catalogue."""

Generated = Mapping[str, str | Path]


def generate(catalogue: Catalogue, language: str = "en", site_url: str = "") -> Generated:
    """Everything that is not written by hand: pages (.md), data, downloads and pictures, by address."""
    words = Words(texts(language))
    pages, molds = CollectionPages(words), MoldPages(words)
    index = pagedata.index_data(catalogue.molds, words.texts)
    fixed = pages.fixed(catalogue.tables, catalogue.colours, catalogue.molds)
    return {
        **dict(_catalogue(index, pages)),
        **{f"{name}.md": text for name, text in fixed.items()},
        **{uri: thing for record in catalogue.molds for uri, thing in _mold(record, molds, site_url)},
        "data/colours.js": pagedata.script(
            "shotbook.colours", pagedata.colours_data(catalogue.colours, pages.texts)
        ),
        "data/index.js": pagedata.script("shotbook.index", index),
    }


def texts(language: str) -> Texts:
    """The sentences of one language; Faults when its file cannot be read."""
    file = f"{language}.yaml"
    text = resources.files("builder").joinpath("texts", file).read_text(encoding="utf-8")
    content = reader.read_plain(text, file)
    if not isinstance(content, dict):
        raise TypeError(f"{file} has no sections")
    return Texts(language=language, entries=dict(flatten(content)))


def shell(language: str) -> dict[str, str]:
    """The words of the frame round every page (builder/theme/main.html)."""
    entries = texts(language).entries
    return {k.removeprefix("page.shell."): v for k, v in entries.items() if k.startswith("page.shell.")}


def _catalogue(index: Sequence[Mapping[str, object]], pages: CollectionPages) -> Iterator[tuple[str, str]]:
    """The catalogue's pages: the first is the site's own, the others lie in a folder."""
    groups = [index[start : start + PER_PAGE] for start in range(0, len(index), PER_PAGE)] or [()]
    for number, group in enumerate(groups, 1):
        uri = "index.md" if number == 1 else f"catalogue/{number}.md"
        yield uri, pages.catalogue(group, number, len(groups), len(index))


def _mold(record: MoldRecord, pages: MoldPages, site_url: str) -> Iterator[tuple[str, str | Path]]:
    """Everything of one mold."""
    slug = record.spec.slug
    yield f"molds/{slug}.md", pages.mold(record)
    yield f"cards/{slug}.html", pages.card(record)
    yield f"cards/{slug}.svg", code(f"{site_url}molds/{slug}.html")
    for download in record.downloads:
        yield f"molds/{slug}/{download.name}", download.path
    for picture in record.pictures:
        for name in picture.files.values():
            yield f"molds/{slug}/{name}", record.assets / name
        if picture.turnable:
            yield f"molds/{slug}/{picture.turnable.file}", record.assets / picture.turnable.file
    yield f"data/molds/{slug}.js", pagedata.script("shotbook.mold", pagedata.mold_data(record, pages.texts))
    yield f"data/molds/{slug}.json", json.dumps(published(record), ensure_ascii=False, indent=1) + "\n"


def code(address: str) -> str:
    """A QR code of the address as an SVG file of its own."""
    return pictures.qr_svg(address).replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1)


def published(record: MoldRecord) -> dict[str, object]:
    """A mold's record as anybody may read it: no path of the machine that built it."""
    told = {
        "measurement": records.to_json(record.measurement),
        "advice": records.to_json(record.advice),
        "files": [{"name": d.name, "size_bytes": d.size_bytes, "sha256": d.sha256} for d in record.downloads],
    }
    spec = record.spec
    about = {
        "slug": spec.slug,
        "title": spec.title,
        "version": spec.version,
        "kind": spec.kind,
        "cavities": spec.cavities,
        "plastisol": spec.plastisol,
        "mold_material": spec.mold_material,
        "licence": spec.licence,
        "author": spec.author,
    }
    return {**about, **told}
