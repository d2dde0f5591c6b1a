"""Solids and cuts as records of the model."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray

from builder import mesh
from builder.measure.cavity.void import Mouth
from builder.measure.features import outlets, printing, sockets
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
FILMS = 6
"""At most so many films are taken off."""
FILM_MM2 = 0.02
FILM_STEP_MM, FILM_END_MM = 0.5, 0.02
"""A section this far from an end and smaller than FILM_MM2 is a film: a drawn tip is thicker there."""
GROOVE_MM, GROOVE_LONG_MM = 0.35, 3.0
"""An end that is so low over such a length is a vent that ends before the outside, no part of the bait."""
LEAST_SHARE = 0.001
"""Where a gate is cut is known no better, however fine the mesh: measured on drawn gates."""


def bait(
    name: str,
    body: mesh.Body,
    gates: tuple[Cut, ...] = (),
    paths: tuple[FlowPath, ...] = (),
    narrow: tuple[Station | None, str] = (None, ""),
    *,
    vents: Sequence[tuple[mesh.Body, Cut]] = (),
) -> tuple[Bait, Solid]:
    """A bait's record and its solid; `vents` are those that drain it."""
    solid = mesh.solid(body, name)
    whole = _without_films(outlets.without_vents(body, vents))
    low, high = mesh.box(whole)
    plan = mesh.plan_box(solid, mesh.solid(whole, name).vertices, [mesh.vec(cut.normal) for cut in gates])
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


def _without_films(body: mesh.Body) -> mesh.Body:
    """The bait without films that hang on it where parts meet on a slope or round a core, for its sizes.

    They are thinner than the files' own rounding, hold no plastic, and reach to the mold's outside.
    """
    for k in range(FILMS):
        step = FILM_END_MM if k else FILM_STEP_MM  # what a first cut across a slant leaves is short
        x, y = _longest(mesh.solid(body, "bait"))[1]
        ways = ((x, y, _is_groove), (-x, -y, _is_groove), (-y, x, None), (y, -x, None))
        found = [_film_from(body, np.array([u, v, 0.0]), step, groove) for u, v, groove in ways]
        cuts = [cut for cut in found if cut is not None]
        if not cuts:
            return body
        for normal, offset in cuts:
            body = body.trim_by_plane(mesh.vec(normal), offset)
    return body


def _film_from(
    body: mesh.Body, way: Array, first_mm: float, is_groove: Callable[[mesh.Section], bool] | None = None
) -> tuple[Array, float] | None:
    """The plane (normal, offset) that takes off the film or groove at the end of a way; None for none."""
    solid = mesh.solid(body, "bait")
    along = solid.vertices @ way
    end, long = float(along.max()), float(np.ptp(along))

    def reach(is_film: Callable[[mesh.Section], bool]) -> float:
        def at(depth: float) -> bool:
            return is_film(mesh.section(solid, mesh.vec((end - depth) * way), mesh.vec(way)))

        depth, step = first_mm, first_mm
        while depth < long and at(depth):
            depth += step
        if depth == first_mm:
            return 0.0
        while step > FILM_END_MM:
            step /= 2
            depth -= 0.0 if at(depth - step) else step
        return depth - step

    depth = reach(lambda cut: cut.polygons.area < FILM_MM2)
    groove = reach(is_groove) if is_groove else 0.0
    depth = groove if groove > GROOVE_LONG_MM else depth
    return None if depth == 0.0 or depth >= long - FILM_STEP_MM else (-way, depth - end)


def _is_groove(cut: mesh.Section) -> bool:
    """True for a section that is nowhere higher than a vent."""
    heights = cut.lift(shapely.get_coordinates(cut.polygons))[:, 2]
    return not len(heights) or float(np.ptp(heights)) < GROOVE_MM


def _longest(solid: Solid) -> tuple[float, Array]:
    """Longest extent (mm) in the parting plane, and its direction (2,)."""
    rim = np.array(shapely.MultiPoint(solid.vertices[:, :2]).convex_hull.exterior.coords)
    apart = rim[:, None] - rim[None]
    i, j = np.unravel_index(int(np.argmax((apart**2).sum(axis=2))), apart.shape[:2])
    length = float(np.linalg.norm(rim[i] - rim[j]))
    return length, (rim[j] - rim[i]) / length


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

    A facet of width w that bends from its neighbour by the angle t lies up to w t / 8 under the arc
    (sagitta of a chord); on average two thirds of that. A mesher keeps one tolerance over a part, so no
    bend counts for more than the tolerance that its slim facets show. Facets of hollow faces, as inside a
    tube, lose of the mold what those of round faces lose of the bait: what is left of both counts, with a
    reserve, and never less than a share of all.
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
    sagitta = np.where(angle < SMOOTH_RAD, width * angle / 8, 0.0)
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
