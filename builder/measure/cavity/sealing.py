"""Hollows that hang on the plastic only through a crack round a core: shut off, or asked about."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from scipy import ndimage

from builder import mesh
from builder.base import figures
from builder.measure import mistaken, shot
from builder.measure.cavity import classify, play, void
from builder.measure.cavity.void import Piece
from builder.measure.flow_tree import voxels
from builder.measure.questions import FRAME, needs_hint, offered
from builder.model import Finding, MoldSpec

SHUT_MM = 0.02
"""A crack no wider than this is shut: it is the files' rounding, and no printer leaves so little."""
CRACK_MM = 0.3
"""A crack no wider than this may let plastic through or not: as narrow as a vent."""
AXIS_SHARE = 3**-0.5
"""What is moved along the axes both ways covers a crack of this share of the way, however it lies."""
SMALL_SHARE = 0.005
"""A hollow behind a crack with less than this share of the plastic changes no number."""
LIGHT_SHARE = 0.1
"""A core is read this coarsely, as a share of the crack."""
GRID, PITCHES_MM = 150_000, (0.25, 0.6)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Behind:
    """A hollow that only a crack joins to the piece; `shut` where nothing can pass.

    `room` holds it with a little of the crack, `volume_mm3` is what of the piece lies in that.
    """

    hollow: Piece
    shut: bool
    room: mesh.Body
    volume_mm3: float


def parted(
    spec: MoldSpec, pieces: Sequence[Piece], cores: Sequence[mesh.Body], around: Sequence[mesh.Body]
) -> tuple[list[Piece], list[Finding]]:
    """The pieces without what lies behind shut cracks, or is one between a core and the halves `around` it.

    Also what to say of it; Faults where it is not sure.
    """
    if not cores:
        return list(pieces), []
    plastic_mm3 = max((piece.volume_mm3 for piece in pieces if classify.is_cavity(piece)), default=0.0)
    mistaken.refuse_positive(spec, cores, around, plastic_mm3)
    core = mesh.union(cores)
    grown = {gap: _grown(core.simplify(LIGHT_SHARE * gap), gap / AXIS_SHARE) for gap in (SHUT_MM, CRACK_MM)}
    kept, said = list[Piece](), list[Finding]()
    loose = play.loose(cores, around)
    for piece in pieces:
        found = list(_behind(piece, grown)) if piece.mouths and _hangs_loosely(piece) else []
        told = [one for one in found if not one.shut and _told(spec, one.hollow)]
        asked = [one for one in found if not one.shut and one not in told]
        if asked:
            raise _unsure(spec, asked)
        left = _without(piece, found)
        closed, shut = play.without(left, loose)
        kept.append(closed)
        said += [_said(one) for one in found if one.shut] + shut
    return kept, said


def _hangs_loosely(piece: Piece) -> bool:
    """True if the piece falls apart when a little is taken off all round, as a grid shows quickly."""
    pitch = float(np.clip((piece.volume_mm3 / GRID) ** (1 / 3), *PITCHES_MM))
    inner = ndimage.binary_erosion(voxels.fill(mesh.solid(piece.body, "hollow"), pitch).inside)
    label, _ = ndimage.label(inner, np.ones((3, 3, 3), bool))
    sizes = np.bincount(label.ravel())[1:]
    return bool((sizes > SMALL_SHARE * sizes.sum() / 2).sum() > 1)


def _grown(body: mesh.Body, by_mm: float) -> mesh.Body:
    """The body together with itself moved both ways along each axis."""
    ways = [np.array(way) for way in product((-1.0, 0.0, 1.0), repeat=3) if np.abs(way).sum() == 1]
    return mesh.union([body, *(mesh.placed(body, np.eye(3), by_mm * way) for way in ways)])


def _behind(piece: Piece, grown: dict[float, mesh.Body]) -> Iterator[Behind]:
    """The hollows that come off the piece when its cores are a little larger, and that open nowhere."""
    shut: list[Piece] = []
    for gap, core in grown.items():
        parts = mesh.pieces(piece.body - core, SMALL_SHARE * piece.volume_mm3)
        hollows = [void.piece(part, piece.marks) for part in parts] if len(parts) > 1 else []
        for hollow in hollows:
            if any(mouth.diameter_mm > CRACK_MM for mouth in hollow.mouths) or _met(hollow, shut):
                continue
            if gap == SHUT_MM:
                shut.append(hollow)
            room = _grown(hollow.body, 2 * gap / AXIS_SHARE)
            volume = float((piece.body ^ room).volume())
            yield Behind(hollow=hollow, shut=gap == SHUT_MM, room=room, volume_mm3=volume)


def _met(hollow: Piece, others: Sequence[Piece]) -> bool:
    """True if the hollow is part of another."""
    return any((hollow.body ^ other.body).volume() > hollow.volume_mm3 / 2 for other in others)


def _told(spec: MoldSpec, hollow: Piece) -> bool:
    """True if the maker says that the hollow holds no plastic."""
    return any(void.holds(hollow, np.array(point)) for point in spec.hints.ignore_at_mm)


def _without(piece: Piece, found: Sequence[Behind]) -> Piece:
    """The piece without the hollows behind cracks."""
    if not found:
        return piece
    left = piece.body - mesh.union(one.room for one in found)
    return void.piece(mesh.pieces(left)[0], piece.marks)


def _unsure(spec: MoldSpec, asked: Sequence[Behind]) -> Exception:
    """The question whether what lies behind a crack is filled."""
    volume = sum(one.volume_mm3 for one in asked)
    what = (
        f"{mesh.volume_ml(volume):.2f} ml of the hollow is joined to the rest only by a crack narrower than "
        f"{CRACK_MM} mm around a core, so it is unclear whether plastic gets there"
    )
    inner = [(one, point) for one in asked if (point := shot.inside(one.hollow)) is not None]
    lines = offered(
        (f"ignore_at_mm: [[{shot.place(point)}]]", f"no plastic in {mesh.volume_ml(one.volume_mm3):.2f} ml")
        for one, point in inner
    )
    remedy = (
        f"if it stays empty, write a point in it; if it is filled, open the crack wider in the CAD; {FRAME}:"
        f"{lines}"
    )
    return needs_hint(spec, "hints.ignore_at_mm", what, "", remedy)


def _said(shut: Behind) -> Finding:
    """What to say of a hollow that is shut off."""
    held = figures.exact(mesh.volume_ml(shut.volume_mm3), "ml", "reading.volume", "measured")
    middle = (shut.hollow.low + shut.hollow.high) / 2
    return Finding(level="note", code="reading.sealed", values={"volume": held}, at_mm=mesh.vec(middle))
