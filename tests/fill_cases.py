"""Twenty routes on which the filling model is judged, each with its hand; the trunk's thickness is open."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from builder.physics import flow
from builder.physics.heat import Medium
from builder.physics.sections import Sections, sections
from tests.judge_fill import Closing, Heat, March, Push, Route
from tests.paddle_tail import oval
from tests.paths_for_flow import rod, slit, stations

VINYL = Heat(k=0.155, rho=1040.0, c=1850.0)
PLA = Heat(k=0.15, rho=1240.0, c=1500.0)
PETG = Heat(k=0.19, rho=1270.0, c=1250.0)
HAND = Push(
    inside=VINYL,
    wall=PLA,
    share=0.639,
    viscosity=4.6,
    injection_ml_s=10.0,
    pressure_mpa=0.2,
    cling=0.5,
    later=1.08,
)
THINNEST_MM, WIDEST_MM = 0.3, 4.9


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A paddle-tail: gate, body (length, thickness, width over thickness), trunk (length, height), tail."""

    push: Push = HAND
    gate_mm: float = 5.0
    body: tuple[int, float, float] = (95, 16.0, 1.2)
    trunk: tuple[int, float] = (12, 5.0)
    tail: tuple[int, float, float] = (20, 3.0, 19.5)
    rise: float = -1.0
    """−1: the sprue is up; 0: it lies flat; 1: the tail is up."""
    side: tuple[int, float] | None = None
    """Where in the body a main branch leaves that fills first, and its volume in mL."""

    def route(self, trunk_mm: float) -> Route:
        """The route with so thick a trunk."""
        count, thick, wide = self.body
        shape = [math.sqrt(math.sin(math.pi * (0.06 + 0.88 * (i + 0.5) / count))) for i in range(count)]
        cut = [
            *[*[rod(9.0)] * 12, *[rod(6.5)] * 12, *[rod(self.gate_mm)] * 6],
            *[oval(thick * s, thick * wide * s) for s in shape],
            *[slit(*sorted((trunk_mm, self.trunk[1])))] * self.trunk[0],
            *[slit(self.tail[1], self.tail[2])] * self.tail[0],
        ]
        at, ml = self.side or (None, 0.0)
        return Route(
            sections=cut, gate=30, rise=self.rise, side_at=None if at is None else 30 + at, side_ml=ml
        )

    def cut(self, trunk_mm: float, *, waits: bool = True) -> Sections:
        """The same for the model; without waits as the simple ratio has it."""
        route = self.route(trunk_mm)
        found = list(stations(route.sections, route.gate, 2))
        if route.side_at is not None:
            found = [
                replace(one, beyond_ml=one.beyond_ml + route.side_ml * ((i <= route.side_at) + (i < 15)))
                for i, one in enumerate(found)
            ]
        bait = found[route.gate].beyond_ml
        up = (self.rise, 0.0, math.sqrt(1 - self.rise**2))
        made = sections(found, route.gate, bait, 2 * bait, up=up if waits else None)
        if waits or route.side_at is None:
            return made
        after = np.cumsum(made.side_ml) - made.side_ml > 0
        split = np.where(after, made.needs_ml[after][0] / (made.needs_ml[after][0] + route.side_ml), 1.0)
        return replace(made, side_ml=np.zeros_like(made.side_ml), share=made.share * split)

    @property
    def shot(self) -> flow.Shot:
        """The hand for the model."""
        p = self.push
        inside, wall = (
            Medium(conductivity_w_mk=m.k, density_kg_m3=m.rho, heat_capacity_j_kgk=m.c)
            for m in (p.inside, p.wall)
        )
        return flow.Shot(
            inside=inside,
            wall=wall,
            shot_c=122.0,
            mold_c=22.0,
            set_c=22.0 + 100.0 * p.share,
            viscosity_pa_s=p.viscosity,
            injection_ml_s=p.injection_ml_s,
            pressure_mpa=p.pressure_mpa,
            later=p.later,
            cling=p.cling,
        )

    def by_model(self, *, waits: bool = True) -> float:
        """Critical thickness of the trunk in mm."""
        return _least(lambda mm: self._margin(mm, waits=waits) >= 1, 11)

    def _margin(self, trunk_mm: float, *, waits: bool) -> float:
        return float(flow.fill_margins(flow.rows(self.cut(trunk_mm, waits=waits)), self.shot).min())

    def by_judge(self, closing: Closing) -> float:
        """The same by the march."""
        return _least(lambda mm: March(self.route(mm), self.push, closing).fills(), 9)


def _least(fills: Callable[[float], bool], halvings: int) -> float:
    low, high = THINNEST_MM, WIDEST_MM
    for _ in range(halvings):
        middle = (low + high) / 2
        low, high = (low, middle) if fills(middle) else (middle, high)
    return high


_SMALL = (70, 14.0, 1.1)
CASES = (
    Case(),
    Case(push=replace(HAND, cling=0.0)),
    Case(push=replace(HAND, cling=1.0)),
    Case(rise=1.0),
    Case(rise=0.0),
    Case(push=replace(HAND, viscosity=1.5)),
    Case(push=replace(HAND, viscosity=12.0)),
    Case(push=replace(HAND, pressure_mpa=0.1)),
    Case(push=replace(HAND, injection_ml_s=20.0)),
    Case(push=replace(HAND, injection_ml_s=6.0)),
    Case(trunk=(6, 5.0)),
    Case(trunk=(20, 5.0)),
    Case(trunk=(12, 9.0)),
    Case(body=_SMALL, tail=(18, 4.0, 22.0)),
    Case(body=_SMALL, tail=(18, 4.0, 22.0), rise=1.0, push=replace(HAND, viscosity=8.0)),
    Case(body=(50, 12.0, 1.0), trunk=(8, 6.0), tail=(25, 3.0, 12.0)),
    Case(gate_mm=3.5),
    Case(push=replace(HAND, wall=PETG, share=0.6)),
    Case(rise=-0.5, push=replace(HAND, cling=0.3)),
    Case(rise=1.0, body=(20, 12.0, 1.0), trunk=(10, 4.0), tail=(15, 3.0, 8.0), side=(15, 12.0)),
)
