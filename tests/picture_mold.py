"""A small two-half mold with its measurement written by hand: pictures are tried without a reading."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
from manifold3d import Manifold

from builder.model import (
    Bait,
    Bolt,
    Colour,
    FlowPath,
    Gate,
    Geometry,
    Ingredient,
    Measurement,
    MoldSpec,
    PartMeasure,
    PartSpec,
    Pin,
    Reading,
    Runner,
    Solid,
    Sprue,
    Station,
    Vec3,
    Vent,
    Vouch,
)

TRUNK_MM = 2.6
MOUTH_MM = 12.0
SPEC = MoldSpec(
    slug="test-minnow",
    folder=Path(),
    title="Test minnow",
    kind="injection",
    parts=tuple(PartSpec(file=f"{n}.stl", path=Path(f"{n}.stl"), role="half", name=n) for n in "AB"),
    cavities=1,
    plastisol="medium",
    mold_material="petg",
    units="mm",
    colours=(
        Colour(
            name="Reed", ingredients=(Ingredient(what="green colour", amount_per_100_ml=6, unit="drops"),)
        ),
    ),
)


def solid(made: Manifold, name: str) -> Solid:
    mesh = made.to_mesh64()
    return Solid(
        name=name,
        vertices=np.array(mesh.vert_properties[:, :3], dtype=np.float64),
        faces=np.array(mesh.tri_verts, dtype=np.int32),
    )


def lying(length: float, start: float, end: float, x: float, around: int = 32) -> Manifold:
    """A round bar along x from `x` on, its radius going from start to end."""
    return Manifold.cylinder(length, start, end, around).rotate((0, 90, 0)).translate((x, 0, 0))


def reading(around: int = 48) -> Reading:
    """The mold: 120 x 50 x 30 mm, bait of 81 mm with a trunk of 2.6 mm; `around` facets round the bait."""
    body = Manifold.sphere(1, around).scale((32, 7, 6)).translate((-4, 0, 0))
    tail = Manifold.sphere(1, around).scale((7, 8, 3)).translate((38, 0, 0))
    bait = body + tail + lying(12, TRUNK_MM / 2, TRUNK_MM / 2, 24, 48)
    feed = (lying(10, 2, 2, -45) + lying(16, MOUTH_MM / 2, 2.2, -60, 48)) - bait
    vent = Manifold.cube((17, 2, 0.4)).translate((43, -1, -0.4)) - bait
    block = Manifold.cube((120, 50, 15)).translate((-60, -25, -15))
    spots = [(x, y) for x in (-50.0, 50.0) for y in (-19.0, 19.0)]
    holes = [Manifold.cylinder(40, 2.1, 2.1, 32).translate((x, y, -20)) for x, y in spots]
    pins = [Manifold.cylinder(4, 2, 2, 32).translate((0, y, 0)) for y in (-20, 20)]
    sockets = [Manifold.cylinder(4.5, 2.15, 2.15, 32).translate((0, y, 0)) for y in (-20, 20)]
    lower, upper = block - bait - feed - vent, block.translate((0, 0, 15)) - bait - feed
    for hole in holes:
        lower, upper = lower - hole, upper - hole
    for pin, socket in zip(pins, sockets, strict=True):
        lower, upper = lower + pin, upper - socket
    geometry = Geometry(
        parts=(solid(lower, "A"), solid(upper, "B")),
        baits=(solid(bait, "bait 1"),),
        runner=solid(feed, "runner"),
        vents=(solid(vent, "vent"),),
        holes=tuple(solid(hole, "hole") for hole in holes),
    )
    return Reading(measurement=measurement(geometry, bait, feed, spots), geometry=geometry)


def measurement(
    geometry: Geometry, bait: Manifold, feed: Manifold, spots: list[tuple[float, float]]
) -> Measurement:
    sprue_ml = math.pi * 16 / 3 * (36 + 6 * 2.2 + 2.2**2) / 1000
    box = np.ptp(geometry.baits[0].vertices, axis=0)
    return Measurement(
        slug=SPEC.slug,
        kind="injection",
        size_mm=(120.0, 50.0, 30.0),
        parts=(part("A", geometry.parts[0], (0, 0, 0)), part("B", geometry.parts[1], (180, 0, 0))),
        baits=(
            Bait(
                name="1",
                volume_ml=bait.volume() / 1000,
                area_mm2=bait.surface_area(),
                length_mm=float(box[0]),
                height_mm=float(box[1]),
                width_mm=float(box[2]),
                projected_mm2=800.0,
                at_mm=(0.0, 0.0, 0.0),
                gates=(
                    Gate(
                        at_mm=(-36.0, 0.0, 0.0),
                        normal=(1.0, 0.0, 0.0),
                        area_mm2=12.6,
                        thickness_mm=4.0,
                        perimeter_mm=12.6,
                    ),
                ),
                paths=(FlowPath(name="1a", bait="1", stations=stations(), gate_index=0, vented=True),),
                thinnest=station(29.5, TRUNK_MM),
                thinnest_feeds="1a",
            ),
        ),
        sprue=Sprue(
            mouth_mm=(-60.0, 0.0, 0.0),
            direction=(1.0, 0.0, 0.0),
            mouth_diameter_mm=MOUTH_MM,
            volume_ml=sprue_ml,
            modulus_mm=1.5,
        ),
        runner=Runner(volume_ml=feed.volume() / 1000 - sprue_ml, modulus_mm=1.0),
        vents=(
            Vent(
                at_mm=(50.0, 0.0, -0.2), depth_mm=0.4, width_mm=2.0, length_mm=15.0, volume_ml=0.012, bait="1"
            ),
        ),
        bolts=tuple(
            Bolt(at_mm=(x, y, 0.0), direction=(0.0, 0.0, 1.0), diameter_mm=4.2, length_mm=30.0)
            for x, y in spots
        ),
        pins=tuple(
            Pin(
                at_mm=(0.0, y, 0.0),
                direction=(0.0, 0.0, 1.0),
                diameter_mm=4.0,
                length_mm=4.0,
                clearance_mm=0.3,
            )
            for y in (-20.0, 20.0)
        ),
        walls=(),
        projected_mm2=1000.0,
        parting_mm2=4000.0,
        volume_share=0.001,
        length_error_mm=0.05,
        pitch_mm=0.3,
    )


def station(x: float, thickness: float) -> Station:
    return Station(
        s_mm=x + 36,
        at_mm=(x, 0.0, 0.0),
        area_mm2=math.pi / 4 * thickness**2,
        thickness_mm=thickness,
        perimeter_mm=math.pi * thickness,
        beyond_ml=1.0,
    )


def stations() -> tuple[Station, ...]:
    """Every 2 mm from the gate to the tail."""
    round_body = {x: 14 * math.sqrt(max(0.0, 1 - ((x + 4) / 32) ** 2)) for x in range(-34, 45, 2)}
    return tuple(
        station(float(x), max(thick, TRUNK_MM if x < 33 else 6.0)) for x, thick in round_body.items()
    )


def part(name: str, made: Solid, print_turn_deg: Vec3) -> PartMeasure:
    vouch = Vouch(
        file=f"{name}.stl",
        sha256="",
        size_bytes=0,
        triangles=len(made.faces),
        volume_ml=80.0,
        size_mm=(120.0, 50.0, 15.0),
        dropped=0,
        overlapping_bodies=0,
        self_touching=False,
    )
    box = np.ptp(made.vertices, axis=0)
    return PartMeasure(
        name=name,
        file=f"{name}.stl",
        role="half",
        size_mm=(float(box[0]), float(box[1]), float(box[2])),
        volume_ml=80.0,
        area_mm2=1.0,
        print_turn_deg=print_turn_deg,
        bed_mm=(float(box[0]), float(box[1])),
        height_mm=float(box[2]),
        overhang_mm2=0.0,
        smallest_feature_mm=None,
        smallest_gap_mm=None,
        flatness_mm=None,
        vouch=vouch,
    )
