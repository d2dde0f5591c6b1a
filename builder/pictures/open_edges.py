"""Picture of a mesh's open edges: the part in grey, the edges as coloured tubes.

The picture may be opened alone, beside a sentence of the command line: its marks are drawn, not laid over it.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from builder import mesh
from builder.base import figures
from builder.model import Figure, Picture, Solid, Vec3
from builder.pictures.picture_set import drawn
from builder.pictures.render import palette
from builder.pictures.render.camera import look
from builder.pictures.render.scene import Body
from builder.pictures.render.shape import shape
from builder.pictures.views import symbols
from builder.pictures.views.plain import View, alt

F64 = NDArray[np.float64]
THICK = 0.004
"""Radius of a tube as a share of the part's size."""
MOST_EDGES = 20_000
SMALL = 0.08
"""Where all holes are smaller than this share of the part they are pointed at, or nobody would see them."""
POINTER = 0.1
"""Length of a pointer as a share of the part's size."""
MOST_POINTERS = 12


def draw_open_edges(corners: F64, file: str, folder: Path, name: str = "open-edges") -> Picture | None:
    """Draw triangles (n, 3, 3), mm, and their open edges into the folder; None when there are none."""
    vertices, index = np.unique(corners.reshape(-1, 3), axis=0, return_inverse=True)
    faces = index.reshape(-1, 3).astype(np.int32)
    faces = faces[(faces != np.roll(faces, 1, axis=1)).all(axis=1)]
    edges, owners = open_edges(faces)
    if not len(edges):
        return None
    lines = vertices[edges]
    size = float(np.linalg.norm(np.ptp(vertices, axis=0)))
    part = Solid(name=file, vertices=vertices, faces=faces)
    axes = towards(vertices[faces], owners)
    lean = (np.array(axes[2]) + 1.5 * np.array(axes[1])) / np.hypot(1, 1.5)
    marks = [
        symbols.pointer(at + 2 * THICK * size * lean, -lean, POINTER * size)
        for at in small(lines, edges, size)
    ]
    tubes = symbols.together([symbols.tubes(lines[:MOST_EDGES], THICK * size), *marks])
    bodies = (
        Body(shape=shape(part), colour=palette.HALF),
        Body(shape=shape(tubes), colour=palette.FAULT),
    )
    middle = lines.reshape(-1, 3).mean(axis=0)
    values: dict[str, Figure | str] = {"file": file, "edges": figures.count(len(edges))}
    values |= {axis: figures.chosen(float(value)) for axis, value in zip("xyz", middle, strict=True)}
    view = View(name=name, bodies=bodies, axes=axes, alt=alt("open_edges", values))
    return drawn(view, folder)


def small(lines: F64, edges: NDArray[np.int32], size_mm: float) -> list[F64]:
    """Middles of a dozen holes at most, the largest first; none where one is large enough to be seen."""
    count = int(edges.max()) + 1
    joined = coo_array((np.ones(len(edges)), (edges[:, 0], edges[:, 1])), shape=(count, count))
    hole = connected_components(joined, directed=False)[1][edges[:, 0]]
    corners = [lines[hole == number].reshape(-1, 3) for number in np.unique(hole)]
    extents = [float(np.linalg.norm(np.ptp(points, axis=0))) for points in corners]
    if max(extents) > SMALL * size_mm:
        return []
    return [corners[k].mean(axis=0) for k in np.argsort(extents)[: -MOST_POINTERS - 1 : -1]]


def open_edges(faces: NDArray[np.int32]) -> tuple[NDArray[np.int32], NDArray[np.int64]]:
    """Edges (n, 2) that a single triangle has, and that triangle's number (n,)."""
    edges = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    _, first, count = np.unique(np.sort(edges, axis=1), axis=0, return_index=True, return_counts=True)
    alone = np.sort(first[count == 1])
    return edges[alone], alone % len(faces)


def towards(corners: F64, beside: NDArray[np.int64]) -> tuple[Vec3, Vec3, Vec3]:
    """View direction onto the missing facets of triangles (n, 3, 3), from a little above.

    The areas of a closed surface, as vectors, add up to nothing: what is missing faces where they do not.
    Where that tells nothing, as for holes in opposite sides, it is where the triangles `beside` them face.
    """
    areas = mesh.crosses(corners)
    facing = -areas.sum(axis=0)
    if np.linalg.norm(facing) < 1e-6 * np.linalg.norm(areas, axis=1).sum():
        facing = areas[beside].sum(axis=0)
    azimuth = float(np.degrees(np.arctan2(facing[0], -facing[1]))) if np.hypot(*facing[:2]) > 1e-9 else 0.0
    flat = float(np.hypot(*facing[:2]))
    elevation = float(np.degrees(np.arctan2(facing[2], flat)))
    return look(azimuth + 22.0, float(np.clip(elevation, -60, 60)) + 18.0)
