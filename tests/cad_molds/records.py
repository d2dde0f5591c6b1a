"""What a trial mold is: its files, the shortest facts of its mold.yaml, and the truths of its drawing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from manifold3d import Manifold

from tests.cad_molds.primitives import Point, Triangles

MM = {"mm": 1.0, "cm": 10.0, "inch": 25.4, "m": 1000.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """One habit: which bait, which way in, which block, how it is filed."""

    name: str
    bait: str = "swimbait"
    feed: str = "cone"
    """A kind of `feeds.inline`, or belly, elbow, top, two gates, tree:ENTRY, both:ENTRY, loop."""
    count: int = 1
    parting: str = "flat"
    wave_mm: float = 0.1
    """How high the waves of a parting are that waves."""
    extras: tuple[str, ...] = ("bolts", "pins")
    pose: str = "closed"
    unit: str = "mm"
    tell_unit: bool = True
    chord: float = 0.05
    gate_mm: float | None = None
    seed: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Filed:
    """A file as filed: its facets' corners in its own unit, and what lays it into the closed mold."""

    name: str
    corners: Triangles
    role: str | None = None
    turn_deg: Point = (0.0, 0.0, 0.0)
    move_mm: Point = (0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class GateTruth:
    """A gate where the drawing is narrowest; closed-mold frame as drawn, the normal into the bait."""

    at_mm: Point
    normal: Point
    bait: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Truths:
    """Exact volumes of the drawing's own solids at the same facets, and counts as drawn.

    Frame: the closed mold as drawn, the parting through z = 0, the first half below, noses to -x.
    """

    baits_ml: tuple[float, ...]
    lengths_mm: tuple[float, ...]
    feed_ml: float
    overflow_ml: float
    """Wells behind a vent: neither bait nor feed."""
    seat_ml: float
    """Part of the feed that the nozzle may fill instead of plastic."""
    slack_ml: float
    """Plastic of a land of equal width between feed and bait, which may be counted on either side."""
    vents_ml: float
    other_ml: float
    """Hollows without plastic: bolts, clearances, pockets, inner cavities."""
    block_ml: float
    """Both halves without any hollow."""
    trunk_mm: tuple[float, float] | None
    """Diameter of the narrowest trunk: between the drawing's flats, and the drawn one."""
    eye_mm: tuple[float, ...]
    """All eyes of one bait."""
    bolts_mm: tuple[float, ...]
    """Width of each bolt's hole or open slot."""
    pins: int
    vents: tuple[int, ...]
    """Counts that are right: an overflow well makes one way out or two of it."""
    gates: tuple[GateTruth, ...]
    mouth_mm: Point | None
    direction: Point | None
    vents_at_mm: tuple[Point, ...]
    ignore_at_mm: tuple[Point, ...]
    spans_mm: tuple[tuple[float, float], ...]
    """Of each bait: width of the narrowest box round it seen along z, and its extent along z."""
    vent_mm: float | None
    """Depth of every vent, where they are drawn on a flat parting."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Case:
    """A trial mold: files, facts, truths; the closed solids for the drawing's own tests."""

    name: str
    files: tuple[Filed, ...]
    kind: str
    cavities: int
    unit: str | None
    """The unit that the maker tells; None: it is left out."""
    true_unit: str
    truths: Truths
    halves: tuple[Manifold, ...] = field(repr=False)
    """All parts as closed, without positives."""
    hints: Mapping[str, object] = field(default_factory=dict)
