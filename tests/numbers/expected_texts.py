"""Which number belongs at which place of the texts that travel: zip, post, shot card, terminal."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from builder.model import Figure, FlowPath, Measurement, MoldRecord
from tests.numbers.expected import (
    CARD_SHOTS,
    Line,
    Places,
    amounts_of,
    largest,
    long,
    of_bait,
    stop,
    thick,
    told,
)
from tests.numbers.quantity import Quantity, bare, exact

POSTED = (
    "bait_length",
    "bait_length_largest",
    "bait_weight",
    "bait_weight_largest",
    "cavities",
    "shot",
    "shoot",
    "hold",
    "cool",
    "print_volume",
)
"""The numbers that a post and the README tell, in this order."""


def length(value: float, m: Measurement) -> Quantity:
    """A length with the error of all lengths."""
    return told(value, "mm", m)


def across(value: float, m: Measurement) -> Quantity:
    """A size across a bait that is fed at its nose: facets lie within it on either side."""
    off = 2 * m.length_error_mm
    return Quantity(value=value, low=value - off, high=value + off, unit="mm")


def volume(value: float, m: Measurement, unit: str = "ml") -> Quantity:
    """A volume, or an area, with the error of all volumes."""
    return told(value, unit, m)


def fed(value: float, m: Measurement) -> Quantity:
    """A volume of the way in, known to a fiftieth at best."""
    off = max(0.02, m.volume_share) * value
    return Quantity(value=value, low=value - off, high=value + off, unit="ml")


def version_numbers(record: MoldRecord) -> Mapping[str, Quantity | None]:
    """What versions are compared by."""
    m, own = record.measurement, record.advice.windows[0]
    index, amounts = largest(m), amounts_of(record, own)
    bait = m.baits[index]
    thin = min(one.thinnest.thickness_mm for one in m.baits if one.thinnest)
    return {
        "cavities": exact(len(m.baits), "count"),
        of_bait(m, "bait_length"): long(bait, m),
        of_bait(m, "bait_volume"): volume(bait.volume_ml, m),
        of_bait(m, "bait_weight"): bare(amounts.bait_g[index]),
        "shot": bare(amounts.shot_ml),
        "thinnest": thick(thin, m),
        "fill": bare(own.fill_c) if own.fill_c else None,
        "limit": bare(own.mold_limit_c) if own.mold_limit_c else None,
        "never_above": bare(own.plastisol_limit_c),
        "shoot": bare(own.shoot_c) if own.shoot_c else None,
        "hold": bare(own.hold_s) if record.spec.kind == "injection" else None,
        "cool": bare(own.cool_s),
        "cool_later": bare(own.times[-1].open_s),
        "rest": bare(own.rest_s) if own.rest_s else None,
        "print_volume": volume(sum(part.volume_ml for part in m.parts if part.role != "bait"), m),
    }


def leaflet(record: MoldRecord, at: Places, *, warned: bool = False) -> Iterator[Line]:
    """What is posted; README.txt tells beside it what is `warned` of."""
    at = at.of(record)
    yield from stop(record.advice.windows[0], at, plain=True)
    yield at.gap("", "release.heading", "version"), record.spec.version
    numbers = version_numbers(record)
    for name in POSTED:
        if what := numbers.get(name):
            yield at.label("", f"release.number.{name}"), what
    for one in record.findings if warned else ():
        if one.level != "note":
            for name, value in one.values.items():
                if isinstance(value, Figure):
                    yield at.gap("", one.code, name), bare(value)
    yield at.gap("", "release.rights", "licence"), record.spec.licence


def card(record: MoldRecord, at: Places, *, scripts: bool = False) -> Iterator[Line]:
    """The shot card for the printer; on the site scripts fill it, so that each figure has its key."""
    own, spec, at = record.advice.windows[0], record.spec, at.of(record)

    def keyed(one: Figure, key: str) -> Quantity:
        return bare(one, key if scripts else "")

    yield from stop(own, at)
    pair = f"{at.name('plastisol', own.plastisol)} · {at.name('material', own.mold_material)}"
    yield " | p", f"{pair} · {spec.cavities} × · v{spec.version}"
    if own.shoot_c:
        yield at.label("", "page.glance.shoot"), keyed(own.shoot_c, "w.point")
    yield at.label("", "page.bench.limit"), keyed(own.plastisol_limit_c, "w.plastisol_limit")
    if spec.kind == "injection":
        yield at.label("", "page.glance.hold"), keyed(own.hold_s, "w.hold")
    for index in (0, 1, 2, len(own.times) - 1):
        times, place = own.times[index], f"w.times.{index}"
        name = str(times.shot) if times.shot else at.say("page.cool.later")
        if times.shot:
            yield " | th", name
        yield at.cell("", name, at.say("page.cool.gently")), keyed(times.open_s, f"{place}.open")
        if times.rest_s and times.rest_s.value:
            yield at.cell("", name, at.say("page.cool.rest_after")), keyed(times.rest_s, f"{place}.rest")
    if record.advice.eye_mm:
        yield at.label("", "page.card.eye"), keyed(record.advice.eye_mm, "eye")
    for index, row in enumerate(amounts_of(record, own).batch):
        if row.baits in [shots * spec.cavities for shots in CARD_SHOTS]:
            name, place = str(row.baits), f"a.batch.{index}"
            yield " | th", name
            yield at.cell("", name, at.say("page.shoot.heat_ml")), keyed(row.heat_ml, f"{place}.0")
            yield at.cell("", name, at.say("page.shoot.heat_g")), keyed(row.heat_g, f"{place}.1")


def near_tip(path: FlowPath) -> Iterator[float]:
    """How thick a path beyond its gate is in its last 3 mm."""
    for here in path.stations[path.gate_index :]:
        if path.stations[-1].s_mm - here.s_mm <= 3.0:
            yield here.thickness_mm


def terminal(record: MoldRecord) -> Iterator[tuple[str, str, Quantity, str]]:
    """The report of `shotbook measure`: thing, name of the row, figure, origin."""
    m, own = record.measurement, record.advice.windows[0]
    amounts = amounts_of(record, own)
    for bait, weight in zip(m.baits, amounts.bait_g, strict=True):
        thing = f"bait {bait.name}"
        yield thing, "volume", volume(bait.volume_ml, m), "measured"
        yield thing, "weight", bare(weight), weight.origin
        yield thing, "length", long(bait, m), "measured"
        yield thing, "height", across(bait.height_mm, m), "measured"
        yield thing, "width", across(bait.width_mm, m), "measured"
        yield thing, "sockets", exact(len(bait.sockets), "count"), "measured"
        yield thing, "socket", length(bait.sockets[0].diameter_mm, m), "measured"
        assert bait.thinnest
        yield thing, "thinnest", thick(bait.thinnest.thickness_mm, m), "measured"
        tips = [max(near_tip(path)) for path in bait.paths]
        if tips and min(tips) < bait.thinnest.thickness_mm:
            yield thing, "limb", length(min(tips), m), "measured"
    if m.sprue:
        yield "sprue", "mouth", length(m.sprue.mouth_diameter_mm, m), "measured"
        yield "sprue", "volume", fed(m.sprue.volume_ml, m), "measured"
        yield "runner", "volume", fed(m.runner.volume_ml, m), "measured"
    shut = record.spec.kind == "injection"
    for thing, name, sizes in (
        ("vents", "depth", [one.depth_mm for one in m.vents]),
        ("bolts", "hole", [one.diameter_mm for one in m.bolts]),
        ("pins", "diameter", [one.diameter_mm for one in m.pins]),
    ):
        if shut:
            yield thing, "count", exact(len(sizes), "count"), "measured"
            yield thing, name, spread(sizes, m), "measured"
    if shut:
        clearances = [one.clearance_mm for one in m.pins if one.clearance_mm is not None]
        yield "pins", "clearance", spread(clearances, m), "measured"
    yield "shot", "volume", bare(amounts.shot_ml), amounts.shot_ml.origin
    yield "shot", "projected", volume(m.projected_mm2, m, "mm2"), "measured"
    heats: tuple[tuple[str, Figure | None], ...] = (
        ("shoot", own.shoot_c),
        ("never_above", own.plastisol_limit_c),
        ("hold", own.hold_s if shut else None),
        ("cool", own.cool_s),
        ("cool_later", own.times[-1].open_s),
        ("cold", own.cold_s),
        ("rest", own.rest_s),
    )
    for name, heat in heats:
        if heat:
            yield "shooting", name, bare(heat), heat.origin
    for part in m.parts:
        for name, size in zip(("size_x", "size_y", "size_z"), part.size_mm, strict=True):
            yield part.name, name, length(size, m), "measured"
        yield part.name, "volume", volume(part.volume_ml, m), "measured"


def spread(sizes: list[float], m: Measurement) -> Quantity:
    """The middle one of several sizes, of an even number the larger; the range holds them all."""
    low, high = max(0.0, min(sizes) - m.length_error_mm), max(sizes) + m.length_error_mm
    return Quantity(value=sorted(sizes)[len(sizes) // 2], low=low, high=high, unit="mm")
