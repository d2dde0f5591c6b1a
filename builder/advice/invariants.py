"""What must hold between the numbers of one mold, whatever they are: where they contradict, it is our fault.

Every rule looks at finished advice and tells what it found wrong in plain words; none computes a number anew.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from math import isfinite

from builder.advice.window_invariants import WINDOW_RULES, RuleInput, Said, figures_of

_SAME = 1e-6
_LEAST_COLD = 0.85
"""A cold bait keeps at least so much of its cavity's volume."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Broken:
    """A rule that does not hold, and what contradicts what."""

    rule: str
    what: str


def broken(told: RuleInput) -> tuple[Broken, ...]:
    """Every contradiction in the advice; empty when there is none."""
    found = [Broken(rule=name, what=what) for name, rule in RULES.items() for what in rule(told)]
    for window in told.advice.windows:
        pair = f"{window.plastisol} in {window.mold_material}"
        found += [
            Broken(rule=name, what=f"{pair}: {what}")
            for name, rule in WINDOW_RULES.items()
            for what in rule(window, told)
        ]
    return tuple(found)


# -- the whole mold --------------------------------------------------------------------------------


def _figures_are_in_their_range(told: RuleInput) -> Said:
    for name, figure in figures_of(told.advice):
        if not (isfinite(figure.low) and isfinite(figure.high)):
            yield f"{name} is not finite"
        elif not figure.low - _SAME <= figure.value <= figure.high + _SAME:
            yield f"{name} is {figure.value:g}, outside {figure.low:g}–{figure.high:g}"


def _chances_are_shares(told: RuleInput) -> Said:
    for window in told.advice.windows:
        for one in window.troubles:
            if not 0 <= one.chance.low <= one.chance.high <= 1:
                yield f"{one.code} has the chance {one.chance.value:g}"


def _headlines_are_the_windows(told: RuleInput) -> Said:
    own, figures = told.advice.windows[0], told.advice.figures
    pairs = (
        ("shoot", own.shoot_c),
        ("hold", own.hold_s if told.measurement.kind == "injection" else None),
        ("cool", own.cool_s),
        ("cool_later", own.times[-1].open_s),
        ("cold", own.cold_s),
        ("rest", own.rest_s),
    )
    for name, figure in pairs:
        if figures.get(name) != figure:
            yield f"the headline {name} is not the window's"


def _weight_is_volume_times_density(told: RuleInput) -> Said:
    for one in told.advice.amounts:
        for number, (weight, volume) in enumerate(zip(one.bait_g, one.bait_ml, strict=True)):
            density = weight.value / volume.value
            if not one.density_g_ml.low * 0.99 <= density <= one.density_g_ml.high * 1.01:
                yield f"bait {number} of {one.plastisol} weighs {density:.3f} g/mL"
            if (density < 1) != (one.density_g_ml.value < 1) and abs(density - 1) > 0.02:
                yield f"bait {number} of {one.plastisol} floats or sinks against its density"


def _a_cold_bait_is_smaller_than_its_cavity(told: RuleInput) -> Said:
    for one in told.advice.amounts:
        for bait, volume in zip(told.measurement.baits, one.bait_ml, strict=True):
            if not _LEAST_COLD * bait.volume_ml <= volume.value < bait.volume_ml:
                yield f"{one.plastisol}: {volume.value:.2f} mL from a cavity of {bait.volume_ml:.2f} mL"


def _hot_is_more_than_cold(told: RuleInput) -> Said:
    """One cold amount to measure and one hot amount to hold: the same grams, swollen."""
    for one in told.advice.amounts:
        cold, hot = one.batch[0].heat_ml.value, one.shot_ml.value
        if not cold < hot < cold / _LEAST_COLD:
            yield f"{one.plastisol}: measure {cold:.2f} mL cold, hold {hot:.2f} mL hot"
        if one.batch[0].heat_g.value <= one.shot_g.value:
            yield f"{one.plastisol}: no spare is measured"


def _the_batch_is_whole_shots(told: RuleInput) -> Said:
    for one in told.advice.amounts:
        for row in one.batch:
            for name in ("heat_ml", "heat_g"):
                each = getattr(one.batch[0], name).value
                if abs(getattr(row, name).value - row.shots * each) > 1e-6 * row.shots * each:
                    yield f"{one.plastisol}: {row.baits} baits take no {row.shots} whole shots"


def _grams_are_one_density(told: RuleInput) -> Said:
    """What is measured cold weighs what the table says."""
    for one in told.advice.amounts:
        density = one.batch[0].heat_g.value / one.batch[0].heat_ml.value
        if not one.density_g_ml.low * 0.99 <= density <= one.density_g_ml.high * 1.01:
            yield f"{one.plastisol}: measured cold at {density:.3f} g/mL"


def _sensitivity_stays_below_the_limit(told: RuleInput) -> Said:
    limit = told.advice.windows[0].plastisol_limit_c.value
    for one in told.advice.sensitivity:
        if any(end is not None and end > limit + _SAME for end in (one.fill_at_low_c, one.fill_at_high_c)):
            yield f"{one.constant} moves the lower limit above {limit:.1f} °C"


Rule = Callable[[RuleInput], Iterable[str]]
RULES: Mapping[str, Rule] = {
    rule.__name__.strip("_"): rule
    for rule in (
        _figures_are_in_their_range,
        _chances_are_shares,
        _headlines_are_the_windows,
        _weight_is_volume_times_density,
        _a_cold_bait_is_smaller_than_its_cavity,
        _hot_is_more_than_cold,
        _the_batch_is_whole_shots,
        _grams_are_one_density,
        _sensitivity_stays_below_the_limit,
    )
}
