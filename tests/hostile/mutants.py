"""Sound files made hostile by chance: each function makes one from a random generator and reads it."""

from __future__ import annotations

import io
import json
import os
import random
import shutil
import struct
import zipfile
from collections.abc import Callable
from copy import deepcopy
from dataclasses import replace
from pathlib import Path
from typing import Any

from PIL import Image

from builder.model import Tables
from tests import small_mold
from tests.hostile import released

_KEPT: dict[str, Any] = {}
WORDS = (
    b"NaN", b"inf", b"-1e999", b"1_1_1_1", b"!!python/object:x", b"&a", b"*a", b"\xff\xfe", b"\x00",
    b"\\ud83d", b"\xed\xa0\xbd", b"../../x", b"/etc/passwd", b"{" * 40, b"[" * 40, b'"', b"\n", b"- ", b": ",
    b"<script>",
    b"999999999999999999", b"0x1f", b"12:30:00", b"---\n", b"%YAML 9\n", b"\xe2\x80\xae", b"%41#?", b"CON",
)  # fmt: skip


def remove(root: Path) -> None:
    """Delete a trial's folder."""
    shutil.rmtree(root, ignore_errors=True)


def tables() -> Tables:
    """The material tables, read once."""
    from builder.spec import material_tables

    if "tables" not in _KEPT:
        _KEPT["tables"] = material_tables.load()
    found: Tables = _KEPT["tables"]
    return found


def bitten(rng: random.Random, data: bytes, words: tuple[bytes, ...] = WORDS) -> bytes:
    """The bytes with a few places flipped, cut, doubled, moved, or overwritten by what hurts."""
    out = bytearray(data)
    for _ in range(rng.choice((1, 1, 2, 3, 8, 40))):
        at = rng.randrange(len(out) + 1)
        span = rng.choice((1, 1, 2, 4, 12, 50, 400))
        way = rng.randrange(7)
        if way == 0 and out:
            out[at % len(out)] ^= 1 << rng.randrange(8)
        elif way == 1:
            del out[at : at + span]
        elif way == 2:
            out[at:at] = out[at : at + span] * rng.choice((1, 2, 20))
        elif way == 3:
            out[at : at + span] = rng.randbytes(span)
        elif way == 4:
            word = rng.choice(words)
            out[at : at + rng.choice((0, len(word)))] = word
        elif way == 5:
            other = rng.randrange(len(out) + 1)
            out[at : at + span] = out[other : other + span]
        elif rng.random() < 0.2:
            del out[at:]
    return bytes(out)


def stl(rng: random.Random, root: Path) -> None:
    """A mesh: bytes bitten, corners moved, thrown together, far away, or written as text."""
    data = _mesh_bytes(rng)
    if rng.random() < 0.5:
        numbers = (b"\x00\x00\xc0\x7f", b"\x00\x00\x80\x7f", b"\xff\xff\x7f\x7f", b"\x01\x00\x00\x00")
        data = bitten(rng, data, (*numbers, b"solid ", b"endsolid", b"facet normal", b"vertex", b" " * 5000))
    read_mold(root, data, "role: bait" if rng.random() < 0.3 else "")


def _mesh_bytes(rng: random.Random) -> bytes:
    data = small_mold.stl(8.0)
    count = (len(data) - 84) // 50
    facets = [bytearray(data[84 + 50 * k : 134 + 50 * k]) for k in range(count)]
    way = rng.randrange(8)
    if way == 0:
        facets = [facet for facet in facets if rng.random() < 0.99]
    elif way == 1:
        for facet in rng.sample(facets, 5):
            struct.pack_into(
                "<f", facet, 12 + 4 * rng.randrange(9), rng.uniform(-1, 1) * 10 ** rng.randint(-30, 30)
            )
    elif way == 2:
        shift = 10.0 ** rng.randint(0, 6)
        far = [bytearray(facet) for facet in facets]
        for facet in far:
            corners = struct.unpack_from("<9f", facet, 12)
            struct.pack_into(
                "<9f", facet, 12, *(c + (shift if k % 3 == 0 else 0) for k, c in enumerate(corners))
            )
        facets += far
    elif way == 3:
        scale = 10.0 ** rng.randint(-20, 5)
        for facet in facets:
            struct.pack_into("<9f", facet, 12, *(scale * c for c in struct.unpack_from("<9f", facet, 12)))
    elif way == 4:
        for facet in facets:
            corners = struct.unpack_from("<9f", facet, 12)
            struct.pack_into("<9f", facet, 12, *(c + rng.gauss(0, 1e-5) for c in corners))
    elif way == 5:
        lines = [b"solid x"]
        for facet in facets:
            c = struct.unpack_from("<9f", facet, 12)
            points = "".join(f"vertex {c[k]} {c[k + 1]} {c[k + 2]}\n" for k in (0, 3, 6)).encode()
            lines.append(b"facet normal 0 0 0\nouter loop\n" + points + b"endloop\nendfacet")
        return b"\n".join([*lines, b"endsolid"])
    elif way == 6:
        rng.shuffle(facets)
        facets = [facet if rng.random() < 0.98 else facets[0] for facet in facets]
    return data[:80] + struct.pack("<I", len(facets)) + b"".join(bytes(facet) for facet in facets)


def read_mold(root: Path, data: bytes, part: str = "", more: bytes = b"", file: str = "block.stl") -> None:
    """Load, measure and advise: all of a build but the pictures, which are drawn only of what is sound."""
    from builder import build, stages
    from builder.advice.advise import advise

    folder = root / "molds" / "small-bar"
    folder.mkdir(parents=True)
    (folder / file).write_bytes(data)
    entry = f"{{file: {file}, {part}}}" if part else file
    keys = f"title: x\nkind: open pour\nparts: [{entry}]\ncavities: 1\nplastisol: soft\n"
    (folder / "mold.yaml").write_bytes(keys.encode() + more)
    draft = build.load_draft(folder, tables())
    mold = stages.without_prose(draft.mold)
    reading = build.read(mold, build.contents_of(draft))
    advise(mold, reading.measurement, tables())


def yaml(rng: random.Random, root: Path) -> None:
    """A mold.yaml, bitten."""
    from builder import build

    folder = root / "molds" / "small-bar"
    folder.mkdir(parents=True)
    (folder / "a.stl").write_bytes(b"x")
    (folder / "b.stl").write_bytes(b"x")
    (folder / "mold.yaml").write_bytes(bitten(rng, FULL.encode()))
    build.load_draft(folder, tables())


FULL = """title: "Reed \\U0001F41F minnow"
parts:
  - {file: a.stl, role: half, placing: {turn_deg: [180, 0, 0], move_mm: [0, 0, 25]}}
  - {file: b.stl, units: inch, parting: {at_mm: [0, 0, 12.5], normal: [0, 0, 1]}}
cavities: 2
plastisol: soft
kind: injection
mold_material: petg
summary: A slim minnow with a thin tail.
target: [perch, pike]
licence: LicenseRef-Own
version: "1.1"
renamed_from: [river-minnow]
colours: [{name: Pond green, ingredients: [{what: green, amount_per_100_ml: 6, unit: drops}]}]
hints: {sprue_at_mm: [0, 40, 0], gates: [{at_mm: [12, 0, 0], normal: [1, 0, 0]}], pitch_mm: 0.25}
declared: {density_g_ml: 1.02, room_c: 18, pressure_psi: 30}
shots: [{date: 2026-03-01, shot_c: 165, outcome: full, note: "x"}]
"""


def lock(rng: random.Random, root: Path) -> None:
    """A released version with one of its records bitten, and half of the time locked anew."""
    from builder.spec import releases, versions
    from tests.test_versions import release

    folder = root / "molds" / "test-minnow"
    place = release(folder, 1)
    released.rewrite(place, lambda told: told.update(pictures=[PICTURE]))
    (place / "pictures" / "bait-480.webp").write_bytes(b"RIFF")
    (place / versions.RECORD).write_bytes(json.dumps({"slug": "test-minnow", "version": "1"}).encode())
    released.relock(place)
    releases.record(root / "molds", folder)
    names = (versions.LOCK, versions.VERSION, versions.VERSION, versions.RECORD, versions.WITHDRAWN)
    file = place / rng.choice(names)
    note = released.sealed({"reason": "x", "date": "2026-03-01"})
    file.write_bytes(_bitten_json(rng, file.read_bytes() if file.exists() else note))
    if file.name != versions.LOCK and rng.random() < 0.7:
        released.relock(place)
    elif file.name == versions.LOCK and rng.random() < 0.5:
        _reseal(file)
    if rng.random() < 0.1:
        _put_something_else(rng, rng.choice([path for path in place.rglob("*") if path.is_file()]))
    if rng.random() < 0.2:
        record = root / "molds" / releases.FILE
        record.write_bytes(_bitten_json(rng, record.read_bytes()))
    list(releases.removed(root / "molds", releases.load(root / "molds")))
    found = versions.read(folder)
    for checked in found.files.values():
        checked.read()
    for version in found.versions:
        for offered in version.downloads:
            assert offered.path.resolve().is_relative_to(folder.resolve())


PICTURE = {
    "name": "bait",
    "files": {"480": "bait-480.webp"},
    "width_px": 480,
    "height_px": 300,
    "alt": {
        "level": "note",
        "code": "pictures.alt.bait",
        "values": dict.fromkeys(("title", "length", "height", "width"), "x"),
        "at_mm": None,
    },
    "overlay_svg": '<path d="M1 2L3 4" fill="none" stroke="currentColor" stroke-width="3"/>',
    "labels": [],
    "turnable": None,
}
VALUES: tuple[object, ...] = (
    None,
    True,
    -1,
    0,
    1e308,
    10**15,
    "",
    "x" * 500,
    "../x",
    "/etc/passwd",
    [],
    {},
    [[]],
    {"": ""},
    "\u202e",
)


def _bitten_json(rng: random.Random, data: bytes) -> bytes:
    """JSON with its bytes bitten, or with some of its values exchanged."""
    if rng.random() < 0.4:
        return bitten(rng, data)
    value = json.loads(data)
    for _ in range(rng.choice((1, 1, 2, 5))):
        _exchange(rng, value)
    return released.write_json(value)


def _exchange(rng: random.Random, value: Any) -> None:  # noqa: ANN401 - any JSON value
    """Put another value somewhere into the tree."""
    while isinstance(value, dict | list) and value:
        key = rng.choice(list(value) if isinstance(value, dict) else range(len(value)))
        if not isinstance(value[key], dict | list) or rng.random() < 0.2:
            way = rng.randrange(4)
            if way == 0 and isinstance(value, dict):
                value[rng.choice(("x", "../y", "", "a.stl", "slug"))] = value.pop(key)
            elif way == 1:
                del value[key]
            else:
                value[key] = deepcopy(rng.choice(VALUES))
            return
        value = value[key]


def _reseal(file: Path) -> None:
    try:
        told = json.loads(file.read_bytes())["sealed"]
        file.write_bytes(released.sealed(told))
    except (ValueError, KeyError, TypeError, RecursionError):
        pass


def _put_something_else(rng: random.Random, file: Path) -> None:
    file.unlink()
    way = rng.randrange(4)
    if way == 0:
        os.mkfifo(file)
    elif way == 1:
        file.symlink_to("/etc/hostname")
    elif way == 2:
        file.mkdir()


def photo(rng: random.Random, root: Path) -> None:
    """A photo: bytes bitten, of odd shapes and modes, announced larger than it is."""
    from builder import pictures
    from tests.test_versions import draft

    form = rng.choice(("JPEG", "PNG", "WEBP"))
    mode = rng.choice(("RGB", "L", "RGBA", "P", "1", "CMYK", "I;16") if form != "WEBP" else ("RGB", "RGBA"))
    mode = {"JPEG": {"RGBA": "RGB", "P": "L", "I;16": "L"}, "PNG": {"CMYK": "RGB"}}.get(form, {}).get(
        mode, mode
    )
    most = 16383 if form == "WEBP" else 40_000
    size = rng.choice(((64, 48), (1, 1), (1, most), (most, 2), (3000, 40), (300, 400)))
    exif = Image.Exif()
    exif[0x0112] = rng.choice((1, 3, 6, 8, 0, 99))
    out = io.BytesIO()
    Image.new(mode, size).save(out, form, exif=exif.tobytes() if mode != "1" else b"")
    data = out.getvalue()
    data = bitten(
        rng, data, (*WORDS, b"\xff\xd8", b"\xff\xe1\xff\xff", b"IHDR\x7f\xff\xff\xff", b"Exif\x00\x00II")
    )
    folder = root / "out"
    folder.mkdir()
    pictures.photos(replace(draft(root, "1"), photos=("a.jpg",)), [data], folder)


def threemf(rng: random.Random, root: Path) -> None:
    """A 3MF: the XML in a sound zip bitten, or the zip itself."""
    from builder import mesh
    from builder.release import formats

    if "3mf" not in _KEPT:
        solid, _ = mesh.read(small_mold.stl(8.0), "block.stl", "mm")
        _KEPT["3mf"] = formats.threemf([solid], {"Title": "x"})
    data: bytes = _KEPT["3mf"]
    if rng.random() < 0.8:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            files = {name: archive.read(name) for name in archive.namelist()}
        name = rng.choice([*files, "3D/3dmodel.model", "3D/3dmodel.model"])
        words = (
            *(b"<component objectid='1'/>", b"transform='1 0 0 0 1 0 0 0 1 1e300 0 0'", b"unit='foot'"),
            *(b"<!DOCTYPE x>", b"<!ENTITY a 'b'>", b"&a;", b"<object id='1'>", b"<item objectid='2'/>"),
            *(b"v1='-1'", b"x='1e999'", b"p:path='/x'", b"<mesh>", b"</mesh>", b"<![CDATA["),
        )
        data = formats.zipped({**files, name: bitten(rng, files[name], words)})
    else:
        data = bitten(rng, data)
    read_mold(root, data, file="block.3mf")


KINDS: dict[str, Callable[[random.Random, Path], None]] = {
    "stl": stl,
    "3mf": threemf,
    "yaml": yaml,
    "lock": lock,
    "photo": photo,
}
