"""The smallest mold that every stage takes: an open pour with one bar of a bait."""

from __future__ import annotations

from pathlib import Path

from manifold3d import Manifold

from tests.shapes import Mold, box, open_mold
from tests.shapes_files import closed, files


def drawn(depth: float = 8.0) -> Mold:
    bar = box((-25.0, -6.0, -depth), (25.0, 6.0, depth))
    return open_mold("bar", block=box((-35.0, -16.0, -14.0), (35.0, 16.0, 0.0)), baits=[bar])


def stl(depth: float = 8.0) -> bytes:
    return files(drawn(depth), closed)[0]


def write(
    molds: Path, slug: str = "small-bar", *, depth: float = 8.0, version: str = "1", more: str = ""
) -> Path:
    folder = molds / slug
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "block.stl").write_bytes(stl(depth))
    keys = ("title: Small bar", "kind: open pour", "parts: [block.stl]", "cavities: 1", "plastisol: soft")
    (folder / "mold.yaml").write_text("\n".join((*keys, f'version: "{version}"', more)))
    return folder


def poured(depth: float = 8.0) -> Manifold:
    return drawn(depth).baits[0]
