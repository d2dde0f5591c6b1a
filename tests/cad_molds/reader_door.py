"""The only place here that knows the reader: a folder with mold.yaml and STL files in, numbers out."""

from __future__ import annotations

from pathlib import Path

from builder import build
from builder.base.problems import Faults, Problem, Where
from builder.model import Finding, Measurement, Reading
from builder.spec import mold_file

__all__ = ["Faults", "Finding", "Measurement", "Problem", "Reading", "Where", "read_folder"]


def read_folder(folder: Path) -> Measurement:
    """What is read off the mold in `folder`; raises Faults where the reading asks or refuses."""
    mold = mold_file.load(folder)
    return build.read(mold, [part.path.read_bytes() for part in mold.parts]).measurement
