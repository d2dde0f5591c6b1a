"""A mold's own page, and its shot card."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from markupsafe import Markup

from builder.model import Amounts, Bait, BatchRow, Drift, Figure, MoldRecord, PartMeasure, Unit
from builder.site import page_data
from builder.site.data_tables import own_amounts
from builder.site.pages.html import Words, declared, measured

PLACED = ("open", "closed", "exploded", "bait", "shot", "annotated", "thickness", "cut", "print", "social")
"""Pictures that have their own place on a mold's page, or are not shown on it."""
ALSO = ("stuck", "yellow", "cloudy")
CARD_SHOTS = (1, 2, 3, 5, 10)
"""Numbers of shots that the card lists."""


class MoldPages:
    """Pages of one mold."""

    def __init__(self, words: Words) -> None:
        """Write in these words."""
        self.words, self.texts = words, words.texts

    def mold(
        self, record: MoldRecord, structured: str = "", drifts: Mapping[str, Drift] | None = None
    ) -> str:
        """A mold's own page; `structured` is its description for search engines (JSON-LD).

        `drifts` tells by version what reads differently today; a version that is not there reads as it did.
        """
        view = mold_view(record)
        return self.words.render(
            "mold.md.jinja",
            drifts={one.version: (drifts or {}).get(one.version, Drift()) for one in record.versions},
            description=self.describe(record),
            general=self.general(record),
            structured=Markup(structured),
            **view,
        )

    def general(self, record: MoldRecord) -> list[tuple[str, Markup]]:
        """Findings that hold whatever is shot, each once: level and sentence."""
        findings = [*record.advice.findings, *record.measurement.findings]
        return list({self.words.tell(f): (f.level, self.words.tell(f)) for f in findings}.values())

    def card(self, record: MoldRecord, style: str, code: str, despite: str = "") -> str:
        """A mold's shot card for the printer, as one file that needs no other (HTML).

        `style` is its style sheet, `code` the address of the picture of its code, empty without one;
        `despite` is why it is being released although it must not be shot.
        """
        return self.words.render(
            "card.html.jinja",
            alone=True,
            style=Markup(style),
            code=code,
            spec=record.spec,
            own=record.advice.windows[0],
            stop=record.stop,
            despite=despite or record.despite,
            eye=record.advice.eye_mm,
            batch=_whole_shots(record.spec.cavities, own_amounts(record)),
        )

    def describe(self, record: MoldRecord) -> str:
        """A mold in one plain sentence, for search engines and shared links; one more when it has a stop."""
        amounts, bait = record.advice.amounts[0], record.measurement.baits[0]
        stop = page_data.card_stop(record, self.texts)
        described = self.texts.say(
            "page.mold.description",
            title=record.spec.title,
            length=measured(bait.length_mm, "mm"),
            weight=amounts.bait_g[0],
            baits=record.spec.cavities,
        )
        return f"{stop} {described}".strip()


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
        "stop": record.stop,
        "despite": record.despite,
        "made_by": record.made_by,
        "amounts": amounts,
        "one_shot": amounts.batch[0],
        "baits": _baits(record, amounts),
        "part_rows": part_rows(measurement.parts),
        "facts": facts(record, amounts),
        "bolts": _alike(measurement.bolts, ("diameter_mm", "length_mm")),
        "pins": _alike(measurement.pins, ("diameter_mm", "clearance_mm")),
        "pictures": {picture.name: picture for picture in record.pictures},
        "pictures_left": [p.name for p in record.pictures if p.name not in PLACED],
        "slot": any(bait.hook_slot for bait in measurement.baits),
        "also": ALSO,
    }


def part_rows(parts: Sequence[PartMeasure]) -> list[tuple[str, list[list[Figure]]]]:
    """What the printed parts need: name of each row, and the figures of each part."""
    rows: list[tuple[str, list[list[float | None]], Unit]] = [
        ("bed", [list(part.bed_mm) for part in parts], "mm"),
        ("height", [[part.height_mm] for part in parts], "mm"),
        ("volume", [[part.volume_ml] for part in parts], "ml"),
        ("overhang", [[part.overhang_mm2] for part in parts], "mm2"),
        ("feature", [[part.smallest_feature_mm] for part in parts], "mm"),
        ("gap", [[part.smallest_gap_mm] for part in parts], "mm"),
        ("flat", [[part.flatness_mm] for part in parts], "mm"),
    ]
    told = [
        (name, [[measured(v, unit) for v in values if v is not None] for values in cells])
        for name, cells, unit in rows
    ]
    return [(name, cells) for name, cells in told if any(cells)]


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


def _whole_shots(cavities: int, amounts: Amounts) -> list[BatchRow]:
    """Rows of the batch table for whole shots."""
    wanted = [shots * cavities for shots in CARD_SHOTS]
    return [row for row in amounts.batch if row.baits in wanted]


def _alike(things: Sequence[Any], names: tuple[str, ...]) -> list[tuple[int, Any]]:
    """Things that read the same, counted, in order of first appearance."""
    groups: dict[tuple[float, ...], list[Any]] = {}
    for thing in things:
        groups.setdefault(tuple(round(getattr(thing, name), 2) for name in names), []).append(thing)
    return [(len(group), group[0]) for group in groups.values()]
