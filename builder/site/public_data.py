"""Public data of a mold: JSON with its schema, feed entry, structured data (JSON-LD)."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape as escape_html
from typing import Any

from builder.base import serialize
from builder.base.texts import Texts
from builder.model import Advice, Finding, FromMaker, Kind, MadeBy, Measurement, MoldRecord, Version
from builder.site.place import Place

DIGITS = 7
"""Significant digits of a published number: more than any of them is worth, fewer than a float has."""
MOST_ENTRIES = 50
_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


@dataclass(frozen=True, slots=True, kw_only=True)
class PublishedFile:
    """A file that a visitor can take."""

    name: str
    size_bytes: int
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PublishedMold:
    """A mold as published: no path of the machine that built it."""

    slug: str
    title: str
    version: str
    kind: Kind
    cavities: int
    plastisol: str
    mold_material: str
    licence: str
    author: str
    bait_type: str
    target: tuple[str, ...]
    photos: tuple[str, ...]
    maker: FromMaker
    """What the maker says beside the mold: links, hardware, print settings, prices."""
    stop: Finding | None
    """Why it must not be shot with its own plastisol in its own mold material."""
    despite: str
    """Why the maker released it nevertheless."""
    made_by: MadeBy
    measurement: Measurement
    advice: Advice
    files: tuple[PublishedFile, ...]
    withdrawn: str = ""
    """Why these files are no longer offered; empty for a mold that is."""


def published(record: MoldRecord, despite: str = "") -> PublishedMold:
    """The record without anything that is only the builder's; `despite` as in Version, if told now."""
    spec = record.spec
    return PublishedMold(
        slug=spec.slug,
        title=spec.title,
        version=spec.version,
        kind=spec.kind,
        cavities=spec.cavities,
        plastisol=spec.plastisol,
        mold_material=spec.mold_material,
        licence=spec.licence,
        author=spec.author,
        bait_type=spec.bait_type,
        target=spec.target,
        photos=spec.photos,
        maker=spec.maker,
        stop=record.stop,
        despite=despite or record.despite,
        made_by=record.made_by,
        measurement=record.measurement,
        advice=record.advice,
        files=tuple(
            PublishedFile(name=d.name, size_bytes=d.size_bytes, sha256=d.sha256) for d in record.downloads
        ),
        withdrawn=record.withdrawn.withdrawn if record.withdrawn else "",
    )


def as_json(record: MoldRecord, despite: str = "") -> str:
    """The published mold as JSON text; `schema` describes it."""
    return f"{serialize.text(published(record, despite), DIGITS)}\n"


def withdrawn_json(frozen: str, version: Version) -> str:
    """The frozen JSON of a version that was withdrawn, with the reason and without its files."""
    return compact({**json.loads(frozen), "files": [], "withdrawn": version.withdrawn})


def withdrawals(molds: Sequence[MoldRecord]) -> list[dict[str, Any]]:
    """Every withdrawn version: mold, number, reason, day, and SHA-256 of the files to give up.

    A file that another version still offers is not among them.
    """
    kept = {file.sha256 for mold in molds for file in mold.downloads}
    kept |= {file.sha256 for mold in molds for version in mold.versions for file in version.downloads}
    return [
        {
            "slug": version.slug,
            "version": version.version,
            "reason": version.withdrawn,
            "date": version.withdrawn_on,
            "files": sorted(set(version.recalled) - kept),
        }
        for mold in molds
        for version in mold.versions
        if version.withdrawn
    ]


def schema() -> str:
    """The JSON Schema of a published mold as JSON text."""
    return json.dumps(serialize.schema(PublishedMold), ensure_ascii=False, indent=1) + "\n"


def compact(value: object) -> str:
    """JSON without needless space."""
    return json.dumps(value, ensure_ascii=False, separators=(",", ":")) + "\n"


def in_script(value: object) -> str:
    """JSON that may stand in a script or a page: no character in it means anything to HTML.

    >>> in_script({"a": "</script><!--"})
    '{"a":"\\\\u003c/script\\\\u003e\\\\u003c!--"}'
    """
    text = compact(value).strip()
    for mark in "<>&\u2028\u2029":
        text = text.replace(mark, f"\\u{ord(mark):04x}")
    return text


def structured(record: MoldRecord, place: Place) -> str:
    """schema.org's description of a mold as a 3DModel with its files, as JSON-LD."""
    spec = record.spec
    files = f"{place.root}molds/{spec.slug}"
    about: dict[str, object] = {
        "@context": "https://schema.org",
        "@type": "3DModel",
        "name": spec.title,
        "url": place.page(f"molds/{spec.slug}"),
        "version": spec.version,
        "license": f"https://spdx.org/licenses/{spec.licence}.html",
        "encoding": [
            {"@type": "MediaObject", "contentUrl": f"{files}/{d.name}", "sha256": d.sha256}
            for d in record.downloads
        ],
    }
    if spec.author:
        about["author"] = {"@type": "Person", "name": spec.author}
    return in_script(about)


def feed(versions: Sequence[Version], title: str, place: Place, texts: Texts) -> str:
    """New versions and withdrawals as an Atom feed (RFC 4287), the newest first."""
    site_url = place.root
    newest = sorted(versions, key=lambda v: (_updated(v), v.slug, v.order), reverse=True)[:MOST_ENTRIES]
    updated = _updated(newest[0]) if newest else "1980-01-01T00:00:00Z"
    head = (
        f'<?xml version="1.0" encoding="utf-8"?>\n<feed xmlns="http://www.w3.org/2005/Atom">\n'
        f"<title>{escape(title)}</title>\n<id>{escape(site_url)}feed.xml</id>\n<updated>{updated}</updated>\n"
        f'<link rel="self" href="{escape(site_url)}feed.xml"/>\n<link href="{escape(site_url)}"/>\n'
        f"<author><name>{escape(title)}</name></author>\n"
    )
    return head + "".join(_entry(version, place, texts) for version in newest) + "</feed>\n"


def escape(text: str) -> str:
    """The text in XML, without what has no place there (XML 1.0, section 2.2), such as control characters.

    >>> escape("a & b\x0b\ufffe")
    'a &amp; b'
    """
    return escape_html(_NOT_XML.sub("", text))


def _updated(version: Version) -> str:
    """When a version was last news; a withdrawal on the day of the release comes after it."""
    return f"{version.withdrawn_on}T00:00:01Z" if version.withdrawn_on else f"{version.date}T00:00:00Z"


def _entry(version: Version, place: Place, texts: Texts) -> str:
    said = version.withdrawn or version.notes or version.summary
    if version.stop:
        said = f"{texts.say('page.versions.stop')} {said}"
    address = escape(place.page(f"molds/{version.slug}/v{version.version}"))
    author = f"<author><name>{escape(version.author)}</name></author>\n" if version.author else ""
    title = f"{version.title} {version.version}"
    if version.withdrawn:
        title = f"{texts.say('page.versions.withdrawn')} {title}"
    return (
        f"<entry>\n<title>{escape(title)}</title>\n<id>{address}</id>\n"
        f'<link href="{address}"/>\n<updated>{_updated(version)}</updated>\n{author}'
        f"<summary>{escape(said)}</summary>\n</entry>\n"
    )
