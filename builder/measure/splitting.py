"""Both halves in one STL file, laid out beside each other or closed, as two parts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from builder import mesh
from builder.measure import grown
from builder.mesh.flat_regions import hanging, members, neighbours
from builder.model import Finding, MoldSpec, Solid, Vouch

Read = tuple[Solid, Vouch]

LIKE_SHARE = 0.1
"""A body with this share of the largest one's volume is a part of its own."""


def split(spec: MoldSpec, solids: Sequence[Read]) -> tuple[MoldSpec, list[Read], list[Finding]]:
    """The mold with its only half's two bodies as two halves; unchanged where there is nothing to split."""
    halves = [k for k, part in enumerate(spec.parts) if part.role == "half"]
    if spec.kind != "injection" or len(halves) != 1 or spec.parts[halves[0]].placing is not None:
        return spec, list(solids), []
    index = halves[0]
    found, code = bodies(solids[index][0]), "reading.split"
    told = spec.parts[index].parting
    if len(found) == 1 and told:
        found, code = grown.halved(spec, index, found[0], told), "reading.grown"
    if len(found) != 2:
        return spec, list(solids), []
    part, (_, vouch) = spec.parts[index], solids[index]
    name = Path(part.file)
    parts, read = list(spec.parts), list(solids)
    parts[index : index + 1] = [
        replace(part, file=f"{name.stem}-{k}{name.suffix}", name=f"{part.name} {k}", parting=None)
        for k in (1, 2)
    ]
    read[index : index + 1] = [(body, _vouched(vouch, body)) for body in found]
    said = Finding(level="warn" if code == "reading.grown" else "note", code=code, values={"file": part.file})
    return replace(spec, parts=tuple(parts)), read, [said]


def bodies(solid: Solid) -> list[Solid]:
    """The bodies of like size in a solid, each with the smaller shells that lie within its box.

    Bodies that only touch count as two: an edge that four facets share joins nothing.
    """
    label = hanging(neighbours(solid.faces)[1], len(solid.faces))
    shells = [_alone(solid, facets) for facets in members(label, np.ones(label.max() + 1, dtype=bool))]
    volumes = [mesh.volume_mm3(shell) for shell in shells]
    large = [k for k, volume in enumerate(volumes) if volume > LIKE_SHARE * max(volumes)]
    mine: dict[int, list[Solid]] = {k: [shells[k]] for k in large}
    for k, shell in enumerate(shells):
        if k not in mine:
            middle = (shell.vertices.min(axis=0) + shell.vertices.max(axis=0)) / 2
            mine[min(large, key=lambda one: _outside(shells[one], middle))].append(shell)
    return [_together(solid.name, some) for some in mine.values()]


def _outside(solid: Solid, point: NDArray[np.float64]) -> tuple[float, float]:
    """How far a point lies outside a solid's box, then from its middle."""
    low, high = solid.vertices.min(axis=0), solid.vertices.max(axis=0)
    beyond = np.maximum(np.maximum(low - point, point - high), 0.0)
    return float(np.linalg.norm(beyond)), float(np.linalg.norm(point - (low + high) / 2))


def _alone(solid: Solid, facets: NDArray[np.int64]) -> Solid:
    """Some facets with their own vertices."""
    used, index = np.unique(solid.faces[facets], return_inverse=True)
    return Solid(name=solid.name, vertices=solid.vertices[used], faces=index.reshape(-1, 3).astype(np.int32))


def _together(name: str, some: Sequence[Solid]) -> Solid:
    """Several shells as one solid."""
    starts = np.cumsum([0, *(len(one.vertices) for one in some)])
    faces = np.concatenate([one.faces + start for one, start in zip(some, starts, strict=False)])
    return Solid(
        name=name, vertices=np.concatenate([one.vertices for one in some]), faces=faces.astype(np.int32)
    )


def _vouched(vouch: Vouch, body: Solid) -> Vouch:
    """What is vouched for of the file, for one of its bodies."""
    size = np.ptp(body.vertices, axis=0)
    return replace(
        vouch,
        triangles=len(body.faces),
        volume_ml=mesh.volume_ml(mesh.volume_mm3(body)),
        size_mm=(float(size[0]), float(size[1]), float(size[2])),
    )
