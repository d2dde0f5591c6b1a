"""The colours that theme.palette.primary names are read on the grounds of our own look, light and dark."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import builder
from builder.plugin import settings

ASSETS = Path(builder.__file__).parent / "theme" / "assets"
NAMES = (
    "red", "pink", "purple", "deep-purple", "indigo", "blue", "light-blue", "cyan", "teal", "green",
    "light-green", "lime", "yellow", "amber", "orange", "deep-orange", "brown", "grey", "blue-grey", "black",
    "white",
)  # fmt: skip
"""The names that Material for MkDocs documents for theme.palette.primary; from memory."""


def luminance(colour: str) -> float:
    """Relative luminance of #rrggbb (WCAG 2.2, "relative luminance")."""
    parts = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, "contrast ratio"."""
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def variables(ground: str) -> dict[str, str]:
    """The colours of a ground in the main style."""
    text = (ASSETS / "shotbook.css").read_text(encoding="utf-8")
    rule = re.search(rf"^{re.escape(ground)} \{{(.*?)\}}", text, re.S | re.M)
    assert rule is not None
    return dict(re.findall(r"(--[\w-]+): (#[0-9a-f]{6})\b", rule[1]))


def test_every_name_of_materials_list_has_a_colour() -> None:
    assert settings.colours() == NAMES


@pytest.mark.parametrize(
    ("tone", "ground"),
    [("on-light", ":root"), ("on-dark", ':root[data-light="dark"]')],
    ids=["light", "dark"],
)
def test_what_leads_on_and_what_stands_on_it_are_read(tone: str, ground: str) -> None:
    text = (ASSETS / "palette.css").read_text(encoding="utf-8")
    on = variables(ground)
    tones = re.findall(rf"--{tone}: (#[0-9a-f]{{6}})", text)
    assert len(tones) == len(NAMES) - 1, "black and white share one"
    for colour in tones:
        against = {name: contrast(colour, on[name]) for name in ("--paper", "--panel", "--water-ink")}
        assert min(against.values()) >= 4.5, (colour, against)
