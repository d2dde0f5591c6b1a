"""Which number of the record belongs at which place of a mold's own page: one line for each figure."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from builder.model import Bait, Drift, Figure, MoldRecord, Window
from tests.numbers import cold, molds, sentences
from tests.numbers.expected import (
    Line,
    Places,
    amounts_of,
    cautions,
    counted,
    findings,
    largest,
    long,
    measured,
    megabytes,
    of_bait,
    stands_in,
    stop,
    worked_out,
)
from tests.numbers.quantity import Quantity, Said, bare, brief, exact, figure
from tests.numbers.sentences import TELLING


def mold_page(record: MoldRecord, at: Places, window: Window | None = None) -> Iterator[Line]:
    """A mold's page before scripts; after a choice `window` is the chosen pair's."""
    drifts, at = molds.drifts(record), at.of(record)
    window = window or record.advice.windows[0]
    yield from description(record, at)
    yield from stop(window, at)
    yield from first_screen(record, at, window)
    yield from baits(record, at, window)
    yield from about(record, at)
    yield from cold.lines(amounts_of(record, window).finished, largest(record.measurement), at.label)
    yield from limits(at, window)
    for one in window.findings:
        yield from findings("window" if one.level == "note" else "wrong", [one], at)
    yield from troubles(window, at)
    yield from print_settings(record, at)
    yield from from_maker(record)
    yield from printing(record, at)
    yield from cautions("print", ["print"], record.spec.kind, at)
    yield from counted("print", ["print"], record.spec.kind, at)
    if record.spec.kind == "injection":
        yield from bolting(record, at)
    steps = {"shoot": ["first_aid", "always", "heat", "shoot"], "cool": ["open", "store"]}
    for section, named in steps.items():
        yield from counted(section, named, record.spec.kind, at)
        yield from cautions(section, named, record.spec.kind, at)
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
    for turned in (picture.turnable for picture in record.pictures if picture.turnable):
        yield at.gap("numbers", "pictures.turn_error", "error"), exact(turned.error_mm, "mm", "ᵐ")


def description(record: MoldRecord, at: Places) -> Iterator[Line]:
    """What a search engine shows."""
    m, own = record.measurement, record.advice.windows[0]
    key, index = of_bait(m, "page.mold.description"), largest(m)
    yield at.gap("", key, "length"), long(m.baits[index], m)
    yield at.gap("", key, "weight"), bare(amounts_of(record, own).bait_g[index])
    yield at.gap("", key, "baits"), str(record.spec.cavities)


def first_screen(record: MoldRecord, at: Places, window: Window) -> Iterator[Line]:
    """The four numbers at the top, and under them what the bait measures."""
    amounts, m, shut = amounts_of(record, window), record.measurement, record.spec.kind == "injection"
    index, end = largest(m), "" if shut else "_pour"
    yield at.label("", f"page.glance.measure{end}"), figure(amounts.batch[0].heat_ml, "a.one_ml")
    if window.shoot_c:
        yield at.label("", f"page.glance.{'shoot' if shut else 'pour'}"), figure(window.shoot_c, "w.point")
    limit = figure(window.plastisol_limit_c, "w.plastisol_limit")
    yield at.gap("", "page.glance.never", "limit"), limit
    if shut:
        yield at.label("", "page.glance.hold"), figure(window.hold_s, "w.hold")
    yield at.gap("", f"page.glance.one{end}", "baits"), str(record.spec.cavities)
    yield at.label("", f"page.glance.open{end}"), figure(window.cool_s, "w.cool")
    later = figure(window.times[-1].open_s, "w.cool_later")
    yield at.gap("", f"page.glance.later{end}", "cool"), later
    weight = figure(amounts.bait_g[index], f"a.bait_g.{index}")
    yield at.label("", of_bait(m, "page.glance.length")), replace(long(m.baits[index], m), letter="ᵐ")
    yield at.label("", of_bait(m, "page.glance.weight")), weight
    yield at.label("", f"page.glance.cavities{end}"), exact(record.spec.cavities, "count", "ᵈ")


def baits(record: MoldRecord, at: Places, window: Window) -> Iterator[Line]:
    """Each kind of bait with its length, volume and weight; of a single one its volume."""
    m = record.measurement
    listed: Sequence[Bait] = m.baits
    if len(listed) == 1:
        yield at.label("numbers", "figure.cavity_volume"), measured(listed[0].volume_ml, "ml", m)
        return
    for index, bait in enumerate(listed):
        weight = amounts_of(record, window).bait_g[index]
        yield "numbers | th", "1 ×"
        yield at.cell("numbers", "1 ×", at.say("page.glance.length")), replace(long(bait, m), letter="ᵐ")
        yield at.cell("numbers", "1 ×", at.say("figure.cavity_volume")), measured(bait.volume_ml, "ml", m)
        yield at.cell("numbers", "1 ×", at.say("page.glance.weight")), figure(weight, f"a.bait_g.{index}")


def about(record: MoldRecord, at: Places) -> Iterator[Line]:
    """Licence, the first picture's description, and what holds whatever is shot."""
    yield at.label("", "page.glance.licence"), record.spec.licence
    for picture in record.pictures:
        for name, value in picture.alt.values.items():
            told = brief(value) if isinstance(value, Figure) else value
            yield at.gap("", picture.alt.code, name), told
    for one in (*record.advice.findings, *record.measurement.findings):
        yield from findings("numbers" if one.level == "note" else "wrong", [one], at)


def troubles(window: Window, at: Places) -> Iterator[Line]:
    """What may go wrong: the figures of its cure, and its chance among the details."""
    for one in window.troubles:
        yield at.label("numbers", one.code), figure(one.chance)
        for name, value in one.values.items():
            if isinstance(value, Figure):
                yield at.gap("wrong", f"{one.code}_cure", name), figure(value)


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


def print_settings(record: MoldRecord, at: Places) -> Iterator[Line]:
    """Common practice or the maker's own, and by hand what the printed parts take of it."""
    usual, own, m = sentences.table("printing"), record.spec.maker.printed, record.measurement
    resin = record.spec.mold_material in ("resin", "heat-resin")
    parts = [part for part in m.parts if part.role != "bait"]
    density = sentences.table("mold_materials")[record.spec.mold_material]["density"]
    said = {"walls": own.walls, "infill": own.infill_share, "layer": own.layer_mm}
    for name in ("layer",) if resin else ("walls", "infill", "layer"):
        value, told_ = usual["layer_resin" if resin else name], said[name]
        mine = exact(told_, value["unit"], "ᵈ") if told_ is not None else common(value)
        yield at.label("print", f"page.print.{name}"), mine
    hanging = max(part.overhang_mm2 or 0.0 for part in parts)
    if hanging > sentences.table("practice")["overhang"]["value"]:
        yield at.label("print", "page.print.supports"), exact(hanging, "mm2", "ᶜ")
    ends, ml = ("value", "low", "high"), dict[str, float]()
    for end in ends:
        lines = usual["walls"][end] if own.walls is None else own.walls
        share = usual["infill"][end] if own.infill_share is None else own.infill_share
        shells = [min(one.volume_ml, one.area_mm2 * lines * usual["line"][end] / 1000) for one in parts]
        filled = sum(s + share * (one.volume_ml - s) for s, one in zip(shells, parts, strict=True))
        solid = sum(one.volume_ml for one in parts) * (1 + usual["resin_waste"][end])
        ml[end] = solid if resin else filled
    process = "resin" if resin else "filament"
    grams = computed({end: ml[end] * density[end] for end in ends}, "g")
    yield at.label("print", f"page.print.{process}"), grams
    other = {"value": "value", "low": "high", "high": "low"}
    if resin:
        yield at.label("print", "page.print.resin"), computed(ml, "ml")
        rate = {end: max(one.height_mm for one in parts) / usual["resin_mm_h"][other[end]] for end in ends}
    else:
        area = {end: math.pi * usual["filament"][other[end]] ** 2 / 4 for end in ends}
        yield (
            at.label("print", "page.print.filament"),
            computed({end: ml[end] / area[end] for end in ends}, "m"),
        )
        rate = {end: ml[end] / usual["rate_ml_h"][other[end]] for end in ends}
    yield at.label("print", "page.print.time"), computed({end: rate[end] * 3600 for end in ends}, "s")


def common(value: Mapping[str, Any]) -> Quantity:
    """A value of common practice."""
    return Quantity(
        value=value["value"], low=value["low"], high=value["high"], unit=value["unit"], letter="ᵖ"
    )


def computed(ends: Mapping[str, float], unit: str) -> Quantity:
    """A computed figure."""
    return Quantity(value=ends["value"], low=ends["low"], high=ends["high"], unit=unit, letter="ᶜ")


def from_maker(record: MoldRecord) -> Iterator[Line]:
    """What the maker says beside the mold, as far as it has numbers: recipes and costs."""
    for colour in record.spec.colours:
        for one in colour.ingredients:
            unit = "count" if one.unit == "drops" else one.unit
            yield f"colours | {colour.name}", exact(one.amount_per_100_ml, unit)


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
    bolts, place = m.bolts, "print" if record.spec.bolts else "bolt"
    for one in dict.fromkeys((bolt.diameter_mm, bolt.length_mm) for bolt in bolts):
        count = sum((bolt.diameter_mm, bolt.length_mm) == one for bolt in bolts)
        yield at.gap(place, "page.bolt.count", "count"), str(count)
        yield at.gap(place, "page.bolt.count", "diameter"), measured(one[0], "mm", m)
        yield at.gap(place, "page.bolt.count", "length"), measured(one[1], "mm", m)
    for pin in m.pins:
        yield at.gap("print", "page.bolt.pins", "count"), "1"
        yield at.gap("print", "page.bolt.pins", "diameter"), measured(pin.diameter_mm, "mm", m)
        if pin.clearance_mm is not None:
            yield at.gap("print", "page.bolt.pins", "clearance"), measured(pin.clearance_mm, "mm", m)


def shooting(record: MoldRecord, at: Places, window: Window) -> Iterator[Line]:
    """The steps from heating to trimming."""
    amounts, pressed = amounts_of(record, window), record.spec.kind == "injection"
    end = "" if pressed else "_open"
    yield at.gap("shoot", f"page.shoot.step_stir{end}", "heat"), figure(amounts.batch[0].heat_ml, "a.one_ml")
    yield (
        at.gap("shoot", "page.shoot.step_limit", "limit"),
        figure(window.plastisol_limit_c, "w.plastisol_limit"),
    )
    yield at.gap("shoot", "page.shoot.step_cup", "cup"), figure(amounts.hand["cup"], "a.hand.cup")
    for grain in ("salt", "flake"):
        if f"{grain}_sinks" in record.advice.figures:
            sinks = figure(amounts.hand[f"{grain}_sinks"], f"a.hand.{grain}_sinks")
            yield at.gap("shoot", f"page.shoot.sinks_{grain}", "sinks"), sinks
    if pressed:
        yield at.gap("shoot", "page.shoot.step_fill_injector", "shot"), figure(amounts.shot_ml, "a.shot_ml")
        yield at.gap("shoot", "page.shoot.step_hold", "hold"), figure(window.hold_s, "w.hold")
    if window.shoot_c:
        step = "page.shoot.step_shoot" if pressed else "page.shoot.step_pour"
        yield at.gap("shoot", step, "shoot"), figure(window.shoot_c, "w.point")
    wait = f"page.cool.step_wait{end}"
    yield at.gap("cool", wait, "cool"), figure(window.cool_s, "w.cool")
    yield at.gap("cool", wait, "cold"), figure(window.cold_s, "w.cold")
    if window.rest_s and window.rest_s.value:
        yield at.gap("cool", f"page.cool.step_rest{end}", "rest"), figure(window.rest_s, "w.rest")
    elif TELLING.search(said := stands_in(window, window.rest_s, at)):
        yield at.gap("cool", f"page.cool.step_rest{end}", "rest"), Said(text=said, key="w.rest")
    yield from times(window, at, "" if pressed else "_pour")
    if eye := record.advice.eye_mm:
        step = "page.trim.eye_suggested" if record.advice.eye_suggested else "page.trim.eye"
        yield at.gap("cool", step, "eye"), figure(eye)


def times(window: Window, at: Places, end: str) -> Iterator[Line]:
    """The times by the shot's number."""
    for index, one in enumerate(window.times):
        row = str(one.shot) if one.shot else at.say("page.cool.later")
        if one.shot:
            yield "cool | th", row
        cells = {
            f"gently{end}": (one.open_s, "open"),
            "cold": (one.cold_s, "cold"),
            f"hurried{end}": (one.hurried_s, "hurried"),
        }
        if one.rest_s and one.rest_s.value:
            cells["rest_after"] = (one.rest_s, "rest")
        for column, (known, key) in cells.items():
            yield (
                at.cell("cool", row, at.say(f"page.cool.{column}")),
                figure(known, f"w.times.{index}.{key}"),
            )


def files(record: MoldRecord, at: Places, drifts: Mapping[str, Drift]) -> Iterator[Line]:
    """Downloads with size and digest, and the versions."""
    mark = "," if at.language == "de" else "."
    for one in record.downloads:
        yield "files | li", f"{one.name} {megabytes(one.size_bytes, mark)}"
        yield "sums | li", f"{one.name} {one.sha256}"
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
