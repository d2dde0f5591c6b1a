"""Measurements and specs of molds drawn at random: sizes beyond what anybody prints, to break the advice."""

from __future__ import annotations

import random
from dataclasses import replace

from builder.model import Declared, Measurement, MoldSpec
from builder.spec import material_tables
from tests.advised_minnow import spec
from tests.paths_for_flow import minnow_measurement

TABLES = material_tables.load()


def random_mold(number: int) -> tuple[MoldSpec, Measurement]:
    """The mold of this number, always the same; every fifth is poured open, every seventh has no bolts."""
    draw = random.Random(number)
    wanted = spec(
        draw.choice([entry.id for entry in TABLES.plastisols]),
        draw.choice([entry.id for entry in TABLES.mold_materials]),
        declared=declared(draw),
    )
    mold = minnow_measurement(
        draw.uniform(0.5, 5.0),
        vents=draw.randrange(3),
        vented=draw.random() < 0.7,
        gate_mm=draw.uniform(1, 8),
    )
    mold = scaled(mold, draw.uniform(0.4, 2.2))
    wall = replace(mold.walls[0], thickness_mm=draw.uniform(0.5, 40.0))
    bolts = tuple(bolt for bolt in mold.bolts if draw.random() < draw.choice((0.2, 1.0)))
    mold = replace(mold, walls=(wall,), bolts=() if number % 7 == 0 else bolts)
    return wanted, opened(mold) if number % 5 == 0 else mold


def declared(draw: random.Random) -> Declared:
    """What the maker may know better: mostly nothing."""
    return Declared(
        density_g_ml=draw.choice((None, None, 0.93, 1.2)),
        injection_ml_s=draw.choice((None, None, 3.0, 40.0)),
        pressure_mpa=draw.choice((None, None, 0.05, 0.6)),
        room_c=draw.choice((None, None, 2.0, 38.0)),
        limit_c=draw.choice((None, None, 150.0, 162.0, 171.0, 190.0)),
    )


def scaled(mold: Measurement, by: float) -> Measurement:
    """The mold with its baits and ways through them so much larger; the grid of bolts stays."""
    baits = []
    for bait in mold.baits:
        paths = tuple(
            replace(
                path,
                stations=tuple(
                    replace(
                        s,
                        s_mm=s.s_mm * by,
                        thickness_mm=s.thickness_mm * by,
                        perimeter_mm=s.perimeter_mm * by,
                        area_mm2=s.area_mm2 * by**2,
                        beyond_ml=s.beyond_ml * by**3,
                    )
                    for s in path.stations
                ),
            )
            for path in bait.paths
        )
        gates = tuple(
            replace(
                gate,
                area_mm2=gate.area_mm2 * by**2,
                thickness_mm=gate.thickness_mm * by,
                perimeter_mm=gate.perimeter_mm * by,
            )
            for gate in bait.gates
        )
        baits.append(
            replace(
                bait,
                volume_ml=bait.volume_ml * by**3,
                length_mm=bait.length_mm * by,
                height_mm=bait.height_mm * by,
                width_mm=bait.width_mm * by,
                projected_mm2=bait.projected_mm2 * by**2,
                gates=gates,
                paths=paths,
            )
        )
    return replace(mold, baits=tuple(baits), projected_mm2=mold.projected_mm2 * by**2)


def opened(mold: Measurement) -> Measurement:
    """The same baits in an open mold."""
    baits = tuple(replace(bait, gates=(), paths=()) for bait in mold.baits)
    runner = replace(mold.runner, volume_ml=0.0)
    return replace(mold, kind="open pour", sprue=None, runner=runner, baits=baits, vents=(), bolts=())
