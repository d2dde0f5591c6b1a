"""The generated site as a mapping from address to text or to a file on disk."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib import resources
from pathlib import Path

from markupsafe import Markup

from builder import build
from builder.base import serialize
from builder.base.contained import Checked
from builder.base.problems import Faults, Problem, Where
from builder.base.store import Store, canonical, digest_of, sha256, stage_version
from builder.base.texts import Texts, flatten
from builder.history import compare, drift
from builder.model import Download, Drift, MoldRecord, Picture, ShotCompared, Tables
from builder.site import batch, offline, page_data, policy, public_data
from builder.site.catalogue import Catalogue
from builder.site.offline import Generated
from builder.site.pages import CollectionPages, MoldPages, Words
from builder.site.place import Place
from builder.spec import mold_file, versions, yaml_reader

MANY = 12
"""Molds from which on workers write the pages: to start them costs as much as to write a few."""
PER_PAGE = 48
"""Molds on one page of the catalogue."""

FIXED_DATE = "315532800"
"""1980-01-01, the date that a build carries when SOURCE_DATE_EPOCH is not set: same inputs, same bytes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """Generated texts of one mold by address, its picture files, its index entry as JSON."""

    texts: Mapping[str, str]
    pictures: tuple[str, ...]
    entry: str
    shots: tuple[ShotCompared, ...]
    """Its logged shots beside the prediction."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fixed:
    """The pages that there are once: texts by address."""

    texts: Mapping[str, str]


def generate(
    catalogue: Catalogue,
    language: str = "en",
    place: Place | None = None,
    site_name: str = "Shotbook",
) -> Generated:
    """Everything that is not written by hand: pages (.md), data, downloads and pictures, by address.

    `place` is where the first of them will stand, for codes, feed and structured data.
    """
    words, place = Words(texts(language).with_own(catalogue.tables), catalogue.tables), place or Place()
    _write_many(catalogue, words.texts.language, place)
    parts = [_part(record, words, place, catalogue) for record in catalogue.molds]
    index = [json.loads(part.entry) for part in parts]
    found = {
        **dict(_collection(catalogue, index, [s for p in parts for s in p.shots], place, words)),
        **{uri: thing for pair in zip(catalogue.molds, parts, strict=True) for uri, thing in _mold(*pair)},
        "data/mold.schema.json": public_data.schema(),
        "data/mold-file.schema.json": spec_schema(catalogue.tables),
        "feed.xml": public_data.feed(
            [v for m in catalogue.molds for v in m.versions], site_name, place, words.texts
        ),
        "data/withdrawn.json": public_data.compact(public_data.withdrawals(catalogue.molds)),
    }
    if place.alone:
        found["app.webmanifest"] = public_data.compact(offline.app(words.texts, site_name, place))
    refuse_addresses(found)
    return {**found, "sw.js": offline.worker(found, words, place)} if place.alone else found


def languages() -> tuple[str, ...]:
    """The languages that there are sentences in."""
    files = resources.files("builder").joinpath("texts").iterdir()
    return tuple(sorted(file.name.removesuffix(".yaml") for file in files if file.name.endswith(".yaml")))


def refuse_addresses(generated: Generated) -> None:
    """Raise Faults when a file would be published under a name that is not plain, all such files together."""
    problems = [
        Problem(
            where=Where(file=str(thing) if isinstance(thing, Path) else "mold.yaml"),
            what=f"nothing can be published under the name {uri!r}",
            expected="letters, digits, blanks and hyphens, and a known ending",
            remedy="rename the file",
        )
        for uri, thing in generated.items()
        if not policy.is_address(uri)
    ]
    if problems:
        raise Faults(problems)


def texts(language: str) -> Texts:
    """The sentences of one language; Faults when its file cannot be read."""
    text = resources.files("builder").joinpath("texts", f"{language}.yaml").read_text(encoding="utf-8")
    return _parsed(text, language)


@cache
def _parsed(text: str, language: str) -> Texts:
    """A language file, parsed once in a process, as long as its text is the same."""
    file = f"{language}.yaml"
    content = yaml_reader.read_plain(text, file)
    if not isinstance(content, dict):
        raise TypeError(f"{file} has no sections")
    return Texts(language=language, entries=dict(flatten(content)))


def spec_schema(tables: Tables) -> str:
    """The JSON Schema of mold.yaml, for the editors of those who draw molds."""
    return json.dumps(mold_file.schema(tables), ensure_ascii=False, indent=1) + "\n"


def shell(language: str, themes: Sequence[str], preview: bool = False) -> dict[str, str]:
    """What the frame round every page says, wears and allows (builder/theme/frame.html).

    `themes` are the theme's folders; `preview` is for pages that are shown while they are written.
    """
    entries = texts(language).entries
    words = {k.removeprefix("page.shell."): v for k, v in entries.items() if k.startswith("page.shell.")}
    first = resources.files("builder").joinpath("templates", "first.js").read_text(encoding="utf-8").strip()
    sheet = typography(themes)
    return {
        **words,
        **({"typography": sheet} if sheet else {}),
        "language": language,
        "first": first,
        "policy": policy.meta(policy.of_page([first], preview)),
    }


def typography(themes: Sequence[str]) -> str:
    """Address of Material's style sheet among a theme's folders; empty where the theme has none of it."""
    sheets = (sheet for theme in themes for sheet in Path(theme).glob("assets/stylesheets/main.*.min.css"))
    return next((f"assets/stylesheets/{sheet.name}" for sheet in sheets), "")


def edit_uri(uri: str, molds: Path, docs: Path) -> str | None:
    """Path from the docs folder to the mold.yaml of a mold's page; None for other pages."""
    kind, _, rest = uri.partition("/")
    file = molds / rest.partition("/")[0].removesuffix(".md") / "mold.yaml"
    made = kind == "molds" and file.exists()
    return Path(os.path.relpath(file, docs)).as_posix() if made else None


def _collection(
    catalogue: Catalogue,
    index: Sequence[Mapping[str, object]],
    shots: Sequence[ShotCompared],
    place: Place,
    words: Words,
) -> Iterator[tuple[str, str]]:
    """The catalogue's pages, the pages that there are once, and the data that all scripts share."""
    pages = CollectionPages(words)
    groups = [index[start : start + PER_PAGE] for start in range(0, len(index), PER_PAGE)] or [()]
    for number, group in enumerate(groups, 1):
        uri = "index.md" if number == 1 else f"catalogue/{number}.md"
        yield uri, pages.catalogue(group, number, len(groups), len(index))
    yield from _once(catalogue, shots, pages).items()
    titles = {record.spec.slug: record.spec.title for record in catalogue.molds}
    yield "requests.md", pages.requests(catalogue.requests, titles, catalogue.ask)
    yield (
        "card.html",
        pages.words.render(
            "card.html.jinja",
            alone=False,
            place=place,
            policy=Markup(policy.meta(policy.of_page())),
            withdrawn=pages.texts.entries["page.shell.withdrawn"],
            unset=place.is_unset(),
        ),
    )
    colours = page_data.colours_data(catalogue.colours, pages.texts)
    yield "data/colours.js", page_data.script("shotbook.colours", colours)
    yield "data/index.js", page_data.script("shotbook.index", index)


def _once(catalogue: Catalogue, shots: Sequence[ShotCompared], pages: CollectionPages) -> Mapping[str, str]:
    """The pages that there are once, by address, from the store if nothing they depend on has changed."""

    def make(_: Path) -> Fixed:
        from builder import advice
        from builder.physics import checks

        checked, agreed = checks.results(catalogue.tables.checks), advice.agreement(shots)
        made = pages.fixed(catalogue.tables, catalogue.colours, catalogue.molds, checked, agreed)
        return Fixed(texts={f"{name}.md": text for name, text in made.items()})

    if catalogue.store is None:
        return make(Path()).texts
    shown = [canonical(list(shots)), canonical(catalogue.colours)]
    shown += [canonical([record.spec.title, record.spec.colours]) for record in catalogue.molds]
    key = digest_of(
        page_cache_key(pages.texts.language), build.tables_digest(catalogue.tables), *map(sha256, shown)
    )
    return catalogue.store.keep("pages", key, Fixed, make)[0].texts


def page_cache_key(*settings: str) -> str:
    """Digest of everything that pages depend on beside molds and tables."""
    return digest_of(stage_version("site", "templates", "texts", "tables"), *settings)


def _part(record: MoldRecord, words: Words, place: Place, catalogue: Catalogue) -> Part:
    """Generated texts of a mold, cached in the store."""
    store = catalogue.store
    if store is None:
        return _written(record, words, place, {})
    settings = _settings(words.texts.language, place)

    def make() -> Part:
        folder = record.spec.folder
        drifts = {v.version: drift.of(folder, v, catalogue.tables, store) for v in record.versions}
        return _written(record, words, place, drifts)

    return batch.cached(store, record, settings, Part, make)


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


def _write_many(catalogue: Catalogue, language: str, place: Place) -> None:
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
        _part(batch.StoredMold(job.draft, tables, store), words, job.place, alone)


@lru_cache(maxsize=1)
def _shared(tables: bytes, language: str) -> tuple[Tables, Words]:
    """What all jobs of a worker share."""
    known = serialize.from_json(Tables, json.loads(tables))
    return known, Words(texts(language).with_own(known), known)


def _written(record: MoldRecord, words: Words, place: Place, drifts: Mapping[str, Drift]) -> Part:
    """What is written about a mold; `drifts` tells by version what reads differently today."""
    words = words.of_kind(record.spec.kind)
    return Part(
        texts=dict(_texts(record, words, place, drifts)),
        pictures=tuple(name for picture in record.pictures for name in _names(picture)),
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


def _mold(record: MoldRecord, part: Part) -> Iterator[tuple[str, str | Path | Checked]]:
    """Everything of one mold, by address: what is written about it, and its files."""
    slug = record.spec.slug
    yield from part.texts.items()
    for download in record.downloads:
        yield f"molds/{slug}/{_plain(download)}", build.checked(record.spec, download)
    for name in part.pictures:
        yield f"molds/{slug}/{name}", record.place_of(name)
    for photo in record.photos:
        for name in _names(photo):
            yield f"molds/{slug}/{name}", record.photo_assets / name
    for version in record.versions:
        place = f"molds/{slug}/v{version.version}"
        for download in version.downloads:
            if download.address:
                continue
            yield f"{place}/{_plain(download)}", build.checked(record.spec, download)
        frozen = f"{versions.FOLDER}/{version.version}"
        for picture in version.pictures:
            for name in _names(picture):
                drawn = record.files[f"{frozen}/{version.assets.name}/{name}"]
                yield f"{place}/{name}", build.checked(record.spec, drawn)
        if numbers := record.files.get(f"{frozen}/{versions.RECORD}"):
            kept = build.checked(record.spec, numbers)
            told = public_data.withdrawn_json(kept.read().decode(), version) if version.withdrawn else kept
            yield f"data/molds/{slug}/{version.version}.json", told


def _plain(download: Download) -> str:
    """The name that a file is offered under; Faults when a browser might run it, or it leads elsewhere."""
    if policy.is_download(download.name):
        return download.name
    what = f"no file can be offered under the name {download.name!r}"
    expected = f"a plain name that ends in {', '.join(policy.DOWNLOADS)}"
    raise Faults(
        [Problem(where=Where(file=str(download.path)), what=what, expected=expected, remedy="rename it")]
    )


def _names(picture: Picture) -> tuple[str, ...]:
    """The files of a picture."""
    turnable = (picture.turnable.file,) if picture.turnable else ()
    return (*picture.files.values(), *turnable)


def code(address: str) -> str:
    """A QR code of the address as an SVG file of its own."""
    from builder import pictures

    return pictures.qr_svg(address).replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1)
