"""What is asked where most of a bait hangs on its gate's side by a wide film alone, as behind a disk gate."""

from __future__ import annotations

import numpy as np

from builder import mesh
from builder.measure import shot, told_gates
from builder.measure.flow_tree import stretches
from builder.measure.flow_tree.split import Parted
from builder.measure.flow_tree.stretches import Film
from builder.measure.questions import FRAME, needs_hint, offered
from builder.mesh.cuts import Cut
from builder.model import MoldSpec

THIN_MM = (0.5, 1.0, 1.5)
"""A film is no thicker than one of these..."""
GATE_SHARE, WIDE_MM, WIDE_SHARE = 0.5, 6.0, 8.0
"""...than this share of the gate, so wide, and so many times as wide as it is thick: no bait's trunk is."""
MOST_SHARE = 0.5
"""What lies before the film is less than this share of the bait: else the film leads into a fin of it."""
WITHIN_MM = 0.5


def refuse(spec: MoldSpec, parted: Parted) -> None:
    """Raise where a film parts most of a bait from its gates, unless mold.yaml tells the gates."""
    if spec.hints.gates_at_mm:
        return
    for bait, gates in zip(parted.baits, parted.gates, strict=True):
        film = _film(bait, gates)
        if film is not None:
            raise needs_hint(spec, "hints.gates", _what(film), "", _remedy(parted))


def _film(bait: mesh.Body, gates: tuple[Cut, ...]) -> Film | None:
    """The film between gates and most of a bait."""
    solid = mesh.solid(bait, "bait")
    wide = [mesh.inscribed(gate.polygon) for gate in gates]
    least = min(thick for thick, _ in wide)
    pairs = zip(gates, wide, strict=True)
    starts = [gate.at + middle @ gate.turn[:2] + WITHIN_MM * gate.normal for gate, (_, middle) in pairs]
    for thin in THIN_MM:
        film = stretches.film_behind(solid, starts, min(thin, GATE_SHARE * least), MOST_SHARE)
        if film is not None and film.wide_mm > max(WIDE_MM, WIDE_SHARE * film.thick_mm):
            return film
    return None


def _what(film: Film) -> str:
    place = shot.place(np.array(film.at_mm))
    return (
        f"a wide film, {film.thick_mm:.2g} mm thick, lies at [{place}], between the gate and most of the "
        "bait, so it is unclear whether the bait begins before it or behind it"
    )


def _remedy(parted: Parted) -> str:
    """The two ways out: no plane cuts a film that runs all round."""
    faces = [(cut.at, cut.normal) for gates in parted.gates for cut in gates]
    held = ", ".join(f"{mesh.volume_ml(bait):.2f}" for bait in parted.baits)
    told = f"baits of {held} ml, sprue and runner {mesh.volume_ml(parted.feed):.2f} ml"
    return (
        "if the bait begins behind the film, as behind a disk gate, close the film in the CAD but for one "
        "narrow gate, in the files that are read here (what is printed may keep it); if it begins before the "
        f"film, write this; {FRAME}:{offered([(told_gates.line_of(faces), told)])}"
    )
