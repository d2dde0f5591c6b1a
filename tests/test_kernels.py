"""Readings against independent kernels: Open CASCADE (through cadquery) and VTK.

A B-rep solid tells its volume exactly (BRepGProp); its STL is a chord tolerance away from it, so a
mesh volume may differ by at most tolerance times surface. Polyhedra have no such loss.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from builder import mesh
from tests.shapes_demo import DEMOS, stl_files

cq = pytest.importorskip("cadquery", reason="install the kernel extra: pip install .[kernel]")
pytestmark = pytest.mark.kernel

CHORD_MM = 0.01
Brep = Any


def stl(shape: Brep, folder: Path, name: str = "part.stl", chord_mm: float = CHORD_MM) -> bytes:
    path = folder / name
    shape.val().exportStl(str(path), tolerance=chord_mm, angularTolerance=1.0, relative=False)
    return path.read_bytes()


def cylinder(start: tuple[float, float, float], axis: tuple[float, float, float], r: float, h: float) -> Brep:
    return cq.Workplane(obj=cq.Solid.makeCylinder(r, h, cq.Vector(*start), cq.Vector(*axis)))


def capsule(radius: float, length: float) -> Brep:
    """Along x from x = -radius, two hemispheres and a cylinder of the given length between them."""
    ends = [cq.Workplane("XY").sphere(radius).translate((x, 0, 0)) for x in (0.0, length)]
    return cylinder((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), radius, length).union(ends[0]).union(ends[1]).clean()


SOLIDS = {
    "box with fillets": lambda: cq.Workplane("XY").box(40, 30, 20).edges().fillet(4),
    "capsule": lambda: capsule(6.0, 60.0),
    "cone": lambda: cq.Workplane(obj=cq.Solid.makeCone(12, 3, 40)),
    "sphere": lambda: cq.Workplane("XY").sphere(15),
    "torus": lambda: cq.Workplane(obj=cq.Solid.makeTorus(20, 5)),
    "plate with holes": lambda: (
        cq.Workplane("XY").box(60, 40, 8).faces(">Z").workplane().rarray(20, 15, 2, 2).hole(5)
    ),
}


@pytest.mark.parametrize("name", SOLIDS)
def test_a_cad_export_has_the_kernels_own_volume_within_its_meshing_tolerance(
    name: str, tmp_path: Path
) -> None:
    shape = SOLIDS[name]()
    solid, vouch = mesh.read(stl(shape, tmp_path), "part.stl", "mm")
    exact_mm3, surface_mm2 = shape.val().Volume(), shape.val().Area()
    assert abs(mesh.volume_mm3(solid) - exact_mm3) <= CHORD_MM * surface_mm2
    assert vouch.volume_ml == pytest.approx(mesh.volume_mm3(solid) / 1000, rel=1e-12)


def test_the_kernels_volumes_are_those_of_the_textbook() -> None:
    """Elementary solid geometry: capsule, frustum, torus."""
    assert SOLIDS["capsule"]().val().Volume() == pytest.approx(math.pi * 36 * 60 + 4 / 3 * math.pi * 216)
    assert SOLIDS["cone"]().val().Volume() == pytest.approx(math.pi * 40 / 3 * (144 + 36 + 9))
    assert SOLIDS["torus"]().val().Volume() == pytest.approx(2 * math.pi**2 * 20 * 25)


def test_the_volume_lost_to_facets_shrinks_with_the_chord(tmp_path: Path) -> None:
    exact_mm3 = SOLIDS["capsule"]().val().Volume()
    lost = [
        exact_mm3
        - mesh.volume_mm3(mesh.read(stl(SOLIDS["capsule"](), tmp_path, chord_mm=c), "c.stl", "mm")[0])
        for c in (0.5, 0.1, 0.02)
    ]
    assert lost[0] > lost[1] > lost[2] > 0


def test_poles_that_leave_degenerate_facets_are_read(tmp_path: Path) -> None:
    data = stl(cq.Workplane("XY").sphere(15), tmp_path)
    corners = np.frombuffer(
        data, dtype=np.dtype([("n", "<f4", 3), ("v", "<f4", (3, 3)), ("a", "<u2")]), offset=84
    )["v"]
    flat = (corners[:, 0] == corners[:, 1]).all(1) | (corners[:, 1] == corners[:, 2]).all(1)
    flat |= (corners[:, 2] == corners[:, 0]).all(1)
    assert flat.any(), "this export shows nothing: it has no degenerate facet"
    solid, vouch = mesh.read(data, "sphere.stl", "mm")
    assert vouch.dropped >= flat.sum()
    assert mesh.volume_mm3(solid) == pytest.approx(4 / 3 * math.pi * 15**3, rel=2e-3)


@pytest.mark.parametrize("slug", DEMOS)
def test_vtk_and_our_mesh_reader_agree_on_the_volume_of_every_demo_file(slug: str, tmp_path: Path) -> None:
    vtk = pytest.importorskip("vtkmodules.all", reason="comes with the kernel extra")
    for name, content in stl_files(slug).items():
        (tmp_path / name).write_bytes(content)
        reader, properties = vtk.vtkSTLReader(), vtk.vtkMassProperties()
        reader.SetFileName(str(tmp_path / name))
        properties.SetInputConnection(reader.GetOutputPort())
        solid, _ = mesh.read(content, name, "mm")
        assert mesh.volume_mm3(solid) == pytest.approx(properties.GetVolume(), rel=1e-6)
