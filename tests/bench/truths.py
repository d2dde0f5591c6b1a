"""What the drawing of a trial mold says, for the ranges that a reading states: see `bench_ranges`."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager

import numpy as np
from manifold3d import Manifold

from tests import shapes
from tests.cad_molds import by_hand
from tests.cad_molds.primitives import reach_mm, spans_mm
from tests.cad_molds.records import Case, Truths
from tests.shapes import Array
from tests.shapes_random import Case as Drawn

FINER = 3
GATE_MM, GATE_STEP_MM, AROUND_MM = (-1.5, 2.6), 0.04, 6.0
"""Where along the axis of a random mold's gate its narrowest place is looked for, and how far round it."""
NARROW_SHARE = 1.03
"""A place this much wider than the narrowest may be called the gate as well."""
LEVEL = 0.9

Span = tuple[float, float]
Known = dict[str, list[Span]]
"""True values by quantity, each from lowest to highest where the drawing leaves it open."""


@contextmanager
def finer(times: int = FINER) -> Iterator[None]:
    """Circles have so many times more sides meanwhile."""
    sides, chord = shapes.SIDES, by_hand.FINE
    shapes.SIDES, by_hand.FINE = sides * times, chord / times**2
    try:
        yield
    finally:
        shapes.SIDES, by_hand.FINE = sides, chord


def _exact(*values: float) -> list[Span]:
    return [(value, value) for value in values]


def _turned(normal: Sequence[float]) -> Array:
    """The turn (3, 3) that lays a direction of the parting plane, or z, along z."""
    z = np.asarray(normal, float) / np.linalg.norm(normal)
    x = np.cross(z, (0.0, 0.0, 1.0) if abs(z[2]) < LEVEL else (1.0, 0.0, 0.0))
    x /= np.linalg.norm(x)
    return np.array([x, np.cross(z, x), z])


def _gated(bait: Manifold, feed: Manifold, gate: shapes.Opening) -> tuple[Manifold, float, float]:
    """The bait beyond the narrowest place at its gate; what lies along it that is as narrow, mm and mL."""
    turn = _turned(gate.normal)
    there = np.column_stack([turn, -turn @ np.asarray(gate.at)])
    back = np.column_stack([turn.T, np.asarray(gate.at)])
    places = np.arange(*GATE_MM, GATE_STEP_MM)

    def slab(low: float, high: float) -> Manifold:
        return shapes.box((-AROUND_MM, -AROUND_MM, low), (AROUND_MM, AROUND_MM, high)).transform(back)

    near = slab(GATE_MM[0] - 1.0, GATE_MM[1] + 4.0)
    inside, fed = bait ^ near, feed ^ near
    upright = (inside + fed).transform(there)
    areas = np.array([upright.slice(float(place)).area() for place in places])
    narrow = np.flatnonzero(areas <= NARROW_SHARE * areas.min())
    first, last = float(places[narrow[0]]), float(places[narrow[-1]])
    beyond = (bait - slab(last - 12.0, last)) + (fed ^ slab(last, last + 3.0))
    return beyond, last - first, ((inside + fed) ^ slab(first, last)).volume() / 1000.0


def of_random(case: Drawn) -> Known:
    """The truths of a random mold, drawn finer: baits begin where the plastic is narrowest at their gates."""
    mold = case.mold
    baits, along, slack = list(mold.baits), [0.0] * len(mold.baits), [0.0] * len(mold.baits)
    for k, gate in enumerate(mold.gates):
        bait = min(k, len(baits) - 1)
        baits[bait], mm, ml = _gated(baits[bait], mold.feed, gate)
        along[bait], slack[bait] = along[bait] + mm, slack[bait] + ml
    volumes = [bait.volume() / 1000.0 for bait in baits]
    order = sorted(range(len(baits)), key=lambda k: volumes[k])
    spans = [spans_mm(baits[k]) for k in order]
    fed = sum(mold.bait_ml) + mold.feed_ml - sum(volumes)
    known: Known = {
        "bait volume": [(volumes[k], volumes[k] + slack[k]) for k in order],
        "bait height": _exact(*(wide for wide, _ in spans)),
        "bait width": _exact(*(high for _, high in spans)),
        "sprue and runner": [(fed - sum(slack), fed)],
        "sprue, runner and vents": [(fed - sum(slack) + mold.vent_ml, fed + mold.vent_ml)],
    }
    if "vent to blind" not in case.features:  # a groove that ends blind is no length of the bait
        known["bait length"] = [(reach_mm(baits[k]), reach_mm(baits[k]) + along[k]) for k in order]
    if mold.holes:
        known["bolt hole"] = _exact(*sorted(hole.diameter for hole in mold.holes))
    known["pin"] = _exact(*(peg.diameter for peg in mold.pegs))
    known["play of a pin"] = _exact(*(peg.clearance for peg in mold.pegs))
    if "warped" not in case.features and "vent to bolt" not in case.features:
        known["vent depth"] = _exact(*(vent.bounding_box()[5] for vent in mold.vents))
    return known


def of_drawn(case: Case, truths: Truths, one_kind: bool = True) -> Known:
    """The truths of a mold drawn by habits; a land of equal width before a gate belongs to either side."""
    order = sorted(range(len(truths.baits_ml)), key=lambda k: truths.baits_ml[k])
    slack = truths.slack_ml
    known: Known = {
        "bait volume": [(truths.baits_ml[k] - slack, truths.baits_ml[k] + slack) for k in order],
        "bait height": _exact(*(truths.spans_mm[k][0] for k in order)),
        "bait width": _exact(*(truths.spans_mm[k][1] for k in order)),
    }
    if not slack:
        known["bait length"] = _exact(*(truths.lengths_mm[k] for k in order))
    if not truths.overflow_ml and not truths.seat_ml and case.kind == "injection":
        feed = truths.feed_ml
        known["sprue and runner"] = [(feed - slack, feed + slack)]
        if truths.vents_ml:
            feed += truths.vents_ml
            known["sprue, runner and vents"] = [(feed - slack, feed + slack)]
    if truths.bolts_mm:
        known["bolt hole"] = _exact(*sorted(truths.bolts_mm))
    if truths.vent_mm:
        known["vent depth"] = _exact(*[truths.vent_mm] * truths.vents[0])
    if one_kind and truths.eye_mm:
        known["eye socket"] = _exact(*[truths.eye_mm[0]] * len(order))
    if one_kind and truths.trunk_mm:
        known["thinnest trunk"] = [truths.trunk_mm] * len(order)
    if len(case.files) == len(case.halves) == 2:
        low_high = np.array((case.halves[0] + case.halves[1]).bounding_box()).reshape(2, 3)
        known["mold size"] = _exact(*sorted(np.ptp(low_high, axis=0).tolist()))
    return known
