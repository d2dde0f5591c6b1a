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
_THICKER = np.concatenate(
    [np.geomspace(0.4, 1.0, 6)[:-1], np.geomspace(1.0, 2.2, 34), np.geomspace(2.2, 5.0, 6)[1:]]
)
"""Thicknesses of a deciding section, as multiples of its own, at which its margin is looked up.

Its own is one of them, where the margin is what it is; a margin jumps where another section comes to fill
first, so that the steps are small where most answers lie.
"""
_NOTICED = 0.1
"""A front that stands for less than this of a section's set time is not worth a word."""
_AS_GOOD, _WORTH = 0.9, 1.15
"""A margin of this share of the best is nearly as good; one must grow by so much to be worth a word."""
_OTHERWISE: tuple[Stands, ...] = ("tail_up", "flat")
"""Ways to stand a mold in which no front comes sooner than with the sprue up."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One pair of plastisol and mold material in a mold that stands so."""

    measurement: Measurement
    stands: Stands
    constants: Constants
    """Of one pair, (1, samples)."""
    every: bool
    """Whether every path is told of, or only the worst."""

    def shot(self, shot_c: float) -> flow.Shot:
        """A shot at so much in the cup."""
        return paths.shot(self.constants, np.full_like(self.constants["room"], shot_c))


def verdicts(asked: Asked, ways: Sequence[Way], shot_c: float, cold_c: float) -> tuple[PathVerdict, ...]:
    """What each path does at `shot_c`, worst first, and how often it comes short there and at `cold_c`."""
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
    thick = _thick_enough_mm(way, section, shot) if asked.every or not (sound and fills) else []
    critical, needed = _figures(thick, way, section)
    waits = _waits(way, section, shot)
    odds: list[Odds] = []
    if thick and not fills:
        odds = [_odds(shot_c, margins, thick)]
        if cold_c < shot_c:
            cold = asked.shot(cold_c)
            found = flow.fill_margins(way.rows, cold)[0]
            odds.insert(0, _odds(cold_c, found, _thick_enough_mm(way, section, cold)))
    return PathVerdict(
        path=way.path.name,
        bait=way.path.bait,
        margin=margin,
        deciding=way.path.stations[way.sections.station[section]],
        needed_mm=None if sound else needed,
        critical_mm=critical,
        waits_s=waits,
        better=None if waits is None or fills else _better(asked, way, section, margin, shot),
        odds=tuple(odds),
    )


def _odds(shot_c: float, margins: Array, thick: Sequence[Array]) -> Odds:
    """How often the path comes short at a temperature, and from which thickness it fills nearly always."""
    sure = float(np.percentile(thick[0], 95))
    return Odds(
        shot_c=samples.exact(shot_c, "c", "advice.because.shoot"),
        short=samples.chance(margins.min(axis=-1) < _MARGINS[0]),
        sure_mm=samples.exact(sure, "mm", "advice.because.sure_thickness"),
    )


def _waits(way: Way, section: int, shot: flow.Shot) -> Figure | None:
    """How long the front stands in a section; None where that is a small part of its set time."""
    asked = way.rows.pick(np.array([section]))
    waits = flow.waits_s(asked, shot)[0, :, 0]
    seconds = flow.set_and_skin(asked, shot)[0][0, :, 0]
    if np.median(waits) < _NOTICED * np.median(seconds):
        return None
    return samples.figure(waits, "s", "advice.because.waits")


def _better(asked: Asked, way: Way, section: int, margin: Figure, shot: flow.Shot) -> Stood | None:
    """The way to stand the mold with the best margin, where it is worth a word.

    Flat where that is nearly as good, for it is easier.
    """
    turned = {
        stands: paths.turned(asked.measurement, way, stands)
        for stands in _OTHERWISE
        if stands != asked.stands
    }
    margins = {
        stands: samples.figure(
            flow.fill_margins(other.rows, shot)[0].min(axis=-1), "count", "advice.because.margin"
        )
        for stands, other in turned.items()
    }
    best = max(one.value for one in margins.values())
    nearly = [stands for stands, one in margins.items() if one.value >= _AS_GOOD * best]
    stands = min(nearly, key=lambda one: one != "flat")
    if margins[stands].value <= _WORTH * margin.value:
        return None
    critical, _ = _thick_enough_mm(turned[stands], section, shot)
    return Stood(
        stands=stands,
        margin=margins[stands],
        critical_mm=samples.figure(critical, "mm", "advice.because.critical"),
    )


def thicknesses(way: Way, section: int, shot: flow.Shot) -> tuple[Figure | None, Figure | None]:
    """Thickness of the place around a section at which its own margin is 1, and 1.5.

    None where even the thinnest that was tried has that margin.
    """
    return _figures(_thick_enough_mm(way, section, shot), way, section)


def _figures(thick: Sequence[Array], way: Way, section: int) -> tuple[Figure | None, Figure | None]:
    """The two thicknesses as figures; none where nothing was looked up."""
    least_mm = way.sections.thickness_mm[section] * _THICKER[0]
    keys = ("advice.because.critical", "advice.because.needed")
    found = [
        samples.figure(at, "mm", key) if np.median(at) > least_mm else None
        for at, key in zip(thick, keys, strict=False)
    ]
    return (found[0], found[1]) if found else (None, None)


def _thick_enough_mm(way: Way, section: int, shot: flow.Shot) -> list[Array]:
    """For each sample the thicknesses at which the margin of the place around a section is 1, and 1.5."""
    tried = way.sections.thickness_mm[section] * _THICKER
    if section not in way.resized:
        run = thin_run(way.sections, section)
        each = [flow.rows(resized(way.sections, section, float(x))).pick(run) for x in tried]
        way.resized[section] = flow.joined(each)
    margins = flow.fill_margins(way.resized[section], shot)[0]
    margins = margins.reshape(len(margins), len(tried), -1)
    rising = np.maximum.accumulate(np.log(np.maximum(margins.min(axis=-1), 1e-12)), axis=1)
    return [np.exp([np.interp(np.log(m), row, np.log(tried)) for row in rising]) for m in _MARGINS]
