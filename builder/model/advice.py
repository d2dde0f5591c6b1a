"""Records of the material tables and of the advice: amounts, windows, findings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from builder.model.measurement import Station
from builder.model.numbers import Figure, Finding, Sourced, Stands, Unit, Vec3
from builder.model.spec import ShotLog
from builder.model.stops import first_stop, no_temperature


@dataclass(frozen=True, slots=True, kw_only=True)
class Plastisol:
    """A hardness of bait plastisol; values by name, each with range, source and grade."""

    id: str
    values: Mapping[str, Sourced]
    name: str = ""
    """Its name in every language, where the keeper of the catalogue gave one; else in the language file."""
    file: str = ""
    """The keeper's own file that it is from; "" for the builder's table."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MoldMaterial:
    """A material a mold is printed or cut from; values by name."""

    id: str
    values: Mapping[str, Sourced]
    name: str = ""
    """As a plastisol's."""
    file: str = ""
    """As a plastisol's."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """A value from outside the project that a formula of ours must give within `tolerance` (absolute)."""

    name: str
    formula: str
    """The function that computes it, as module.function."""
    given: Mapping[str, float | str]
    expected: float
    tolerance: float
    unit: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """A published check value with our computed value."""

    check: Check
    computed: float
    agrees: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Reliability:
    """How molds drawn at random were read, counted by `python -m tests.random_molds`."""

    molds: int
    tolerance_share: float
    worst_right_share: float
    outcomes: Mapping[str, int]
    features: Mapping[str, Mapping[str, int]]
    """For each feature that molds had, the molds by outcome."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PublicFile:
    """A file that a stranger published: its path in the repository, and its SHA-256."""

    path: str
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PublicMold:
    """A mold that a stranger drew, and how it was read; `outcome` as in Reliability.

    `source` is the repository, read at `commit`; `expected_ml` is the cavity's volume by another way than our
    reading.
    """

    kind: str
    source: str
    commit: str
    files: tuple[PublicFile, ...]
    outcome: str
    volume_ml: float | None
    expected_ml: float | None


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
    reliability: Reliability | None = None
    public_molds: tuple[PublicMold, ...] = ()
    public_read: tuple[str, str] = ("", "")
    """The day on which the public molds were read, and the reader's version."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchRow:
    """Plastisol to measure cold and to heat for a number of baits: full shots, spare included."""

    baits: int
    shots: int
    heat_ml: Figure
    heat_g: Figure


@dataclass(frozen=True, slots=True, kw_only=True)
class Odds:
    """How often a path comes short at one temperature."""

    shot_c: Figure
    short: Figure
    """Share of the sampled constants with which it does."""
    sure_mm: Figure
    """Thickness of the deciding section from which it fills with nearly all of the constants."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stood:
    """What a path does where the mold stands otherwise, and better."""

    stands: Stands
    margin: Figure
    critical_mm: Figure
    """Thickness of the deciding section from which it fills."""


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
    waits_s: Figure | None = None
    """How long the front stands in the deciding section while a wider place fills; None where it does not."""
    better: Stood | None = None
    """A better way to stand the mold; only where the front waits and may come short."""
    odds: tuple[Odds, ...] = ()
    """At the coldest that fuses and where it is shot, the coldest first; empty where it is seldom short."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowPlot:
    """The window as data for a drawing: temperature against injection time, one fill limit for each time.

    Nothing lies above the plastisol's limit, where the drawing ends.
    Above `fill_high_c` the mold fills for sure, above `fill_c` likely, below `fill_low_c` not at all.
    """

    injection_s: tuple[float, ...]
    fill_low_c: tuple[float, ...]
    fill_c: tuple[float, ...]
    fill_high_c: tuple[float, ...]
    mold_limit_c: Figure | None
    """None where the plastisol scorches first."""
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
    """Change of the fill limit when one constant goes from its low to its high value."""

    constant: str
    unit: Unit
    low: float
    high: float
    fill_at_low_c: float | None
    fill_at_high_c: float | None
    """None where no temperature up to the plastisol's limit fills."""
    swing_k: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ShotCompared:
    """A logged shot and its predicted outcome; `chance` is the share of samples with that outcome."""

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
class ShotTimes:
    """Times of one shot in a row, which the wall's heat makes longer from shot to shot."""

    shot: int
    """1 for the first; 0 for every shot once each is like the one before."""
    open_s: Figure
    """Open after so long, with the advised rest before each shot: it keeps its shape if handled gently."""
    hurried_s: Figure
    """The same without a rest between shots."""
    cold_s: Figure
    """Cold all through, with the advised rest before each shot."""
    rest_s: Figure | None
    """Rest before the next shot; 0 where none is needed, None where no rest helps."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """Like molds shot in turn by one person."""

    molds: int
    baits_per_h: Figure
    """Once the molds are warm."""
    total_s: tuple[tuple[int, Figure], ...]
    """Baits, and how long they take from cold molds; only for the mold's own pair."""
    busy_from: int
    """With so many molds nobody waits."""


NoRest = Literal["", "first_shot", "over_an_hour"]
"""Why no rest is advised: already the first shot softens the wall; an hour is too short."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """Shooting window for one plastisol in one mold material. Limits are None where nothing works.

    No temperature to shoot at lies above `plastisol_limit_c`: all are made by advice.window.point.
    """

    plastisol: str
    mold_material: str
    fill_c: Figure | None
    """Lowest temperature at which every extremity fills; None where none does up to the limit."""
    mold_limit_c: Figure | None
    """Above it the mold softens; None where the plastisol scorches first."""
    plastisol_limit_c: Figure
    """Never above it: one-sided, the lowest of what is known."""
    shoot_c: Figure | None
    """Recommended point with the likely range; None when the window is empty."""
    trial_c: Figure
    """What verdicts, times and findings hold for: the point, or the limit when the window is empty."""
    sure_c: tuple[float, float] | None
    likely_c: tuple[float, float] | None
    hold_s: Figure
    cool_s: Figure
    """Open after so long in the first shot: the bait keeps its shape if handled gently."""
    cold_s: Figure
    """Cold all through in the first shot."""
    rest_s: Figure | None
    """Rest once each shot is like the one before; 0 where none is needed, None where none helps."""
    no_rest: NoRest
    paths: tuple[PathVerdict, ...]
    findings: tuple[Finding, ...]
    troubles: tuple[Trouble, ...] = ()
    """What may go wrong at the recommended point, the likeliest first."""
    times: tuple[ShotTimes, ...] = ()
    """By the shot's number, the steady row last."""
    plans: tuple[Plan, ...] = ()
    """For one mold and more; empty where no rest helps or the window is empty."""
    plot: WindowPlot | None = None
    """Only for the mold's own pair."""

    @property
    def stop(self) -> Finding | None:
        """Why this pair must not be shot: its window is shut, or a finding forbids it; None when it may."""
        if self.shoot_c is None:
            limits = (self.mold_limit_c, self.plastisol_limit_c)
            return no_temperature(self.plastisol, self.mold_material, self.fill_c, limits)
        return first_stop(self.findings)


@dataclass(frozen=True, slots=True, kw_only=True)
class Finished:
    """A bait in the hand, cold: smaller than its cavity; what it carries in water. Below 0 it sinks."""

    length_mm: Figure
    volume_ml: Figure
    lift_fresh_g: Figure
    lift_sea_g: Figure
    carries_fresh_g: Figure
    """The heaviest steel hook that it floats with."""
    carries_sea_g: Figure
    jig_fresh_g: Figure
    """What it weighs in water with a jig head of advice.amounts.JIG_G of lead; below 0 it floats."""
    jig_sea_g: Figure
    salt_g: Figure
    """What it weighs with advice.amounts.SALT_G of salt added to 100 mL of its plastisol."""
    salt_fresh_g: Figure
    """What it carries in water with that salt; below 0 it sinks."""
    salt_sea_g: Figure


@dataclass(frozen=True, slots=True, kw_only=True)
class Amounts:
    """Volume and weight of a shot and of each bait, for one plastisol."""

    plastisol: str
    bait_g: tuple[Figure, ...]
    """One for each bait, in Measurement's order."""
    bait_ml: tuple[Figure, ...]
    """Volume of each bait when it is cold; its cavity is larger, for the plastic shrinks."""
    density_g_ml: Figure
    """Of the cold plastisol: weight over volume of a bait; below 1 it floats."""
    shot_ml: Figure
    """What the injector must hold, hot, with the spare share."""
    shot_g: Figure
    batch: tuple[BatchRow, ...]
    finished: tuple[Finished, ...] = ()
    """One for each bait, in Measurement's order."""
    hand: Mapping[str, Figure] = field(default_factory=dict)
    """How long the cup stays hot, what sinks in it meanwhile, what an injector costs (advice.hand)."""
    salted: bool = False
    """Whether salt is in it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """All advice for a mold; windows[0] is for the plastisol and mold material of its spec."""

    figures: Mapping[str, Figure]
    """Headline figures by name: bait_length, bait_volume, shot, eye, clamp_force, ..."""
    amounts: tuple[Amounts, ...]
    windows: tuple[Window, ...]
    findings: tuple[Finding, ...]
    eye_mm: Figure | None
    eye_suggested: bool
    sensitivity: tuple[Sensitivity, ...] = ()
    shots: tuple[ShotCompared, ...] = ()
    next_bolt_mm: Vec3 | None = None
    """Where the halves part most, so that one more bolt helps most; None where no bolts are known."""
