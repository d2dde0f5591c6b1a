"""The keeper's own plastisols and mold materials: read strictly, shown like our own."""

from __future__ import annotations

import json
import os
import re
from pathlib import Path

import pytest
import yaml

from builder import build
from builder.base import limits
from builder.base.contained import Checked
from builder.base.problems import Faults
from builder.base.store import Store
from builder.model import Plastisol, Tables
from builder.site import site_map
from builder.site.catalogue import build_all
from builder.spec import material_tables, mold_file
from tests import small_mold
from tests.advised_minnow import FULL_MM, spec
from tests.paths_for_flow import minnow_measurement
from tests.readings import advised

BUILT_IN = material_tables.load()
PIER = """
name: Pier blend
like: medium
sources: {scale: "Weighed in air and in water"}
density: {value: 1.01, low: 1.00, high: 1.02, unit: g_ml, source: scale, grade: measured}
"""


def catalogue(root: Path, **files: str) -> Path:
    """A catalogue's folder with files, named as `plastisols__pier_blend`; returns its molds' folder."""
    (root / "molds").mkdir(parents=True, exist_ok=True)
    for name, text in files.items():
        folder, _, stem = name.partition("__")
        (root / folder).mkdir(exist_ok=True)
        (root / folder / f"{stem.replace('_', '-')}.yaml").write_text(text, encoding="utf-8")
    return root / "molds"


def faults(molds: Path) -> str:
    with pytest.raises(Faults) as caught:
        material_tables.load(molds)
    return str(caught.value)


def own(tables: Tables) -> Plastisol:
    return next(one for one in tables.plastisols if one.file)


def test_without_files_the_tables_are_the_builders(tmp_path: Path) -> None:
    assert material_tables.load(catalogue(tmp_path)) == BUILT_IN


def test_an_own_plastisol_keeps_its_values_and_takes_the_rest_from_the_one_it_is_like(tmp_path: Path) -> None:
    tables = material_tables.load(catalogue(tmp_path, plastisols__pier_blend=PIER))
    pier, medium = own(tables), next(one for one in BUILT_IN.plastisols if one.id == "medium")
    assert (pier.id, pier.name, pier.file) == ("pier-blend", "Pier blend", "plastisols/pier-blend.yaml")
    assert pier.values["density"].value == 1.01
    assert {k: v for k, v in pier.values.items() if k != "density"} == {
        k: v for k, v in medium.values.items() if k != "density"
    }
    assert tables.sources[pier.values["density"].source] == "Weighed in air and in water"
    assert tables.plastisols[:-1] == BUILT_IN.plastisols


def test_an_own_mold_material_is_there_too(tmp_path: Path) -> None:
    values = next(one for one in BUILT_IN.mold_materials if one.id == "petg").values
    told = {
        name: {k: getattr(value, k) for k in ("value", "low", "high", "unit", "source", "grade")}
        for name, value in values.items()
    }
    text = yaml.safe_dump({"name": "Sealed plaster", **told})
    tables = material_tables.load(catalogue(tmp_path, mold_materials__plaster=text))
    assert tables.mold_materials[-1].values == values
    assert tables.mold_materials[-1].id == "plaster"


@pytest.mark.parametrize(
    ("files", "told"),
    [
        ({"plastisols__medium": PIER}, "medium is a name of the builder's own table"),
        ({"plastisols__pla": PIER}, "pla is a name of the builder's own table"),
        ({"plastisols__Pier": PIER}, "Pier.yaml is not a name for a plastisol"),
        ({"plastisols__x": PIER.replace("like: medium\n", "")}, "viscosity is missing in a plastisol's file"),
        ({"plastisols__x": PIER.replace("medium", "mud")}, "mud is not known"),
        ({"plastisols__x": PIER.replace("source: scale", "source: scales")}, "scales is not known"),
        ({"plastisols__x": PIER.replace("unit: g_ml", "unit: c")}, "this is in c; expected unit: g_ml"),
        ({"plastisols__x": PIER.replace("low: 1.00", "low: 0.01")}, "0.01 is out of range"),
        ({"plastisols__x": PIER.replace("low: 1.00", "low: 1.015")}, "does not lie between low 1.015"),
        ({"plastisols__x": PIER.replace("Pier blend", "Pier {x}")}, "expected a name without braces"),
        ({"plastisols__x": PIER.replace("Pier blend", "<b>")}, "expected a name without braces"),
        ({"plastisols__x": PIER.replace("{scale", "{Scale 1")}, "Scale 1 is not a key of a source"),
        ({"plastisols__x": PIER.replace("{scale", "{trade")}, "trade is a source of the builder's own"),
        ({"plastisols__x": PIER + "colour: red\n"}, "colour is not a key of a plastisol's file"),
        ({"plastisols__x": PIER + "density: 1\n"}, "density"),
        ({"plastisols__x": PIER + "# " + "x" * limits.OWN_FILE_BYTES}, f"at most {limits.OWN_FILE_BYTES}"),
        ({f"plastisols__x{n}": PIER for n in range(13)}, "there are 13 files; expected at most 12"),
        ({"plastisols__x": PIER, "mold_materials__x": "name: X\nlike: pla\n"}, "has this name already"),
    ],
)
def test_what_is_wrong_is_told_in_a_sentence(tmp_path: Path, files: dict[str, str], told: str) -> None:
    assert told in faults(catalogue(tmp_path, **files))


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("limit: {value: 190, low: 190, high: 190, unit: c, source: trade, grade: vendor}", "than the tra"),
        ("set: {value: 110, low: 99, high: 155, unit: c, source: scale, grade: measured}", "it has set"),
        ("demold: {value: 60, low: 48, high: 70, unit: c, source: scale, grade: measured}", "cold all thro"),
        ("demold: {value: 120, low: 110, high: 125, unit: c, source: scale, grade: measured}", "still flows"),
    ],
)  # fmt: skip
def test_temperatures_that_contradict_each_other_are_refused(tmp_path: Path, line: str, told: str) -> None:
    assert told in faults(catalogue(tmp_path, plastisols__x=PIER + line + "\n"))


def test_the_faults_of_all_files_are_told_at_once_with_file_and_line(tmp_path: Path) -> None:
    bad = PIER.replace("unit: g_ml", "unit: c")
    told = faults(
        catalogue(tmp_path, plastisols__a=bad, plastisols__b=PIER + "x: 1\n", mold_materials__c="name: C\n")
    )
    assert "plastisols/a.yaml:5:" in told
    assert "plastisols/b.yaml:6:" in told
    assert told.count("mold_materials/c.yaml") == len(BUILT_IN.mold_materials[0].values)


@pytest.mark.parametrize("what", ["file", "folder", "pipe"])
def test_no_link_is_followed_and_no_pipe_is_waited_for(tmp_path: Path, what: str) -> None:
    molds = catalogue(tmp_path)
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "elsewhere" / "x.yaml").write_text(PIER, encoding="utf-8")
    if what == "folder":
        (tmp_path / "plastisols").symlink_to(tmp_path / "elsewhere")
    else:
        (tmp_path / "plastisols").mkdir()
        place = tmp_path / "plastisols" / "x.yaml"
        place.symlink_to(tmp_path / "elsewhere" / "x.yaml") if what == "file" else os.mkfifo(place)
    told = faults(molds)
    assert {"file": "is a link", "folder": "not a folder", "pipe": "is a pipe"}[what] in told


def test_an_own_plastisol_changes_the_advice_key_and_drift_names_it(tmp_path: Path) -> None:
    first = material_tables.load(catalogue(tmp_path, plastisols__pier_blend=PIER))
    second = material_tables.load(catalogue(tmp_path, plastisols__pier_blend=PIER.replace("1.01", "1.015")))
    assert build.tables_digest(first) != build.tables_digest(second) != build.tables_digest(BUILT_IN)
    before, after = build.tables_digests(first), build.tables_digests(second)
    assert {k for k in before if before[k] != after[k]} == {"tables", "plastisol pier-blend"}


@pytest.mark.slow
def test_a_mold_may_name_it_and_is_advised_with_it(tmp_path: Path) -> None:
    tables = material_tables.load(catalogue(tmp_path, plastisols__pier_blend=PIER))
    advice = advised(spec(plastisol="pier-blend"), minnow_measurement(FULL_MM), tables)
    assert advice.windows[0].plastisol == "pier-blend"
    density = advice.amounts[0].density_g_ml
    assert (density.value, density.origin) == (1.01, "declared")
    assert {w.plastisol for w in advice.windows} == {one.id for one in tables.plastisols}


@pytest.mark.slow
def test_pages_choosers_and_schema_show_it_by_its_name_and_its_file(tmp_path: Path) -> None:
    molds = catalogue(tmp_path, plastisols__pier_blend=PIER.replace("Pier blend", "Pier & blend"))
    folder = small_mold.write(molds)
    with (folder / "mold.yaml").open("a", encoding="utf-8") as file:
        file.write("mold_material: petg\n")
    spec_file = folder / "mold.yaml"
    spec_file.write_text(spec_file.read_text().replace("plastisol: soft", "plastisol: pier-blend"))
    made = site_map.generate(build_all(molds, Store(tmp_path / "store")))
    pages = {uri: str(thing) for uri, thing in made.items() if not isinstance(thing, Path | Checked)}
    assert "<code>plastisols/pier-blend.yaml</code>" in pages["materials.md"]
    assert "Weighed in air and in water" in pages["materials.md"]
    for uri in ("materials.md", "compare.md", "molds/small-bar.md", "data/molds/small-bar.js"):
        assert re.search(r"Pier (?:&amp;|\\u0026) blend", pages[uri]), uri
        assert "Pier & blend" not in pages[uri], uri
    assert json.loads(pages["data/molds/small-bar.json"])["plastisol"] == "pier-blend"
    assert "pier-blend" in json.loads(pages["data/mold-file.schema.json"])["properties"]["plastisol"]["enum"]
    with pytest.raises(Faults, match="pier-blend is not known"):
        mold_file.load(folder, BUILT_IN)
