"""A 3MF part is read as what it builds, where it builds it, in its own unit; a hostile one is a sentence."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import numpy as np
import pytest

from builder import build, mesh
from builder.base import limits
from builder.base.problems import Faults
from builder.base.store import Store
from builder.mesh.threemf import corners_mm
from builder.model import Tables
from builder.release import formats
from tests import small_mold

CORE = 'xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02"'
BLOCK = (
    "<mesh><vertices>"
    + "".join(f'<vertex x="{x}" y="{y}" z="{z}"/>' for z in (0, 2) for y in (0, 3) for x in (0, 5))
    + "</vertices><triangles>"
    + "".join(
        f'<triangle v1="{a}" v2="{b}" v3="{c}"/>'
        for a, b, c in (
            *((0, 2, 1), (1, 2, 3), (4, 5, 6), (5, 7, 6), (0, 1, 4), (1, 5, 4)),
            *((2, 6, 3), (3, 6, 7), (0, 4, 2), (2, 4, 6), (1, 3, 5), (3, 7, 5)),
        )
    )
    + "</triangles></mesh>"
)
"""A block of 5 x 3 x 2."""
ONE = f'<object id="1">{BLOCK}</object>'


def package(model: str, name: str = "3D/3dmodel.model", **more: bytes) -> bytes:
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(name, model)
        for other, content in more.items():
            archive.writestr(other, content)
    return data.getvalue()


def model(objects: str, items: str, unit: str = "millimeter", head: str = "") -> str:
    return f'{head}<model unit="{unit}" {CORE}><resources>{objects}</resources><build>{items}</build></model>'


@pytest.mark.parametrize(
    ("unit", "mm"), [("millimeter", 1), ("inch", 25.4), ("micron", 0.001), ("meter", 1000)]
)
def test_its_own_unit_counts(unit: str, mm: float) -> None:
    corners = corners_mm(package(model(ONE, '<item objectid="1"/>', unit)), "a.3mf")
    assert np.ptp(corners, axis=(0, 1)) == pytest.approx([5 * mm, 3 * mm, 2 * mm])
    solid, vouch = mesh.read(package(model(ONE, '<item objectid="1"/>', "inch")), "a.3mf", "cm")
    assert mesh.volume_mm3(solid) == pytest.approx(30 * 25.4**3, rel=1e-5)
    assert vouch.triangles == 12


def test_objects_lie_where_components_and_items_put_them_also_mirrored() -> None:
    objects = (
        f'{ONE}<object id="2"><components>'
        '<component objectid="1"/><component objectid="1" transform="1 0 0 0 1 0 0 0 1 10 0 0"/>'
        "</components></object>"
    )
    items = '<item objectid="2" transform="-1 0 0 0 1 0 0 0 1 100 0 0"/>'
    data = package(model(objects, items))
    corners = corners_mm(data, "a.3mf")
    assert (corners[..., 0].min(), corners[..., 0].max()) == (85.0, 100.0)
    solid, _ = mesh.read(data, "a.3mf", "mm")
    assert mesh.volume_mm3(solid) == pytest.approx(60.0)


def test_what_we_write_is_read_back_and_the_model_is_found_by_the_packages_relation() -> None:
    solid, _ = mesh.read(small_mold.stl(), "a.stl", "mm")
    again, _ = mesh.read(formats.threemf([solid], {}), "a.3mf", "inch")
    assert mesh.volume_mm3(again) == pytest.approx(mesh.volume_mm3(solid), rel=1e-6)
    relation = b'<Relationship Type="http://x/2013/01/3dmodel" Target="/other/here.model"/>'
    more = {"_rels/.rels": relation}
    assert (
        len(corners_mm(package(model(ONE, '<item objectid="1"/>'), "other/here.model", **more), "a.3mf"))
        == 12
    )


LAUGHS = '<!DOCTYPE m [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;">]>'
DEEP = "".join(
    f'<object id="{n}"><components><component objectid="{n + 1}"/></components></object>'
    for n in range(1, 40)
)
ROUND = '<object id="1"><components><component objectid="1"/></components></object>'
DOUBLED = ONE.replace('id="1"', 'id="90"') + "".join(
    f'<object id="{n}"><components>{f"""<component objectid="{n + 1}"/>""" * 90}</components></object>'
    for n in range(86, 90)
)
EMPTY = "".join(
    f'<object id="{n}"><components>{f"""<component objectid="{n + 1}"/>""" * 400}</components></object>'
    for n in range(1, 7)
)
HOSTILE = {
    "400 to the 6th of nothing": (
        package(model(f'{EMPTY}<object id="7"/>', '<item objectid="1"/>')),
        "contain one another endlessly",
    ),
    "a transform to infinity": (
        package(model(ONE, '<item objectid="1" transform="1 0 0 0 1 0 0 0 1 inf 0 0"/>')),
        "is not a number",
    ),
    "far away": (
        package(model(ONE, '<item objectid="1" transform="1 0 0 0 1 0 0 0 1 1e9 0 0"/>')),
        "from the origin",
    ),
    "entities": (package(model(ONE, "", head=LAUGHS)), "declares a document type"),
    "an object within itself": (package(model(ROUND, '<item objectid="1"/>')), "contain one another"),
    "objects without end": (package(model(DEEP, '<item objectid="1"/>')), "contain one another"),
    "90 to the 4th blocks": (package(model(DOUBLED, '<item objectid="86"/>')), "one another endlessly"),
    "an object that there is not": (package(model(ONE, '<item objectid="7"/>')), "does not hold"),
    "nothing built": (package(model(ONE, "")), "builds no mesh"),
    "a corner that there is not": (
        package(model(ONE.replace('v3="6"', 'v3="600"'), '<item objectid="1"/>')),
        "a corner that does not exist",
    ),
    "no number": (package(model(ONE.replace('x="5"', 'x="five"'), '<item objectid="1"/>')), "cannot be read"),
    "infinite": (package(model(ONE.replace('x="5"', 'x="inf"'), '<item objectid="1"/>')), "is not a number"),
    "a unit that is none": (package(model(ONE, '<item objectid="1"/>', "furlong")), "furlong is none"),
    "parts elsewhere": (
        package(model(ONE, '<item objectid="1" p:path="/3D/b.model"/>').replace(CORE, f'{CORE} xmlns:p="p"')),
        "further files",
    ),
    "no zip": (b"solid x", "cannot be read"),
    "an empty zip": (package("", "readme.txt"), "no 3D model"),
    "cut off": (package(model(ONE, '<item objectid="1"/>'))[:-60], "cannot be read"),
    "without its beginning": (package(model(ONE, ""))[40:], "cannot be read"),
    "cut off inside": (package(model(ONE, "")[:-40]), "cannot be read"),
}


@pytest.mark.parametrize(("data", "told"), HOSTILE.values(), ids=HOSTILE.keys())
def test_a_hostile_or_broken_file_is_one_sentence(data: bytes, told: str) -> None:
    with pytest.raises(Faults) as caught:
        mesh.read(data, "a.3mf", "mm")
    (problem,) = caught.value.problems
    assert told in str(problem)
    assert "\n" not in str(problem)


def test_a_model_that_unpacks_to_more_than_it_may_is_refused_on_the_way(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    data = package(model(ONE, "") + " " * 30_000_000)
    assert len(data) < 60_000
    monkeypatch.setattr(limits, "MODEL_BYTES", 1_000_000)
    with pytest.raises(Faults, match="more than 1000000 bytes"):
        corners_mm(data, "a.3mf")


@pytest.mark.slow
def test_a_mold_of_3mf_parts_reads_as_the_same_mold_of_stl_parts(
    tmp_path: Path, tables: Tables, kept: Path
) -> None:
    folder = small_mold.write(tmp_path)
    store = Store(kept)
    before = build.build_mold(folder, tables, store).measurement
    solid, _ = mesh.read((folder / "block.stl").read_bytes(), "block.stl", "mm")
    (folder / "block.3mf").write_bytes(formats.threemf([solid], {}))
    spec = (folder / "mold.yaml").read_text()
    (folder / "mold.yaml").write_text(spec.replace("block.stl", "block.3mf"))
    after = build.build_mold(folder, tables, store)
    assert after.measurement.baits[0].volume_ml == pytest.approx(before.baits[0].volume_ml, rel=1e-6)
    assert [one.name for one in after.downloads] == ["block.3mf"]
