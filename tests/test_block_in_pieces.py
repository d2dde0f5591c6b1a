"""A mold that is filed in more than two pieces, or closed as one body: asked, with the line that works."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
import yaml
from manifold3d import Manifold

from builder import build
from builder.base.problems import Faults
from builder.cli import scaffold
from builder.model import Measurement
from builder.spec import material_tables, mold_file
from tests.shapes import rod, union
from tests.shapes_files import binary_stl, triangles
from tests.test_strangers import Parts, block, egg, halves, measured, nothing, spec_of, volumes


def feed() -> Manifold:
    return rod((-41.0, 0.0, 0.0), (-29.0, 0.0, 0.0), 4.0, 1.8)


def bolts() -> Manifold:
    return union(rod((x, y, -30.0), (x, y, 30.0), 2.1) for x in (-34.0, 34.0) for y in (-20.0, 20.0))


def pin(radius_mm: float, length_mm: float, from_mm: float = -1.0) -> Manifold:
    return rod((0.0, 20.0, from_mm), (0.0, 20.0, length_mm), radius_mm)


def two_halves() -> Parts:
    """An egg, its sprue along x, four bolts and a pin, drawn closed."""
    lower, upper = halves(block(), egg() + feed() + bolts(), upper=pin(2.65, 4.5), lower=nothing())
    return [(lower[0], "half", lower[2] + pin(2.5, 4.0)), upper]


def segments() -> Parts:
    """Both halves cut at x = 5, each of the four pieces a file of its own and told to be a half."""
    made: Parts = []
    for name, _, body in two_halves():
        rear, front = body.split_by_plane((1.0, 0.0, 0.0), 5.0)
        made += [(f"{name}-front", "half", front), (f"{name}-rear", "half", rear)]
    return made


def grown() -> Manifold:
    """Both halves as one body, which holds the same hollows; the air round the pin is one of them."""
    return block() - egg() - feed() - bolts() - (pin(2.65, 4.5, 0.0) - pin(2.5, 4.0))


def right(found: Measurement) -> None:
    """All of it as drawn."""
    assert volumes(found) == pytest.approx([egg().volume() / 1000], rel=4e-3)
    assert found.sprue
    assert found.sprue.volume_ml == pytest.approx((feed() ^ block() - egg()).volume() / 1000, rel=0.02)
    assert [round(bolt.diameter_mm, 1) for bolt in found.bolts] == [4.2] * 4
    assert [round(pin.diameter_mm, 1) for pin in found.pins] == [5.0]


def test_four_pieces_that_lie_closed_are_asked_about_and_right_with_the_line_that_is_offered() -> None:
    with pytest.raises(Faults, match="4 parts of role half, which lie closed in their files") as caught:
        measured(segments())
    (line,) = re.findall(r"\n(parts: .*)", str(caught.value))
    roles = {part["file"]: part["role"] for part in yaml.safe_load(line)["parts"]}
    assert sorted(roles.values()) == ["half", "half", "plug", "plug"]
    right(measured([(name, roles[f"{name}.stl"], body) for name, _, body in segments()]))


def test_pieces_that_do_not_lie_closed_are_refused_with_the_way_out() -> None:
    apart: Parts = [
        (name, role, body.translate((0.0, 0.0, 40.0 * k))) for k, (name, role, body) in enumerate(segments())
    ]
    with pytest.raises(Faults, match="join the segments of each half in the CAD and export two halves"):
        measured(apart)


def test_a_new_mold_in_four_pieces_has_two_halves_and_two_plugs(tmp_path: Path) -> None:
    files = []
    for name, _, body in segments():
        files.append(tmp_path / f"{name}.stl")
        files[-1].write_bytes(binary_stl(triangles(body)))
    made = scaffold.write(tmp_path / "molds" / "pieces", files, None, material_tables.load())
    assert [part.role for part in made.mold.parts] == ["half", "plug", "half", "plug"]
    assert made.question == ""
    assert made.measured
    right(made.measured)


@pytest.mark.parametrize("turn_deg", [(0.0, 0.0, 0.0), (90.0, 20.0, 37.0)])
def test_halves_that_have_grown_into_one_body_are_asked_about_and_right_with_the_line_that_is_offered(
    turn_deg: tuple[float, float, float],
) -> None:
    data = [binary_stl(triangles(grown().rotate(turn_deg).translate((7.0, -3.0, 11.0))))]
    spec = spec_of([("mold", "half", nothing())])
    with pytest.raises(Faults, match=r"mold\.stl is one body, which holds both halves of a mold") as caught:
        build.read(spec, data)
    (line, *others) = re.findall(r"\n(parts: .*)", str(caught.value))
    assert others == []
    (part,) = yaml.safe_load(line)["parts"]
    parting = (tuple(part["parting"]["at_mm"]), tuple(part["parting"]["normal"]))
    told = replace(spec, parts=(replace(spec.parts[0], parting=parting),))
    found = build.read(told, data).measurement
    right(found)
    assert "reading.grown" in [finding.code for finding in found.findings]
    assert [part.file for part in found.parts] == ["mold-1.stl", "mold-2.stl"]


def test_the_line_for_halves_in_one_body_keeps_the_unit_of_the_part_and_the_other_parts() -> None:
    """The block is filed in cm, a bait's file beside it in mm."""
    bait = rod((0.0, 0.0, 0.0), (30.0, 0.0, 0.0), 4.0)
    data = [binary_stl(triangles(body)) for body in (grown().scale((0.1, 0.1, 0.1)), bait)]
    spec = spec_of([("mold", "half", nothing()), ("bait", "bait", nothing())])
    block, beside = spec.parts
    with pytest.raises(Faults, match=r"mold\.stl is one body, which holds both halves of a mold") as caught:
        build.read(replace(spec, parts=(replace(block, units="cm"), beside)), data)
    (line,) = re.findall(r"\n(parts: .*)", str(caught.value))
    one, two = yaml.safe_load(line)["parts"]
    assert (one["file"], one["role"], one["units"]) == ("mold.stl", "half", "cm")
    assert two == {"file": "bait.stl", "role": "bait"}


def test_a_plane_that_misses_the_body_is_refused() -> None:
    spec = spec_of([("mold", "half", nothing())])
    parting = ((0.0, 0.0, 99.0), (0.0, 0.0, 1.0))
    told = replace(spec, parts=(replace(spec.parts[0], parting=parting),))
    with pytest.raises(Faults, match=r"key parts\[0\].parting: the plane of parting does not cut mold.stl"):
        build.read(told, [binary_stl(triangles(grown()))])


def test_a_new_mold_from_one_closed_body_is_no_bait(tmp_path: Path) -> None:
    file = tmp_path / "mold.stl"
    file.write_bytes(binary_stl(triangles(grown())))
    made = scaffold.write(tmp_path / "molds" / "one", [file], None, material_tables.load())
    assert [part.role for part in made.mold.parts] == ["half"]
    assert "one body, which holds both halves" in made.question
    text = (tmp_path / "molds" / "one" / mold_file.FILE).read_text(encoding="utf-8")
    assert "\n# parts: [{file: mold.stl, role: half, parting: {at_mm: [" in text
