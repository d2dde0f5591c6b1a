"""What may go wrong, sample by sample: short shots, soft walls and flash, dents, air, scorching."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from builder.advice import heating, samples, window
from builder.advice.samples import Constants
from builder.advice.window import Context
from builder.model import Figure, Trouble, Vec3, Window
from builder.physics import clamping, flow
from builder.physics.bolted import Parting
from builder.physics.heat import Array

Flags = NDArray[np.bool_]
ROOM_K = 3.0
"""Less than this below the limit, nobody is told to shoot hotter."""
MILLI = 1e-6
"""m³ in a millilitre."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeated:
    """The wall and the halves in the last of several shots; arrays of shape (solutions,)."""

    softened: Array
    gap_mm: Array | None
    """None where no bolts are context."""
    flashes: Flags
    """Whether the wall softens more than it may, or the halves part wider than plastisol needs."""
    at_mm: Vec3 | None
    """The plastic where the halves part most: where the next bolt helps most."""


def repeated(context: Context, index: int, shot_c: float, *, shots: int, rest_s: float = 0.0) -> Repeated:
    """Solve some shots in a row at one temperature, with a rest between them."""
    one = heating.only(context.hot, index)
    softened, held = heating.softened(one, np.full_like(one.some["room"], shot_c), rest_s, shots)
    return _repeated(context, index, softened[0], held[0])


def first_shot(context: Context, index: int) -> Repeated:
    """The wall and the halves in the first shot where the pair is best shot."""
    return _repeated(context, index, context.times.first[index], context.times.first_held[index])


def _repeated(context: Context, index: int, softened: Array, held: Array) -> Repeated:
    """How far the halves of one pair part; from the softened share of the wall, and that under pressure."""
    some = {name: values[index] for name, values in context.hot.some.items()}
    spot = context.parting
    gap = None if spot is None else _gap_mm(context, some, held, spot)
    flashes = softened > some["soft_share"]
    if gap is not None:
        flashes = flashes | (gap > some["flash_gap"])
    return Repeated(
        softened=softened, gap_mm=gap, flashes=flashes, at_mm=None if spot is None else spot.at_mm
    )


def _gap_mm(context: Context, some: Constants, held: Array, spot: Parting) -> Array:
    """Gap at the worst place; the part of the wall that is soft while the pressure is held counts no more."""
    lift = np.asarray(spot.lift_mm4 * (some["rim"] if spot.touching else 1.0))
    stiff = np.maximum(context.measurement.size_mm[2] / 2 - held * context.body.wall_mm, 1.0)
    return clamping.gap_mm(some["pressure"], lift, some["mold_modulus"] * some["creep"], stiff)


@dataclass(frozen=True, slots=True, kw_only=True)
class Feeding:
    """How the bait is fed while it shrinks; arrays of shape (samples,)."""

    needed_ml: Array
    """What all baits draw from sprue and runner until their gates set."""
    there_ml: float
    unfed_share: Array
    """Shrinkage that comes after the gate has set."""
    gate_s: Array
    body_s: Array


def feeding(context: Context, index: int, shot_c: float, held_s: float | None = None) -> Feeding:
    """Shrinkage of one pair before and after the gate sets (or the maker lets go, after `held_s`).

    The bait draws as it loses heat: with the root of time at first, not evenly until its middle sets.
    """
    mold, constants = context.measurement, context.own(index)
    gate_s = window.hold_s(context, index, shot_c)
    fed_s = gate_s if held_s is None else np.minimum(gate_s, held_s)
    body_s = window.set_s(constants, shot_c, [(context.body.thickness_mm, context.body.flatness)])[0]
    hotter_k = shot_c - constants["on_the_way"][0] - constants["room"][0]
    body_s = np.maximum(body_s, fed_s)
    lost, whole = (heating.lost_share(context.hot, index, each) for each in (fed_s, body_s))
    drawn, later = (
        flow.shrink_share(constants["expansion"][0], hotter_k * each) for each in (lost, whole - lost)
    )
    volume = sum(bait.volume_ml for bait in mold.baits)
    sprue = mold.sprue.volume_ml if mold.sprue else 0.0
    return Feeding(
        needed_ml=volume * drawn,
        there_ml=sprue + mold.runner.volume_ml,
        unfed_share=later,
        gate_s=gate_s,
        body_s=body_s,
    )


def air_pressure_mpa(context: Context, constants: Constants) -> Array | None:
    """Pressure of the air before the vents of the worst-vented bait, shape (samples,); None without vents."""
    mold = context.measurement
    open_vents = [vent for vent in mold.vents if vent.ends != "blind"]
    if not open_vents:
        return None
    share = 1 / max(len(mold.baits), 1)
    flow_m3_s = constants["injection"][0] * MILLI * share
    ease = {
        bait.name: sum(
            vent.width_mm * vent.depth_mm**3 / max(vent.length_mm, 0.1)
            for vent in open_vents
            if vent.bait in (bait.name, "")
        )
        for bait in mold.baits
    }
    worst = min((value for value in ease.values() if value > 0), default=0.0)
    if worst == 0:
        return None
    return flow.vent_pressure_pa(flow_m3_s, 1.0, worst, 1.0) * MILLI


@dataclass(frozen=True, slots=True, kw_only=True)
class Shooting:
    """One pair at its recommended temperature: the first shot, several without a rest, and the feeding."""

    shot_c: float
    first: Repeated
    row: Repeated
    fed: Feeding


def shooting(context: Context, index: int) -> Shooting:
    """Compute what the findings and the troubles of a pair both need."""
    shot_c = context.points[index].trial_c
    return Shooting(
        shot_c=shot_c,
        first=first_shot(context, index),
        row=_repeated(context, index, context.times.row[index], context.times.row_held[index]),
        fed=feeding(context, index, shot_c),
    )


def troubles(context: Context, index: int, own: Window, shot: Shooting) -> tuple[Trouble, ...]:
    """Everything that may go wrong with one pair where it is best shot, the likeliest first."""
    constants, shot_c, fed = context.own(index), shot.shot_c, shot.fed
    softened = samples.figure(shot.first.softened, "share", "advice.because.softened")
    found = [
        _trouble("warp", shot.first.softened > context.practice["soft_share"].value, softened=softened),
        _trouble("scorch", constants["limit"][0] < shot_c, limit=own.plastisol_limit_c),
        _trouble("bubbles", _air_decides(context, constants)),
    ]
    if own.paths:
        worst = own.paths[0]
        thickness = samples.exact(worst.deciding.thickness_mm, "mm", "advice.because.thinnest", "measured")
        top = own.trial_c.value > own.plastisol_limit_c.value - ROOM_K
        code = "short_at_the_top" if top else "short"
        found.append(_trouble(code, context.fill_c[index] > shot_c, path=worst.path, thickness=thickness))
    if context.measurement.kind == "injection":
        found.append(_flash(context, own, shot))
    if context.measurement.sprue is not None:
        dents = (fed.unfed_share > constants["dent"][0]) | (fed.needed_ml > fed.there_ml)
        found.append(_trouble("dent", dents, hold=own.hold_s))
    return tuple(sorted(found, key=lambda trouble: -trouble.chance.value))


def _flash(context: Context, own: Window, shot: Shooting) -> Trouble:
    """Flash: where halves part in the first shot already, rest cannot cure it."""
    if wide_gap(context, shot.first) is not None:
        return _trouble("flash_at_once", shot.first.flashes)
    if own.rest_s is not None and own.rest_s.value > 0:
        in_a_row = samples.exact(heating.SHOTS, "count", "advice.because.shots_in_a_row", "declared")
        return _trouble("flash", shot.row.flashes, shots=in_a_row, rest=own.rest_s)
    return _trouble("flash_anyway", shot.row.flashes)


def wide_gap(context: Context, shot: Repeated) -> Figure | None:
    """The gap where the halves part most, where it is wider than plastisol needs to flash."""
    if shot.gap_mm is None:
        return None
    gap = samples.figure(shot.gap_mm, "mm", "advice.because.gap")
    return gap if gap.value > context.practice["flash_gap"].value else None


def _trouble(name: str, hits: Flags, **values: Figure | str) -> Trouble:
    return Trouble(code=f"findings.trouble.{name}", chance=samples.chance(hits), values=values)


def _air_decides(context: Context, constants: Constants) -> Flags:
    """Where air is trapped: at an extremity without a vent, or before vents that are too small."""
    pressure = air_pressure_mpa(context, constants)
    unvented = any(not path.vented for bait in context.measurement.baits for path in bait.paths)
    if unvented or pressure is None:
        return np.full(constants["pressure"].shape[1], unvented, dtype=np.bool_)
    return np.asarray(pressure > constants["air_share"][0] * constants["pressure"][0])


def gate_figure(fed: Feeding) -> Figure:
    """Set time of the gate as a figure."""
    return samples.figure(fed.gate_s, "s", "advice.because.hold")
