"""A mold's own page, and its shot card."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from markupsafe import Markup

from builder.base import figures
from builder.model import Amounts, BatchRow, Drift, Figure, MoldRecord, Picture, Trouble
from builder.site import page_data, policy, print_view, stand_ins
from builder.site.data_tables import own_amounts
from builder.site.pages.html import Keyed, Words

PLACED = ("open", "closed", "bait", "annotated", "thickness", "cut", "print", "social")
"""Pictures that have their own place on a mold's page, or are not shown on it."""
CAPTIONS = {
    **{
        name: name
        for name in ("closed", "print", "exploded", "annotated", "cut", "thickness", "shot", "bait")
    },
    "open": "open_plain",
    "cut-thinnest": "cut_thinnest",
    "changed": "changed",
    "changed_bait": "changed",
}
"""Captions of pictures by name; others have a plain one."""
SECTIONS = ("print", "bolt", "shoot", "cool", "wrong", "files", "details")
"""Sections of a mold's page in the order of work."""
POURED = ("bolt", "shoot", "cool")
"""Those that an open pour calls by names of its own."""
ALSO = ("stuck", "yellow", "cloudy")
PRINTED = ("height", "volume", "overhang", "feature", "gap", "flat")
"""What is told of each printed part beside the room that it takes on the bed."""
CARD_SHOTS = (1, 2, 3, 5, 10)
"""Numbers of shots that the card lists."""


Read = Mapping[str, Figure]
"""The measurement's figures (base/figures.py)."""

ALIKE_MM = 0.05
"""Bolt holes or pins that differ by less are told together."""


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
        view = mold_view(record) | {"told": self.told(record), "times": self.times(record)}
        general = self.general(record)
        return self.words.render(
            "mold.md.jinja",
            drifts={one.version: (drifts or {}).get(one.version, Drift()) for one in record.versions},
            description=self.describe(record),
            warned=[one for one in general if one[0] != "note"],
            noted=[one for one in general if one[0] == "note"],
            troubles=self.troubles(record),
            about_words=self.about(record),
            print_rows=print_view.rows(record, self.texts, self.words.tables),
            print_time=print_view.time(record, self.words.tables),
            shot_cost=print_view.shot_cost(record, self.texts),
            recipes=self.recipes(record),
            maker_links=self.links(record),
            structured=Markup(structured),
            **view,
        )

    def general(self, record: MoldRecord) -> list[tuple[str, Markup]]:
        """Findings that hold whatever is shot, each once: level and sentence."""
        findings = [*record.advice.findings, *record.measurement.findings]
        return list({self.words.finding(f): (f.level, self.words.finding(f)) for f in findings}.values())

    def troubles(self, record: MoldRecord) -> list[tuple[str, Trouble]]:
        """What may go wrong with the own pair, the likeliest first, with its chance in words."""
        return [(stand_ins.chance(one.chance, self.texts), one) for one in record.advice.windows[0].troubles]

    def recipes(self, record: MoldRecord) -> list[tuple[str, list[Markup]]]:
        """The maker's colours with what goes in, for 100 mL."""
        return [
            (colour.name, [self.words.ingredient(one, one.what) for one in colour.ingredients])
            for colour in record.spec.colours
        ]

    def links(self, record: MoldRecord) -> list[tuple[str, str]]:
        """Where the maker points to: words and address."""
        maker = record.spec.maker
        named = [
            ("video", maker.video),
            ("contact", maker.contact),
            ("thanks", maker.thanks),
            ("ask", maker.ask),
        ]
        told = [(self.texts.say(f"page.maker.{name}"), address) for name, address in named if address]
        return [*told, *((link.title, link.url) for link in maker.links)]

    def about(self, record: MoldRecord) -> list[tuple[str, str]]:
        """What the mold is and who made it: labels (keys of the language file) and words."""
        spec = record.spec
        kind = self.texts.word(spec.kind)
        told = {
            "kind": f"{kind}, {spec.bait_type}" if spec.bait_type else kind,
            "made_for": ", ".join(spec.target),
            "hook": spec.hook,
            "eyes": spec.maker.eyes,
            "maker": spec.author,
            "licence": spec.licence,
        }
        return [(f"page.glance.{name}", words) for name, words in told.items() if words]

    def told(self, record: MoldRecord) -> dict[str, Keyed]:
        """The figures of the own window that words may stand in for, by name."""
        own = record.advice.windows[0]
        figure_of = {"point": own.shoot_c, "fill": own.fill_c, "mold_limit": own.mold_limit_c}
        figure_of |= {"plastisol_limit": own.plastisol_limit_c, "rest": own.rest_s}
        return {
            name: Keyed(figure, f"w.{name}", stand_ins.of_window(own, name, self.texts))
            for name, figure in figure_of.items()
        }

    def times(self, record: MoldRecord) -> list[tuple[str, list[Keyed]]]:
        """The times by the shot's number: its name, open after, cold, rest, open after without rest."""
        own = record.advice.windows[0]
        return [
            (
                str(row.shot) if row.shot else self.texts.say("page.cool.later"),
                [
                    Keyed(row.open_s, f"w.times.{index}.open"),
                    Keyed(row.cold_s, f"w.times.{index}.cold"),
                    Keyed(
                        row.rest_s,
                        f"w.times.{index}.rest",
                        stand_ins.rest(row.rest_s, own.no_rest, self.texts),
                    ),
                    Keyed(row.hurried_s, f"w.times.{index}.hurried"),
                ],
            )
            for index, row in enumerate(own.times)
        ]

    def card(self, record: MoldRecord, style: str, code: str, despite: str = "") -> str:
        """A mold's shot card for the printer, as one file that needs no other (HTML).

        `style` is its style sheet, `code` the address of the picture of its code, empty without one;
        `despite` is why it is being released although it must not be shot.
        """
        return self.words.render(
            "card.html.jinja",
            alone=True,
            style=Markup(style),
            policy=Markup(policy.meta(policy.of_file(style))),
            code=code,
            spec=record.spec,
            own=record.advice.windows[0],
            stop=record.stop,
            despite=despite or record.despite,
            told=self.told(record),
            times=card_times(self.times(record)),
            eye=record.advice.eye_mm,
            batch=_whole_shots(record.spec.cavities, own_amounts(record)),
        )

    def describe(self, record: MoldRecord) -> str:
        """A mold in one plain sentence, for search engines and shared links; one more when it has a stop."""
        measurement, amounts = record.measurement, own_amounts(record)
        several, largest = len(figures.kinds(measurement)) > 1, figures.largest(measurement)
        stop = page_data.card_stop(record, self.texts)
        described = self.texts.say(
            "page.mold.description_largest" if several else "page.mold.description",
            title=record.spec.title,
            length=figures.measured(measurement)[f"bait.{largest}.length"],
            weight=amounts.bait_g[largest],
            baits=record.spec.cavities,
        )
        return f"{stop} {described}".strip()


def mold_view(record: MoldRecord) -> dict[str, Any]:
    """What the template of a mold's page needs beside the record itself."""
    advice, measurement = record.advice, record.measurement
    own = advice.windows[0]
    amounts, read = own_amounts(record), figures.measured(measurement)
    turned = [p.turnable for p in record.pictures if p.name == "open" and p.turnable]
    return {
        "r": record,
        "spec": record.spec,
        "m": measurement,
        "read": read,
        "folder": record.spec.slug,
        "own": own,
        "stop": record.stop,
        "despite": record.despite,
        "made_by": record.made_by,
        "amounts": amounts,
        "one_shot": amounts.batch[0],
        "baits": _baits(record, amounts, read),
        "part_rows": part_rows(len(measurement.parts), read),
        "about": about_figures(record, amounts, read),
        "grains": [grain for grain in ("salt", "flake") if f"{grain}_sinks" in advice.figures],
        "finished": finished(amounts, figures.largest(measurement)),
        "sections": sections(record.spec.kind),
        **photos(record),
        "captions": captions(record.pictures),
        "bolts": _alike(len(measurement.bolts), ("bolt.{}.hole", "bolt.{}.length"), read),
        "pins": _alike(len(measurement.pins), ("pin.{}.diameter", "pin.{}.clearance"), read),
        "turnable": turned[0] if turned else None,
        "turn_error": figures.exact(turned[0].error_mm, "mm", figures.READ, "measured") if turned else None,
        "pictures": {picture.name: picture for picture in (*record.pictures, *record.photos)},
        "pictures_left": [p.name for p in record.pictures if p.name not in PLACED],
        "slot": any(bait.hook_slot for bait in measurement.baits),
        "also": ALSO,
    }


def part_rows(parts: int, read: Read) -> list[tuple[str, list[list[Figure]]]]:
    """Rows of the table of printed parts: name of each row, and the figures of each part."""
    rows = {"bed": ("bed.x", "bed.y"), **{name: (name,) for name in PRINTED}}
    told = [
        (
            row,
            [
                [read[key] for name in names if (key := f"part.{part}.{name}") in read]
                for part in range(parts)
            ],
        )
        for row, names in rows.items()
    ]
    return [(row, cells) for row, cells in told if any(cells)]


def photos(record: MoldRecord) -> dict[str, Any]:
    """The first picture of the page, the photos that follow, and their captions by name."""
    names = [photo.name for photo in record.photos]
    drawn = next((p.name for p in record.pictures if p.name == "bait"), "open")
    first, *others = names or [drawn]
    captions = dict(zip(names, record.spec.maker.captions, strict=False))
    return {"first_picture": first, "more_photos": others, "photo_captions": captions}


def captions(pictures: Sequence[Picture]) -> dict[str, str]:
    """The caption of each picture, as the last part of its key; an open pour has one of its own."""
    found = {picture.name: CAPTIONS.get(picture.name, "other") for picture in pictures}
    poured = any("annotated_open_pour" in picture.alt.code for picture in pictures)
    return found | {"annotated": "annotated_pour"} if poured else found


def sections(kind: str) -> list[tuple[str, str]]:
    """Sections of a mold's page: anchor, and key of the short name that the bar of sections has for it."""
    own = POURED if kind == "open pour" else ()
    return [(name, f"page.nav.{name}{'_pour' if name in own else ''}") for name in SECTIONS]


def about_figures(record: MoldRecord, amounts: Amounts, read: Read) -> list[tuple[str, Figure, str]]:
    """Length and weight of the bait and how many there are: label, figure, key in the page's data."""
    largest = figures.largest(record.measurement)
    of_bait = "" if len(figures.kinds(record.measurement)) == 1 else "_largest"
    count = "cavities_pour" if record.spec.kind == "open pour" else "cavities"
    return [
        (f"page.glance.length{of_bait}", read[f"bait.{largest}.length"], ""),
        (f"page.glance.weight{of_bait}", amounts.bait_g[largest], f"a.bait_g.{largest}"),
        (f"page.glance.{count}", figures.declared(record.spec.cavities, "count"), ""),
    ]


def finished(amounts: Amounts, largest: int) -> list[tuple[str, str, Figure]]:
    """The cold bait that stands for the mold: name, key in its data, figure."""
    if not amounts.finished:
        return []
    told = figures.finished(amounts.finished[largest])
    return [(name, f"a.finished.{name}", figure) for name, figure in told.items()]


def card_times(times: list[tuple[str, list[Keyed]]]) -> list[tuple[str, Keyed, Keyed]]:
    """Open after and rest of the first three shots and of every later one, for the card."""
    return [(name, cells[0], cells[2]) for name, cells in (*times[:3], times[-1])]


def _baits(record: MoldRecord, amounts: Amounts, read: Read) -> list[tuple[int, Figure, Figure, Figure, str]]:
    """Baits that are alike, counted: length, volume and weight of one, and its weight's key in the data."""
    return [
        (
            len(kind),
            read[f"bait.{kind[0]}.length"],
            read[f"bait.{kind[0]}.volume"],
            amounts.bait_g[kind[0]],
            f"a.bait_g.{kind[0]}",
        )
        for kind in figures.kinds(record.measurement)
    ]


def _whole_shots(cavities: int, amounts: Amounts) -> list[BatchRow]:
    """Rows of the batch table for whole shots."""
    wanted = [shots * cavities for shots in CARD_SHOTS]
    return [row for row in amounts.batch if row.baits in wanted]


def _alike(count: int, keys: tuple[str, ...], read: Read) -> list[tuple[int, tuple[Figure, ...]]]:
    """Figures of things that read the same, counted, in order of first appearance."""
    groups: list[list[tuple[Figure, ...]]] = []
    for index in range(count):
        told = tuple(read[found] for key in keys if (found := key.format(index)) in read)
        mine = next((group for group in groups if _close(group[0], told)), None)
        if mine is None:
            groups.append([told])
        else:
            mine.append(told)
    return [(len(group), group[0]) for group in groups]


def _close(one: tuple[Figure, ...], other: tuple[Figure, ...]) -> bool:
    """True for the same figures but for what no one measures."""
    pairs = zip(one, other, strict=False)
    return len(one) == len(other) and all(abs(a.value - b.value) < ALIKE_MM for a, b in pairs)
