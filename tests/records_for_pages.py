"""Invented molds as the pages get them, made without files: for tests of pages, site and scripts.

No two of a mold's measures are alike, so that a test sees when one stands where another belongs.
"""

from __future__ import annotations

from pathlib import Path

from builder.model import Download, Finding, MoldRecord, MoldSpec, PartSpec, Picture
from tests.advice_for_pages import advice
from tests.measurement_for_pages import measurement


def mold(
    slug: str = "test-minnow", folder: Path = Path("molds"), title: str = "Test minnow <& co>"
) -> MoldRecord:
    names = ("a.stl", "b.stl")
    parts = tuple(PartSpec(file=f, path=folder / slug / f, role="half", name=f) for f in names)
    return MoldRecord(
        spec=MoldSpec(
            slug=slug,
            folder=folder / slug,
            title=title,
            kind="injection",
            parts=parts,
            cavities=2,
            plastisol="medium",
            mold_material="pla",
            units="mm",
            summary="A slim minnow with a wide tail; *not* bold & not <b>.",
            bait_type="minnow",
            target=("perch", "zander"),
            author="The test bench",
        ),
        measurement=measurement(slug),
        advice=advice(),
        pictures=(
            Picture(
                name="open",
                files={400: "open-400.webp", 1200: "open-1200.webp"},
                width_px=1200,
                height_px=800,
                alt=Finding(level="note", code="test.note"),
            ),
        ),
        assets=folder / slug,
        downloads=tuple(
            Download(name=p.file, path=p.path, size_bytes=size, sha256=sha * 32)
            for p, size, sha in zip(parts, (1_284_084, 973_284), ("ab", "c7"), strict=True)
        ),
    )


REASONED = ("shoot_c", "fill_c", "mold_limit_c", "plastisol_limit_c", "hold_s", "cool_s", "cold_s", "rest_s")
"""Figures of a window that a page tells the reason of."""
SENTENCES = {
    "test.because": "Taken from the test.",
    "test.short": "The trunk is only {wall}; it will not fill.",
    "test.thin": "The wall at the {where} is {wall}.",
    "test.note": "Nothing to do.",
    "test.near": "The halves part by {gap} there.",
    "test.face": "The parting face is uneven by {uneven}.",
    "test.dent": "The bait has a dent",
    "test.dent_cure": "Keep pushing for {push} and top it up.",
    "test.warp": "The mold warps",
    "test.warp_cure": "A shot softens {soft} of the wall; cool it longer.",
    "test.picture": "The bait alone, {length} long and {width} wide; vents: {vents}.",
    "test.because_shrink": "Shrunk in the test.",
    "test.because_force": "Pressed in the test.",
    "test.because_thinnest": "Thinned in the test.",
    "test.because_gap": "Parted in the test.",
    "test.because_cup": "Cooled in the test.",
    "test.because_flake_sinks": "Sunk in the test.",
    "test.because_bait_length": "Lengthened in the test.",
    "test.because_bait_volume": "Filled in the test.",
    "test.because_cavity_volume": "Hollowed in the test.",
    "test.because_clamp_force": "Clamped in the test.",
    **{f"test.because_{name}": f"Told of {name} in the test." for name in REASONED},
    "test.label": "Widest there",
    "test.mark": "Thin here",
}
