"""An open-pour mold: one part whose cavities lie open on top."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from builder import mesh
from builder.measure.cavity import classify, void
from builder.measure.closing import assemble, matching
from builder.measure.features import records, walls
from builder.measure.questions import needs_hint
from builder.model import Finding, Geometry, Measurement, MoldSpec, Reading, Runner, Solid, Vouch

SMALL_SHARE = 0.2
"""Hollows with less than this share of the largest one's volume are no cavities."""


def read(spec: MoldSpec, solids: Sequence[tuple[Solid, Vouch]]) -> Reading:
    """Measure an open-pour mold: each hollow open at the top is a bait; Faults where it is not sure."""
    index = next((k for k, part in enumerate(spec.parts) if part.role == "open"), None)
    if index is None:
        raise needs_hint(
            spec, "parts", "no part has the role open", "one", "write role: open at the mold itself"
        )
    drawn, vouch = solids[index]
    tries = [
        face for least in matching.LEAST_AREAS for face in assemble.faces_of(spec, index, drawn, least)[:1]
    ]
    if not tries:
        what = f"{spec.parts[index].file} has no flat face that could be the pouring face"
        raise needs_hint(
            spec, f"parts[{index}].parting", what, "", "write a point on it and its outward normal"
        )
    solid, outer, pieces, hollows = _poured(spec, drawn, tries[0])
    for face in tries[1:]:
        if hollows:
            break
        other = _poured(spec, drawn, face)
        if other[3]:
            solid, outer, pieces, hollows = other
    cavities = _counted(spec, hollows)
    holes = [p for p in pieces if p not in cavities and classify.bolt_of(p) is not None]
    return _reading(spec, vouch, solid, outer=outer, cavities=cavities, holes=holes)


def _poured(
    spec: MoldSpec, drawn: Solid, face: matching.Face
) -> tuple[Solid, mesh.Body, list[void.Piece], list[void.Piece]]:
    """The mold with a face as its pouring face, its hull below, all hollows, and those that are poured."""
    solid = matching.laid(drawn, face.turn, face.move, face.rim)
    body = mesh.body(solid)
    outer = mesh.below(void.envelope([body]), -void.TRIM_MM)
    pieces = void.pieces(outer, body)
    return solid, outer, pieces, _cavities(spec, pieces)


def _cavities(spec: MoldSpec, pieces: Sequence[void.Piece]) -> list[void.Piece]:
    """The larger pieces that open at the top only."""
    open_up = [p for p in pieces if p.mouths and all(mouth.normal[2] > 0.999 for mouth in p.mouths)]
    ignored = [np.array(point) for point in spec.hints.ignore_at_mm]
    open_up = [p for p in open_up if not any(void.holds(p, point) for point in ignored)]
    return [p for p in open_up if p.volume_mm3 > SMALL_SHARE * open_up[0].volume_mm3]


def _counted(spec: MoldSpec, found: Sequence[void.Piece]) -> list[void.Piece]:
    """The cavities along the mold's long side; Faults unless there are as many as the spec says."""
    if len(found) != spec.cavities:
        places = "; ".join(
            f"{mesh.volume_ml(p.volume_mm3):.2f} ml at {mesh.vec(((p.low + p.high) / 2).round(2))}"
            for p in found
        )
        what = f"the pouring face holds {len(found)} hollows, not {spec.cavities} ({places or 'none'})"
        key = "cavities" if len(found) < spec.cavities else "hints.ignore_at_mm"
        raise needs_hint(
            spec, key, what, "", "correct cavities, or list points inside hollows that are not poured"
        )
    return sorted(found, key=lambda p: tuple(((p.low + p.high) / 2).round(3)))


def _reading(
    spec: MoldSpec,
    vouch: Vouch,
    solid: Solid,
    *,
    outer: mesh.Body,
    cavities: Sequence[void.Piece],
    holes: Sequence[void.Piece],
) -> Reading:
    """All records of a poured mold."""
    baits = [records.bait(str(k + 1), piece.body) for k, piece in enumerate(cavities)]
    bolts = [bolt for piece in holes if (bolt := classify.bolt_of(piece)) is not None]
    drilled = tuple(mesh.solid(piece.body, f"bolt {k + 1}") for k, piece in enumerate(holes))
    low, high = mesh.box(outer)
    loss = [records.faceting(bait) for _, bait in baits]
    measurement = Measurement(
        slug=spec.slug,
        kind=spec.kind,
        size_mm=mesh.vec(high - low + 2 * void.TRIM_MM),
        parts=(records.part(next(p for p in spec.parts if p.role == "open"), solid, vouch),),
        baits=tuple(record for record, _ in baits),
        sprue=None,
        runner=Runner(volume_ml=0.0, modulus_mm=0.0),
        vents=(),
        bolts=tuple(bolts),
        pins=(),
        walls=walls.walls(
            [mesh.solid(outer, "hull")],
            [(record.name, bait) for record, bait in baits],
            drilled,
            poured=True,
        ),
        projected_mm2=sum(record.projected_mm2 for record, _ in baits),
        parting_mm2=0.0,
        volume_share=max(share for share, _ in loss),
        length_error_mm=max(gap for _, gap in loss),
        pitch_mm=0.0,
        findings=(Finding(level="note", code="reading.poured"),),
    )
    geometry = Geometry(
        parts=(solid,), baits=tuple(bait for _, bait in baits), runner=None, vents=(), holes=drilled
    )
    return Reading(measurement=measurement, geometry=geometry)
