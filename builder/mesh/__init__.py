"""STL bytes to vouched solids, and everything that is done with solids."""

from __future__ import annotations

import hashlib
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from builder.base import limits
from builder.mesh.circles import holds, inscribed
from builder.mesh.normals import Facets, areas, crosses, facets, unit_normals, units
from builder.mesh.plan_box import PlanBox, plan_box
from builder.mesh.rotations import frame, matrix, turns_deg, vec
from builder.mesh.sections import Section, rings, section
from builder.mesh.solids import (
    MM3_PER_ML,
    Body,
    above,
    ball,
    below,
    body,
    box,
    hull,
    lighter,
    pieces,
    placed,
    prism,
    projected_mm2,
    shadow,
    simplified,
    solid,
    union,
    volume_ml,
    with_origin,
)
from builder.mesh.stl import fault, refuse_many_facets, triangles
from builder.mesh.threemf import corners_mm
from builder.mesh.unfold import unfolded
from builder.mesh.unpinch import without_twins
from builder.mesh.weld import Welded, body_labels, signed_volumes, weld
from builder.model import Finding, LengthUnit, Solid, Vouch

Points = NDArray[np.float64]
Faces = NDArray[np.int32]

__all__ = [
    "MM",
    "MM3_PER_ML",
    "Body",
    "Facets",
    "PlanBox",
    "Section",
    "above",
    "area_mm2",
    "areas",
    "ball",
    "below",
    "body",
    "box",
    "crosses",
    "drawn",
    "facets",
    "frame",
    "holds",
    "hull",
    "inscribed",
    "joined",
    "lighter",
    "matrix",
    "pieces",
    "placed",
    "plan_box",
    "prism",
    "projected_mm2",
    "read",
    "refuse_many_facets",
    "rings",
    "section",
    "shadow",
    "shell_volumes_mm3",
    "simplified",
    "solid",
    "triangles",
    "turns_deg",
    "union",
    "unit_normals",
    "units",
    "vec",
    "volume_ml",
    "volume_mm3",
    "with_origin",
]

FLAT_SHARE = 1e-7
"""A mesh that encloses less of the cube over its largest size encloses nothing."""
TANGLED_SHARE = 1e-5
"""What is computed with a mesh that touches itself may be so far from what it holds."""
FOLDED_SHARE = 1e-9
"""Where what is computed with a mesh is so far from what it holds, triangles of it may be folded."""
MM: dict[LengthUnit, float] = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "inch": 25.4}
"""Millimetres in each unit an STL may be drawn in (the inch is exact since 1959)."""


def read(data: bytes, file: str, units: LengthUnit) -> tuple[Solid, Vouch]:
    """Read an STL or 3MF file into a closed, outward-oriented Solid in mm, with its repairs; raises Faults.

    `file` is what to call it in messages; `units` is what the spec declares: an STL holds no unit, a 3MF
    its own, which counts.
    """
    corners, mm = drawn(data, file, units)
    welded = weld(corners, file)
    vertices, faces = welded.vertices * mm, welded.faces
    count, labels = body_labels(faces, len(vertices))
    refuse_many_bodies(faces, labels, file)
    overlapping = 0
    shares = signed_volumes(vertices, faces)
    volumes = np.asarray(np.bincount(labels[faces[:, 0]], shares, count), np.float64)
    _refuse_inside_out(volumes, float(np.ptp(vertices, axis=0).max()), file)
    made = Solid(name=file, vertices=vertices, faces=faces)
    if count > 1:
        made, overlapping = _united(made, labels, volumes)
    if _off_share(made) > FOLDED_SHARE:
        made = _renewed(made, unfolded)
    if welded.touching:
        made = _untangled(made)
    return made, _vouch(made, welded, data, triangles=len(corners), overlapping=overlapping)


def drawn(data: bytes, file: str, units: LengthUnit) -> tuple[NDArray[np.float32], float]:
    """Corners (n, 3, 3) of an STL or 3MF file as drawn, and the millimetres in the unit of their numbers."""
    if file.lower().endswith(".3mf"):
        return corners_mm(data, file).astype(np.float32), 1.0
    return triangles(data, file), MM[units]


def refuse_many_bodies(faces: NDArray[np.int32], labels: NDArray[np.int32], file: str) -> None:
    """Raise for more separate shells than a part can have."""
    count = len(np.unique(labels[faces[:, 0]]))
    if count > limits.BODIES:
        what = f"the mesh falls into {count} separate bodies"
        raise fault(file, what, f"at most {limits.BODIES}", "export the part as one body")


def volume_mm3(solid: Solid) -> float:
    """Enclosed volume, mm3."""
    return float(signed_volumes(solid.vertices, solid.faces).sum())


def joined(touching: Solid) -> Solid:
    """The solid with its bodies that touch or overlap made one, hollows kept."""
    count, labels = body_labels(touching.faces, len(touching.vertices))
    if count == 1:
        return touching
    outer, inner = _shells(touching, labels, shell_volumes_mm3(touching))
    return solid(union(outer) - union(inner), touching.name)


def shell_volumes_mm3(solid: Solid) -> NDArray[np.float64]:
    """Signed volume (n,) of each separate shell; a hollow's is negative."""
    count, labels = body_labels(solid.faces, len(solid.vertices))
    shares = signed_volumes(solid.vertices, solid.faces)
    return np.asarray(np.bincount(labels[solid.faces[:, 0]], weights=shares, minlength=count), np.float64)


def area_mm2(solid: Solid) -> float:
    """Surface, mm2."""
    return float(areas(solid.vertices[solid.faces]).sum())


def _refuse_inside_out(volumes: NDArray[np.float64], size_mm: float, file: str) -> None:
    """Raise Faults when the signed volumes (mm3) of the shells add up to zero or less."""
    if volumes.sum() < 0:
        what = f"the mesh is inside out (its volume is {volume_ml(float(volumes.sum())):.3f} ml)"
        raise fault(
            file, what, "facets facing outward", "flip all normals in the mesh editor and export it again"
        )
    if volumes.sum() < FLAT_SHARE * size_mm**3:
        what = "the mesh encloses no volume"
        raise fault(file, what, "a solid part", "thicken it or cap it in the CAD and export it again")


def _off_share(made: Solid) -> float:
    """How far what is computed with a solid is from what it holds."""
    return abs(float(body(made).volume()) / volume_mm3(made) - 1)


def _renewed(made: Solid, how: Callable[[Points, Faces], tuple[Points, Faces]]) -> Solid:
    """The solid with other corners and faces of the same surface."""
    vertices, faces = how(made.vertices, made.faces)
    return Solid(name=made.name, vertices=vertices, faces=faces)


def _untangled(made: Solid) -> Solid:
    """A solid that touches itself, so that what is computed with it is what it holds; or Faults."""
    if _off_share(made) > TANGLED_SHARE:
        made = _renewed(made, without_twins)
    if _off_share(made) > TANGLED_SHARE:
        holds, computed = (volume_ml(one) for one in (volume_mm3(made), body(made).volume()))
        what = f"the mesh touches itself: it holds {holds:.3f} ml, but {computed:.3f} ml are computed with"
        remedy = "join the bodies in the CAD, or let a mesh editor repair it, and export it again"
        raise fault(made.name, what, "a mesh whose bodies do not touch", remedy)
    return made


def _united(made: Solid, labels: NDArray[np.int32], volumes: NDArray[np.float64]) -> tuple[Solid, int]:
    """Shells that overlap made one (hollows kept); how many shells did."""
    outer, inner = _shells(made, labels, volumes)
    whole = union(outer)
    gone = sum(part.volume() for part in outer) - whole.volume()
    if gone <= 1e-7 * whole.volume():
        return made, 0
    return solid(whole - union(inner), made.name), max(len(outer) - len(whole.decompose()) + 1, 2)


def _shells(
    made: Solid, labels: NDArray[np.int32], volumes: NDArray[np.float64]
) -> tuple[list[Body], list[Body]]:
    """The bodies that a solid's shells enclose, and the hollows."""
    shells = [made.faces[labels[made.faces[:, 0]] == k] for k in range(len(volumes))]
    outer = [_shell(made, faces) for faces, volume in zip(shells, volumes, strict=True) if volume > 0]
    inner = [
        _shell(made, faces[:, ::-1]) for faces, volume in zip(shells, volumes, strict=True) if volume < 0
    ]
    return outer, inner


def _shell(made: Solid, faces: NDArray[np.int32]) -> Body:
    """One shell of a solid as a Body."""
    used, index = np.unique(faces, return_inverse=True)
    return body(
        Solid(name=made.name, vertices=made.vertices[used], faces=index.reshape(-1, 3).astype(np.int32))
    )


def _vouch(made: Solid, welded: Welded, data: bytes, *, triangles: int, overlapping: int) -> Vouch:
    """The record of the loaded file: sizes, triangles, repairs."""
    file = made.name
    size = np.ptp(made.vertices, axis=0)
    notes = []
    if welded.dropped:
        notes.append(
            Finding(
                level="note", code="reading.dropped", values={"file": file, "facets": str(welded.dropped)}
            )
        )
    if overlapping:
        notes.append(
            Finding(level="note", code="reading.overlap", values={"file": file, "bodies": str(overlapping)})
        )
    return Vouch(
        file=file,
        sha256=hashlib.sha256(data).hexdigest(),
        size_bytes=len(data),
        triangles=triangles,
        volume_ml=volume_ml(volume_mm3(made)),
        size_mm=(float(size[0]), float(size[1]), float(size[2])),
        dropped=welded.dropped,
        overlapping_bodies=overlapping,
        self_touching=welded.touching > 0,
        notes=tuple(notes),
    )
