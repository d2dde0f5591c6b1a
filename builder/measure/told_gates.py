"""The plastic parted at the gates of mold.yaml: what they cut off without a bait is feed, and no vent."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from builder import mesh
from builder.measure import shot
from builder.measure.cavity.enclosed import WIDEST_VENT_MM
from builder.measure.cavity.void import Mouth, Piece
from builder.measure.flow_tree import seeds, split
from builder.measure.flow_tree.split import Grown, Parted
from builder.measure.questions import FRAME, needs_hint, offered
from builder.mesh import cuts
from builder.model import MoldSpec

Array = NDArray[np.float64]

Face = tuple[Array, Array]
"""A point of a gate and its normal into the bait."""


def faces(spec: MoldSpec) -> list[Face]:
    """The gates of mold.yaml."""
    return [(np.array(at), np.array(normal)) for at, normal in spec.hints.gates_at_mm]


def refuse_nowhere(spec: MoldSpec, pieces: Sequence[Piece]) -> None:
    """Raise Faults for a gate of mold.yaml that lies in no plastic."""
    plastic = [mesh.solid(piece.body, "plastic") for piece in pieces]
    for k, (at, normal) in enumerate(faces(spec)):
        if all(cuts.across(one, at, normal) is None for one in plastic):
            what = f"there is no plastic at [{shot.place(at)}]"
            raise needs_hint(spec, f"hints.gates[{k}]", what, "a place where runner and bait meet", FRAME)


def opened(spec: MoldSpec, made: Grown, gates: Sequence[Face]) -> Grown:
    """The plastic without the wide mouths of what gates cut off, of risers and second sprues.

    Raises Faults for a gate whose normal points out of the bait.
    """
    if not gates:
        return made
    plastic = mesh.solid(made.piece.body, "plastic")
    found = [(k, cuts.before_bulge(plastic, at, normal)[0]) for k, (at, normal) in enumerate(gates)]
    here = [(k, cut) for k, cut in found if cut is not None]
    parts = cuts.apart(made.piece.body, [cut for _, cut in here])
    _refuse_backward(spec, gates, [here[k][0] for k in seeds.part_at(parts, made.sprue).after])
    wide = [one for one in made.piece.mouths if one is not made.sprue and one.diameter_mm > WIDEST_VENT_MM]
    return without(made, [mouth for mouth in wide if not seeds.part_at(parts, mouth).after])


def without(made: Grown, mouths: Sequence[Mouth]) -> Grown:
    """The plastic with no vent behind some mouths."""
    if not mouths:
        return made
    kept = tuple(mouth for mouth in made.piece.mouths if mouth not in mouths)
    return split.grown(replace(made.piece, mouths=kept), made.sprue, made.pitch_mm)


def _refuse_backward(spec: MoldSpec, gates: Sequence[Face], backward: Sequence[int]) -> None:
    """Raise for gates whose normals point to the sprue."""
    if backward:
        turned = [(at, -normal if k in backward else normal) for k, (at, normal) in enumerate(gates)]
        what = "the normal points to the sprue, not into the bait"
        remedy = f"turn it; {FRAME}:{offered([(line_of(turned), 'turned')])}"
        raise needs_hint(spec, f"hints.gates[{backward[0]}].normal", what, "", remedy)


def of_parted(parted: Parted) -> list[Face]:
    """The gates at which plastic was parted."""
    return [(cut.at, cut.normal) for gates in parted.gates for cut in gates]


def held(parted: Parted) -> str:
    """What the baits hold, mL."""
    return ", ".join(f"{mesh.volume_ml(bait):.2f}" for bait in parted.baits)


def line_of(gates: Sequence[Face]) -> str:
    """Gates as mold.yaml has them."""
    found = (f"{{at_mm: [{shot.place(at)}], normal: [{shot.place(normal, 3)}]}}" for at, normal in gates)
    return f"gates: [{', '.join(found)}]"
