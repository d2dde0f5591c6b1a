"""Records of a mold.yaml that was read and checked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from builder.model.numbers import Kind, LengthUnit, Role, Stands, Vec3


@dataclass(frozen=True, slots=True, kw_only=True)
class Placing:
    """Pose of a part in the closed mold: turned about x, then y, then z, then moved."""

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
    """The maker's hints for the reading; points in the closed mold's frame, in mm."""

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


Grain = Literal["salt", "flake"]
SALT_FROM_G = 5.0
"""So much of an ingredient for 100 mL is salt, less of it flake."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ingredient:
    """One ingredient for 100 mL of plastisol: colour in drops or mL, flake and salt by weight."""

    what: str
    amount_per_100_ml: float
    unit: Literal["drops", "ml", "g"]

    @property
    def grain(self) -> Grain | None:
        """Whether it is salt or flake, which are weighed and sink in the cup; None for colour.

        Recipes take up to 1.5 g of flake, and 10 g of salt or more (common practice, no source).

        >>> Ingredient(what="black flake", amount_per_100_ml=0.6, unit="g").grain
        'flake'
        """
        if self.unit != "g":
            return None
        return "salt" if self.amount_per_100_ml >= SALT_FROM_G else "flake"


@dataclass(frozen=True, slots=True, kw_only=True)
class Colour:
    """A colour recipe."""

    name: str
    ingredients: tuple[Ingredient, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Declared:
    """The maker's own values in place of the tables'; None means: use the table."""

    density_g_ml: float | None = None
    injection_ml_s: float | None = None
    pressure_mpa: float | None = None
    bore_mm: float | None = None
    """Of the injector; with the push it gives the pressure where that is not declared."""
    push_kg: float | None = None
    room_c: float | None = None
    spare_share: float | None = None
    limit_c: float | None = None
    """Highest temperature that the plastisol's data sheet allows."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """A page that the maker points to."""

    title: str
    url: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintedWith:
    """How the maker printed the mold; None or "" means: not told."""

    walls: int | None = None
    infill_share: float | None = None
    layer_mm: float | None = None
    orientation: str = ""
    supports: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """What the maker pays for material, in one currency (ISO 4217)."""

    currency: str
    filament_per_kg: float | None = None
    plastisol_per_l: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FromMaker:
    """What the maker says beside the mold itself: pages show it, nothing is computed from it but costs."""

    captions: tuple[str, ...] = ()
    """Of the photos, in their order; "" for none."""
    bed_mm: Vec3 | None = None
    """Width, depth and height that the maker's printer takes."""
    sources: tuple[str, ...] = ()
    """Files that the mold was drawn in: offered, not read."""
    video: str = ""
    links: tuple[Link, ...] = ()
    contact: str = ""
    thanks: str = ""
    ask: str = ""
    """Where to ask for a change."""
    credits: tuple[str, ...] = ()
    hardware: tuple[str, ...] = ()
    eyes: str = ""
    printed: PrintedWith = field(default_factory=PrintedWith)
    prices: Prices | None = None


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
    stands: Stands = "sprue_up"
    licence: str = "CC-BY-4.0"
    author: str = ""
    version: str = "1"
    renamed_from: tuple[str, ...] = ()
    photos: tuple[str, ...] = ()
    maker: FromMaker = field(default_factory=FromMaker)
    colours: tuple[Colour, ...] = ()
    hints: Hints = field(default_factory=Hints)
    declared: Declared = field(default_factory=Declared)
    shots: tuple[ShotLog, ...] = ()
    line_of: Mapping[str, int] = field(default_factory=dict)
    """Line in mold.yaml of each dotted key, so that a later stage can point at it."""
