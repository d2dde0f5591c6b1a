"""A mold of two halves (and cores): closed, its void named, its plastic parted."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from builder import mesh
from builder.base import figures
from builder.base.problems import Faults
from builder.measure import (
    block_pieces,
    film_question,
    gate_question,
    hints,
    noise,
    saying,
    shot,
    told_gates,
    well_question,
    wide_question,
)
from builder.measure.cavity import classify, enclosed, holding, play, sealing, unfed, void
from builder.measure.cavity.classify import Named
from builder.measure.cavity.void import Mouth, Piece
from builder.measure.closing import assemble, matching, registering
from builder.measure.features import records, sizes, walls
from builder.measure.flow_tree import split, sprue_end
from builder.measure.flow_tree.split import Grown, Parted, Unsure
from builder.measure.flow_tree.stations import Sweep, thinnest
from builder.measure.questions import needs_hint, refuse_fine_grid
from builder.model import (
    Bait,
    Finding,
    Geometry,
    Measurement,
    MoldSpec,
    Reading,
    Role,
    Runner,
    Solid,
    Sprue,
    Vec3,
    Vent,
    Vouch,
)

Array = NDArray[np.float64]

BOLTED: tuple[Role, ...] = ("half", "plug")
"""Parts that a bolt may go through into another: parts of the block may be plugs."""
UNSURE_SHARE = 0.03
"""A bait hardly wider than its gate is cut off there this well: drawn ones were off by 2.1 % at most."""
APART_SHARE = 0.025
"""Where faces that do not meet make a bait unsure by more than this share, it is asked."""
OTHER_WAYS = 3
"""Where halves closed in the likeliest way hold no cavity, so many others are tried."""
TRIED_COUNTS = (1, 2, 4)
"""A sprue that works with one of these numbers of cavities, or the one told, is offered."""
OPEN_MM = 0.1
"""A gate or a vent's end this near to its mouth is the mouth."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fed:
    """One piece of plastic with its sprue's mouth, parted."""

    piece: Piece
    mouth: Mouth
    parted: Parted


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Closed:
    """A closed mold: its parts as laid, its hull, what is in it, the plastic that was looked into so far."""

    spec: MoldSpec
    laid: Sequence[Solid]
    bodies: Sequence[mesh.Body]
    vouches: Sequence[Vouch]
    outer: mesh.Body
    """The hull, smaller by `trim_mm` on each side."""
    trim_mm: float
    hollows: Sequence[Piece]
    named: Named
    findings: Sequence[Finding]
    seen: dict[tuple[int, int], Grown]
    offers: bool = True
    """False where nobody reads which gates would do, and none is tried."""


def read(spec: MoldSpec, solids: Sequence[tuple[Solid, Vouch]]) -> Reading:
    """Measure a mold of two halves; Faults where it is not sure."""
    return _reading(*parted(closed(spec, solids)))


def read_counts(
    spec: MoldSpec, solids: Sequence[tuple[Solid, Vouch]], counts: Sequence[int]
) -> Iterator[tuple[int, Reading | Faults]]:
    """The mold with each number of cavities, or what is asked then (gates are offered for the last only)."""
    mold = closed(spec, solids)
    for count in counts:
        try:
            told = replace(mold, spec=replace(spec, cavities=count), offers=count == counts[-1])
            yield count, _reading(*parted(told))
        except Faults as faults:
            yield count, faults


def closed(spec: MoldSpec, solids: Sequence[tuple[Solid, Vouch]]) -> Closed:
    """The mold closed and its hollows named: in the likeliest way that holds a cavity."""
    likeliest = _closed(spec, solids, 0)
    if likeliest.named.plastic or any(part.placing for part in spec.parts):
        return likeliest
    noise.refuse_surely_rough(spec, [solid for solid, _ in solids])  # no way is better on such faces
    for skip in range(1, OTHER_WAYS + 1):
        try:
            other = _closed(spec, solids, skip)
        except Faults:
            break
        if other.named.plastic:
            return other
    return likeliest


def _closed(spec: MoldSpec, solids: Sequence[tuple[Solid, Vouch]], skip: int) -> Closed:
    """The mold closed in one way, its hollows named."""
    laid, findings = assemble.closed(spec, [solid for solid, _ in solids], skip)
    printed = [solid for part, solid in zip(spec.parts, laid, strict=True) if part.role != "bait"]
    bodies = [mesh.body(solid) for solid in printed]
    around = [body for role, body in _printed(spec, bodies) if role != "core"]
    curled = any(finding.code == assemble.CURLED for finding in findings)
    trim_mm = void.CURLED_TRIM_MM if curled else void.TRIM_MM
    outer = void.envelope(around, trim_mm)
    block_pieces.refuse_outside(spec, bodies, outer)
    lower, upper = (solid for part, solid in zip(spec.parts, laid, strict=True) if part.role == "half")
    before = enclosed.hollows((lower, upper), outer, bodies)
    hollows, shut = sealing.parted(spec, before, _cores(spec, bodies), _of(spec, bodies, "half"))
    named = classify.name(hollows, spec.hints.sprue_at_mm)
    if len(bodies) == 2 and spec.hints.sprue_at_mm is None:
        named = holding.between(named, bodies)
    told = hints.useless(spec, before, (*named.drilled, *named.recesses, *named.closed))
    held, meant = hints.with_told_bolts(spec, holding.held(named, outer, _of(spec, bodies, *BOLTED)))
    return Closed(
        spec=spec,
        laid=laid,
        bodies=bodies,
        vouches=[vouch for _, vouch in solids],
        outer=outer,
        trim_mm=trim_mm,
        hollows=hollows,
        named=held,
        findings=[*findings, *shut, *told, *meant],
        seen={},
    )


def parted(mold: Closed) -> tuple[Closed, list[Fed]]:
    """The mold's plastic parted, with each bait positive in the cavity that it fills."""
    spec = mold.spec
    shot_pieces = shot.plastic(spec, mold.named, _of(spec, mold.bodies, "half"), partial(_works, mold))
    pieces = hints.vented(spec, shot_pieces)
    told_gates.refuse_nowhere(spec, [piece for piece, _, _ in pieces])
    fed = [_part(mold, piece, mouth, n) for piece, mouth, n in pieces]
    laid, said = _with_positives(spec, mold.laid, [bait for one in fed for bait in one.parted.baits])
    return replace(mold, laid=laid, findings=[*mold.findings, *saying.of_sprues(len(fed)), *said]), fed


def _works(mold: Closed, sprue_at_mm: Vec3) -> bool:
    """True if the mold can be read with that sprue, perhaps after one of the gates that are offered then."""
    told = replace(mold.spec, hints=replace(mold.spec.hints, sprue_at_mm=sprue_at_mm))
    named = classify.name(mold.hollows, sprue_at_mm)
    named = holding.held(named, mold.outer, _of(mold.spec, mold.bodies, *BOLTED))
    seen: dict[tuple[int, int], Grown] = {}
    for count in dict.fromkeys((told.cavities, *TRIED_COUNTS)):
        try:
            parted(replace(mold, spec=replace(told, cavities=count), named=named, seen=seen, offers=True))
        except Faults as faults:
            if not any("at_mm" in p.remedy for p in faults.problems if p.where.key == "hints.gates"):
                continue
        return True
    return False


def _printed(spec: MoldSpec, bodies: Sequence[mesh.Body]) -> list[tuple[Role, mesh.Body]]:
    """The printed parts, each with its role."""
    roles = [part.role for part in spec.parts if part.role != "bait"]
    return list(zip(roles, bodies, strict=True))


def _of(spec: MoldSpec, bodies: Sequence[mesh.Body], *roles: Role) -> list[mesh.Body]:
    """The printed parts of some roles."""
    return [body for role, body in _printed(spec, bodies) if role in roles]


def _cores(spec: MoldSpec, bodies: Sequence[mesh.Body]) -> list[mesh.Body]:
    """The printed parts that are no halves: cores, plugs and blades."""
    return [body for role, body in _printed(spec, bodies) if role != "half"]


def _with_positives(
    spec: MoldSpec, laid: Sequence[Solid], baits: Sequence[mesh.Body]
) -> tuple[list[Solid], list[Finding]]:
    """The parts with each bait positive laid into the cavity it fills."""
    placed, findings = list(laid), []
    for k, part in enumerate(spec.parts):
        if part.role == "bait":
            placed[k], finding = registering.registered(part, laid[k], baits)
            findings.append(finding)
    return placed, findings


def _grown(mold: Closed, piece: Piece, mouth: Mouth) -> Grown:
    """The piece's vents and flow tree, looked for once."""
    key = id(piece.body), piece.mouths.index(mouth)
    if key not in mold.seen:
        pitch = split.pitch_for(piece.volume_mm3, mold.spec.hints.pitch_mm)
        refuse_fine_grid(mold.spec, mesh.solid(piece.body, "plastic"), pitch)
        mold.seen[key] = split.grown(piece, mouth, pitch)
    return mold.seen[key]


def _part(mold: Closed, piece: Piece, mouth: Mouth, count: int) -> Fed:
    """The piece parted, or the question where the gates are."""
    spec = mold.spec
    gates = told_gates.faces(spec)
    made = told_gates.opened(spec, _grown(mold, piece, mouth), gates)
    try:
        parted = split.part(made, count, gates, mold.offers)
    except Unsure as unsure:
        raise gate_question.asked(spec, count, mouth, unsure.ways) from None
    wide_question.refuse(spec, made, parted)
    film_question.refuse(spec, parted)
    well_question.refuse(spec, made, parted)
    if len(parted.baits) != count:
        what = f"the gates under hints divide the plastic into {len(parted.baits)} baits, not {count}"
        raise needs_hint(
            spec,
            "hints.gates",
            what,
            "one face at each gate, its normal pointing into the bait",
            "correct hints.gates or cavities",
        )
    return Fed(piece=made.piece, mouth=mouth, parted=parted)


def _reading(mold: Closed, fed: Sequence[Fed]) -> Reading:
    """All records of a parted mold."""
    spec, laid, named = mold.spec, mold.laid, mold.named
    baits: list[tuple[Bait, Solid]] = []
    vents: list[tuple[Vent, Solid]] = []
    said: list[Finding] = []
    grooved: list[float] = []
    for one in fed:
        names = [str(len(baits) + k + 1) for k in range(len(one.parted.baits))]
        spans = [
            sizes.spanned_between(body, one.parted.vents_of(k), one.parted.gates[k], one.parted.flow.plastic)
            for k, body in enumerate(one.parted.baits)
        ]
        said += saying.of_grooves(names, one.parted, spans)
        grooved += [span.groove_share for span in spans]
        baits += _baits(one, names, spans)
        vents += _vents(one.parted, names)
    sprue, runner = _feed(fed)
    feed = mesh.union(one.parted.feed for one in fed)
    holes = [mesh.solid(hole, f"bolt {k + 1}") for k, hole in enumerate(named.holes)]
    halves = [solid for part, solid in zip(spec.parts, laid, strict=True) if part.role == "half"]
    contoured = any(finding.code == assemble.CONTOURED for finding in mold.findings)
    everything = mesh.union(one.piece.body for one in fed)
    low, high = mesh.box(mold.outer)
    solids = [solid for _, solid in baits]
    loss = [records.faceting(solid) for solid in solids]
    share = max(0.0 if all(one.parted.flow.sure for one in fed) else UNSURE_SHARE, *(s for s, _ in loss))
    cores = _cores(spec, mold.bodies)
    pins = holding.pins((halves[0], halves[1]), named.closed)
    meant = hints.believed(spec.hints.pins, [pin.diameter_mm for pin in pins])
    said += [say for one in fed for say in saying.of_plastic(one.piece, one.mouth, one.parted, cores)]
    said += [say for one in fed for say in saying.of_seat(one.mouth, one.parted)]
    said += [say for one in fed for say in saying.of_risers(one.parted)]
    said += unfed.said(spec, named, [one.piece for one in fed], _of(spec, mold.bodies, "half"), solids)
    measurement = Measurement(
        slug=spec.slug,
        kind=spec.kind,
        size_mm=mesh.vec(high - low + 2 * mold.trim_mm),
        parts=tuple(
            records.part(part, solid, vouch, flat=not contoured)
            for part, solid, vouch in zip(spec.parts, laid, mold.vouches, strict=True)
        ),
        baits=tuple(record for record, _ in baits),
        sprue=sprue,
        runner=runner,
        vents=tuple(record for record, _ in vents),
        bolts=named.bolts,
        pins=tuple(pins[k] for k in meant),
        walls=walls.walls(
            [_skin(mold.outer, fed), *(mesh.solid(piece.body, "recess") for piece in named.recesses)],
            [(record.name, solid) for record, solid in baits],
            holes,
        ),
        projected_mm2=mesh.projected_mm2(everything),
        parting_mm2=matching.contact_mm2(halves[0], halves[1], contoured),
        volume_share=share + max(grooved) + _apart_share(mold, solids),
        length_error_mm=max(gap for _, gap in loss) + play.rim_mm(mold.findings),
        pitch_mm=fed[0].parted.flow.pitch_mm,
        findings=(
            *saying.of_gap(mold.findings, [record for record, _ in baits]),
            *said,
            *hints.chosen("pins", spec.hints.pins, len(pins), len(meant)),
        ),
    )
    geometry = Geometry(
        parts=tuple(laid),
        baits=tuple(solids),
        runner=mesh.solid(feed, "runner"),
        vents=tuple(solid for _, solid in vents),
        holes=tuple(holes),
    )
    return Reading(measurement=measurement, geometry=geometry)


def _skin(outer: mesh.Body, fed: Sequence[Fed]) -> Solid:
    """The mold's outside without the faces in which a bait itself opens: there is no wall."""
    skin = mesh.solid(outer, "hull")
    keep = np.ones(len(skin.faces), dtype=bool)
    for mouth in (mouth for one in fed for mouth in _open(one)):
        aside = np.abs((skin.vertices - mouth.at) @ mouth.normal)
        keep &= (aside[skin.faces] > OPEN_MM).any(axis=1)
    return replace(skin, faces=skin.faces[keep])


def _open(fed: Fed) -> Iterator[Mouth]:
    """Mouths in which the bait itself opens, without sprue or vent before it."""
    if any(np.linalg.norm(gate.at - fed.mouth.at) < OPEN_MM for gates in fed.parted.gates for gate in gates):
        yield fed.mouth
    for mouth in fed.piece.mouths:
        depths = [np.linalg.norm(cut.at - mouth.at) for _, cut, of in fed.parted.vents if of is mouth]
        if mouth is not fed.mouth and min(depths, default=0.0) < OPEN_MM:
            yield mouth


def _apart_share(mold: Closed, baits: Sequence[Solid]) -> float:
    """The share by which a bait is unsure because the faces of the halves do not meet; Faults if by much."""
    gap = figures.apart_mm(mold.findings)
    share = max(gap * mesh.projected_mm2(mesh.body(bait)) / mesh.volume_mm3(bait) for bait in baits)
    if share > APART_SHARE:
        what = f"the halves' faces are {gap:.2f} mm apart on average, which is {share:.0%} of a bait's volume"
        remedy = "let a mesh editor flatten both parting faces, or export them as drawn"
        raise needs_hint(mold.spec, "parts", what, "parting faces that meet", remedy)
    return share


def _baits(fed: Fed, names: Sequence[str], spans: Sequence[sizes.Spans]) -> list[tuple[Bait, Solid]]:
    """Each bait with its flow paths."""
    parted = fed.parted
    sweep = Sweep(plastic=parted.flow.plastic, tree=parted.flow.tree, pitch_mm=parted.flow.pitch_mm)
    made = []
    for k, (name, body, gates) in enumerate(zip(names, parted.baits, parted.gates, strict=True)):
        volume_ml = mesh.volume_ml(body)
        ends = tuple(cut.at for _, cut in parted.vents_of(k, only_open=True))
        others = [gate for gates in (*parted.gates[:k], *parted.gates[k + 1 :]) for gate in gates]
        paths = sweep.paths(name, gates, volume_ml, ends, spans[k].corners, others=others)
        narrow = thinnest(sweep, paths, volume_ml)
        made.append(records.bait(name, body, gates, paths, narrow=narrow, spans=spans[k]))
    return made


def _vents(parted: Parted, names: Sequence[str]) -> list[tuple[Vent, Solid]]:
    """Each vent with its solid; one that leaves the runner drains no bait."""
    return [
        (records.vent(body, cut, mouth, "" if of is None else names[of]), mesh.solid(body, "vent"))
        for (body, cut, mouth), of in zip(parted.vents, parted.vent_of, strict=True)
    ]


def _feed(fed: Sequence[Fed]) -> tuple[Sprue, Runner]:
    """Sprues and runners together; mouth and direction are those of the first."""
    feeds = [sprue_end.sprue_and_runner(one.parted, one.mouth) for one in fed]
    sprues = mesh.union(feed.sprue for feed in feeds)
    runners = mesh.union(feed.runner for feed in feeds if feed.runner is not None)
    risers = mesh.union(riser for one in fed for riser in one.parted.risers)
    sprue_mm = sprue_end.modulus_mm(sprues, sum(feed.sprue_open_mm2 for feed in feeds))
    runner_mm = sprue_end.modulus_mm(runners, sum(feed.runner_open_mm2 for feed in feeds))
    mouth = fed[0].mouth
    return (
        Sprue(
            mouth_mm=mesh.vec(mouth.at),
            direction=mesh.vec(-mouth.normal),
            mouth_diameter_mm=classify.round_diameter(mouth),
            volume_ml=mesh.volume_ml(sprues),
            modulus_mm=sprue_mm,
        ),
        Runner(
            volume_ml=mesh.volume_ml(runners) + mesh.volume_ml(risers),
            modulus_mm=runner_mm if runners.volume() > 0 else sprue_mm,  # a riser feeds nothing
        ),
    )
