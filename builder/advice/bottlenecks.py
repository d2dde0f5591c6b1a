"""Which section of each flow path decides whether it fills, how often it does, and how thick it must be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from builder.advice import paths, samples
from builder.advice.paths import Way
from builder.advice.samples import Constants
from builder.model import Figure, Measurement, Odds, PathVerdict, Stands, Stood
from builder.physics import flow
from builder.physics.heat import Array
from builder.physics.sections import resized, thin_run

_LIKE = 3
"""Paths among which the worst one of another pair is sought: those that are worst on the whole."""
_MARGINS = np.array([1.0, 1.5])
_THICKER = np.geomspace(0.4, 5.0, 15)
"""Thicknesses of a deciding section, as multiples of its own, at which its margin is looked up."""
_NOTICED = 0.1
"""A front that stands for less than this of a section's set time is not worth a word."""
_OTHERWISE: tuple[Stands, ...] = ("tail_up", "flat")
"""Ways to stand a mold in which no front comes sooner than with the sprue up."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One plastisol in one mold material, and how the mold stands."""

    measurement: Measurement
    stands: Stands
    constants: Constants
    """Of one pair, (1, samples)."""
    every: bool
    """Whether every path is told of, or only the worst."""

    def shot(self, shot_c: float) -> flow.Shot:
        """The shot, for a temperature in the cup."""
        return paths.shot(self.constants, np.full_like(self.constants["room"], shot_c))


def verdicts(asked: Asked, ways: Sequence[Way], shot_c: float, cold_c: float) -> tuple[PathVerdict, ...]:
    """A verdict for each path at `shot_c`, the worst first, with its odds there and at `cold_c`."""
    shot = asked.shot(shot_c)
    looked_at = ways if asked.every else ways[:_LIKE]
    judged = [(way, flow.fill_margins(way.rows, shot)[0]) for way in looked_at]
    judged.sort(key=lambda item: float(np.median(item[1].min(axis=-1))))
    shown = judged[: None if asked.every else 1]
    return tuple(_verdict(asked, way, margins, (cold_c, shot_c)) for way, margins in shown)


def _verdict(asked: Asked, way: Way, margins: Array, at_c: tuple[float, float]) -> PathVerdict:
    """One path: its margin, the section that decides, the thickness that it needs, and the wait."""
    cold_c, shot_c = at_c
    shot = asked.shot(shot_c)
    margin = samples.figure(margins.min(axis=-1), "count", "advice.because.margin")
    section = int(np.argmin(np.median(margins, axis=0)))
    sound, fills = margin.value >= _MARGINS[1], margin.low >= _MARGINS[0]
    critical, needed = (
        thicknesses(way, section, shot) if asked.every or not (sound and fills) else (None, None)
    )
    waits = _waits(way, section, shot)
    told = () if fills else _odds(asked, way, section, sorted({min(cold_c, shot_c), shot_c}))
    return PathVerdict(
        path=way.path.name,
        bait=way.path.bait,
        margin=margin,
        deciding=way.path.stations[way.sections.station[section]],
        needed_mm=None if sound else needed,
        critical_mm=critical,
        waits_s=waits,
        otherwise={} if waits is None or fills else _otherwise(asked, way, section, shot_c),
        odds=told,
    )


def _odds(asked: Asked, way: Way, section: int, at_c: Sequence[float]) -> tuple[Odds, ...]:
    """How often the path comes short at each temperature, and from which thickness it fills."""
    found = []
    for shot_c in at_c:
        shot = asked.shot(shot_c)
        short = flow.fill_margins(way.rows, shot)[0].min(axis=-1) < _MARGINS[0]
        found.append(
            Odds(
                shot_c=samples.exact(shot_c, "c", "advice.because.shoot"),
                short=samples.chance(short),
                critical_mm=thicknesses(way, section, shot)[0],
                sure_mm=_sure_mm(way, section, shot),
            )
        )
    return tuple(found)


def _waits(way: Way, section: int, shot: flow.Shot) -> Figure | None:
    """How long the front stands in a section; None where that is a small part of its set time."""
    asked = way.rows.pick(np.array([section]))
    waits = flow.waits_s(asked, shot)[0, :, 0]
    seconds = flow.set_and_skin(asked, shot)[0][0, :, 0]
    if np.median(waits) < _NOTICED * np.median(seconds):
        return None
    return samples.figure(waits, "s", "advice.because.waits")


def _otherwise(asked: Asked, way: Way, section: int, shot_c: float) -> dict[str, Stood]:
    """The path's margin, and the thickness at which its section fills, for other ways to stand the mold."""
    shot = asked.shot(shot_c)
    found: dict[str, Stood] = {}
    for stands in _OTHERWISE:
        if stands != asked.stands:
            other = paths.turned(asked.measurement, way, stands)
            margins = flow.fill_margins(other.rows, shot)[0].min(axis=-1)
            margin = samples.figure(margins, "count", "advice.because.margin")
            critical, _ = _thick_enough_mm(other, section, shot)
            thick = samples.figure(critical, "mm", "advice.because.critical")
            found[stands] = Stood(margin=margin, critical_mm=thick)
    return found


def thicknesses(way: Way, section: int, shot: flow.Shot) -> tuple[Figure | None, Figure | None]:
    """Thickness of the place around a section at which its own margin is 1, and 1.5.

    None where even the thinnest that was tried has that margin.
    """
    least_mm = way.sections.thickness_mm[section] * _THICKER[0]
    keys = ("advice.because.critical", "advice.because.needed")
    critical, needed = (
        samples.figure(at, "mm", key) if np.median(at) > least_mm else None
        for at, key in zip(_thick_enough_mm(way, section, shot), keys, strict=True)
    )
    return critical, needed


def _sure_mm(way: Way, section: int, shot: flow.Shot) -> Figure:
    """Thickness of a section from which it fills with nearly all samples of the constants."""
    critical, _ = _thick_enough_mm(way, section, shot)
    return samples.exact(float(np.percentile(critical, 95)), "mm", "advice.because.sure_thickness")


def _thick_enough_mm(way: Way, section: int, shot: flow.Shot) -> list[Array]:
    """For each sample the thicknesses at which the margin of the place around a section is 1, and 1.5."""
    run = thin_run(way.sections, section)
    tried = way.sections.thickness_mm[section] * _THICKER
    each = [flow.rows(resized(way.sections, section, float(x))).pick(run) for x in tried]
    margins = flow.fill_margins(flow.joined(each), shot)[0].reshape(-1, len(tried), int(run.sum()))
    rising = np.maximum.accumulate(np.log(np.maximum(margins.min(axis=-1), 1e-12)), axis=1)
    return [np.exp([np.interp(np.log(m), row, np.log(tried)) for row in rising]) for m in _MARGINS]
