"""A mold's numbers and findings as plain text for a terminal, and as plain values for other programs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from builder.base import figures, units
from builder.base.problems import Problem
from builder.base.texts import Texts
from builder.model import (
    Advice,
    Agreement,
    Change,
    Drift,
    Figure,
    Finding,
    Fitted,
    Measurement,
    MoldSpec,
    Version,
)
from builder.site.drift_text import drift_lead

LEVELS = ("stop", "warn", "note")
_COLUMNS = ("what", "value", "range", "us", "origin")
_OF_BAIT = ("volume", "weight", "length", "height", "width", "sockets", "socket")
_WAYS_IN = {
    "sprue": ("mouth", "volume"),
    "runner": ("volume",),
    "vents": ("count", "depth"),
    "bolts": ("count", "hole"),
    "pins": ("count", "diameter", "clearance"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One figure of the report: the thing it belongs to, its name (`cli.row.*`), and what it feeds."""

    thing: str
    name: str
    figure: Figure
    feeds: str = ""


def lines(mold: MoldSpec, measured: Measurement, advice: Advice) -> Iterator[Line]:
    """Every figure that `shotbook measure` prints of a mold, in the order of a shot."""
    read = figures.measured(measured)
    own = next(amounts for amounts in advice.amounts if amounts.plastisol == mold.plastisol)
    for index, (bait, weight) in enumerate(zip(measured.baits, own.bait_g, strict=True)):
        its = {name: read.get(f"bait.{index}.{name}") for name in _OF_BAIT} | {"weight": weight}
        yield from _told(f"bait {bait.name}", its)
        if bait.thinnest:
            thickness = read[f"bait.{index}.thinnest.thickness"]
            yield Line(
                thing=f"bait {bait.name}", name="thinnest", figure=thickness, feeds=bait.thinnest_feeds
            )
        yield from _told(f"bait {bait.name}", {"limb": read.get(f"bait.{index}.limb")})
    for thing, names in _WAYS_IN.items() if mold.kind == "injection" else ():
        yield from _told(thing, {name: read.get(f"{thing}.{name}") for name in names})
    yield from _told("shot", {"volume": own.shot_ml, "projected": read["projected"]})
    window = advice.windows[0]
    hold = window.hold_s if mold.kind == "injection" else None
    heat = {
        "shoot": window.shoot_c,
        "never_above": window.plastisol_limit_c,
        "hold": hold,
        "cool": window.cool_s,
        "cool_later": window.times[-1].open_s,
        "cold": window.cold_s,
        "rest": window.rest_s,
    }
    yield from _told("shooting", heat)
    for index, part in enumerate(measured.parts):
        sizes = {f"size_{axis}": read[f"part.{index}.size.{axis}"] for axis in "xyz"}
        yield from _told(part.name, {**sizes, "volume": read[f"part.{index}.volume"]})


def _told(thing: str, named: Mapping[str, Figure | None]) -> Iterator[Line]:
    """A line for each figure that there is."""
    return (
        Line(thing=thing, name=name, figure=figure) for name, figure in named.items() if figure is not None
    )


def table(mold: MoldSpec, measured: Measurement, advice: Advice, texts: Texts) -> str:
    """The reading's warnings; the figures in columns by things, in both systems, with range and origin."""
    texts = texts.of_kind(mold.kind)
    rows = [tuple(texts.say(f"cli.head.{column}") for column in _COLUMNS)]
    thing = ""
    for line in lines(mold, measured, advice):
        if line.thing != thing:
            thing = line.thing
            rows.append((_thing(thing, texts), "", "", "", ""))
        rows.append(_row(line, texts))
    head = texts.say(
        "cli.mold",
        title=mold.title,
        kind=texts.word(mold.kind),
        parts=len(mold.parts),
        baits=len(measured.baits),
    )
    own = texts.say(
        "cli.own",
        plastisol=_name("plastisol", mold.plastisol, texts),
        material=_name("material", mold.mold_material, texts),
    )
    doubts = findings((one for one in measured.findings if one.level == "warn"), texts)
    return "\n".join([head, own, *doubts, "", *_aligned(rows), ""])


def placed(texts: Texts, measured: Measurement) -> Texts:
    """The same texts, in which a bait's several ends are told by their places, not by letters."""
    said: dict[str, str] = {}
    for bait in measured.baits:
        for path in bait.paths if len(bait.paths) > 1 else ():
            x, y, z = (f"{round(value, 1) + 0.0:.1f}" for value in path.stations[-1].at_mm)
            said[f"words.{path.name}"] = texts.say("cli.end", bait=bait.name, x=x, y=y, z=z)
    return replace(texts, entries={**texts.entries, **said})


def data(mold: MoldSpec, measured: Measurement, advice: Advice) -> dict[str, object]:
    """The same figures as plain values, for `shotbook measure --json`."""
    return {
        "slug": mold.slug,
        "title": mold.title,
        "kind": mold.kind,
        "cavities": len(measured.baits),
        "bolts": len(measured.bolts),
        "pins": len(measured.pins),
        "vents": len(measured.vents),
        "figures": [
            {
                "thing": line.thing,
                "name": line.name,
                "value": line.figure.value,
                "low": line.figure.low,
                "high": line.figure.high,
                "unit": line.figure.unit,
                "origin": line.figure.origin,
            }
            for line in lines(mold, measured, advice)
        ],
    }


def findings(found: Iterable[Finding], texts: Texts) -> list[str]:
    """Findings as sentences, the gravest first, each with its level before it, equal ones counted."""
    ordered = sorted(found, key=lambda finding: LEVELS.index(finding.level))
    told = Counter(_sentence(one, texts) for one in ordered)
    return [sentence if count == 1 else f"{sentence} ({count} ×)" for sentence, count in told.items()]


def checked(mold: MoldSpec, found: Iterable[Finding], texts: Texts) -> dict[str, object]:
    """A mold's findings as plain values, the gravest first: level, name, sentence."""
    texts = texts.of_kind(mold.kind)
    ordered = sorted(found, key=lambda finding: LEVELS.index(finding.level))
    told = [{"level": one.level, "code": one.code, "text": texts.finding(one)} for one in ordered]
    return {"slug": mold.slug, "title": mold.title, "findings": told}


def check_data(molds: Sequence[object], problems: Iterable[Problem]) -> dict[str, object]:
    """What `check` found as plain values: the molds that could be read, and the faults of the others."""
    faults = [
        {
            "file": one.where.file,
            "line": one.where.line,
            "column": one.where.column,
            "key": one.where.key,
            "what": one.what,
            "expected": one.expected,
            "remedy": one.remedy,
        }
        for one in problems
    ]
    return {"molds": list(molds), "faults": faults}


def _sentence(finding: Finding, texts: Texts) -> str:
    """Level, sentence and, where the pages mark it in a picture, the place."""
    sentence = f"{texts.say(f'cli.level.{finding.level}')}: {_spaced(texts.finding(finding))}"
    if finding.at_mm is None:
        return sentence
    x, y, z = (f"{round(value, 1) + 0.0:.1f}" for value in finding.at_mm)
    return f"{sentence} {texts.say('cli.at', x=x, y=y, z=z)}"


def fitted(found: Sequence[Fitted], agreement: Agreement, texts: Texts) -> str:
    """Logged shots against the prediction, then each constant as the table and as the log has it."""
    if not agreement.shots:
        return texts.say("cli.fit.no_shots")
    agreed = texts.say("cli.fit.agreed", agreed=agreement.agreed, shots=agreement.shots)
    outcomes = [
        texts.say("cli.fit.outcome", outcome=outcome, agreed=hits, shots=count)
        for outcome, (hits, count) in agreement.by_outcome.items()
    ]
    if not found:
        return "\n".join([agreed, *outcomes, "", texts.say("cli.fit.nothing")])
    heads = ("constant", "table", "range", "suggested", "suggested_range", "shots")
    rows = [tuple(texts.say(f"cli.fit.{head}") for head in heads), *(_fit_row(one, texts) for one in found)]
    return "\n".join([agreed, *outcomes, "", *_aligned(rows), "", texts.say("cli.fit.then")])


def changed(changes: Sequence[Change], texts: Texts) -> str:
    """Differences between two versions of a mold: old and new value of each figure."""

    def show(figure: Figure | None) -> str:
        return units.plain(figure, texts.language) if figure else texts.say("release.none")

    rows = [(texts.say(f"release.number.{one.name}"), show(one.before), show(one.after)) for one in changes]
    head = tuple(texts.say(f"release.page.{column}") for column in ("number", "before", "now"))
    return "\n".join(_aligned([head, *rows]))


def drifted(version: Version, drift: Drift, texts: Texts) -> str:
    """What reads differently today in a released version: since when, why, and each number then and now."""
    texts = texts.of_kind(version.kind)
    lead = [f"{version.slug}: {' '.join(drift_lead(version, drift, texts))}"]
    if drift.stop and not version.stop:
        lead.append(
            f"{texts.say('stop.head')} {texts.say('stop.today')} {_spaced(texts.finding(drift.stop))}"
        )
    return "\n".join(["", *lead, *([changed(drift.changes, texts)] if drift.changes else [])])


def _fit_row(one: Fitted, texts: Texts) -> tuple[str, ...]:
    plastisol, _, name = one.constant.rpartition(".")
    label = _name("value", name, texts)
    if plastisol:
        label = f"{label}, {_name('plastisol', plastisol, texts)}"
    table = figures.of_table(one.table)
    was, now = (units.show(figure, texts.language).metric for figure in (table, one.suggested))
    return (label, was.value, was.range, now.value, now.range, str(one.shots))


def _row(line: Line, texts: Texts) -> tuple[str, ...]:
    both = units.show(line.figure, texts.language)
    label = texts.say(f"cli.row.{line.name}")
    if line.feeds:
        ends = line.feeds.split(", ")
        where = texts.word(ends[0]) if len(ends) == 1 else texts.say("cli.ends", count=len(ends))
        label = texts.say("cli.feeds", what=label, where=where)
    american = (
        ""
        if both.us == both.metric
        else f"{both.us.value} ({both.us.range})"
        if both.us.range
        else both.us.value
    )
    return (
        f"  {label}",
        both.metric.value,
        both.metric.range,
        american,
        texts.say(f"page.origin.{line.figure.origin}"),
    )


def _thing(thing: str, texts: Texts) -> str:
    """A heading: a bait with its name, a thing of the mold in words, a part as the maker calls it."""
    if thing.startswith("bait "):
        return texts.say("cli.bait", name=thing.removeprefix("bait "))
    return texts.entries.get(f"cli.thing.{thing}", thing)


def _name(list_name: str, name: str, texts: Texts) -> str:
    return texts.entries.get(f"{list_name}.{name}", name)


def _aligned(rows: Sequence[tuple[str, ...]]) -> list[str]:
    """Columns two blanks apart, each as wide as its longest entry."""
    plain = [[_spaced(cell) for cell in row] for row in rows]
    widths = [max(map(len, column)) for column in zip(*plain, strict=True)]
    return [
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in plain
    ]


def _spaced(text: str) -> str:
    """Text with the blanks that a terminal counts as one column."""
    return text.replace("\u00a0", " ").replace("\u202f", " ").replace("\u2009", " ")
