"""Data for looking round a mold in the browser: a script of our own form that theme/viewer.js reads.

Each body is decimated within a tolerance, its points rounded to 16 bits over the box round everything, and
written as small differences, which deflate packs well. The whole is base64 in a script that sets
`window.shotbookTurn`, so that it loads from a folder as well as from a server.
"""

from __future__ import annotations

import base64
import json
import math
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from builder import mesh
from builder.model import Solid, Turnable
from builder.pictures.render.rays import Hits
from builder.pictures.render.scene import Inlay
from builder.pictures.views.shapes import FINE_MM, MoldShapes

F64 = NDArray[np.float64]
I64 = NDArray[np.int64]
STEPS = 65535
BUDGET_BYTES = 500_000
TOLERANCES_MM = (FINE_MM, 0.02, 0.03, 0.045)
"""Tried from the finest on until the data fits the budget."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Grid:
    """Grid that vertices are rounded to: multiples of a step from the lowest corner."""

    lowest: F64
    step_mm: float

    def round(self, vertices: F64) -> I64:
        """Points in steps."""
        return np.rint((vertices - self.lowest) / self.step_mm).astype(np.int64)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Piece:
    """One body: points in steps (n, 3), triangles, the colour's number of each triangle, and how it opens."""

    role: str
    lift: float
    """By how many gaps it is drawn up when the mold is opened."""
    points: I64
    faces: I64
    colours: I64


def write(kit: MoldShapes, folder: Path, slug: str) -> Turnable | None:
    """Write the data into the folder; None when even the coarsest tolerance is over the budget."""
    solids = [part.solid for part in kit.parts] + [piece.solid for piece in kit.plastic]
    corners = np.concatenate([solid.vertices for solid in solids])
    grid = Grid(lowest=corners.min(axis=0), step_mm=float(np.ptp(corners, axis=0).max()) / STEPS)
    for tolerance in TOLERANCES_MM:
        pieces, table = pieces_of(kit, grid, tolerance)
        error = tolerance + grid.step_mm * math.sqrt(3) / 2
        text = script(grid, pieces, table, error)
        if len(text) <= BUDGET_BYTES:
            file = f"{slug}-turn.js"
            (folder / file).write_bytes(text)
            triangles = sum(len(piece.faces) for piece in pieces)
            return Turnable(file=file, size_bytes=len(text), triangles=triangles, error_mm=error)
    return None


def pieces_of(kit: MoldShapes, grid: Grid, tolerance_mm: float) -> tuple[list[Piece], list[str]]:
    """The pieces, and the table of colours whose numbers they hold."""
    used = [part.colour for part in kit.parts] + [piece.colour for piece in kit.plastic]
    table = list(dict.fromkeys(used))
    plastic = [table.index(piece.colour) for piece in kit.plastic]
    order = sorted(kit.parts, key=lambda part: float(part.solid.vertices[:, 2].mean()))
    pieces = []
    for lift, part in enumerate(order):
        thin = part.thin if tolerance_mm == FINE_MM else mesh.lighter(part.solid, tolerance_mm)
        tints = np.array([table.index(part.colour), *plastic])
        colours = tints[_touched(thin, kit.tint)]
        pieces.append(_piece("part", float(lift), thin, grid.round(thin.vertices), colours))
    middle = 0.5 if len(order) > 1 else 1.0
    for index, one in enumerate(kit.plastic):
        thin = one.thin if tolerance_mm == FINE_MM else mesh.lighter(one.solid, tolerance_mm)
        role = "bait" if index < len(kit.baits) else "waste"
        colours = np.full(len(thin.faces), plastic[index])
        pieces.append(_piece(role, middle, thin, grid.round(thin.vertices), colours))
    return pieces, table


def _touched(solid: Solid, tint: Inlay | None) -> I64:
    """0 for facets that do not touch plastic all over, else 1 and the number of the piece at their middle.

    A wide facet may pass over a vent at its middle: halfway to each corner there must be plastic as well.
    """
    if tint is None:
        return np.zeros(len(solid.faces), dtype=np.int64)
    corners = solid.vertices[solid.faces]
    out = mesh.unit_normals(corners)
    middle, up = corners.mean(axis=1), out.astype(np.float32)

    def outward(spot: F64) -> Hits:
        return tint.caster.first((spot + 0.05 * out).astype(np.float32), up)

    hits = outward(middle)
    touched = hits.behind(up)
    for corner in range(3):
        touched &= outward((middle + corners[:, corner]) / 2).face >= 0
    return np.where(touched, tint.pieces[hits.face] + 1, 0)


def _piece(role: str, lift: float, solid: Solid, points: I64, colours: I64) -> Piece:
    """The solid with its points in steps, triangles in an order in which neighbours follow each other."""
    order = np.argsort(_along_a_curve(points[solid.faces].sum(axis=1) // 3), kind="stable")
    faces, colours = solid.faces[order].astype(np.int64), colours[order]
    used, first = np.unique(faces, return_index=True)
    rank = np.argsort(np.argsort(first))
    renamed = np.zeros(len(points), dtype=np.int64)
    renamed[used] = rank
    return Piece(
        role=role, lift=lift, points=points[used[np.argsort(first)]], faces=renamed[faces], colours=colours
    )


def _along_a_curve(points: I64) -> I64:
    """Place of points (n, 3) of 16 bits along a Z-order curve."""
    place = np.zeros(len(points), dtype=np.int64)
    for bit in range(16):
        for axis in range(3):
            place |= ((points[:, axis] >> bit) & 1) << (3 * bit + axis)
    return place


def script(grid: Grid, pieces: Sequence[Piece], table: Sequence[str], error_mm: float) -> bytes:
    """The script's text."""
    packed = zlib.compress(b"".join(packed_piece(piece) for piece in pieces), 9)
    head = {
        "low": [round(float(value), 4) for value in grid.lowest],
        "step": grid.step_mm,
        "error": round(error_mm, 4),
        "colours": list(table),
        "pieces": [
            {"role": piece.role, "lift": piece.lift, "points": len(piece.points), "faces": len(piece.faces)}
            for piece in pieces
        ],
        "data": base64.b64encode(packed).decode("ascii"),
    }
    return f"window.shotbookTurn={json.dumps(head, separators=(',', ':'))};\n".encode("ascii")


def packed_piece(piece: Piece) -> bytes:
    """Points as steps from the one before, corners as steps back from the newest point, colours as runs."""
    steps = np.diff(piece.points, axis=0, prepend=np.zeros((1, 3), dtype=np.int64))
    corners = piece.faces.ravel()
    newest = np.maximum.accumulate(np.concatenate([[-1], corners[:-1]])) + 1
    change = np.flatnonzero(np.diff(piece.colours, prepend=-1))
    runs = np.stack([piece.colours[change], np.diff(change, append=len(piece.colours))], axis=1)
    return b"".join(
        varints(values)
        for values in (
            np.where(steps >= 0, 2 * steps, -2 * steps - 1).T.ravel(),
            newest - corners,
            np.array([len(runs)]),
            runs.ravel(),
        )
    )


def varints(values: I64) -> bytes:
    """Non-negative integers as variable-length bytes (LEB128).

    >>> varints(np.array([0, 127, 128, 300])).hex()
    '007f8001ac02'
    """
    values = np.asarray(values, dtype=np.int64)
    lengths = np.ones(len(values), dtype=np.int64)
    for size in range(1, 9):
        lengths += values >= 1 << (7 * size)
    place = np.concatenate([[0], np.cumsum(lengths)])
    out = np.zeros(int(place[-1]), dtype=np.uint8)
    for size in range(int(lengths.max(initial=0))):
        has = lengths > size
        more = (lengths[has] > size + 1).astype(np.int64) << 7
        out[place[:-1][has] + size] = ((values[has] >> (7 * size)) & 127) | more
    return out.tobytes()
