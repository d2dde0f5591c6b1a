"""Reproducible zip, 3MF, binary STL and checksum files: their bytes depend on the content alone.

3MF is the 3MF Consortium's core specification 1.3: a zip in the Open Packaging Conventions with one XML
model, whose unit travels with it. STL has no unit.
"""

from __future__ import annotations

import hashlib
import io
import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import replace
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from builder import mesh
from builder.model import Solid, Vec3

EARLIEST = (1980, 1, 1, 0, 0, 0)
"""The date of every file in a zip: the earliest that the format knows."""

_FACET = np.dtype([("normal", "<3f4"), ("corners", "<(3,3)f4"), ("attribute", "<u2")])
_READABLE_FILE = 0o100644 << 16
_UNIX = 3
_CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
_MODEL_TYPE = "application/vnd.ms-package.3dmanufacturing-3dmodel+xml"
_RELATIONS_TYPE = "application/vnd.openxmlformats-package.relationships+xml"
_START_PART = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
_OPC = "http://schemas.openxmlformats.org/package/2006"
_XML = '<?xml version="1.0" encoding="UTF-8"?>\n'


def zipped(files: Mapping[str, bytes]) -> bytes:
    """A zip of the files by name, in the order given: no clock, no owner, no umask in it.

    >>> zipped({"a.txt": b"a"}) == zipped({"a.txt": b"a"})
    True
    """
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        for name, data in files.items():
            info = zipfile.ZipInfo(name, EARLIEST)
            info.compress_type = zipfile.ZIP_DEFLATED
            info.create_system = _UNIX
            info.external_attr = _READABLE_FILE
            archive.writestr(info, data)
    return buffer.getvalue()


def checksums(files: Mapping[str, bytes]) -> bytes:
    """A line `SHA-256  name` for each file, by name; `sha256sum -c` reads it."""
    lines = (f"{hashlib.sha256(files[name]).hexdigest()}  {name}\n" for name in sorted(files))
    return "".join(lines).encode()


def threemf(solids: Sequence[Solid], about: Mapping[str, str]) -> bytes:
    """The solids (mm) as one 3MF; `about` is the standard's metadata: Title, Designer, LicenseTerms, ..."""
    objects = "".join(_object(number, solid) for number, solid in enumerate(solids, 1))
    items = "".join(f'<item objectid="{number}"/>' for number in range(1, len(solids) + 1))
    told = "".join(f"<metadata name={quoteattr(k)}>{escape(v)}</metadata>\n" for k, v in about.items() if v)
    model = (
        f'{_XML}<model unit="millimeter" xml:lang="en-US" xmlns="{_CORE}">\n{told}'
        f"<resources>\n{objects}</resources>\n<build>{items}</build>\n</model>\n"
    )
    types = (
        f'{_XML}<Types xmlns="{_OPC}/content-types">'
        f'<Default Extension="rels" ContentType="{_RELATIONS_TYPE}"/>'
        f'<Default Extension="model" ContentType="{_MODEL_TYPE}"/></Types>\n'
    )
    relations = (
        f'{_XML}<Relationships xmlns="{_OPC}/relationships">'
        f'<Relationship Id="start" Type="{_START_PART}" Target="/3D/3dmodel.model"/></Relationships>\n'
    )
    files = {"[Content_Types].xml": types, "_rels/.rels": relations, "3D/3dmodel.model": model}
    return zipped({name: text.encode() for name, text in files.items()})


def _object(number: int, solid: Solid) -> str:
    vertices = "".join(
        f'<vertex x="{x:.9g}" y="{y:.9g}" z="{z:.9g}"/>\n' for x, y, z in solid.vertices.tolist()
    )
    faces = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>\n' for a, b, c in solid.faces.tolist())
    return (
        f'<object id="{number}" type="model" name={quoteattr(solid.name)}><mesh>\n'
        f"<vertices>\n{vertices}</vertices>\n<triangles>\n{faces}</triangles>\n</mesh></object>\n"
    )


def stl(solid: Solid) -> bytes:
    """The solid as a binary STL in mm, with the unit in its header."""
    corners = solid.vertices[solid.faces]
    facets = np.zeros(len(corners), _FACET)
    facets["normal"] = mesh.unit_normals(corners)
    facets["corners"] = corners
    return b"unit: mm".ljust(80) + len(facets).to_bytes(4, "little") + facets.tobytes()


def laid_flat(solid: Solid, turn_deg: Vec3) -> Solid:
    """The solid turned about x, then y, then z, standing on z = 0 and centred over the origin."""
    points = solid.vertices @ mesh.matrix(turn_deg).T
    low, high = points.min(axis=0), points.max(axis=0)
    foot = np.array([*(low[:2] + high[:2]) / 2, low[2]])
    return replace(solid, vertices=points - foot)
