"""What a page is made from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from builder.model.advised import Advice
from builder.model.declared import MoldSpec
from builder.model.measured import Measurement
from builder.model.numbers import Figure, Finding


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """Words over a picture, in its pixels: a name, and under it a figure; (x, y) is the first baseline."""

    name: str
    """Key of the language file; "" where there is only a figure."""
    figure: Figure | None
    x_px: float
    y_px: float
    align: Literal["start", "middle", "end"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Turnable:
    """Data for turning a picture's subject in the browser; the picture is what is seen without a script."""

    file: str
    """A script in the mold's asset folder; theme/viewer.js reads what it leaves behind."""
    size_bytes: int
    triangles: int
    error_mm: float
    """No surface lies farther than this from the mesh as measured."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """One drawn picture: its files by width (px), and its description from the numbers."""

    name: str
    files: Mapping[int, str]
    """Width in px to file name inside the mold's asset folder."""
    width_px: int
    height_px: int
    alt: Finding
    """Description in words: a language-file code with its values."""
    overlay_svg: str | None = None
    """Lines and marks as SVG elements without text, for an svg with viewBox "0 0 width_px height_px"."""
    labels: tuple[Label, ...] = ()
    """The words that belong into the same svg, one text element each."""
    turnable: Turnable | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Download:
    """One file that a visitor can take."""

    name: str
    path: Path
    size_bytes: int
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MoldRecord:
    """One mold as the pages see it."""

    spec: MoldSpec
    measurement: Measurement
    advice: Advice
    pictures: tuple[Picture, ...]
    assets: Path
    """Folder that holds the pictures' files."""
    downloads: tuple[Download, ...]
