"""The cold bait: its figures by the names that pages give them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from builder.model import Figure, Finished
from tests.numbers.quantity import Quantity, figure


def finished(one: Finished) -> Iterator[tuple[str, Figure]]:
    """The figures of a cold bait by the name that a page gives them."""
    yield "length", one.length_mm
    yield "volume", one.volume_ml
    yield "lift_fresh", one.lift_fresh_g
    yield "lift_sea", one.lift_sea_g
    yield "carries_fresh", one.carries_fresh_g
    yield "carries_sea", one.carries_sea_g
    yield "jig_fresh", one.jig_fresh_g
    yield "jig_sea", one.jig_sea_g
    yield "salt", one.salt_g
    yield "salt_fresh", one.salt_fresh_g
    yield "salt_sea", one.salt_sea_g


def lines(
    listed: Sequence[Finished], bait: int, label: Callable[[str, str], str]
) -> Iterator[tuple[str, Quantity]]:
    """The bait that stands for the mold, where its page tells it."""
    for name, value in finished(listed[bait]) if listed else ():
        yield label("cold", f"page.finished.{name}"), figure(value, f"a.finished.{name}")
