"""Text files of a version: README, licence, changes, and a post for a forum."""

from __future__ import annotations

from collections.abc import Iterable

from builder.base.texts import Texts
from builder.model import Change, Version

LINES = (
    "bait_length",
    "bait_length_largest",
    "bait_weight",
    "bait_weight_largest",
    "cavities",
    "shot",
    "shoot",
    "hold",
    "cool",
    "print_volume",
)
"""The numbers that a post tells, in this order; of several sizes of bait those of the largest."""


def readme(version: Version, files: Iterable[str], texts: Texts) -> str:
    """README.txt of the zip: the mold, its temperatures, the folders, the address of its page."""
    texts = texts.of_kind(version.kind)
    folders = dict.fromkeys(name.partition("/")[0] for name in files)
    return _paragraphs(
        _stop(version, texts),
        _heading(version, texts),
        version.summary,
        "\n".join(_lines(version, texts, "- {label}: {value}")),
        _warnings(version, texts),
        "\n".join(
            _about(folder, texts) for folder in folders if f"release.zip.{_key(folder)}" in texts.entries
        ),
        texts.say("release.safety"),
        _rights(version, texts),
    )


def licence(version: Version, texts: Texts) -> str:
    """LICENCE.txt: the SPDX identifier of the licence, and the address of its text."""
    return _paragraphs(
        f"SPDX-License-Identifier: {version.licence}",
        _rights(version, texts),
        texts.say("release.licence_text"),
    )


def changes(version: Version, texts: Texts) -> str:
    """The entry of the changelog, in Markdown: the maker's words, then old and new value of each number."""
    texts = texts.of_kind(version.kind)
    table = [
        texts.say("release.table"),
        "|---|---|---|",
        *(_row(change, texts) for change in version.changes),
    ]
    head = texts.say("release.entry", version=version.version, date=version.date)
    numbers = "\n".join(table) if version.changes else ""
    return _paragraphs(f"## {head}", _stop(version, texts), version.notes, numbers)


def post(version: Version, texts: Texts, address: str = "", *, markdown: bool) -> str:
    """A post for a forum or a share page; `address` is that of the mold's page, or ''."""
    texts = texts.of_kind(version.kind)
    heading = _heading(version, texts)
    pattern = "- **{label}:** {value}" if markdown else "- {label}: {value}"
    return _paragraphs(
        _stop(version, texts),
        f"# {heading}" if markdown else heading,
        version.summary,
        "\n".join(_lines(version, texts, pattern)),
        texts.say("release.what_changed", notes=version.notes),
        texts.say("release.read_on", address=address) if address else "",
        f"**{texts.say('release.safety')}**" if markdown else texts.say("release.safety"),
        _rights(version, texts),
    )


def _stop(version: Version, texts: Texts) -> str:
    """Why it must not be shot, and why it was released nevertheless; "" when it may be."""
    if version.stop is None:
        return ""
    told = [texts.say("stop.head"), texts.finding(version.stop)]
    if version.despite:
        told.append(texts.say("stop.despite", reason=version.despite))
    return " ".join(told)


def _warnings(version: Version, texts: Texts) -> str:
    """The findings that warn or stop, in the order of the page."""
    told = (texts.finding(one) for one in version.findings if one.level != "note")
    return "\n".join(f"- {sentence}" for sentence in told)


def _heading(version: Version, texts: Texts) -> str:
    return texts.say("release.heading", title=version.title, version=version.version)


def _lines(version: Version, texts: Texts, pattern: str) -> Iterable[str]:
    for name in LINES:
        if name in version.figures:
            label, value = (
                texts.say(f"release.number.{name}"),
                texts.say("release.value", value=version.figures[name]),
            )
            yield pattern.format(label=label, value=value)


def _row(change: Change, texts: Texts) -> str:
    before, after = (
        texts.say("release.value", value=figure) if figure else texts.say("release.none")
        for figure in (change.before, change.after)
    )
    return f"| {texts.say(f'release.number.{change.name}')} | {before} | {after} |"


def _about(folder: str, texts: Texts) -> str:
    return texts.say(f"release.zip.{_key(folder)}", name=folder)


def _key(name: str) -> str:
    """A file's or folder's name as a key of the language file."""
    return name.partition(".")[0].replace("-", "_").lower()


def _rights(version: Version, texts: Texts) -> str:
    key = "release.rights" if version.author else "release.rights_nobody"
    return texts.say(key, licence=version.licence, author=version.author)


def _paragraphs(*parts: str) -> str:
    return "\n\n".join(part for part in parts if part) + "\n"
