"""Readings against independent kernels: Open CASCADE (through cadquery) and VTK.

A B-rep solid tells its volume exactly (BRepGProp); its STL is a chord tolerance away from it, so a
mesh volume may differ by at most tolerance times surface. Polyhedra have no such loss.
"""

from __future__ import annotations

import importlib.util
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from builder import mesh
from builder.measure import measure
from builder.model import Measurement
from builder.spec import mold_file
from tests import readings
from tests.shapes_demo import DEMOS, MOLDS, stl_files


class Kernel:
    """cadquery, loaded by the first test that draws with it: that takes three seconds."""

    def __getattr__(self, name: str) -> Any:  # noqa: ANN401 - an untyped library
        if name.startswith("_"):  # asked by pytest of whatever a module holds
            raise AttributeError(name)
        return getattr(importlib.import_module("cadquery"), name)


cq = Kernel()
pytestmark = [
    pytest.mark.kernel,
    pytest.mark.slow,  # the kernel alone takes three seconds to load
    pytest.mark.skipif(
        importlib.util.find_spec("cadquery") is None,
        reason="install the kernel extra: pip install .[kernel]",
    ),
]

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


# -- whole molds -----------------------------------------------------------------------------------


def measured(folder: Path, cavities: int, halves: dict[str, bytes]) -> Measurement:
    """Read from disk as a maker's folder is."""
    folder = folder / "kernel-mold"
    folder.mkdir()
    (folder / "mold.yaml").write_text(
        f"title: Kernel mold\nparts: [{', '.join(halves)}]\ncavities: {cavities}\nplastisol: medium\n"
    )
    for name, content in halves.items():
        (folder / name).write_bytes(content)
    made = mold_file.load(folder)
    return readings.measured(made, [part.path.read_bytes() for part in made.parts])


def halves_of(
    cavity: Brep, holes: Brep, low: tuple[float, float], high: tuple[float, float], t: float
) -> list[Brep]:
    """Two blocks of thickness t that meet at z = 0, with cavity and holes cut out."""
    size = (high[0] - low[0], high[1] - low[1], t)
    middle = ((low[0] + high[0]) / 2, (low[1] + high[1]) / 2)
    blocks = [cq.Workplane("XY").box(*size).translate((*middle, s * t / 2)) for s in (-1, 1)]
    return [block.cut(cavity).cut(holes) for block in blocks]


@pytest.mark.slow
def test_a_two_half_mold_drawn_by_another_kernel_is_read_within_its_meshing_tolerance(tmp_path: Path) -> None:
    """A capsule with a conical sprue: 7690.619 mm3 of bait by hand, the sprue by the kernel's own cut."""
    bait = capsule(6.0, 60.0)
    sprue = cq.Workplane(obj=cq.Solid.makeCone(5, 1.5, 26, cq.Vector(-30, 0, 0), cq.Vector(1, 0, 0)))
    holes = cylinder((10, 18, -20), (0, 0, 1), 2.75, 40).union(cylinder((50, -18, -20), (0, 0, 1), 2.75, 40))
    halves = halves_of(bait.union(sprue), holes, (-30, -26), (78, 26), 14)
    data = {
        f"half-{k}.stl": stl(half, tmp_path, f"half-{k}.stl") for k, half in zip("ab", halves, strict=True)
    }
    found = measured(tmp_path, 1, data)
    tolerance_ml = CHORD_MM * bait.val().Area() / 1000
    assert found.baits[0].volume_ml == pytest.approx(
        bait.val().Volume() / 1000, abs=tolerance_ml + 0.0005 * 7.69
    )
    assert found.sprue is not None
    feed_ml = sprue.cut(bait).val().Volume() / 1000
    assert found.sprue.volume_ml + found.runner.volume_ml == pytest.approx(feed_ml, rel=0.02)
    assert [bolt.diameter_mm for bolt in found.bolts] == pytest.approx([5.5, 5.5], abs=0.02)


def eight_sided(low: float, high: float, radius: float, end_radius: float) -> Brep:
    """A frustum along x with flat sides: no kernel loses anything to facets."""
    rings = [
        [(x, r * math.cos(a), r * math.sin(a)) for a in np.arange(8) * math.pi / 4]
        for x, r in ((low, radius), (high, end_radius))
    ]
    wires = [cq.Wire.makePolygon([cq.Vector(*p) for p in ring], close=True) for ring in rings]
    return cq.Workplane(obj=cq.Solid.makeLoft(wires, True))


@pytest.mark.slow
def test_open_cascade_and_manifold_agree_on_every_volume_of_a_flat_sided_mold(tmp_path: Path) -> None:
    """Two independent kernels cut the same polyhedra: 1e-4 is asked, faceting plays no part."""
    baits = [eight_sided(0, 60, 7, 5).translate((0, y, 0)) for y in (-14, 14)]
    runner = eight_sided(-14, 14, 3, 3).rotate((0, 0, 0), (0, 0, 1), 90).translate((-8, 0, 0))
    gates = [eight_sided(-8, 1, 2.4, 1.4).translate((0, y, 0)) for y in (-14, 14)]
    sprue = eight_sided(-30, -6, 5, 2.6)
    feed = runner.union(sprue).union(gates[0]).union(gates[1])
    plastic = feed.union(baits[0]).union(baits[1])
    holes = cq.Workplane("XY").box(5, 5, 60).translate((25, 0, 0))
    halves = halves_of(plastic, holes, (-30, -30), (74, 30), 13)
    data = {
        f"half-{k}.stl": stl(half, tmp_path, f"half-{k}.stl") for k, half in zip("ab", halves, strict=True)
    }
    solids = [mesh.body(mesh.read(content, name, "mm")[0]) for name, content in data.items()]
    closed = mesh.union(solids)
    void = max((closed.hull() - closed).decompose(), key=lambda piece: float(piece.volume()))
    exact_mm3 = plastic.val().Volume()
    assert void.volume() == pytest.approx(exact_mm3, rel=1e-6)
    found = measured(tmp_path, 2, data)
    assert found.sprue is not None
    total_ml = sum(bait.volume_ml for bait in found.baits) + found.sprue.volume_ml + found.runner.volume_ml
    assert total_ml == pytest.approx(exact_mm3 / 1000, rel=1e-4)
    for bait in found.baits:
        assert bait.volume_ml == pytest.approx(baits[0].val().Volume() / 1000, rel=5e-3)


@pytest.mark.slow
@pytest.mark.parametrize("slug", DEMOS)
def test_vtk_agrees_on_the_volume_of_every_bait_that_a_reading_cuts_out(slug: str) -> None:
    vtk = pytest.importorskip("vtkmodules.all", reason="comes with the kernel extra")
    arrays = pytest.importorskip("vtkmodules.util.numpy_support")
    made = mold_file.load(MOLDS / slug)
    reading = measure(
        made, [mesh.read(part.path.read_bytes(), part.file, part.units or made.units) for part in made.parts]
    )
    for record, solid in zip(reading.measurement.baits, reading.geometry.baits, strict=True):
        points, cells, data = vtk.vtkPoints(), vtk.vtkCellArray(), vtk.vtkPolyData()
        points.SetData(arrays.numpy_to_vtk(solid.vertices))
        index = arrays.numpy_to_vtkIdTypeArray(solid.faces.astype(np.int64).ravel(), deep=True)
        cells.SetData(3, index)
        data.SetPoints(points)
        data.SetPolys(cells)
        properties = vtk.vtkMassProperties()
        properties.SetInputData(data)
        assert record.volume_ml == pytest.approx(properties.GetVolume() / 1000, rel=1e-4)
