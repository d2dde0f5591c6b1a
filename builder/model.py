"""Every record that crosses a stage: frozen, keyword-only, the unit in the field's name.

Coordinates are those of the *closed mold*: millimetres, the parting face at z = 0, the first half
below it (z <= 0). An open-pour mold lies below z = 0 and is poured from above.

A plain number is what a stage computed. A `Figure` is a number that a person sees: it carries its
range, its unit, where it comes from, and the key of the sentence that says why. A `Sourced` is a
value of a table: it carries its range, its source and how much that source is worth.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Vec3 = tuple[float, float, float]
Origin = Literal["measured", "computed", "declared", "common practice"]
Grade = Literal["standard", "handbook", "paper", "vendor", "common practice", "recalled"]
Unit = Literal[
    "ml", "g", "mm", "mm2", "c", "k", "s", "mpa", "n", "pa_s", "ml_s", "g_ml", "share", "count",
    "w_mk", "j_kgk", "w_m2k", "per_k",
]  # fmt: skip
Kind = Literal["injection", "open pour"]
Role = Literal["half", "core", "plug", "blade", "open", "bait"]
LengthUnit = Literal["mm", "cm", "m", "inch"]
Level = Literal["stop", "warn", "note"]


# -- numbers ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Sourced:
    """A table's value with its range (low <= value <= high), its unit, its source and its grade."""

    value: float
    low: float
    high: float
    unit: Unit
    source: str
    """Key of `Tables.sources`."""
    grade: Grade


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A number shown to a person; `because` is a key of the language file (texts)."""

    value: float
    low: float
    high: float
    unit: Unit
    because: str
    origin: Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """Something to know about a mold: `code` is its sentence in the language file, filled from `values`."""

    level: Level
    code: str
    values: Mapping[str, Figure | str] = field(default_factory=dict)
    at_mm: Vec3 | None = None


# -- spec: what the maker declares -----------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Placing:
    """How a part is laid before closing: turned about x, then y, then z, then moved."""

    turn_deg: Vec3 = (0.0, 0.0, 0.0)
    move_mm: Vec3 = (0.0, 0.0, 0.0)
    mirror: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class PartSpec:
    """One STL file of a mold; `path` is inside the mold's folder; `units` overrides the mold's own."""

    file: str
    path: Path
    role: Role
    name: str
    units: LengthUnit | None = None
    placing: Placing | None = None
    parting: tuple[Vec3, Vec3] | None = None
    """Parting face in the file's own coordinates: a point (mm) and the outward normal."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hints:
    """What the maker tells where the reading is not sure; points in the closed mold's frame, mm."""

    sprue_at_mm: Vec3 | None = None
    sprue_direction: Vec3 | None = None
    gates_at_mm: tuple[tuple[Vec3, Vec3], ...] = ()
    vents_at_mm: tuple[Vec3, ...] = ()
    ignore_at_mm: tuple[Vec3, ...] = ()
    bolts: int | None = None
    pins: int | None = None
    eye_mm: float | None = None
    pitch_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ShotLog:
    """One real shot that the maker logged. `short_at` names where it stopped when outcome is short."""

    date: str
    plastisol: str
    shot_c: float
    mold_material: str
    hold_s: float | None = None
    rest_s: float | None = None
    in_a_row: int = 1
    outcome: Literal["full", "short", "dented", "flashed", "bubbles"]
    short_at: str | None = None
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ingredient:
    """What goes into 100 mL of plastisol: colour by drops or mL, flake and salt by weight."""

    what: str
    amount_per_100_ml: float
    unit: Literal["drops", "ml", "g"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Colour:
    """A colour recipe."""

    name: str
    ingredients: tuple[Ingredient, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Declared:
    """Values that the maker knows better than the tables; None means: take the table's."""

    density_g_ml: float | None = None
    injection_ml_s: float | None = None
    pressure_mpa: float | None = None
    room_c: float | None = None
    spare_share: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MoldSpec:
    """A mold.yaml, read and checked. `folder` is the mold's own folder; `slug` its name."""

    slug: str
    folder: Path
    title: str
    kind: Kind
    parts: tuple[PartSpec, ...]
    cavities: int
    plastisol: str
    mold_material: str
    units: LengthUnit
    summary: str = ""
    bait_type: str = ""
    target: tuple[str, ...] = ()
    hook: str = ""
    bolts: str = ""
    licence: str = "CC-BY-4.0"
    author: str = ""
    version: str = "1"
    renamed_from: tuple[str, ...] = ()
    photos: tuple[str, ...] = ()
    colours: tuple[Colour, ...] = ()
    hints: Hints = field(default_factory=Hints)
    declared: Declared = field(default_factory=Declared)
    shots: tuple[ShotLog, ...] = ()
    line_of: Mapping[str, int] = field(default_factory=dict)
    """Line in mold.yaml of each dotted key, so that a later stage can point at it."""


# -- mesh ------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solid:
    """A closed, outward-oriented triangle mesh in mm. vertices (n, 3) float64, faces (m, 3) int32."""

    name: str
    vertices: NDArray[np.float64]
    faces: NDArray[np.int32]


@dataclass(frozen=True, slots=True, kw_only=True)
class Vouch:
    """What loading a file found and mended: sizes as declared units give them."""

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


# -- measurement -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """One section across the flow, `s_mm` from the gate; `beyond_ml` is what it must still feed."""

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
    """Where a runner meets a bait: a section of the plastic, its normal pointing into the bait."""

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
    """The way in. `direction` points from the mouth into the mold."""

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
    """A thin way out for air; `bait` is what it drains; `ends` says where it comes out."""

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
    """A locating pin and its socket; clearance is socket minus pin diameter."""

    at_mm: Vec3
    direction: Vec3
    diameter_mm: float
    length_mm: float
    clearance_mm: float


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
    """What measure.measure returns."""

    measurement: Measurement
    geometry: Geometry


# -- materials -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Plastisol:
    """A hardness of bait plastisol; values by name, each with range, source and grade."""

    id: str
    values: Mapping[str, Sourced]


@dataclass(frozen=True, slots=True, kw_only=True)
class MoldMaterial:
    """A material a mold is printed or cut from; values by name."""

    id: str
    values: Mapping[str, Sourced]


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """A value from outside the project that a formula of ours must give within `tolerance` (absolute)."""

    name: str
    formula: str
    """The function that computes it, as module.function."""
    expected: float
    tolerance: float
    unit: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """A check with what we compute for it."""

    check: Check
    computed: float
    agrees: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Tables:
    """All tables of builder/tables, in the order in which pages list them."""

    plastisols: tuple[Plastisol, ...]
    mold_materials: tuple[MoldMaterial, ...]
    eyes_mm: tuple[Sourced, ...]
    practice: Mapping[str, Sourced]
    """Everything else by name: injection rate, hand pressure, spare share, nozzle sizes, ..."""
    sources: Mapping[str, str]
    checks: tuple[Check, ...] = ()


# -- advice ----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchRow:
    """How much to heat for so many baits: whole shots, spare included."""

    baits: int
    shots: int
    heat_ml: Figure
    heat_g: Figure


@dataclass(frozen=True, slots=True, kw_only=True)
class PathVerdict:
    """Does the plastic get there? margin = time until the feeding section sets / time to fill beyond it."""

    path: str
    bait: str
    margin: Figure
    deciding: Station
    needed_mm: Figure | None
    """Thickness of the deciding section at which the margin is 1.5; None where it is already."""
    critical_mm: Figure | None = None
    """Thickness at which the margin is 1: thinner comes out short."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowPlot:
    """The window as data for a drawing: temperature against injection time, one fill limit for each time.

    Above `fill_high_c` the mold fills for sure, above `fill_c` likely, below `fill_low_c` not at all.
    """

    injection_s: tuple[float, ...]
    fill_low_c: tuple[float, ...]
    fill_c: tuple[float, ...]
    fill_high_c: tuple[float, ...]
    mold_limit_c: Figure
    plastisol_limit_c: Figure
    lowest_c: float
    highest_c: float
    shoot_c: Figure | None
    shoot_s: Figure
    """Injection time by hand for this mold: where the recommended point lies."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """One thing that may go wrong: the likeliest for this mold first. Sentences: `code`, `code`_cure."""

    code: str
    chance: Figure
    """Share of the sampled constants with which it happens at the recommended point."""
    values: Mapping[str, Figure | str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensitivity:
    """How far the fill limit moves when one constant goes from its low to its high value."""

    constant: str
    unit: Unit
    low: float
    high: float
    fill_at_low_c: float
    fill_at_high_c: float
    swing_k: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ShotCompared:
    """A logged shot beside what was expected; `chance` is the share of samples with that outcome."""

    shot: ShotLog
    expected: str
    chance: Figure
    agrees: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreement:
    """How often prediction and outcome agree, with the 95 % interval of that share."""

    shots: int
    agreed: int
    share: Figure | None
    by_outcome: Mapping[str, tuple[int, int]]
    """Outcome to (agreed, logged)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """One constant as the table has it and as logged shots suggest it."""

    constant: str
    table: Sourced
    suggested: Figure
    shots: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """Shooting window for one plastisol in one mold material. Limits are None where nothing works."""

    plastisol: str
    mold_material: str
    fill_c: Figure
    """Lowest temperature at which every extremity fills."""
    mold_limit_c: Figure
    plastisol_limit_c: Figure
    shoot_c: Figure | None
    """Recommended point with the likely range; None when the window is empty."""
    sure_c: tuple[float, float] | None
    likely_c: tuple[float, float] | None
    hold_s: Figure
    cool_s: Figure
    rest_s: Figure
    paths: tuple[PathVerdict, ...]
    findings: tuple[Finding, ...]
    plot: WindowPlot | None = None
    """Only for the mold's own pair."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Amounts:
    """What one shot takes and what a bait weighs, for one plastisol."""

    plastisol: str
    bait_g: tuple[Figure, ...]
    """One for each bait, in Measurement's order."""
    shot_ml: Figure
    shot_g: Figure
    batch: tuple[BatchRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """Everything said about a mold from its measurement and the tables; windows[0] is the spec's own pair."""

    figures: Mapping[str, Figure]
    """Headline figures by name: bait_length, bait_volume, shot, eye, clamp_force, ..."""
    amounts: tuple[Amounts, ...]
    windows: tuple[Window, ...]
    findings: tuple[Finding, ...]
    eye_mm: Figure | None
    eye_suggested: bool
    troubles: tuple[Trouble, ...] = ()
    sensitivity: tuple[Sensitivity, ...] = ()
    shots: tuple[ShotCompared, ...] = ()


# -- pictures and pages ----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """One drawn picture: its files by width (px), and its description from the numbers."""

    name: str
    files: Mapping[int, str]
    """Width in px to file name inside the mold's asset folder."""
    width_px: int
    height_px: int
    alt: Finding
    """Description in words: a language-file code with its values."""
    overlay_svg: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Download:
    """One file that a visitor can take."""

    name: str
    path: Path
    size_bytes: int
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MoldRecord:
    """One mold as the pages see it."""

    spec: MoldSpec
    measurement: Measurement
    advice: Advice
    pictures: tuple[Picture, ...]
    assets: Path
    """Folder that holds the pictures' files."""
    downloads: tuple[Download, ...]
