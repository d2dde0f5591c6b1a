"""Read random molds and print what came out: `python -m tests.random_molds --seeds 200`.

Each mold is read as a maker would: first with the shortest spec; where the reading refuses and names a
key of mold.yaml, the key is given (from the drawing) and the mold read again, as often as it asks.
`--write` keeps the table for the method page.
"""

from __future__ import annotations

import argparse
import math
import time
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from manifold3d import Manifold

from builder import build, mesh
from builder.base.problems import Faults
from builder.measure.closing import assemble
from builder.model import LengthUnit, Measurement, MoldSpec, PartSpec, Placing, Role, Solid, Vec3, Vouch
from tests.shapes import Array
from tests.shapes_files import binary_stl, grounded, triangles
from tests.shapes_random import UNITS, Case, random_case

TABLE = Path(__file__).parent.parent / "builder" / "tables" / "reading-outcomes.yaml"
TOLERANCE = 0.005
ROUNDS = 6
KINDS = {
    "right": "right at once, every bait within 0.5 %",
    "right after a hint": "refused, named a hint, and right once it was given",
    "wrong with a warning": "wrong, and said that it was not sure",
    "refused": "refused, and the hint it named did not help",
    "wrong": "wrong without a warning",
    "crashed": "ended with a traceback",
}
Loaded = Sequence[tuple[Solid, Vouch]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What came of one mold. `worst` is the largest relative error of a bait's volume, where there is one."""

    seed: int
    kind: str
    features: tuple[str, ...]
    hints: tuple[str, ...]
    worst: float | None
    seconds: float
    note: str = ""


def read_now(spec: MoldSpec, contents: Sequence[bytes]) -> Measurement:
    """The measurement of these files; Faults where they cannot be read for sure."""
    return build.read(spec, contents).measurement


def outcome(case: Case, read: Callable[[MoldSpec, Sequence[bytes]], Measurement] = read_now) -> Outcome:
    """Read the mold, giving each hint that is asked for."""
    start, hints = time.perf_counter(), list[str]()
    kind, worst, note = "refused", None, ""
    contents = stl_files(case)
    spec = shortest_spec(case)
    try:
        for _ in range(ROUNDS):
            solids: Loaded = ()
            try:
                solids = loaded(spec, contents)
                found = read(spec, contents)
            except Faults as faults:
                note, key = str(faults.problems[0]), faults.problems[0].where.key
                better = with_hint(case, spec, solids, key)
                if better is None or key in hints:
                    hints.append(key)
                    break
                hints.append(key)
                spec = better
                continue
            kind, worst, note = judged(case, found, hints)
            break
    except Exception as error:  # noqa: BLE001 - a crash is one of the outcomes that are counted
        kind, note = "crashed", f"{type(error).__name__}: {error}"
    return Outcome(
        seed=case.seed,
        kind=kind,
        features=case.features,
        hints=tuple(hints),
        worst=worst,
        seconds=time.perf_counter() - start,
        note=note,
    )


def judged(case: Case, found: Measurement, hints: Sequence[str]) -> tuple[str, float | None, str]:
    """The kind of outcome, the worst error and what to say of it."""
    got, true = sorted(bait.volume_ml for bait in found.baits), sorted(case.mold.bait_ml)
    warned = any(finding.level != "note" for finding in found.findings)
    if len(got) != len(true):
        return (
            ("wrong with a warning" if warned else "wrong"),
            None,
            f"{len(got)} baits instead of {len(true)}",
        )
    worst = max(abs(a / b - 1) for a, b in zip(got, true, strict=True))
    if worst > TOLERANCE:
        volumes = f"{[round(v, 3) for v in got]} instead of {[round(v, 3) for v in true]}"
        return ("wrong with a warning" if warned else "wrong"), worst, volumes
    return ("right after a hint" if hints else "right"), worst, ""


# -- handing over ----------------------------------------------------------------------------------


def shortest_spec(case: Case) -> MoldSpec:
    """Title, parts, cavities, plastisol and unit: nothing that a maker need not write."""
    roles: list[Role] = ["half", "half"]
    roles += ["core" if name == "core" else "blade" for name, _ in case.mold.parts[2:]]
    names = [name for name, _ in case.mold.parts]
    if case.positive is not None:
        names, roles = [*names, "bait"], [*roles, "bait"]
    units: LengthUnit = case.told  # type: ignore[assignment]
    return MoldSpec(
        slug=f"random-{case.seed}",
        folder=Path(f"random-{case.seed}"),
        title="Random mold",
        kind="injection",
        parts=tuple(
            PartSpec(file=f"{name}.stl", path=Path(f"{name}.stl"), role=role, name=name)
            for name, role in zip(names, roles, strict=True)
        ),
        cavities=len(case.mold.baits),
        plastisol="medium",
        mold_material="pla",
        units=units,
    )


def stl_files(case: Case) -> list[bytes]:
    """The files in the order of the spec's parts."""
    posed = list(case.pose(case.mold))
    if case.positive is not None:
        posed.append(grounded(case.positive.rotate((0.0, 0.0, 20.0))))
    return [binary_stl(triangles(solid) * UNITS[case.units]) for solid in posed]


def loaded(spec: MoldSpec, contents: Sequence[bytes]) -> Loaded:
    """The parts as the mesh reader gives them."""
    pairs = zip(spec.parts, contents, strict=True)
    return [mesh.read(content, part.file, part.units or spec.units) for part, content in pairs]


# -- hints -----------------------------------------------------------------------------------------


def with_hint(case: Case, spec: MoldSpec, solids: Loaded, key: str) -> MoldSpec | None:
    """The spec with the named key filled in from the drawing; None where the drawing has no answer."""
    kind = key.rsplit(".", 1)[-1] if key.startswith("hints.") else key.rsplit("].", maxsplit=1)[-1]
    give = GIVERS.get(kind)
    return give(case, spec, solids) if give else None


def _gates(case: Case, spec: MoldSpec, solids: Loaded) -> MoldSpec | None:
    to = frame_of(case, spec, solids)
    gates = tuple((vec(to.point(gate.at)), vec(to.way(gate.normal))) for gate in case.mold.gates)
    return replace(spec, hints=replace(spec.hints, gates_at_mm=gates))


def _sprue(case: Case, spec: MoldSpec, solids: Loaded) -> MoldSpec | None:
    if case.mold.sprue is None:
        return None
    at = vec(frame_of(case, spec, solids).point(case.mold.sprue.at))
    return replace(spec, hints=replace(spec.hints, sprue_at_mm=at))


def _vent_mouths(case: Case, spec: MoldSpec, solids: Loaded) -> MoldSpec | None:
    to = frame_of(case, spec, solids)
    middles = [np.array(vent.bounding_box()).reshape(2, 3).mean(axis=0) for vent in case.mold.vents]
    return replace(spec, hints=replace(spec.hints, vents_at_mm=tuple(vec(to.point(p)) for p in middles)))


def _ignore(case: Case, spec: MoldSpec, solids: Loaded) -> MoldSpec | None:
    to = frame_of(case, spec, solids)
    inside = [(*hole.at, 0.0) for hole in case.mold.holes]
    return replace(spec, hints=replace(spec.hints, ignore_at_mm=tuple(vec(to.point(p)) for p in inside)))


def _placing(case: Case, spec: MoldSpec, solids: Loaded) -> MoldSpec | None:
    """Where every part lies in the drawing's own closed frame."""
    del solids
    drawn = [solid for _, solid in case.mold.parts]
    posed = list(case.pose(case.mold))
    if case.positive is not None:
        drawn, posed = [*drawn, case.positive], [*posed, grounded(case.positive.rotate((0.0, 0.0, 20.0)))]
    placings = [Motion.between(corners(p), corners(d)).placing() for p, d in zip(posed, drawn, strict=True)]
    parts = tuple(replace(part, placing=p) for part, p in zip(spec.parts, placings, strict=True))
    return replace(spec, parts=parts)


def _parting(case: Case, spec: MoldSpec, solids: Loaded) -> MoldSpec | None:
    """The parting face of both halves, in their files' own coordinates."""
    del solids
    faces = []
    for (_, drawn), posed, up in zip(case.mold.parts[:2], case.pose(case.mold), (1.0, -1.0), strict=False):
        to = Motion.between(corners(drawn), corners(posed))
        x, y = drawn.bounding_box()[:2]
        faces.append((vec(to.point((x + 0.5, y + 0.5, 0.0))), vec(to.way((0.0, 0.0, up)))))
    parts = [replace(part, parting=face) for part, face in zip(spec.parts, faces, strict=False)]
    return replace(spec, parts=(*parts, *spec.parts[2:]))


def _units(case: Case, spec: MoldSpec, solids: Loaded) -> MoldSpec | None:
    del solids
    units: LengthUnit = case.units  # type: ignore[assignment]
    return None if spec.units == units else replace(spec, units=units)


GIVERS: dict[str, Callable[[Case, MoldSpec, Loaded], MoldSpec | None]] = {
    "gates": _gates,
    "sprue_at_mm": _sprue,
    "vents_at_mm": _vent_mouths,
    "ignore_at_mm": _ignore,
    "placing": _placing,
    "parting": _parting,
    "units": _units,
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Motion:
    """x -> turn @ x + move; the turn may mirror."""

    turn: Array
    move: Array

    @classmethod
    def between(cls, before: Array, after: Array) -> Motion:
        """The motion that takes one set of points (n, 3) to another, by least squares."""
        matrix = np.column_stack([before, np.ones(len(before))])
        found = np.linalg.lstsq(matrix, after, rcond=None)[0]
        return cls(turn=np.asarray(found[:3].T, np.float64), move=np.asarray(found[3], np.float64))

    def after(self, first: Motion) -> Motion:
        """This motion done after another."""
        return Motion(turn=self.turn @ first.turn, move=self.turn @ first.move + self.move)

    def point(self, at: Sequence[float] | Array) -> Array:
        """Where a point comes to lie."""
        return np.asarray(self.turn @ np.asarray(at) + self.move)

    def way(self, direction: Sequence[float]) -> Array:
        """Where a direction comes to point."""
        return np.asarray(self.turn @ np.asarray(direction))

    def placing(self) -> Placing:
        """As the spec writes it: mirrored in x, turned about x, y, z, then moved."""
        mirror = bool(np.linalg.det(self.turn) < 0)
        r = self.turn @ np.diag([-1.0 if mirror else 1.0, 1.0, 1.0])
        y = math.asin(max(-1.0, min(1.0, -r[2, 0])))
        if abs(r[2, 0]) < 1 - 1e-9:
            x, z = math.atan2(r[2, 1], r[2, 2]), math.atan2(r[1, 0], r[0, 0])
        else:
            x, z = math.atan2(-r[1, 2], r[1, 1]), 0.0
        degrees = tuple(math.degrees(angle) for angle in (x, y, z))
        return Placing(turn_deg=vec(degrees), move_mm=vec(self.move), mirror=mirror)


def frame_of(case: Case, spec: MoldSpec, solids: Loaded) -> Motion:
    """From the drawing's closed frame to the one that the reading uses, and shows in its pictures."""
    if spec.parts[0].placing is not None:
        return Motion(turn=np.eye(3), move=np.zeros(3))
    halves = replace(spec, parts=spec.parts[:2])
    first = solids[0][0]
    laid, _ = assemble.closed(halves, [solid for solid, _ in solids[:2]])
    filed = Motion.between(corners(case.mold.parts[0][1]), corners(case.pose(case.mold)[0]))
    return Motion.between(first.vertices, laid[0].vertices).after(filed)


def corners(solid: Manifold) -> Array:
    """Corners of all facets (n, 3), in the solid's own order."""
    return triangles(solid).reshape(-1, 3)


def vec(values: Iterable[float]) -> Vec3:
    """Three plain numbers."""
    x, y, z = (float(value) for value in values)
    return (x, y, z)


# -- table -----------------------------------------------------------------------------------------


def table(outcomes: Sequence[Outcome]) -> str:
    """The outcomes counted, altogether and by feature, as YAML."""
    right = [one.worst for one in outcomes if one.worst is not None and one.kind.startswith("right")]
    lines = [
        "# What came of reading random molds: python -m tests.random_molds --seeds 200 --write",
        f"molds: {len(outcomes)}",
        f"tolerance_share: {TOLERANCE}",
        f"worst_right_share: {max(right, default=0.0):.5f}",
        "outcomes:",
        *(f"  {kind}: {count}" for kind, count in counted(outcomes).items()),
        "features:",
    ]
    for feature in sorted({feature for one in outcomes for feature in one.features}):
        mine = counted([one for one in outcomes if feature in one.features])
        counts = ", ".join(f"{kind}: {count}" for kind, count in mine.items() if count)
        lines.append(f"  {feature}: {{{counts}}}")
    return "\n".join([*lines, ""])


def counted(outcomes: Sequence[Outcome]) -> dict[str, int]:
    """How many molds of each kind."""
    kinds = Counter(one.kind for one in outcomes)
    return {kind: kinds[kind] for kind in KINDS}


def main(arguments: Sequence[str] | None = None) -> None:
    """Read the molds of the seeds, tell what came of each, and print the table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--seeds", type=int, default=200, help="how many molds")
    parser.add_argument("--first", type=int, default=0, help="the first seed")
    parser.add_argument("--write", action="store_true", help="keep the table in builder/tables")
    chosen = parser.parse_args(arguments)
    outcomes = []
    for seed in range(chosen.first, chosen.first + chosen.seeds):
        one = outcome(random_case(seed))
        outcomes.append(one)
        about = f"; hints {list(one.hints)}; {list(one.features)}; {one.note}" if one.kind != "right" else ""
        print(f"{seed}: {one.kind} ({one.seconds:.1f} s){about}", flush=True)
    for kind, count in counted(outcomes).items():
        print(f"{count:5d}  {KINDS[kind]}")
    text = table(outcomes)
    print(f"\n{text}")
    if chosen.write:
        TABLE.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
