"""What scripts add to a mold's page, and what the pages' data holds for them: one line for each figure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from lxml.etree import fromstring

from builder.model import Figure, MoldRecord, Window
from tests.numbers.cold import finished
from tests.numbers.expected import (
    BATCH_ROWS,
    Line,
    Places,
    amounts_of,
    largest,
    long,
    lowest_limit,
    stands_in,
    stop_code,
    thick,
)
from tests.numbers.quantity import INCH_MM, LETTERS, Quantity, bare, between, brief, exact, figure, rounded_s

Leaf = Quantity | str | float
MOST_MOVES = 6


def tables(record: MoldRecord, at: Places) -> Iterator[Line]:
    """The tables of a mold's page; they are those of its own pair, whatever is chosen."""
    at = at.of(record)
    yield from ways(record, at)
    yield from logged(record, at)
    yield from grid(record, at)
    yield from batch(record, at, record.advice.windows[0])
    yield from plan(record, at)
    yield from why(record, at)
    yield from moves(record, at)


def ways(record: MoldRecord, at: Places) -> Iterator[Line]:
    """What sets first on each way."""
    for verdict in record.advice.windows[0].paths:
        row, side = at.word(verdict.path), "before" if verdict.deciding.s_mm < 0 else "behind"
        sentence = f"page.window.{side}"
        end = "page.window.only_end" if verdict.path.endswith("_end") else "page.window.end"
        yield at.gap("window", end, "bait"), verdict.path[0]
        m = record.measurement
        here, way = verdict.deciding.thickness_mm, abs(verdict.deciding.s_mm)
        off = max(m.length_error_mm, m.pitch_mm)
        distance = Quantity(value=way, low=max(0.0, way - off), high=way + off, unit="mm", letter="ᵐ")
        yield at.gap("window", sentence, "thickness"), replace(thick(here, m), letter="ᵐ")
        yield at.gap("window", sentence, "distance"), distance
        yield at.cell("window", row, at.say("page.window.margin")), figure(verdict.margin)
        if verdict.needed_mm:
            yield at.cell("window", row, at.say("page.window.needed")), figure(verdict.needed_mm)


def logged(record: MoldRecord, at: Places) -> Iterator[Line]:
    """Shots that the maker logged."""
    for one in record.advice.shots:
        shot, column = one.shot, at.say("page.glance.shoot")
        yield "window | th", shot.date
        yield at.cell("window", shot.date, column), exact(shot.shot_c, "c", "ᵈ")
        pair = f"{at.name('plastisol', shot.plastisol)}, {at.name('material', shot.mold_material)}"
        yield at.cell("window", shot.date, f"{column} | rest"), f"▢, {pair}, {shot.in_a_row} ×"
        yield at.cell("window", shot.date, at.say("page.window.expected")), figure(one.chance)


def grid(record: MoldRecord, at: Places) -> Iterator[Line]:
    """The likely range of every pair."""
    for one in record.advice.windows:
        if one.likely_c:
            row, column = at.name("material", one.mold_material), at.name("plastisol", one.plastisol)
            yield at.cell("window", row, column), between(*one.likely_c, "c")


def batch(record: MoldRecord, at: Places, window: Window) -> Iterator[Line]:
    """How much to heat for so many baits."""
    for row in amounts_of(record, window).batch:
        if row.baits in BATCH_ROWS:
            name = str(row.baits)
            yield "shoot | th", name
            yield (
                at.cell("shoot", name, at.say("page.shoot.shots")),
                str(-(-row.baits // record.spec.cavities)),
            )
            yield at.cell("shoot", name, at.say("page.shoot.heat_ml")), bare(row.heat_ml)
            yield at.cell("shoot", name, at.say("page.shoot.heat_g")), bare(row.heat_g)


def plan(record: MoldRecord, at: Places) -> Iterator[Line]:
    """Several molds in turn."""
    for one in record.advice.windows[0].plans[:1]:
        yield at.gap("cool", "page.cool.plan_order", "molds"), str(one.busy_from)
    for one in record.advice.windows[0].plans:
        row = str(one.molds)
        yield "cool | th", row
        yield at.cell("cool", row, at.say("page.cool.plan_rate")), figure(one.baits_per_h)
        for baits, total in one.total_s:
            column = at.say("page.cool.plan_total").replace("{baits}", str(baits))
            yield at.cell("cool", row, column), figure(total)


def plan_heads(record: MoldRecord, at: Places) -> Iterator[Line]:
    """The numbers of baits that the columns are for."""
    for plan in record.advice.windows[0].plans[:1]:
        for baits, _ in plan.total_s:
            yield at.gap("cool", "page.cool.plan_total", "baits"), str(baits)


def why(record: MoldRecord, at: Places) -> Iterator[Line]:
    """Each figure with how it came about; of those that came about alike the last."""
    own = record.advice.windows[0]
    named: dict[str, tuple[str, Figure | None]] = {
        one.because: (at.name("figure", name), one) for name, one in record.advice.figures.items()
    }
    for key, one in (
        ("page.glance.shoot", own.shoot_c),
        ("page.window.fill", own.fill_c),
        ("page.window.mold_limit", own.mold_limit_c),
        ("page.window.plastisol_limit", own.plastisol_limit_c),
        ("page.glance.hold", None if at.poured else own.hold_s),
        ("page.glance.cool", own.cool_s),
        ("figure.cold", own.cold_s),
        ("page.glance.rest", own.rest_s),
    ):
        if one:
            named[one.because] = (at.say(key), one)
    if len(record.measurement.baits) > 1:
        several = {at.name("figure", name): f"{name}_largest" for name in OF_A_BAIT}
        named = {
            key: (at.name("figure", several[name]) if name in several else name, one)
            for key, (name, one) in named.items()
        }
    for name, last in named.values():
        if last:
            yield at.cell("numbers", name, at.say("page.numbers.value")), bare(last)


def moves(record: MoldRecord, at: Places) -> Iterator[Line]:
    """The constants that move the lower limit most."""
    for one in record.advice.sensitivity[:MOST_MOVES]:
        row = at.name("value", one.constant)
        low, high = one.fill_at_low_c, one.fill_at_high_c
        yield at.cell("numbers", row, at.say("page.numbers.known")), between(one.low, one.high, one.unit)
        if low is not None and high is not None:
            yield at.cell("numbers", row, at.say("page.numbers.moved")), between(low, high, "c")


def labels(record: MoldRecord, at: Places) -> Iterator[Line]:
    """The words over the pictures."""
    for picture in record.pictures:
        for label in picture.labels if picture.name != "bait" else ():
            if label.figure:
                yield f"over | {at.say(label.name)}", brief(label.figure)


def mold_data(record: MoldRecord, at: Places) -> dict[str, Leaf]:
    """A mold's data for scripts by dotted address, without its tables, sentences and drawings."""
    spec, m, at = record.spec, record.measurement, at.of(record)
    bed = [max(part.bed_mm[side] for part in m.parts) for side in (0, 1)]
    found: dict[str, Leaf] = {
        "cavities": spec.cavities,
        "version": spec.version,
        "sheet.bolts": len(m.bolts),
        "sheet.bed.0": f"{bed[0]:.0f} × {bed[1]:.0f}\u00a0mm",
        "sheet.bed.2": f"{bed[0] / INCH_MM:.2f} × {bed[1] / INCH_MM:.2f}\u00a0in",
        **{f"sheet.{name}": bare(one) for name, one in record.advice.figures.items()},
    }
    if record.advice.eye_mm:
        found["eye"] = bare(record.advice.eye_mm)
    for number, colour in enumerate(spec.colours):
        for index, one in enumerate(colour.ingredients):
            found[f"colours.{number}.ingredients.{index}.amount_per_100_ml"] = one.amount_per_100_ml
    for picture in record.pictures:
        place = f"over.{picture.name}"
        if picture.overlay_svg:
            for n, element in enumerate(fromstring(f"<svg>{picture.overlay_svg}</svg>")):
                found |= {f"{place}.marks.{n}.1.{key}": value for key, value in element.attrib.items()}
        for index, label in enumerate(picture.labels):
            found |= {f"{place}.size.0": picture.width_px, f"{place}.size.1": picture.height_px}
            found |= {f"{place}.words.{index}.2": label.x_px, f"{place}.words.{index}.3": label.y_px}
            found[f"{place}.words.{index}.0"] = at.say(label.name)
            if label.figure:
                found[f"{place}.words.{index}.1"] = brief(label.figure)
    for window in record.advice.windows:
        found |= window_data(window, f"w.{window.plastisol}.{window.mold_material}", at)
    return found | amounts_data(record)


def amounts_data(record: MoldRecord) -> dict[str, Leaf]:
    """What follows the plastisol."""
    found: dict[str, Leaf] = {}
    for one in record.advice.amounts:
        place = f"a.{one.plastisol}"
        found |= {f"{place}.bait_g.{index}": bare(weight) for index, weight in enumerate(one.bait_g)}
        found |= {f"{place}.hand.{name}": bare(value) for name, value in one.hand.items()}
        if one.finished:
            found |= {
                f"{place}.finished.{name}": bare(value)
                for name, value in finished(one.finished[largest(record.measurement)])
            }
        found[f"{place}.largest_g"] = bare(one.bait_g[largest(record.measurement)])
        found |= {f"{place}.shot_ml": bare(one.shot_ml), f"{place}.shot_g": bare(one.shot_g)}
        found |= {f"{place}.one_ml": bare(one.batch[0].heat_ml)}
        for index, row in enumerate(one.batch):
            found |= {
                f"{place}.shots.{index}": -(-(index + 1) // record.spec.cavities),
                f"{place}.batch.{index}.0": bare(row.heat_ml),
                f"{place}.batch.{index}.1": bare(row.heat_g),
            }
        multiplied = {"one_ml": one.batch[0].heat_ml, "one_g": one.batch[0].heat_g, "shot_g": one.shot_g}
        for name, by in multiplied.items():
            for index, number in enumerate((by.value, by.low, by.high)):
                found[f"numbers.{one.plastisol}.{name}.{index}"] = number
    return found


def window_data(window: Window, place: str, at: Places) -> dict[str, Leaf]:
    """What follows plastisol and mold material."""
    told: Mapping[str, Figure | None] = {
        "point": window.shoot_c,
        "fill": window.fill_c,
        "mold_limit": window.mold_limit_c,
        "plastisol_limit": window.plastisol_limit_c,
        "hold": None if at.poured else window.hold_s,
        "cool": window.cool_s,
        "cool_later": window.times[-1].open_s,
        "cold": window.cold_s,
        "rest": window.rest_s if window.rest_s and window.rest_s.value else None,
    }
    found: dict[str, Leaf] = {f"{place}.{name}": bare(one) for name, one in told.items() if one}
    words = {"rest": stands_in(window, window.rest_s, at)}
    words["fill"] = "" if window.fill_c else at.say("page.window.fill_never")
    words["mold_limit"] = "" if window.mold_limit_c else at.say("page.window.scorches_first")
    found |= {f"{place}.{name}.0": said for name, said in words.items() if said}
    if (code := stop_code(window)) == "stop.too_cold":
        found[f"{place}.stop.1"] = figure(lowest_limit(window))
    elif code == "stop.unlikely":
        pair = {"plastisol": at.word(window.plastisol), "mold_material": at.word(window.mold_material)}
        found[f"{place}.stop.0"] = at.say(code).format(**pair)
    found[f"{place}.plastisol_limit"] = figure(window.plastisol_limit_c)
    found[f"{place}.hold_seconds"] = rounded_s(window.hold_s.value)
    for index, row in enumerate(window.times):
        row_at, waits = f"{place}.times.{index}", {"open": row.open_s, "hurried": row.hurried_s}
        found |= {f"{row_at}.{name}": bare(one) for name, one in (waits | {"cold": row.cold_s}).items()}
        rest_s = row.rest_s.value if row.rest_s else 0.0
        said = stands_in(window, row.rest_s, at)
        found |= {f"{row_at}.rest.0": said} if said else {f"{row_at}.rest": bare(row.rest_s)}  # type: ignore[arg-type]
        found[f"{row_at}.shot"] = row.shot
        seconds = (row.open_s.value, row.hurried_s.value, rest_s)
        found |= {f"{row_at}.seconds.{n}": rounded_s(value) for n, value in enumerate(seconds)}
    for index, plan in enumerate(window.plans):
        found[f"{place}.plans.{index}"] = bare(plan.baits_per_h)
    for index, finding in enumerate(window.findings):
        for name, value in finding.values.items():
            found[f"{place}.findings.{index}.2.{name}"] = _lettered(value)
    for index, trouble in enumerate(window.troubles):
        found[f"{place}.troubles.{index}.0"] = _lettered(trouble.chance)
        for name, value in trouble.values.items():
            found[f"{place}.troubles.{index}.2.{name}"] = _lettered(value)
    return found


def _lettered(value: Figure | str) -> Leaf:
    return figure(value) if isinstance(value, Figure) else value


def index_entry(record: MoldRecord, at: Places) -> dict[str, Leaf]:
    """A mold in the catalogue's data by dotted address."""
    own, m = record.advice.windows[0], record.measurement
    amounts = amounts_of(record, own)
    found: dict[str, Leaf] = {
        "cavities": record.spec.cavities,
        "poured": record.spec.kind == "open pour",
        "version": record.spec.version,
        "length": round(max(bait.length_mm for bait in m.baits), 1),
        "weight": round(max(one.value for one in amounts.bait_g), 2),
        "shot": round(amounts.shot_ml.value, 1),
        "bed.0": round(max(part.bed_mm[0] for part in m.parts)),
        "bed.1": round(max(part.bed_mm[1] for part in m.parts)),
        "facts.0": replace(long(m.baits[largest(m)], m), ranged=False),
        "facts.1": brief(amounts.bait_g[largest(m)]),
        "facts.2": brief(amounts.shot_ml),
        "facts.4": exact(record.spec.cavities, "count"),
    }
    if len(m.baits) > 1:
        sizes = at.say("page.catalogue.sizes").replace("{count}", str(len(m.baits)))
        by = at.say("page.catalogue.by").replace("{author}", record.spec.author)
        found["by"] = " · ".join((record.spec.bait_type, by, sizes))
    if own.shoot_c:
        found["facts.3"] = brief(own.shoot_c)
    for picture in record.pictures:
        if picture.name == "bait":
            width, file = min(picture.files.items())
            height = round(width * picture.height_px / picture.width_px)
            found |= {"picture.0": file, "picture.1": width, "picture.2": height}
    return found


OF_A_BAIT = ("bait_length", "bait_volume", "cavity_volume")
"""Figures that are those of the largest bait."""
LETTER_OF = dict(zip("mcdp", LETTERS.values(), strict=True))
"""The letters of origins as the pages' data has them."""
