"""Which number of the record belongs at which place of a mold's page: one line for each figure.

A place is the heading above a number, and its label (a key of the language file), its row and column, or
the gap of the sentence that it stands in. A figure that is added to a page gets its line here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from builder.model import Amounts, Bait, Figure, Finding, MoldRecord, Version, Window
from tests.numbers import sentences
from tests.numbers.quantity import Near, Quantity, bare, brief, exact, figure

What = Quantity | Near | str
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
            (known[f"{one}.{word}"] for one in ("words", "plastisol") if f"{one}.{word}" in known), word
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


def measured(value: float, unit: str) -> Quantity:
    """A number of the measurement as pages tell it: the page tells the error of all of them in one place."""
    return exact(value, unit, "ᵐ")


def megabytes(size: int, mark: str = ".") -> str:
    """A file's size in kB or MB, to three digits."""
    step, symbol = (1e6, "MB") if size >= 1e6 else (1e3, "kB")
    return f"{size / step:.3g} {symbol}".replace(".", mark)


def amounts_of(record: MoldRecord, window: Window) -> Amounts:
    """The amounts of a window's plastisol."""
    return next(one for one in record.advice.amounts if one.plastisol == window.plastisol)


def mold_page(record: MoldRecord, at: Places, window: Window | None = None) -> Iterator[Line]:
    """A mold's page before scripts; after a choice `window` is the chosen pair's."""
    window = window or record.advice.windows[0]
    yield from description(record, at)
    yield from facts(record, at, window)
    yield from baits(record, at, window)
    yield from glance(record, at)
    yield from limits(at, window)
    yield from findings("window", window.findings, at)
    yield from printing(record, at)
    if record.spec.kind == "injection":
        yield from bolting(record, at)
    yield from shooting(record, at, window)
    yield from files(record, at)
    yield at.gap("numbers", "page.numbers.read", "volume"), measured(record.measurement.volume_share, "share")
    yield at.gap("numbers", "page.numbers.read", "length"), measured(record.measurement.length_error_mm, "mm")


def description(record: MoldRecord, at: Places) -> Iterator[Line]:
    """What a search engine shows."""
    key, own = "page.mold.description", record.advice.windows[0]
    yield at.gap("", key, "length"), exact(record.measurement.baits[0].length_mm, "mm")
    yield at.gap("", key, "weight"), bare(amounts_of(record, own).bait_g[0])
    yield at.gap("", key, "baits"), str(record.spec.cavities)


def facts(record: MoldRecord, at: Places, window: Window) -> Iterator[Line]:
    """The numbers at the top."""
    amounts = amounts_of(record, window)
    yield at.label("", "page.glance.length"), measured(record.measurement.baits[0].length_mm, "mm")
    yield at.label("", "page.glance.weight"), figure(amounts.bait_g[0], "a.bait_g.0")
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
    listed: Sequence[Bait] = record.measurement.baits
    if len(listed) == 1:
        yield at.label("glance", "figure.cavity_volume"), measured(listed[0].volume_ml, "ml")
        return
    for index, bait in enumerate(listed):
        weight = amounts_of(record, window).bait_g[index]
        yield "glance | th", "1 ×"
        yield at.cell("glance", "1 ×", at.say("page.glance.length")), measured(bait.length_mm, "mm")
        yield at.cell("glance", "1 ×", at.say("figure.cavity_volume")), measured(bait.volume_ml, "ml")
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
            yield at.cell("print", at.say(f"page.print.{name}"), part.name), measured(value, unit)


def bolting(record: MoldRecord, at: Places) -> Iterator[Line]:
    """Bolts and pins, those alike counted."""
    bolts = record.measurement.bolts
    for one in dict.fromkeys((bolt.diameter_mm, bolt.length_mm) for bolt in bolts):
        count = sum((bolt.diameter_mm, bolt.length_mm) == one for bolt in bolts)
        yield at.gap("bolt", "page.bolt.count", "count"), str(count)
        yield at.gap("bolt", "page.bolt.count", "diameter"), measured(one[0], "mm")
        yield at.gap("bolt", "page.bolt.count", "length"), measured(one[1], "mm")
    for pin in record.measurement.pins:
        yield at.gap("bolt", "page.bolt.pins", "count"), "1"
        yield at.gap("bolt", "page.bolt.pins", "diameter"), measured(pin.diameter_mm, "mm")
        if pin.clearance_mm is not None:
            yield at.gap("bolt", "page.bolt.pins", "clearance"), measured(pin.clearance_mm, "mm")


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
    yield from times(window, at)
    if eye := record.advice.eye_mm:
        step = "page.trim.eye_suggested" if record.advice.eye_suggested else "page.trim.eye"
        yield at.gap("trim", step, "eye"), figure(eye)


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


def files(record: MoldRecord, at: Places) -> Iterator[Line]:
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
        yield "versions | li", f"{version.version} · {version.date} · {version.notes}"


def version_page(version: Version, newest: Version, at: Places) -> Iterator[Line]:
    """A released version's page."""
    title = sentences.same(at.language, "release.page.title")
    yield f" | {title}:version", f"{version.version} · Shotbook"
    yield at.gap("", "release.page.description", "version"), version.version
    yield at.gap("", "release.page.description", "date"), version.date
    yield " | span", version.version
    yield f" | {title}:version", version.version
    if version != newest:
        yield at.gap("", "release.page.newer", "version"), newest.version
    by = at.say("page.catalogue.by").replace("{author}", version.author)
    licence = at.say("page.files.licence_only").replace("{licence}", version.licence)
    yield at.gap("", "release.page.released", "date"), f"{version.date} · {by} · {licence}"
    for change in version.changes:
        label = at.say(f"release.number.{change.name}")
        for when, one in (("before", change.before), ("now", change.after)):
            if one:
                yield at.cell("changed", label, at.say(f"release.page.{when}")), figure(one)
    for name, one in version.figures.items():
        yield at.label("numbers", f"release.number.{name}"), figure(one)
    for download in version.downloads:
        yield "files | li", f"{download.name} {megabytes(download.size_bytes)} {download.sha256}"


def catalogue_card(record: MoldRecord, at: Places) -> Iterator[Line]:
    """A mold in the catalogue: no ranges, the mold's own page tells them."""
    own, title = record.advice.windows[0], record.spec.title
    amounts = amounts_of(record, own)
    yield at.label(title, "page.glance.length"), brief(record.advice.figures["bait_length"])
    yield at.label(title, "page.glance.weight"), brief(amounts.bait_g[0])
    yield at.label(title, "page.glance.shot"), brief(amounts.shot_ml)
    if own.shoot_c:
        yield at.label(title, "page.glance.shoot"), brief(own.shoot_c)
    yield at.label(title, "page.glance.cavities"), str(record.spec.cavities)


def each(records: Sequence[MoldRecord], of: Callable[[MoldRecord], Iterator[Line]]) -> Iterator[Line]:
    """The lines of several molds."""
    for record in records:
        yield from of(record)
