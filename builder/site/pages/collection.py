"""The catalogue, and the pages that there are once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, get_args

from markupsafe import Markup

from builder import build
from builder.base import figures
from builder.model import (
    Agreement,
    Checked,
    Drift,
    Figure,
    Ingredient,
    MoldRecord,
    Request,
    Step,
    Tables,
    Unit,
    Version,
)
from builder.site import print_view
from builder.site.drift_text import drift_lead
from builder.site.pages.html import Words
from builder.site.pages.mold import captions

CARD_FACTS = ("length", "weight", "shot", "shoot", "cavities")
"""What a card of the catalogue tells, in the order of the entries of page_data."""
COMPARED = (
    (
        "bait",
        (
            ("page.glance.kind", "sheet.kind"),
            ("page.compare.type", "sheet.type"),
            ("page.glance.made_for", "sheet.target"),
            ("page.compare.length", "sheet.bait_length"),
            ("page.compare.weight", "a.largest_g"),
            ("figure.thinnest", "sheet.thinnest"),
        ),
    ),
    (
        "shot",
        (
            ("page.glance.cavities", "cavities"),
            ("page.glance.shot", "a.shot_ml"),
            ("page.glance.shoot", "w.point"),
            ("page.window.fill", "w.fill"),
            ("page.window.mold_limit", "w.mold_limit"),
        ),
    ),
    (
        "times",
        (
            ("page.glance.hold", "w.hold"),
            ("page.glance.cool", "w.cool"),
            ("page.glance.rest", "w.rest"),
        ),
    ),
    (
        "print",
        (
            ("page.print.bed", "sheet.bed"),
            ("page.compare.bolts", "sheet.bolts"),
            ("page.compare.plastisol", "sheet.plastisol"),
            ("page.compare.material", "sheet.material"),
        ),
    ),
)
"""What molds are compared by, in groups: label, and place in the page's data."""

BENCH_WORDS = ("none", "drops", "done", "add", "again", "meant", "baits_wrong")
BENCH_SENTENCES = {"shot": "chip", **{name: name for name in ("counter", "counter_more", "baits_many")}}
"""What the bench's script puts down: words, and sentences that it fills, others where a mold is poured."""


LADDER_PARTS = (
    ("print", ("make", "parts", "gaps", "screw")),
    ("fill", ("fuse", "cup", "mold", "well", "lift", "open", "again")),
    ("read", ("tip", "pits", "full", "fit", "write")),
)
"""The steps of the guide to the flow ladder."""


def ladder_figures() -> dict[str, Figure]:
    """The temperatures of its fillings, and how far its marks stand apart."""
    told: dict[str, tuple[float, Unit]] = {
        "hot": (170.0, "c"),
        "mild": (145.0, "c"),
        "above": (15.0, "k"),
        "tick": (5.0, "mm"),
    }
    return {
        name: figures.exact(value, unit, "page.ladder.because", "common practice")
        for name, (value, unit) in told.items()
    }


class CollectionPages:
    """Makes the pages of the whole collection."""

    def __init__(self, words: Words) -> None:
        """Write in these words."""
        self.words, self.texts = words, words.texts

    def catalogue(self, molds: Sequence[Mapping[str, Any]], number: int, count: int, total: int) -> str:
        """One page of the catalogue, `number` of `count`, from entries of the index; `total` molds in all."""
        labels, poured = (
            [texts.say(f"page.glance.{name}") for name in CARD_FACTS]
            for texts in (self.texts, self.texts.of_kind("open pour"))
        )
        first = "index.html"
        return self.words.render(
            "index.md.jinja",
            root="" if number == 1 else "../",
            cards=[self.card(entry, poured if entry["poured"] else labels) for entry in molds],
            words=self.finding_words(labels, poured),
            page=number,
            pages=count,
            total=total,
            previous=(first if number == 2 else f"catalogue/{number - 1}.html") if number > 1 else None,
            next=f"catalogue/{number + 1}.html" if number < count else None,
        )

    def card(self, entry: Mapping[str, Any], labels: Sequence[str]) -> dict[str, Any]:
        """A mold as the catalogue shows it where no script runs."""
        facts = [
            (label, self.words.texts_of(texts)) for label, texts in zip(labels, entry["facts"], strict=True)
        ]
        return {**entry, "facts": facts}

    def finding_words(self, labels: Sequence[str], poured: Sequence[str]) -> dict[str, Any]:
        """Words that the catalogue's script writes into the page."""
        return {
            "facts": labels,
            "facts_poured": poured,
            **{name: self.texts.entries[f"page.find.{name}"] for name in ("found", "without", "unchoose")},
            "compare": self.texts.say("page.find.tick"),
            "withdrawn": self.texts.say("page.versions.withdrawn"),
            "material": {
                key.removeprefix("material."): name
                for key, name in self.texts.entries.items()
                if key.startswith("material.")
            },
        }

    def version(self, version: Version, versions: Sequence[Version], drift: Drift | None = None) -> str:
        """A released version's own page; `versions` are all of the same mold, the newest first.

        `drift` is what reads differently today than when it was frozen.
        """
        drift = drift or Drift()
        later = [one for one in versions if one.order > version.order]
        newer = next((one for one in later if not one.withdrawn), None)
        own = f"v{newer.version if newer else ''}.html"
        place = f"../{version.slug}.html" if newer == versions[0] else own
        names = self.texts.under("release.number")  # in the order of work, as the language file has them
        return self.words.render(
            "version.md.jinja",
            v=version,
            drift=drift,
            drift_lead=drift_lead(version, drift, self.texts) if drift else (),
            newer=newer,
            place=place,
            later=later[0] if later else None,
            folder=f"v{version.version}",
            numbers=sorted(version.figures.items(), key=lambda one: names.index(one[0])),
            pictures={picture.name: picture for picture in version.pictures},
            captions=captions(version.pictures),
        )

    def requests(self, requests: Sequence[Request], titles: Mapping[str, str], ask: str = "") -> str:
        """What people asked for; `titles` are those of the molds by slug, `ask` is where to ask."""
        return self.words.render("requests.md.jinja", requests=requests, titles=titles, ask=ask)

    def fixed(
        self,
        tables: Tables,
        colours: Mapping[str, Sequence[Ingredient]],
        molds: Sequence[MoldRecord],
        checked: Sequence[Checked],
        agreement: Agreement,
    ) -> dict[str, str]:
        """The pages that there are once: name to text."""
        say = self.texts.say
        words = [
            {"id": word, "term": say(f"glossary.{word}.term"), "means": say(f"glossary.{word}.means")}
            for word in self.texts.under("glossary")
        ]
        return {
            "bench": self.words.render("bench.md.jinja", words=self.bench_words()),
            "compare": self.words.render("compare.md.jinja", tables=tables, groups=self.compared()),
            "colours": self.words.render("colours.md.jinja", groups=self.recipes(colours, molds)),
            "safety": self.words.render("safety.md.jinja", steps=get_args(Step)),
            "ladder": self.words.render("ladder.md.jinja", parts=LADDER_PARTS, figures=ladder_figures()),
            "materials": self.words.render(
                "materials.md.jinja",
                tables=tables,
                printed=print_view.usual(tables, self.texts),
                made_by=build.made_by(build.tables_digest(tables)),
            ),
            "method": self.words.render(
                "method.md.jinja",
                steps=self.texts.under("method"),
                tables=tables,
                checked=checked,
                agreement=agreement,
            ),
            "glossary": self.words.render("glossary.md.jinja", words=words),
        }

    def compared(self) -> list[tuple[str, list[tuple[str, str, str]]]]:
        """COMPARED with its labels as words: of shut molds, of poured ones, and the place in the data."""
        poured = self.texts.of_kind("open pour")
        return [
            (name, [(self.texts.say(label), poured.say(label), path) for label, path in rows])
            for name, rows in COMPARED
        ]

    def bench_words(self) -> dict[str, Any]:
        """Words that the bench page's script writes into the page."""
        return {
            **{name: self.texts.say(f"page.bench.{name}") for name in BENCH_WORDS},
            **{name: self.texts.entries[f"page.bench.{key}"] for name, key in BENCH_SENTENCES.items()},
            "poured": {
                name: self.texts.entries[f"page.bench.{key}_pour"] for name, key in BENCH_SENTENCES.items()
            },
            "go": {
                step: self.texts.say(f"page.bench.go.{step}") for step in self.texts.under("page.bench.go")
            },
            "clock": {name: self.texts.say(f"page.bench.step.{name}") for name in ("hold", "open", "rest")},
        }

    def recipes(
        self, colours: Mapping[str, Sequence[Ingredient]], molds: Sequence[MoldRecord]
    ) -> list[tuple[str, list[tuple[str, list[Markup]]]]]:
        """Colour recipes as text: those to start from, and those of the molds."""
        named = self.texts.name
        common = [
            (
                named("colour", name),
                [self.words.ingredient(one, named("ingredient", one.what)) for one in listed],
            )
            for name, listed in colours.items()
        ]
        own = [
            (
                f"{colour.name} ({mold.spec.title})",
                [self.words.ingredient(one, one.what) for one in colour.ingredients],
            )
            for mold in molds
            for colour in mold.spec.colours
        ]
        return [("common", common), ("own", own)]
