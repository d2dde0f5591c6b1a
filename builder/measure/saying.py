"""What a reading says of its plastic: doubtful gates, wells in vents, gaps round cores, second ways out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from builder import mesh
from builder.base import figures
from builder.measure.cavity import enclosed
from builder.measure.cavity.void import Mouth, Piece
from builder.measure.closing import assemble
from builder.measure.features.sizes import Spans
from builder.measure.flow_tree import seeds
from builder.measure.flow_tree.split import Parted
from builder.mesh import cuts
from builder.model import Bait, Figure, Finding

LARGE_SHARE = 0.05
"""A vent with its wells that holds more than this share of the baits may be a part of a bait."""
SEAT_STEP_MM, SEAT_END_MM, SEAT_DEPTHS = 0.25, 0.005, 0.75
"""A seat for a nozzle is looked into in such steps, its floor found so closely, down to so many widths..."""
SEAT_SHARE, STEP_SHARE = 0.9, 0.35
"""...hardly narrower down to its floor, and far wider than the sprue there."""
TOUCH_MM = 0.01
"""Bodies this near to each other touch: a vent runs along a core, a well joins two baits."""


def of_seat(sprue: Mouth, parted: Parted) -> Iterator[Finding]:
    """A word on a wide and shallow step at the sprue's mouth: a nozzle may fill it, and no plastic."""
    feed = mesh.solid(parted.runner, "feed")

    def area_mm2(deep: float) -> float:
        cut = cuts.across(feed, sprue.at - deep * sprue.normal, sprue.normal)
        return 0.0 if cut is None else float(cut.polygon.area)

    wide, narrow = SEAT_STEP_MM, SEAT_STEP_MM
    while narrow < SEAT_DEPTHS * sprue.diameter_mm and area_mm2(narrow) > SEAT_SHARE * sprue.area_mm2:
        wide, narrow = narrow, narrow + SEAT_STEP_MM
    while narrow - wide > SEAT_END_MM:
        middle = (wide + narrow) / 2
        is_wide = area_mm2(middle) > SEAT_SHARE * sprue.area_mm2
        wide, narrow = (middle, narrow) if is_wide else (wide, middle)
    if narrow == wide or not 0.0 < area_mm2(narrow) < STEP_SHARE * sprue.area_mm2:
        return
    seat = parted.runner.trim_by_plane(mesh.vec(sprue.normal), float(sprue.at @ sprue.normal) - wide)
    values = {
        "wide": figures.exact(sprue.diameter_mm, "mm", "reading.seat_wide", "measured"),
        "volume": figures.exact(mesh.volume_ml(seat), "ml", "reading.volume", "measured"),
    }
    yield Finding(level="note", code="reading.seat", values=values, at_mm=mesh.vec(sprue.at))


def of_sprues(count: int) -> Iterator[Finding]:
    """A word on a mold whose cavities are not all fed through one sprue."""
    if count > 1:
        values = {"count": figures.count(count)}
        yield Finding(level="note", code="reading.several_sprues", values=values)


def of_gap(findings: Sequence[Finding], baits: Sequence[Bait]) -> Iterator[Finding]:
    """The findings; that of halves filed apart with what all baits would hold in the gap."""
    area_mm2 = sum(bait.projected_mm2 for bait in baits)
    for one in findings:
        gap = one.values.get("gap")
        if one.code == assemble.PRESSED and isinstance(gap, Figure):
            more = figures.exact(mesh.volume_ml(gap.value * area_mm2), "ml", "reading.gap_holds")
            yield replace(one, values={**one.values, "more": more})
        else:
            yield one


def of_plastic(piece: Piece, sprue: Mouth, parted: Parted, cores: Sequence[mesh.Body]) -> Iterator[Finding]:
    """What is doubtful or worth saying of one piece of plastic; `cores` are cores and blades."""
    if not parted.flow.sure:
        yield Finding(level="warn", code="reading.wide_gate")
    for cut, before_mm in parted.moved:
        moved = {"moved": figures.exact(before_mm, "mm", "reading.gate_moved_by", "measured")}
        yield Finding(level="note", code="reading.gate_moved", values=moved, at_mm=mesh.vec(cut.at))
    for well in parted.wells:
        yield Finding(level="note", code="reading.well", at_mm=mesh.vec(well))
    if parted.runner_gates == len(parted.baits):  # no bait is fed through another
        joining = [link for link in parted.links if sum(_touch(link, bait) for bait in parted.baits) > 1]
        for link in joining:
            volume = figures.exact(mesh.volume_ml(link), "ml", "reading.volume", "measured")
            yield Finding(level="note", code="reading.common_well", values={"volume": volume})
    for body, _, mouth in parted.vents:
        if (held := body.volume()) > LARGE_SHARE * sum(bait.volume() for bait in parted.baits):
            volume = figures.exact(mesh.volume_ml(held), "ml", "reading.volume", "measured")
            yield Finding(
                level="warn", code="reading.large_vent", values={"volume": volume}, at_mm=mesh.vec(mouth.at)
            )
        if any(_touch(body, core) for core in cores):
            yield Finding(level="note", code="reading.core_gap", at_mm=mesh.vec(mouth.at))
    wide = (one for one in piece.mouths if one is not sprue and one.diameter_mm > enclosed.WIDEST_VENT_MM)
    for mouth in wide:
        if not _in_pocket(parted, mouth):
            yield Finding(level="warn", code="reading.second_mouth", at_mm=mesh.vec(mouth.at))


def _in_pocket(parted: Parted, mouth: Mouth) -> bool:
    """True for a mouth of a pocket behind a vent, which counts with that vent."""
    others = [*parted.baits, parted.runner, *parted.links, *parted.risers]
    where = seeds.opening([*others, *(body for body, _, _ in parted.vents)], mouth) - len(others)
    return where >= 0 and parted.vents[where][2] is not mouth


def _touch(one: mesh.Body, other: mesh.Body) -> bool:
    """True for bodies side by side."""
    return bool(one.min_gap(other, TOUCH_MM) < TOUCH_MM / 2)


def of_risers(parted: Parted) -> Iterator[Finding]:
    """What to say of risers, overflows and second sprues, which told gates cut off."""
    for riser in parted.risers:
        low, high = mesh.box(riser)
        values = {"volume": figures.exact(mesh.volume_ml(riser), "ml", "reading.volume", "measured")}
        yield Finding(level="note", code="reading.riser", values=values, at_mm=mesh.vec((low + high) / 2))


def of_grooves(names: Sequence[str], parted: Parted, spans: Sequence[Spans]) -> Iterator[Finding]:
    """What to say of grooves that leave a bait as a vent does, and end before the outside, or in a pocket."""
    drained = zip(parted.vents, parted.vent_of, strict=True)
    shut = [(of, mouth.at) for (_, _, mouth), of in drained if mouth.ends == "blind"]
    for k, (name, span) in enumerate(zip(names, spans, strict=True)):
        for end in (*span.blind, *(at for of, at in shut if of == k)):
            yield Finding(
                level="note", code="reading.blind_groove", values={"bait": name}, at_mm=mesh.vec(end)
            )
