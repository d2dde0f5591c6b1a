"""Compares two versions of a mold: added and removed volume, and a picture of both."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from builder import mesh
from builder.base import figures
from builder.model import Figure, Finding, MoldSpec, Picture, Reading, Solid
from builder.pictures.picture_set import drawn
from builder.pictures.render import palette
from builder.pictures.render.scene import inlay
from builder.pictures.views import plain
from builder.pictures.views.callouts import Key, Notes
from builder.pictures.views.shapes import mold_shapes

SLIVER_MM = 0.02
"""Pieces of a difference that are thinner on average are facets drawn otherwise, not a change."""
SMALLEST_MM3 = 0.2
SWELL_MM = 0.05
"""What was added lies under the skin; so much larger, it touches the skin from outside and tints it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Difference:
    """Boolean difference of two solids, without slivers."""

    added: tuple[Solid, ...]
    removed: tuple[Solid, ...]

    def volume_ml(self) -> tuple[float, float]:
        """Added and removed, mL."""
        mm3 = (sum(map(mesh.volume_mm3, some), 0.0) for some in (self.added, self.removed))
        added, removed = map(mesh.volume_ml, mm3)
        return added, removed


def draw_changes(
    spec: MoldSpec, before: Reading, after: Reading, version_before: str, folder: Path
) -> tuple[Picture, ...]:
    """The new mold laid open and its bait, blue where there is more than before, orange where there is less.

    A picture that would show no change is not drawn.
    """
    turn = alignment(before, after)
    parts = difference(_moved(before.geometry.parts, turn), after.geometry.parts)
    baits = difference(_moved(before.geometry.baits, turn), after.geometry.baits)
    shapes = mold_shapes(after)
    pairs = (
        ("changed", parts, plain.open_view(replace(shapes, tint=None))),
        ("changed_bait", baits, plain.bait_view(shapes)),
    )
    return tuple(
        drawn(_tinted(view, name, changed, spec.title, version_before), folder)
        for name, changed, view in pairs
        if changed.added or changed.removed
    )


def alignment(before: Reading, after: Reading) -> NDArray[np.float64]:
    """The turn (3, 3), in steps of 90 degrees, that lays the older mold's plastic best upon the newer's.

    Both lie in the closed mold's frame, centred; only which end is which depends on how the files were drawn.
    """
    new = mesh.union(mesh.body(solid) for solid in after.geometry.baits)
    old = mesh.union(mesh.body(solid) for solid in before.geometry.baits)
    return min(_turns(), key=lambda turn: -(mesh.placed(old, turn, np.zeros(3)) ^ new).volume())


def _turns() -> list[NDArray[np.float64]]:
    """Turns that keep the parting face in z = 0: about z, and upside down."""
    spins = [np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]]) for c, s in ((1, 0), (-1, 0), (0, 1), (0, -1))]
    return [spin @ flip for flip, spin in itertools.product((np.eye(3), np.diag([1.0, -1, -1])), spins)]


def difference(before: tuple[Solid, ...], after: tuple[Solid, ...]) -> Difference:
    """What the newer solids have together that the older have not, and the other way round."""
    old, new = (mesh.union(mesh.body(solid) for solid in solids) for solids in (before, after))
    return Difference(added=_thick(new - old, "added"), removed=_thick(old - new, "removed"))


def _thick(made: mesh.Body, name: str) -> tuple[Solid, ...]:
    solids = (mesh.solid(piece, name) for piece in mesh.pieces(made, SMALLEST_MM3))
    return tuple(one for one in solids if 2 * mesh.volume_mm3(one) > SLIVER_MM * mesh.area_mm2(one))


def _moved(solids: tuple[Solid, ...], turn: NDArray[np.float64]) -> tuple[Solid, ...]:
    return tuple(replace(solid, vertices=solid.vertices @ turn.T) for solid in solids)


def _tinted(view: plain.View, name: str, changed: Difference, title: str, before: str) -> plain.View:
    """The view with the changed skin in the colours of change, everything else in its own."""
    tints = [(_swollen(solid), palette.ADDED) for solid in changed.added]
    tints += [(solid, palette.REMOVED) for solid in changed.removed]
    skin = inlay(tints)
    added, removed = changed.volume_ml()
    volumes = {"added": figures.difference(added), "removed": figures.difference(removed)}
    values: dict[str, Figure | str] = {"title": title, "before": before, **volumes}
    tones = {"added": palette.ADDED, "removed": palette.REMOVED}
    keys = tuple(
        Key(colour=tones[what], name=f"pictures.label.{what}", figure=figure)
        for what, figure in volumes.items()
        if figure.value > 0
    )
    alt = Finding(level="note", code=f"release.picture.{name}", values=values)
    bare = (replace(body, colour=palette.HALF) if name == "changed_bait" else body for body in view.bodies)
    bodies = tuple(replace(body, inlay=skin) for body in bare)
    return replace(view, name=name, bodies=bodies, alt=alt, notes=Notes(keys=keys))


def _swollen(solid: Solid) -> Solid:
    """The solid with its vertices moved out along their normals."""
    normals = np.zeros_like(solid.vertices)
    for corner in range(3):
        np.add.at(normals, solid.faces[:, corner], mesh.crosses(solid.vertices[solid.faces]))
    return replace(solid, vertices=solid.vertices + SWELL_MM * mesh.units(normals))
