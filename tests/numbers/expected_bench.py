"""Which number belongs at which place of the pages that scripts fill: bench, comparison, catalogue."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from builder.model import Figure, Ingredient, MoldRecord, Window
from tests.numbers.expected import Line, Places, amounts_of, cautions, folded, largest, stop
from tests.numbers.quantity import INCH_MM, Quantity, bare, exact

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


def bench(record: MoldRecord, at: Places, window: Window, asked: Batch) -> Iterator[Line]:
    """The bench page once a mold is picked."""
    yield from stop(window, at)
    yield from folded("", ["always", "first_aid", "heat"], "injection", at)
    if window.shoot_c:
        yield at.label("", "page.bench.shoot"), bare(window.shoot_c, "w.point")
    yield at.label("", "page.bench.limit"), bare(window.plastisol_limit_c, "w.plastisol_limit")
    for number in SHOTS:
        yield "timers | option", str(number)
    yield from clocks(record, window, asked)
    for index, one in enumerate(window.plans):
        heading = at.say("page.bench.rate").replace("{molds}", str(one.molds))
        yield at.gap("timer-rest", "page.bench.rate", "molds"), str(one.molds)
        yield (
            at.cell("timer-rest", heading, "").removesuffix(" | "),
            bare(one.baits_per_h, f"w.plans.{index}"),
        )
    yield from folded("timer-rest", ["shoot", "open", "store"], "injection", at)
    yield from cautions("timer-rest", ["shoot", "open", "store"], "injection", at)
    yield "batch | @baits", "12"
    for share in (*SPARES, *REMELTS):
        yield "batch | option", f"{share} %"
    yield from amounts(record, at, window, asked)


def clocks(record: MoldRecord, window: Window, asked: Batch) -> Iterator[Line]:
    """What each clock counts down, and its figure: of the next listed shot where this one is not listed."""
    row = next((one for one in window.times if one.shot >= asked.shot), window.times[-1])
    waits = {"cool": row.hurried_s if asked.hurried else row.open_s, "rest": row.rest_s}
    keys = {name: f"t.{name}" for name in waits}
    if record.spec.kind == "injection":
        waits, keys = {"hold": window.hold_s, **waits}, {"hold": "w.hold", **keys}
    for name, time in waits.items():
        seconds = round(time.value) if time else 0
        yield f"timer-{name} | p", f"{seconds // 60}:{seconds % 60:02}"
        if time and time.value:
            yield f"timer-{name} | p", bare(time, keys[name])


def amounts(record: MoldRecord, at: Places, window: Window, asked: Batch) -> Iterator[Line]:
    """What to heat, and its recipe: volume and weight of the shots, with the usual spare or with another."""
    known = amounts_of(record, window)
    shots, one = math.ceil(asked.baits / len(record.measurement.baits)), known.batch[0]
    heat_ml, heat_g = times(one.heat_ml, shots), times(one.heat_g, shots)
    if asked.spare is not None:
        heat_g = times(known.shot_g, (1 + asked.spare) * shots)
        heat_ml = times(known.shot_g, (1 + asked.spare) * shots * one.heat_ml.value / one.heat_g.value)
        heat_ml = replace(heat_ml, unit="ml")
    yield at.label("batch", "page.shoot.shots"), str(shots)
    yield at.label("batch", "page.shoot.heat_ml"), heat_ml
    yield at.label("batch", "page.shoot.heat_g"), heat_g
    fresh = scaled(heat_ml, 1 - asked.remelt)
    if asked.remelt:
        yield at.label("batch", "page.bench.fresh"), fresh
        yield at.label("batch", "page.bench.old"), scaled(heat_ml, asked.remelt)
    for one_of in asked.recipe:
        assert fresh.value is not None
        amount = one_of.amount_per_100_ml * fresh.value / 100
        if one_of.unit == "drops":
            yield "batch | li", f"{amount:.0f} {at.say('page.bench.drops')} {one_of.what}"
        else:
            yield "batch | li", exact(amount, one_of.unit)


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
            ("page.glance.hold", own.hold_s),
            ("page.glance.cool", own.cool_s),
            ("page.glance.rest", own.rest_s if own.rest_s and own.rest_s.value else None),
            ("figure.thinnest", record.advice.figures["thinnest"]),
            ("page.print.bed", f"{metric} mm · {american} in"),
            ("page.compare.bolts", str(len(m.bolts))),
        )
        for label, what in rows:
            if what is not None:
                told = bare(what) if isinstance(what, Figure) else what
                yield at.cell("", at.say(label), title), told
