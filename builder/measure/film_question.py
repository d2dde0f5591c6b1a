"""What is asked where a film alone joins a bait to its gate, as behind a disk gate, or joins two baits."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from builder import mesh
from builder.measure import shot, told_gates
from builder.measure.flow_tree import stretches
from builder.measure.flow_tree.split import Parted
from builder.measure.flow_tree.stretches import Film, Stretches, Throat
from builder.measure.questions import FRAME, needs_hint, offered
from builder.mesh.cuts import Cut
from builder.model import MoldSpec

Array = NDArray[np.float64]

THIN_MM = (0.5, 1.0, 1.5)
"""A film is no thicker than one of these..."""
GATE_SHARE, WIDE_MM, WIDE_SHARE = 0.5, 6.0, 8.0
"""...than this share of the gate, so wide, and so many times as wide as it is thick: no bait's trunk is."""
MOST_SHARE = 0.5
"""What lies before the film is less than this share of the bait: else the film leads into a fin of it."""
HALF_SHARE = 0.3
"""Each of two baits that a film joins holds more than this share of both."""
WITHIN_MM = 0.5
RAYS_MM = 0.4
"""Rays so far apart show a film that is WIDE_MM wide."""


def refuse(spec: MoldSpec, parted: Parted) -> None:
    """Raise where a film parts most of a bait from its gates, or one half of it from the other.

    Not where mold.yaml tells the gates.
    """
    if spec.hints.gates_at_mm:
        return
    for bait, gates in zip(parted.baits, parted.gates, strict=True):
        solid, starts = mesh.solid(bait, "bait"), [_within(gate) for gate in gates]
        rays = [stretches.along(solid, axis, RAYS_MM) for axis in range(3)]
        film = _film(rays, gates, starts)
        if film is not None:
            raise needs_hint(spec, "hints.gates", _what(film), "", _remedy(parted))
        web = stretches.film_between(rays, starts, THIN_MM[0], HALF_SHARE) if len(gates) > 1 else None
        if web is not None:
            raise needs_hint(spec, "hints.gates", _joined(web), "", _one_or_two(parted))


def _within(gate: Cut) -> Array:
    """A place in the bait just behind the thickest part of its gate."""
    middle = mesh.inscribed(gate.polygon)[1]
    return np.asarray(gate.at + middle @ gate.turn[:2] + WITHIN_MM * gate.normal)


def _film(rays: Sequence[Stretches], gates: Sequence[Cut], starts: Sequence[Array]) -> Film | None:
    """The film between gates and most of a bait."""
    least = min(mesh.inscribed(gate.polygon)[0] for gate in gates)
    for thin in THIN_MM:
        film = stretches.film_behind(rays, starts, min(thin, GATE_SHARE * least), MOST_SHARE)
        if film is not None and film.wide_mm > max(WIDE_MM, WIDE_SHARE * film.thick_mm):
            return film
    return None


def _joined(web: Throat) -> str:
    return (
        f"only a film of up to {THIN_MM[0]:g} mm at [{shot.place(web.at)}] joins what two gates feed, so it "
        "is unclear whether that is one bait or two"
    )


def _one_or_two(parted: Parted) -> str:
    """The two ways out: a face told in the web would be a gate of one of both."""
    return (
        "if they are two, leave the film out of the files read here (what is printed may keep it) and "
        f"write cavities: {len(parted.baits) + 1}; if they are one, write this; {FRAME}:{_line(parted)}"
    )


def _what(film: Film) -> str:
    place = shot.place(np.array(film.at_mm))
    return (
        f"a wide film, {film.thick_mm:.2g} mm thick, lies at [{place}], between the gate and most of the "
        "bait, so it is unclear whether the bait begins before it or behind it"
    )


def _remedy(parted: Parted) -> str:
    """The two ways out: no plane cuts a film that runs all round."""
    return (
        "if the bait begins behind the film, as behind a disk gate, close the film in the CAD but for one "
        "narrow gate, in the files that are read here (what is printed may keep it); if it begins before the "
        f"film, write this; {FRAME}:{_line(parted)}"
    )


def _line(parted: Parted) -> str:
    """The gates as they were found, as a hint."""
    told = f"baits of {told_gates.held(parted)} ml, sprue and runner {mesh.volume_ml(parted.feed):.2f} ml"
    return offered([(told_gates.line_of(told_gates.of_parted(parted)), told)])
