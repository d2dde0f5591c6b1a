"""Pictures as single files: labelled ones become an SVG with image, marks and words inside."""

from __future__ import annotations

import base64
from collections.abc import Iterator, Mapping, Sequence
from xml.sax.saxutils import escape

from builder.base import units
from builder.base.texts import Texts
from builder.model import Label, Picture
from builder.pictures.render import palette
from builder.pictures.views import callouts


def to_give(pictures: Sequence[Picture], files: Mapping[str, bytes], texts: Texts) -> dict[str, bytes]:
    """The largest file of each picture by name; as an SVG that needs no other file where it carries words."""
    given = {}
    for picture in pictures:
        file = picture.files[max(picture.files)]
        if picture.labels:
            given[f"{picture.name}.svg"] = with_words(picture, files[file], texts).encode()
        else:
            given[file] = files[file]
    return given


def with_words(picture: Picture, image: bytes, texts: Texts) -> str:
    """The picture as SVG: its WebP image, marks and words on the palette's paper, described by its title."""
    width, height = picture.width_px, picture.height_px
    drawn = base64.b64encode(image).decode()
    words = "".join(_words(label, texts) for label in picture.labels)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}"'
        f' height="{height}" color="{palette.INK}" style="--md-default-bg-color:{palette.PAPER}">'
        f"<title>{escape(texts.finding(picture.alt))}</title>"
        f'<rect width="{width}" height="{height}" fill="{palette.PAPER}"/>'
        f'<image width="{width}" height="{height}" href="data:image/webp;base64,{drawn}"/>'
        f"{picture.overlay_svg or ''}"
        f'<g font-family="system-ui,sans-serif" font-weight="600" font-size="{callouts.TYPE_PX}"'
        f' fill="currentColor" stroke="{palette.PAPER}" stroke-width="7" paint-order="stroke">{words}</g>'
        "</svg>\n"
    )


def _words(label: Label, texts: Texts) -> str:
    lines = "".join(
        f'<tspan x="{label.x_px:g}" y="{label.y_px + number * callouts.LINE_PX:g}">{escape(line)}</tspan>'
        for number, line in enumerate(_lines(label, texts))
    )
    return f'<text text-anchor="{label.align}">{lines}</text>'


def _lines(label: Label, texts: Texts) -> Iterator[str]:
    """Name, metric and US value of a label, as far as it has them."""
    if label.name:
        yield texts.say(label.name)
    if label.figure is not None:
        both = units.show(label.figure, texts.language)
        yield from dict.fromkeys((both.metric.value, both.us.value))
