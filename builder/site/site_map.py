"""The generated site as a mapping from address to text or to a file on disk."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from importlib import resources
from pathlib import Path

from markupsafe import Markup

from builder import build
from builder.base.problems import Faults, Problem, Where
from builder.base.store import canonical, digest_of, sha256
from builder.model import Download, MoldRecord, ShotCompared, Tables
from builder.site import offline, page_data, parts, policy, public_data, sentences
from builder.site.catalogue import Catalogue
from builder.site.offline import Generated, Thing
from builder.site.pages import CollectionPages, Words
from builder.site.place import Place
from builder.spec import mold_file, versions

PER_PAGE = 48
"""Molds on one page of the catalogue."""

FIXED_DATE = "315532800"
"""1980-01-01, the date that a build carries when SOURCE_DATE_EPOCH is not set: same inputs, same bytes."""


texts = sentences.texts


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
    parts.write_many(catalogue, words.texts.language, place)
    made = [parts.of_mold(record, words, place, catalogue) for record in catalogue.molds]
    index = [json.loads(part.entry) for part in made]
    found = {
        **dict(_collection(catalogue, index, [s for p in made for s in p.shots], place, words)),
        **{uri: thing for pair in zip(catalogue.molds, made, strict=True) for uri, thing in _mold(*pair)},
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
        from builder.advice import logbook
        from builder.physics import checks

        checked, agreed = checks.results(catalogue.tables.checks), logbook.agreement(shots)
        made = pages.fixed(catalogue.tables, catalogue.colours, catalogue.molds, checked, agreed)
        return Fixed(texts={f"{name}.md": text for name, text in made.items()})

    if catalogue.store is None:
        return make(Path()).texts
    shown = [canonical(list(shots)), canonical(catalogue.colours)]
    shown += [canonical([record.spec.title, record.spec.colours]) for record in catalogue.molds]
    key = digest_of(
        parts.page_cache_key(pages.texts.language), build.tables_digest(catalogue.tables), *map(sha256, shown)
    )
    return catalogue.store.keep("pages", key, Fixed, make)[0].texts


def _mold(record: MoldRecord, part: parts.Part) -> Iterator[tuple[str, Thing]]:
    """Everything of one mold, by address: what is written about it, and its files."""
    slug = record.spec.slug
    yield from part.texts.items()
    for download in record.downloads:
        yield f"molds/{slug}/{_plain(download)}", build.checked(record.spec, download)
    for name in part.pictures:
        yield f"molds/{slug}/{name}", record.place_of(name)
    for photo in record.photos:
        for name in parts.names(photo):
            yield f"molds/{slug}/{name}", record.photo_assets / name
    for version in record.versions:
        place = f"molds/{slug}/v{version.version}"
        for download in version.downloads:
            if download.address:
                continue
            yield f"{place}/{_plain(download)}", build.checked(record.spec, download)
        frozen = f"{versions.FOLDER}/{version.version}"
        for picture in version.pictures:
            for name in parts.names(picture):
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
