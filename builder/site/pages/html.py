"""Sentences, names and numbers as HTML, and the templates that place them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from types import CodeType
from typing import Any

import jinja2
from jinja2.bccache import Bucket
from markupsafe import Markup, escape

from builder.base import figures, links, units
from builder.base.texts import Texts, slots
from builder.model import Caution, Figure, Finding, Ingredient, Kind, Tables, Trouble, Unit
from builder.spec import material_tables, safety_table, yaml_reader

TEMPLATES = Path(__file__).parent.parent.parent / "templates"


@dataclass(frozen=True, slots=True)
class Keyed:
    """A figure with the place where the page's data holds it for another plastisol or mold material."""

    figure: Figure | None
    key: str
    instead: str = ""
    """What is told where there is no figure, or in its place."""


class Compiled(jinja2.BytecodeCache):
    """Templates as code, kept while the process lives: compiling takes longer than filling them."""

    def __init__(self) -> None:
        self.kept: dict[tuple[str, str], CodeType | None] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        """Give the code of a template, if its text is still the same."""
        bucket.code = self.kept.get((bucket.key, bucket.checksum))

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep the code of a template."""
        self.kept[bucket.key, bucket.checksum] = bucket.code


COMPILED = Compiled()


class Words:
    """One language as HTML; `render` fills a template."""

    def __init__(self, texts: Texts, tables: Tables | None = None) -> None:
        """Read the templates once; without tables the builder's own are taken."""
        self.texts = texts
        self.tables = tables or material_tables.load()
        escaped = {key: str(escape(sentence)) for key, sentence in texts.entries.items()}
        self.safe = Texts(language=texts.language, entries=escaped)
        self.env = jinja2.Environment(
            loader=jinja2.FileSystemLoader(TEMPLATES),
            bytecode_cache=COMPILED,
            undefined=jinja2.StrictUndefined,
            autoescape=True,
            trim_blocks=True,
            lstrip_blocks=True,
        )
        self.linked: set[str] = set()
        self.env.filters["terms"] = self.with_terms
        self.env.filters["zip"] = zip
        self.env.filters["yaml"] = lambda text: Markup(yaml_reader.quoted(str(text)))
        self.env.globals.update(
            say=self.say,
            text=texts.say,
            finding=self.finding,
            kept=self.kept,
            cautions=self.cautions,
            caution_text=self.caution_text,
            describe=texts.describe,
            num=self.number,
            bare=self.bare,
            tell_cure=self.cure,
            is_link=links.is_link,
            keyed=Keyed,
            placed=self.placed,
            barely=self.barely,
            size=self.size,
            digits=lambda value, unit: units.digits(value, unit, texts.language),
            table_value=lambda value: self.bare(figures.of_table(value)),
            word=texts.word,
            named=texts.name,
        )

    def of_kind(self, kind: Kind) -> Words:
        """The same in the words of this kind of mold (Texts.of_kind)."""
        return self if kind == "injection" else self.poured

    @cached_property
    def poured(self) -> Words:
        """The words of an open pour."""
        return Words(self.texts.of_kind("open pour"), self.tables)

    def render(self, template: str, **values: Any) -> str:  # noqa: ANN401 - what the template takes
        """One page's text from a template of builder/templates."""
        self.linked = set()
        return self.env.get_template(template).render(lang=self.texts.language, **values)

    def say(self, key: str, **values: Figure | Keyed | str | int) -> Markup:
        """A sentence of the language file, its figures marked up, everything else escaped."""
        return Markup(self.safe.fill(key, self.number, **{n: self.value(v) for n, v in values.items()}))

    def with_terms(self, said: Markup, root: str = "../") -> Markup:
        """A sentence whose terms lead to the glossary, each where it first stands on the page."""
        pieces = re.split(r"(<[^>]*>)", str(said))
        for id_, pattern in self.terms.items():
            for index in range(0, len(pieces), 2):
                if id_ in self.linked or (found := pattern.search(pieces[index])) is None:
                    continue
                link = f'<a class="sb-term" href="{root}glossary.html#{id_}">', found[0], "</a>"
                pieces[index : index + 1] = [
                    pieces[index][: found.start()],
                    *link,
                    pieces[index][found.end() :],
                ]
                self.linked.add(id_)
        return Markup("".join(pieces))

    @cached_property
    def terms(self) -> dict[str, re.Pattern[str]]:
        """The glossary's terms by id, as something to look for: the longest first, whole words only."""
        named = {id_: self.texts.say(f"glossary.{id_}.term") for id_ in self.texts.under("glossary")}
        order = sorted(named.items(), key=lambda one: -len(one[1]))
        return {id_: re.compile(rf"\b{re.escape(term)}\b", re.IGNORECASE) for id_, term in order}

    def value(self, value: Figure | Keyed | str | int) -> str:
        """A value of a sentence as HTML."""
        if isinstance(value, Figure):
            return self.number(value)
        if isinstance(value, Keyed):
            return self.placed(value)
        return str(escape(self.texts.word(str(value))))

    def finding(self, finding: Finding | Trouble) -> Markup:
        """A finding, or what may go wrong, as a sentence."""
        return self.say(finding.code, **finding.values)

    def cure(self, trouble: Trouble) -> Markup:
        """What to do about a trouble, as a sentence."""
        return self.say(f"{trouble.code}_cure", **trouble.values)

    def kept(self, finding: Finding) -> Markup:
        """A finding frozen with a version, as a sentence; its name where the sentence is gone today."""
        sentence = self.texts.entries.get(finding.code)
        if sentence is None or not slots(sentence) <= set(finding.values):
            return self.say("release.page.words_gone", code=finding.code)
        return self.finding(finding)

    def cautions(self, step: str = "", *, kind: str = "injection", card: bool = False) -> list[Caution]:
        """The cautions of a step, or of all steps; without those on injectors where plastic is poured."""
        return [
            one
            for one in safety_table.load()
            if step in ("", one.step) and one.card >= card and (kind == "injection" or not one.injector)
        ]

    def caution_text(self, caution: Caution) -> Markup:
        """A caution as a sentence."""
        return self.say(f"safety.{caution.key}", **caution.values)

    def number(self, figure: Figure, key: str = "") -> Markup:
        """A figure on a page: both systems, range in brackets, its origin as the title.

        `key` is where the page's data holds the same figure for another plastisol or mold material.
        """
        origin = self.texts.say(f"page.origin.{figure.origin}")
        return self.figure(units.line(figure, self.texts.language), key, title=origin)

    def placed(self, value: Keyed) -> Markup:
        """A figure marked with the place of its data, or the words that stand instead; a dash for nothing."""
        if value.figure is None or value.instead:
            origin = {"data_origin": self.texts.say("page.origin.computed")} if value.key else {}
            return self.figure(value.instead or "–", value.key, **origin)
        return self.number(value.figure, value.key)

    def barely(self, value: Keyed) -> Markup:
        """A figure without its origin, or what is told instead of it."""
        if value.figure is None or value.instead:
            return self.figure(value.instead or "–")
        return self.bare(value.figure)

    def bare(self, figure: Figure, key: str = "") -> Markup:
        """A figure without its origin, where a heading tells it."""
        return self.figure(units.line(figure, self.texts.language), key)

    def texts_of(self, texts: Sequence[str] | None) -> Markup:
        """A figure's texts (pagedata.Shown) without ranges, or a dash."""
        return self.figure(" · ".join(texts[::2])) if texts else Markup("–")

    def figure(self, text: str, key: str = "", **attributes: str) -> Markup:
        """A figure's line marked as such; assets/shotbook.js takes it apart."""
        named = {**({"data-n": key} if key else {}), **attributes}
        written = (Markup(' {}="{}"').format(name.replace("_", "-"), text) for name, text in named.items())
        return Markup("<var{}>{}</var>").format(Markup("").join(written), text)

    def ingredient(self, ingredient: Ingredient, name: str) -> Markup:
        """One ingredient with its amount."""
        unit: Unit = "count" if ingredient.unit == "drops" else ingredient.unit
        amount = self.bare(figures.declared(ingredient.amount_per_100_ml, unit))
        drops = f" {self.texts.say('page.bench.drops')}" if ingredient.unit == "drops" else ""
        return Markup("{}{} {}").format(amount, drops, name)

    def size(self, size_bytes: int) -> str:
        """A file's size."""
        return units.size(size_bytes, self.texts.language)
