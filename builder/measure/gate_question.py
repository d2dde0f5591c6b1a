"""What is asked where it is unclear at which gates the plastic parts into runner and baits."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from builder import mesh
from builder.base.problems import Faults
from builder.measure import told_gates
from builder.measure.cavity.void import Mouth
from builder.measure.flow_tree import offers
from builder.measure.flow_tree.split import Parted
from builder.measure.questions import FRAME, needs_hint, offered
from builder.mesh.cuts import Cut
from builder.model import MoldSpec

NARROW_SHARE = 0.5
"""A mouth as wide as an open end is none where a place behind it has less than this share of its area."""
NARROWER_SHARE = 0.97
"""A wide mouth without a place behind it that is so much narrower is the bait's own end."""
SMALLEST_GATE_MM2 = 0.3
"""What is smaller is a crack or a vent, and no plastic goes through before it sets."""

ALIKE_MM, ALIKE_SHARE = 2.0, 0.01
"""Two partings whose gates lie so near, and whose baits differ by no more, are one to choose from."""


def asked(spec: MoldSpec, count: int, mouth: Mouth, ways: Sequence[Parted]) -> Faults:
    """The question for the gates, with every parting that was found and works, the likeliest first."""
    ways = _distinct(_likeliest_first(ways, mouth), mouth)
    lines = offered((told_gates.line_of(told_gates.of_parted(way)), _told(way, mouth, count)) for way in ways)
    what = f"it is unclear where runner and bait meet, for {count} {'bait' if count == 1 else 'baits'}"
    found = f"these narrow places would do; {FRAME}:{lines}" if ways else "no narrow place divides it so"
    return needs_hint(
        spec,
        "hints.gates",
        what,
        "",
        f"write hints.gates with one face for each gate (or correct cavities); {found}",
    )


def _likeliest_first(ways: Sequence[Parted], mouth: Mouth) -> list[Parted]:
    """The partings without cracks for gates; a wide mouth itself first, where nothing behind it is narrow."""
    sound = [way for way in ways if all(cut.polygon.area > SMALLEST_GATE_MM2 for cut in _cuts(way))]
    areas = [cut.polygon.area for way in sound if way.is_fed(mouth) for cut in _cuts(way)]
    least = min(areas, default=mouth.area_mm2) / mouth.area_mm2
    is_end = mouth.area_mm2 > offers.OPEN_END_MM2 and least > NARROW_SHARE
    is_end |= mouth.area_mm2 > offers.WIDE_GATE_MM2 and least > NARROWER_SHARE
    return sorted(sound, key=lambda way: way.is_fed(mouth)) if is_end else sound


def _distinct(ways: Sequence[Parted], mouth: Mouth) -> list[Parted]:
    """The partings without those that hardly differ from a likelier one."""
    kept: list[Parted] = []
    for way in ways:
        if not any(_alike(way, old, mouth) for old in kept):
            kept.append(way)
    return kept


def _alike(one: Parted, two: Parted, mouth: Mouth) -> bool:
    """True for partings with the same gates but for a little, and with baits as large."""
    cuts, others = _cuts(one), _cuts(two)
    if len(cuts) != len(others) or len(one.baits) != len(two.baits) or one.is_fed(mouth) != two.is_fed(mouth):
        return False
    near = all(np.linalg.norm(a.at - b.at) < ALIKE_MM for a, b in zip(cuts, others, strict=True))
    volumes = zip(one.baits, two.baits, strict=True)
    return near and all(abs(a.volume() / b.volume() - 1) < ALIKE_SHARE for a, b in volumes)


def _cuts(way: Parted) -> list[Cut]:
    """All gates of a parting."""
    return [cut for gates in way.gates for cut in gates]


def _told(way: Parted, mouth: Mouth, count: int) -> str:
    """How wide the gates of a parting are, and what the baits hold then."""
    wide = ", ".join(f"{cut.polygon.area:.1f} mm2" for cut in _cuts(way))
    feed = f"sprue and runner {mesh.volume_ml(way.feed):.2f} ml" if way.is_fed(mouth) else "no sprue"
    several = "" if len(way.baits) == count else f", with cavities: {len(way.baits)}"
    return f"{wide}: baits of {told_gates.held(way)} ml, {feed}{several}"
