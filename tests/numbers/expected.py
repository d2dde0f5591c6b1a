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
    Drift,
    Figure,
    Finding,
    MadeBy,
    Measurement,
    MoldRecord,
    Window,
)
from tests.numbers import molds, sentences
from tests.numbers.quantity import LETTERS, Near, Quantity, Said, bare, brief, exact, figure
from tests.numbers.sentences import TELLING

What = Quantity | Near | Said | str
Line = tuple[str, What]
CARD_SHOTS = (1, 2, 3, 5, 10)
"""The shots whose amounts a card lists."""
BATCH_ROWS = (1, 2, 4, 6, 8, 12, 20, 50)
"""The baits whose amounts a mold's page lists."""


@dataclass(frozen=True, slots=True)
class Places:
    """The words that places are made of, in one language."""

    language: str = "en"

    def say(self, key: str) -> str:
        """A sentence as it is read."""
        return sentences.clean(sentences.entries(self.language)[key])

    def name(self, section: str, id_: str) -> str:
        """The name of a table's entry; its id in words where it has none."""
        return sentences.entries(self.language).get(f"{section}.{id_}", id_.replace("_", " "))

    def word(self, word: str) -> str:
        """A word of a record as it is read; 2b is the end b of bait 2."""
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
        return f"{section} | {sentences.same(self.language, key)}:{gap}"


def measured(value: float, unit: str, m: Measurement) -> Quantity:
    """A number of the measurement: a length with the error of all lengths, others with their share."""
    return replace(told(value, unit, m), letter="ᵐ")


def told(value: float, unit: str, m: Measurement) -> Quantity:
    """The same without the letter of its origin."""
    off = m.length_error_mm if unit == "mm" else m.volume_share * value
    return Quantity(value=value, low=max(0.0, value - off), high=value + off, unit=unit)


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


def mold_page(record: MoldRecord, at: Places, window: Window | None = None) -> Iterator[Line]:
    """A mold's page before scripts; after a choice `window` is the chosen pair's."""
    drifts = molds.drifts(record)
    window = window or record.advice.windows[0]
    yield from description(record, at)
    yield from stop(window, at)
    yield from facts(record, at, window)
    yield from baits(record, at, window)
    yield from glance(record, at)
    yield from limits(at, window)
    yield from findings("window", window.findings, at)
    yield from printing(record, at)
    yield from cautions("print", ["print"], record.spec.kind, at)
    if record.spec.kind == "injection":
        yield from bolting(record, at)
    yield from folded("shoot", ["first_aid"], record.spec.kind, at)
    yield from cautions("shoot", ["first_aid", "always", "heat", "shoot"], record.spec.kind, at)
    yield from shooting(record, at, window)
    yield from files(record, at, drifts)
    yield from worked_out("numbers", record.made_by, at)
    yield (
        at.gap("numbers", "page.numbers.read", "volume"),
        exact(record.measurement.volume_share, "share", "ᵐ"),
    )
    yield (
        at.gap("numbers", "page.numbers.read", "length"),
        exact(record.measurement.length_error_mm, "mm", "ᵐ"),
    )


def description(record: MoldRecord, at: Places) -> Iterator[Line]:
    """What a search engine shows."""
    m, own = record.measurement, record.advice.windows[0]
    key, index = of_bait(m, "page.mold.description"), largest(m)
    yield at.gap("", key, "length"), told(m.baits[index].length_mm, "mm", m)
    yield at.gap("", key, "weight"), bare(amounts_of(record, own).bait_g[index])
    yield at.gap("", key, "baits"), str(record.spec.cavities)


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
    for step in steps:
        count = sum(
            one["step"] == step and (kind == "injection" or not one.get("injector"))
            for one in sentences.table("safety").values()
        )
        yield at.gap(section, "page.safety.more", "count"), str(count)


def facts(record: MoldRecord, at: Places, window: Window) -> Iterator[Line]:
    """The numbers at the top."""
    amounts, m = amounts_of(record, window), record.measurement
    index = largest(m)
    weight = figure(amounts.bait_g[index], f"a.bait_g.{index}")
    yield at.label("", of_bait(m, "page.glance.length")), measured(m.baits[index].length_mm, "mm", m)
    yield at.label("", of_bait(m, "page.glance.weight")), weight
    yield at.label("", "page.glance.cavities"), exact(record.spec.cavities, "count", "ᵈ")
    yield at.label("", "page.glance.measure"), figure(amounts.batch[0].heat_ml, "a.one_ml")
    yield at.label("", "page.glance.shot"), figure(amounts.shot_ml, "a.shot_ml")
    if window.shoot_c:
        yield at.label("", "page.glance.shoot"), figure(window.shoot_c, "w.point")
    yield at.label("", "page.glance.limit"), figure(window.plastisol_limit_c, "w.plastisol_limit")
    if record.spec.kind == "injection":
        yield at.label("", "page.glance.hold"), figure(window.hold_s, "w.hold")
    yield at.label("", "page.glance.cool"), figure(window.cool_s, "w.cool")
    yield at.label("", "page.glance.cool_later"), figure(window.times[-1].open_s, "w.cool_later")


def baits(record: MoldRecord, at: Places, window: Window) -> Iterator[Line]:
    """Each kind of bait with its length, volume and weight; of a single one its volume."""
    m = record.measurement
    listed: Sequence[Bait] = m.baits
    if len(listed) == 1:
        yield at.label("glance", "figure.cavity_volume"), measured(listed[0].volume_ml, "ml", m)
        return
    for index, bait in enumerate(listed):
        weight = amounts_of(record, window).bait_g[index]
        yield "glance | th", "1 ×"
        yield at.cell("glance", "1 ×", at.say("page.glance.length")), measured(bait.length_mm, "mm", m)
        yield at.cell("glance", "1 ×", at.say("figure.cavity_volume")), measured(bait.volume_ml, "ml", m)
        yield at.cell("glance", "1 ×", at.say("page.glance.weight")), figure(weight, f"a.bait_g.{index}")


def glance(record: MoldRecord, at: Places) -> Iterator[Line]:
    """Licence, version, the pictures' descriptions, and what holds whatever is shot."""
    yield at.label("glance", "page.glance.licence"), record.spec.licence
    yield at.label("glance", "page.glance.version"), record.spec.version
    yield from alt_texts(record, at)
    yield from findings("glance", (*record.advice.findings, *record.measurement.findings), at)


def alt_texts(record: MoldRecord, at: Places) -> Iterator[Line]:
    """The description of the bait's picture: no ranges, the page tells them."""
    for picture in record.pictures:
        for name, value in picture.alt.values.items():
            told = brief(value) if isinstance(value, Figure) else value
            yield at.gap("glance", picture.alt.code, name), told


def findings(section: str, listed: Sequence[Finding], at: Places) -> Iterator[Line]:
    """The figures in the sentences of findings."""
    for one in listed:
        for name, value in one.values.items():
            if isinstance(value, Figure):
                yield at.gap(section, one.code, name), figure(value)


def limits(at: Places, window: Window) -> Iterator[Line]:
    """The shooting window."""
    if window.shoot_c:
        yield at.label("window", "page.window.point"), figure(window.shoot_c, "w.point")
    if window.fill_c:
        yield at.label("window", "page.window.fill"), figure(window.fill_c, "w.fill")
    if window.mold_limit_c:
        yield at.label("window", "page.window.mold_limit"), figure(window.mold_limit_c, "w.mold_limit")
    yield (
        at.label("window", "page.window.plastisol_limit"),
        figure(window.plastisol_limit_c, "w.plastisol_limit"),
    )


def printing(record: MoldRecord, at: Places) -> Iterator[Line]:
    """What each part needs of the printer."""
    for part in record.measurement.parts:
        for name, value, unit in (
            ("bed", part.bed_mm[0], "mm"),
            ("bed", part.bed_mm[1], "mm"),
            ("height", part.height_mm, "mm"),
            ("volume", part.volume_ml, "ml"),
            ("overhang", part.overhang_mm2, "mm2"),
            ("feature", part.smallest_feature_mm, "mm"),
            ("gap", part.smallest_gap_mm, "mm"),
            ("flat", part.flatness_mm, "mm"),
        ):
            assert value is not None
            yield (
                at.cell("print", at.say(f"page.print.{name}"), part.name),
                measured(value, unit, record.measurement),
            )


def bolting(record: MoldRecord, at: Places) -> Iterator[Line]:
    """Bolts and pins, those alike counted."""
    m = record.measurement
    bolts = m.bolts
    for one in dict.fromkeys((bolt.diameter_mm, bolt.length_mm) for bolt in bolts):
        count = sum((bolt.diameter_mm, bolt.length_mm) == one for bolt in bolts)
        yield at.gap("bolt", "page.bolt.count", "count"), str(count)
        yield at.gap("bolt", "page.bolt.count", "diameter"), measured(one[0], "mm", m)
        yield at.gap("bolt", "page.bolt.count", "length"), measured(one[1], "mm", m)
    for pin in m.pins:
        yield at.gap("bolt", "page.bolt.pins", "count"), "1"
        yield at.gap("bolt", "page.bolt.pins", "diameter"), measured(pin.diameter_mm, "mm", m)
        if pin.clearance_mm is not None:
            yield at.gap("bolt", "page.bolt.pins", "clearance"), measured(pin.clearance_mm, "mm", m)


def shooting(record: MoldRecord, at: Places, window: Window) -> Iterator[Line]:
    """The steps from heating to trimming."""
    amounts, pressed = amounts_of(record, window), record.spec.kind == "injection"
    yield at.gap("shoot", "page.shoot.step_stir", "heat"), figure(amounts.batch[0].heat_ml, "a.one_ml")
    yield at.gap("shoot", "page.shoot.step_stir", "baits"), str(record.spec.cavities)
    yield (
        at.gap("shoot", "page.shoot.step_limit", "limit"),
        figure(window.plastisol_limit_c, "w.plastisol_limit"),
    )
    if pressed:
        yield at.gap("shoot", "page.shoot.step_fill_injector", "shot"), figure(amounts.shot_ml, "a.shot_ml")
        yield at.gap("shoot", "page.shoot.step_hold", "hold"), figure(window.hold_s, "w.hold")
    if window.shoot_c:
        step = "page.shoot.step_shoot" if pressed else "page.shoot.step_pour"
        yield at.gap("shoot", step, "shoot"), figure(window.shoot_c, "w.point")
    wait = "page.cool.step_wait" if pressed else "page.cool.step_wait_open"
    yield at.gap("cool", wait, "cool"), figure(window.cool_s, "w.cool")
    yield at.gap("cool", wait, "cold"), figure(window.cold_s, "w.cold")
    if window.rest_s and window.rest_s.value:
        yield at.gap("cool", "page.cool.step_rest", "rest"), figure(window.rest_s, "w.rest")
    elif TELLING.search(said := stands_in(window, window.rest_s, at)):
        yield at.gap("cool", "page.cool.step_rest", "rest"), Said(text=said, key="w.rest")
    yield from times(window, at)
    if eye := record.advice.eye_mm:
        step = "page.trim.eye_suggested" if record.advice.eye_suggested else "page.trim.eye"
        yield at.gap("trim", step, "eye"), figure(eye)


def stands_in(window: Window, rest: Figure | None, at: Places) -> str:
    """What is told where no rest helps, or none is needed."""
    if rest is None:
        return at.say(f"page.cool.rest_{window.no_rest or 'first_shot'}")
    return "" if rest.value else at.say("page.cool.rest_none")


def times(window: Window, at: Places) -> Iterator[Line]:
    """The times by the shot's number."""
    for index, one in enumerate(window.times):
        row = str(one.shot) if one.shot else at.say("page.cool.later")
        if one.shot:
            yield "cool | th", row
        cells = {
            "gently": (one.open_s, "open"),
            "cold": (one.cold_s, "cold"),
            "hurried": (one.hurried_s, "hurried"),
        }
        if one.rest_s and one.rest_s.value:
            cells["rest_after"] = (one.rest_s, "rest")
        for column, (told, key) in cells.items():
            yield at.cell("cool", row, at.say(f"page.cool.{column}")), figure(told, f"w.times.{index}.{key}")


def files(record: MoldRecord, at: Places, drifts: Mapping[str, Drift]) -> Iterator[Line]:
    """Downloads with size and digest, and the versions."""
    mark = "," if at.language == "de" else "."
    for one in record.downloads:
        yield "files | li", f"{one.name} {megabytes(one.size_bytes, mark)} {one.sha256}"
    yield at.gap("files", "page.files.licence", "licence"), record.spec.licence
    if record.released:
        zipped = record.versions[0].downloads[0]
        yield "files | p", f"{zipped.name} {megabytes(zipped.size_bytes, mark)}:"
    state = "page.versions.current" if record.released else "page.versions.draft"
    yield at.gap("versions", state, "version"), record.spec.version
    for version in record.versions:
        drift = drifts.get(version.version, Drift())
        said = f"{version.version} · {version.date} · {version.notes}"
        said += f" {at.say('page.versions.stop')}" if version.stop or drift.stop else ""
        yield "versions | li", said + (f" {at.say('page.versions.drift')}" if drift else "")


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
    index = largest(m)
    if len(m.baits) > 1:
        yield at.gap(title, "page.catalogue.sizes", "count"), str(len(m.baits))
    length = replace(told(m.baits[index].length_mm, "mm", m), ranged=False)
    yield at.label(title, "page.glance.length"), length
    yield at.label(title, "page.glance.weight"), brief(amounts.bait_g[index])
    yield at.label(title, "page.glance.shot"), brief(amounts.shot_ml)
    if own.shoot_c:
        yield at.label(title, "page.glance.shoot"), brief(own.shoot_c)
    yield at.label(title, "page.glance.cavities"), str(record.spec.cavities)
