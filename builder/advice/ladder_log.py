"""What logged shots add to the readings of a flow ladder: each draw is weighted by how well it tells them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from builder.advice import logbook, paths, samples
from builder.advice.samples import Pair
from builder.model import LadderReadings, Measurement, MoldSpec, ShotLog, Tables
from builder.physics.heat import Array

Logged = tuple[MoldSpec, Measurement]
_AT_ONCE = 1000
"""Draws that are asked at once, for the sake of memory."""


def log_weights(
    constants: Mapping[str, Array], readings: LadderReadings, tables: Tables, logged: Sequence[Logged]
) -> tuple[Array, int]:
    """Log weight of each draw, (draws,), by the shots of this plastisol, and how many shots those are.

    What the ladder does not draw (the hand, the room, another mold material) is drawn from the tables.
    """
    count = len(constants["set"])
    logs, shots = np.zeros(count), 0
    for (spec, mold), pair, those in _groups(readings, tables, logged):
        own = _of_wall(constants, same=pair.mold.id == readings.mold_material)
        some = (
            {name: values[at : at + _AT_ONCE] for name, values in own.items()}
            for at in range(0, count, _AT_ONCE)
        )
        fill = np.concatenate([_fill_c(part, spec, mold, pair, tables) for part in some])
        for shot in those:
            logs += logbook.log_trust((fill > shot.shot_c) == (shot.outcome == "short"))
        shots += len(those)
    return logs, shots


def _groups(
    readings: LadderReadings, tables: Tables, logged: Sequence[Logged]
) -> Iterator[tuple[Logged, Pair, list[ShotLog]]]:
    """The shots of this plastisol by mold and mold material; only molds whose way to fill is known."""
    like = next(one for one in tables.plastisols if one.id == readings.like)
    for one in logged:
        spec, measurement = one
        for material in tables.mold_materials:
            those = [
                shot
                for shot in spec.shots
                if (shot.plastisol, shot.mold_material) == (readings.id, material.id)
                and shot.outcome != "bubbles"
            ]
            if those and paths.flow_paths(measurement, spec.stands):
                yield one, Pair(plastisol=like, mold=material), those


def _of_wall(constants: Mapping[str, Array], *, same: bool) -> dict[str, Array]:
    """The draws; those of the wall only where the mold is of the ladder's material."""
    return {name: values for name, values in constants.items() if same or not name.startswith("mold_")}


def _fill_c(
    constants: Mapping[str, Array], spec: MoldSpec, mold: Measurement, pair: Pair, tables: Tables
) -> Array:
    """Fill limit of each draw, (draws,)."""
    practice = samples.with_declared(tables.practice, spec.declared)
    drawn = samples.draw([pair], practice, len(constants["set"]))
    drawn |= {name: values[None, :] for name, values in constants.items()}
    ways = paths.flow_paths(mold, spec.stands)
    rows = paths.deciding(ways, samples.central([pair], practice))
    return np.asarray(paths.fill_limit_c(rows, drawn)[0])
