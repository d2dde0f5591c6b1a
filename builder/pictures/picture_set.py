"""The set of a mold: every view drawn, written and described."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
from PIL import Image

from builder.model import Deciding, Label, Picture, Reading
from builder.pictures import files, viewer_data
from builder.pictures.render import rays
from builder.pictures.render.camera import Camera, Frame, fit
from builder.pictures.render.scene import lay
from builder.pictures.render.shading import render
from builder.pictures.social import social
from builder.pictures.views import annotated, callouts, cuts, plain
from builder.pictures.views.plain import View
from builder.pictures.views.shapes import MoldShapes, mold_shapes

MARGIN_PX = 14
TALLEST_PX = 800
SLOW_COARSE = 2
"""Without embreex pictures have so many times fewer pixels each way."""
MAKERS: tuple[Callable[[MoldShapes], View | None], ...] = (
    plain.open_view,
    plain.closed_view,
    plain.exploded_view,
    plain.bait_view,
    plain.shot_view,
    annotated.annotated_view,
    annotated.thickness_view,
    cuts.deciding_view,
    cuts.thinnest_view,
    annotated.print_view,
)

BAIT_MAKERS = (plain.bait_view, annotated.thickness_view, cuts.thinnest_view)
"""What is drawn of a bait that is given alone: there is no printed part to show."""


def draw(
    slug: str,
    reading: Reading,
    deciding: Deciding | None,
    folder: Path,
    *,
    coarse: int | None = None,
) -> tuple[Picture, ...]:
    """Draw the mold's pictures into an existing folder and return their records, without title and margin.

    The last is the picture for links, of which there is only the mold yet (social.write_card). Where no
    section is said to decide, the thinnest is cut. `coarse` makes so many times fewer pixels each way; None
    is 1, or 2 on a machine without embreex.
    """
    coarse = coarse or (1 if rays.fast() else SLOW_COARSE)
    shapes = mold_shapes(reading, deciding)
    makers = MAKERS if shapes.parts else BAIT_MAKERS
    wanted = [view for make in makers if (view := make(shapes)) is not None]
    image, camera = rendered(wanted[0], coarse)
    first = replace(_kept(wanted[0], image, camera, folder), turnable=viewer_data.write(shapes, folder, slug))
    others = [drawn(view, folder, coarse) for view in wanted[1:]]
    return first, *others, social(shapes, wanted[0], image, camera, folder)


def drawn(view: View, folder: Path, coarse: int = 1) -> Picture:
    """Render one view into the folder; `coarse` divides the pixels each way."""
    return _kept(view, *rendered(view, coarse), folder)


def rendered(view: View, coarse: int = 1) -> tuple[Image.Image, Camera]:
    """The image of a view, and the camera that sees it in full size; `coarse` divides the pixels each way."""
    points = np.concatenate([body.points() for body in view.bodies]) if view.focus is None else view.focus
    paper = frame(view)
    camera = fit(points, view.axes, paper)
    left, top, right, bottom = (view.windowed * margin // coarse for margin in paper.margins_px)
    pixels = render(lay(view.bodies), camera.coarser(coarse), (left, top, right, bottom))
    return files.image_of(pixels), camera


def _kept(view: View, image: Image.Image, camera: Camera, folder: Path) -> Picture:
    """The picture of an image of a view, which is written into the folder."""
    overlay, labels = _words(view, camera)
    return Picture(
        name=view.name,
        files=files.save(image, folder, view.name),
        width_px=camera.width_px,
        height_px=camera.height_px,
        alt=view.alt,
        overlay_svg=overlay,
        labels=labels,
    )


def _words(view: View, camera: Camera) -> tuple[str | None, tuple[Label, ...]]:
    """The overlay of a view and its labels."""
    if view.scale is None:
        return callouts.write(view.notes, camera, camera.height_px)
    bar, ticks = callouts.write_scale(view.scale, camera)
    lines, labels = callouts.write(view.notes, camera, camera.height_px - callouts.SCALE_ROW_PX)
    return bar + (lines or ""), ticks + labels


def frame(view: View) -> Frame:
    """The paper of a view, with room for its labels."""
    above, below = view.notes.rows()
    top, bottom = (callouts.ROW_PX if row else MARGIN_PX for row in (above, below))
    bottom += callouts.SCALE_ROW_PX if view.scale else 0
    return Frame(width_px=1200, tallest_px=TALLEST_PX, margins_px=(MARGIN_PX, top, MARGIN_PX, bottom))
