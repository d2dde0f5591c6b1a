"""Molds drawn at random over everything that makers do to a mold; every one with its exact volumes."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

import numpy as np
from manifold3d import Manifold

from tests.shapes import Mold, two_halves, union
from tests.shapes_draft import LAYOUTS, Draft
from tests.shapes_extras import blade, block, bolts_and_pins, core, engraving, outline, step, vents
from tests.shapes_files import (
    Pose,
    anyhow,
    closed,
    mirrored,
    on_the_bed,
    side_by_side,
    turned_on_the_bed,
    upright,
)

UNITS = {"mm": 1.0, "inch": 1 / 25.4, "cm": 0.1, "m": 0.001}


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A random mold as a maker would hand it over: the closed truth, the export pose, the unit."""

    seed: int
    mold: Mold
    pose: Pose
    units: str
    told: str
    """The unit that the maker writes down: that of the files, or mm because nothing was written."""
    features: tuple[str, ...]
    positive: Manifold | None = None
    """A bait given as a solid of its own beside the halves."""


def random_case(seed: int) -> Case:
    """The mold of a seed: the same on every machine."""
    draft = Draft(rng=np.random.default_rng(seed))
    layout = str(draft.rng.choice(["direct", "comb", "tree", "apart"], p=[0.2, 0.42, 0.3, 0.08]))
    draft.features.append(layout)
    LAYOUTS[layout](draft)
    for add in (block, vents, bolts_and_pins, core, blade, outline, step, engraving):
        add(draft)
    mold = _closed(draft)
    if draft.chance("warped", 0.04):
        mold = _warped(mold, draft.between(0.02, 0.08))
    positive = mold.baits[0] if draft.chance("bait positive", 0.08) else None
    pose_name, pose = _pose(draft, len(mold.parts))
    units = str(draft.rng.choice(list(UNITS), p=[0.6, 0.2, 0.1, 0.1]))
    told = "mm" if units != "mm" and draft.chance("unit not told", 0.25) else units
    features = (*draft.features, f"pose {pose_name}", f"units {units}")
    return Case(seed=seed, mold=mold, pose=pose, units=units, told=told, features=features, positive=positive)


def _closed(draft: Draft) -> Mold:
    """The mold as drawn, with cores and blades as further parts."""
    extras = [solid for _, _, solid in draft.extras]
    mold = two_halves(
        f"random-{draft.features[0]}",
        lower=draft.lower,
        upper=draft.upper,
        baits=draft.baits,
        feed=union(draft.feed) - union(extras),
        vents=[vent - union(extras) for vent in draft.vents],
        gates=draft.gates,
        sprue=draft.sprue,
        holes=draft.holes,
        pegs=draft.pegs,
    )
    cut = union(draft.cuts)
    halves = tuple((name, part - cut) for name, part in mold.parts)
    return dataclasses.replace(
        mold,
        parts=halves + tuple((name, solid) for name, _, solid in draft.extras),
        roles=("half", "half", *(role for _, role, _ in draft.extras)),
    )


def _warped(mold: Mold, bow: float) -> Mold:
    """Everything bent by the same amount along x, as a print that curls: the halves still meet."""
    x0, _, _, x1, _, _ = union(part for _, part in mold.parts).bounding_box()

    def bend(solid: Manifold) -> Manifold:
        def lift(points: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> object:
            points[:, 2] += bow * (2 * (points[:, 0] - x0) / (x1 - x0) - 1) ** 2
            return points

        return solid.refine_to_length(6.0).warp_batch(lift) if not solid.is_empty() else solid

    return dataclasses.replace(
        mold,
        parts=tuple((name, bend(part)) for name, part in mold.parts),
        baits=tuple(map(bend, mold.baits)),
        feed=bend(mold.feed),
        vents=tuple(map(bend, mold.vents)),
    )


def _pose(draft: Draft, parts: int) -> tuple[str, Pose]:
    """One of the ways to export."""
    poses: dict[str, Pose] = {
        "closed": closed,
        "on the bed": on_the_bed,
        "side by side": side_by_side,
        "anyhow": anyhow(int(draft.rng.integers(1 << 30))),
        "turned on the bed": turned_on_the_bed([draft.between(0, 360) for _ in range(parts)]),
        "upright": upright,
        "mirrored": mirrored,
    }
    name = str(draft.rng.choice(list(poses), p=[0.15, 0.2, 0.15, 0.2, 0.15, 0.1, 0.05]))
    return name, poses[name]
