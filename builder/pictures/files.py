"""Pixels to image files: the same bytes for the same pixels, in several widths."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, WebPImagePlugin  # noqa: F401 - else Pillow loads all its formats to find it

WIDTHS = (480, 800, 1200)
"""A phone held upright, a phone's double pixels or a page's column, and the drawing itself."""
QUALITY = 80
EFFORT = 2
"""Of WebP's own scale to 6; 4 takes 2.2 times as long for files smaller by 7 %."""
ALPHA = 100
"""Transparency as it is: less takes longer and the files are as large, as there are few steps of it."""


def save(image: Image.Image, folder: Path, name: str, widths: Sequence[int] = WIDTHS) -> Mapping[int, str]:
    """Write the image as WebP at its own width and at each smaller one; width to file name."""
    files = {}
    weighted = image.convert("RGBa") if image.mode == "RGBA" else image  # as resize does it, but once
    for width in [*(w for w in widths if w < image.width), image.width]:
        height = max(1, round(image.height * width / image.width))
        if width == image.width:
            small = image
        else:
            small = weighted.resize((width, height), Image.Resampling.BOX).convert(image.mode)
        file = f"{name}-{width}.webp"
        small.save(folder / file, "WEBP", quality=QUALITY, alpha_quality=ALPHA, method=EFFORT)
        files[width] = file
    return files


def image_of(pixels: NDArray[np.uint8]) -> Image.Image:
    """Pixels (height, width, 4) as an image."""
    return Image.fromarray(pixels)
