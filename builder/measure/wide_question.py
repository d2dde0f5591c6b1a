"""What is asked where a bait opens to the outside as wide as a sprue, and no gate ends it there."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import islice, product

import numpy as np

from builder import mesh
from builder.measure import saying, shot, told_gates
from builder.measure.cavity.enclosed import WIDEST_VENT_MM
from builder.measure.cavity.void import Mouth
from builder.measure.flow_tree import offers, split
from builder.measure.flow_tree.necks import segments
from builder.measure.flow_tree.split import FAINTEST, Grown, Parted, Unsure
from builder.measure.questions import FRAME, needs_hint, offered
from builder.measure.told_gates import Face
from builder.model import MoldSpec

WIDE_SHARE, WIDE_MM = 0.3, 4.0
"""A second mouth of so much of the sprue's area, and so wide, is no vent."""
OFFERED = 4


def refuse(spec: MoldSpec, made: Grown, parted: Parted) -> None:
    """Raise where a bait opens as wide as a sprue: it is a riser or an overflow, or the bait itself.

    Also, unless gates are told, where more hangs on a wide mouth than a vent holds: it is the free air
    beside a part. A mouth that is told as a vent's is one.
    """
    wide = [mouth for mouth in _wide(parted, made.sprue) if not spec.hints.vents_at_mm]
    if not wide and (spec.hints.gates_at_mm or not (wide := _holding_much(parted))):
        return
    what = (
        f"the plastic opens {wide[0].diameter_mm:.1f} mm wide at [{shot.place(wide[0].at)}] too, "
        "so it is unclear where the bait ends there"
    )
    remedy = (
        "write hints.gates with one face at each place where the bait meets runner, riser or "
        "overflow: a point in mm and the normal into the bait (if a core stands in there, its file is "
        "missing under parts; if that is the air beside a part, let the halves end alike there)"
        f"{_lines(made, parted, wide)}"
    )
    raise needs_hint(spec, "hints.gates", what, "", remedy)


def _wide(parted: Parted, sprue: Mouth) -> list[Mouth]:
    """Mouths of vents of baits that are as wide as a sprue."""
    return [
        mouth
        for (_, _, mouth), of in zip(parted.vents, parted.vent_of, strict=True)
        if of is not None and mouth.area_mm2 > WIDE_SHARE * sprue.area_mm2 and mouth.diameter_mm > WIDE_MM
    ]


def _holding_much(parted: Parted) -> list[Mouth]:
    """Mouths wider than a vent's with more behind them than a vent holds."""
    least_mm3 = saying.LARGE_SHARE * sum(bait.volume() for bait in parted.baits)
    wide = [(body, mouth) for body, _, mouth in parted.vents if mouth.diameter_mm > WIDEST_VENT_MM]
    return [mouth for body, mouth in wide if body.volume() > least_mm3]


def _lines(made: Grown, parted: Parted, mouths: Sequence[Mouth]) -> str:
    """Gates that end the baits before their wide mouths too, as hints, the narrowest first; '' for none."""
    told = told_gates.of_parted(parted)
    again = told_gates.without(made, mouths)
    tried = ([*told, *ends] for ends in product(*(_ends(again, told, mouth) for mouth in mouths)))
    found = [(gates, way) for gates in islice(tried, OFFERED) if (way := _parted(again, parted, gates))]
    lines = offered((told_gates.line_of(gates), _told(way)) for gates, way in found)
    return f"; these narrow places would do; {FRAME}:{lines}" if found else f"; {FRAME}"


def _ends(made: Grown, told: Sequence[Face], mouth: Mouth) -> list[Face]:
    """The narrow places on the way from the gates to a mouth, looking back from it, the narrowest first."""
    tree = made.tree
    way = tree.back(int(np.argmin(np.linalg.norm(tree.at_mm - mouth.at, axis=1))))
    necks = [one for one in segments(tree, FAINTEST, made.mouth_mm).necks if one.node in way]
    found = [cut for neck in necks if (cut := made.refine(neck, False)) is not None]
    new = [cut for cut in found if all(np.linalg.norm(cut.at - at) > offers.SAME_MM for at, _ in told)]
    return [(cut.at, cut.normal) for cut in sorted(new, key=lambda cut: float(cut.polygon.area))]


def _parted(made: Grown, before: Parted, gates: Sequence[Face]) -> Parted | None:
    """The plastic as the gates part it; None where not into so many baits, or a bait opens wide even so."""
    try:
        found = split.part(made, len(before.baits), gates)
    except Unsure:
        return None
    return found if len(found.baits) == len(before.baits) else None


def _told(way: Parted) -> str:
    """What the baits and the rest hold."""
    return f"baits of {told_gates.held(way)} ml, sprue, runner and riser {mesh.volume_ml(way.feed):.2f} ml"
