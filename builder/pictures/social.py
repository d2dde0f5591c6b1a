"""One picture a mold for links shared elsewhere: 1200 x 630, the open mold beside its title and size."""

from __future__ import annotations

import io
import unicodedata
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from builder.base import units
from builder.model import CARD, Figure, Picture
from builder.pictures.render import palette
from builder.pictures.render.camera import Camera, Frame, fit
from builder.pictures.views.plain import View, alt
from builder.pictures.views.shapes import MoldShapes

SIZE_PX = (1200, 630)
MOLD_PX = (800, 590)
"""Room of the mold, at the right edge."""
TEXT_PX = 400
"""Width of the title's column, at the left."""
TITLE_PX, SMALL_PX, LEFT_PX = 62, 36, 56
QUALITY = 84
EFFORT = 0
"""Of WebP's scales for lossless files: the least takes a twentieth of the time for a third more bytes."""
DRAWN = f"{CARD}-mold.webp"
"""The mold for the picture, without words, as it was rendered."""
_PLAIN = str.maketrans({"ß": "ss", "ø": "o", "Ø": "O", "ł": "l", "Ł": "L", "đ": "d", "æ": "ae", "œ": "oe",
                        "Æ": "AE", "Œ": "OE", "–": "-", "—": "-", "’": "'", "×": "x"})  # fmt: skip


def social(kit: MoldShapes, view: View, drawn: Image.Image, camera: Camera, folder: Path) -> Picture:
    """Fit the view of the open mold, as it was drawn, to the picture; its words are written later."""
    points = np.concatenate([body.points() for body in view.bodies])
    wanted = fit(points, view.axes, Frame(width_px=MOLD_PX[0], tallest_px=MOLD_PX[1]))
    mold = _fitted(drawn, camera, wanted)
    mold.save(folder / DRAWN, "WEBP", lossless=True, exact=True, method=EFFORT, quality=EFFORT)
    return Picture(
        name=CARD,
        files={SIZE_PX[0]: f"{CARD}-{SIZE_PX[0]}.jpg"},
        width_px=SIZE_PX[0],
        height_px=SIZE_PX[1],
        alt=alt(kit.alt_key(CARD), {"length": kit.of_bait("length")}),
    )


def _fitted(drawn: Image.Image, camera: Camera, wanted: Camera) -> Image.Image:
    """The picture of one camera as another one sees it that looks the same way."""
    scale = drawn.width / camera.width_px
    centre = camera.project(np.array([wanted.centre_mm]))[0] * scale
    half = np.array([wanted.width_px, wanted.height_px]) * wanted.mm_per_px / camera.mm_per_px * scale / 2
    low, high = np.floor(centre - half), np.ceil(centre + half)
    part = drawn.crop((int(low[0]), int(low[1]), int(high[0]), int(high[1])))
    left, top, right, bottom = (float(edge) for edge in (*(centre - half - low), *(centre + half - low)))
    size = (wanted.width_px, wanted.height_px)
    return part.resize(size, Image.Resampling.HAMMING, box=(left, top, right, bottom))


def write_card(picture: Picture, drawn: Path, title: str, folder: Path) -> str:
    """Write the picture's file into the folder, as JPEG without metadata; its name.

    That is the mold as `social` has drawn it in the folder `drawn`, beside the title and the bait's length.
    """
    with Image.open(drawn / DRAWN) as mold:
        card = Image.new("RGB", SIZE_PX, palette.PAPER)
        card.paste(mold, (SIZE_PX[0] - mold.width - 10, (SIZE_PX[1] - mold.height) // 2), mold)
    length = picture.alt.values["length"]
    assert isinstance(length, Figure)
    both = units.show(length)
    _write(card, ascii_only(title), [ascii_only(both.metric.value), ascii_only(both.us.value)])
    data = io.BytesIO()
    card.save(data, "JPEG", quality=QUALITY, optimize=True)
    file = picture.files[SIZE_PX[0]]
    (folder / file).write_bytes(data.getvalue())
    return file


def ascii_only(text: str) -> str:
    """The text in the letters that Pillow's own font has, accents left out; "" when letters are missing.

    >>> ascii_only("Größter Köder"), ascii_only("Щука")
    ('Grosster Koder', '')
    """
    bare = unicodedata.normalize("NFKD", text.translate(_PLAIN))
    letters = "".join(letter for letter in bare if not unicodedata.combining(letter))
    return letters if letters.isascii() else ""


def _write(card: Image.Image, title: str, small: list[str]) -> None:
    """Title and small lines one under the other at the left, in the middle of the height."""
    ink = ImageDraw.Draw(card)
    size = TITLE_PX
    while size > SMALL_PX and len(_lines(ink, title, size)) > 4:
        size -= 4
    rows = [(line, size) for line in _lines(ink, title, size)] + [(line, SMALL_PX) for line in small]
    y = (SIZE_PX[1] - sum(1.25 * height for _, height in rows)) / 2
    for text, height in rows:
        colour = palette.INK if height == size else palette.SOFT_INK
        ink.text((LEFT_PX, y), text, font=ImageFont.load_default(height), fill=colour)
        y += 1.25 * height


def _lines(ink: ImageDraw.ImageDraw, text: str, size: int) -> list[str]:
    """The text broken between words to the column's width; a longer word stays whole."""
    font = ImageFont.load_default(size)
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and ink.textlength(longer, font=font) <= TEXT_PX - LEFT_PX:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines
