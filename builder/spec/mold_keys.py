"""The keys of mold.yaml, each with its type, meaning and example, in the order of the reference."""

from __future__ import annotations

from typing import Any

from builder.model import Colour, Declared, Hints, Ingredient, Placing, Vec3
from builder.spec.maker_keys import MAKER
from builder.spec.schema import Key, ListOf, Table
from builder.spec.types import SLUG, Choice, Day, FileName, Flag, Number, Text, Vector

# Identifiers of the SPDX licence list that suit a design; anything else as LicenseRef-NAME.
LICENCES = (
    *("CC-BY-4.0", "CC-BY-SA-4.0", "CC-BY-NC-4.0", "CC-BY-NC-SA-4.0", "CC-BY-ND-4.0", "CC-BY-NC-ND-4.0"),
    *("CC0-1.0", "CERN-OHL-P-2.0", "CERN-OHL-W-2.0", "CERN-OHL-S-2.0", "GPL-3.0-or-later", "MIT", "0BSD"),
)
LICENCE = Choice(LICENCES, extra="LicenseRef-[A-Za-z0-9.-]+", pattern_words="LicenseRef-NAME")
_UNITS = Choice(("mm", "cm", "m", "inch"))
_POINT = Vector(Number(-2000, 2000, "mm"))
_DIRECTION = Vector(Number(-1e6, 1e6), direction=True)
_SLUG = Text(60, SLUG.pattern, "small letters and digits joined by hyphens, such as reed-minnow", only=True)


def _point_and_normal(*, at_mm: Vec3, normal: Vec3) -> tuple[Vec3, Vec3]:
    return at_mm, normal


def _hints(*, gates: tuple[tuple[Vec3, Vec3], ...] = (), **values: Any) -> Hints:  # noqa: ANN401 - by key
    return Hints(gates_at_mm=gates, **values)


_FACE = Table(
    "a face",
    (
        Key("at_mm", _POINT, "A point on it.", "[0, 0, 12.5]", required=True),
        Key("normal", _DIRECTION, "The direction it looks to.", "[0, 0, 1]", required=True),
    ),
    _point_and_normal,
)
_PLACING = Table(
    "placing",
    (
        Key(
            "turn_deg",
            Vector(Number(-360, 360, "deg")),
            "Turned about x, then y, then z.",
            "[180, 0, 0]",
            default="[0, 0, 0]",
        ),
        Key("move_mm", _POINT, "Then moved so far.", "[0, 0, 25]", default="[0, 0, 0]"),
        Key("mirror", Flag(), "First mirrored in x.", "true", default="false"),
    ),
    Placing,
)
_PART = Table(
    "a part",
    (
        Key(
            "file",
            FileName((".stl", ".3mf")),
            "The STL or 3MF file.",
            "half-a.stl",
            required=True,
            also=("path", "stl"),
        ),
        Key(
            "role",
            Choice(("half", "core", "plug", "blade", "open", "bait")),
            "A half; a core, plug or blade that closes with them; an open mold; or the bait as a solid.",
            "core",
            default="half for the first two parts, open in an open pour",
            also=("type", "kind"),
        ),
        Key("name", Text(40), "What pages call it.", "Half A", default="the file's name", also=("title",)),
        Key("units", _UNITS, "Unit of this file.", "inch", default="that of the mold"),
        Key(
            "placing",
            _PLACING,
            "How the part is laid into the closed mold, when the reading asks for it.",
            "{turn_deg: [180, 0, 0]}",
        ),
        Key(
            "parting",
            _FACE,
            "Its parting face in the file's own coordinates, when the reading asks for it.",
            "{at_mm: [0, 0, 12.5], normal: [0, 0, 1]}",
            also=("parting_face",),
        ),
    ),
    dict,
    short="file",
)
_HINTS = Table(
    "hints",
    (
        Key("sprue_at_mm", _POINT, "Where the plastic enters.", "[0, 40, 0]"),
        Key("sprue_direction", _DIRECTION, "Which way it goes in, from the mouth.", "[0, -1, 0]"),
        Key(
            "gates",
            ListOf(_FACE),
            "Where runner and bait meet; the normal points into the bait.",
            "[{at_mm: [12, 0, 0], normal: [1, 0, 0]}]",
            also=("gate", "gates_at_mm"),
        ),
        Key(
            "vents_at_mm",
            ListOf(_POINT),
            "The mouth of each vent.",
            "[[30, 0, 0], [-30, 0, 0]]",
            also=("vents",),
        ),
        Key(
            "ignore_at_mm",
            ListOf(_POINT),
            "A point inside each hollow that holds no plastic.",
            "[[0, -38, 0]]",
            also=("ignore",),
        ),
        Key("bolts", Number(0, 64, whole=True), "How many bolt holes there are.", "4"),
        Key("pins", Number(0, 64, whole=True), "How many locating pins there are.", "2"),
        Key("eye_mm", Number(1, 30, "mm"), "Diameter of the eye that fits.", "5"),
        Key(
            "pitch_mm",
            Number(0.05, 2, "mm"),
            "Spacing of the grid on which the plastic is parted: finer is slower.",
            "0.25",
            also=("voxel", "pitch", "voxel_mm"),
        ),
    ),
    _hints,
)
_DECLARED = Table(
    "declared",
    (
        Key(
            "density_g_ml",
            Number(0.7, 2.5, "g_ml"),
            "Density of the cold plastic, from its data sheet or weighed.",
            "1.02",
            also=("density",),
        ),
        Key("injection_ml_s", Number(0.5, 200, "ml_s"), "How fast you inject.", "12", also=("rate_ml_s",)),
        Key("pressure_mpa", Number(0.01, 5, "mpa"), "Pressure at the sprue.", "0.2", also=("pressure",)),
        Key("bore_mm", Number(5, 100, "mm"), "Bore of your injector.", "32", also=("bore",)),
        Key(
            "push_kg",
            Number(1, 100, "kg"),
            "How hard you push, as on a bathroom scale; with the bore it gives the pressure.",
            "15",
            also=("push",),
        ),
        Key("room_c", Number(-10, 50, "c"), "Temperature of the room and of a rested mold.", "21"),
        Key(
            "spare_share",
            Number(0, 1),
            "How much more than the shot is heated, as a share of it.",
            "0.15",
            also=("spare",),
        ),
        Key(
            "limit_c",
            Number(100, 200, "c"),
            "Highest temperature that the plastisol's data sheet allows.",
            "170",
            also=("never_above_c", "max_c"),
        ),
    ),
    Declared,
)
_PLASTISOL = Choice(names="plastisols")
_MATERIAL = Choice(names="mold materials")
_SHOT = Table(
    "a shot",
    (
        Key("date", Day(), "When it was shot.", "2026-03-01", required=True),
        Key("plastisol", _PLASTISOL, "Its plastisol.", "soft", default="that of the mold"),
        Key(
            "shot_c",
            Number(100, 260, "c"),
            "Temperature of the plastic when it was shot.",
            "165",
            required=True,
            also=("temperature", "temp", "temp_c"),
        ),
        Key(
            "mold_material",
            _MATERIAL,
            "Its mold material.",
            "petg",
            default="that of the mold",
            also=("material",),
        ),
        Key("hold_s", Number(0, 3600, "s"), "How long pressure was held.", "30"),
        Key("rest_s", Number(0, 86400, "s"), "How long the mold rested before.", "300"),
        Key(
            "in_a_row",
            Number(1, 1000, whole=True),
            "Which shot it was since the mold was last at rest.",
            "3",
            default="1",
        ),
        Key(
            "outcome",
            Choice(("full", "short", "dented", "flashed", "bubbles")),
            "What came out.",
            "full",
            required=True,
            also=("result",),
        ),
        Key("short_at", Text(80), "Where it stopped, when it came out short.", "tail"),
        Key("note", Text(500), "Anything else.", "cup preheated"),
    ),
    dict,
)
_INGREDIENT = Table(
    "an ingredient",
    (
        Key("what", Text(60), "Colour, flake or salt.", "green colour", required=True),
        Key(
            "amount_per_100_ml",
            Number(0, 200),
            "How much for 100 mL of plastisol.",
            "6",
            required=True,
            also=("amount",),
        ),
        Key("unit", Choice(("drops", "ml", "g")), "What it is counted in.", "drops", required=True),
    ),
    Ingredient,
)
_COLOUR = Table(
    "a colour",
    (
        Key("name", Text(60), "What it is called.", "Pond green", required=True),
        Key(
            "ingredients",
            ListOf(_INGREDIENT, most=20),
            "What goes in.",
            "[{what: green colour, amount_per_100_ml: 6, unit: drops}]",
            also=("recipe", "parts"),
        ),
    ),
    Colour,
    short="name",
)
MOLD = Table(
    "mold.yaml",
    (
        Key("title", Text(80), "What the mold is called.", "Reed minnow", required=True),
        Key(
            "parts",
            ListOf(_PART, least=1, most=16),
            "The STL files, each by its name or as a group of keys.",
            "[half-a.stl, half-b.stl]",
            required=True,
            also=("files", "stl", "meshes"),
        ),
        Key(
            "cavities",
            Number(1, 64, whole=True),
            "How many baits one shot makes.",
            "2",
            required=True,
            also=("baits",),
        ),
        Key(
            "plastisol",
            _PLASTISOL,
            "The hardness of plastisol it is made for.",
            "soft",
            required=True,
            also=("hardness", "plastic"),
        ),
        Key(
            "kind",
            Choice(("injection", "open pour")),
            "Closed and injected, or open and poured.",
            "open pour",
            default="injection",
            also=("type",),
        ),
        Key(
            "mold_material", _MATERIAL, "What the mold is made of.", "petg", default="pla", also=("material",)
        ),
        Key(
            "units",
            _UNITS,
            "Unit of the STL files, which do not say it themselves.",
            "inch",
            default="mm",
            also=("unit", "scale"),
        ),
        Key(
            "summary",
            Text(300),
            "One or two sentences for the catalogue.",
            "A slim minnow with a thin tail.",
            also=("description",),
        ),
        Key("bait_type", Text(60), "What kind of bait it makes.", "paddle-tail minnow"),
        Key(
            "target",
            ListOf(Text(60), most=20, lone=True),
            "Fish or use it is meant for.",
            "[perch, pike]",
            also=("targets", "fish"),
        ),
        Key("hook", Text(120), "The hook or jig that suits it.", "4/0 wide gap, weedless"),
        Key("bolts", Text(120), "The bolts and nuts that close it.", "4 × M5 × 40 with wing nuts"),
        Key(
            "stands",
            Choice(("sprue_up", "tail_up", "flat")),
            "How it stands while it is shot: on end with the sprue on top or below, or lying flat.",
            "flat",
            default="sprue_up",
        ),
        Key(
            "licence",
            LICENCE,
            "Licence of the files, by its SPDX identifier.",
            "CC-BY-SA-4.0",
            default="CC-BY-4.0",
            also=("license",),
        ),
        Key("author", Text(80), "Who made it.", "Jo Reed", also=("maker", "designer")),
        Key(
            "version",
            Text(20, "[0-9]+(?:\\.[0-9]+){0,2}", "a version, one to three numbers joined by dots"),
            "Version of the mold.",
            "1.1",
            default="1",
        ),
        Key(
            "renamed_from",
            ListOf(_SLUG, most=20, lone=True),
            "Folder names it had before, so that old addresses lead here.",
            "[river-minnow]",
        ),
        *MAKER,
        Key(
            "colours",
            ListOf(_COLOUR, most=40),
            "Colours that work well, with their recipes.",
            "[{name: Pond green, ingredients: [{what: green colour, amount_per_100_ml: 6, unit: drops}]}]",
            also=("colors", "recipes"),
        ),
        Key(
            "hints",
            _HINTS,
            "What the reading could not tell by itself and asks for; points in the closed mold.",
            "{sprue_at_mm: [0, 40, 0]}",
        ),
        Key(
            "declared",
            _DECLARED,
            "Values that you know better than the tables.",
            "{density_g_ml: 1.02, room_c: 18}",
        ),
        Key(
            "shots",
            ListOf(_SHOT, most=1000),
            "Real shots, to compare with the prediction.",
            "[{date: 2026-03-01, shot_c: 165, outcome: full}]",
            also=("log", "shot"),
        ),
    ),
    dict,
)
