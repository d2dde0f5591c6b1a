"""Reads the mesh of a 3MF file: a zip with one XML model (3MF Consortium, core specification 1.3).

Read with the standard library alone, a piece at a time, so that a hostile file costs no more than a large
mesh: entries, unpacked bytes, corners, facets and the depth of components are bounded. A document type, in
which entities could be declared, is refused.
"""

from __future__ import annotations

import io
import re
import struct
import zipfile
import zlib
from array import array
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import IO
from xml.parsers import expat

import numpy as np
from numpy.typing import NDArray

from builder.base import limits
from builder.base.problems import Faults
from builder.mesh.stl import LARGEST, fault, refuse_many_facets

F64 = NDArray[np.float64]
MM: Mapping[str, float] = {
    "micron": 0.001,
    "millimeter": 1.0,
    "centimeter": 10.0,
    "inch": 25.4,
    "foot": 304.8,
    "meter": 1000.0,
}
"""Millimetres in each unit of the specification; it is millimeter where a file tells none."""
_MODEL = "3D/3dmodel.model"
_TARGET = re.compile(rb"<Relationship\b[^>]*>", re.S)
_PIECE = 1 << 16
_DEEPEST = 8
_MOST_PLACED = 20_000
_DAMAGED = (
    *(zipfile.BadZipFile, zlib.error, struct.error, NotImplementedError, RuntimeError, EOFError, OSError),
    *(ValueError, LookupError, OverflowError),
)
"""What a damaged zip makes the standard library raise."""
_AGAIN = "export it again, or as STL"
_Found = Callable[[str], Faults]


@dataclass(slots=True)
class _Object:
    """One object: a mesh, or others put together."""

    corners: array[float] = field(default_factory=lambda: array("d"))
    faces: array[int] = field(default_factory=lambda: array("q"))
    components: list[tuple[str, F64]] = field(default_factory=list)


@dataclass(slots=True)
class _Model:
    """What is read of the model so far."""

    unit: str = "millimeter"
    objects: dict[str, _Object] = field(default_factory=dict)
    items: list[tuple[str, F64]] = field(default_factory=list)
    current: _Object | None = None
    counts: dict[str, int] = field(default_factory=lambda: {"vertex": 0, "triangle": 0, "placed": 0})


def corners_mm(data: bytes, file: str) -> F64:
    """Corners (n, 3, 3) in mm of all that the file builds, where it builds it; n > 0. Raises Faults."""
    model = _read(data, file)
    placed = [_placed(model, name, turn, file, 0) for name, turn in model.items]
    refuse_many_facets(sum(len(part) for part in placed), file)
    corners = np.concatenate(placed) if placed else np.empty((0, 3, 3))
    if not len(corners):
        raise fault(file, "the 3MF builds no mesh", "an object with facets in its build", _AGAIN)
    if np.abs(corners).max() > LARGEST:
        raise fault(
            file, f"a corner lies {np.abs(corners).max():.3g} from the origin", f"less than {LARGEST:.0g}"
        )
    return corners * MM[model.unit]


def _read(data: bytes, file: str) -> _Model:
    """The model in the zip."""

    def damaged(why: str) -> Faults:
        return fault(file, f"the 3MF cannot be read ({why})", "a 3MF with one model", _AGAIN)

    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            names = archive.namelist()
            if len(names) > limits.ZIP_ENTRIES:
                raise damaged(f"it holds {len(names)} files")
            name = _model_name(archive, names)
            if name not in names:
                raise damaged("there is no 3D model in the zip")
            with archive.open(name) as model:
                return _parsed(model, damaged)
    except _DAMAGED as error:
        raise damaged(str(error)[:80] or type(error).__name__) from None


def _model_name(archive: zipfile.ZipFile, names: list[str]) -> str:
    """The model that the package starts with."""
    if "_rels/.rels" in names:
        with archive.open("_rels/.rels") as relations:
            for one in _TARGET.findall(relations.read(_PIECE)):
                target = re.search(rb'\bTarget="/?([^"]{1,200})"', one)
                if b'/3dmodel"' in one and target:
                    return target[1].decode("utf-8", "replace")
    return _MODEL


def _parsed(model: IO[bytes], damaged: _Found) -> _Model:
    """The model's XML, a piece at a time."""
    made = _Model()
    parser = expat.ParserCreate()
    parser.buffer_text = True

    def refuse(*_: object) -> None:
        raise damaged("it declares a document type")

    parser.StartDoctypeDeclHandler = refuse
    parser.StartElementHandler = lambda tag, given: _element(made, tag.rpartition(":")[2], given, damaged)
    size = 0
    try:
        while piece := model.read(_PIECE):
            size += len(piece)
            if size > limits.MODEL_BYTES:
                raise damaged(f"its model has more than {limits.MODEL_BYTES} bytes")
            parser.Parse(piece, False)
        parser.Parse(b"", True)
    except expat.ExpatError as error:
        raise damaged(f"line {error.lineno}: {expat.ErrorString(error.code)}") from None
    except (KeyError, ValueError) as error:
        raise damaged(f"{type(error).__name__} {str(error)[:60]}") from None
    return made


def _element(made: _Model, tag: str, given: dict[str, str], damaged: _Found) -> None:
    """Take what an element tells."""
    if tag in ("vertex", "triangle"):
        made.counts[tag] += 1
        most = limits.FACETS if tag == "triangle" else 3 * limits.FACETS
        if made.counts[tag] > most or made.current is None:
            raise damaged(f"more than {most} elements {tag}, or one outside an object")
        if tag == "vertex":
            made.current.corners.extend((float(given["x"]), float(given["y"]), float(given["z"])))
        else:
            made.current.faces.extend((int(given["v1"]), int(given["v2"]), int(given["v3"])))
    elif tag == "model":
        made.unit = given.get("unit", "millimeter")
        if made.unit not in MM:
            raise damaged(f"the unit {made.unit[:20]} is none")
    elif tag == "object":
        made.current = made.objects[given["id"]] = _Object()
    elif tag in ("component", "item"):
        if any(name.endswith(":path") for name in given):
            raise damaged("its parts lie in further files in the zip")
        listed = made.items if tag == "item" or made.current is None else made.current.components
        listed.append((given["objectid"], _transform(given.get("transform", ""))))
        if len(listed) > limits.BODIES:
            raise damaged(f"it puts more than {limits.BODIES} bodies together")


def _transform(text: str) -> F64:
    """The matrix (4, 3) of a transform: a corner as a row, with a 1 behind it, times this."""
    if not text:
        return np.eye(4)[:, :3]
    numbers = [float(number) for number in text.split()]
    if len(numbers) != 12:
        raise ValueError("a transform has 12 numbers")
    return np.array(numbers).reshape(4, 3)


def _placed(model: _Model, name: str, turn: F64, file: str, depth: int) -> F64:
    """Corners (n, 3, 3) of an object and of what it is put together from, transformed."""
    one = model.objects.get(name)
    model.counts["placed"] += 1
    if one is None or depth > _DEEPEST or model.counts["placed"] > _MOST_PLACED:
        what = "the 3MF places an object that it does not hold, or objects that contain one another endlessly"
        raise fault(file, what, "", _AGAIN)
    points, faces = np.array(one.corners, np.float64).reshape(-1, 3), np.array(one.faces).reshape(-1, 3)
    if len(faces) and not (faces.min() >= 0 and faces.max() < len(points)):
        raise fault(file, "a facet of the 3MF names a corner that does not exist", "", _AGAIN)
    if not (np.isfinite(points).all() and np.isfinite(turn).all()):
        raise fault(file, "a corner of the 3MF is not a number", "finite coordinates", _AGAIN)
    inner, count = [points[faces]], len(faces)
    for child, own in one.components:
        inner.append(_placed(model, child, own, file, depth + 1))
        count += len(inner[-1])
        refuse_many_facets(count, file)
    corners: F64 = np.concatenate(inner) @ turn[:3] + turn[3]
    return corners[:, ::-1] if np.linalg.det(turn[:3]) < 0 else corners
