"""The numbers that versions are compared by, and what differs between two sets of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from builder.base import figures, units
from builder.model import Advice, Change, Drift, Figure, Finding, Kind, Measurement, Version


def numbers(m: Measurement, advice: Advice) -> dict[str, Figure]:
    """Volume, weight, thinnest section, window and print volume of a mold, by name.

    Of baits of several sizes the largest is told, under a name that says so. Nothing is held in an open pour.
    """
    own = advice.windows[0]
    read, index = figures.measured(m), figures.largest(m)
    amounts = next(one for one in advice.amounts if one.plastisol == own.plastisol)
    of_bait = "" if len(figures.kinds(m)) == 1 else "_largest"
    found: dict[str, Figure | None] = {
        "cavities": read["baits.count"],
        f"bait_length{of_bait}": read[f"bait.{index}.length"],
        f"bait_volume{of_bait}": read[f"bait.{index}.volume"],
        f"bait_weight{of_bait}": amounts.bait_g[index],
        "shot": amounts.shot_ml,
        "thinnest": read.get("thinnest"),
        "fill": own.fill_c,
        "limit": own.mold_limit_c,
        "never_above": own.plastisol_limit_c,
        "shoot": own.shoot_c,
        "hold": own.hold_s if m.kind == "injection" else None,
        "cool": own.cool_s,
        "cool_later": own.times[-1].open_s,
        "rest": own.rest_s,
        "print_volume": read["print_volume"],
    }
    return {name: figure for name, figure in found.items() if figure is not None}


def changes(before: Mapping[str, Figure], after: Mapping[str, Figure]) -> tuple[Change, ...]:
    """What reads differently, in the order of the newer set."""
    names = dict.fromkeys((*after, *before))
    pairs = (Change(name=name, before=before.get(name), after=after.get(name)) for name in names)
    return tuple(pair for pair in pairs if _shown(pair.before) != _shown(pair.after))


def version_within(version: Version, limit_c: float) -> Version:
    """A released version as it may be told today: no temperature in it lies above today's limit."""
    figures_now = {name: _within(figure, limit_c) for name, figure in version.figures.items()}
    return replace(
        version,
        figures={name: figure for name, figure in figures_now.items() if figure is not None},
        changes=_changes_within(version.changes, limit_c),
        findings=tuple(_at_most(one, limit_c) for one in version.findings if _is_within(one, limit_c)),
        stop=_at_most(version.stop, limit_c) if version.stop else None,
    )


def without_hold(version: Version, kind: Kind) -> Version:
    """A released version without a time to keep the pressure on, where the mold is poured open."""
    if kind == "injection":
        return version
    return replace(
        version,
        figures={name: figure for name, figure in version.figures.items() if name != "hold"},
        changes=tuple(one for one in version.changes if one.name != "hold"),
    )


def drift_within(drift: Drift, limit_c: float) -> Drift:
    """What reads differently, without the temperatures of then that lie above today's limit."""
    return replace(drift, changes=_changes_within(drift.changes, limit_c))


def _changes_within(changes: Iterable[Change], limit_c: float) -> tuple[Change, ...]:
    told = (
        replace(one, before=_within(one.before, limit_c), after=_within(one.after, limit_c))
        for one in changes
    )
    return tuple(one for one in told if one.before is not None or one.after is not None)


def _within(figure: Figure | None, limit_c: float) -> Figure | None:
    """A temperature up to the limit; None where it lies above. Other figures are as they were."""
    if figure is None or figure.unit != "c":
        return figure
    return replace(figure, high=min(figure.high, limit_c)) if figure.value <= limit_c else None


def _at_most(finding: Finding, limit_c: float) -> Finding:
    """A finding whose temperatures end at the limit. A stop that names a higher one holds above this too."""
    values = {
        name: _capped(value, limit_c) if isinstance(value, Figure) and value.unit == "c" else value
        for name, value in finding.values.items()
    }
    return replace(finding, values=values)


def _is_within(finding: Finding, limit_c: float) -> bool:
    """False when it speaks of a temperature above the limit, at which nobody may try it."""
    temperatures = (
        value for value in finding.values.values() if isinstance(value, Figure) and value.unit == "c"
    )
    return all(one.value <= limit_c for one in temperatures)


def _capped(figure: Figure, limit_c: float) -> Figure:
    value, low, high = (min(one, limit_c) for one in (figure.value, figure.low, figure.high))
    return replace(figure, value=value, low=low, high=high)


def _shown(figure: Figure | None) -> str:
    return units.plain(figure) if figure else ""
