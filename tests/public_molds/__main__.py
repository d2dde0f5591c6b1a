"""Reads the public molds and writes the table of the method page.

`python -m tests.public_molds --folder DOWNLOADS --write`. DOWNLOADS holds each repository of the catalogue
at its commit, as DOWNLOADS/OWNER/NAME. Every file is held against its digest first.
"""

from __future__ import annotations

import argparse
import datetime
import hashlib
import json
import tempfile
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

import numpy as np
import trimesh
import yaml
from scipy.spatial import ConvexHull

import builder
from builder.base import store
from builder.measure.closing.assemble import placing_of
from builder.model import Placing
from tests.cad_molds.reader_door import Faults, read_folder
from tests.public_molds.catalogue import MOLDS, File, Public, Truth
from tests.public_molds.columns import Array, Bounds, hollow_ml

TABLE = Path(builder.__file__).parent / "tables" / "public-molds.yaml"
SHARE = 0.006
"""A reading is right within this share of the truth."""
HEAD = """# What came of reading molds that strangers published, as they filed them:
# python -m tests.public_molds --folder DOWNLOADS --write
# expected_ml is found without the reading: by columns between the facets, or from the maker's own drawing.
# None of the files is kept here; each is told by its digest.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """How a mold came out; `volume_ml` is of all its baits together."""

    mold: Public
    outcome: str
    volume_ml: float | None
    expected_ml: float | None
    reason: str = ""


def content(folder: Path, mold: Public, file: File) -> bytes:
    """The bytes of a published file; AssertionError where they are not those of the catalogue."""
    path, _, member = file.path.partition("#")
    found = (folder / mold.repository / path).read_bytes()
    if member:
        with zipfile.ZipFile(BytesIO(found)) as archive:
            found = archive.read(member)
    assert hashlib.sha256(found).hexdigest() == file.sha256, f"{mold.repository}: {file.path} is another file"
    return found


def expected_ml(folder: Path, mold: Public, truth: Truth) -> float:
    """The volume without the reading, mL."""
    if truth.drawing:
        facets = _facets(content(folder, mold, truth.drawing))
        return (
            abs(float(np.einsum("ij,ij->i", facets[:, 0], np.cross(facets[:, 1], facets[:, 2])).sum())) / 6000
        )
    parts = [_facets(content(folder, mold, file)) for file in mold.files]
    for k, (turn_deg, move_mm) in enumerate(truth.places):
        turn, move = placing_of(Placing(turn_deg=turn_deg, move_mm=move_mm))
        parts[k] = parts[k] @ turn.T + move
    parts += [_box(np.array(low), np.array(high)) for low, high in truth.plugs]
    return hollow_ml(parts, _bounds(parts, truth), truth.seed, truth.pitch_mm)


def _bounds(parts: Sequence[Array], truth: Truth) -> Bounds:
    """Where to look: as told, else within the parts' box; where asked for, within their hull too."""
    points = np.concatenate(parts).reshape(-1, 3)
    low, high = points.min(axis=0), points.max(axis=0)
    told = truth.bounds or Bounds(low=tuple(low), high=tuple(high))
    if not truth.hull:
        return told
    sides = np.unique(ConvexHull(points).equations.round(6), axis=0)
    cuts = tuple(
        (tuple(-offset * normal), tuple(normal))
        for *normal_, offset in sides
        for normal in [np.array(normal_)]
    )
    return Bounds(low=told.low, high=told.high, cuts=cuts)


def _box(low: Array, high: Array) -> Array:
    return np.asarray(trimesh.creation.box(bounds=[low, high]).triangles, dtype=np.float64)


def _facets(stl: bytes) -> Array:
    return np.asarray(trimesh.load_mesh(BytesIO(stl), file_type="stl").triangles, dtype=np.float64)


def kept(folder: Path, mold: Public, keep: Path | None) -> Row:
    """The mold's row, from `keep` where the same code has read the same mold; else read, and kept there."""
    key = hashlib.sha256(f"{_reader()} {mold!r}".encode()).hexdigest()[:24]
    place = keep / f"{key}.json" if keep else None
    if place and place.exists():
        return Row(mold=mold, **json.loads(place.read_text("utf-8")))
    row = read(folder, mold)
    if place:
        told = {name: getattr(row, name) for name in ("outcome", "volume_ml", "expected_ml", "reason")}
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_text(json.dumps(told), "utf-8")
    return row


def read(folder: Path, mold: Public) -> Row:
    """The mold read with the shortest spec, then with the catalogue's answers to what is asked."""
    expected = expected_ml(folder, mold, mold.truth) if mold.truth else None
    parts = [
        {"file": f"part-{k}.stl"} | ({"role": file.role} if file.role else {})
        for k, file in enumerate(mold.files)
    ]
    spec: dict[str, object] = {
        "title": mold.kind,
        "parts": parts,
        "cavities": mold.cavities,
        "plastisol": "soft",
    }
    if mold.pour != "injection":
        spec["kind"] = mold.pour
    answers = list(mold.answers)
    with tempfile.TemporaryDirectory() as place:
        here = Path(place) / "mold"
        here.mkdir()
        for k, file in enumerate(mold.files):
            (here / f"part-{k}.stl").write_bytes(content(folder, mold, file))
        while True:
            (here / "mold.yaml").write_text(yaml.safe_dump(spec, sort_keys=False), "utf-8")
            try:
                found = read_folder(here)
            except Faults as faults:
                print(f"   asked: {faults.problems[0].what}", flush=True)
                if not answers:
                    return Row(
                        mold=mold,
                        outcome="refused",
                        volume_ml=None,
                        expected_ml=expected,
                        reason=faults.problems[0].what,
                    )
                spec |= _pasted(answers.pop(0), faults.problems[0].remedy)
            else:
                volume = sum(bait.volume_ml for bait in found.baits)
                right = expected is not None and abs(volume - expected) <= SHARE * expected
                told = len(answers) < len(mold.answers)
                outcome = "wrong" if not right else "right after a hint" if told else "right"
                return Row(mold=mold, outcome=outcome, volume_ml=volume, expected_ml=expected)


def _pasted(answer: str | int, remedy: str) -> dict[str, object]:
    """What mold.yaml gains: the told line, or the offered one of this number."""
    line = answer if isinstance(answer, str) else remedy.split("\n")[1:][answer]
    made = yaml.safe_load(line)
    assert isinstance(made, dict)
    return made


def table(rows: Sequence[Row], read_on: str, reader: str) -> str:
    """The table's text."""
    lines = [HEAD, f'read_on: "{read_on}"\n', f"reader: {reader}\n", "molds:\n"]
    for row in rows:
        entry = {
            "kind": row.mold.kind,
            "source": row.mold.repository,
            "commit": row.mold.commit,
            "files": [{"path": file.path, "sha256": file.sha256} for file in row.mold.files],
            "outcome": row.outcome,
            "volume_ml": None if row.volume_ml is None else round(row.volume_ml, 4),
            "expected_ml": None if row.expected_ml is None else round(row.expected_ml, 4),
        }
        lines.append(yaml.safe_dump([entry], sort_keys=False, width=1000))
    return "".join(lines)


def _reader() -> str:
    """The version of Shotbook, and of the code that reads."""
    return f"{store.library_version('shotbook')} ({store.stage_version('measure')[:12]})"


def main(arguments: Sequence[str] | None = None) -> None:
    """Read all, print each, and keep the table where asked."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0] if __doc__ else None)
    parser.add_argument("--folder", type=Path, required=True, help="where the repositories are")
    parser.add_argument("--keep", type=Path, help="a folder for rows that are done, so that a run can go on")
    parser.add_argument("--only", default="", help="molds whose kind holds this")
    parser.add_argument("--write", action="store_true", help="keep the table in builder/tables")
    chosen = parser.parse_args(arguments)
    rows = []
    for mold in (one for one in MOLDS if chosen.only in one.kind):
        row = kept(chosen.folder, mold, chosen.keep)
        rows.append(row)
        print(
            f"{mold.kind}: {row.outcome}, read {row.volume_ml}, expected {row.expected_ml}; {row.reason}",
            flush=True,
        )
    if chosen.write and not chosen.only:
        text = table(rows, datetime.datetime.now(tz=datetime.UTC).date().isoformat(), _reader())
        TABLE.write_text(text, "utf-8")


if __name__ == "__main__":
    main()
