"""The numbers that versions are compared by, and what differs between two sets of them."""

from __future__ import annotations

from collections.abc import Mapping

from builder.base import figures, units
from builder.model import Advice, Change, Figure, Measurement


def numbers(m: Measurement, advice: Advice) -> dict[str, Figure]:
    """Volume, weight, thinnest section, window and print volume of a mold, by name.

    Of baits of several sizes the largest is told, under a name that says so.
    """
    own = advice.windows[0]
    read, index = figures.measured(m), figures.largest(m)
    amounts = next(one for one in advice.amounts if one.plastisol == own.plastisol)
    limit = min(own.mold_limit_c, own.plastisol_limit_c, key=lambda figure: figure.value)
    of_bait = "" if len(figures.kinds(m)) == 1 else "_largest"
    found: dict[str, Figure | None] = {
        "cavities": read["baits.count"],
        f"bait_length{of_bait}": read[f"bait.{index}.length"],
        f"bait_volume{of_bait}": read[f"bait.{index}.volume"],
        f"bait_weight{of_bait}": amounts.bait_g[index],
        "shot": amounts.shot_ml,
        "thinnest": read.get("thinnest"),
        "fill": own.fill_c,
        "limit": limit,
        "shoot": own.shoot_c,
        "hold": own.hold_s,
        "cool": own.cool_s,
        "rest": own.rest_s,
        "print_volume": read["print_volume"],
    }
    return {name: figure for name, figure in found.items() if figure is not None}


def changes(before: Mapping[str, Figure], after: Mapping[str, Figure]) -> tuple[Change, ...]:
    """What reads differently, in the order of the newer set."""
    names = dict.fromkeys((*after, *before))
    pairs = (Change(name=name, before=before.get(name), after=after.get(name)) for name in names)
    return tuple(pair for pair in pairs if _shown(pair.before) != _shown(pair.after))


def _shown(figure: Figure | None) -> str:
    return units.plain(figure) if figure else ""
