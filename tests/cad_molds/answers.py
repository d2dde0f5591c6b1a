"""What a maker writes into mold.yaml: the shortest facts, then what a message asks for."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from pathlib import Path

import yaml

from tests.cad_molds.primitives import Point, stl
from tests.cad_molds.reader_door import Problem
from tests.cad_molds.records import Case

Spec = dict[str, object]
NUMBERS = re.compile(r"\[\s*(-?[\d.]+),\s*(-?[\d.]+),\s*(-?[\d.]+)\s*\]")


def shortest(case: Case) -> Spec:
    """The four needed keys, the kind and unit where they are unusual, roles where they are."""
    parts: list[object] = [{"file": f.name, "role": f.role} if f.role else f.name for f in case.files]
    spec: Spec = {"title": case.name, "parts": parts, "cavities": case.cavities, "plastisol": "soft"}
    if case.kind != "injection":
        spec["kind"] = case.kind
    if case.unit:
        spec["units"] = case.unit
    return spec


def lay(case: Case, folder: Path, spec: Spec) -> None:
    """Write the files and mold.yaml."""
    folder.mkdir(exist_ok=True)
    for file in case.files:
        (folder / file.name).write_bytes(stl(file.corners))
    (folder / "mold.yaml").write_text(yaml.safe_dump(spec, sort_keys=False, default_flow_style=None), "utf-8")


def answered(case: Case, spec: Spec, problem: Problem, turn: int) -> tuple[Spec, str] | None:
    """The spec with what the problem asks for, and what was added; None if it names no key that can be told.

    `turn` counts the answers given so far: a point is told as suggested if one of the suggestions is right,
    else in the frame that is likeliest, at the next turn in the next likely one.
    """
    key = problem.where.key
    made: Spec = {**spec, "parts": [dict(p) if isinstance(p, dict) else p for p in _list(spec["parts"])]}
    if key == "units":
        made["units"] = case.true_unit
        return made, f"units: {case.true_unit}"
    if (key == "parts" or key.endswith(".parting")) and "\nparts: [" in problem.remedy:
        return {**made, **yaml.safe_load(problem.remedy.splitlines()[1])}, "parts as offered"
    part = re.match(r"parts(?:\[(\d+)\])?\.?(placing|parting)?", key)
    if part and (part.group(2) or "placing" in problem.remedy):
        return _placed(case, made), "placing of all parts"
    named = re.match(r"hints\.(\w+)", key)
    if named:
        return _hinted(case, made, named.group(1), problem, turn)
    return None


def _list(value: object) -> list[object]:
    assert isinstance(value, list)
    return value


def _placed(case: Case, made: Spec) -> Spec:
    """Every part told how it is laid into the closed mold."""
    laid = []
    for file in case.files:
        one: Spec = {"file": file.name}
        if file.role:
            one["role"] = file.role
        one["placing"] = {"turn_deg": _rounded(file.turn_deg), "move_mm": _rounded(file.move_mm)}
        laid.append(one)
    made["parts"] = laid
    return made


def _rounded(point: Point) -> list[float]:
    return [round(v, 4) + 0.0 for v in point]


def frames(case: Case) -> Iterator[tuple[Point, Point]]:
    """Likely maps (signs, move) from the drawing's frame: centred, half round, as drawn, upside down."""
    box = case.halves[0].bounding_box()
    x, y = (box[0] + box[3]) / 2.0, (box[1] + box[4]) / 2.0
    yield (1, 1, 1), (-x, -y, 0.0)
    yield (-1, -1, 1), (x, y, 0.0)
    yield (1, 1, 1), (0.0, 0.0, 0.0)
    yield (1, -1, -1), (-x, y, 0.0)
    yield (-1, 1, -1), (x, -y, 0.0)


def _mapped(point: Point, frame: tuple[Point, Point]) -> Point:
    made = [s * p + m for s, p, m in zip(frame[0], point, frame[1], strict=True)]
    return made[0], made[1], made[2]


def _suggested(problem: Problem, case: Case, truths: tuple[Point, ...], reach: float) -> list[list[float]]:
    """The suggested points that are right in a likely frame."""
    offered = [[float(v) for v in found] for found in NUMBERS.findall(f"{problem.what} {problem.remedy}")]
    for frame in frames(case):
        wanted = [_mapped(t, frame) for t in truths]
        near = [
            p
            for p in offered
            if any(sum((a - b) ** 2 for a, b in zip(p, w, strict=True)) < reach**2 for w in wanted)
        ]
        if near:
            return near
    return []


def _hinted(case: Case, made: Spec, name: str, problem: Problem, turn: int) -> tuple[Spec, str] | None:
    """A hint added: the suggestion if it is right, else the truth in a likely frame."""
    truths, frame = case.truths, [*frames(case)][turn % 3]
    hints = dict(made.get("hints") or {})  # type: ignore[call-overload]
    value: object
    if name == "sprue_at_mm" and truths.mouth_mm:
        near = _suggested(problem, case, (truths.mouth_mm,), 4.0)
        value = near[0] if near else _rounded(_mapped(truths.mouth_mm, frame))
    elif name == "sprue_direction" and truths.direction:
        value = _rounded(_mapped(truths.direction, (frame[0], (0.0, 0.0, 0.0))))
    elif name == "gates" and truths.gates:
        value = _gates(case, frame)
    elif name == "vents_at_mm":
        near = _suggested(problem, case, truths.vents_at_mm, 3.0)
        value = near or [_rounded(_mapped(p, frame)) for p in truths.vents_at_mm]
    elif name == "ignore_at_mm" and truths.ignore_at_mm:
        value = [_rounded(_mapped(p, frame)) for p in truths.ignore_at_mm]
    else:
        plain: Mapping[str, object] = {
            "bolts": len(truths.bolts_mm),
            "pins": truths.pins,
            "eye_mm": truths.eye_mm[0] if truths.eye_mm else None,
            "pitch_mm": 0.2,
        }
        value = plain.get(name)
    if value is None:
        return None
    hints[name] = value
    made["hints"] = hints
    return made, f"hints.{name}: {value}"


def _gates(case: Case, frame: tuple[Point, Point]) -> list[object]:
    turned = (frame[0], (0.0, 0.0, 0.0))
    return [
        {"at_mm": _rounded(_mapped(g.at_mm, frame)), "normal": _rounded(_mapped(g.normal, turned))}
        for g in case.truths.gates
    ]
