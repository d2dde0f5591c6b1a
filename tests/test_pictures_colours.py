"""The palette keeps what it promises to people who see colours differently."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from numpy.typing import NDArray

from builder.pictures.render import palette

F64 = NDArray[np.float64]

VISION = {
    # Machado, Oliveira and Fernandes 2009, IEEE TVCG 15(6), table 1, severity 1.0, on linear RGB
    "usual": [[1, 0, 0], [0, 1, 0], [0, 0, 1]],
    "protan": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deutan": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "tritan": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
    "grey": [[0.2126, 0.7152, 0.0722]] * 3,
}
TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
"""IEC 61966-2-1."""


def lab(linear: F64) -> F64:
    """CIE 1976 L*a*b* of linear sRGB (n, 3), white point D65 (ISO/CIE 11664-4)."""
    xyz = linear @ TO_XYZ.T / TO_XYZ.sum(axis=1)
    f = np.where(xyz > (6 / 29) ** 3, np.cbrt(np.maximum(xyz, 0)), xyz * (29 / 6) ** 2 / 3 + 4 / 29)
    return np.stack([116 * f[:, 1] - 16, 500 * (f[:, 0] - f[:, 1]), 200 * (f[:, 1] - f[:, 2])], axis=1)


def seen(colours: F64, vision: str) -> F64:
    return lab(np.clip(colours @ np.array(VISION[vision]).T, 0, 1))


def test_lab_agrees_with_published_values_of_red() -> None:
    # sRGB red: L* 53.24, a* 80.09, b* 67.20 (Lindbloom's calculator, D65; from memory)
    assert lab(np.array([[1.0, 0, 0]]))[0] == pytest.approx([53.24, 80.09, 67.20], abs=0.05)


@pytest.mark.parametrize("vision", VISION)
def test_lightness_rises_evenly_along_the_thickness_scale_for_everybody(vision: str) -> None:
    scale = palette.ramp(palette.THIN_TO_THICK, np.linspace(0, 1, 41, dtype=np.float32)).astype(np.float64)
    rise = np.diff(seen(scale, vision)[:, 0])
    assert rise.min() > 0.4
    assert rise.max() < 4 * rise.min() + 1.5


@pytest.mark.parametrize("vision", ["usual", "protan", "deutan", "tritan"])
def test_the_tints_of_the_plastic_stay_apart_for_everybody(vision: str) -> None:
    tints = {name: getattr(palette, name) for name in ("BAIT", "RUNNER", "SPRUE", "VENT")}
    places = {
        name: seen(palette.linear(colour)[None].astype(np.float64), vision)[0]
        for name, colour in tints.items()
    }
    near = {
        pair: float(np.linalg.norm(places[pair[0]] - places[pair[1]])) for pair in combinations(places, 2)
    }
    assert min(near.values()) > 20, near


def test_every_tone_stands_out_from_a_light_page_and_from_a_dark_one() -> None:
    """WCAG 2.2 asks 3:1 for graphics; parts have edges of their own besides, so tones may come near it."""
    light, dark = (palette.linear(colour) @ [0.2126, 0.7152, 0.0722] for colour in ("#fafbf7", "#0f1715"))
    for name in ("STEEL", "BAIT", "SPRUE", "VENT", "FAULT"):
        tone = float(palette.linear(getattr(palette, name)) @ [0.2126, 0.7152, 0.0722])
        assert (light + 0.05) / (tone + 0.05) > 2.5, name
        assert (tone + 0.05) / (dark + 0.05) > 2.5, name
