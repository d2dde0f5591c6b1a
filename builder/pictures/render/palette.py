"""Colours of the pictures, for light and dark pages.

Each is a middling tone that stands out from white and from near-black; the tints of the plastic differ
in lightness as well as in hue, so that they stay apart for every kind of colour vision (a test computes it).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from PIL import ImageColor

F32 = NDArray[np.float32]

HALF = "#aeb6bb"
OTHER_HALF = "#c4bba9"
CORE = "#b49a86"
STEEL = "#6f7a83"
AXIS = "#8d98a1"
GROUND = "#b3b8b4"
GRID = "#7b8381"
BAIT = "#3f9a80"
RUNNER = "#e3b155"
SPRUE = "#b5573a"
VENT = "#7c86c9"
FAULT = "#c2347a"
ADDED = "#2f6fb3"
REMOVED = "#dd8a35"
HATCH = "#7d868a"
PAPER = "#f1f1ec"
INK = "#232b2e"
SOFT_INK = "#5a666b"
THIN_TO_THICK = ("#2b2f6b", "#355f8d", "#5d8f8f", "#a5b36b", "#f3d95b")
"""Thickness from thin (dark blue) to thick (yellow): lightness rises all along."""


def linear(colour: str) -> F32:
    """Linear-light red, green, blue (3,) in 0..1 of an sRGB colour; ValueError when it is none.

    The transfer curve is that of IEC 61966-2-1.

    >>> [round(float(c), 4) for c in linear("#ff8000")]
    [1.0, 0.2159, 0.0]
    """
    value = np.array(ImageColor.getrgb(colour)[:3], dtype=np.float32) / 255
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4).astype(np.float32)


def srgb(light: F32) -> F32:
    """sRGB values in 0..1 of linear light, any shape (IEC 61966-2-1).

    >>> [round(float(c), 3) for c in srgb(np.array([0.0, 0.2159, 1.0], dtype=np.float32))]
    [0.0, 0.502, 1.0]
    """
    light = np.clip(light, 0, 1)
    return np.where(light <= 0.0031308, light * 12.92, 1.055 * light ** (1 / 2.4) - 0.055).astype(np.float32)


def ramp(colours: Sequence[str], share: F32) -> F32:
    """Linear-light colours (n, 3) at places 0..1 (n,) of a scale, interpolated in sRGB between its stops."""
    stops = np.array([ImageColor.getrgb(colour)[:3] for colour in colours], dtype=np.float32) / 255
    places = np.linspace(0, 1, len(stops))
    value = np.stack([np.interp(share, places, stops[:, channel]) for channel in range(3)], axis=-1)
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4).astype(np.float32)
