"""The tables of a mold's page that its script puts down: heading, columns and rows as text.

They stand in the page's data and not in its HTML, so that a page opens quickly on a phone.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from builder.base import figures, units
from builder.base.texts import Texts
from builder.model import (
    Amounts,
    Figure,
    Measurement,
    MoldRecord,
    Origin,
    PathVerdict,
    Plan,
    Sensitivity,
    ShotCompared,
    Unit,
    Window,
)

MOST_MOVES = 6
"""Constants that a mold's page lists; the rest move little."""
BATCH_ROWS = (1, 2, 4, 6, 8, 12, 20, 50)
"""Numbers of baits that a mold's own page lists; the bench page has them all."""

ORIGINS: Mapping[Origin, str] = {"measured": "m", "computed": "c", "declared": "d", "common practice": "p"}
OPEN = ("paths",)
"""Tables that stand open; all others are for looking things up, and open when they are touched."""

Shown = list[str]
"""Metric value and span, and US value and span where they differ: what pages.Words.number writes."""
Part = str | Shown
"""A piece of a sentence: text, or a figure's texts, with or without the letter of its origin."""
Cell = list[Part]
Table = dict[str, Any]
"""`head` (text), `lead` (text, if there is one), `heads` (texts), `rows` (of cells), `fold` (bool)."""


def shown(figure: Figure, language: str) -> Shown:
    """The figure's texts.

    >>> shown(Figure(value=2.0, low=2.0, high=2.0, unit="count", because="", origin="declared"), "en")
    ['2', '']
    """
    both = units.show(figure, language)
    metric = [both.metric.value, both.metric.span]
    return metric if both.metric == both.us else [*metric, both.us.value, both.us.span]


def lettered(figure: Figure, language: str) -> Shown:
    """The figure's texts, and as the last one the letter of its origin.

    >>> lettered(Figure(value=2.0, low=2.0, high=2.0, unit="count", because="", origin="declared"), "en")
    ['2', '', 'd']
    """
    return [*shown(figure, language), ORIGINS[figure.origin]]


def between(low: float, high: float, unit: Unit, language: str) -> Shown:
    """A range as a figure's texts."""
    both = units.show(figures.between(low, high, unit), language)
    pair = dict.fromkeys(system.range or system.value for system in (both.metric, both.us))
    return [text for system in pair for text in (system, "")]


def sentence(texts: Texts, key: str, **values: Figure | str | int) -> list[Part]:
    """A sentence of the language file in parts."""
    found: list[Figure] = []

    def cut(figure: Figure) -> str:
        found.append(figure)
        return "\0"

    pieces = texts.fill(key, cut, **values).split("\0")
    parts: list[Part] = [pieces[0]]
    for figure, text in zip(found, pieces[1:], strict=True):
        parts += [lettered(figure, texts.language), text]
    return [part for part in parts if part]


def tables(record: MoldRecord, texts: Texts) -> dict[str, Table]:
    """Every table that has a row, by name."""
    makers: Mapping[str, Callable[[MoldRecord, Texts], Table]] = {
        "paths": paths,
        "logged": logged,
        "grid": grid,
        "batch": batch,
        "plan": plan,
        "why": why,
        "moves": moves,
    }
    made = {name: make(record, texts) for name, make in makers.items()}
    return {name: {**table, "fold": name not in OPEN} for name, table in made.items() if table["rows"]}


def _table(texts: Texts, heads: Sequence[str], rows: Sequence[Sequence[Cell]], **words: str) -> Table:
    """A table whose columns and words are keys of the language file."""
    said = {name: texts.say(key) for name, key in words.items()}
    return {**said, "heads": [texts.say(key) for key in heads], "rows": rows}


def paths(record: MoldRecord, texts: Texts) -> Table:
    """For each way through the plastic, the section that decides, its margin, and what it should be."""
    heads = [f"page.window.{name}" for name in ("path", "deciding", "margin", "needed")]
    rows = [_path(one, record.measurement, texts) for one in record.advice.windows[0].paths]
    return _table(texts, heads, rows, head="page.window.paths", lead="page.window.paths_lead")


def _path(verdict: PathVerdict, measured: Measurement, texts: Texts) -> list[Cell]:
    place = verdict.deciding
    side = "before" if place.s_mm < 0 else "behind"
    read = figures.station(place, measured)
    enough: Cell = [texts.say("page.window.enough")]
    return [
        [texts.word(verdict.path)],
        sentence(texts, f"page.window.{side}", thickness=read["thickness"], distance=read["way"]),
        [lettered(verdict.margin, texts.language)],
        [lettered(verdict.needed_mm, texts.language)] if verdict.needed_mm else enough,
    ]


def logged(record: MoldRecord, texts: Texts) -> Table:
    """Shots that the maker logged, beside what was to be expected."""
    heads = ["page.window.date", "page.glance.shoot", "page.window.outcome", "page.window.expected"]
    rows = [_shot(one, texts) for one in record.advice.shots]
    return _table(texts, heads, rows, head="page.window.logged")


def _shot(one: ShotCompared, texts: Texts) -> list[Cell]:
    shot, word = one.shot, texts.word
    at = figures.declared(shot.shot_c, "c")
    times = f", {shot.in_a_row} ×" if shot.in_a_row > 1 else ""
    place = f" ({shot.short_at})" if shot.short_at else ""
    note = f". {shot.note}" if shot.note else ""
    return [
        [str(shot.date)],
        [lettered(at, texts.language), f", {word(shot.plastisol)}, {word(shot.mold_material)}{times}"],
        [f"{word(shot.outcome)}{place}{note}"],
        [f"{word(one.expected)}, ", lettered(one.chance, texts.language), f" {'✓' if one.agrees else '✗'}"],
    ]


def grid(record: MoldRecord, texts: Texts) -> Table:
    """Likely shooting temperatures: a row for each mold material, a column for each plastisol."""
    windows = {(w.mold_material, w.plastisol): w for w in record.advice.windows}
    plastisols = dict.fromkeys(w.plastisol for w in record.advice.windows)
    rows: list[list[Cell]] = [
        [[texts.name("material", m)], *([likely(windows[m, p], texts.language)] for p in plastisols)]
        for m in dict.fromkeys(w.mold_material for w in record.advice.windows)
    ]
    table = _table(
        texts, ["page.choose.material"], rows, head="page.window.table", lead="page.window.table_lead"
    )
    table["heads"] += [texts.name("plastisol", p) for p in plastisols]
    return table


def likely(window: Window, language: str) -> Part:
    """A window's likely range; a dash when nothing works."""
    if window.likely_c is None or window.shoot_c is None:
        return "–"
    low, high = window.likely_c
    return between(low, high, "c", language)


def batch(record: MoldRecord, texts: Texts) -> Table:
    """How much to heat for so many baits; `at` tells each row's place in the data of the plastisol."""
    rows = [(index, row) for index, row in enumerate(own_amounts(record).batch) if row.baits in BATCH_ROWS]
    cells: list[list[Cell]] = [
        [
            [str(row.baits)],
            [str(row.shots)],
            [shown(row.heat_ml, texts.language)],
            [shown(row.heat_g, texts.language)],
        ]
        for _, row in rows
    ]
    heads = [f"page.shoot.{name}" for name in ("baits", "shots", "heat_ml", "heat_g")]
    table = _table(texts, heads, cells, head="page.shoot.batch", lead="page.shoot.batch_lead")
    return {**table, "at": [index for index, _ in rows]}


def plan(record: MoldRecord, texts: Texts) -> Table:
    """Like molds in turn: baits an hour, and how long so many baits take."""
    plans = record.advice.windows[0].plans
    rows = [_plan(one, texts.language) for one in plans]
    table = _table(texts, ["page.cool.plan_molds", "page.cool.plan_rate"], rows, head="page.cool.plan")
    for baits, _ in plans[0].total_s if plans else ():
        table["heads"].append(texts.say("page.cool.plan_total", baits=baits))
    lead = texts.say("page.cool.plan_lead")
    order = texts.say("page.cool.plan_order", molds=plans[0].busy_from) if plans else ""
    return {**table, "lead": f"{lead} {order}"}


def _plan(one: Plan, language: str) -> list[Cell]:
    totals: list[Cell] = [[lettered(total, language)] for _, total in one.total_s]
    return [[str(one.molds)], [lettered(one.baits_per_h, language)], *totals]


def own_amounts(record: MoldRecord) -> Amounts:
    """Amounts for the plastisol that the maker chose."""
    return next(a for a in record.advice.amounts if a.plastisol == record.advice.windows[0].plastisol)


def why(record: MoldRecord, texts: Texts) -> Table:
    """Every figure of the page with its name, its texts, how it came about and where from."""
    own = record.advice.windows[0]
    rows: list[list[Cell]] = [
        [
            [name],
            [shown(figure, texts.language)],
            [f"{texts.say(figure.because)} ({texts.say(f'page.origin.{figure.origin}')})"],
        ]
        for name, figure in dict(_named_figures(record, own, texts)).values()
    ]
    heads = [f"page.numbers.{name}" for name in ("number", "value", "why")]
    return _table(texts, heads, rows, head="page.numbers.each")


def _named_figures(record: MoldRecord, own: Window, texts: Texts) -> Iterator[tuple[str, tuple[str, Figure]]]:
    """Names and figures by what they came of; of two that came of the same, the later name counts."""
    several = len(figures.kinds(record.measurement)) > 1
    for name, figure in record.advice.figures.items():
        of_bait = name.startswith("bait_") or name == "cavity_volume"
        largest = f"{name}_largest" if several and of_bait else name
        yield figure.because, (texts.name("figure", largest), figure)
    said = {
        "page.glance.shoot": own.shoot_c,
        "page.window.fill": own.fill_c,
        "page.window.mold_limit": own.mold_limit_c,
        "page.window.plastisol_limit": own.plastisol_limit_c,
        "page.glance.hold": own.hold_s if record.spec.kind == "injection" else None,
        "page.glance.cool": own.cool_s,
        "figure.cold": own.cold_s,
        "page.glance.rest": own.rest_s,
    }
    for key, told_ in said.items():
        if told_:
            yield told_.because, (texts.say(key), told_)


def _moved(one: Sensitivity, texts: Texts) -> Cell:
    """Where the lower limit moves to; beyond the plastisol's limit nothing fills."""
    low, high = one.fill_at_low_c, one.fill_at_high_c
    never = texts.say("page.numbers.never_fills")
    if low is not None and high is not None:
        return [between(low, high, "c", texts.language)]
    known = low if low is not None else high
    return [never] if known is None else [between(known, known, "c", texts.language), f" – {never}"]


def moves(record: MoldRecord, texts: Texts) -> Table:
    """The constants that move the lower limit most: name, how well it is known, where it moves the limit."""
    rows: list[list[Cell]] = [
        [
            [texts.name("value", one.constant)],
            [between(one.low, one.high, one.unit, texts.language)],
            _moved(one, texts),
        ]
        for one in record.advice.sensitivity[:MOST_MOVES]
    ]
    heads = [f"page.numbers.{name}" for name in ("constant", "known", "moved")]
    return _table(texts, heads, rows, head="page.numbers.moves")
