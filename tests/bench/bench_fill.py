"""The filling model beside its judge, and what the trunk of the trade's story turns on.

`python -m tests.bench.bench_fill` prints the critical trunk of the paddle-tail at 158 °C with its range, what
it was before hesitation was reckoned, and how it moves with heat and with each constant. Then come twenty
routes by judge, model and simple ratio.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from builder.advice import bottlenecks, paths, samples
from builder.advice.samples import Constants
from builder.model import Measurement, Stands
from builder.physics import flow
from builder.physics.sections import sections
from tests import paddle_tail
from tests.advised_minnow import TABLES, pair
from tests.fill_cases import CASES
from tests.judge_fill import Closing, Heat

STORY_C = 158.0
MOVED = ("viscosity", "set", "pressure", "injection", "conductivity", "cling", "on_the_way", "later")


def routes() -> None:
    """Twenty routes."""
    closings: dict[tuple[float, Heat], Closing] = {}
    print("route    judge    model  (off)    simple ratio  (off)")
    for number, case in enumerate(CASES):
        key = (case.push.share, case.push.wall)
        closings[key] = closings.get(key) or Closing(case.push)
        judged, model, simple = case.by_judge(closings[key]), case.by_model(), case.by_model(waits=False)
        off = [100 * (found / judged - 1) for found in (model, simple)]
        print(
            f"{number:5} {judged:7.2f} mm {model:5.2f} mm {off[0]:+5.1f} % {simple:7.2f} mm {off[1]:+7.1f} %"
        )


def critical_mm(
    stands: Stands, constants: Constants, shot_c: float = STORY_C, *, waits: bool = True
) -> tuple[float, float, float]:
    """Low, middle, high of the critical trunk; without waits as it was reckoned before."""
    mold = paddle_tail.measurement(1.2)
    way = paths.flow_paths(mold, stands)[0]
    if not waits:
        cut = sections(way.path.stations, way.path.gate_index, mold.baits[0].volume_ml, _total_ml(mold))
        way = replace(way, sections=cut, rows=flow.rows(cut))
    shot = paths.shot(constants, np.full_like(constants["room"], shot_c))
    found, _ = bottlenecks.thicknesses(way, int(np.argmin(way.sections.thickness_mm)), shot)
    return (found.low, found.value, found.high) if found else (0.0, 0.0, 0.0)


def _total_ml(mold: Measurement) -> float:
    return sum(bait.volume_ml for bait in mold.baits)


def short_share(trunk_mm: float, stands: Stands, constants: Constants, shot_c: float, vents: int) -> float:
    """Share of the constants with which the mold comes short."""
    found = paths.flow_paths(paddle_tail.measurement(trunk_mm, vents=vents), stands)
    shot = paths.shot(constants, np.full_like(constants["room"], shot_c))
    return float((flow.fill_margins(found[0].rows, shot)[0].min(axis=-1) < 1).mean())


def told(range_mm: tuple[float, float, float]) -> str:
    """A thickness with its range."""
    low, middle, high = range_mm
    return f"{middle:.2f} mm ({low:.2f}–{high:.2f})"


def story() -> None:
    """The critical trunk as the mold stands, what more vents and more heat do, the answer before."""
    for mold_material in ("pla", "petg"):
        drawn = samples.draw([pair("medium", mold_material)], TABLES.practice)
        stood: tuple[Stands, ...] = ("sprue_up", "flat", "tail_up")
        for stands in stood:
            print(f"{mold_material} {stands}: {told(critical_mm(stands, drawn))}")
        print(f"{mold_material} before, however it stands: {told(critical_mm('flat', drawn, waits=False))}")
        for shot_c in (150.0, STORY_C, 166.0, 174.0):
            print(
                f"{mold_material} sprue_up at {shot_c:g} °C: {told(critical_mm('sprue_up', drawn, shot_c))}"
            )
        for trunk_mm in (1.2, 2.5):
            for vents in (1, 4):
                short = short_share(trunk_mm, "sprue_up", drawn, STORY_C, vents)
                print(f"{mold_material} trunk {trunk_mm} mm, {vents} vents: short in {100 * short:.0f} %")
    sensitivity()


def sensitivity() -> None:
    """How the trunk moves with each constant from end to end of its range, in PLA."""
    base = samples.central([pair("medium", "pla")], TABLES.practice)
    print("constant       low: sprue up, tail up     high: sprue up, tail up")
    for name in MOVED:
        known = samples.known(pair("medium", "pla"), TABLES.practice, name)
        cells = []
        for value in (known.low, known.high):
            moved = {**base, name: np.full_like(base["room"], value)}
            up, down = (critical_mm(stands, moved)[1] for stands in ("sprue_up", "tail_up"))
            cells.append(f"{value:8.3g}: {up:.2f} mm, {down:.2f} mm")
        print(f"{name:12} {cells[0]}   {cells[1]}")


if __name__ == "__main__":
    story()
    routes()
