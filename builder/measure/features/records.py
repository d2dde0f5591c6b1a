"""Solids and cuts as records of the model."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray

from builder import mesh
from builder.measure.cavity.void import Mouth
from builder.measure.features import printing, sizes, sockets
from builder.mesh.cuts import Cut
from builder.model import Bait, FlowPath, PartMeasure, PartSpec, Solid, Station, Vent, Vouch

Array = NDArray[np.float64]

SMOOTH_RAD = 0.85
"""Edges that bend more are drawn edges, not chords of a curve (49 degrees: seven chords to the round)."""
SLIM = 2.0
"""Facets up to so many times wider than the edge between them is long tell the mesher's tolerance..."""
MESHED_SHARE = 0.97
"""...which this share of their area keeps. A long facet's bend at its short end is a drawn bend."""
BARELY_MM = 1e-6
SPARE = 1.1
"""All of 17 kinds of drawn baits, at chords of 0.02 to 0.5 mm, lay within 1.0 times the bare sum."""
RESERVE, LEAST_OF_ALL = 1.3, 0.35
"""The same baits, a tube among them, lay within 1.33 times what is left of round and hollow faces."""
LEAST_SHARE = 0.001
"""Where a gate is cut is known no better, however fine the mesh: measured on drawn gates."""


def bait(
    name: str,
    body: mesh.Body,
    gates: tuple[Cut, ...] = (),
    paths: tuple[FlowPath, ...] = (),
    *,
    narrow: tuple[Station | None, str] = (None, ""),
    spans: sizes.Spans | None = None,
) -> tuple[Bait, Solid]:
    """A bait's record and its solid; `spans` tell its sizes where vents drain it."""
    solid = mesh.solid(body, name)
    corners = (spans or sizes.spanned(body)).corners
    low, high = corners.min(axis=0), corners.max(axis=0)
    plan = mesh.plan_box(solid, corners, [mesh.vec(cut.normal) for cut in gates])
    record = Bait(
        name=name,
        volume_ml=mesh.volume_ml(body),
        area_mm2=body.surface_area(),
        length_mm=plan.length_mm,
        height_mm=plan.height_mm,
        width_mm=float(high[2] - low[2]),
        projected_mm2=mesh.projected_mm2(body),
        at_mm=mesh.vec((low + high) / 2),
        gates=tuple(cut.gate() for cut in gates),
        sockets=sockets.eye_sockets(solid),
        hook_slot=sockets.hook_slot(solid),
        paths=paths,
        thinnest=narrow[0],
        thinnest_feeds=narrow[1],
    )
    return record, solid


def vent(body: mesh.Body, cut: Cut, mouth: Mouth, bait_name: str) -> Vent:
    """A vent's record: its mouth's narrow and wide side, its length from mouth to bait.

    A crack round a core is as deep as it gapes, and as wide as it is long.
    """
    corners = np.array(shapely.minimum_rotated_rectangle(mouth.polygon).exterior.coords)
    sides = np.sort(np.linalg.norm(np.diff(corners, axis=0), axis=1)[:2])
    if mouth.polygon.interiors:
        gap = 2 * mouth.area_mm2 / mouth.polygon.length
        sides = np.array([gap, mouth.area_mm2 / gap])
    return Vent(
        at_mm=mesh.vec(mouth.at),
        depth_mm=float(sides[0]),
        width_mm=float(sides[1]),
        length_mm=float(np.linalg.norm(mouth.at - cut.at)),
        volume_ml=mesh.volume_ml(body),
        bait=bait_name,
        ends=mouth.ends,
    )


def part(spec: PartSpec, solid: Solid, vouch: Vouch, flat: bool = True) -> PartMeasure:
    """A printed part as it lies in the closed mold; a parting that is drawn curved has no flatness."""
    made = printing.printed(spec, solid, mesh.body(solid), vouch)
    return made if flat else replace(made, flatness_mm=None)


def faceting(solid: Solid) -> tuple[float, float]:
    """How much a smooth shape loses to its facets: share of the volume, largest gap (mm).

    A facet of width w that bends from its neighbour by the angle t lies up to w tan(t / 4) / 2 under the
    arc (sagitta of a chord); on average two thirds of that. A mesher keeps one tolerance over a part, so
    no bend counts for more than the tolerance that its slim facets show. Facets of hollow faces, as inside
    a tube, lose of the mold what those of round faces lose of the bait: what is left of both counts, with
    a reserve, and never less than a share of all.
    """
    its = mesh.facets(solid)
    normals, areas, centres = its.normals, its.areas_mm2, its.centres
    faces = solid.faces
    ends = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]).astype(np.int64)
    key = ends.min(axis=1) * len(solid.vertices) + ends.max(axis=1)
    order = np.argsort(key, kind="stable")
    same = np.flatnonzero(key[order][1:] == key[order][:-1])
    owner = np.tile(np.arange(len(faces)), 3)
    one, two = owner[order[same]], owner[order[same + 1]]
    angle = np.arccos(np.clip(np.einsum("ij,ij->i", normals[one], normals[two]), -1.0, 1.0))
    edge = solid.vertices[ends[order[same], 0]] - solid.vertices[ends[order[same], 1]]
    length = np.maximum(np.linalg.norm(edge, axis=1), 1e-9)
    width = (areas[one] + areas[two]) / length
    both = areas[one] + areas[two]
    sagitta = np.where(angle < SMOOTH_RAD, width * np.tan(angle / 4) / 2, 0.0)
    sagitta = np.minimum(sagitta, _tolerance(sagitta, both, width <= SLIM * length))
    share = 2 / 3 * both * sagitta / mesh.volume_mm3(solid)
    hollow = np.einsum("ij,ij->i", normals[one], centres[two] - centres[one]) > 0
    every, inner = float(share.sum()), float(share[hollow].sum())
    lost = SPARE * min(every, max(RESERVE * abs(every - 2 * inner), LEAST_OF_ALL * every))
    return max(lost, LEAST_SHARE), float(sagitta.max(initial=0.0))


def _tolerance(sagitta: Array, areas_mm2: Array, slim: NDArray[np.bool_]) -> float:
    """The chord tolerance (mm) that the mesh was made with, as its slim facets show it."""
    tells = slim & (sagitta > BARELY_MM)
    if not tells.any():
        return float(sagitta.max(initial=0.0))
    order = np.argsort(sagitta[tells])
    grown = np.cumsum(areas_mm2[tells][order])
    return float(sagitta[tells][order][np.searchsorted(grown, MESHED_SHARE * grown[-1])])
