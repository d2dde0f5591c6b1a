"""Where a mesh is open: the part in grey, its open edges as coloured tubes, seen from where they show."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from builder.model import Figure, Picture, Solid, Vec3
from builder.pictures import figures, palette, symbols
from builder.pictures.camera import look
from builder.pictures.drawing import drawn
from builder.pictures.scene import Body, shape
from builder.pictures.views import View, alt

F64 = NDArray[np.float64]
THICK = 0.004
"""Radius of a tube as a share of the part's size."""
MOST_EDGES = 20_000


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
    tubes = symbols.tubes(lines[:MOST_EDGES], THICK * size)
    bodies = (
        Body(shape=shape(part), colour=palette.HALF),
        Body(shape=shape(tubes), colour=palette.FAULT),
    )
    middle = lines.reshape(-1, 3).mean(axis=0)
    values: dict[str, Figure | str] = {"file": file, "edges": figures.count(len(edges))}
    values |= {axis: figures.exact(float(value)) for axis, value in zip("xyz", middle, strict=True)}
    view = View(
        name=name, bodies=bodies, axes=_towards(vertices, faces[owners]), alt=alt("open_edges", values)
    )
    return drawn(view, folder)


def open_edges(faces: NDArray[np.int32]) -> tuple[NDArray[np.int32], NDArray[np.int64]]:
    """Edges (n, 2) that a single triangle has, and that triangle's number (n,)."""
    edges = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    _, first, count = np.unique(np.sort(edges, axis=1), axis=0, return_index=True, return_counts=True)
    alone = np.sort(first[count == 1])
    return edges[alone], alone % len(faces)


def _towards(vertices: F64, beside: NDArray[np.int32]) -> tuple[Vec3, Vec3, Vec3]:
    """The view that looks onto the triangles beside the open edges, from a little above."""
    corners = vertices[beside]
    facing = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]).sum(axis=0)
    azimuth = float(np.degrees(np.arctan2(facing[0], -facing[1]))) if np.hypot(*facing[:2]) > 1e-9 else 0.0
    flat = float(np.hypot(*facing[:2]))
    elevation = float(np.degrees(np.arctan2(facing[2], flat)))
    return look(azimuth + 22.0, float(np.clip(elevation, -60, 60)) + 18.0)
