"""The four demo molds, as drawn: the catalogue's STL files are these solids in four export poses.

`python -m tests.shapes_demo` writes the files again.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from manifold3d import Manifold

from tests.shapes import PAST, Hole, Mold, Opening, Peg, box, channel, open_mold, rod, two_halves, union
from tests.shapes_baits import crawler, grub, minnow, placed, stick, with_eyes
from tests.shapes_files import Pose, anyhow, closed, files, side_by_side, upright

INCH = 1 / 25.4
MOLDS = Path(__file__).parent.parent / "molds"


def reed_minnow(trunk_width: float = 0.85, trunk_height: float = 5.0) -> Mold:
    """Two minnows side by side, shot at the noses; the tail trunk is as thin as asked.

    The first version's trunk of 0.85 mm is drawn below what a shot by hand fills at 157 C in a printed
    mold; the second version differs from it by a wider trunk alone.
    """
    bait = with_eyes(minnow(trunk_width=trunk_width, trunk_height=trunk_height), (11.0, 1.5), 5.0, 0.9)
    noses = ((0.0, -19.0), (0.0, 19.0))
    length = bait.bounding_box()[3]
    half, near, far = 17.0, -38.0, length + 14.0
    fork = (-17.0, 0.0, 0.0)
    runners = [channel([fork, (-10.0, y, 0.0)], 2.8) for _, y in noses]
    gates = [rod((-10.0, y, 0.0), (2.0, y, 0.0), 2.8, 1.8) for _, y in noses]
    holes = [
        Hole(at=(x, s * 39.0), diameter=5.5, bottom=-half - PAST, top=half + PAST)
        for x in (-30.0, 46.0, far - 8.0)
        for s in (-1, 1)
    ]
    return two_halves(
        "reed-minnow",
        lower=box((near, -47.0, -half), (far, 47.0, 0.0)),
        upper=box((near, -47.0, 0.0), (far, 47.0, half)),
        baits=[placed(bait, nose) for nose in noses],
        feed=union([rod((near - PAST, 0.0, 0.0), fork, 5.2, 3.0), *runners, *gates]),
        vents=[box((length - 1.5, y - 1.5, -PAST), (far + PAST, y + 1.5, 0.3)) for _, y in noses],
        gates=[Opening(at=(0.4, y, 0.0), normal=(1.0, 0.0, 0.0)) for _, y in noses],
        sprue=Opening(at=(near, 0.0, 0.0), normal=(1.0, 0.0, 0.0)),
        holes=holes,
        pegs=[
            Peg(at=at, diameter=6.0, length=5.0, clearance=0.3)
            for at in ((-28.0, 27.0), (-28.0, -27.0), (far - 8, 0.0))
        ],
    )


def reed_minnow_2() -> Mold:
    """The second version: the trunk widened to 2.4 mm, nothing else."""
    return reed_minnow(trunk_width=2.4)


def kept_reed_minnow() -> Mold:
    """The version that the catalogue's mold.yaml names."""
    told = (MOLDS / "reed-minnow" / "mold.yaml").read_text(encoding="utf-8")
    return reed_minnow_2() if re.search(r'^version: "?2', told, re.M) else reed_minnow()


def pond_stick() -> Mold:
    """One stick worm, the sprue straight into its head."""
    bait = placed(stick(), (0.0, 0.0))
    length = bait.bounding_box()[3]
    near, far, half = -24.0, length + 12.0, 13.0
    feed = rod((near - PAST, 0.0, 0.0), (1.6, 0.0, 0.0), 5.0, 2.0)
    return two_halves(
        "pond-stick",
        lower=box((near, -26.0, -half), (far, 26.0, 0.0)),
        upper=box((near, -26.0, 0.0), (far, 26.0, half)),
        baits=[bait],
        feed=feed,
        vents=[box((length - 1.0, -1.5, -PAST), (far + PAST, 1.5, 0.25))],
        gates=[Opening(at=(0.2, 0.0, 0.0), normal=(1.0, 0.0, 0.0))],
        sprue=Opening(at=(near, 0.0, 0.0), normal=(1.0, 0.0, 0.0)),
        holes=[
            Hole(at=(x, y), diameter=4.5, bottom=-half - PAST, top=half + PAST)
            for x in (-14.0, 50.0, far - 26.0)
            for y in (-18.0, 18.0)
        ],
        pegs=[Peg(at=at, diameter=5.0, length=4.0, clearance=0.25) for at in ((30.0, 18.0), (62.0, -18.0))],
    )


def quad_grub() -> Mold:
    """Four grubs on a tree: one trunk, two branches to each side, a cold well at its end."""
    bait = grub()
    heads = [((x, s * 11.0), s * 90.0) for x in (0.0, 26.0) for s in (-1.0, 1.0)]
    near, far, half, wide = -36.0, 48.0, 14.0, 86.0
    trunk = channel([(-20.0, 0.0, 0.0), (33.0, 0.0, 0.0)], 3.0)
    branches = [channel([(x, 0.0, 0.0), (x, y * 0.5, 0.0)], 2.6) for (x, y), _ in heads]
    gates = [rod((x, y * 0.5, 0.0), (x, y * 1.18, 0.0), 2.6, 1.6) for (x, y), _ in heads]
    baits = [placed(bait, at, turn) for at, turn in heads]
    return two_halves(
        "quad-grub",
        lower=box((near, -wide, -half), (far, wide, 0.0)),
        upper=box((near, -wide, 0.0), (far, wide, half)),
        baits=baits,
        feed=union([rod((near - PAST, 0.0, 0.0), (-18.0, 0.0, 0.0), 5.5, 3.0), trunk, *branches, *gates]),
        vents=[
            box((x - 1.5, min(y, far_y), -PAST), (x + 1.5, max(y, far_y), 0.3))
            for (x, _), s in heads
            for y, far_y in [(s / 90.0 * 69.0, s / 90.0 * (wide + PAST))]
        ],
        gates=[Opening(at=(x, y * 1.02, 0.0), normal=(0.0, s / 90.0, 0.0)) for (x, y), s in heads],
        sprue=Opening(at=(near, 0.0, 0.0), normal=(1.0, 0.0, 0.0)),
        holes=[
            Hole(at=(x, y), diameter=5.5, bottom=-half - PAST, top=half + PAST)
            for x in (-27.0, 40.0)
            for y in (-60.0, -14.0, 14.0, 60.0)
        ],
        pegs=[Peg(at=at, diameter=6.0, length=5.0, clearance=0.3) for at in ((-27.0, 37.0), (40.0, -37.0))],
    )


def flatback_crawler() -> Mold:
    """Two crawlers side by side under an open pouring face."""
    bait = crawler()
    baits: list[Manifold] = [placed(bait, (0.0, y)) for y in (-22.0, 22.0)]
    length = bait.bounding_box()[3]
    return open_mold(
        "flatback-crawler", block=box((-10.0, -46.0, -13.0), (length + 10, 46.0, 0.0)), baits=baits
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Demo:
    """A demo mold with the pose and the scale in which its files are kept."""

    make: Callable[[], Mold]
    pose: Pose
    scale: float = 1.0


DEMOS = {
    "reed-minnow": Demo(make=kept_reed_minnow, pose=side_by_side),
    "pond-stick": Demo(make=pond_stick, pose=closed, scale=INCH),
    "quad-grub": Demo(make=quad_grub, pose=anyhow(7)),
    "flatback-crawler": Demo(make=flatback_crawler, pose=upright),
}


def stl_files(slug: str) -> dict[str, bytes]:
    """File name to content for one demo mold."""
    demo = DEMOS[slug]
    mold = demo.make()
    contents = files(mold, demo.pose, demo.scale)
    return {f"{slug}-{name}.stl": content for (name, _), content in zip(mold.parts, contents, strict=True)}


def main() -> None:
    """Write every demo mold's files."""
    for slug in DEMOS:
        for name, content in stl_files(slug).items():
            (MOLDS / slug).mkdir(parents=True, exist_ok=True)
            (MOLDS / slug / name).write_bytes(content)


if __name__ == "__main__":
    main()
