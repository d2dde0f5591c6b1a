"""What a page is made from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from builder.model.advised import Advice
from builder.model.declared import MoldSpec
from builder.model.measured import Measurement
from builder.model.numbers import Finding


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
