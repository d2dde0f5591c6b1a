"""A flow path cut into the sections that matter: how thin, how much they feed, what fills before them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from builder.model import Station, Vec3
from builder.physics.conduction import flatness
from builder.physics.ducts import ellipse_perimeter, section_constant
from builder.physics.heat import Array

SIMILAR = 1.4
"""Sections up to this much thicker grow their skin along with the thin one (twice its set time)."""
_JUMP = 1.3
"""Stations that differ in thickness by more than this are different sections."""
_MAIN = 1.0
"""A side that holds more than this times what lies beyond on the path is where the plastic runs first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sections:
    """A flow path cut into sections that matter; arrays of shape (sections,)."""

    station: tuple[int, ...]
    """Index of each section's thinnest station in its path."""
    thickness_mm: Array
    width_mm: Array
    """Width of the ellipse with the same thickness and area."""
    flatness: Array
    """0 round, 1 a wide slit (`conduction.flatness`)."""
    needs_ml: Array
    """What must pass through the section."""
    share: Array
    """Its share of the injected flow while everything fills at once."""
    drag_m3: Array
    """Pressure lost in it for each unit of flow and viscosity, 1/m³."""
    past_gate: NDArray[np.bool_]
    tube_ml: Array
    """Its own volume, without what branches off."""
    side_ml: Array
    """What branches off in it and fills before the path goes on, for it is the wider way."""
    height_mm: Array
    """How high it lies, as the mold stands."""
    descent: Array
    """Fall of the path in it, as a share of its length: 1 straight down, negative uphill."""
    spread: Array
    """Its thickness over the length of the path: the slope that a pool on level ground makes for itself."""


def sections(
    stations: Sequence[Station],
    gate_index: int,
    bait_ml: float,
    baits_ml: float,
    *,
    at_most: int = 24,
    up: Vec3 | None = None,
) -> Sections:
    """The path as sections: neighbours joined, each as thin as its thinnest station.

    Before the gate the flow's share is that of what lies beyond; a bait takes `bait_ml` of `baits_ml`;
    inside it a side branch larger than half the section's own volume takes its share from there on, unless
    it is the wider way, which fills first. `up` points upward as the mold stands; without it the front
    fills every section as it comes.
    """
    at = np.array([s.s_mm for s in stations])
    length = np.maximum(np.gradient(at), 1e-6) if len(at) > 1 else np.ones(1)
    thickness = np.maximum([s.thickness_mm for s in stations], 1e-3)
    area = np.maximum([s.area_mm2 for s in stations], 1e-6)
    perimeter = np.maximum([s.perimeter_mm for s in stations], 1e-3)
    flat = flatness(area, perimeter, thickness)
    needs = np.array([s.beyond_ml for s in stations])
    tube = area * length * 1e-3
    share, side = _shares(needs, tube, gate_index, bait_ml, baits_ml)
    constant = section_constant(area, perimeter, thickness)
    drag = constant * length / (2 * area * (4 * area / perimeter) ** 2) * 1e9
    height = np.zeros(len(at)) if up is None else np.array([s.at_mm for s in stations]) @ np.array(up)
    slow = thickness * (1 + 0.6 * flat)
    groups = [
        *_groups(slow[:gate_index], at_most // 3),
        *(gate_index + g for g in _groups(slow[gate_index:], at_most)),
    ]
    chosen = [int(g[np.argmin(slow[g])]) for g in groups]
    ends = np.minimum([int(g[-1]) + 1 for g in groups], len(at) - 1)
    starts = np.array([int(g[0]) for g in groups])
    run = np.maximum(at[ends] - at[starts], 1e-6)
    reach = max(float(at[-1] - at[min(gate_index, len(at) - 1)]), 1e-6)
    return Sections(
        station=tuple(chosen),
        thickness_mm=thickness[chosen],
        width_mm=np.maximum(4 * area / (np.pi * thickness), thickness)[chosen],
        flatness=flat[chosen],
        needs_ml=np.maximum(needs[chosen], 1e-6),
        share=share[chosen],
        drag_m3=np.array([drag[g].sum() for g in groups]),
        past_gate=np.array(chosen) >= gate_index,
        tube_ml=np.array([tube[g].sum() for g in groups]),
        side_ml=np.array([side[g].sum() for g in groups]),
        height_mm=height[chosen],
        descent=np.full(len(groups), -1.0) if up is None else -(height[ends] - height[starts]) / run,
        spread=thickness[chosen] / reach,
    )


def _groups(slow: Array, parts: int) -> list[NDArray[np.intp]]:
    """Neighbours in about so many groups of equal number, cut as well where the thickness jumps."""
    groups: list[list[int]] = []
    most = max(1, -(-len(slow) // max(parts, 1)))
    for index, own in enumerate(slow):
        last = groups[-1] if groups else []
        ends = [own, *slow[last]] if last else []
        if not last or len(last) >= most or max(ends) > _JUMP * min(ends):
            groups.append([])
        groups[-1].append(index)
    return [np.array(group, dtype=np.intp) for group in groups]


def _shares(
    needs: Array, own: Array, gate_index: int, bait_ml: float, baits_ml: float
) -> tuple[Array, Array]:
    """Share of the injected flow at each station, and the volume aside that fills before the path goes on."""
    at_gate = min(1.0, bait_ml / baits_ml)
    share, first = np.empty_like(needs), np.zeros_like(needs)
    share[:gate_index] = np.clip(needs[:gate_index] / max(needs[0], 1e-9), at_gate, 1.0)
    current = at_gate
    for index in range(gate_index, len(needs)):
        share[index] = current
        if index + 1 < len(needs):
            side = needs[index] - needs[index + 1] - own[index]
            if side > max(0.5 * own[index], 0.03 * bait_ml):
                if side > _MAIN * needs[index + 1]:
                    first[index] = side
                else:
                    current *= needs[index + 1] / (needs[index + 1] + side)
    return np.maximum(share, 1e-6), first


def thin_run(sec: Sections, deciding: int, thickness_mm: float | None = None) -> NDArray[np.bool_]:
    """Which sections belong to the thin place around `deciding`: neighbours hardly thicker than it.

    With a thickness, those that are thinner than that.
    """
    limit = SIMILAR * sec.thickness_mm[deciding] if thickness_mm is None else thickness_mm
    thin = sec.thickness_mm <= limit
    first = deciding - int(np.argmin(np.append(thin[deciding::-1], False))) + 1
    last = deciding + int(np.argmin(np.append(thin[deciding:], False)))
    order = np.arange(len(thin))
    return (order >= first) & (order < last)


def thin_runs(sec: Sections) -> NDArray[np.bool_]:
    """`thin_run` of every section, one in each row: all at once, since each trial of each path asks."""
    thick = sec.thickness_mm[None, :] > SIMILAR * sec.thickness_mm[:, None]
    passed = np.cumsum(thick, axis=1)
    return np.asarray((passed == np.diagonal(passed)[:, None]) & ~thick)


def resized(sec: Sections, deciding: int, thickness_mm: float) -> Sections:
    """The path with the thin place around `deciding` made so thick, feeding the same.

    Thicker: everything next to it that would now be thinner grows too; thinner: all of the place by the
    same share. A section keeps its width until it is thicker than wide, then it grows both ways. Drag and
    flatness change as those of an ellipse.
    """
    before, width = sec.thickness_mm, sec.width_mm
    run = thin_run(sec, deciding)
    if thickness_mm >= before[deciding]:
        grown = thin_run(sec, deciding, thickness_mm)
        after = np.where(grown, np.maximum(before, thickness_mm), before)
    else:
        after = np.where(run, before * (thickness_mm / before[deciding]), before)
    wide = np.maximum(width, after)
    flat = sec.flatness + _ellipse_flatness(after, wide) - _ellipse_flatness(before, width)
    return replace(
        sec,
        thickness_mm=after,
        width_mm=wide,
        flatness=np.clip(flat, 0.0, 1.0),
        drag_m3=sec.drag_m3 * _ellipse_drag(after, wide) / _ellipse_drag(before, width),
        tube_ml=sec.tube_ml * (after * wide) / (before * width),
    )


def _ellipse_drag(height: Array, width: Array) -> Array:
    """Drag of a metre of elliptic duct, but for a constant: (h² + w²)/(h w)³ (Shah & London, ch. VIII)."""
    return np.asarray((height**2 + width**2) / (height * width) ** 3)


def _ellipse_flatness(height: Array, width: Array) -> Array:
    """Flatness of an ellipse."""
    return flatness(np.pi / 4 * height * width, ellipse_perimeter(height, width), height)
