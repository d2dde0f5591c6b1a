"""The filling model beside its judge, and what the trunk of the trade's story turns on.

`python -m tests.bench.bench_fill` prints the critical trunk of the paddle-tail at 158 °C, how it moves with
each constant, then twenty routes by judge, model and simple ratio.
"""

from __future__ import annotations

import numpy as np

from builder.advice import paths, samples, window
from builder.advice.samples import Constants
from builder.model import Stands
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


def critical_mm(stands: Stands, constants: Constants) -> tuple[float, float, float]:
    """Low, middle, high of the critical trunk."""
    way = paths.flow_paths(paddle_tail.measurement(1.2), stands)[0]
    shot = paths.shot(constants, np.full_like(constants["room"], STORY_C))
    found, _ = window.thicknesses(way, int(np.argmin(way.sections.thickness_mm)), shot)
    return (found.low, found.value, found.high) if found else (0.0, 0.0, 0.0)


def story() -> None:
    """The critical trunk as the mold stands, and with each constant at the ends of its range."""
    for mold_material in ("pla", "petg"):
        drawn = samples.draw([pair("medium", mold_material)], TABLES.practice)
        stood: tuple[Stands, ...] = ("sprue_up", "flat", "tail_up")
        for stands in stood:
            low, middle, high = critical_mm(stands, drawn)
            print(f"{mold_material} {stands}: {middle:.2f} mm ({low:.2f}–{high:.2f})")
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
