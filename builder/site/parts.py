"""What is written about one mold: its pages and data, kept in the store as files until the site is written.

Only their names and digests are held in memory. The pages of many molds are written by workers.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from markupsafe import Markup

from builder import build
from builder.base import serialize
from builder.base.problems import Faults
from builder.base.store import Store, canonical, digest_of, sha256, stage_version
from builder.history import compare, drift
from builder.model import Drift, MoldRecord, Picture, ShotCompared, Tables
from builder.site import batch, page_data, policy, public_data, qr
from builder.site.catalogue import Catalogue
from builder.site.offline import Kept
from builder.site.pages import CollectionPages, MoldPages, Words
from builder.site.place import Place
from builder.site.sentences import texts

MANY = 12
"""Molds from which on workers write the pages: to start them costs as much as to write a few."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """Generated texts of one mold by address, its picture files, its index entry as JSON."""

    texts: Mapping[str, str | Kept]
    pictures: tuple[str, ...]
    entry: str
    shots: tuple[ShotCompared, ...]
    """Its logged shots beside the prediction."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Filed:
    """A part as the store has it: of each text its address, its size in bytes and its digest, in order."""

    texts: tuple[tuple[str, int, str], ...]
    pictures: tuple[str, ...]
    entry: str
    shots: tuple[ShotCompared, ...]


def page_cache_key(*settings: str) -> str:
    """Digest of everything that pages depend on beside molds and tables."""
    return digest_of(stage_version("site", "templates", "texts", "tables"), *settings)


def of_mold(record: MoldRecord, words: Words, place: Place, catalogue: Catalogue) -> Part:
    """Generated texts of a mold; in the store, if the catalogue has one."""
    store = catalogue.store
    if store is None or not isinstance(record, batch.StoredMold):
        return written(record, words, place, _drifts(record, catalogue))
    key = batch.page_key(record.draft, _settings(words.texts.language, place))
    filed, folder = store.keep("pages", key, Filed, lambda new: _filed(record, words, place, catalogue, new))
    record.forget()
    kept = {
        uri: Kept(path=folder / _file(index), size_bytes=size, sha256=digest)
        for index, (uri, size, digest) in enumerate(filed.texts)
    }
    return Part(texts=kept, pictures=filed.pictures, entry=filed.entry, shots=filed.shots)


def _filed(record: MoldRecord, words: Words, place: Place, catalogue: Catalogue, folder: Path) -> Filed:
    """Write a mold's texts into the folder, each as a file."""
    part = written(record, words, place, _drifts(record, catalogue))
    told = []
    for index, (uri, text) in enumerate(sorted(part.texts.items())):
        data = str(text).encode()
        (folder / _file(index)).write_bytes(data)
        told.append((uri, len(data), sha256(data)))
    return Filed(texts=tuple(told), pictures=part.pictures, entry=part.entry, shots=part.shots)


def _file(index: int) -> str:
    """The name of a text's file in its entry of the store: an address may hold what no file name should."""
    return f"text-{index}"


def _drifts(record: MoldRecord, catalogue: Catalogue) -> Mapping[str, Drift]:
    """What reads differently today in each released version; nothing is known without a store."""
    store, folder = catalogue.store, record.spec.folder
    if store is None:
        return {}
    return {v.version: drift.of(folder, v, catalogue.tables, store) for v in record.versions}


def _settings(language: str, place: Place) -> str:
    """Digest of what a mold's pages depend on beside the mold."""
    return page_cache_key(language, place.root, str(place.folders))


@dataclass(frozen=True, slots=True, kw_only=True)
class PageJob:
    """A mold whose pages a worker of this machine is to write, and where they are kept."""

    draft: build.Draft
    tables: bytes
    store: Path
    language: str
    place: Place


def write_many(catalogue: Catalogue, language: str, place: Place) -> None:
    """Have workers write the pages that the store lacks, where these are many.

    What one of them cannot do is left, and done where the pages are wanted: there its faults are told.
    """
    store, settings = catalogue.store, _settings(language, place)
    if store is None or catalogue.engine.count == 1:
        return
    drafts = [record.draft for record in catalogue.molds if isinstance(record, batch.StoredMold)]
    missing = [one for one in drafts if not store.has("pages", batch.page_key(one, settings))]
    if len(missing) < MANY:
        return
    shared, folder = canonical(catalogue.tables), store.folder.resolve()
    jobs = (
        PageJob(draft=one, tables=shared, store=folder, language=language, place=place) for one in missing
    )
    for _ in catalogue.engine(write_pages, jobs):
        pass


def write_pages(job: PageJob) -> None:
    """Put the pages of a job's mold into the store."""
    tables, words = _shared(job.tables, job.language)
    store = Store(job.store)
    alone = Catalogue(molds=(), tables=tables, colours={}, store=store)
    with suppress(Faults):
        of_mold(batch.StoredMold(job.draft, tables, store), words, job.place, alone)


@lru_cache(maxsize=1)
def _shared(tables: bytes, language: str) -> tuple[Tables, Words]:
    """What all jobs of a worker share."""
    known = serialize.from_json(Tables, json.loads(tables))
    return known, Words(texts(language).with_own(known), known)


def written(record: MoldRecord, words: Words, place: Place, drifts: Mapping[str, Drift]) -> Part:
    """What is written about a mold; `drifts` tells by version what reads differently today."""
    words = words.of_kind(record.spec.kind)
    return Part(
        texts=dict(_texts(record, words, place, drifts)),
        pictures=tuple(name for picture in record.pictures for name in names(picture)),
        entry=public_data.compact(page_data.index_entry(record, words.texts)),
        shots=record.advice.shots,
    )


def _texts(
    record: MoldRecord, words: Words, place: Place, drifts: Mapping[str, Drift]
) -> Iterator[tuple[str, str]]:
    """The pages and data of a mold, by address, in the words of its kind."""
    slug, pages = record.spec.slug, MoldPages(words)
    yield f"molds/{slug}.md", pages.mold(record, public_data.structured(record, place), drifts)
    yield f"cards/{slug}.svg", code(place.page(f"molds/{slug}"))
    yield f"data/molds/{slug}.js", page_data.script("shotbook.mold", page_data.mold_data(record, words.texts))
    yield f"data/molds/{slug}.json", public_data.as_json(record)
    yield from _moved(record, words, place)
    limit_c = record.advice.windows[0].plastisol_limit_c.value
    told = [
        compare.without_hold(compare.version_within(version, limit_c), record.spec.kind)
        for version in record.versions
    ]
    for version in told:
        drifted = compare.drift_within(drifts.get(version.version, Drift()), limit_c)
        yield f"molds/{slug}/v{version.version}.md", CollectionPages(words).version(version, told, drifted)
        over = {
            "slug": f"{slug}/v{version.version}",
            "over": page_data.overlays(version.pictures, words.texts),
        }
        yield f"data/molds/{slug}/v{version.version}.js", page_data.script("shotbook.mold", over)


def _moved(record: MoldRecord, words: Words, place: Place) -> Iterator[tuple[str, str]]:
    """At each address that the mold and its versions had before: a page that leads to the new one."""
    slug, title, told = record.spec.slug, record.spec.title, policy.meta(policy.of_file())
    kept = [(f"/v{one.version}", f"{title} {one.version}") for one in record.versions]
    for old in record.spec.renamed_from:
        for end, name in [("", title), *kept]:
            up = "../" * (end.count("/") + place.folders)
            address = f"{up}{Place(folders=place.folders).page(f'{slug}{end}')}"
            moved = words.render("moved.html.jinja", title=name, address=address, policy=Markup(told))
            yield place.file(f"molds/{old}{end}"), moved


def names(picture: Picture) -> tuple[str, ...]:
    """The files of a picture."""
    turnable = (picture.turnable.file,) if picture.turnable else ()
    return (*picture.files.values(), *turnable)


def code(address: str) -> str:
    """A QR code of the address as an SVG file of its own."""
    return qr.qr_svg(address).replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1)
