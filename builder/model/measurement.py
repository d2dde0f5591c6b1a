"""Records of the reading of a mold's files: solids and measurement."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from builder.model.numbers import Finding, Kind, Role, Vec3

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solid:
    """A closed, outward-oriented triangle mesh in mm. vertices (n, 3) float64, faces (m, 3) int32."""

    name: str
    vertices: NDArray[np.float64]
    faces: NDArray[np.int32]


@dataclass(frozen=True, slots=True, kw_only=True)
class Vouch:
    """Record of a loaded file: sizes in declared units, triangle count, repairs."""

    file: str
    sha256: str
    size_bytes: int
    triangles: int
    volume_ml: float
    size_mm: Vec3
    dropped: int
    overlapping_bodies: int
    self_touching: bool
    notes: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """One cross-section of the flow, `s_mm` from the gate; `beyond_ml` is the volume downstream of it."""

    s_mm: float
    at_mm: Vec3
    area_mm2: float
    thickness_mm: float
    """Diameter of the largest circle inscribed in the section."""
    perimeter_mm: float
    beyond_ml: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowPath:
    """Sections from the sprue's mouth (or a gate) to one extremity of one bait, in flow order."""

    name: str
    bait: str
    stations: tuple[Station, ...]
    gate_index: int
    """Stations before it belong to sprue and runner."""
    vented: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Gate:
    """The cross-section where a runner meets a bait; its normal points into the bait."""

    at_mm: Vec3
    normal: Vec3
    area_mm2: float
    thickness_mm: float
    perimeter_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class EyeSocket:
    """A round flat recess (seen from the mold: a raised disc) for a stick-on eye."""

    at_mm: Vec3
    normal: Vec3
    diameter_mm: float
    depth_mm: float
    breaks_out: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Bait:
    """One bait as it comes out, without its gate stub. Length is its longest extent in the parting plane."""

    name: str
    volume_ml: float
    area_mm2: float
    length_mm: float
    height_mm: float
    width_mm: float
    projected_mm2: float
    """Area seen along z: what the pressure opens the mold with."""
    at_mm: Vec3
    gates: tuple[Gate, ...]
    sockets: tuple[EyeSocket, ...] = ()
    hook_slot: bool = False
    paths: tuple[FlowPath, ...] = ()
    thinnest: Station | None = None
    """The thinnest section that feeds something: ends of the bait do not count."""
    thinnest_feeds: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sprue:
    """The sprue. `direction` points from its mouth into the mold."""

    mouth_mm: Vec3
    direction: Vec3
    mouth_diameter_mm: float
    volume_ml: float
    modulus_mm: float
    """Volume over surface (Chvorinov): the larger, the later it sets."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Runner:
    """Everything between sprue and gates; volume 0 when the sprue feeds a single bait directly."""

    volume_ml: float
    modulus_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Vent:
    """A vent; `bait` is the bait that it drains; `ends` says where it comes out."""

    at_mm: Vec3
    depth_mm: float
    width_mm: float
    length_mm: float
    volume_ml: float
    bait: str
    ends: Literal["outside", "bolt", "blind"] = "outside"


@dataclass(frozen=True, slots=True, kw_only=True)
class Bolt:
    """A hole through both halves, or a blind one; axis through `at_mm` along `direction`."""

    at_mm: Vec3
    direction: Vec3
    diameter_mm: float
    length_mm: float
    through: bool = True
    nut_trap_mm: float | None = None
    """Width across flats of a nut trap, if there is one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pin:
    """A locating pin and its socket; clearance is socket minus pin diameter.

    It is None where only the holes of a loose dowel are in the mold: its play depends on the dowel.
    """

    at_mm: Vec3
    direction: Vec3
    diameter_mm: float
    length_mm: float
    clearance_mm: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Wall:
    """The thinnest wall of one kind, between the two points."""

    kind: Literal["outside", "cavity", "bolt", "back"]
    thickness_mm: float
    from_mm: Vec3
    to_mm: Vec3
    names: tuple[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class PartMeasure:
    """One printed part, in its best pose for printing (`print_turn_deg` from the closed mold's frame)."""

    name: str
    file: str
    role: Role
    size_mm: Vec3
    volume_ml: float
    area_mm2: float
    print_turn_deg: Vec3
    bed_mm: tuple[float, float]
    height_mm: float
    overhang_mm2: float
    smallest_feature_mm: float | None
    smallest_gap_mm: float | None
    flatness_mm: float | None
    vouch: Vouch


@dataclass(frozen=True, slots=True, kw_only=True)
class Measurement:
    """All that was read off a mold's files. `volume_share` is the relative uncertainty from faceting."""

    slug: str
    kind: Kind
    size_mm: Vec3
    parts: tuple[PartMeasure, ...]
    baits: tuple[Bait, ...]
    sprue: Sprue | None
    runner: Runner
    vents: tuple[Vent, ...]
    bolts: tuple[Bolt, ...]
    pins: tuple[Pin, ...]
    walls: tuple[Wall, ...]
    projected_mm2: float
    """Baits, runner and sprue together, seen along z."""
    parting_mm2: float
    """Area where the halves touch."""
    volume_share: float
    length_error_mm: float
    pitch_mm: float
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Geometry:
    """The solids behind a measurement, closed-mold frame; only pictures and differences need them."""

    parts: tuple[Solid, ...]
    """Same order as Measurement.parts, as closed."""
    baits: tuple[Solid, ...]
    runner: Solid | None
    """Runner and sprue in one."""
    vents: tuple[Solid, ...]
    holes: tuple[Solid, ...]
    """Bolt holes, as solids."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reading:
    """Result of measure.measure: the measurement and the solids it was taken from."""

    measurement: Measurement
    geometry: Geometry
