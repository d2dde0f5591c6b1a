"""A bait given as a solid of its own beside the halves: laid into the cavity that it fills."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product

import numpy as np
from numpy.typing import NDArray

from builder import mesh
from builder.base import figures
from builder.measure.closing import matching
from builder.model import Figure, Finding, PartSpec, Solid

Array = NDArray[np.float64]

SAME_SHARE = 0.97
"""A positive and a cavity that share this much of both are the same bait."""
SIGNS = [np.array(signs) for signs in product((1.0, -1.0), repeat=3) if np.prod(signs) > 0]


def registered(part: PartSpec, positive: Solid, baits: Sequence[mesh.Body]) -> tuple[Solid, Finding]:
    """The positive laid into the cavity it fills best, and what to say of it."""
    body = mesh.body(positive)
    near = sorted(baits, key=lambda bait: abs(bait.volume() - body.volume()))
    tries = [
        (_shared(body, bait, turn, move), turn, move) for bait in near for turn, move in _moves(body, bait)
    ]
    shared, turn, move = max(tries, key=lambda one: one[0])
    values: dict[str, Figure | str] = {"file": part.file, "positive": _ml(body), "cavity": _ml(near[0])}
    if shared < SAME_SHARE:
        return positive, Finding(level="warn", code="reading.positive_differs", values=values)
    return matching.laid(positive, turn, move), Finding(level="note", code="reading.positive", values=values)


def _ml(body: mesh.Body) -> Figure:
    """Volume as a figure."""
    return figures.exact(mesh.volume_ml(body), "ml", "reading.volume", "measured")


def _moves(one: mesh.Body, two: mesh.Body) -> Iterator[tuple[Array, Array]]:
    """The four movements that lay centre and principal axes of one body on those of the other."""
    (a, axes_a), (b, axes_b) = _principal(one), _principal(two)
    for signs in SIGNS:
        turn = axes_b.T @ np.diag(signs) @ axes_a
        yield turn, b - turn @ a


def _principal(body: mesh.Body) -> tuple[Array, Array]:
    """Centre (3,) and principal axes (rows, right-handed) of a body, from its tetrahedra to the origin."""
    solid = mesh.solid(body, "")
    corners = solid.vertices[solid.faces]
    shift = corners.reshape(-1, 3).mean(axis=0)
    p = corners - shift
    volume = np.einsum("ij,ij->i", p[:, 0], np.cross(p[:, 1], p[:, 2])) / 6
    centre = np.einsum("i,ij->j", volume, p.sum(axis=1)) / 4 / volume.sum()
    total = p.sum(axis=1)
    second = np.einsum("i,ikj,ikl->jl", volume, p, p) + np.einsum("i,ij,il->jl", volume, total, total)
    spread = second / 20 / volume.sum() - np.outer(centre, centre)
    axes = np.linalg.eigh(spread)[1].T[::-1]
    return centre + shift, axes * np.array([1.0, 1.0, np.sign(np.linalg.det(axes))])[:, None]


def _shared(one: mesh.Body, two: mesh.Body, turn: Array, move: Array) -> float:
    """Volume common to both over that of either."""
    laid = mesh.placed(one, turn, move)
    common = (laid ^ two).volume()
    return float(common / (one.volume() + two.volume() - common))
