"""Flow ladders shot with plastics whose constants are hidden, by the judge of `judge_creep`."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from builder.model import Ladder, LadderReadings, LadderShot
from tests.judge_creep import Array, Slits, reach_m

LADDER = Ladder(
    gaps_mm=(2.0, 2.6, 3.0, 3.6, 4.0, 4.6), width_mm=18.0, length_mm=80.0, well_mm=40.0, head_mm=80.0
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hidden:
    """Plastics, one to each place of the arrays."""

    viscosity: Array
    set_c: Array
    exponent: Array
    conductivity: Array
    heat_capacity: Array
    density: Array
    mold_conductivity: Array
    mold_volumetric: Array

    def __len__(self) -> int:
        """How many."""
        return len(self.viscosity)


def hidden(count: int, seed: int) -> Hidden:
    """Medium plastisols in PLA, drawn evenly from the ranges of the tables as they were in November 2026."""
    stream = np.random.default_rng(seed)

    def between(low: float, high: float) -> Array:
        """A triangle: its middle is likelier than its ends."""
        return stream.triangular(low, (low + high) / 2, high, count)

    return Hidden(
        viscosity=np.exp(between(np.log(1.0), np.log(14.0))),
        set_c=between(92.0, 127.0),
        exponent=between(1.2, 1.8),
        conductivity=between(0.12, 0.165),
        heat_capacity=between(1800.0, 2250.0),
        density=between(0.98, 1.08) * 1e3,
        mold_conductivity=between(0.11, 0.18),
        mold_volumetric=between(1.18, 1.26) * 1e3 * between(1150.0, 1750.0),
    )


FILLED_C = (170.0, 170.0, 145.0)
"""The fillings that the guide asks for; the last lies NEAR_K above where the plastic stopped in the cup."""
NEAR_K = 15.0


def shot(plastics: Hidden, *, seed: int) -> list[LadderReadings]:
    """What would be read of each plastic: true lengths, instruments that err, a ladder as it was printed."""
    stream = np.random.default_rng(seed)
    count = len(plastics)
    gap_error = stream.normal(0.0, 0.05, count)
    stopped = plastics.set_c + stream.normal(0.0, 4.0, count)
    shots: list[list[LadderShot]] = [[] for _ in range(count)]
    for well_c in (*(np.full(count, at) for at in FILLED_C), stopped + NEAR_K):
        told_mold = 22.0 + stream.normal(0.0, 1.5, count)
        lengths = _lengths_mm(plastics, well_c, gap_error) + stream.normal(0.0, 1.0, (count, 6))
        read = np.clip(np.round(lengths), 0.0, LADDER.length_mm)
        told = well_c + stream.normal(0.0, 1.5, count)
        for place in range(count):
            shots[place].append(
                LadderShot(
                    well_c=float(told[place]),
                    mold_c=float(told_mold[place]),
                    reached_mm=tuple(float(x) for x in read[place]),
                )
            )
    return [
        LadderReadings(
            id="hidden",
            name="Hidden",
            like="medium",
            mold_material="pla",
            ladder=LADDER,
            shots=tuple(shots[place]),
            stopped_c=float(stopped[place]),
        )
        for place in range(count)
    ]


def _lengths_mm(plastics: Hidden, well_c: Array, gap_error: Array) -> Array:
    """True lengths, (plastics, channels); by the judge for one gap, whose square the lengths follow exactly.

    The side walls: flow in a rectangle by its series (Bird, Stewart, Lightfoot, 2nd ed., problem 3B.3;
    White, eq. 3-48), summed here to fifty terms.
    """
    density = plastics.density / (1 + 3 * 2.3e-4 * (well_c - 20.0))
    one_m, pressure = np.full(len(plastics), 3e-3), np.full(len(plastics), 700.0)
    viscosity = plastics.viscosity * (
        (160.0 - plastics.set_c) / np.maximum(well_c - plastics.set_c, 0.5)
    ) ** (plastics.exponent)
    reach = reach_m(
        Slits(
            gap_m=one_m,
            pressure_pa=pressure,
            viscosity_pa_s=viscosity,
            exponent=plastics.exponent,
            first_c=well_c,
            set_c=np.minimum(plastics.set_c, well_c - 0.5),
            mold_c=np.full(len(plastics), 22.0),
            conductivity=plastics.conductivity,
            volumetric=plastics.density * plastics.heat_capacity,
            mold_conductivity=plastics.mold_conductivity,
            mold_volumetric=plastics.mold_volumetric,
        ),
        cells=50,
    )
    gaps = np.array(LADDER.gaps_mm)[None, :] + gap_error[:, None]
    odd = np.arange(1, 100, 2)
    aspect = gaps[..., None] / LADDER.width_mm
    sides = 1 - (192 * aspect / np.pi**5 * np.tanh(odd * np.pi / (2 * aspect)) / odd**5).sum(axis=-1)
    free = reach[:, None] * 1e3 * (gaps / 3.0) ** 2 * np.sqrt(sides)
    area = np.pi * LADDER.well_mm**2 / 4
    level = np.full(len(plastics), LADDER.head_mm)
    for _ in range(3):
        driving = density[:, None] * 9.81 * (level[:, None] + gaps / 2) * 1e-3
        lengths = np.minimum(free * np.sqrt(driving / 700.0), LADDER.length_mm)
        level = LADDER.head_mm - (lengths * gaps).sum(axis=1) * LADDER.width_mm / area / 2
    return np.asarray(lengths)
