"""A mold's own page, and its shot card."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any

from markupsafe import Markup

from builder import units
from builder.model import (
    Amounts,
    Bait,
    BatchRow,
    Figure,
    MoldRecord,
    PartMeasure,
    PathVerdict,
    Unit,
    Window,
)
from builder.pages.words import Words, declared, measured

_ORIGIN_LETTER = {"measured": "m", "computed": "c", "declared": "d", "common practice": "p"}
PLACED = ("open", "closed", "exploded", "bait", "shot", "annotated", "thickness", "cut", "print", "social")
"""Pictures that have their own place on a mold's page, or are not shown on it."""
ALSO = ("stuck", "yellow", "cloudy")
BATCH_ROWS = (1, 2, 4, 6, 8, 12, 20, 50)
"""Numbers of baits that a mold's own page lists; the bench page has them all."""
CARD_SHOTS = (1, 2, 3, 5, 10)
"""Numbers of shots that the card lists."""


class MoldPages:
    """Pages of one mold."""

    def __init__(self, words: Words) -> None:
        """Write in these words."""
        self.words, self.texts = words, words.texts

    def mold(self, record: MoldRecord, structured: str = "") -> str:
        """A mold's own page; `structured` is its description for search engines (JSON-LD)."""
        view = mold_view(record)
        return self.words.render(
            "mold.md.jinja",
            description=self.describe(record),
            grid=self.grid(record, view["plastisols"], view["materials"]),
            part_rows=part_rows,
            general=self.general(record),
            structured=Markup(structured),
            **view,
        )

    def general(self, record: MoldRecord) -> list[tuple[str, Markup]]:
        """Findings that hold whatever is shot, each once: level and sentence."""
        findings = [*record.advice.findings, *record.measurement.findings]
        return list({self.words.tell(f): (f.level, self.words.tell(f)) for f in findings}.values())

    def card(self, record: MoldRecord, style: str = "", code: str | None = None) -> str:
        """The shot card, a page of its own for the printer (HTML).

        With a `style` sheet it stands alone: no link and no script; `code` is the picture's address then.
        """
        own, amounts = record.advice.windows[0], own_amounts(record)
        return self.words.render(
            "card.html.jinja",
            style=Markup(style),
            code=f"{record.spec.slug}.svg" if code is None else code,
            spec=record.spec,
            own=own,
            plastisols=_in_order(w.plastisol for w in record.advice.windows),
            materials=_in_order(w.mold_material for w in record.advice.windows),
            eye=record.advice.eye_mm,
            batch=_whole_shots(record.spec.cavities, amounts),
        )

    def describe(self, record: MoldRecord) -> str:
        """A mold in one plain sentence, for search engines and shared links."""
        amounts, bait = record.advice.amounts[0], record.measurement.baits[0]
        return self.texts.say(
            "page.mold.description",
            title=record.spec.title,
            length=measured(bait.length_mm, "mm"),
            weight=amounts.bait_g[0],
            baits=record.spec.cavities,
        )

    def grid(
        self, record: MoldRecord, plastisols: Sequence[str], materials: Sequence[str]
    ) -> list[tuple[str, list[Markup]]]:
        """Likely shooting temperatures: a row for each mold material, a cell for each plastisol."""
        windows = {(w.plastisol, w.mold_material): w for w in record.advice.windows}
        return [(m, [self.likely(windows[p, m]) for p in plastisols]) for m in materials]

    def likely(self, window: Window) -> Markup:
        """A window's likely range, Celsius above Fahrenheit; empty when nothing works."""
        if window.likely_c is None or window.shoot_c is None:
            return Markup()
        low, high = window.likely_c
        both = units.show(replace(window.shoot_c, low=low, high=high), self.texts.language)
        return Markup("{}<br><b>{}</b>").format(both.metric.span, both.us.span)


def mold_view(record: MoldRecord) -> dict[str, Any]:
    """What the template of a mold's page needs beside the record itself."""
    advice, measurement = record.advice, record.measurement
    own = advice.windows[0]
    amounts = own_amounts(record)
    return {
        "r": record,
        "spec": record.spec,
        "m": measurement,
        "folder": record.spec.slug,
        "own": own,
        "amounts": amounts,
        "one_shot": amounts.batch[0],
        "batch": [(i, row) for i, row in enumerate(amounts.batch) if row.baits in BATCH_ROWS],
        "baits": _baits(record, amounts),
        "paths": _paths(own),
        "facts": facts(record, amounts),
        "plastisols": _in_order(w.plastisol for w in advice.windows),
        "materials": _in_order(w.mold_material for w in advice.windows),
        "bolts": _alike(measurement.bolts, ("diameter_mm", "length_mm")),
        "pins": _alike(measurement.pins, ("diameter_mm", "clearance_mm")),
        "pictures": {picture.name: picture for picture in record.pictures},
        "pictures_left": [p.name for p in record.pictures if p.name not in PLACED],
        "slot": any(bait.hook_slot for bait in measurement.baits),
        "also": ALSO,
    }


def part_rows(part: PartMeasure) -> list[tuple[str, list[Figure]]]:
    """What a printed part needs: name of each row, and its figures."""
    rows: list[tuple[str, list[float | None], Unit]] = [
        ("bed", list(part.bed_mm), "mm"),
        ("height", [part.height_mm], "mm"),
        ("volume", [part.volume_ml], "ml"),
        ("overhang", [part.overhang_mm2], "mm2"),
        ("feature", [part.smallest_feature_mm], "mm"),
        ("gap", [part.smallest_gap_mm], "mm"),
        ("flat", [part.flatness_mm], "mm"),
    ]
    known = [(name, [v for v in values if v is not None], unit) for name, values, unit in rows]
    return [(name, [measured(v, unit) for v in values]) for name, values, unit in known if values]


def own_amounts(record: MoldRecord) -> Amounts:
    """Amounts for the plastisol that the maker chose."""
    return next(a for a in record.advice.amounts if a.plastisol == record.advice.windows[0].plastisol)


def facts(record: MoldRecord, amounts: Amounts) -> list[tuple[str, str, Figure | None]]:
    """The numbers at the top of a mold's page: name, key in its data, figure."""
    own, bait = record.advice.windows[0], record.measurement.baits[0]
    timed = [("cool", "w.cool", own.cool_s)]
    if record.spec.kind == "injection":
        timed.insert(0, ("hold", "w.hold", own.hold_s))
    return [
        ("length", "", measured(bait.length_mm, "mm")),
        ("weight", "a.bait_g.0", amounts.bait_g[0]),
        ("cavities", "", declared(record.spec.cavities, "count")),
        ("shot", "a.shot_ml", amounts.shot_ml),
        ("shoot", "w.point", own.shoot_c),
        *timed,
    ]


def _baits(record: MoldRecord, amounts: Amounts) -> list[tuple[int, Bait, Figure, str]]:
    """Baits that read the same, counted, with the weight of one and its key in the page's data."""
    groups: dict[tuple[float, float], list[int]] = {}
    for index, bait in enumerate(record.measurement.baits):
        groups.setdefault((round(bait.volume_ml, 1), round(bait.length_mm)), []).append(index)
    return [
        (len(group), record.measurement.baits[group[0]], amounts.bait_g[group[0]], f"a.bait_g.{group[0]}")
        for group in groups.values()
    ]


def _paths(window: Window) -> list[tuple[PathVerdict, str, Figure]]:
    """Each way, with the deciding section's distance before or behind the gate."""
    return [
        (
            path,
            "before" if path.deciding.s_mm < 0 else "behind",
            measured(abs(path.deciding.s_mm), "mm"),
        )
        for path in window.paths
    ]


def _whole_shots(cavities: int, amounts: Amounts) -> list[tuple[int, BatchRow]]:
    """Rows of the batch table for whole shots, with their place in it."""
    wanted = [shots * cavities for shots in CARD_SHOTS]
    return [(index, row) for index, row in enumerate(amounts.batch) if row.baits in wanted]


def _in_order(names: Iterable[str]) -> list[str]:
    """Each name once, in order of first appearance."""
    return list(dict.fromkeys(names))


def _alike(things: Sequence[Any], names: tuple[str, ...]) -> list[tuple[int, Any]]:
    """Things that read the same, counted, in order of first appearance."""
    groups: dict[tuple[float, ...], list[Any]] = {}
    for thing in things:
        groups.setdefault(tuple(round(getattr(thing, name), 2) for name in names), []).append(thing)
    return [(len(group), group[0]) for group in groups.values()]
