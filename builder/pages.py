"""Records to Markdown: one Jinja template to a page kind, which places and computes nothing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import jinja2
from markupsafe import Markup, escape

from builder import plots, units
from builder.model import (
    Amounts,
    Bait,
    Figure,
    Finding,
    Ingredient,
    MoldRecord,
    PartMeasure,
    PathVerdict,
    Sourced,
    Tables,
    Unit,
    Window,
)
from builder.texts import Texts

TEMPLATES = Path(__file__).parent / "templates"
_ORIGIN_LETTER = {"measured": "m", "computed": "c", "declared": "d", "common practice": "p"}
PLACED = ("open", "closed", "exploded", "bait", "shot", "annotated", "thickness", "cut", "print", "social")
"""Pictures that have their own place on a mold's page, or are not shown on it."""
SHOWN = ("bait_length", "bait_volume", "bait_weight", "shot", "cavities")
"""Headline figures that a mold's page has shown before it lists them."""
ALSO = ("stuck", "yellow", "cloudy")
"""What goes wrong whatever the mold's numbers say."""
COMPARED = (
    ("page.glance.kind", "sheet.kind"),
    ("page.compare.type", "sheet.type"),
    ("page.glance.made_for", "sheet.target"),
    ("page.glance.length", "sheet.bait_length"),
    ("page.glance.weight", "a.bait_g.0"),
    ("page.glance.cavities", "cavities"),
    ("page.glance.shot", "a.shot_ml"),
    ("page.glance.shoot", "w.point"),
    ("page.window.fill", "w.fill"),
    ("page.window.mold_limit", "w.mold_limit"),
    ("page.glance.hold", "w.hold"),
    ("page.glance.cool", "w.cool"),
    ("page.glance.rest", "w.rest"),
    ("figure.thinnest", "sheet.thinnest"),
    ("page.print.bed", "sheet.bed"),
    ("page.compare.bolts", "sheet.bolts"),
    ("page.compare.plastisol", "sheet.plastisol"),
    ("page.compare.material", "sheet.material"),
)
"""What molds are compared by: label, and place in the page's data."""
BATCH_ROWS = (1, 2, 3, 4, 6, 8, 10, 12, 16, 20, 30, 50)
"""Numbers of baits that a mold's own page lists; the bench page has them all."""


class Pages:
    """All page kinds in one language."""

    def __init__(self, texts: Texts) -> None:
        """Read the templates once."""
        self.texts = texts
        self.safe = Texts(
            language=texts.language, entries={k: str(escape(v)) for k, v in texts.entries.items()}
        )
        self.env = jinja2.Environment(
            loader=jinja2.FileSystemLoader(TEMPLATES),
            undefined=jinja2.StrictUndefined,
            autoescape=True,
            trim_blocks=True,
            lstrip_blocks=True,
        )
        self.env.globals.update(
            say=self.say,
            tell=self.tell,
            describe=texts.describe,
            num=self.number,
            point=self.point,
            bare=self.plain_number,
            part_rows=part_rows,
            share=lambda value: measured(value, "share"),
            measured=measured,
            keyed=Keyed,
            size=self.size,
            table_value=lambda value: self.plain_number(sourced(value)),
            word=texts.word,
            named=texts.name,
        )

    def render(self, template: str, **values: Any) -> str:  # noqa: ANN401 - what the template takes
        """One page's text from a template of builder/templates."""
        return self.env.get_template(template).render(lang=self.texts.language, **values)

    def mold(self, record: MoldRecord) -> str:
        """A mold's own page."""
        view = mold_view(record)
        own = record.advice.windows[0]
        return self.render(
            "mold.md.jinja",
            description=self.describe(record),
            grid=self.grid(record, view["plastisols"], view["materials"]),
            figures=self.figures(record, view["amounts"]),
            plot=own.plot and Markup(plots.window_svg(own.plot, self.texts)),
            **view,
        )

    def catalogue(self, molds: Sequence[MoldRecord], number: int, count: int, total: int) -> str:
        """One page of the catalogue, `number` of `count`; `total` molds in all."""
        name = {1: "index.html"}
        return self.render(
            "index.md.jinja",
            root="" if number == 1 else "../",
            cards=[self.card(record) for record in molds],
            page=number,
            pages=count,
            total=total,
            previous=name.get(number - 1, f"catalogue/{number - 1}.html") if number > 1 else None,
            next=f"catalogue/{number + 1}.html" if number < count else None,
        )

    def card(self, record: MoldRecord) -> dict[str, Any]:
        """A mold as the catalogue shows it."""
        picture = next((p for p in record.pictures if p.name == "bait"), None)
        amounts = _own_amounts(record)
        return {
            "slug": record.spec.slug,
            "title": record.spec.title,
            "kind": record.spec.bait_type or self.texts.word(record.spec.kind),
            "author": record.spec.author,
            "picture": picture.files[min(picture.files)] if picture else None,
            "height": round(400 * picture.height_px / picture.width_px) if picture else 0,
            "facts": [(name, figure) for name, _, figure in _facts(record, amounts)[:5]],
        }

    def fixed(
        self, tables: Tables, colours: Mapping[str, Sequence[Ingredient]], molds: Sequence[MoldRecord]
    ) -> dict[str, str]:
        """The pages that there are once: name to text."""
        say = self.texts.say
        words = [
            {"id": word, "term": say(f"glossary.{word}.term"), "means": say(f"glossary.{word}.means")}
            for word in self.texts.under("glossary")
        ]
        return {
            "bench": self.render("bench.md.jinja", words=self.bench_words(tables)),
            "compare": self.render("compare.md.jinja", tables=tables, rows=COMPARED),
            "colours": self.render("colours.md.jinja", groups=self.recipes(colours, molds)),
            "safety": self.render("safety.md.jinja", topics=self.texts.under("safety")),
            "materials": self.render("materials.md.jinja", tables=tables),
            "method": self.render("method.md.jinja", steps=self.texts.under("method")),
            "glossary": self.render("glossary.md.jinja", words=words),
        }

    def bench_words(self, tables: Tables) -> dict[str, Any]:
        """Words that the bench page's script puts down."""
        return {
            "plastisol": {p.id: self.texts.name("plastisol", p.id) for p in tables.plastisols},
            "material": {m.id: self.texts.name("material", m.id) for m in tables.mold_materials},
            **{name: self.texts.say(f"page.bench.{name}") for name in ("none", "drops", "done")},
        }

    def recipes(
        self, colours: Mapping[str, Sequence[Ingredient]], molds: Sequence[MoldRecord]
    ) -> list[tuple[str, list[tuple[str, list[Markup]]]]]:
        """Colour recipes as text: those to start from, and those of the molds."""
        named = self.texts.name
        common = [
            (named("colour", name), [self.ingredient(one, named("ingredient", one.what)) for one in listed])
            for name, listed in colours.items()
        ]
        own = [
            (
                f"{colour.name} ({mold.spec.title})",
                [self.ingredient(one, one.what) for one in colour.ingredients],
            )
            for mold in molds
            for colour in mold.spec.colours
        ]
        return [("common", common), ("own", own)]

    def ingredient(self, ingredient: Ingredient, name: str) -> Markup:
        """One ingredient with its amount."""
        unit: Unit = "count" if ingredient.unit == "drops" else ingredient.unit
        amount = self.plain_number(declared(ingredient.amount_per_100_ml, unit))
        drops = f" {self.texts.say('page.bench.drops')}" if ingredient.unit == "drops" else ""
        return Markup("{}{} {}").format(amount, drops, name)

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

    def figures(self, record: MoldRecord, amounts: Amounts) -> list[tuple[str, Figure, bool]]:
        """Every figure of the page with its name, and whether it has not been shown further up."""
        own = record.advice.windows[0]
        said = {
            "page.glance.weight": amounts.bait_g[0],
            "page.glance.shot": amounts.shot_ml,
            "page.glance.shoot": own.shoot_c,
            "page.window.fill": own.fill_c,
            "page.window.mold_limit": own.mold_limit_c,
            "page.window.plastisol_limit": own.plastisol_limit_c,
            "page.glance.hold": own.hold_s,
            "page.glance.cool": own.cool_s,
            "page.glance.rest": own.rest_s,
        }
        above = [(self.texts.say(key), figure, False) for key, figure in said.items() if figure]
        more = record.advice.figures.items()
        return [*above, *[(self.texts.name("figure", n), f, True) for n, f in more if n not in SHOWN]]

    def say(self, key: str, **values: Figure | Keyed | str | int) -> Markup:
        """A sentence of the language file, its figures marked up, everything else escaped."""
        return Markup(self.safe.fill(key, self.number, **{n: self.value(v) for n, v in values.items()}))

    def value(self, value: Figure | Keyed | str | int) -> str:
        """A value of a sentence as HTML."""
        if isinstance(value, Figure):
            return self.number(value)
        if isinstance(value, Keyed):
            return self.number(value.figure, value.key)
        return str(escape(self.texts.word(str(value))))

    def tell(self, finding: Finding) -> Markup:
        """A finding as a sentence."""
        return self.say(finding.code, **finding.values)

    def number(self, figure: Figure, key: str = "") -> Markup:
        """A figure as scripts and styles know it: both systems, range in brackets, letter of its origin.

        `key` is where the page's data holds the same figure for another plastisol or mold material.
        """
        text = self.plain_number(figure)
        origin = Markup("<sup>{}</sup>").format(_ORIGIN_LETTER[figure.origin])
        keyed = Markup('<span data-n="{}">{}</span>').format(key, text) if key else text
        return keyed + origin

    def plain_number(self, figure: Figure) -> Markup:
        """A figure in both systems, range in brackets."""
        both = units.show(figure, self.texts.language)
        text = _with_range(both.metric)
        if both.metric == both.us:
            return text
        pair = Markup('<span class="m">{}</span> <span class="u">{}</span>')
        return pair.format(text, _with_range(both.us))

    def point(self, value: float, unit: Unit) -> Markup:
        """A number that was measured in the files, without a range of its own."""
        return self.number(measured(value, unit))

    def size(self, size_bytes: int) -> str:
        """A file's size."""
        return units.size(size_bytes, self.texts.language)


@dataclass(frozen=True, slots=True)
class Keyed:
    """A figure with the place where the page's data holds it for another plastisol or mold material."""

    figure: Figure
    key: str


def sourced(value: Sourced) -> Figure:
    """A table's value as a figure; what it is worth is told beside it."""
    return Figure(
        value=value.value,
        low=value.low,
        high=value.high,
        unit=value.unit,
        because="page.materials.lead",
        origin="common practice",
    )


def measured(value: float, unit: Unit) -> Figure:
    """A figure straight from the measurement; the page tells the uncertainty of all of them in one place."""
    return Figure(
        value=value, low=value, high=value, unit=unit, because="page.numbers.read", origin="measured"
    )


def declared(value: float, unit: Unit) -> Figure:
    """A figure that the maker told."""
    return replace(measured(value, unit), origin="declared", because="page.numbers.declared")


def _with_range(shown: units.Shown) -> Markup:
    return Markup("{} <i>({})</i>").format(shown.value, shown.span) if shown.span else escape(shown.value)


def mold_view(record: MoldRecord) -> dict[str, Any]:
    """What the template of a mold's page needs beside the record itself."""
    advice, measurement = record.advice, record.measurement
    own = advice.windows[0]
    amounts = _own_amounts(record)
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
        "facts": _facts(record, amounts),
        "plastisols": _in_order(w.plastisol for w in advice.windows),
        "materials": _in_order(w.mold_material for w in advice.windows),
        "bolts": _alike(measurement.bolts, ("diameter_mm", "length_mm")),
        "pins": _alike(measurement.pins, ("diameter_mm", "clearance_mm")),
        "pictures": {picture.name: picture for picture in record.pictures},
        "pictures_left": [p.name for p in record.pictures if p.name not in PLACED],
        "general": [*advice.findings, *measurement.findings],
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


def _own_amounts(record: MoldRecord) -> Amounts:
    """Amounts for the plastisol that the maker chose."""
    return next(a for a in record.advice.amounts if a.plastisol == record.advice.windows[0].plastisol)


def _facts(record: MoldRecord, amounts: Amounts) -> list[tuple[str, str, Figure | None]]:
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


def _paths(window: Window) -> list[tuple[int, PathVerdict, str]]:
    """Ways through the plastic that end alike, counted: the tightest of each, and its key in the data."""
    groups: dict[str, list[int]] = {}
    for index, path in enumerate(window.paths):
        groups.setdefault(path.path, []).append(index)
    tightest = [(len(g), min(g, key=lambda i: window.paths[i].margin.value)) for g in groups.values()]
    return [(count, window.paths[index], f"w.paths.{index}") for count, index in tightest]


def _in_order(names: Iterable[str]) -> list[str]:
    """Each name once, in order of first appearance."""
    return list(dict.fromkeys(names))


def _alike(things: Sequence[Any], names: tuple[str, ...]) -> list[tuple[int, Any]]:
    """Things that read the same, counted, in order of first appearance."""
    groups: dict[tuple[float, ...], list[Any]] = {}
    for thing in things:
        groups.setdefault(tuple(round(getattr(thing, name), 2) for name in names), []).append(thing)
    return [(len(group), group[0]) for group in groups.values()]
