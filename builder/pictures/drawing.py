"""The set of a mold: every view drawn, written and described."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from builder.model import Advice, MoldSpec, Picture, Reading
from builder.pictures import files, rays, views
from builder.pictures.camera import Frame, fit
from builder.pictures.kit import kit
from builder.pictures.scene import lay
from builder.pictures.shading import render
from builder.pictures.views import View

PAPER = Frame(width_px=1200, tallest_px=800)
SLOW_PAPER = Frame(width_px=600, tallest_px=400)


def draw(spec: MoldSpec, reading: Reading, advice: Advice, folder: Path) -> tuple[Picture, ...]:  # noqa: ARG001
    """Draw the mold's pictures into the folder, which exists, and say what they are."""
    shapes = kit(spec, reading)
    chosen = [views.open_view(shapes), views.closed_view(shapes), views.bait_view(shapes)]
    return tuple(_drawn(view, folder) for view in chosen)


def _drawn(view: View, folder: Path) -> Picture:
    points = np.concatenate([body.points() for body in view.bodies])
    camera = fit(points, view.axes, PAPER if rays.fast() else SLOW_PAPER)
    image = files.image_of(render(lay(view.bodies), camera))
    return Picture(
        name=view.name,
        files=files.save(image, folder, view.name),
        width_px=image.width,
        height_px=image.height,
        alt=view.alt,
    )
