"""The numbers that versions are compared by, and what differs between two sets of them."""

from __future__ import annotations

from collections.abc import Mapping

from builder.base import units
from builder.model import Advice, Change, Figure, Measurement, Unit


def numbers(m: Measurement, advice: Advice) -> dict[str, Figure]:
    """Volume, weight, thinnest section, window and print volume of a mold, by name."""
    own = advice.windows[0]
    amounts = next(one for one in advice.amounts if one.plastisol == own.plastisol)
    bait = m.baits[0]
    thinnest = [one.thinnest.thickness_mm for one in m.baits if one.thinnest]
    limit = min(own.mold_limit_c, own.plastisol_limit_c, key=lambda figure: figure.value)
    found: dict[str, Figure | None] = {
        "cavities": _counted(len(m.baits)),
        "bait_length": _length(bait.length_mm, m),
        "bait_volume": _volume(bait.volume_ml, m),
        "bait_weight": amounts.bait_g[0],
        "shot": amounts.shot_ml,
        "thinnest": _length(min(thinnest), m) if thinnest else None,
        "fill": own.fill_c,
        "limit": limit,
        "shoot": own.shoot_c,
        "hold": own.hold_s,
        "cool": own.cool_s,
        "rest": own.rest_s,
        "print_volume": _volume(sum(part.volume_ml for part in m.parts if part.role != "bait"), m),
    }
    return {name: figure for name, figure in found.items() if figure is not None}


def changes(before: Mapping[str, Figure], after: Mapping[str, Figure]) -> tuple[Change, ...]:
    """What reads differently, in the order of the newer set."""
    names = dict.fromkeys((*after, *before))
    pairs = (Change(name=name, before=before.get(name), after=after.get(name)) for name in names)
    return tuple(pair for pair in pairs if _shown(pair.before) != _shown(pair.after))


def _shown(figure: Figure | None) -> str:
    return units.plain(figure) if figure else ""


def _length(value_mm: float, m: Measurement) -> Figure:
    return _read(value_mm, m.length_error_mm, "mm")


def _volume(value_ml: float, m: Measurement) -> Figure:
    return _read(value_ml, m.volume_share * value_ml, "ml")


def _read(value: float, off: float, unit: Unit) -> Figure:
    return Figure(
        value=value,
        low=value - off,
        high=value + off,
        unit=unit,
        because="release.because.read",
        origin="measured",
    )


def _counted(value: int) -> Figure:
    because = "release.because.counted"
    return Figure(value=value, low=value, high=value, unit="count", because=because, origin="measured")
