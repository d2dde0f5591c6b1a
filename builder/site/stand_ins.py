"""What is told in place of a figure that a window lacks: the plastisol scorches first, no rest helps."""

from __future__ import annotations

from builder.base.texts import Texts
from builder.model import Figure, NoRest, Window


def of_window(window: Window, name: str, texts: Texts) -> str:
    """Words in place of the window's `fill`, `mold_limit` or `rest`; empty where its figure is told."""
    if name == "fill" and window.fill_c is None:
        return texts.say("page.window.fill_never")
    if name == "mold_limit" and window.mold_limit_c is None:
        return texts.say("page.window.scorches_first")
    return rest(window.rest_s, window.no_rest, texts) if name == "rest" else ""


def rest(figure: Figure | None, why: NoRest, texts: Texts) -> str:
    """Words in place of a rest that is none, or that does not help; empty where it is told."""
    if figure is None:
        return texts.say(f"page.cool.rest_{why or 'first_shot'}")
    return texts.say("page.cool.rest_none") if figure.value == 0 else ""


CHANCES = ((0.95, "certain"), (0.65, "likely"), (0.35, "even"), (0.05, "unlikely"))
"""Lower ends of the words for chances; what is rarer is very unlikely."""


def chance(figure: Figure, texts: Texts) -> str:
    """A chance in words."""
    name = next((name for least, name in CHANCES if figure.value >= least), "rare")
    return texts.say(f"page.chance.{name}")
