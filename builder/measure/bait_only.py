"""Bait positives alone: the baits' own meshes, without a mold."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from builder import mesh
from builder.measure.features import records
from builder.model import Finding, Geometry, Measurement, MoldSpec, Reading, Runner, Solid, Vouch


def read(spec: MoldSpec, solids: Sequence[tuple[Solid, Vouch]]) -> Reading:
    """Measure baits that are given as solids; each part is one bait, in its file's own frame."""
    bodies = [mesh.body(solid) for solid, _ in solids]
    baits = [records.bait(str(k + 1), body) for k, body in enumerate(bodies)]
    parts = zip(spec.parts, solids, strict=True)
    points = np.concatenate([solid.vertices for solid, _ in solids])
    loss = [records.faceting(solid) for _, solid in baits]
    measurement = Measurement(
        slug=spec.slug,
        kind=spec.kind,
        size_mm=mesh.vec(np.ptp(points, axis=0)),
        parts=tuple(records.part(part, solid, vouch) for part, (solid, vouch) in parts),
        baits=tuple(record for record, _ in baits),
        sprue=None,
        runner=Runner(volume_ml=0.0, modulus_mm=0.0),
        vents=(),
        bolts=(),
        pins=(),
        walls=(),
        projected_mm2=sum(record.projected_mm2 for record, _ in baits),
        parting_mm2=0.0,
        volume_share=max(share for share, _ in loss),
        length_error_mm=max(gap for _, gap in loss),
        pitch_mm=0.0,
        findings=(Finding(level="note", code="reading.bait_only"),),
    )
    solids_only = tuple(solid for solid, _ in solids)
    geometry = Geometry(parts=solids_only, baits=tuple(s for _, s in baits), runner=None, vents=(), holes=())
    return Reading(measurement=measurement, geometry=geometry)
