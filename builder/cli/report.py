"""A mold's numbers and findings as plain text for a terminal, and as plain values for other programs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from builder.base import units
from builder.base.texts import Texts
from builder.model import (
    Advice,
    Agreement,
    Bait,
    Change,
    Drift,
    Figure,
    Finding,
    Fitted,
    Measurement,
    MoldSpec,
    Origin,
    Unit,
    Version,
)
from builder.site.told import drift_lead

LEVELS = ("stop", "warn", "note")
_COLUMNS = ("what", "value", "range", "us", "origin")


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One figure of the report: the thing it belongs to, its name (`cli.row.*`), and what it feeds."""

    thing: str
    name: str
    figure: Figure
    feeds: str = ""


def lines(mold: MoldSpec, measured: Measurement, advice: Advice) -> Iterator[Line]:
    """Every figure of a mold that `shotbook measure` tells, in the order of a shot."""
    for bait, weight in zip(measured.baits, _own(mold, advice)[1], strict=True):
        yield from _bait(bait, weight, measured)
    yield from _ways_in(measured)
    for name, figure in (("volume", _own(mold, advice)[0]), ("projected", _area(measured))):
        yield Line(thing="shot", name=name, figure=figure)
    own = advice.windows[0]
    for name, heat in (
        ("shoot", own.shoot_c),
        ("hold", own.hold_s),
        ("cool", own.cool_s),
        ("rest", own.rest_s),
    ):
        if heat is not None and (name != "hold" or mold.kind == "injection"):
            yield Line(thing="shooting", name=name, figure=heat)
    for part in measured.parts:
        for name, size in zip(("size_x", "size_y", "size_z"), part.size_mm, strict=True):
            yield Line(thing=part.name, name=name, figure=_length(size, measured))
        yield Line(thing=part.name, name="volume", figure=_volume(part.volume_ml, measured))


def table(mold: MoldSpec, measured: Measurement, advice: Advice, texts: Texts) -> str:
    """The figures in columns, a heading for each thing, both systems of units, range and origin for each."""
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
    return "\n".join([head, own, "", *_aligned(rows), ""])


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


def _sentence(finding: Finding, texts: Texts) -> str:
    """Level, sentence and, where the pages mark it in a picture, the place."""
    sentence = f"{texts.say(f'cli.level.{finding.level}')}: {_spaced(texts.tell(finding))}"
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
    """What reads differently in two versions of a mold, old and new value side by side."""

    def show(figure: Figure | None) -> str:
        return units.plain(figure, texts.language) if figure else texts.say("release.none")

    rows = [(texts.say(f"release.number.{one.name}"), show(one.before), show(one.after)) for one in changes]
    head = tuple(texts.say(f"release.page.{column}") for column in ("number", "before", "now"))
    return "\n".join(_aligned([head, *rows]))


def drifted(version: Version, drift: Drift, texts: Texts) -> str:
    """What reads differently today in a released version: since when, why, and each number then and now."""
    lead = [f"{version.slug}: {' '.join(drift_lead(version, drift, texts))}"]
    if drift.stop and not version.stop:
        lead.append(f"{texts.say('stop.head')} {texts.say('stop.today')} {_spaced(texts.tell(drift.stop))}")
    return "\n".join(["", *lead, *([changed(drift.changes, texts)] if drift.changes else [])])


def _fit_row(one: Fitted, texts: Texts) -> tuple[str, ...]:
    plastisol, _, name = one.constant.rpartition(".")
    label = _name("value", name, texts)
    if plastisol:
        label = f"{label}, {_name('plastisol', plastisol, texts)}"
    table = _figure(one.table.value, one.table.low, one.table.high, one.table.unit)
    was, now = (units.show(figure, texts.language).metric for figure in (table, one.suggested))
    return (label, was.value, was.range, now.value, now.range, str(one.shots))


def _bait(bait: Bait, weight: Figure, measured: Measurement) -> Iterator[Line]:
    sizes = {"length": bait.length_mm, "height": bait.height_mm, "width": bait.width_mm}
    figures = {"volume": _volume(bait.volume_ml, measured), "weight": weight}
    figures |= {name: _length(size, measured) for name, size in sizes.items()}
    if bait.sockets:
        figures |= {"sockets": _count(len(bait.sockets))}
        figures |= {"socket": _length(bait.sockets[0].diameter_mm, measured)}
    for name, figure in figures.items():
        yield Line(thing=f"bait {bait.name}", name=name, figure=figure)
    if bait.thinnest:
        thickness = _length(bait.thinnest.thickness_mm, measured)
        yield Line(thing=f"bait {bait.name}", name="thinnest", figure=thickness, feeds=bait.thinnest_feeds)


def _ways_in(measured: Measurement) -> Iterator[Line]:
    """Sprue, runner, vents, bolts and pins."""
    if sprue := measured.sprue:
        yield Line(thing="sprue", name="mouth", figure=_length(sprue.mouth_diameter_mm, measured))
        yield Line(thing="sprue", name="volume", figure=_volume(sprue.volume_ml, measured))
        yield Line(thing="runner", name="volume", figure=_volume(measured.runner.volume_ml, measured))
    sizes = (
        ("vents", "depth", [vent.depth_mm for vent in measured.vents]),
        ("bolts", "hole", [bolt.diameter_mm for bolt in measured.bolts]),
        ("pins", "diameter", [pin.diameter_mm for pin in measured.pins]),
        ("pins", "clearance", [pin.clearance_mm for pin in measured.pins]),
    )
    for thing, name, values in sizes:
        if name != "clearance":
            yield Line(thing=thing, name="count", figure=_count(len(values)))
        if values:
            yield Line(thing=thing, name=name, figure=_spread(values, measured.length_error_mm))


def _own(mold: MoldSpec, advice: Advice) -> tuple[Figure, tuple[Figure, ...]]:
    """Volume of a shot and weight of each bait, for the mold's own plastisol."""
    own = next(amounts for amounts in advice.amounts if amounts.plastisol == mold.plastisol)
    return own.shot_ml, own.bait_g


def _figure(value: float, low: float, high: float, unit: Unit, origin: Origin = "measured") -> Figure:
    return Figure(value=value, low=low, high=high, unit=unit, because="", origin=origin)


def _volume(value: float, measured: Measurement) -> Figure:
    spread = value * measured.volume_share
    return _figure(value, value - spread, value + spread, "ml")


def _area(measured: Measurement) -> Figure:
    spread = measured.projected_mm2 * measured.volume_share
    return _figure(
        measured.projected_mm2, measured.projected_mm2 - spread, measured.projected_mm2 + spread, "mm2"
    )


def _length(value: float, measured: Measurement) -> Figure:
    return _figure(value, max(0.0, value - measured.length_error_mm), value + measured.length_error_mm, "mm")


def _spread(values: Sequence[float], error: float) -> Figure:
    """The middle one of several sizes; the range holds them all."""
    middle = sorted(values)[len(values) // 2]
    return _figure(middle, max(0.0, min(values) - error), max(values) + error, "mm")


def _count(number: int) -> Figure:
    return _figure(number, number, number, "count")


def _row(line: Line, texts: Texts) -> tuple[str, ...]:
    both = units.show(line.figure, texts.language)
    label = texts.say(f"cli.row.{line.name}")
    if line.feeds:
        label = texts.say("cli.feeds", what=label, where=line.feeds)
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
