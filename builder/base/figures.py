"""The one home of figures: every number of a measurement, made once with its range, origin and reason.

Pages, terminal, pictures, versions and advice choose among them and format them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from builder.model import (
    Bait,
    Figure,
    Finding,
    Finished,
    FlowPath,
    Gate,
    Measurement,
    Origin,
    PartMeasure,
    Sourced,
    Station,
    Unit,
)

READ, COUNTED, CHOSEN = "figure_because.read", "figure_because.counted", "figure_because.chosen"
LIKE_SHARE = 0.02
"""Baits that differ less than this in volume and length are alike: two prints of one bait differ as much."""
SLIVER_SHARE = 0.01
"""Slivers left out of a difference of two versions hide no more of it than this (own judgement)."""
THICKER = 4.0
"""Facets lie within the drawn curve round a limb and along it, on either side: so many gaps in all."""
TIP_MM = 3.0
"""A limb is told as thick as it is at most so far from its tip, which may be round or sharp."""
GATE_SHARE = 0.05
"""Where along the way a gate is cut is known to such a share of its thickness: measured on drawn molds."""
BOTH_SIDES = 2.0
"""Facets lie within the drawn curve on either side of a bait, and at either end of it."""
UPRIGHT = 0.5
"""A gate that looks so much up or down ends the bait's width, not its length."""
APART = "reading.apart"
"""The code of the finding that the halves' faces are apart: the closed mold is higher by the gap."""
FEED_SHARE = 0.02
"""How well the feed's volume is known: finding the gates a little sooner or later moves plastic over."""


def measured(m: Measurement) -> dict[str, Figure]:
    """Every figure of a measurement by its place: `bait.0.volume`, `sprue.mouth`, `part.1.overhang`.

    Things are numbered in the measurement's order. `bolts.hole` and its like hold the range of all bolts.
    """
    return dict(_named(m))


def kinds(m: Measurement) -> list[list[int]]:
    """The baits' indices, those that are alike together, in order of first appearance."""
    groups: list[list[int]] = []
    for index, bait in enumerate(m.baits):
        known = next((group for group in groups if _alike(m.baits[group[0]], bait)), None)
        if known is None:
            groups.append([index])
        else:
            known.append(index)
    return groups


def largest(m: Measurement) -> int:
    """Index of the bait that stands for the mold where one has to: the first of the largest kind."""
    return max((group[0] for group in kinds(m)), key=lambda index: m.baits[index].volume_ml)


def _alike(one: Bait, other: Bait) -> bool:
    """True for baits of one size."""
    pairs = ((one.volume_ml, other.volume_ml), (one.length_mm, other.length_mm))
    return all(abs(a - b) <= LIKE_SHARE * max(a, b) for a, b in pairs)


def station(place: Station, m: Measurement) -> dict[str, Figure]:
    """A section's `thickness`, and its `way` from the gate (positive on either side).

    The way is followed through cells of the plastic, so that it is known to one of them.
    """
    thick, off = place.thickness_mm, m.length_error_mm
    return {
        "thickness": replace(_length(thick, m, "advice.because.thinnest"), high=thick + THICKER * off),
        "way": _read(abs(place.s_mm), max(m.length_error_mm, m.pitch_mm), "mm"),
    }


def exact(value: float, unit: Unit, because: str, origin: Origin = "computed") -> Figure:
    """A figure without a range."""
    known = float(value)
    return Figure(value=known, low=known, high=known, unit=unit, because=because, origin=origin)


def count(number: int) -> Figure:
    """A number of things found in the mesh."""
    return exact(number, "count", COUNTED, "measured")


def chosen(value_mm: float) -> Figure:
    """A length that was chosen, as the ticks of a scale."""
    return exact(value_mm, "mm", CHOSEN)


def declared(value: float, unit: Unit) -> Figure:
    """A figure that the maker told."""
    return exact(value, unit, "page.numbers.declared", "declared")


def difference(value_ml: float) -> Figure:
    """A volume that one version of a mold has and the other has not."""
    return _share(value_ml, SLIVER_SHARE, "ml", "release.because.compared")


def between(low: float, high: float, unit: Unit) -> Figure:
    """A range of which no value is the likeliest."""
    return Figure(value=low, low=low, high=high, unit=unit, because="", origin="computed")


def of_table(known: Sourced, because: str = "page.materials.lead") -> Figure:
    """A table's value with its range; what it is worth is told beside it."""
    return Figure(
        value=known.value,
        low=known.low,
        high=known.high,
        unit=known.unit,
        because=because,
        origin="declared" if known.grade == "measured" else "common practice",
    )


def _named(m: Measurement) -> Iterator[tuple[str, Figure]]:
    """Key and figure, in the order of the measurement's fields."""
    for axis, side, more in zip("xyz", m.size_mm, (0.0, 0.0, apart_mm(m.findings)), strict=True):
        yield f"size.{axis}", _read(side, m.length_error_mm + more, "mm")
    for index, part in enumerate(m.parts):
        yield from ((f"part.{index}.{name}", figure) for name, figure in _part(part, m))
    for index, bait in enumerate(m.baits):
        yield from ((f"bait.{index}.{name}", figure) for name, figure in _bait(bait, m))
    yield from _feed(m)
    for index, bolt in enumerate(m.bolts):
        yield f"bolt.{index}.hole", _length(bolt.diameter_mm, m)
        yield f"bolt.{index}.length", _length(bolt.length_mm, m)
    for index, pin in enumerate(m.pins):
        yield f"pin.{index}.diameter", _length(pin.diameter_mm, m)
        if pin.clearance_mm is not None:
            yield f"pin.{index}.clearance", _length(pin.clearance_mm, m, "parts.because.pin")
    for index, wall in enumerate(m.walls):
        yield f"wall.{index}", _length(wall.thickness_mm, m, "parts.because.wall")
    yield from _together(m)
    yield "projected", _share(m.projected_mm2, m.volume_share, "mm2", "advice.because.projected")
    yield "volume_share", exact(m.volume_share, "share", READ, "measured")
    yield "length_error", exact(m.length_error_mm, "mm", READ, "measured")


def _bait(bait: Bait, m: Measurement) -> Iterator[tuple[str, Figure]]:
    gate_mm = max((gate.thickness_mm for gate in bait.gates), default=0.0)
    off = BOTH_SIDES * m.length_error_mm + GATE_SHARE * gate_mm
    yield "length", _read(bait.length_mm, off, "mm", "advice.because.bait_length")
    above = [gate for gate in bait.gates if abs(gate.normal[2]) > UPRIGHT]
    beside = [gate for gate in bait.gates if gate not in above and _beside(gate, bait)]
    for name, value, ends in (("height", bait.height_mm, beside), ("width", bait.width_mm, above)):
        gate_mm = max((gate.thickness_mm for gate in ends), default=0.0)
        yield name, _read(value, BOTH_SIDES * m.length_error_mm + GATE_SHARE * gate_mm, "mm")
    yield "volume", _share(bait.volume_ml, m.volume_share, "ml", "advice.because.bait_volume")
    if bait.thinnest:
        yield from ((f"thinnest.{name}", figure) for name, figure in station(bait.thinnest, m).items())
        limb_mm = min((_near_tip(path) for path in bait.paths), default=bait.thinnest.thickness_mm)
        if limb_mm < bait.thinnest.thickness_mm:
            yield "limb", _length(limb_mm, m)
    if bait.sockets:
        yield "sockets", count(len(bait.sockets))
        yield "socket", _length(bait.sockets[0].diameter_mm, m)


def _beside(gate: Gate, bait: Bait) -> bool:
    """True for a gate in back or belly: as far out as they are, not as nose or tail are."""
    out = -sum(n * (at - middle) for n, at, middle in zip(gate.normal, gate.at_mm, bait.at_mm, strict=True))
    return abs(out - bait.height_mm / 2) < abs(out - bait.length_mm / 2)


def _near_tip(path: FlowPath) -> float:
    """The greatest thickness of a path near its end, mm."""
    inside = path.stations[path.gate_index :]
    return max(here.thickness_mm for here in inside if here.s_mm >= inside[-1].s_mm - TIP_MM)


def _part(part: PartMeasure, m: Measurement) -> Iterator[tuple[str, Figure]]:
    yield from _three("size", part.size_mm, m)
    for axis, side in zip("xy", part.bed_mm, strict=True):
        yield f"bed.{axis}", _length(side, m)
    yield "height", _length(part.height_mm, m)
    yield "volume", _share(part.volume_ml, m.volume_share, "ml")
    yield "overhang", _share(part.overhang_mm2, m.volume_share, "mm2", "parts.because.overhang")
    small = {"feature": part.smallest_feature_mm, "gap": part.smallest_gap_mm, "flat": part.flatness_mm}
    for name, value in small.items():
        if value is not None:
            yield name, _length(value, m, f"parts.because.{name}")


def _feed(m: Measurement) -> Iterator[tuple[str, Figure]]:
    """The way in and the vents."""
    ways, share = m.runner.volume_ml, max(FEED_SHARE, m.volume_share)
    if m.sprue:
        ways += m.sprue.volume_ml
        yield "sprue.mouth", _length(m.sprue.mouth_diameter_mm, m)
        yield "sprue.volume", _share(m.sprue.volume_ml, share, "ml")
        yield "runner.volume", _share(m.runner.volume_ml, share, "ml")
        yield "waste", _share(ways, share, "ml")
    for index, vent in enumerate(m.vents):
        for name, value in (("depth", vent.depth_mm), ("length", vent.length_mm)):
            yield f"vent.{index}.{name}", _length(value, m, "advice.because.measured")
    feed_ml = ways + sum(vent.volume_ml for vent in m.vents)
    yield "feed", _share(feed_ml, share, "ml", "advice.because.feed")


def _together(m: Measurement) -> Iterator[tuple[str, Figure]]:
    """What is told of several things at once: how many there are, and their sizes in one range."""
    things = {"parts": m.parts, "vents": m.vents, "bolts": m.bolts, "pins": m.pins}
    yield from ((f"{name}.count", count(len(some))) for name, some in things.items())
    yield "baits.count", exact(len(m.baits), "count", "advice.because.cavities", "measured")
    sizes = {
        "vents.depth": [vent.depth_mm for vent in m.vents],
        "bolts.hole": [bolt.diameter_mm for bolt in m.bolts],
        "pins.diameter": [pin.diameter_mm for pin in m.pins],
        "pins.clearance": [pin.clearance_mm for pin in m.pins if pin.clearance_mm is not None],
    }
    yield from ((name, _middle(values, m)) for name, values in sizes.items() if values)
    print_ml = sum(part.volume_ml for part in m.parts if part.role != "bait")
    yield "print_volume", _share(print_ml, m.volume_share, "ml")
    thin = [bait.thinnest for bait in m.baits if bait.thinnest]
    if thin:
        yield "thinnest", station(min(thin, key=lambda place: place.thickness_mm), m)["thickness"]


def apart_mm(findings: Sequence[Finding]) -> float:
    """How far (mm) the halves' faces are apart, by what was said of them; 0 where nothing was."""
    gaps = (one.values["gap"] for one in findings if one.code == APART)
    return max((gap.value for gap in gaps if isinstance(gap, Figure)), default=0.0)


def _three(name: str, sides: Sequence[float], m: Measurement) -> Iterator[tuple[str, Figure]]:
    return ((f"{name}.{axis}", _length(side, m)) for axis, side in zip("xyz", sides, strict=True))


def _length(value_mm: float, m: Measurement, because: str = READ) -> Figure:
    """A length, as far off as the mesh's facets let it be."""
    return _read(value_mm, m.length_error_mm, "mm", because)


def _share(value: float, share: float, unit: Unit, because: str = READ) -> Figure:
    """A volume or an area with its relative uncertainty."""
    return _read(value, share * value, unit, because)


def _middle(values: Sequence[float], m: Measurement) -> Figure:
    """The middle one of several sizes; the range holds them all."""
    middle, off = sorted(values)[len(values) // 2], m.length_error_mm
    low, high = max(0.0, min(values) - off), max(values) + off
    return Figure(value=middle, low=low, high=high, unit="mm", because=READ, origin="measured")


def _read(value: float, off: float, unit: Unit, because: str = READ) -> Figure:
    low = max(0.0, value - off)
    return Figure(value=value, low=low, high=value + off, unit=unit, because=because, origin="measured")


def finished(bait: Finished) -> dict[str, Figure]:
    """The figures of a cold bait, by name."""
    return {
        "length": bait.length_mm,
        "volume": bait.volume_ml,
        "lift_fresh": bait.lift_fresh_g,
        "lift_sea": bait.lift_sea_g,
        "carries_fresh": bait.carries_fresh_g,
        "carries_sea": bait.carries_sea_g,
        "jig_fresh": bait.jig_fresh_g,
        "jig_sea": bait.jig_sea_g,
        "salt": bait.salt_g,
        "salt_fresh": bait.salt_fresh_g,
        "salt_sea": bait.salt_sea_g,
    }
