"""Which number of the record belongs at which place of a mold's page: one line for each figure.

A place is the heading above a number, and its label (a key of the language file), its row and column, or
the gap of the sentence that it stands in. A figure that is added to a page gets its line here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from builder.model import (
    Amounts,
    Bait,
    Figure,
    Finding,
    MadeBy,
    Measurement,
    MoldRecord,
    Window,
)
from tests.numbers import sentences
from tests.numbers.quantity import LETTERS, Near, Quantity, Said, bare, brief, figure
from tests.numbers.sentences import TELLING

What = Quantity | Near | Said | str
Line = tuple[str, What]
CARD_SHOTS = (1, 2, 3, 5, 10)
"""The shots whose amounts a card lists."""
BATCH_ROWS = (1, 2, 4, 6, 8, 12, 20, 50)
"""The baits whose amounts a mold's page lists."""


@dataclass(frozen=True, slots=True)
class Places:
    """The words that places are made of, in one language, of molds that are shot or poured."""

    language: str = "en"
    poured: bool = False

    def of(self, record: MoldRecord) -> Places:
        """The words for this mold."""
        return replace(self, poured=record.spec.kind == "open pour")

    def key(self, key: str) -> str:
        """The key of the sentence that says it of such a mold."""
        own = f"{key}_pour"
        return own if self.poured and own in sentences.entries(self.language) else key

    def say(self, key: str) -> str:
        """A sentence as it is read."""
        return sentences.clean(sentences.entries(self.language)[self.key(key)])

    def name(self, section: str, id_: str) -> str:
        """The name of a table's entry; its id in words where it has none."""
        known = sentences.entries(self.language)
        return known.get(self.key(f"{section}.{id_}"), id_.replace("_", " "))

    def word(self, word: str) -> str:
        """A word of a record as it is read; 2b is the end b of bait 2, 2_end its only end."""
        if word.endswith("_end"):
            return self.say("page.window.only_end").replace("{bait}", word.removesuffix("_end"))
        if len(word) == 2 and word[0].isdigit():
            return self.say("page.window.end").replace("{end}", word[1]).replace("{bait}", word[0])
        known = sentences.entries(self.language)
        return next(
            (
                known[f"{one}.{word}"]
                for one in ("words", "plastisol", "material")
                if f"{one}.{word}" in known
            ),
            word,
        )

    def label(self, section: str, key: str) -> str:
        """A value beside its name."""
        return f"{section} | {self.say(key)}"

    def cell(self, section: str, row: str, column: str) -> str:
        """A cell of a table."""
        return f"{section} | {row} | {column}"

    def gap(self, section: str, key: str, gap: str) -> str:
        """A gap of a sentence."""
        return f"{section} | {sentences.same(self.language, self.key(key))}:{gap}"


def measured(value: float, unit: str, m: Measurement) -> Quantity:
    """A number of the measurement: a length with the error of all lengths, others with their share."""
    return replace(told(value, unit, m), letter="ᵐ")


def told(value: float, unit: str, m: Measurement) -> Quantity:
    """The same without the letter of its origin."""
    off = m.length_error_mm if unit == "mm" else m.volume_share * value
    return Quantity(value=value, low=max(0.0, value - off), high=value + off, unit=unit)


def long(bait: Bait, m: Measurement) -> Quantity:
    """A bait's length: facets lie within its ends; a gate's place is known to a twentieth of its width."""
    off = 2 * m.length_error_mm + 0.05 * max((gate.thickness_mm for gate in bait.gates), default=0.0)
    return Quantity(value=bait.length_mm, low=bait.length_mm - off, high=bait.length_mm + off, unit="mm")


def thick(value: float, m: Measurement) -> Quantity:
    """How thick a section is: facets make a drawn limb thinner on both sides, round it and along it."""
    off = m.length_error_mm
    return Quantity(value=value, low=max(0.0, value - off), high=value + 4 * off, unit="mm")


def largest(m: Measurement) -> int:
    """Index of the bait that stands for the mold."""
    return max(range(len(m.baits)), key=lambda index: m.baits[index].volume_ml)


def of_bait(m: Measurement, name: str) -> str:
    """A label's key: of several sizes it says that the largest is told."""
    sizes = {round(one.volume_ml, 1) for one in m.baits}
    return name if len(sizes) == 1 else f"{name}_largest"


def megabytes(size: int, mark: str = ".") -> str:
    """A file's size in kB or MB, to three digits."""
    step, symbol = (1e6, "MB") if size >= 1e6 else (1e3, "kB")
    return f"{size / step:.3g} {symbol}".replace(".", mark)


def amounts_of(record: MoldRecord, window: Window) -> Amounts:
    """The amounts of a window's plastisol."""
    return next(one for one in record.advice.amounts if one.plastisol == window.plastisol)


def stop(window: Window, at: Places, *, plain: bool = False) -> Iterator[Line]:
    """The lowest limit of a pair that must not be shot: it stands before everything else."""
    code = stop_code(window)
    if code == "stop.too_cold":
        limit = lowest_limit(window)
        yield at.gap("", code, "limit"), bare(limit) if plain else figure(limit)


def stop_code(window: Window) -> str:
    """The sentence that forbids to shoot a pair."""
    if window.shoot_c is None:
        fills = window.fill_c
        cold = fills is None or fills.value > lowest_limit(window).value
        return "stop.too_cold" if cold else "stop.unlikely"
    return next((one.code for one in window.findings if one.level == "stop"), "")


def lowest_limit(window: Window) -> Figure:
    """The lower one of both limits."""
    limits = [one for one in (window.mold_limit_c, window.plastisol_limit_c) if one]
    return min(limits, key=lambda one: one.value)


def cautions(section: str, steps: Sequence[str], kind: str, at: Places) -> Iterator[Line]:
    """The figures in the cautions of some steps; none on injectors where plastic is poured."""
    for key, one in sentences.table("safety").items():
        if one["step"] in steps and (kind == "injection" or not one.get("injector")):
            for name, value in one.get("values", {}).items():
                yield at.gap(section, f"safety.{key}", name), known(value)


def known(value: Mapping[str, Any]) -> Quantity:
    """A value of the table of cautions with the letter of its origin."""
    return Quantity(
        value=value["value"],
        low=value["low"],
        high=value["high"],
        unit=value["unit"],
        letter=LETTERS[value["origin"]],
    )


def folded(section: str, steps: Sequence[str], kind: str, at: Places) -> Iterator[Line]:
    """How many cautions wait under their heading."""
    yield from counted(section, steps, kind, at, "page.safety.more")


def counted(
    section: str, steps: Sequence[str], kind: str, at: Places, key: str = "page.mind.count"
) -> Iterator[Line]:
    """How many cautions wait under the one that stands with its step."""
    for step in steps:
        count = sum(
            one["step"] == step and (kind == "injection" or not one.get("injector"))
            for one in sentences.table("safety").values()
        )
        yield at.gap(section, key, "count"), str(count)


def findings(section: str, listed: Sequence[Finding], at: Places) -> Iterator[Line]:
    """The figures in the sentences of findings."""
    for one in listed:
        for name, value in one.values.items():
            if isinstance(value, Figure):
                yield at.gap(section, one.code, name), figure(value)


def stands_in(window: Window, rest: Figure | None, at: Places) -> str:
    """What is told where no rest helps, or none is needed."""
    if rest is None:
        return at.say(f"page.cool.rest_{window.no_rest or 'first_shot'}")
    return "" if rest.value else at.say("page.cool.rest_none")


def worked_out(section: str, by: MadeBy, at: Places) -> Iterator[Line]:
    """What numbers were worked out by: the version of the program, and eight digits of its tables."""
    yield at.gap(section, "release.made_by", "shotbook"), by.shotbook
    if TELLING.search(by.tables[:8]):
        yield at.gap(section, "release.made_by", "tables"), by.tables[:8]


def catalogue_card(record: MoldRecord, at: Places) -> Iterator[Line]:
    """A mold in the catalogue: no ranges, the mold's own page tells them."""
    own, title = record.advice.windows[0], record.spec.title
    amounts = amounts_of(record, own)
    m = record.measurement
    ways = (
        ("shot", "shoot", "cavities")
        if record.spec.kind == "injection"
        else ("shot_pour", "pour", "cavities_pour")
    )
    shot, shoot, cavities = (f"page.glance.{name}" for name in ways)
    index = largest(m)
    if len(m.baits) > 1:
        yield at.gap(title, "page.catalogue.sizes", "count"), str(len(m.baits))
    length = replace(long(m.baits[index], m), ranged=False)
    yield at.label(title, "page.glance.length"), length
    yield at.label(title, "page.glance.weight"), brief(amounts.bait_g[index])
    yield at.label(title, shot), brief(amounts.shot_ml)
    if own.shoot_c:
        yield at.label(title, shoot), brief(own.shoot_c)
    yield at.label(title, cavities), str(record.spec.cavities)
