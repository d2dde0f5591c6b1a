"""Which hollows of the closed mold are shot, and where: each with its sprue's mouth, or the question."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from builder import mesh
from builder.base.problems import Faults
from builder.measure.cavity import void
from builder.measure.cavity.classify import Named, open_share
from builder.measure.cavity.enclosed import SECOND_MOUTH, WIDEST_SPRUE_MM, WIDEST_VENT_MM
from builder.measure.cavity.void import Mouth, Piece
from builder.measure.flow_tree.split import FILM_MM
from builder.measure.questions import FRAME, needs_hint, offered
from builder.mesh import cuts
from builder.model import MoldSpec, Vec3

Array = NDArray[np.float64]

ALIKE = 0.4
"""Pieces with a mouth that are smaller than this share of the largest hold no plastic of their own."""
WIDEST_POURED_MM = 40.0
"""A bait that is poured into its open end is no wider; a wider mouth is the outside."""
OUTSIDE_SHARE = 0.4
"""A hollow with more of its surface open is the outside, whatever opens from it."""
SHORT_MM = 0.5
LID_MM = 1e-3
"""A hole that ends nearer than SHORT_MM to a cavity is meant to meet it; less than LID_MM is only a lid."""
RAGGED, ROUND, WIDE_MM = 0.3, 0.7, 4.0
"""Where the largest mouth is as ragged as a gap beside a part, and another is round and wide, or where
another comes near to the largest in area, the sprue is not sure."""
SLIT = 0.1
"""A mouth this ragged is more than thirty times as long as wide: a gap between the halves, and no sprue."""
NEAR_MM = 5.0
"""A hinted point this near to a mouth's middle, or within the mouth's own width, means that mouth."""
TOUCH_MM = 0.01
CLOSED_SHARE = 1.5
"""A closed hollow that is so much larger than the largest open one is the cavity without its sprue."""
OFFERED = 6
TRIED = 3
"""So many mouths of a wide hollow are read as the sprue before they are offered."""
LEVELS = (0.5, 0.25, 0.75)


def plastic(
    spec: MoldSpec, named: Named, halves: Sequence[mesh.Body], works: Callable[[Vec3], bool]
) -> list[tuple[Piece, Mouth, int]]:
    """The pieces that are shot, each with its sprue's mouth and its number of baits.

    `works` tells whether the mold can be read with a sprue at a place: others are not offered.
    """
    ignored = [np.array(point) for point in spec.hints.ignore_at_mm]
    candidates = [p for p in named.plastic if not any(void.holds(p, point) for point in ignored)]
    candidates = _between(candidates, halves)
    if not candidates:
        what = "no hollow of the closed mold opens to the outside as a sprue does"
        if wide := [
            p for p in (*named.recesses, *named.drilled) if p.volume_mm3 > _largest_mm3(named.closed)
        ]:
            raise _wide(spec, what, wide, works)
        raise needs_hint(spec, "parts", what, "a cavity with a sprue", _closed_hint(named))
    if spec.hints.sprue_at_mm is None:
        candidates = [piece for piece in candidates if not _is_slit(piece)] or candidates
    lead = candidates[0] if spec.hints.sprue_at_mm is None else _meant(spec, candidates)
    _refuse_closed(spec, named, lead, halves)
    alike = [p for p in candidates if ALIKE < p.volume_mm3 / lead.volume_mm3 < 1 / ALIKE]
    main = sorted(alike, key=lambda piece: piece is not lead)[: spec.cavities]
    if spec.cavities % len(main):
        what = f"{len(main)} separate hollows open to the outside, for {spec.cavities} cavities"
        inner = [(piece, point) for piece in main if (point := inside(piece)) is not None]
        lines = offered((f"ignore_at_mm: [[{place(point)}]]", _hollow(piece)) for piece, point in inner)
        remedy = f"write a point inside each hollow that is not shot, all in one list; {FRAME}:{lines}"
        raise needs_hint(spec, "hints.ignore_at_mm", what, "", remedy)
    for piece in main:
        _refuse_ring(spec, piece)
        _refuse_bolt(spec, piece)
    sprues = [_sprue(spec, piece, named) for piece in main]
    for piece, sprue in zip(main, sprues, strict=True):
        _refuse_gap(spec, piece, sprue)
    return [(piece, sprue, spec.cavities // len(main)) for piece, sprue in zip(main, sprues, strict=True)]


def _is_slit(piece: Piece) -> bool:
    """True for a gap between halves that meet on a lip: no mouth of it is a sprue's."""
    first, *others = piece.mouths
    return first.roundness < SLIT and not any(map(_is_round, others))


def _is_round(mouth: Mouth) -> bool:
    """True for a mouth that is round and wide enough for a sprue."""
    return mouth.roundness > ROUND and mouth.diameter_mm > WIDE_MM


def _refuse_bolt(spec: MoldSpec, piece: Piece) -> None:
    """Raise where a bolt hole cuts into the plastic wider than a vent would: its bolt lies in the bait."""
    for mouth in piece.mouths:
        if mouth.ends == "bolt" and mouth.diameter_mm > WIDEST_VENT_MM:
            what = (
                f"a bolt hole cuts into the cavity at [{place(mouth.at)}], {mouth.diameter_mm:.1f} mm wide, "
                "and plastic runs out there"
            )
            remedy = "move the bolt hole or the cavity in the CAD, and export the parts again"
            raise needs_hint(spec, "parts", what, "bolt holes with a wall round them", remedy)


def _refuse_ring(spec: MoldSpec, piece: Piece) -> None:
    """Raise where a crack goes round a half, as round a lid that drops into a tray: it is no vent."""
    for mouth in piece.mouths:
        if mouth.polygon.interiors and mouth.diameter_mm > FILM_MM:
            inner = mouth.at - SHORT_MM * mouth.normal
            within = cuts.across(mesh.solid(piece.body, "plastic"), inner, mouth.normal)
            if within is not None and not within.polygon.interiors:
                raise _leaking(spec, mouth)


def _refuse_gap(spec: MoldSpec, piece: Piece, sprue: Mouth) -> None:
    """Raise where the plastic runs into a gap between the parts that opens as widely as the sprue."""
    narrow = [one for one in piece.mouths if one is not sprue and one.diameter_mm < WIDEST_VENT_MM]
    if sum(one.area_mm2 for one in narrow) > SECOND_MOUTH * sprue.area_mm2:
        raise _leaking(spec, narrow[0])


def _leaking(spec: MoldSpec, mouth: Mouth) -> Faults:
    """The refusal of a mold whose parts leave a crack that plastic runs into."""
    wide = 2 * mouth.area_mm2 / mouth.polygon.length
    what = (
        f"a crack {wide:.2g} mm wide between the parts opens to the outside at [{place(mouth.at)}], so it is "
        "unclear how far plastic runs into it"
    )
    remedy = (
        "draw the parts so that they meet there, for the files that are read here (what is printed may keep "
        "the play), and export all as they lie closed"
    )
    return needs_hint(spec, "parts", what, "parts that meet all round", remedy)


def _refuse_closed(spec: MoldSpec, named: Named, lead: Piece, halves: Sequence[mesh.Body]) -> None:
    """Raise where a larger hollow between the halves has no mouth: the open one is but a socket."""
    larger = [p for p in named.closed if p.volume_mm3 > CLOSED_SHARE * lead.volume_mm3]
    between = [p for p in larger if all(p.body.min_gap(half, TOUCH_MM) < TOUCH_MM / 2 for half in halves)]
    if between:
        largest = max(between, key=lambda piece: piece.volume_mm3)
        what = (
            f"the largest hollow, {mesh.volume_ml(largest.volume_mm3):.2f} ml, has no mouth to the outside; "
            f"the largest that has one holds {mesh.volume_ml(lead.volume_mm3):.2f} ml"
        )
        remedy = (
            "cut the sprue through to the cavity in the CAD, or check that the halves are the right files"
        )
        raise needs_hint(spec, "parts", what, "a cavity with a sprue", remedy)


def _between(candidates: Sequence[Piece], halves: Sequence[mesh.Body]) -> list[Piece]:
    """Without the large hollows inside one half, as infill or shells leave them: no bait comes out."""
    left = list(candidates)
    while len(left) > 1 and not all(left[0].body.min_gap(half, TOUCH_MM) < TOUCH_MM / 2 for half in halves):
        left = left[1:]
    return left or list(candidates)


def _meant(spec: MoldSpec, candidates: Sequence[Piece]) -> Piece:
    """The hollow whose mouth a hinted sprue means; Faults, with the mouths there are, when none is near."""
    point = spec.hints.sprue_at_mm
    assert point is not None
    pairs = [(piece, mouth) for piece in candidates for mouth in piece.mouths]
    lead, mouth = min(pairs, key=lambda pair: _off(pair[1], point))
    off = _off(mouth, point)
    if off > max(NEAR_MM, float(np.sqrt(mouth.area_mm2))):
        what = f"nothing opens to the outside at [{place(np.array(point))}]"
        remedy = f"write one of the mouths that there are; {FRAME}:{_mouths(candidates)}"
        raise needs_hint(spec, "hints.sprue_at_mm", what, "the middle of the sprue's mouth", remedy)
    return lead


def _mouths(candidates: Sequence[Piece]) -> str:
    """The widest mouths of the largest hollows, as hints."""
    shown = [(piece, mouth) for piece in candidates[:OFFERED] for mouth in piece.mouths[:3]]
    wide = [one for one in shown if one[1].diameter_mm > WIDEST_VENT_MM]
    widest = sorted(wide or shown, key=lambda one: (one[1].roundness < RAGGED, -one[1].area_mm2))[:OFFERED]
    return offered((f"sprue_at_mm: [{place(mouth.at)}]", _hollow(piece, mouth)) for piece, mouth in widest)


def _hollow(piece: Piece, mouth: Mouth | None = None) -> str:
    """What a hollow is, for a person who has to choose."""
    wide = f"{mouth.diameter_mm:.1f} mm wide, " if mouth else ""
    return f"{wide}hollow of {mesh.volume_ml(piece.volume_mm3):.2f} ml"


def inside(piece: Piece) -> Array | None:
    """A point well inside a hollow, which the reading finds in it again; None where there is none."""
    solid, middle = mesh.solid(piece.body, "hollow"), (piece.low + piece.high) / 2
    for share in LEVELS:
        z = float(piece.low[2] + share * (piece.high[2] - piece.low[2]))
        cut = mesh.section(solid, (middle[0], middle[1], z), (0.0, 0.0, 1.0))
        for area in sorted(cut.polygons.geoms, key=lambda one: -one.area)[:1]:
            point = cut.lift(mesh.inscribed(area)[1])
            if void.holds(piece, point):
                return np.asarray(point)
    return None


def _off(mouth: Mouth, point: Sequence[float]) -> float:
    """How far (mm) a point lies from a mouth's middle."""
    return float(np.linalg.norm(mouth.at - np.array(point)))


def _largest_mm3(pieces: Sequence[Piece]) -> float:
    """Volume of the largest piece, 0 for none."""
    return max((piece.volume_mm3 for piece in pieces), default=0.0)


def _wide(spec: MoldSpec, what: str, wide: Sequence[Piece], works: Callable[[Vec3], bool]) -> Faults:
    """The question where the largest hollow was taken for a bolt hole or a recess: the mouths that work."""
    largest = max(wide, key=lambda piece: piece.volume_mm3)
    taken = (
        f"the largest hollow ({mesh.volume_ml(largest.volume_mm3):.2f} ml) opens so wide that it was taken "
        "for a bolt hole or the outside"
    )
    inside_out = open_share(largest) > OUTSIDE_SHARE  # as halves that lie back to back have their cavity
    mouths = [mouth for mouth in largest.mouths if mouth.diameter_mm < WIDEST_POURED_MM]
    working = [] if inside_out else [mouth for mouth in mouths[:TRIED] if works(rounded(mouth.at))]
    if not working:
        remedy = (
            f"{taken}: check that no part is missing, that no sprue at the edge is cut open, and that the "
            "right faces lie on each other; if they do not, write placing at both halves"
        )
        return needs_hint(spec, "parts", what, "a cavity with a sprue", remedy)
    lines = offered((f"sprue_at_mm: [{place(mouth.at)}]", _hollow(largest, mouth)) for mouth in working)
    remedy = f"{taken}; if that is the cavity, write the mouth that is shot into; {FRAME}:{lines}"
    return needs_hint(spec, "hints.sprue_at_mm", what, "", remedy)


def rounded(at: Array, digits: int = 2) -> Vec3:
    """The place as a hint that is pasted tells it."""
    return mesh.vec(np.round(at, digits))


def _closed_hint(named: Named) -> str:
    """Where the largest closed hollow is."""
    if not named.closed:
        return "check that the halves are the right files and that neither is solid"
    largest = named.closed[0]
    middle = place((largest.low + largest.high) / 2)
    return (
        f"cut the sprue to the outside in the CAD: the largest closed hollow "
        f"({mesh.volume_ml(largest.volume_mm3):.2f} ml) is at [{middle}]{_short(named, largest)}"
    )


def _short(named: Named, cavity: Piece) -> str:
    """Says which hole ends just before a cavity, '' if none does."""
    for hole in (*named.drilled, *named.recesses, *named.plastic):
        if hole is cavity or not hole.mouths or hole.mouths[0].diameter_mm < WIDEST_VENT_MM:
            continue
        gap = cavity.body.min_gap(hole.body, SHORT_MM)
        if LID_MM < gap < SHORT_MM:
            return f"; the hole at [{place(hole.mouths[0].at)}] ends {gap:.2g} mm before it"
    return ""


def _sprue(spec: MoldSpec, piece: Piece, named: Named) -> Mouth:
    """The mouth that plastic enters by: hinted, or the largest by far."""
    hinted = spec.hints.sprue_at_mm
    if hinted is not None:
        return min(piece.mouths, key=lambda mouth: _off(mouth, hinted))
    first, *others = sorted(piece.mouths, key=lambda mouth: mouth.diameter_mm < WIDEST_VENT_MM)
    if first.diameter_mm < WIDEST_VENT_MM:
        what = (
            f"the cavity opens to the outside only in places as narrow as vents, {first.diameter_mm:.1f} mm"
        )
        remedy = f"cut the sprue through to the cavity in the CAD{_short(named, piece)}"
        raise needs_hint(spec, "hints.sprue_at_mm", what, "", remedy)
    if first.diameter_mm > WIDEST_SPRUE_MM:
        what = (
            f"the cavity opens {first.diameter_mm:.0f} mm wide at [{place(first.at)}], too wide for a sprue"
        )
        line = offered([(f"sprue_at_mm: [{place(first.at)}]", _hollow(piece, first))])
        remedy = f"check that no part is missing; if it is poured there, write this; {FRAME}:{line}"
        raise needs_hint(spec, "hints.sprue_at_mm", what, "", remedy)
    if _is_slit(piece):
        raise _leaking(spec, first)
    ragged = first.roundness < RAGGED and any(map(_is_round, others))
    wide = [one for one in others if one.diameter_mm > WIDEST_VENT_MM]
    if ragged or any(one.area_mm2 > SECOND_MOUTH * first.area_mm2 for one in wide):
        what = "the cavity opens to the outside in more than one wide place"
        remedy = (
            "if a core stands in one of them, its file is missing under parts; else write the one that is "
            f"shot into; {FRAME}:{_mouths([piece])}"
        )
        raise needs_hint(spec, "hints.sprue_at_mm", what, "", remedy)
    return first


def place(point: Array, digits: int = 2) -> str:
    """Coordinates as text."""
    return ", ".join(f"{value + 0.0:.{digits}f}" for value in point)
