"""Which number belongs at which place of a released version's page: one line for each figure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from builder.model import Change, Drift, Figure, Version
from tests.numbers import sentences
from tests.numbers.expected import Line, Places, findings, megabytes, worked_out
from tests.numbers.quantity import Quantity, figure


def within(one: Figure, limit_c: float) -> Quantity | None:
    """A figure as it may be told today: no temperature lies above today's limit."""
    if one.unit != "c":
        return figure(one)
    return replace(figure(one), high=min(one.high, limit_c)) if one.value <= limit_c else None


def changed(
    section: str, changes: Sequence[Change], heads: tuple[str, str], limit_c: float, at: Places
) -> Iterator[Line]:
    """A table of numbers before and after."""
    for change in changes:
        for head, one in zip(heads, (change.before, change.after), strict=True):
            if one and (now := within(one, limit_c)):
                yield at.cell(section, at.say(f"release.number.{change.name}"), head), now


def drifted(version: Version, drift: Drift, limit_c: float, at: Places) -> Iterator[Line]:
    """What reads differently today."""
    if drift.stop and not version.stop:
        yield at.gap("", "stop.too_cold", "limit"), figure(drift.stop.values["limit"])  # type: ignore[arg-type]
    if not drift.changes:
        return
    since, today = "release.drift.since", "release.drift.today"
    yield at.gap("drift", since, "version"), version.version
    yield at.gap("drift", since, "date"), version.date
    yield at.gap("drift", since, "shotbook"), version.made_by.shotbook
    yield at.gap("drift", since, "tables"), version.made_by.tables[:8]
    yield at.gap("drift", today, "shotbook"), drift.today.shotbook
    yield at.gap("drift", today, "tables"), drift.today.tables[:8]
    heads = (at.say("release.drift.then"), at.say("release.drift.now"))
    yield from changed("drift", drift.changes, heads, limit_c, at)


def version_page(
    version: Version, newest: Version, at: Places, drift: Drift, limit_c: float
) -> Iterator[Line]:
    """A released version's page, today."""
    if version.stop:
        yield at.gap("", "stop.too_cold", "limit"), figure(version.stop.values["limit"])  # type: ignore[arg-type]
    yield from drifted(version, drift, limit_c, at)
    title = sentences.same(at.language, "release.page.title")
    yield f" | {title}:version", f"{version.version} · Shotbook"
    yield at.gap("", "release.page.description", "version"), version.version
    yield at.gap("", "release.page.description", "date"), version.date
    yield " | span", version.version
    yield f" | {title}:version", version.version
    if version != newest:
        yield at.gap("", "release.page.newer", "version"), newest.version
    by = at.say("page.catalogue.by").replace("{author}", version.author)
    licence = at.say("page.files.licence_only").replace("{licence}", version.licence)
    yield at.gap("", "release.page.released", "date"), f"{version.date} · {by} · {licence}"
    heads = (at.say("release.page.before"), at.say("release.page.now"))
    yield from changed("changed", version.changes, heads, limit_c, at)
    yield from worked_out("numbers", version.made_by, at)
    for name, one in version.figures.items():
        if now := within(one, limit_c):
            yield at.label("numbers", f"release.number.{name}"), now
    for finding in version.findings:
        if finding.code in sentences.entries(at.language):
            yield from findings("findings", [finding], at)
    for download in version.downloads:
        yield "files | li", f"{download.name} {megabytes(download.size_bytes)} {download.sha256}"
