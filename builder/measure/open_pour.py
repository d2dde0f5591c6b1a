"""An open-pour mold: one part whose cavities lie open on top, and what is set into it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from builder import mesh
from builder.base import figures
from builder.base.problems import Faults
from builder.measure import hints, pour_cups, shot
from builder.measure.cavity import classify, sealing, void
from builder.measure.closing import assemble, covering, matching
from builder.measure.features import records, walls
from builder.measure.questions import needs_hint, offered
from builder.model import (
    Figure,
    Finding,
    Geometry,
    Measurement,
    MoldSpec,
    PartMeasure,
    Reading,
    Runner,
    Solid,
    Vec3,
    Vouch,
)

OVERLAP = 0.005
"""A core may run into the mold by so much of the smaller one's volume..."""
INSIDE = 0.2
"""...and at least so much of it lies within the mold's hull; else it is not filed where it belongs."""
OTHER_FACE = "reading.other_face"
"""Says that another face opens larger hollows."""
LEVEL, RUNS_OUT = 0.999, 3.0
"""A hollow that is open at the side and holds so many times what a cavity does is no groove beside it."""
SECOND_FACE, SECOND_SHARE = "reading.second_face", 0.3
"""Says that another face opens hollows of at least this share of the largest cavity."""
SMALL_SHARE = 0.2
"""Hollows with less than this share of the largest one's volume are no cavities."""
OFFERED = 6
FACES, SAME_PLANE = 2, 1e-3
"""So many faces are tried as the pouring face, those that open most: an underside may have pockets."""


def read(spec: MoldSpec, solids: Sequence[tuple[Solid, Vouch]]) -> Reading:
    """Measure an open-pour mold: each hollow open at the top is a bait; Faults where it is not sure."""
    index = next((k for k, part in enumerate(spec.parts) if part.role == "open"), None)
    if index is None:
        raise needs_hint(
            spec, "parts", "no part has the role open", "one", "write role: open at the mold itself"
        )
    drawn, vouch = solids[index]
    tries = [
        face
        for least in matching.LEAST_AREAS
        for face in assemble.faces_of(spec, index, drawn, least)[:FACES]
    ]
    if not tries:
        what = f"{spec.parts[index].file} has no flat face that could be the pouring face"
        raise needs_hint(
            spec, f"parts[{index}].parting", what, "", "write a point on it and its outward normal"
        )
    cores = _cores(spec, solids, index)
    found = _every(spec, drawn, _apart(tries), cores)
    poured = _likeliest(spec, found)
    _refuse_running_out(spec, poured)
    cavities = _counted(spec, poured, found)
    pour_cups.refuse(spec, cavities)
    others = [
        (part, vouched)
        for k, (part, (_, vouched)) in enumerate(zip(spec.parts, solids, strict=True))
        if k != index and part.role != "bait"
    ]
    parts = [records.part(spec.parts[index], poured.solid, vouch)]
    parts += [
        records.part(part, core, vouched, flat=False)
        for (part, vouched), core in zip(others, poured.set_in, strict=True)
    ]
    said = [*poured.said, *_larger(spec.cavities, poured, found)]
    return _reading(spec, parts, replace(poured, said=said), cavities)


def _refuse_running_out(spec: MoldSpec, poured: Poured) -> None:
    """Raise where a hollow much larger than the cavities opens at the side too: it is no open pour's."""
    ignored = [np.array(point) for point in spec.hints.ignore_at_mm]
    for piece in poured.pieces:
        up, beside = (
            any(on_top == (mouth.normal[2] > LEVEL) for mouth in piece.mouths) for on_top in (True, False)
        )
        if not (up and beside) or any(mouth.normal[2] < -LEVEL for mouth in piece.mouths):
            continue
        if piece.volume_mm3 > RUNS_OUT * poured.largest_mm3 and not any(
            void.holds(piece, point) for point in ignored
        ):
            inner = shot.inside(piece)
            what = (
                f"a hollow of {mesh.volume_ml(piece.volume_mm3):.2f} ml is open at the side too, where "
                f"plastic runs out; the cavities hold {mesh.volume_ml(poured.largest_mm3):.2f} ml at most"
            )
            told = "" if inner is None else f"; else write hints: {{ignore_at_mm: [[{shot.place(inner)}]]}}"
            remedy = (
                "if these are the two halves of a closed mold, cut the file between them, export each half "
                f"as a file of its own and write kind: injection{told}"
            )
            raise needs_hint(spec, "kind", what, "cavities that are open at the top alone", remedy)


def _larger(told: int, poured: Poured, found: Sequence[Poured]) -> Iterator[Finding]:
    """A warning where another face opens larger hollows: an underside may have as many pockets as told.

    A note where they are smaller, but may be cavities as well: some plates are poured on both sides.
    """
    other = max((one for one in found if one is not poured), key=lambda one: one.largest_mm3, default=poured)
    values: dict[str, Figure | str] = {"hollows": str(len(other.hollows)), "parting": other.parting()}
    values["volume"] = figures.exact(mesh.volume_ml(other.largest_mm3), "ml", "reading.volume", "measured")
    if other.largest_mm3 > poured.largest_mm3:
        yield Finding(level="warn", code=OTHER_FACE, values={**values, "told": str(told)})
    elif other is not poured and other.largest_mm3 > SECOND_SHARE * poured.largest_mm3:
        yield Finding(level="note", code=SECOND_FACE, values=values)


def _apart(faces: Sequence[matching.Face]) -> list[matching.Face]:
    """The faces without those that look the same way as an earlier one and lie in its plane.

    Also without the floors of cups and channels: they lie below a larger face.
    """
    kept: list[matching.Face] = []
    for face in faces:
        if any(_is_below(face, other) and face.polygon.area < other.polygon.area for other in faces):
            continue
        plane = np.append(face.turn[2], face.move[2])
        if not any(np.abs(plane - np.append(old.turn[2], old.move[2])).max() < SAME_PLANE for old in kept):
            kept.append(face)
    return kept


def _is_below(face: matching.Face, other: matching.Face) -> bool:
    """True for a face that looks the same way as another and lies deeper in the part."""
    return bool(face.turn[2] @ other.turn[2] > LEVEL and face.move[2] > other.move[2] + SAME_PLANE)


def _every(
    spec: MoldSpec, drawn: Solid, faces: Sequence[matching.Face], cores: Sequence[Solid]
) -> list[Poured]:
    """The mold poured level with each face; what is asked at a face counts until one fits."""
    found: list[Poured] = []
    for face in faces:
        try:
            found.append(_poured(spec, drawn, face, cores))
        except Faults:
            if not any(len(poured.hollows) == spec.cavities for poured in found):
                raise
    return found


def _likeliest(spec: MoldSpec, found: Sequence[Poured]) -> Poured:
    """The mold with the first face that opens as many hollows as are told, else with the largest hollow."""
    fitting = [poured for poured in found if len(poured.hollows) == spec.cavities]
    return fitting[0] if fitting else max(found, key=lambda poured: poured.largest_mm3)


def _cores(spec: MoldSpec, solids: Sequence[tuple[Solid, Vouch]], index: int) -> list[Solid]:
    """What is set into the mold, where its file or its placing has it; Faults where it cannot lie there."""
    mold = mesh.body(solids[index][0])
    around, found = mesh.hull([mold]), []
    for k, (part, (solid, _)) in enumerate(zip(spec.parts, solids, strict=True)):
        if k == index or part.role == "bait":
            continue
        laid = matching.laid(solid, *assemble.placing_of(part.placing)) if part.placing else solid
        body = mesh.body(laid)
        shared = (body ^ mold).volume() / min(body.volume(), mold.volume())
        if shared > OVERLAP or (body ^ around).volume() < INSIDE * body.volume():
            where = f"runs into {spec.parts[index].file}" if shared > OVERLAP else "lies beside the mold"
            what = f"{part.file} {where} as it lies in its file, so its place is not known"
            remedy = "write its placing in the frame of the mold's own file, or export both as they belong"
            raise needs_hint(spec, f"parts[{k}].placing", what, "", remedy)
        found.append(laid)
    return found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Poured:
    """The mold with a face as its pouring face: what is set in, the hull below, its hollows, the poured."""

    face: matching.Face
    solid: Solid
    set_in: list[Solid]
    outer: mesh.Body
    pieces: list[void.Piece]
    hollows: list[void.Piece]
    said: list[Finding]

    @property
    def largest_mm3(self) -> float:
        """Volume of the largest hollow that opens at the face, 0 for none."""
        return max((piece.volume_mm3 for piece in self.hollows), default=0.0)

    def plane(self) -> tuple[Vec3, Vec3]:
        """A point on the face and its normal, in the coordinates of the part's own file."""
        at = -self.face.turn.T @ self.face.move
        return shot.rounded(at), shot.rounded(self.face.turn[2], 3)

    def parting(self) -> str:
        """The face as mold.yaml has it."""
        at, normal = map(np.array, self.plane())
        return f"{{at_mm: [{shot.place(at)}], normal: [{shot.place(normal, 3)}]}}"

    def told(self) -> str:
        """How many hollows open at the face, and the largest of them."""
        hollows = "1 hollow opens" if len(self.hollows) == 1 else f"{len(self.hollows)} hollows open"
        return f"{hollows} there, of up to {mesh.volume_ml(self.largest_mm3):.2f} ml"


def _poured(spec: MoldSpec, drawn: Solid, face: matching.Face, cores: Sequence[Solid]) -> Poured:
    """What a mold holds that is poured level with a face."""
    solid = matching.laid(drawn, face.turn, face.move, face.rim)
    set_in = [matching.laid(core, face.turn, face.move) for core in cores]
    body = mesh.union(mesh.body(one) for one in (solid, *set_in))
    outer = mesh.below(void.envelope([mesh.body(solid)]), -void.TRIM_MM)
    before = void.pieces(outer, body)
    pieces, said = sealing.parted(spec, before, [mesh.body(core) for core in set_in], [mesh.body(solid)])
    return Poured(
        face=face,
        solid=solid,
        set_in=set_in,
        outer=outer,
        pieces=pieces,
        hollows=_cavities(spec, pieces),
        said=[*said, *hints.useless(spec, before, ())],
    )


def _cavities(spec: MoldSpec, pieces: Sequence[void.Piece]) -> list[void.Piece]:
    """The larger pieces that open at the top only."""
    open_up = [p for p in pieces if p.mouths and all(mouth.normal[2] > LEVEL for mouth in p.mouths)]
    ignored = [np.array(point) for point in spec.hints.ignore_at_mm]
    open_up = [p for p in open_up if not any(void.holds(p, point) for point in ignored)]
    return [p for p in open_up if p.volume_mm3 > SMALL_SHARE * open_up[0].volume_mm3]


def _counted(spec: MoldSpec, poured: Poured, found: Sequence[Poured]) -> list[void.Piece]:
    """The cavities along the mold's long side; Faults unless there are as many as the spec says."""
    if len(poured.hollows) != spec.cavities and not _is_shared(spec, poured.hollows):
        raise _other_count(spec, poured, found)
    return sorted(poured.hollows, key=lambda p: tuple(((p.low + p.high) / 2).round(3)))


def _is_shared(spec: MoldSpec, hollows: Sequence[void.Piece]) -> bool:
    """True where the gates that are told part as many baits as there are."""
    return bool(spec.hints.gates_at_mm) and len(pour_cups.parted(spec, hollows)) == spec.cavities


def _other_count(spec: MoldSpec, poured: Poured, found: Sequence[Poured]) -> Faults:
    """The question where no face holds as many hollows as the spec says: another count, or another face."""
    wanted = f"{spec.cavities} {'cavity' if spec.cavities == 1 else 'cavities'}"
    count = len(poured.hollows)
    if not count:
        what = f"no hollow is open at the pouring face alone, for {wanted}"
        remedy = "write the parting of the part: a point on the face that is poured, and its outward normal"
        return needs_hint(spec, f"parts[{_open(spec)}].parting", what, "", remedy)
    what = f"{'1 hollow is' if count == 1 else f'{count} hollows are'} open at the pouring face, for {wanted}"
    other = _other_faces(spec, poured, found)
    if count < spec.cavities:
        if line := pour_cups.shared(spec, poured.hollows):
            remedy = f"if baits hang together by a cup, write this; {pour_cups.IN_FRAME}:{line}"
            return needs_hint(spec, "hints.gates", what, "", remedy)
        remedy = (
            f"write cavities: {count} if each hollow is one bait; baits that hang together by a cup or a "
            "channel are not told apart: export the mold for the reading without these, or check the file"
        )
        return needs_hint(spec, "cavities", what, "", f"{remedy}{other}")
    inner = [(piece, point) for piece in poured.hollows if (point := shot.inside(piece)) is not None]
    lines = offered(
        (f"ignore_at_mm: [[{shot.place(point)}]]", f"hollow of {mesh.volume_ml(piece.volume_mm3):.2f} ml")
        for piece, point in inner[:OFFERED]
    )
    remedy = f"write cavities: {count}, or points in the hollows that are not poured, all in one list:{lines}"
    return needs_hint(spec, "hints.ignore_at_mm", what, "", f"{remedy}{other}")


def _other_faces(spec: MoldSpec, poured: Poured, found: Sequence[Poured]) -> str:
    """The other faces at which something opens, as partings to be pasted; '' for none."""
    here, lines = _open(spec), []
    for other in found:
        if other is not poured and other.hollows:
            told = [
                replace(part, parting=other.plane()) if k == here else part
                for k, part in enumerate(spec.parts)
            ]
            lines.append(f"\n{covering.parts_line(told)}  # {other.told()}")
    return f"\nif another face is poured, write its parting:{''.join(lines)}" if lines else ""


def _open(spec: MoldSpec) -> int:
    return next(k for k, part in enumerate(spec.parts) if part.role == "open")


def _reading(
    spec: MoldSpec,
    parts: Sequence[PartMeasure],
    poured: Poured,
    cavities: Sequence[void.Piece],
) -> Reading:
    """All records of a poured mold."""
    outer = poured.outer
    holes = [p for p in poured.pieces if p not in cavities and classify.bolt_of(p) is not None]
    alone = pour_cups.parted(spec, cavities)
    beside_mm3 = sum(one.beside_mm3 for one in alone)
    baits = [records.bait(str(k + 1), one.body, one.gates, spans=one.spans) for k, one in enumerate(alone)]
    bolts = [bolt for piece in holes if (bolt := classify.bolt_of(piece)) is not None]
    drilled = tuple(mesh.solid(piece.body, f"bolt {k + 1}") for k, piece in enumerate(holes))
    low, high = mesh.box(outer)
    loss = [records.faceting(bait) for _, bait in baits]
    measurement = Measurement(
        slug=spec.slug,
        kind=spec.kind,
        size_mm=mesh.vec(high - low + 2 * void.TRIM_MM),
        parts=tuple(parts),
        baits=tuple(record for record, _ in baits),
        sprue=None,
        runner=Runner(volume_ml=mesh.volume_ml(beside_mm3), modulus_mm=0.0),
        vents=(),
        bolts=tuple(bolts),
        pins=(),
        walls=walls.walls(
            [mesh.solid(outer, "hull")],
            [(record.name, bait) for record, bait in baits],
            drilled,
            poured=True,
        ),
        projected_mm2=sum(record.projected_mm2 for record, _ in baits),
        parting_mm2=0.0,
        volume_share=max(share for share, _ in loss),
        length_error_mm=max(gap for _, gap in loss),
        pitch_mm=0.0,
        findings=(Finding(level="note", code="reading.poured"), *poured.said),
    )
    geometry = Geometry(
        parts=(poured.solid, *poured.set_in),
        baits=tuple(bait for _, bait in baits),
        runner=None,
        vents=(),
        holes=drilled,
    )
    return Reading(measurement=measurement, geometry=geometry)
