"""Which number belongs at which place of the pages that scripts fill: bench, comparison, catalogue."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from builder.model import Figure, Ingredient, MoldRecord, Window
from tests.numbers.expected import Line, Places, amounts_of, cautions, largest, stop
from tests.numbers.quantity import INCH_MM, Quantity, bare, exact, rounded_s

SHOTS = range(1, 11)
SPARES, REMELTS = (0, 5, 10, 15, 20, 30), (0, 10, 25, 50)
"""What the bench offers: shots by number, spare and remelt in %."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """What is asked of the bench; a spare of None is the usual one."""

    baits: int = 12
    spare: float | None = None
    remelt: float = 0.0
    recipe: Sequence[Ingredient] = ()
    shot: int = 1
    hurried: bool = False
    """Without the advised rests between shots."""


STEPS = ("amount", "heat", "push", "hold", "open", "rest")
"""The cards of a shot, one in view at a time."""


def bench(
    record: MoldRecord, at: Places, window: Window, asked: Batch, step: str = "amount"
) -> Iterator[Line]:
    """The bench page once a mold is picked, with one card in view."""
    at = at.of(record)
    yield from stop(window, at)
    chip = at.say("page.bench.chip").replace("{shot}", str(asked.shot))
    yield " | button", f"{record.spec.title} {chip}"
    for number in SHOTS:
        yield " | option", str(number)
    for index, one in enumerate(window.plans):
        heading = at.say("page.bench.rate").replace("{molds}", str(one.molds))
        yield at.gap("", "page.bench.rate", "molds"), str(one.molds)
        yield (at.cell("", heading, "").removesuffix(" | "), bare(one.baits_per_h, f"w.plans.{index}"))
    yield at.gap("", "page.bench.counter", "shot"), str(asked.shot)
    shots = math.ceil(asked.baits / len(record.measurement.baits))
    yield at.gap("", "page.bench.counter", "shots"), str(shots)
    yield from card(record, at, window, asked, step)
    yield from cautions(step, ["first_aid"], record.spec.kind, at)


def card(record: MoldRecord, at: Places, window: Window, asked: Batch, step: str) -> Iterator[Line]:
    """The numbers of one card."""
    if step == "amount":
        yield "amount | @baits", "12"
        for share in (*SPARES, *REMELTS):
            yield "amount | option", f"{share} %"
        yield from amounts(record, at, window, asked)
        yield from cautions(step, ["always"], record.spec.kind, at)
    elif step == "heat":
        if window.shoot_c:
            yield at.label(step, "page.bench.shoot"), bare(window.shoot_c, "w.point")
        yield at.label(step, "page.bench.limit"), bare(window.plastisol_limit_c, "w.plastisol_limit")
        yield at.label(step, "figure.cup"), bare(amounts_of(record, window).hand["cup"], "a.hand.cup")
        yield from cautions(step, ["heat"], record.spec.kind, at)
    elif step == "push":
        if record.spec.kind == "injection":
            shot_ml = amounts_of(record, window).shot_ml
            yield at.label(step, "page.glance.shot"), bare(shot_ml, "a.shot_ml")
        yield from drawn(record, at, window, asked)
        yield from cautions(step, ["shoot"], record.spec.kind, at)
    else:
        yield from clock(window, asked, step)
        yield from cautions(step, [{"open": "open", "rest": "store"}.get(step, "")], record.spec.kind, at)


def drawn(record: MoldRecord, at: Places, window: Window, asked: Batch) -> Iterator[Line]:
    """What sinks in the cup, if there is any, and what an injector costs."""
    known = amounts_of(record, window)
    for grain in ("salt", "flake"):
        if grain in {one.grain for one in asked.recipe} or (grain == "salt" and known.salted):
            key = f"{grain}_sinks"
            yield at.label("push", f"page.bench.{key}"), bare(known.hand[key], f"a.hand.{key}")
    if record.spec.kind == "injection":
        for key in ("injector_cold", "injector_warm"):
            yield at.label("push", f"figure.{key}"), bare(known.hand[key], f"a.hand.{key}")


def clock(window: Window, asked: Batch, step: str) -> Iterator[Line]:
    """What a clock counts down, and its figure: of the next listed shot where this one is not listed.

    The clock starts with what the text beside it tells, which is rounded as every time is.
    """
    row = next((one for one in window.times if one.shot >= asked.shot), window.times[-1])
    opened = row.hurried_s if asked.hurried else row.open_s
    time, key = {
        "hold": (window.hold_s, "w.hold"),
        "open": (opened, "t.cool"),
        "rest": (row.rest_s, "t.rest"),
    }[step]
    if time and time.value:
        seconds = rounded_s(time.value)
        yield f"{step} | p", f"{seconds // 60}:{seconds % 60:02}"
        yield f"{step} | p", bare(time, key)


def amounts(record: MoldRecord, at: Places, window: Window, asked: Batch) -> Iterator[Line]:
    """What to heat, and its recipe: volume and weight of the shots, with the usual spare or with another."""
    known = amounts_of(record, window)
    shots, one = math.ceil(asked.baits / len(record.measurement.baits)), known.batch[0]
    heat_ml, heat_g = times(one.heat_ml, shots), times(one.heat_g, shots)
    if asked.spare is not None:
        heat_g = times(known.shot_g, (1 + asked.spare) * shots)
        heat_ml = times(known.shot_g, (1 + asked.spare) * shots * one.heat_ml.value / one.heat_g.value)
        heat_ml = replace(heat_ml, unit="ml")
    yield at.label("amount", "page.shoot.shots"), str(shots)
    if shots > SHOTS[-1]:
        yield at.gap("amount", "page.bench.baits_many", "shots"), str(shots)
    yield at.label("amount", "page.shoot.heat_ml"), heat_ml
    yield at.label("amount", "page.shoot.heat_g"), heat_g
    fresh = scaled(heat_ml, 1 - asked.remelt)
    if asked.remelt:
        yield at.label("amount", "page.bench.fresh"), fresh
        yield at.label("amount", "page.bench.old"), scaled(heat_ml, asked.remelt)
    for one_of in asked.recipe:
        assert fresh.value is not None
        amount = one_of.amount_per_100_ml * fresh.value / 100
        if one_of.unit == "drops":
            yield "amount | li", f"{amount:.0f} {at.say('page.bench.drops')} {one_of.what}"
        else:
            yield "amount | li", exact(amount, one_of.unit)


def times(one: Figure, factor: float) -> Quantity:
    """A figure multiplied, without letter."""
    return scaled(bare(one), factor)


def scaled(one: Quantity, factor: float) -> Quantity:
    """A quantity multiplied."""
    assert one.value is not None
    return replace(one, value=one.value * factor, low=one.low * factor, high=one.high * factor)


def comparison(records: Sequence[MoldRecord], at: Places) -> Iterator[Line]:
    """Molds side by side, each for its own plastisol and mold material."""
    for number in range(1, 5):
        yield at.gap("", "page.compare.mold", "n"), str(number)
    for record in records:
        m, own, title = record.measurement, record.advice.windows[0], record.spec.title
        amounts = amounts_of(record, own)
        bed = [max(part.bed_mm[side] for part in m.parts) for side in (0, 1)]
        yield from stop(own, at)
        metric = " × ".join(f"{side:.0f}" for side in bed)
        american = " × ".join(f"{side / INCH_MM:.2f}" for side in bed)
        rows: tuple[tuple[str, Figure | Quantity | str | None], ...] = (
            ("page.compare.length", record.advice.figures["bait_length"]),
            ("page.compare.weight", amounts.bait_g[largest(m)]),
            ("page.glance.cavities", str(len(m.baits))),
            ("page.glance.shot", amounts.shot_ml),
            ("page.glance.shoot", own.shoot_c),
            ("page.window.fill", own.fill_c),
            ("page.window.mold_limit", own.mold_limit_c),
            ("page.glance.hold", None if at.of(record).poured else own.hold_s),
            ("page.glance.cool", own.cool_s),
            ("page.glance.rest", own.rest_s if own.rest_s and own.rest_s.value else None),
            ("figure.thinnest", record.advice.figures["thinnest"]),
            ("page.print.bed", f"{metric} mm · {american} in"),
            ("page.compare.bolts", str(len(m.bolts))),
        )
        for label, what in rows:
            if what is not None:
                told = bare(what) if isinstance(what, Figure) else what
                yield at.cell("", in_all_words(label, records, at), title), told


def in_all_words(label: str, records: Sequence[MoldRecord], at: Places) -> str:
    """A label as molds that are shot have it, and as those that are poured have it."""
    wordings = [replace(at, poured=poured).say(label) for poured in (False, True)]
    used = {at.of(record).poured for record in records}
    told = [one for poured, one in enumerate(wordings) if bool(poured) in used]
    return " / ".join(dict.fromkeys(told))


SIZES_MM = (0, 50, 75, 100, 125, math.inf)
"""The steps of bait length that the catalogue offers as chips."""


def chips(records: Sequence[MoldRecord], at: Places) -> Iterator[Line]:
    """The catalogue's chips with how many molds each leaves: sizes and cavities in order, else by count."""
    lengths = [max(bait.length_mm for bait in one.measurement.baits) for one in records]
    for low, high in pairwise(SIZES_MM):
        count = sum(low <= length < high for length in lengths)
        span = f"{low}–{high} mm" if low and high < math.inf else f"< {high} mm" if not low else f"≥ {low} mm"
        if count:
            yield " | label", f"{span} {count}"
    works = [{w.mold_material for w in one.advice.windows if w.shoot_c} for one in records]
    facets: tuple[list[list[str]], ...] = (
        [[one.spec.bait_type] if one.spec.bait_type else [] for one in records],
        [list(one.spec.target) for one in records],
        [[str(one.spec.cavities)] for one in records],
        [[at.name("material", id_) for id_ in some] for some in works],
    )
    for index, facet in enumerate(facets):
        counts = Counter(value for one in facet for value in one)
        ordered = sorted(counts.items(), key=lambda pair: (0 if index == 2 else -pair[1], pair[0].casefold()))
        for value, count in ordered[:14]:
            yield " | label", f"{value} {count}"
