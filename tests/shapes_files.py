"""STL files from solids: binary and ASCII, in the poses in which people export them."""

from __future__ import annotations

import struct
from collections.abc import Callable, Sequence

import numpy as np
from manifold3d import Manifold

from tests.shapes import Array, Mold

Pose = Callable[[Mold], tuple[Manifold, ...]]
"""Takes the closed mold, gives each part as its file holds it."""


def triangles(solid: Manifold) -> Array:
    """Corners of every facet, shape (n, 3, 3)."""
    mesh = solid.to_mesh64()
    corners: Array = np.asarray(mesh.vert_properties)[:, :3][np.asarray(mesh.tri_verts)]
    return corners


def binary_stl(corners: Array, header: bytes = b"invented mold") -> bytes:
    """A binary STL file; normals from the corners, attribute bytes zero."""
    rows = np.zeros(len(corners), dtype=np.dtype([("facet", "<f4", (4, 3)), ("attribute", "<u2")]))
    rows["facet"][:, 0] = _normals(corners)
    rows["facet"][:, 1:] = corners
    return header.ljust(80)[:80] + struct.pack("<I", len(rows)) + rows.tobytes()


def ascii_stl(corners: Array, name: str = "part") -> bytes:
    """The same as text, with nine significant digits."""
    lines = [f"solid {name}"]
    for normal, facet in zip(_normals(corners), corners, strict=True):
        lines.append(f"  facet normal {_numbers(normal)}\n    outer loop")
        lines.extend(f"      vertex {_numbers(corner)}" for corner in facet)
        lines.append("    endloop\n  endfacet")
    return "\n".join([*lines, f"endsolid {name}", ""]).encode("ascii")


def files(mold: Mold, pose: Pose, scale: float = 1.0) -> tuple[bytes, ...]:
    """One binary STL for each part; `scale` 1 / 25.4 writes inches."""
    return tuple(binary_stl(triangles(part) * scale) for part in pose(mold))


# -- poses -----------------------------------------------------------------------------------------


def closed(mold: Mold) -> tuple[Manifold, ...]:
    """As the mold is shot."""
    return tuple(part for _, part in mold.parts)


def on_the_bed(mold: Mold) -> tuple[Manifold, ...]:
    """Each part flat with its cavity up, at its own origin; every part but the first is turned over."""
    solids = closed(mold)
    return tuple(grounded(s if k == 0 else s.rotate((180.0, 0.0, 0.0))) for k, s in enumerate(solids))


def side_by_side(mold: Mold) -> tuple[Manifold, ...]:
    """Opened like a book about an axis along y: the upper half lies turned over beside the lower."""
    first, *others = closed(mold)
    shift = 2 * first.bounding_box()[3] + 8.0
    turned = [s.rotate((0.0, 180.0, 0.0)).translate((shift, 0.0, 0.0)) for s in others]
    return tuple(s.translate((0.0, 0.0, -s.bounding_box()[2])) for s in (first, *turned))


def anyhow(seed: int) -> Pose:
    """Every part turned and moved at random."""

    def pose(mold: Mold) -> tuple[Manifold, ...]:
        rng = np.random.default_rng(seed)
        return tuple(s.transform(_random_placing(rng)) for s in closed(mold))

    return pose


def turned_on_the_bed(degrees: Sequence[float]) -> Pose:
    """Flat on the bed, each part turned about z to fit the printer."""

    def pose(mold: Mold) -> tuple[Manifold, ...]:
        flat = on_the_bed(mold)
        return tuple(s.rotate((0.0, 0.0, d)) for s, d in zip(flat, degrees, strict=True))

    return pose


def upright(mold: Mold) -> tuple[Manifold, ...]:
    """Every part stood on its edge, so that the parting faces look along the bed."""
    return tuple(grounded(s.rotate((90.0, 0.0, 35.0))) for s in closed(mold))


def mirrored(mold: Mold) -> tuple[Manifold, ...]:
    """Flat on the bed, the second half mirrored: wrong as a part, common as an export."""
    first, *others = on_the_bed(mold)
    return (first, *(s.mirror((1.0, 0.0, 0.0)) for s in others))


def grounded(solid: Manifold) -> Manifold:
    """Centred over the bed and standing on it."""
    x0, y0, z0, x1, y1, _ = solid.bounding_box()
    return solid.translate((-(x0 + x1) / 2, -(y0 + y1) / 2, -z0))


def _random_placing(rng: np.random.Generator) -> Array:
    q = rng.normal(size=4)
    w, x, y, z = q / np.linalg.norm(q)
    turn = np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
            [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
            [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
        ]
    )
    return np.column_stack([turn, rng.uniform(-80, 80, size=3)])


def _normals(corners: Array) -> Array:
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    length = np.linalg.norm(normal, axis=1, keepdims=True)
    return np.asarray(normal / np.where(length > 0, length, 1.0))


def _numbers(values: Array) -> str:
    return " ".join(f"{value:.9g}" for value in values)
