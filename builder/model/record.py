"""Records that pages are made from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from builder.model.advice import Advice
from builder.model.measurement import Measurement, Station
from builder.model.numbers import Figure, Finding, Kind
from builder.model.spec import MoldSpec

CARD = "social"
"""Name of the picture that a link elsewhere shows, with the title written on it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """Words over a picture, in its pixels: a name, and under it a figure; (x, y) is the first baseline."""

    name: str
    """Key of the language file; "" where there is only a figure."""
    figure: Figure | None
    x_px: float
    y_px: float
    align: Literal["start", "middle", "end"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Turnable:
    """Data for turning a picture's subject in the browser; the picture is what is seen without a script."""

    file: str
    """A script in the mold's asset folder; theme/viewer.js reads what it leaves behind."""
    size_bytes: int
    triangles: int
    error_mm: float
    """No surface lies farther than this from the mesh as measured."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Deciding:
    """The section that decides whether the mold fills, by its advice: all that pictures take from that."""

    bait: str
    path: str
    station: Station


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
    """Lines and marks as SVG elements without text, for an svg with viewBox "0 0 width_px height_px"."""
    labels: tuple[Label, ...] = ()
    """The words that belong into the same svg, one text element each."""
    turnable: Turnable | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Download:
    """One file that a visitor can take."""

    name: str
    path: Path
    size_bytes: int
    sha256: str
    address: str = ""
    """Where else it lies, when the mold's folder does not hold it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A figure in a version and in the version before; None where one of them lacks it."""

    name: str
    """`release.number.NAME` is its label in the language file."""
    before: Figure | None
    after: Figure | None


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeBy:
    """What worked numbers out: the version of Shotbook, and the SHA-256 of its tables."""

    shotbook: str = ""
    tables: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drift:
    """What a released version reads as today; nothing in it when it reads as it did."""

    changes: tuple[Change, ...] = ()
    """The numbers that read differently: as released, and as they are read now."""
    stop: Finding | None = None
    """Why it must not be shot by today's numbers."""
    causes: tuple[str, ...] = ()
    """What is another one now than at the release: `release.drift.cause.NAME`, or `plastisol ID`."""
    unread: str = ""
    """Why its files cannot be read any more, as a sentence."""
    today: MadeBy = MadeBy()

    def __bool__(self) -> bool:
        """True when there is something to tell."""
        return bool(self.changes or self.unread)


@dataclass(frozen=True, slots=True, kw_only=True)
class Version:
    """A released version, as it was frozen."""

    slug: str
    version: str
    order: int
    """1 for the first version of a mold, 2 for the next."""
    date: str
    title: str
    summary: str
    author: str
    licence: str
    notes: str
    """What changed, in the maker's words."""
    figures: Mapping[str, Figure]
    """The numbers that versions are compared by, by name (`release.number.NAME`)."""
    changes: tuple[Change, ...]
    """Those of them that differ from the version before; empty for the first."""
    pictures: tuple[Picture, ...]
    assets: Path
    """Folder that holds the pictures' files."""
    downloads: tuple[Download, ...]
    """What is offered, the zip first; nothing when it was withdrawn."""
    withdrawn: str = ""
    """Why it is no longer offered."""
    findings: tuple[Finding, ...] = ()
    """What was found about it when it was released: of its own pair first, then of the mold."""
    stop: Finding | None = None
    """Why it must not be shot, as it was found when it was released."""
    despite: str = ""
    """Why the maker released it nevertheless."""
    kind: Kind = "injection"
    """Whether it is shot shut or poured open; its numbers are named after that."""
    made_by: MadeBy = MadeBy()
    """What its numbers were worked out by; from its lock."""
    withdrawn_on: str = ""
    """Day of the withdrawal."""
    recalled: tuple[str, ...] = ()
    """SHA-256 of the files that were offered until it was withdrawn."""


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
    card_assets: Path = Path()
    """Folder that holds the picture for links (CARD), which bears the title."""
    photos: tuple[Picture, ...] = ()
    """The maker's own photos."""
    photo_assets: Path = Path()
    """Folder that holds the photos' files."""
    versions: tuple[Version, ...] = ()
    """Released versions, the newest first."""
    released: bool = False
    """True when the newest version is made of exactly these files."""
    made_by: MadeBy = MadeBy()
    """What its numbers were worked out by."""
    withdrawn: Version | None = None
    """The withdrawn version that these files are those of, under whatever number; None when there is none."""
    files: Mapping[str, Download] = field(default_factory=dict)
    """Every file of the mold's folder that may be published, as it was looked at, by its path there."""

    def place_of(self, file: str) -> Path:
        """Where a file of the pictures lies."""
        return (self.card_assets if file.startswith(f"{CARD}-") else self.assets) / file

    @property
    def stop(self) -> Finding | None:
        """Why it must not be shot with its own plastisol in its own mold material; None when it may."""
        return self.advice.windows[0].stop

    @property
    def despite(self) -> str:
        """Why the maker released exactly these files although they must not be shot; "" if that is not so."""
        return self.versions[0].despite if self.released else ""

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Everything found, each once: of its own pair first, then of the mold, then of its files."""
        found = (*self.advice.windows[0].findings, *self.advice.findings, *self.measurement.findings)
        return tuple(one for place, one in enumerate(found) if one not in found[:place])


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """A request of molds/requests.yaml and its state."""

    asked: str
    date: str
    by: str = ""
    state: Literal["open", "drawing", "done", "declined"] = "open"
    mold: str = ""
    """Slug of the mold that came of it."""
    note: str = ""
