"""What a bait weighs, what a shot takes, how much to heat for a batch, which eye fits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import ceil

from builder.advice import hand, samples
from builder.base import figures
from builder.model import (
    Amounts,
    Bait,
    BatchRow,
    Figure,
    Finished,
    Hints,
    Measurement,
    Plastisol,
    Sourced,
)
from builder.physics import buoyancy, flow
from builder.physics.heat import Array

COLD_C = 20.0
"""Temperature at which densities are given and baits are weighed."""
BATCH = 50
WATERS = ("fresh_water", "sea_water")
JIG_G, SALT_G = 7.0, 20.0
"""The jig head and the salt for 100 mL that are told of: common ones."""


def amounts(plastisol: Plastisol, measurement: Measurement, practice: Mapping[str, Sourced]) -> Amounts:
    """Weights and volumes of one plastisol in this mold.

    A bait weighs what the full cavity held when its gate set: fed until then, it shrinks afterwards.
    """
    drawn = _drawn(plastisol, practice)
    at_set = flow.hot_density(drawn["density"], drawn["expansion"], drawn["set"] - COLD_C)
    hot = flow.hot_density(drawn["density"], drawn["expansion"], drawn["shoot"] - COLD_C)
    sized = 1 + measurement.volume_share * (2 * drawn["size"] - 1)
    cavity_ml, other_ml = _cavity_ml(measurement), _other_ml(measurement)
    shot_g = (cavity_ml + other_ml) * sized * at_set
    with_spare = shot_g * (1 + drawn["spare"])
    shrunk = (at_set / drawn["density"]) ** (1 / 3)
    return Amounts(
        plastisol=plastisol.id,
        bait_g=tuple(
            samples.figure(bait.volume_ml * sized * at_set, "g", "advice.because.bait_g")
            for bait in measurement.baits
        ),
        bait_ml=tuple(
            samples.figure(bait.volume_ml * sized * at_set / drawn["density"], "ml", "advice.because.bait_ml")
            for bait in measurement.baits
        ),
        density_g_ml=figures.of_table(plastisol.values["density"], "advice.because.density"),
        shot_ml=samples.figure(with_spare / hot, "ml", "advice.because.shot_ml"),
        shot_g=samples.figure(shot_g, "g", "advice.because.shot_g"),
        batch=tuple(
            _row(baits, len(measurement.baits), with_spare, drawn["density"]) for baits in range(1, BATCH + 1)
        ),
        finished=tuple(
            _finished(bait.length_mm * shrunk, bait.volume_ml * sized, at_set, drawn)
            for bait in measurement.baits
        ),
        hand=hand.hand_figures(plastisol, practice, injector_too=measurement.kind == "injection"),
        salted=hand.salted(plastisol),
    )


def _finished(length_mm: Array, cavity_ml: Array, at_set: Array, drawn: Mapping[str, Array]) -> Finished:
    """Size and lift of a cold bait that filled its cavity when its gate set, and shrank alike all round."""
    weight_g = cavity_ml * at_set
    volume_ml = weight_g / drawn["density"]
    lift = {water: buoyancy.lift_g(volume_ml, weight_g, drawn[water]) for water in WATERS}
    salted_g, salted_ml = _with_salt(cavity_ml, at_set, drawn)
    salted = {water: buoyancy.lift_g(salted_ml, salted_g, drawn[water]) for water in WATERS}
    jig = {water: JIG_G * (1 - drawn[water] / drawn["lead"]) - lift[water] for water in WATERS}
    carries = {water: buoyancy.carries_g(lift[water], drawn["steel"], drawn[water]) for water in WATERS}
    because = "advice.because.lift"
    return Finished(
        length_mm=samples.figure(length_mm, "mm", "advice.because.finished_length"),
        volume_ml=samples.figure(volume_ml, "ml", "advice.because.bait_ml"),
        lift_fresh_g=samples.figure(lift["fresh_water"], "g", because),
        lift_sea_g=samples.figure(lift["sea_water"], "g", because),
        carries_fresh_g=samples.figure(carries["fresh_water"], "g", because),
        carries_sea_g=samples.figure(carries["sea_water"], "g", because),
        jig_fresh_g=samples.figure(jig["fresh_water"], "g", because),
        jig_sea_g=samples.figure(jig["sea_water"], "g", because),
        salt_g=samples.figure(salted_g, "g", "advice.because.salt"),
        salt_fresh_g=samples.figure(salted["fresh_water"], "g", because),
        salt_sea_g=samples.figure(salted["sea_water"], "g", because),
    )


def _with_salt(cavity_ml: Array, at_set: Array, drawn: Mapping[str, Array]) -> tuple[Array, Array]:
    """Weight and cold volume of a bait with SALT_G of salt for 100 mL of plastisol; salt does not shrink."""
    salt_ml = SALT_G / drawn["salt"]
    mixed_g = 100.0 * drawn["density"] + SALT_G
    weight_g = cavity_ml * mixed_g / (100.0 * drawn["density"] / at_set + salt_ml)
    return weight_g, weight_g * (100.0 + salt_ml) / mixed_g


def _drawn(plastisol: Plastisol, practice: Mapping[str, Sourced]) -> dict[str, Array]:
    """Samples of the constants that a weight depends on."""
    values = {name: plastisol.values[name] for name in ("density", "expansion", "set", "shoot")}
    values |= {name: practice[name] for name in ("spare", "steel", *WATERS)}
    at = samples.quantiles([*values, "size"])
    metals = {name: samples.spread(practice[name], at["steel"]) for name in ("lead", "salt")}
    found = {name: samples.spread(value, at[name]) for name, value in values.items()}
    return {**found, **metals, "size": at["size"]}


def _cavity_ml(measurement: Measurement) -> float:
    return sum(bait.volume_ml for bait in measurement.baits)


def _other_ml(measurement: Measurement) -> float:
    """Sprue, runner and vents."""
    sprue = measurement.sprue.volume_ml if measurement.sprue else 0.0
    return sprue + measurement.runner.volume_ml + sum(vent.volume_ml for vent in measurement.vents)


def _row(baits: int, cavities: int, shot_g: Array, density: Array) -> BatchRow:
    """What a number of baits takes, in whole shots; measured cold in the cup, so at the cold density."""
    shots = ceil(baits / cavities)
    return BatchRow(
        baits=baits,
        shots=shots,
        heat_ml=samples.figure(shots * shot_g / density, "ml", "advice.because.heat_ml"),
        heat_g=samples.figure(shots * shot_g, "g", "advice.because.heat_g"),
    )


def eye(
    measurement: Measurement, hints: Hints, eyes_mm: Sequence[Sourced], practice: Mapping[str, Sourced]
) -> tuple[Figure | None, bool]:
    """The eye that fits, and whether it is only a suggestion.

    Declared by the maker; else the largest common size that the smallest measured socket takes; else,
    without sockets, the common size nearest to the usual share of the body's height.
    """
    sizes = [size.value for size in eyes_mm]
    if hints.eye_mm is not None:
        return figures.exact(hints.eye_mm, "mm", "advice.because.eye_declared", "declared"), False
    sockets = [socket.diameter_mm for bait in measurement.baits for socket in bait.sockets]
    if sockets:
        error = measurement.length_error_mm
        room = min(sockets) - practice["eye_clearance"].value
        fitting = [size for size in sizes if size <= room + max(error, 0.05)]
        if not fitting:
            return None, False
        return figures.exact(max(fitting), "mm", "advice.because.eye_socket", "measured"), False
    height = max((_height_mm(bait) for bait in measurement.baits), default=0.0)
    share = practice["eye_of_height"]
    wanted = _nearest(sizes, share.value * height)
    low, high = (_nearest(sizes, x * height) for x in (share.low, share.high))
    fits = figures.exact(wanted, "mm", "advice.because.eye_height", "common practice")
    return replace(fits, low=low, high=high), True


def _nearest(sizes: Sequence[float], wanted: float) -> float:
    return min(sizes, key=lambda size: abs(size - wanted))


def _height_mm(bait: Bait) -> float:
    return max(bait.height_mm, bait.width_mm)


def headlines(measurement: Measurement, own: Amounts) -> dict[str, Figure]:
    """Sizes and amounts at a glance: of the largest bait where baits differ; the thinnest section of all."""
    read, index = figures.measured(measurement), figures.largest(measurement)
    found = {
        "bait_length": read[f"bait.{index}.length"],
        "cavity_volume": read[f"bait.{index}.volume"],
        "bait_volume": own.bait_ml[index],
        "bait_weight": own.bait_g[index],
        "cavities": read["baits.count"],
        "shot": own.shot_ml,
        "shot_weight": own.shot_g,
        "feed": read["feed"],
        "projected": read["projected"],
    }
    thinnest = read.get("thinnest")
    return found if thinnest is None else {**found, "thinnest": thinnest}


def filling_s(measurement: Measurement, practice: Mapping[str, Sourced]) -> Figure:
    """Time to push the shot in by hand."""
    volume = _cavity_ml(measurement) + _other_ml(measurement)
    rate = practice["injection"]
    return Figure(
        value=volume / rate.value,
        low=volume / rate.high,
        high=volume / rate.low,
        unit="s",
        because="advice.because.fill_time",
        origin="computed",
    )
