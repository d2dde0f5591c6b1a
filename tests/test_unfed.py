"""Hollows between the halves that no plastic reaches are told, with their number and volume."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner
from manifold3d import Manifold

from builder.cli import main
from builder.model import Figure, Finding, Measurement
from tests.shapes import ball, box, loft, rod, union
from tests.shapes_files import binary_stl, triangles
from tests.test_strangers import halves, measured, nothing, volumes

BLOCK = box((-62.0, -30.0, -14.0), (62.0, 30.0, 14.0))
BAIT = loft([(-40.0, 1.6, 1.6, 0.0), (-20.0, 7.5, 6.5, 0.0), (38.0, 2.6, 2.6, 0.0)])
FEED = rod((-63.0, 0.0, 0.0), (-52.0, 0.0, 0.0), 5.0, 2.2) + rod((-53.0, 0.0, 0.0), (-39.0, 0.0, 0.0), 1.7)


def claw(y: float) -> Manifold:
    """A claw that lies 7 mm from the bait's tail, joined to nothing."""
    return ball((0.0, 0.0, 0.0), 1.0).scale((7.0, 3.5, 3.0)).translate((48.0, y, 0.0))


def read(besides: Manifold, lower: Manifold | None = None, upper: Manifold | None = None) -> Measurement:
    parts = halves(BLOCK, BAIT + FEED + besides, upper=upper or nothing(), lower=lower or nothing())
    return measured(parts)


def unfed(found: Measurement) -> list[Finding]:
    return [finding for finding in found.findings if finding.code == "reading.unfed"]


def told(found: Measurement, name: str) -> float:
    (finding,) = unfed(found)
    value = finding.values[name]
    assert isinstance(value, Figure)
    return value.value


@pytest.mark.parametrize("vented", [False, True])
def test_claws_that_end_short_of_the_bait_are_told_as_hollows_without_plastic(vented: bool) -> None:
    """They may have vents of their own; the bait is read without them."""
    claws = union([claw(y) for y in (-8.0, 8.0)])
    vents = union([box((54.0, y - 1.0, 0.0), (63.0, y + 1.0, 0.2)) for y in (-8.0, 8.0)])
    found = read(claws + vents if vented else claws)
    assert told(found, "count") == 2
    assert told(found, "volume") == pytest.approx(claws.volume() / 1000, rel=0.02)
    assert volumes(found) == pytest.approx([BAIT.volume() / 1000], rel=3e-3)


POCKETS = {
    "bolt hole": lambda: rod((20.0, 20.0, -15.0), (20.0, 20.0, 15.0), 2.5),
    "magnets, face to face": lambda: rod((20.0, 20.0, -3.0), (20.0, 20.0, 3.0), 4.0),
    "magnet in one half": lambda: rod((20.0, 20.0, -3.0), (20.0, 20.0, 0.0), 4.0),
    "dowel": lambda: rod((20.0, 20.0, -8.0), (20.0, 20.0, 8.0), 2.0),
    "square key": lambda: box((16.0, 16.0, -3.0), (26.0, 22.0, 3.0)),
    "cord for sealing": lambda: (
        (rod((0.0, 0.0, -2.0), (0.0, 0.0, 0.0), 26.0) - rod((0.0, 0.0, -3.0), (0.0, 0.0, 1.0), 23.0))
        .scale((1.0, 0.4, 1.0))
        .translate((20.0, 18.0, 0.0))
    ),
    "hollow wall": lambda: ball((20.0, 20.0, -7.0), 4.0),
}


@pytest.mark.parametrize("kind", list(POCKETS))
def test_holes_for_bolts_magnets_dowels_and_keys_are_no_hollows_without_plastic(kind: str) -> None:
    found = read(POCKETS[kind]())
    assert unfed(found) == []
    assert volumes(found) == pytest.approx([BAIT.volume() / 1000], rel=3e-3)


def test_faces_that_are_set_back_round_the_bait_leave_no_hollow_without_plastic() -> None:
    """Pads at the corners and a land round bait and sprue touch; 1 mm lies open between them."""
    land = box((-63.0, -12.0, -1.0), (44.0, 12.0, 1.0))
    pads = union([box((x - 8, y - 6, -1.0), (x + 8, y + 6, 1.0)) for x in (-54, 54) for y in (-24, 24)])
    gap = box((-63.0, -31.0, -0.5), (63.0, 31.0, 0.5)) - land - pads
    closed = gap ^ box((-61.0, -29.0, -1.0), (61.0, 29.0, 1.0))
    found = read(union([closed, box((50.0, -4.0, -0.5), (63.0, 4.0, 0.5))]))
    assert unfed(found) == []
    assert volumes(found) == pytest.approx([BAIT.volume() / 1000], rel=3e-3)


def test_a_small_strip_between_faces_that_are_set_back_is_no_hollow_without_plastic() -> None:
    strip = Manifold.batch_hull([box((x, y, -0.5), (x + 4, 25, 0.5)) for x, y in ((20, 12), (34, 20))])
    assert unfed(read(strip)) == []


def test_the_clearance_round_a_pin_is_no_hollow_without_plastic() -> None:
    pin, socket = (
        rod((20.0, 20.0, -2.0), (20.0, 20.0, 5.0), 2.5),
        rod((20.0, 20.0, 0.0), (20.0, 20.0, 6.0), 2.7),
    )
    parts = halves(BLOCK, BAIT + FEED, upper=socket, lower=nothing())
    (name, role, lower), other = parts
    found = measured([(name, role, lower + pin), other])
    assert len(found.pins) == 1
    assert unfed(found) == []


def test_new_measure_and_check_say_which_hollows_get_no_plastic(tmp_path: Path) -> None:
    parts = halves(BLOCK, BAIT + FEED + claw(8.0), upper=nothing(), lower=nothing())
    files = []
    for name, _, solid in parts:
        files.append(tmp_path / f"{name}.stl")
        files[-1].write_bytes(binary_stl(triangles(solid)))
    molds, sentence = ["--molds", str(tmp_path / "molds")], "ollows between the halves that get no plastic: 1"
    new = CliRunner().invoke(main, ["new", *molds, "craw", *map(str, files)])
    assert new.exit_code == 0, new.output
    assert sentence in (tmp_path / "molds" / "craw" / "mold.yaml").read_text("utf-8")
    for command in ("measure", "check"):
        told = CliRunner().invoke(main, [command, *molds, "--store", str(tmp_path / "store"), "craw"])
        assert sentence in told.output
