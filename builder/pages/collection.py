"""The catalogue, and the pages that there are once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from markupsafe import Markup

from builder.model import Ingredient, MoldRecord, Tables, Unit
from builder.pages.mold import facts, own_amounts
from builder.pages.words import Words, declared

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


class CollectionPages:
    """Pages of the whole collection."""

    def __init__(self, words: Words) -> None:
        """Write in these words."""
        self.words, self.texts = words, words.texts

    def catalogue(self, molds: Sequence[MoldRecord], number: int, count: int, total: int) -> str:
        """One page of the catalogue, `number` of `count`; `total` molds in all."""
        name = {1: "index.html"}
        return self.words.render(
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
        amounts = own_amounts(record)
        return {
            "slug": record.spec.slug,
            "title": record.spec.title,
            "kind": record.spec.bait_type or self.texts.word(record.spec.kind),
            "author": record.spec.author,
            "picture": picture.files[min(picture.files)] if picture else None,
            "height": round(400 * picture.height_px / picture.width_px) if picture else 0,
            "facts": [(name, figure) for name, _, figure in facts(record, amounts)[:5]],
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
            "bench": self.words.render("bench.md.jinja", words=self.bench_words(tables)),
            "compare": self.words.render("compare.md.jinja", tables=tables, rows=COMPARED),
            "colours": self.words.render("colours.md.jinja", groups=self.recipes(colours, molds)),
            "safety": self.words.render("safety.md.jinja", topics=self.texts.under("safety")),
            "materials": self.words.render("materials.md.jinja", tables=tables),
            "method": self.words.render("method.md.jinja", steps=self.texts.under("method")),
            "glossary": self.words.render("glossary.md.jinja", words=words),
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
        amount = self.words.bare(declared(ingredient.amount_per_100_ml, unit))
        drops = f" {self.texts.say('page.bench.drops')}" if ingredient.unit == "drops" else ""
        return Markup("{}{} {}").format(amount, drops, name)
