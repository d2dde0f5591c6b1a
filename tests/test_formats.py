"""What is given away opens in independent readers, and is the same bytes each time."""

from __future__ import annotations

import hashlib
import io
import os
import shutil
import stat
import subprocess
import sys
import xml.etree.ElementTree as ET
import zipfile
from pathlib import Path

import numpy as np
import pytest
import trimesh
from manifold3d import Manifold

from builder import mesh
from builder.model import Solid
from builder.release import formats
from tests.shapes import ball, box

UNITS = "{http://schemas.microsoft.com/3dmanufacturing/core/2015/02}"


def as_solid(made: Manifold, name: str) -> Solid:
    raw = made.to_mesh64()
    return Solid(
        name=name,
        vertices=np.array(raw.vert_properties[:, :3], np.float64),
        faces=np.array(raw.tri_verts, np.int32),
    )


BLOCK = as_solid(
    box((-1.5, 0.25, 0.0), (10.0, 20.0, 30.125)) - ball((4.0, 10.0, 30.125), 3.0), 'half <a> & "b"'
)
BALL = as_solid(ball((50.0, 0.0, 0.0), 7.5), "bait")


def test_a_3mf_has_the_same_volumes_in_trimesh() -> None:
    data = formats.threemf([BLOCK, BALL], {"Title": "Two"})
    scene = trimesh.load_scene(io.BytesIO(data), file_type="3mf")
    assert scene.units == "millimeter"
    found = sorted(part.volume for part in scene.geometry.values())
    assert found == pytest.approx(sorted(mesh.volume_mm3(solid) for solid in (BLOCK, BALL)), rel=1e-7)
    assert all(part.is_watertight for part in scene.geometry.values())


def test_a_3mf_has_the_same_unit_facets_and_metadata_in_lib3mf(tmp_path: Path) -> None:
    lib3mf = pytest.importorskip("lib3mf", reason="lib3mf, the 3MF Consortium's own reader, is not installed")
    file = tmp_path / "two.3mf"
    file.write_bytes(
        formats.threemf([BLOCK, BALL], {"Title": "A & B", "LicenseTerms": "CC-BY-4.0", "Designer": ""})
    )
    model = lib3mf.get_wrapper().CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromFile(str(file))
    assert reader.GetWarningCount() == 0
    assert model.GetUnit() == lib3mf.ModelUnit.MilliMeter
    group = model.GetMetaDataGroup()
    told = {
        group.GetMetaData(n).GetName(): group.GetMetaData(n).GetValue()
        for n in range(group.GetMetaDataCount())
    }
    assert told == {"Title": "A & B", "LicenseTerms": "CC-BY-4.0"}
    objects = model.GetMeshObjects()
    for solid in (BLOCK, BALL):
        assert objects.MoveNext()
        found = objects.GetCurrentMeshObject()
        assert found.GetName() == solid.name
        assert found.IsManifoldAndOriented()
        corners = np.array([list(v.Coordinates) for v in found.GetVertices()])
        np.testing.assert_allclose(corners, solid.vertices, rtol=1e-6, atol=1e-6)
        assert [list(t.Indices) for t in found.GetTriangleIndices()] == solid.faces.tolist()


def test_a_3mf_says_its_unit_and_is_well_formed_xml() -> None:
    archive = zipfile.ZipFile(io.BytesIO(formats.threemf([BLOCK], {})))
    assert archive.namelist() == ["[Content_Types].xml", "_rels/.rels", "3D/3dmodel.model"]
    model = ET.fromstring(archive.read("3D/3dmodel.model"))
    assert (model.tag, model.get("unit")) == (f"{UNITS}model", "millimeter")


def test_an_stl_of_ours_is_read_by_trimesh_and_by_ourselves() -> None:
    data = formats.stl(BLOCK)
    other = trimesh.load_mesh(io.BytesIO(data), file_type="stl")
    assert other.is_watertight
    assert other.volume == pytest.approx(mesh.volume_mm3(BLOCK), rel=1e-6)
    normals = np.frombuffer(data[84:], np.dtype([("n", "<3f4"), ("c", "<9f4"), ("a", "<u2")]))["n"]
    np.testing.assert_allclose(normals, other.face_normals, atol=1e-5)
    ours, vouch = mesh.read(data, "half.stl", "mm")
    assert vouch.triangles == len(BLOCK.faces)
    assert mesh.volume_mm3(ours) == pytest.approx(mesh.volume_mm3(BLOCK), rel=1e-6)


def test_a_part_laid_flat_stands_on_the_bed_and_keeps_its_volume() -> None:
    flat = formats.laid_flat(BLOCK, (180.0, 0.0, 90.0))
    low, high = flat.vertices.min(axis=0), flat.vertices.max(axis=0)
    np.testing.assert_allclose(low, [-9.875, -5.75, 0.0], atol=1e-9)
    np.testing.assert_allclose(high, [9.875, 5.75, 30.125], atol=1e-9)
    assert mesh.volume_mm3(flat) == pytest.approx(mesh.volume_mm3(BLOCK), rel=1e-12)
    bowl = flat.vertices[:, 2] < 3.0 + 1e-9
    assert bowl.sum() > 50


def test_a_zip_is_sound_for_an_independent_reader_and_holds_the_digests_it_tells(tmp_path: Path) -> None:
    tools = [shutil.which(name) for name in ("unzip", "zipinfo", "sha256sum")]
    if None in tools:
        pytest.skip("unzip, zipinfo or sha256sum is not installed")
    files = {"a/one.stl": os.urandom(5000), "a/zwei ü.txt": b"text" * 1000, "b.txt": b""}
    file = tmp_path / "mold.zip"
    file.write_bytes(formats.zipped({**files, "SHA256SUMS": formats.checksums(files)}))
    subprocess.run([str(tools[0]), "-tq", file], check=True, capture_output=True)
    listing = subprocess.run([str(tools[1]), file], check=True, capture_output=True, text=True).stdout
    assert "4 files" in listing
    assert listing.count("80-Jan-01 00:00") == 4
    assert listing.count("-rw-r--r--") == 4
    zipfile.ZipFile(file).extractall(tmp_path / "out")
    subprocess.run([str(tools[2]), "--check", "--strict", "SHA256SUMS"], cwd=tmp_path / "out", check=True)


@pytest.mark.slow
def test_bytes_do_not_depend_on_the_time_zone_the_locale_or_the_umask() -> None:
    code = (
        "import os, sys, hashlib; os.umask(int(sys.argv[1], 8))\n"
        "from builder.release import formats; from tests.test_formats import BLOCK\n"
        "data = formats.threemf([BLOCK], {'Title': 'T'}) + formats.zipped({'a': b'b'}) + formats.stl(BLOCK)\n"
        "print(hashlib.sha256(data).hexdigest())"
    )
    said = set()
    for zone, locale, umask in (("UTC", "C", "022"), ("Pacific/Kiritimati", "de_DE.UTF-8", "077")):
        env = {**os.environ, "TZ": zone, "LC_ALL": locale}
        run = [sys.executable, "-c", code, umask]
        said.add(subprocess.run(run, env=env, check=True, capture_output=True, text=True).stdout)
    assert len(said) == 1


def test_a_zips_files_can_be_read_by_everyone_after_unpacking() -> None:
    archive = zipfile.ZipFile(io.BytesIO(formats.zipped({"a": b"b"})))
    assert stat.filemode(archive.infolist()[0].external_attr >> 16) == "-rw-r--r--"
    assert hashlib.sha256(archive.read("a")).hexdigest() == hashlib.sha256(b"b").hexdigest()
